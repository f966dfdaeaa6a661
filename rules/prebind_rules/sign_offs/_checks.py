"""The checks by hand: how grave it is that one is missing, and how it is done."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from prebind.rule import Word

WORDS: Mapping[str, Word] = {
    "control-direction": "warning",
    "correction-direction": "warning",
    "throws": "caution",
    "states": "warning",
    "recovery": "warning",
    "failsafe": "warning",
    "balance": "caution",
    "range": "caution",
}

DONE = {
    "control-direction": "Propeller off: move every control to both ends and see each surface go "
    "the right way.",
    "correction-direction": "Propeller off: roll, pitch and turn the model by hand and see each "
    "stabilised surface go against it.",
    "throws": "Propeller off: measure each surface's throw to both sides.",
    "states": "Propeller off: put each switch in every position and see which state the receiver "
    "shows.",
    "recovery": "Propeller off: press for recovery and let go, and see the receiver take over and "
    "let go.",
    "failsafe": "Propeller off, model held down: switch the transmitter off and see what motor, "
    "surfaces and modes do.",
    "balance": "Ready to fly: see where the model balances.",
    "range": "Model held fast, nobody in the propeller's plane: check the range at reduced power "
    "as the radio's maker says, with the motor off and running.",
}
"""What a person does for each, with the caution that belongs to it."""
