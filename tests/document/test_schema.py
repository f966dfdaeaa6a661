"""What the schema says against a document: the exact place, and words a hobbyist can act on."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from prebind.document import schema
from prebind.document.fault import Fault
from prebind.document.positions import split

FILE = Path(__file__).parents[1] / "schemas" / "every-key.setup.json"
GONE = object()


def document(pointer: str = "", value: Any = GONE) -> dict[str, Any]:
    """The document with every key, with one value set, or taken away."""
    data: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
    if not pointer:
        return data
    *way, last = split(pointer)
    owner: Any = data
    for step in way:
        owner = owner[int(step)] if isinstance(owner, list) else owner[step]
    key = int(last) if isinstance(owner, list) else last
    if value is GONE:
        del owner[key]
    else:
        owner[key] = value
    return data


def only_fault(data: dict[str, Any]) -> Fault:
    (fault,) = schema.check(data)
    return fault


def test_a_sound_document_has_no_fault() -> None:
    assert schema.check(document()) == []


# Pointer, its new value, and what the fault says; it stands at that pointer.
VALUES: list[tuple[str, Any, str]] = [
    (
        "/channels/0/travel_percent/low",
        "full",
        '`channels` entry 1 (channel 1): `travel_percent.low` is "full"; '
        "it must be a number from 0 to 200 (percent)",
    ),
    (
        "/channels/0/travel_percent/high",
        -5,
        "`travel_percent.high` is -5; it must be a number from 0 to 200 (percent)",
    ),
    (
        "/channels/0/rates/0/rate_percent",
        -1,
        "`channels` entry 1 (channel 1), `rates` entry 1: `rate_percent` is -1; "
        "it must be a number from 0 to 200 (percent)",
    ),
    (
        "/channels/0/rates/0/expo_percent",
        100.5,
        "`expo_percent` is 100.5; it must be a number from -100 to 100 (percent)",
    ),
    (
        "/channels/0/travel_percent",
        100,
        "`travel_percent` is 100; it must be an object with `low` or `high`",
    ),
    ("/channels/0/reversed", "yes", '`reversed` is "yes"; it must be true or false'),
    (
        "/channels/0/channel",
        0,
        "`channels` entry 1 (channel 0): `channel` is 0; it must be a whole number from 1 to 999",
    ),
    ("/channels/0/channel", 1.5, "`channel` is 1.5; it must be a whole number from 1 to 999"),
    ("/channels/0/channel", True, "`channel` is true; it must be a whole number"),
    (
        "/channels/0/channel",
        "1",
        '`channel` is "1"; it must be a whole number from 1 to 999; '
        "write the number without quotes",
    ),
    ("/channels/0/function", "ailron", '`function` is "ailron"; did you mean `aileron`?'),
    (
        "/channels/0/function",
        "x-Smoke",
        "or a name of your own such as `x-smoke` (x-, then small letters, digits and hyphens)",
    ),
    (
        "/channels/1/side",
        "lefft",
        '`side` is "lefft"; did you mean `left`? It must be one of `left`, `right`, `front` '
        "or `rear`, or a whole number from 1 to 99",
    ),
    (
        "/channels/0/trim_percent",
        "3",
        '`trim_percent` is "3"; it must be a number from -1000 to 1000 (percent) or a list, '
        "in [ and ]; write the number without quotes",
    ),
    (
        "/channels/0/trim_percent/0/percent",
        "up",
        '`channels` entry 1 (channel 1), `trim_percent` entry 1: `percent` is "up"; '
        "it must be a number from -1000 to 1000 (percent)",
    ),
    (
        "/channels/0/control",
        None,
        "`control` is null; it must be a name of 1 to 200 characters, without control "
        "characters; a key whose value is not known is left out",
    ),
    (
        "/channels/0/curves/0/points/1/0",
        "middle",
        "`channels` entry 1 (channel 1), `curves` entry 1, `points` entry 2, number 1 is "
        '"middle"; it must be a number from -1000 to 1000 (percent)',
    ),
    (
        "/channels/0/curves/0/points",
        [[-100, -100]],
        "`points` has 1 entry; it must have 2 to 200",
    ),
    (
        "/channels/0/curves/0/points/1",
        {"x": 0},
        "`points` entry 2 is an object; it must be two numbers, [control, demand]",
    ),
    (
        "/model/airframe",
        "airplane",
        '`model.airframe` is "airplane"; did you mean `aeroplane`? It must be one of '
        "`aeroplane`, `glider`, `flying-wing`, `helicopter` or `multirotor`",
    ),
    ("/model/mass_g", 0, "`model.mass_g` is 0; it must be a number from 0.001 to 1000000 (g"),
    ("/model/name", "", '`model.name` is ""; it must be a name of 1 to 200 characters'),
    (
        "/model/name",
        "Cur\x1b[31mlew\x85",
        '`model.name` is "Cur\\u001b[31mlew\\u0085"; it must be a name of 1 to 200 '
        "characters, without control characters",
    ),
    (
        "/model/name",
        "n" * 5000,
        f'`model.name` is "{"n" * 39}…" (5000 characters); it must be a name of 1 to 200',
    ),
    ("/model/propulsion", "electric", "it must be an object with `kind` or `motors`"),
    (
        "/transmitter/stick_mode",
        5,
        "`transmitter.stick_mode` is 5; it must be a whole number from 1 to 4",
    ),
    (
        "/transmitter/output/order",
        ["reverse", "reverse", "subtrim"],
        '`transmitter.output.order` is ["reverse", "reverse", "subtrim"]; it must be one of '
        '["reverse", "travel", "subtrim"], ["reverse", "subtrim", "travel"]',
    ),
    ("/transmitter/output/native/throttle", 0, "`transmitter.output.native.throttle` is 0; it "),
    ("/transmitter/output/native/throttle", -2, "is -2; it must be 1 or -1"),
    (
        "/transmitter/output/us_per_percent",
        0,
        "it must be a number from 0.001 to 100 (microseconds a percent)",
    ),
    ("/transmitter/start_checks/1", "cut", '`transmitter.start_checks` entry 2 is "cut"; '),
    (
        "/transmitter/controls/mode/kind",
        "swich",
        '`transmitter.controls.mode.kind` is "swich"; did you mean `switch`?',
    ),
    (
        "/transmitter/controls/mode/positions",
        ["only"],
        "`transmitter.controls.mode.positions` has 1 entry; it must have 2 to 6",
    ),
    (
        "/transmitter/controls/mode/values/1",
        "0",
        '`transmitter.controls.mode.values` entry 2 is "0"; it must be a number from -1000 to '
        "1000 (percent); write the number without quotes",
    ),
    (
        "/transmitter/controls/rescue/values",
        [-100, 0, 100],
        "has 3 entries; it must have at most 2: a button has two, the first for `released`",
    ),
    (
        "/transmitter/controls/rescue/positions",
        ["up", "down"],
        'is ["up", "down"]; it must be ["released", "pressed"]: a button\'s positions always',
    ),
    (
        "/receiver/stabiliser/selectors/0/states/1/behaviour",
        "damping",
        "`receiver.stabiliser.selectors` entry 1 (flight mode), `states` entry 2 (damped): "
        '`behaviour` is "damping"; did you mean `rate-damping`? It must be one of `off`, `rate-d',
    ),
    (
        "/receiver/stabiliser/selectors/0/states",
        [],
        "`states` has 0 entries; it must have 1 to 64",
    ),
    (
        "/receiver/stabiliser/selectors/0/states/1/band/us/1",
        99999,
        "`band.us` entry 2 is 99999; it must be a number from 0 to 10000 (microseconds)",
    ),
    (
        "/receiver/stabiliser/axes/0/ports/0",
        "2",
        '`receiver.stabiliser.axes` entry 1 (roll), `ports` entry 1 is "2"; it must be a whole '
        "number from 1 to 999 or an object with `port`; write the number without quotes",
    ),
    ("/receiver/stabiliser/axes/0/ports/1/sign", 2, "`ports` entry 2 (port 3): `sign` is 2; it "),
    ("/receiver/failsafe/stored", "bind", '`receiver.failsafe.stored` is "bind"; it must be '),
    ("/servos/0/pulse_us", [900], "`servos` entry 1 (port 2): `pulse_us` has 1 entry; it must "),
    ("/servos/0/pulse_us", 900, "`pulse_us` is 900; it must be two pulses, [low, high]"),
    ("/servos/0/volts", 6, "`volts` is 6; it must be a list of two, [low, high]"),
    (
        "/servos/0/increasing_pulse",
        "trailing edge upwards",
        'is "trailing edge upwards"; did you mean `trailing-edge-up`?',
    ),
    (
        "/servos/0/linkage/arm_mm",
        -9,
        "`linkage.arm_mm` is -9; it must be a number from 0.001 to 1000000 (millimetres)",
    ),
    ("/speed_controls/0/cells/0", 2.5, "`cells` entry 1 is 2.5; it must be a whole number from 1"),
    ("/surfaces/0/throw_deg/up", -3, "it must be a number from 0 to 180 (degrees)"),
    (
        "/power/receiver_supply/volts",
        0,
        "`power.receiver_supply.volts` is 0; it must be a number from 0.001 to 1000 (volts) "
        "or a list of two, [low, high]",
    ),
    (
        "/power/receiver_supply/source",
        "bek",
        '`power.receiver_supply.source` is "bek"; did you mean `bec`? It must be `bec` or `b',
    ),
    (
        "/sign_offs/0/on",
        "29 Feb 2024",
        '`sign_offs` entry 1 (control-direction): `on` is "29 Feb 2024"; it must be a date, '
        'year-month-day, as in "2026-05-31"',
    ),
    (
        "/waivers/0/at",
        "channels/1",
        '`waivers` entry 1 (capacity/spare): `at` is "channels/1"; it must be a place in this '
        'document as a JSON Pointer, as in "/channels/1/reversed"',
    ),
    ("/region", "UK", '`region` is "UK"; did you mean `uk`? It must be one of `us`, `eu` or `uk`'),
    ("/channels", {}, "`channels` is an object; it must be a list, in [ and ]"),
    ("/channels", [{"channel": 1, "function": "other"}] * 65, "has 65 entries; it must have at m"),
    (
        "/mixes/0/from",
        1,
        "`mixes` entry 1 (from a channel): `from` is 1; it must be an object "
        "with `channel`, `input` or `control`",
    ),
    (
        "/channels/0/rates/0/when/0",
        "back",
        '`when` entry 1 is "back"; it must be a condition: a `con',
    ),
    ("/channels/2", "flap", '`channels` entry 3 is "flap"; it must be an object with `channel` '),
    ("/overrides/0/when/0", [["a"]], "`when` entry 1 is a list of 1; it must be a condition: a `c"),
    ("/format", "setup", '`format` is "setup"; it must be "model-setup/1"'),
    ("/format", "model-setup/01", '`format` is "model-setup/01"; it must be "model-setup/1"'),
    ("/format", 1, '`format` is 1; it must be "model-setup/1"'),
    (
        "/format",
        "model-setup/2",
        'this document is of a newer format than this prebind reads ("model-setup/2"; this one '
        'reads "model-setup/1"): update prebind',
    ),
]


@pytest.mark.parametrize(("pointer", "value", "part"), VALUES)
def test_a_wrong_value_is_shown_beside_what_it_must_be(pointer: str, value: Any, part: str) -> None:
    fault = only_fault(document(pointer, value))
    assert (fault.at, fault.key) == (pointer, False)
    assert part in fault.message
    assert fault.message.isprintable()


# The missing key, and what is said where it is missed.
MISSING = [
    ("/channels", "`channels` is missing from the document: what the transmitter does to make e"),
    ("/format", "`format` is missing from the document: the format of this document, always"),
    ("/transmitter/controls", "`controls` is missing from `transmitter`: every stick, slider, kno"),
    ("/model/name", "`name` is missing from `model`: what the model is called"),
    ("/servos/0/port", "`servos` entry 1: `port` is missing: number of the receiver's port"),
    ("/servos/0/linkage/horn_mm", "(port 2): `horn_mm` is missing from `linkage`: from the hinge"),
    (
        "/receiver/failsafe/channels/0/output_percent",
        "`receiver.failsafe.channels` entry 1 (channel 1): `output_percent` is missing: "
        "a preset needs the value to go to, for example -100",
    ),
    (
        "/transmitter/controls/mode/positions",
        "`positions` is missing from `transmitter.controls.mode`: a switch needs the names of "
        'its 2 to 6 positions, in order, for example ["back", "forward"]',
    ),
    (
        "/channels/0/rates/0/when/0/control",
        "`rates` entry 1, `when` entry 1: `control` is missing: "
        "a condition looks at a control, or at the `phase`",
    ),
    (
        "/channels/0/rates/0/when/0/positions",
        "`when` entry 1: one of `positions`, `above_percent` or `below_percent` is missing",
    ),
    (
        "/mixes/0/from/channel",
        "`mixes` entry 1 (from a channel): one of `channel`, `input` or `control` is missing "
        "from `from`",
    ),
    ("/mixes/0/rate_percent/low", "(from a channel): `low` is missing from `rate_percent`: how m"),
    (
        "/receiver/stabiliser/selectors/0/states/0/band/percent",
        "`states` entry 1 (level): one of `percent` or `us` is missing from `band`",
    ),
    (
        "/speed_controls/0/stop_below_us",
        "`speed_controls` entry 1 (port 1): one of `stop_below_us` or `stopped_us` is missing",
    ),
]


@pytest.mark.parametrize(("pointer", "part"), MISSING)
def test_a_missing_key_is_named_at_the_object_that_needs_it(pointer: str, part: str) -> None:
    fault = only_fault(document(pointer))
    assert (fault.at, fault.key) == (pointer.rpartition("/")[0], False)
    assert part in fault.message


# A key that cannot stand where it does, with a value, and what is said at the key.
KEYS: list[tuple[str, Any, str]] = [
    ("/mixess", [], "`mixess` is not a key of a setup document"),
    ("/model/masss", 1, "`masss` is not a key of `model`"),
    (
        "/channels/1/revers",
        True,
        "(channel 2): `revers` is not a key of this entry; did you mean `reversed`?",
    ),
    (
        "/channels/1/travel",
        80,
        "`travel` is not a key of this entry; did you mean `travel_percent`?",
    ),
    ("/channels/2/controll", "a", "`controll` is not a key of this entry; did you mean `control`?"),
    (
        "/transmitter/controls/dial/axes",
        "roll",
        "is not a key of `transmitter.controls.dial`; did you mean `axis`?",
    ),
    ("/servos/0/linkage/arm", 9, "`arm` is not a key of `linkage`"),
    ("/power/flight_pack/\x07", 1, "`\\u0007` is not a key of `power.flight_pack`"),
    ("/arming/switch", 1, "`switch` is not a key of `arming`; only keys that begin with `x-` can"),
    ("/x~1y", 1, "`x/y` is not a key of a setup document"),
    ("/model/from", "a.json", "`from` is not a key of `model`"),
    (
        "/transmitter/controls/dial/positions",
        ["a", "b"],
        "`transmitter.controls.dial.positions` cannot stand here: a stick, slider or knob moves "
        "without steps",
    ),
    ("/transmitter/controls/gas/values", [0, 1], "`transmitter.controls.gas.values` cannot stand"),
    ("/transmitter/controls/mode/axis", "roll", "cannot stand here: only a stick has an axis"),
    (
        "/receiver/failsafe/channels/1/output_percent",
        0,
        "`output_percent` cannot stand here: only a preset goes to a value",
    ),
    (
        "/mixes/0/when/0/control",
        "mode",
        "`mixes` entry 1 (from a channel), `when` entry 1: `control` cannot stand here: "
        "a condition with `phase` has nothing else",
    ),
    (
        "/channels/0/curves/0/when/0/positions",
        ["a"],
        "`above_percent` and `positions` exclude each other; give only one of them",
    ),
    ("/mixes/0/from/input", "shaped", "`channel` and `input` exclude each other"),
    ("/speed_controls/1/stop_below_us", 1100, "`stopped_us` and `stop_below_us` exclude each oth"),
    (
        "/surfaces/0/throw_deg/left",
        3,
        "`throw_deg.left` cannot stand here: a surface moves `up` and",
    ),
    (
        "/transmitter/output/native/flaps",
        1,
        'a key of `transmitter.output.native` is "flaps"; did you mean `flap`?',
    ),
    (
        "/transmitter/controls/",
        {"kind": "knob"},
        'a key of `transmitter.controls` is ""; it must be a name of 1 to 200 characters',
    ),
]


@pytest.mark.parametrize(("pointer", "value", "part"), KEYS)
def test_a_key_that_cannot_stand_there_is_named(pointer: str, value: Any, part: str) -> None:
    fault = only_fault(document(pointer, value))
    assert (fault.at, fault.key) == (pointer, True)
    assert part in fault.message
    assert fault.message.isprintable()


def test_a_misspelt_section_is_missing_and_recognised() -> None:
    data = document()
    data["chanels"] = data.pop("channels")
    missing, unknown = schema.check(data)
    assert missing.at == ""
    assert "`channels` is missing from the document" in missing.message
    assert (unknown.at, unknown.key) == ("/chanels", True)
    assert unknown.message == (
        "`chanels` is not a key of a setup document; did you mean `channels`?"
    )


def test_an_unknown_key_without_a_near_one_hears_what_there_is() -> None:
    data = document("/servos/0/linkage/horn_at_neutral_deg")
    data["servos"][0]["linkage"]["pushrod"] = 80
    assert only_fault(data) == Fault(
        "/servos/0/linkage/pushrod",
        "`servos` entry 1 (port 2): `pushrod` is not a key of `linkage`; "
        "it may have `horn_at_neutral_deg`",
        key=True,
    )


def test_a_phase_cannot_depend_on_a_phase() -> None:
    fault = only_fault(document("/phases/1/when", [{"phase": ["launch"]}]))
    assert (fault.at, fault.key) == ("/phases/1/when/0/phase", True)
    assert "`phases` entry 2 (cruise), `when` entry 1: `phase` cannot stand here" in fault.message
    assert "a phase cannot depend on a phase" in fault.message


def test_a_regulator_has_one_voltage() -> None:
    data = document("/power/receiver_supply/source", "bec")
    fault = only_fault(data)
    assert fault.at == "/power/receiver_supply/volts"
    assert "is [4.8, 6.6]; it must be a number (volts): a `bec` has one voltage" in fault.message
    data["power"]["receiver_supply"]["volts"] = 5
    assert schema.check(data) == []


def test_all_faults_come_in_the_order_of_the_document() -> None:
    data = document("/region", "uk ")
    data["channels"][1]["function"] = "ailerons"
    data["channels"][0]["reversed"] = 1
    data["model"]["colour"] = "red"
    del data["model"]["name"]
    data["servos"][0]["volts"][1] = "6"
    at = [fault.at for fault in schema.check(data)]
    assert at == [
        "/model",
        "/model/colour",
        "/channels/0/reversed",
        "/channels/1/function",
        "/servos/0/volts/1",
        "/region",
    ]
    turned = dict(reversed(data.items()))  # sections the other way round
    assert [fault.at for fault in schema.check(turned)] == [
        "/region",
        "/servos/0/volts/1",
        "/channels/0/reversed",
        "/channels/1/function",
        "/model",
        "/model/colour",
    ]


def test_nothing_is_said_twice() -> None:
    data = document("/receiver/stabiliser/axes/0/ports", [0, "a", {"port": None, "sing": 1}])
    said = [(fault.at, fault.message) for fault in schema.check(data)]
    assert len(said) == len(set(said)) == 4


def test_of_a_newer_document_nothing_else_is_said() -> None:
    data = document("/format", "model-setup/12") | {"batteries": 2}
    assert only_fault(data).at == "/format"
    assert '"model-setup/12"' in only_fault(data).message
    assert "update prebind" in only_fault(data).message


@pytest.mark.parametrize("name", ["model-setup/0", "model-setup/02", "model-setup/2.1", "other/2"])
def test_of_an_unknown_format_the_rest_is_said_too(name: str) -> None:
    first, second = schema.check(document("/format", name) | {"batteries": 2})
    assert f'`format` is "{name}"; it must be "model-setup/1"' in first.message
    assert second.at == "/batteries"


def test_no_is_no_also_where_nobody_finds_why(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schema, "_found", lambda *_: iter(()))
    fault = only_fault(document("/region", "mars"))
    assert fault == Fault("", 'this is not as "model-setup/1" has it')


def test_another_schema_speaks_of_its_own_document() -> None:
    said = [fault.message for fault in schema.check({"format": "rule-sheet/3"}, "sheet")]
    assert said == [
        'this document is of a newer format than this prebind reads ("rule-sheet/3"; this one '
        'reads "rule-sheet/1"): update prebind'
    ]
    said = [fault.message for fault in schema.check({"rule": []}, "sheet")]
    assert said[0].startswith("`format` is missing from the document: the format of this sheet")
    assert said[-1] == "`rule` is not a key of a rule sheet; did you mean `rules`?"


@pytest.mark.parametrize("name", ["setup", "sheet", "wishes"])
def test_every_schema_that_is_read_by_has_a_name_for_its_document(name: str) -> None:
    assert any(
        "`qqq` is not a key of a" in fault.message for fault in schema.check({"qqq": 1}, name)
    )


def test_a_key_that_is_called_as_a_keyword_is_a_key() -> None:
    rule = {"require": {"document": {"propertyNames": 5}}}
    faults = schema.check({"format": "rule-sheet/1", "rules": [rule]}, "sheet")
    (fault,) = (fault for fault in faults if fault.at.endswith("propertyNames"))
    assert not fault.key
    assert "`require.document.propertyNames` is 5; it must be a schema: an object" in fault.message


def test_an_empty_document_hears_what_it_needs() -> None:
    said = [fault.message.partition(":")[0] for fault in schema.check({})]
    assert said == [
        f"`{key}` is missing from the document"
        for key in ("format", "model", "transmitter", "channels")
    ]


class TestDocumentsThatMeanHarm:
    """Large documents with many faults, or one: what is told stays small, and so does the time.

    Each would keep a plain validator busy for half a minute or more.
    """

    CROWD = [{"when": [{"phase": ["a"]}] * 50}] * 64

    def crowd(self, **more: Any) -> dict[str, Any]:
        channel = {"channel": 1, "function": "other", "rates": self.CROWD}
        return document("/channels", [channel] * 64) | more

    def test_one_fault_beside_much_that_is_sound(self) -> None:
        assert only_fault(self.crowd(zz=1)).at == "/zz"

    def test_many_faults_are_counted_to_a_bound(self) -> None:
        rates = [{"when": [{"phase": ["a"]}] * 49 + [{}]}] * 64
        data = document("/channels", [{"channel": 1, "function": "other", "rates": rates}] * 64)
        *told, last = schema.check(data)
        assert len(told) == 100
        assert told[0].at == "/channels/0/rates/0/when/49"
        assert last.at == ""
        assert last.message == (
            "there are at least 900 more faults than are listed here; mend these first"
        )

    def test_a_few_too_many_are_counted_exactly(self) -> None:
        *told, last = schema.check(document() | {f"key {i}": 0 for i in range(130)})
        assert len(told) == 100
        assert last.message == "there are 30 more faults than are listed here; mend these first"

    def test_a_list_that_is_too_long_is_not_looked_into(self) -> None:
        fault = only_fault(document("/channels", [{}] * 100_000))
        assert (fault.at, "has 100000 entries" in fault.message) == ("/channels", True)

    def test_nor_are_too_many_controls(self) -> None:
        controls: dict[str, Any] = {f"control {i}": {} for i in range(100_000)}
        fault = only_fault(document("/transmitter/controls", controls))
        assert fault.at == "/transmitter/controls"
        assert "has 100000 entries; it must have at most 200" in fault.message

    def test_long_texts_are_cut(self) -> None:
        faults = schema.check(document("/model/name", "\n" * 100_000) | {"k" * 100_000: 1})
        assert [fault.at for fault in faults] == ["/model/name", "/" + "k" * 100_000]
        assert all(len(fault.message) < 500 for fault in faults)
        assert all(fault.message.isprintable() for fault in faults)

    def test_numbers_as_long_as_the_reader_lets_through(self) -> None:
        for value in (10**39, -(10**38), 1e300, 5e-324):
            data = document("/model/mass_g", value)
            assert len(schema.check(data)) == 1

    def test_x_keys_may_hold_anything(self) -> None:
        nested: Any = []
        for _ in range(60):
            nested = [nested]
        assert schema.check(document("/channels/0/x-deep", nested)) == []


def test_messages_read_as_sentences() -> None:
    """No Python and no schema words in them."""
    for pointer, value, _ in [*VALUES, *KEYS]:
        message = only_fault(document(pointer, value)).message
        assert not re.search(r"None|True|False|\{'|schema|instance|anyOf|array|integer", message)
