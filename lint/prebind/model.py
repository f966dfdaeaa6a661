"""The setup document's classes, under their public name.  Rule packs import from here."""

from prebind.document.model import *  # noqa: F403
