"""The hooks that a rule pack may implement (pluggy, project `prebind`), version 1.

A pack is a module that an entry point of the group `prebind` names::

    from prebind.hooks import hookimpl

    @hookimpl
    def prebind_rules():
        yield my_rule

Hooks hand over rules; the engine runs them, each guarded by itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.rule import Rule

PROJECT = "prebind"
"""The name of the pluggy project, and of the entry-point group."""

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def prebind_rules() -> Iterable[Rule]:  # type: ignore[empty-body]
    """The rules of this pack.

    Called once, when an `Inspector` is set up.  No argument: what a pack hands over depends on
    nothing but the pack.
    """
