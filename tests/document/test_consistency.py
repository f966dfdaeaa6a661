"""What a document says against itself: the exact place, and the numbers or names that clash."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from prebind.document import consistency, schema
from prebind.document.fault import Fault
from prebind.document.positions import split

FILE = Path(__file__).parents[1] / "schemas" / "every-key.setup.json"


def document(changes: dict[str, Any] | None = None) -> dict[str, Any]:
    """The document with every key, with the values at some pointers set; `-` appends to a list."""
    data: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
    for pointer, value in (changes or {}).items():
        *way, last = split(pointer)
        owner: Any = data
        for step in way:
            owner = owner[int(step)] if isinstance(owner, list) else owner[step]
        if last == "-":
            owner.append(value)
        elif isinstance(owner, list):
            owner[int(last)] = value
        else:
            owner[last] = value
    assert schema.check(data) == []  # the schema must let it pass, or it proves nothing here
    return data


def check(changes: dict[str, Any] | None = None) -> list[Fault]:
    return consistency.check(document(changes))


def test_a_sound_document_has_no_fault() -> None:
    assert check() == []


PAIRS = [
    ("/servos/0/pulse_us", "`servos` entry 1 (port 2): `pulse_us`"),
    ("/servos/0/volts", "`servos` entry 1 (port 2): `volts`"),
    ("/speed_controls/0/cells", "`speed_controls` entry 1 (port 1): `cells`"),
    ("/speed_controls/1/stopped_us", "`speed_controls` entry 2 (port 4): `stopped_us`"),
    ("/engine/idle_us", "`engine.idle_us`"),
    ("/power/receiver_supply/volts", "`power.receiver_supply.volts`"),
    ("/receiver/outputs/0/limit_us", "`receiver.outputs` entry 1 (port 1): `limit_us`"),
    (
        "/receiver/stabiliser/selectors/0/states/0/band/percent",
        "`receiver.stabiliser.selectors` entry 1 (flight mode), `states` entry 1 (level): "
        "`band.percent`",
    ),
    (
        "/receiver/stabiliser/selectors/0/states/1/band/us",
        "`receiver.stabiliser.selectors` entry 1 (flight mode), `states` entry 2 (damped): "
        "`band.us`",
    ),
]


@pytest.mark.parametrize(("pointer", "place"), PAIRS)
def test_a_low_end_lies_above_its_high_end(pointer: str, place: str) -> None:
    assert check({pointer: [7, 4.0]}) == [
        Fault(
            pointer,
            f"{place} is [7, 4]: its low end, 7, lies above its high end, 4; "
            "put the lower one first",
        )
    ]
    assert check({pointer: [5, 5]}) == []


NAMES: list[tuple[str, Any, str, str]] = [
    (
        "/inputs/-",
        {"id": "shaped", "control": "gas"},
        "/inputs/1/id",
        '`inputs` entry 2 (shaped): `id` is "shaped", as in entry 1 already; '
        "give each a name of its own",
    ),
    (
        "/phases/-",
        {"name": "launch"},
        "/phases/2/name",
        '`phases` entry 3 (launch): `name` is "launch", as in entry 1 already',
    ),
    (
        "/mixes/2/name",
        "from an input",
        "/mixes/2/name",
        '`mixes` entry 3 (from an input): `name` is "from an input", as in entry 2 already',
    ),
    (
        "/overrides/-",
        {
            "name": "throttle cut",
            "purpose": "other",
            "channel": 1,
            "demand_percent": 0,
            "when": [],
        },
        "/overrides/1/name",
        '`overrides` entry 2 (throttle cut): `name` is "throttle cut", as in entry 1 already',
    ),
    (
        "/surfaces/1/id",
        "tail left",
        "/surfaces/1/id",
        '`surfaces` entry 2 (tail left): `id` is "tail left", as in entry 1 already',
    ),
    (
        "/receiver/stabiliser/selectors/-",
        {
            "name": "flight mode",
            "purpose": "gain",
            "channel": 6,
            "states": [{"state": "low", "behaviour": "other", "band": {"percent": [0, 1]}}],
        },
        "/receiver/stabiliser/selectors/1/name",
        'entry 2 (flight mode): `name` is "flight mode", as in entry 1 already',
    ),
    (
        "/receiver/stabiliser/selectors/0/states/1/state",
        "level",
        "/receiver/stabiliser/selectors/0/states/1/state",
        'entry 1 (flight mode), `states` entry 2 (level): `state` is "level", as in entry 1 a',
    ),
    (
        "/transmitter/controls/mode/positions/2",
        "back",
        "/transmitter/controls/mode/positions/2",
        '`transmitter.controls.mode.positions` entry 3 is "back", as in entry 1 already',
    ),
]


@pytest.mark.parametrize(("pointer", "value", "at", "part"), NAMES)
def test_a_name_is_used_twice(pointer: str, value: Any, at: str, part: str) -> None:
    (fault,) = check({pointer: value})
    assert (fault.at, fault.key) == (at, False)
    assert part in fault.message


def test_each_further_use_of_a_name_is_named() -> None:
    faults = check({"/mixes/1/name": "from a channel", "/mixes/2/name": "from a channel"})
    assert [fault.at for fault in faults] == ["/mixes/1/name", "/mixes/2/name"]
    assert all("as in entry 1 already" in fault.message for fault in faults)


def test_states_of_two_selectors_may_have_one_name() -> None:
    states = [{"state": "level", "behaviour": "other", "band": {"percent": [0, 1]}}]
    other = {"name": "gain", "purpose": "gain", "channel": 6, "states": states}
    assert check({"/receiver/stabiliser/selectors/-": other}) == []


def test_values_and_positions_differ_in_number() -> None:
    (fault,) = check({"/transmitter/controls/mode/values": [-100, 100]})
    assert fault.at == "/transmitter/controls/mode/values"
    assert fault.message == (
        "`transmitter.controls.mode.values` has 2 values for 3 positions; "
        "give one for each, in the same order"
    )


def test_ids_with_slashes_and_tildes_are_escaped() -> None:
    control = {"kind": "switch", "positions": ["a", "b"], "values": [0, 1, 2]}
    (fault,) = check({"/transmitter/controls/up~1down~0": control})
    assert fault.at == "/transmitter/controls/up~1down~0/values"
    assert fault.message.startswith("`transmitter.controls.up/down~.values` has 3 values for 2")


class TestCurves:
    AT = "/channels/0/curves/0/points"
    PLACE = "`channels` entry 1 (channel 1), `curves` entry 1, `points` entry"

    def test_points_must_rise(self) -> None:
        points = [[-100, 0], [10, 0], [10, 5], [-2.5, 6], [100, 0]]
        first, second = check({self.AT: points})
        assert first == Fault(
            f"{self.AT}/2/0",
            f"{self.PLACE} 3, number 1 is 10, not above 10, where the point before it stands; "
            "sort the points so that their first values rise",
        )
        assert second.at == f"{self.AT}/3/0"
        assert "entry 4, number 1 is -2.5, not above 10" in second.message

    def test_they_start_at_one_end_and_end_at_the_other(self) -> None:
        first, last = check({self.AT: [[-90, -100], [95, 100]]})
        assert first == Fault(
            f"{self.AT}/0/0",
            f"{self.PLACE} 1, number 1 is -90; a curve starts at -100 in its first value",
        )
        assert last == Fault(
            f"{self.AT}/1/0",
            f"{self.PLACE} 2, number 1 is 95; a curve ends at 100 in its first value",
        )

    def test_their_second_values_are_free(self) -> None:
        assert check({self.AT: [[-100.0, 150], [0, 150], [100, -150]]}) == []

    def test_those_of_inputs_too(self) -> None:
        (fault,) = check({"/inputs/0/curves": [{"points": [[-100, 0], [100, 0], [100, 1]]}]})
        assert fault.at == "/inputs/0/curves/0/points/2/0"
        assert "`inputs` entry 1 (shaped), `curves` entry 1" in fault.message


class TestInputs:
    @pytest.mark.parametrize(("key", "value"), [("rates", []), ("curves", [])])
    def test_a_channel_that_one_drives_has_no_shape_of_its_own(
        self, key: str, value: list[Any]
    ) -> None:
        (fault,) = check({f"/channels/1/{key}": value})
        assert fault.at == f"/channels/1/{key}"
        assert fault.message == (
            f"`channels` entry 2 (channel 2): `{key}` cannot stand here: the input `shaped` that "
            f"drives the channel has its own shape; put the {key} into that input"
        )

    def test_but_may_have_a_trim(self) -> None:
        assert check({"/channels/1/trim_percent": 3}) == []

    def test_their_ids_are_not_those_of_controls(self) -> None:
        first, *_ = check({"/inputs/0/id": "gas"})
        assert first.at == "/inputs/0/id"
        assert first.message == (
            "`inputs` entry 1 (gas): `id` is the id of a control too; give the input another"
        )


class TestExpectedEnds:
    ROLL = "/receiver/stabiliser/expects/roll"

    def test_the_low_one_lies_above_the_high_one(self) -> None:
        (fault,) = check({f"{self.ROLL}/low_us": 1950.5})
        assert fault.at == f"{self.ROLL}/low_us"
        assert fault.message == (
            "`receiver.stabiliser.expects.roll.low_us` is 1950.5, above `high_us`, 1900; "
            "swap them, or record `direction` -1"
        )

    def test_unless_the_channel_is_wanted_the_other_way_round(self) -> None:
        wanted = {"direction": -1, "low_us": 1900, "high_us": 1100}
        assert check({self.ROLL: wanted}) == []


class TestDates:
    @pytest.mark.parametrize("date", ["2023-02-29", "2024-13-01", "2024-00-10", "0000-01-01"])
    def test_one_that_no_calendar_has(self, date: str) -> None:
        signed, waived = check({"/sign_offs/0/on": date, "/waivers/0/until": date})
        assert (signed.at, waived.at) == ("/sign_offs/0/on", "/waivers/0/until")
        assert signed.message == (
            f'`sign_offs` entry 1 (control-direction): `on` is "{date}", which no calendar has'
        )
        assert f'(capacity/spare): `until` is "{date}", which no' in waived.message

    def test_leap_days(self) -> None:
        # ISO 8601 takes the Gregorian calendar: 2000 is a leap year, 1900 is not.
        assert check({"/sign_offs/0/on": "2000-02-29"}) == []
        (fault,) = check({"/sign_offs/0/on": "1900-02-29"})
        assert fault.at == "/sign_offs/0/on"


# References, and numbers used twice, are findings of rules.
NO_FAULTS: list[dict[str, Any]] = [
    {"/channels/1/channel": 1},
    {"/receiver/outputs/1/port": 1},
    {"/receiver/failsafe/channels/1/channel": 1},
    {"/channels/0/control": "no such control"},
    {"/inputs/0/control": "no such control"},
    {"/channels/0/rates/0/when/0/positions": ["no such position"]},
    {"/mixes/0/when/0/phase": ["no such phase"]},
    {"/mixes/1/from/input": "no such input"},
    {"/mixes/0/to": 99},
    {"/servos/0/surface": "no such surface"},
    {"/servos/0/port": 99},
    {"/receiver/failsafe/intended_states": {"no such selector": "no such state"}},
    {"/waivers/0/rule": "no/such-rule", "/waivers/0/at": "/no/such/place"},
    {"/speed_controls/0/stop_below_us": 2000},
    {"/channels": []},
]


@pytest.mark.parametrize("changes", NO_FAULTS, ids=lambda it: next(iter(it)))
def test_what_rules_find_is_no_fault(changes: dict[str, Any]) -> None:
    assert check(changes) == []


def test_a_document_of_the_needed_sections_alone_has_no_fault() -> None:
    data = document()
    least = {key: data[key] for key in ("format", "model", "transmitter", "channels")}
    assert consistency.check(least) == []


def test_a_document_with_very_many_faults_hears_of_a_hundred() -> None:
    curve = {"points": [[-100, 0]] * 200}
    data = document({"/channels/0/curves": [curve] * 100})
    *faults, last = consistency.check(data)
    assert len(faults) == 100
    assert faults[0].at == "/channels/0/curves/0/points/1/0"
    assert last == Fault(
        "", "there are at least 900 more faults than are listed here; mend these first"
    )
