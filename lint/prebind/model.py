"""The setup document's classes, under their public name.  Rule packs import from here."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.document.model import *  # noqa: F403

if TYPE_CHECKING:
    from prebind.document.model import Setup


def unstructure(setup: Setup) -> dict[str, Any]:
    """The document that a setup says, as plain dicts and lists; defaults and places are left out.

    Reading it gives an equal setup.  Of keys that begin with `x-` the model has only those of the
    top level.
    """
    from prebind.document.unstructure import unstructure

    return unstructure(setup)
