"""The path's parts: nobody can write over what rules share, and nothing is worked out twice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.path import Path
from prebind.path.facts import fact
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def path() -> prebind.Path:
    found = prebind.read(clean())
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


PARTS: dict[str, Callable[[prebind.Path], Any]] = {
    "Path": lambda path: path,
    "ChannelPath": lambda path: path.channel(1),
    "PortPath": lambda path: path.port(1),
    "ControlPath": lambda path: path.control("cut-switch"),
    "SelectorPath": lambda path: path.selectors[0],
    "AxisPath": lambda path: path.axes[0],
    "DirectionPath": lambda path: path.directions[0],
    "ServoPath": lambda path: path.servos[0],
    "MotorPath": lambda path: path.motors[0],
}


@pytest.mark.parametrize("kind", PARTS)
def test_nothing_of_a_part_can_be_written_over_or_deleted(kind: str, path: prebind.Path) -> None:
    part = PARTS[kind](path)
    assert type(part).__name__ == kind
    before = dict(vars(part))
    for name in ("at", "path", "made_up"):
        with pytest.raises(AttributeError, match=f"'{name}' of a {kind} cannot be changed"):
            setattr(part, name, 1)
        with pytest.raises(AttributeError, match=f"'{name}' of a {kind} cannot be deleted"):
            delattr(part, name)
    assert vars(part) == before


def test_a_fact_is_worked_out_once(path: prebind.Path) -> None:
    for first, second in (
        (path.channels, path.channels),
        (path.channel(2).reach, path.channel(2).reach),
        (path.port(2).reach, path.port(2).reach),
        (path.selectors[0].positions, path.selectors[0].positions),
        (path.trace, path.trace),
        (path.channel(2).response("roll-stick"), path.channel(2).response("roll-stick")),
        (path.channel(2).stages(path.rest()), path.channel(2).stages(path.rest())),
        (path.number(12.5), path.number(12.5)),
    ):
        assert first is second


def test_a_fact_has_the_words_that_explain_it() -> None:
    assert isinstance(Path.motors, fact)
    assert Path.motors.__doc__ == "The speed controls, then the engine."
