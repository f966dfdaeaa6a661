"""The hooks that a pack may implement (pluggy, project `prebind`).

A pack is a module::

    from prebind.hooks import hookimpl

    @hookimpl
    def prebind_rules():
        yield my_rule

that an entry point of the group `prebind` names, or a file that the settings name.  Hooks hand over
rules and report formats; the engine runs them, each guarded by itself.

As always with pluggy, an implementation takes the arguments that it wants, and may take none.  One
that takes none may go without the mark; then it is called without pluggy.

Versions: `HOOKS` grows when a hook or an argument is added.  A pack made for an older version goes
on working.  An argument that is to go is first marked with `warn_on_impl_args` in its hook's
specification, says there since when and what to take instead, and is still handed over for as long
as `HOOKS` grows by one; `prebind rulebook --packs` names the packs that take it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.format import Format
    from prebind.rule import Rule

PROJECT = "prebind"
"""The name of the pluggy project, and of the entry-point group."""

HOOKS = 1
"""The version of these hooks."""

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def prebind_rules(hooks: int) -> Iterable[Rule]:  # type: ignore[empty-body]
    """The rules of this pack.  Called when an `Inspector` is set up.

    `hooks`: the version of the hooks that the calling prebind has (since 1), for a pack that wants
    to serve several.
    """


@hookspec
def prebind_report_formats(hooks: int) -> Iterable[Format]:  # type: ignore[empty-body]
    """The report formats of this pack.  Called when an `Inspector` is set up.

    `hooks`: the version of the hooks that the calling prebind has (since 1).
    """
