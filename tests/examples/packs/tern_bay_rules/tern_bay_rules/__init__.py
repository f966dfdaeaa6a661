"""The rules of the Tern Bay Model Flying Club, which is invented, and its notice board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.hooks import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.format import Format
    from prebind.rule import Rule


@hookimpl
def prebind_rules() -> Iterator[Rule]:
    from tern_bay_rules.heavy_runs_on import heavy_runs_on
    from tern_bay_rules.mode_elsewhere import mode_elsewhere
    from tern_bay_rules.tow_not_own import tow_not_own
    from tern_bay_rules.trainer_throws import trainer_throws

    yield from (heavy_runs_on, mode_elsewhere, tow_not_own, trainer_throws)


@hookimpl
def prebind_report_formats() -> Iterator[Format]:
    from tern_bay_rules.board import BOARD

    yield BOARD
