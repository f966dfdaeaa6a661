"""From the model back to a document, for programs that build or change setups as Python objects."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from prebind.document import model
from prebind.document.structure import KEYS

if TYPE_CHECKING:
    from cattrs import Converter


def unstructure(setup: model.Setup) -> dict[str, Any]:
    """The document that a setup says, as plain dicts and lists; defaults and places are left out.

    `read(unstructure(setup)).setup` equals the setup.  Of keys that begin with `x-` the model has
    only those of the top level.
    """
    said: dict[str, Any] = _converter().unstructure(setup)
    own = said.pop("extra", {})
    return {"format": "model-setup/1", **said, **own}


@cache
def _converter() -> Converter:
    from attrs import asdict
    from cattrs import Converter
    from cattrs.gen import make_dict_unstructure_fn, override

    converter = Converter(omit_if_default=True)
    converter.register_unstructure_hook(model.LowHigh, asdict)  # a mix wants both ends
    for (kind, name), key in KEYS.items():
        renamed: Any = {name: override(rename=key)}
        hook: Any = make_dict_unstructure_fn(
            kind, converter, _cattrs_omit_if_default=True, **renamed
        )
        converter.register_unstructure_hook(kind, hook)
    return converter
