"""Documents that are no setups: which command reads them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.document.fault import Fault

if TYPE_CHECKING:
    from collections.abc import Mapping

_READ_BY = {
    "wishes/1": "these are wishes, which `prebind plan` reads",
    "plan/1": "this is a plan, from which `prebind start --plan` starts a setup",
    "rule-sheet/1": "this is a rule sheet, which is named with `--pack`",
    "inspection/1": "this is a report of an inspection, which is named with `--since`",
}


def misplaced(data: Mapping[str, Any]) -> Fault | None:
    """What a document is instead, where it says that it is something else that prebind reads.

    What a setup lacks or may not have is then no fault of it.
    """
    given = data.get("format")
    found = _READ_BY.get(given) if isinstance(given, str) else None
    if found is None:
        return None
    return Fault("/format", f'{found}; a setup begins with "format": "model-setup/1"')
