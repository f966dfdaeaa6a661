"""Rule sheets: what their schemas find and where, what is not known, and what is wrong in one."""

from __future__ import annotations

import json
from gc import collect
from pathlib import Path
from typing import TYPE_CHECKING, Any
from weakref import ref

import pytest

from prebind import Configuration, Inspector
from prebind.document import Document
from prebind.document import read as read_setup
from prebind.packs import Pack
from prebind.packs.sheet import formats, read
from prebind.packs.sheet.laid import text
from prebind.path import Path as SignalPath
from prebind.rule import Passes
from prebind.testing import clean, examples_of, inspected, patched, try_example

if TYPE_CHECKING:
    from prebind.inspect.finding import Finding
    from prebind.problem import Problem
    from prebind.rule import Example, Rule

EXAMPLES = Path(__file__).parents[1] / "examples"
TERN_BAY = EXAMPLES / "packs" / "tern-bay.rules.json"

Json = dict[str, Any]


def pack_of(file: Path) -> Pack:
    found = read(file.name, file.read_bytes())
    assert isinstance(found, Pack), found
    return found


RULES = {rule.id: rule for rule in pack_of(TERN_BAY).rules}
TRIED = [(rule, example) for rule in RULES.values() for example in examples_of(rule)]


def sheet(require: Json, when: Json | None = None, **more: Any) -> Json:
    """A sheet with one rule, `club/test`."""
    rule: Json = {
        "id": "club/test",
        "word": "warning",
        "title": "It is not as it should be",
        "why": "So that it is tested.",
        "require": require,
        "message": "It must be as it should be",
        "safety": "Keep clear.",
        "remedy": "Mend it.",
        "bench": "Look at it.",
        "source": "invented",
        "examples": [
            {"outcome": "fail", "why": "It is not.", "patch": [], "at": ""},
            {"outcome": "pass", "why": "It is.", "patch": []},
        ],
    }
    if when is not None:
        rule["when"] = when
    pack = {"name": "club", "version": "1"}
    return {"format": "rule-sheet/1", "pack": pack, "rules": [rule], **more}


def rule_of(require: Json, when: Json | None = None, **more: Any) -> Rule:
    found = read("club.rules.json", json.dumps(sheet(require, when, **more)).encode())
    assert isinstance(found, Pack), found
    (rule,) = found.rules
    return rule


def of(*keys: str | int, **leaf: Any) -> Json:
    """A schema that asks for something at a place: an entry of a list is every entry."""
    for key in reversed(keys):
        leaf = {"properties": {key: leaf}} if isinstance(key, str) else {"items": leaf}
    return leaf


def found(rule: Rule, setup: Json) -> list[Finding]:
    report = inspected(rule, setup)
    assert not report.problems, report.problems
    return list(report.findings)


def outcome(rule: Rule, setup: Json) -> str:
    report = inspected(rule, setup)
    assert not report.problems, report.problems
    (kind,) = (kind for kind, count in report.outcomes.items() if count)
    return kind


def only(rule: Rule, setup: Json) -> Finding:
    (finding,) = found(rule, setup)
    return finding


def setup_of(name: str = "trainer", **sections: Any) -> Json:
    return clean(name) | sections


# --- the club's sheet -----------------------------------------------------------------------


@pytest.mark.parametrize(("rule", "example"), TRIED, ids=lambda it: getattr(it, "why", "")[:50])
def test_the_clubs_examples_come_out(rule: Rule, example: Example) -> None:
    try_example(rule, example)


def test_the_clubs_examples_show_every_outcome() -> None:
    shown = {example.outcome for _, example in TRIED if isinstance(example, Passes)}
    assert shown == {"pass", "open", "notApplicable"}


def test_the_club_is_said_to_be_invented() -> None:
    assert "Invented" in json.loads(TERN_BAY.read_text(encoding="utf-8"))["x-note"]
    assert all("invented" in rule.source for rule in RULES.values())


def test_a_rule_of_a_sheet_is_a_rule_like_any_other() -> None:
    rule = RULES["tern-bay/heavy-runs-on"]
    assert (rule.word, rule.family, rule.each, rule.needs) == ("danger", "tern-bay", "setup", ())
    assert rule.why.startswith("A model above 7 kg hits hard")
    assert rule.since == "2026.1"
    assert rule.defaults() == {}


def test_what_the_club_finds_in_a_heavy_model() -> None:
    rule = RULES["tern-bay/heavy-runs-on"]
    setup = setup_of()
    setup["model"]["mass_g"] = 9500
    setup["receiver"]["failsafe"]["delay_s"] = 1.5
    setup["receiver"]["failsafe"]["channels"][0]["output_percent"] = 100  # 1900 µs: full power
    late, runs = found(rule, setup)
    assert (late.kind, late.word, late.at) == ("fail", "danger", "/receiver/failsafe/delay_s")
    assert late.message == (
        "A model above 7 kg must stop its motor within 1 s of losing the link: "
        "`receiver.failsafe.delay_s` is 1.5; it must be a number up to 1 (seconds)."
    )
    assert late.evidence == {"place": "/receiver/failsafe/delay_s", "value": 1.5, "maximum": 1}
    assert runs.at == "/speed_controls/0"
    assert runs.message.endswith(
        ': in the trace `motors` entry 1 (port 1): `failsafe` is "full"; it must be "stopped".'
    )
    assert runs.evidence == {"trace": "/motors/0/failsafe", "value": "full", "const": "stopped"}


def test_what_the_club_finds_in_a_trainer() -> None:
    """Full stick at rate 100 is ±100 %, but for the 2048 steps over ±150 %, each 0.147 %."""
    setup = setup_of(**{"x-use": "club-trainer"})
    setup["channels"][3]["rates"] = [{"rate_percent": 70}]
    aileron, elevator = found(RULES["tern-bay/trainer-throws"], setup)
    assert (aileron.at, elevator.at) == ("/channels/1", "/channels/2")
    assert "`channels` entry 2 (channel 2): `low.percent` is -100.02" in aileron.message
    assert "from -70.5 upwards (percent); `high.percent` is 100.02" in aileron.message
    assert aileron.evidence["controls"] == {"rate-switch": "full", "roll-stick": -100.0}
    assert aileron.fingerprint != elevator.fingerprint


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("f*/*.setup.json")), ids=lambda f: f.name)
def test_the_clubs_own_fleet(file: Path) -> None:
    """Only the faulty canard levels with its switch forward: its receiver's bands are muddled."""
    inspector = Inspector(Configuration(packs=(str(TERN_BAY),), families=("tern-bay",)))
    report = inspector.inspect_file(file, file.parent)
    assert not report.problems
    said = [(finding.kind, finding.rule, finding.at) for finding in report.findings]
    canard = ("fail", "tern-bay/back-not-protective", "/receiver/stabiliser/selectors/0")
    assert said == ([canard] if file.name == "phalarope-faulty.setup.json" else [])
    assert set(report.not_applicable) | {f.rule for f in report.findings} <= RULES.keys()


# --- where a finding points -----------------------------------------------------------------


def test_a_finding_points_at_the_innermost_place() -> None:
    rule = rule_of({"document": of("receiver", "outputs", 0, "travel_percent", "low", maximum=90)})
    setup = setup_of()
    setup["receiver"]["outputs"][2]["travel_percent"] = {"low": 80}
    at = [finding.at for finding in found(rule, setup)]
    # Where the default counts there is nothing to point at but the entry.
    assert at == [f"/receiver/outputs/{i}" for i in (0, 1, 3, 4)]
    setup["receiver"]["outputs"][2]["travel_percent"]["low"] = 95
    finding = found(rule, setup)[2]
    assert finding.at == "/receiver/outputs/2/travel_percent/low"
    assert "`receiver.outputs` entry 3 (port 3): `travel_percent.low` is 95" in finding.message


def test_a_finding_in_the_trace_points_at_the_setup() -> None:
    rule = rule_of({"trace": of("selectors", 0, "positions", 0, "margin_us", minimum=140)})
    flight = only(rule, setup_of())
    assert flight.at == "/receiver/stabiliser/selectors/0"
    assert flight.evidence["trace"] == "/selectors/0/positions/1/margin_us"
    assert flight.evidence["controls"] == {"mode-switch": "middle"}
    assert flight.evidence["minimum"] == 140
    assert "(flight mode), `positions` entry 2: `margin_us` is 135.4" in flight.message


def test_of_many_places_twenty_are_told_and_the_rest_counted() -> None:
    rule = rule_of({"document": of("mixes", 0, "to", maximum=3)})
    mix = {"from": {"control": "yaw-stick"}, "to": 4, "rate_percent": {"low": 1, "high": 1}}
    mixes = [{"name": f"mix {i}", **mix} for i in range(25)]
    findings = found(rule, setup_of(mixes=mixes))
    assert [finding.at for finding in findings[:20]] == [f"/mixes/{i}/to" for i in range(20)]
    assert findings[20].at == "/mixes/20/to"
    assert "so it is at 5 more places, of which this is the first" in findings[20].message
    assert len(findings) == 21


def test_of_many_breaches_of_one_entry_three_are_told() -> None:
    rule = rule_of({"trace": of("selectors", 0, "positions", 0, "us", maximum=1000)})
    flight, recovery = found(rule, setup_of())
    assert flight.message.count("it must be a number up to 1000 (microseconds)") == 3
    assert flight.message.count("flight mode") == 3
    assert recovery.message.count("it must be") == 2
    rule = rule_of({"trace": of("ports", 0, maxProperties=1, required=["x-a", "x-b", "x-c"])})
    assert found(rule, setup_of())[0].message.endswith("; and 1 more like it.")


ANY_OF = [
    # The branch that is followed furthest is told.
    (
        {"anyOf": [of("model", "airframe", const="glider"), {"required": ["x-permit"]}]},
        "/model/airframe",
        '`model.airframe` is "aeroplane"; it must be "glider"',
    ),
    # Of two that are as deep, the one with fewer breaches.
    (
        {
            "anyOf": [
                {"properties": {"model": of("airframe", const="glider") | {"required": ["x-a"]}}},
                of("model", "mass_g", maximum=250),
            ]
        },
        "/model/mass_g",
        "`model.mass_g` is 1650; it must be a number up to 250 (grams)",
    ),
    # Alternatives for one value are told together.
    (
        of("model", "mass_g", anyOf=[{"maximum": 250}, {"minimum": 2000}]),
        "/model/mass_g",
        "it must be a number up to 250 (grams) or a number from 2000 upwards (grams)",
    ),
    (
        of("model", "mass_g", oneOf=[{"minimum": 1000}, {"minimum": 1500}]),
        "/model/mass_g",
        "must be only one of a number from 1000 upwards or a number from 1500 upwards",
    ),
    (
        of("model", "mass_g", oneOf=[{"maximum": 1000}, {"minimum": 2000}]),
        "/model/mass_g",
        "it must be a number up to 1000 (grams) or a number from 2000 upwards (grams)",
    ),
]


@pytest.mark.parametrize(("schema", "at", "says"), ANY_OF)
def test_of_alternatives_the_nearest_is_told(schema: Json, at: str, says: str) -> None:
    finding = only(rule_of({"document": schema}), setup_of())
    assert finding.at == at
    assert says in finding.message


BROKEN = [
    (of("model", "name", type="number"), "/model/name", 'is "Oystercatcher 1500"; it must be a nu'),
    (of("model", "name", pattern="^x"), "/model/name", "it must be a text that fits `^x`"),
    (of("model", "name", maxLength=5), "/model/name", "a text of at most 5 characters"),
    (of("model", "name", minLength=50), "/model/name", "a text of at least 50 characters"),
    (of("model", "tail", enum=["none", "v-tail"]), "/model", "it must be `none` or `v-tail`"),
    (of("model", "mass_g", exclusiveMinimum=2000), "/model/mass_g", "a number above 2000 (grams)"),
    (of("model", "mass_g", exclusiveMaximum=900), "/model/mass_g", "a number below 900 (grams)"),
    (
        of("model", "mass_g", minimum=5, exclusiveMaximum=900),
        "/model/mass_g",
        "a number from 5 and below 900 (grams)",
    ),
    (
        of("model", "mass_g", **{"not": {"const": 1650}}),
        "/model/mass_g",
        "`model.mass_g` is 1650; it must not be 1650",
    ),
    (
        of("model", "mass_g", title="less than half a ton", maximum=5),
        "/model/mass_g",
        "it must be less than half a ton.",
    ),
    (
        of("model", "mass_g", maximum=5, description="the roof holds no more."),
        "/model/mass_g",
        "it must be a number up to 5 (grams): the roof holds no more.",
    ),
    (of("model", "wing", const=False), "/model/wing", "`model.wing` is an object; it must be fals"),
    ({"properties": {"servos": False}}, "/servos", "`servos` must not be there"),
    (of("channels", items={"not": {"required": []}}), "/channels/0", "not be an object"),
    ({"required": ["x-permit"]}, "", "`x-permit` is missing from the setup"),
    (of("model", required=["x-permit"]), "/model", "`x-permit` is missing from `model`"),
    (of("channels", minItems=9), "/channels", "`channels` has 6 entries; it must have at least 9"),
    (of("channels", maxItems=1), "/channels", "it must have at most 1"),
    (of("servos", 0, "volts", uniqueItems=True, maxItems=3), None, None),
    (
        of("receiver", "failsafe", "intended_states", maxProperties=1),
        "/receiver/failsafe/intended_states",
        "has 2 entries; it must have at most 1",
    ),
    (
        of("transmitter", "controls", propertyNames={"title": "in small letters", "pattern": "^z"}),
        "/transmitter/controls/throttle-stick",
        "`transmitter.controls.throttle-stick` is not called as it must be, in small letters",
    ),
    (
        of("transmitter", "controls", additionalProperties=of("kind", const="switch")),
        "/transmitter/controls/throttle-stick/kind",
        '`transmitter.controls.throttle-stick.kind` is "stick"; it must be "switch"',
    ),
    (
        of("transmitter", "controls", patternProperties={"^roll": of("kind", const="switch")}),
        "/transmitter/controls/roll-stick/kind",
        'it must be "switch"',
    ),
    (
        of("channels", contains=of("function", const="flap") | {"title": "a flap"}),
        "/channels",
        "`channels` must have an entry that is a flap",
    ),
    (
        of("channels", contains=of("function", const="aileron"), minContains=2),
        "/channels",
        "`channels` must have 2 entries that are an object with `function`",
    ),
    (
        of("channels", contains={"title": "those that are meant"}, maxContains=3),
        "/channels",
        "`channels` must have at most 3 of those that are meant",
    ),
    (
        of("channels", prefixItems=[True, of("function", const="elevator")]),
        "/channels/1/function",
        '`channels` entry 2 (channel 2): `function` is "aileron"; it must be "elevator"',
    ),
    (
        of("channels", prefixItems=[True, True], items=of("function", const="flap")),
        "/channels/2/function",
        'it must be "flap"',
    ),
    (
        {"if": of("model", "airframe", const="aeroplane"), "then": of("model", "mass_g", const=1)},
        "/model/mass_g",
        "it must be 1",
    ),
    (
        {"if": of("model", "airframe", const="glider"), "else": of("model", "mass_g", const=1)},
        "/model/mass_g",
        "it must be 1",
    ),
    ({"$ref": "#/$defs/light"}, "/model/mass_g", "a number up to 900"),
    ({"$ref": "#/$defs/light", "required": ["model"]}, "/model/mass_g", "a number up to 900"),
]


@pytest.mark.parametrize(("schema", "at", "says"), BROKEN)
def test_every_keyword_says_what_it_wants(schema: Json, at: str | None, says: str | None) -> None:
    rule = rule_of({"document": schema}, **{"$defs": {"light": of("model", "mass_g", maximum=900)}})
    if says is None:
        assert outcome(rule, setup_of()) == "pass"
        return
    finding = found(rule, setup_of())[0]
    assert (finding.kind, finding.at) == ("fail", at)
    assert says in finding.message
    assert finding.message.startswith("It must be as it should be: ")


def test_a_long_list_of_words_is_cut() -> None:
    rule = rule_of({"document": of("model", "name", enum=[f"model {i}" for i in range(400)])})
    finding = only(rule, setup_of())
    assert "it must be one of `model 0`, `model 1`" in finding.message
    assert finding.message.endswith("….")
    assert len(finding.message) < 600


def test_an_entry_that_stands_twice() -> None:
    rule = rule_of({"document": of("transmitter", "start_checks", uniqueItems=True)})
    setup = setup_of()
    setup["transmitter"]["start_checks"] = ["cut-on", "cut-on"]
    assert "`transmitter.start_checks` has an entry twice" in only(rule, setup).message


# --- what is not known ----------------------------------------------------------------------


def test_a_missing_key_in_when_is_open() -> None:
    rule = rule_of(
        {"document": of("model", "wing", "span_mm", maximum=1)},
        when={"document": of("model", "mass_g", exclusiveMinimum=7000)},
    )
    setup = setup_of()
    assert outcome(rule, setup) == "notApplicable"
    del setup["model"]["mass_g"]
    finding = only(rule, setup)
    assert finding.message == (
        "Whether this rule applies is not known: `model.mass_g` is not recorded."
    )
    assert (finding.kind, finding.at, finding.settles) == ("open", "/model", ("/model/mass_g",))
    assert finding.bench == "Look at it."


@pytest.mark.parametrize("asked", [{"maximum": 1}, {"type": "number"}, {"not": {"const": 3}}])
def test_a_missing_key_in_require_is_open(asked: Json) -> None:
    rule = rule_of({"document": of("receiver", "failsafe", "delay_s", **asked)})
    setup = setup_of()
    del setup["receiver"]["failsafe"]["delay_s"]
    finding = only(rule, setup)
    assert (finding.kind, finding.settles) == ("open", ("/receiver/failsafe/delay_s",))
    assert finding.at == "/receiver/failsafe"
    assert finding.message == (
        "Whether this holds is not known: `receiver.failsafe.delay_s` is not recorded."
    )
    del setup["receiver"]["failsafe"]
    assert only(rule, setup).settles == ("/receiver/failsafe",)
    del setup["receiver"]
    assert only(rule, setup).settles == ("/receiver",)


def test_a_key_that_is_required_and_missing_is_open() -> None:
    rule = rule_of({"document": of("model", required=["max_speed_m_s", "x-permit"])})
    setup = setup_of()
    del setup["model"]["max_speed_m_s"]
    permit, speed = found(rule, setup)
    assert (permit.kind, permit.at) == ("fail", "/model")
    assert (speed.kind, speed.settles) == ("open", ("/model/max_speed_m_s",))


def test_what_else_is_known_can_decide() -> None:
    fast = of("receiver", "failsafe", "delay_s", maximum=1)
    light = of("model", "mass_g", maximum=7000)
    setup = setup_of()
    del setup["model"]["mass_g"]
    assert outcome(rule_of({"document": {"anyOf": [light, fast]}}), setup) == "pass"
    assert outcome(rule_of({"document": {"oneOf": [light, fast]}}), setup) == "open"
    assert outcome(rule_of({"document": {"not": {"allOf": [light, fast]}}}), setup) == "open"
    slow = of("receiver", "failsafe", "delay_s", minimum=5)
    assert outcome(rule_of({"document": {"not": {"allOf": [light, slow]}}}), setup) == "pass"
    assert outcome(rule_of({"document": {"if": light, "then": fast}}), setup) == "pass"
    assert (
        outcome(rule_of({"document": {"if": light, "then": slow, "else": fast}}), setup) == "open"
    )
    both = rule_of({"document": {"if": light, "then": slow, "else": slow}})
    assert only(both, setup).at == "/receiver/failsafe/delay_s"
    later = rule_of({"document": {"allOf": [light, slow]}})
    assert [finding.kind for finding in found(later, setup)] == ["fail", "open"]


def test_entries_that_are_not_known_may_be_those_that_are_counted() -> None:
    digital = of("kind", const="digital")
    setup = setup_of()
    del setup["servos"][0]["kind"]
    counted = {3: "pass", 4: "open", 5: "fail"}
    for least, expected in counted.items():
        rule = rule_of({"document": of("servos", contains=digital, minContains=least)})
        assert outcome(rule, setup) == expected, least
    most = {2: "fail", 3: "open", 4: "pass"}
    for count, expected in most.items():
        rule = rule_of({"document": of("servos", contains=digital, maxContains=count)})
        assert outcome(rule, setup) == expected, count


def test_a_schema_that_asks_for_nothing_is_met_by_what_is_not_known() -> None:
    setup = setup_of()
    del setup["model"]["mass_g"]
    for asked in ({}, {"title": "a mass", "description": "Any."}, {"x-note": "Any."}):
        assert outcome(rule_of({"document": of("model", "mass_g", **asked)}), setup) == "pass"


ABSENT = [
    # Pointer of a key, what is asked of it, and that it is met where the key is left out.
    ("/x-permit", of("x-permit", const="yes")),
    ("/channels/3/x-permit", of("channels", 0, "x-permit", const="yes")),
    (
        "/receiver/failsafe/intended_states",
        of("receiver", "failsafe", "intended_states", "a", const=1),
    ),
    ("/transmitter/output/steps", of("transmitter", "output", "steps", minimum=9999)),
    ("/receiver/stabiliser", of("receiver", "stabiliser", "axes", maxItems=0)),
]


@pytest.mark.parametrize(("pointer", "asked"), ABSENT)
def test_a_key_whose_absence_says_so_is_absent(pointer: str, asked: Json) -> None:
    setup = patched(setup_of(), [{"op": "add", "path": pointer, "value": {}}])
    setup = patched(setup, [{"op": "remove", "path": pointer}])
    assert outcome(rule_of({"document": asked}), setup) == "pass"


def test_a_hinge_has_two_ways_and_not_four() -> None:
    rule = rule_of({"document": of("surfaces", 0, "throw_deg", "left", maximum=30)})
    setup = setup_of()
    assert outcome(rule, setup) == "pass"  # ailerons and elevator move up and down
    del setup["surfaces"][3]["throw_deg"]["left"]
    assert only(rule, setup).settles == ("/surfaces/3/throw_deg/left",)


DEFAULTS = [
    (("channels", 0, "reversed"), False),
    (("channels", 0, "travel_percent"), {"low": 100, "high": 100}),
    (("channels", 0, "subtrim_percent"), 0),
    (("channels", 0, "trim_percent"), 0),
    (("receiver", "outputs", 0, "centre_us"), 1500),
    (("receiver", "stabiliser", "mix_limit_percent"), 150),
    (("model", "tail"), "conventional"),
    (("mixes",), []),
    (("transmitter", "output", "order"), ["reverse", "travel", "subtrim"]),
    (("servos", 0, "y_lead"), False),
    (("overrides", 0, "acts"), "last"),
]


@pytest.mark.parametrize(("keys", "default"), DEFAULTS, ids=lambda it: str(it)[:40])
def test_a_default_counts_where_the_key_is_left_out(keys: tuple[Any, ...], default: Any) -> None:
    """document.md names them."""
    setup = setup_of()
    for output in setup["receiver"]["outputs"]:
        output.pop("reversed", None)
    assert outcome(rule_of({"document": of(*keys, const=default)}), setup) == "pass"
    other = rule_of({"document": of(*keys, **{"not": {"const": default}})})
    assert outcome(other, setup) == "fail"
    *way, last = keys
    needed = of(*way, required=[last])
    assert outcome(rule_of({"document": needed}), setup) == "pass"


def test_what_follows_from_other_keys_counts_too() -> None:
    controls = of("transmitter", "controls")
    inside = controls["properties"]["transmitter"]["properties"]["controls"]
    inside["properties"] = {
        "recovery-button": of("sprung", const=True)
        | of("positions", const=["released", "pressed"])
        | {"required": ["values"]},
        "mode-switch": {
            "properties": {"sprung": {"const": False}, "values": {"const": [-100, 0, 100]}}
        },
        "throttle-stick": of("sprung", const=False),
        "roll-stick": {"properties": {"sprung": {"const": True}, "axis": {"const": "roll"}}},
    }
    setup = setup_of()
    del setup["transmitter"]["controls"]["roll-stick"]["axis"]  # it drives the ailerons
    assert outcome(rule_of({"document": controls}), setup) == "pass"


def test_the_document_itself_is_left_as_it_was() -> None:
    setup = setup_of()
    document = read_setup(setup)
    assert isinstance(document, Document)
    path = SignalPath(document.setup)
    assert text(path, "document").value["channels"][0]["reversed"] is False
    assert document.data == setup_of()
    assert text(path, "document") is text(path, "document")
    assert text(path, "trace").value is path.trace


def test_nothing_of_a_document_is_kept() -> None:
    document = read_setup(setup_of())
    assert isinstance(document, Document)
    path = SignalPath(document.setup)
    for rule in RULES.values():
        rule.judge(path, path, {})
    gone = ref(path)
    del path
    collect()
    assert gone() is None


def test_a_shared_part_is_laid_in_before() -> None:
    file = EXAMPLES / "fleet" / "dunlin.setup.json"
    document = read_setup(file.read_bytes(), path=str(file), root=file.parent)
    assert isinstance(document, Document)
    value = text(SignalPath(document.setup), "document").value
    assert "from" not in value["receiver"]
    assert value["receiver"]["outputs"][0]["port"] == 1


class TestTheTrace:
    def test_a_fact_that_is_not_settled_is_open(self) -> None:
        rule = rule_of({"trace": of("motors", 0, "failsafe", const="stopped")})
        setup = setup_of()
        setup["receiver"]["failsafe"]["channels"][0] = {"channel": 1, "action": "no-pulses"}
        del setup["speed_controls"][0]["on_signal_loss"]
        finding = only(rule, setup)
        assert (finding.kind, finding.at) == ("open", "/speed_controls/0")
        assert finding.settles == ("/speed_controls/0/on_signal_loss",)

    def test_a_section_that_is_empty_for_want_of_records_is_open(self) -> None:
        setup = setup_of()
        asked: dict[str, tuple[str, str]] = {
            "motors": ("speed_controls", "/speed_controls"),
            "surfaces": ("servos", "/servos"),
            "ports": ("receiver", "/receiver"),
            "selectors": ("receiver", "/receiver"),
        }
        for section, (key, settles) in asked.items():
            rule = rule_of({"trace": of(section, 0, "at", const="nowhere")})
            assert outcome(rule, setup) == "fail", section
            less = {name: value for name, value in setup.items() if name != key}
            finding = only(rule, less)
            assert (finding.kind, finding.settles) == ("open", (settles,)), section

    def test_a_section_that_is_empty_for_a_reason_is_not(self) -> None:
        rule = rule_of({"trace": of("selectors", maxItems=0)})
        assert outcome(rule, clean("plain")) == "pass"
        assert outcome(rule_of({"trace": of("selectors", minItems=1)}), clean("plain")) == "fail"

    def test_null_is_an_answer_where_there_is_nothing(self) -> None:
        """A recorded hold has no pulse; a switch between two bands has no margin."""
        rule = rule_of({"trace": of("ports", 0, "failsafe", "us", type="number")})
        setup = setup_of()
        assert outcome(rule, setup) == "pass"
        setup["receiver"]["failsafe"]["channels"][1] = {"channel": 2, "action": "hold"}
        assert [f.at for f in found(rule, setup)] == ["/receiver/outputs/1", "/receiver/outputs/4"]
        assert {f.kind for f in found(rule, setup)} == {"fail"}

    def test_null_within_known_facts_is_an_answer(self) -> None:
        """There is no margin between two bands, whether or not the failsafe is recorded."""
        rule = rule_of({"trace": of("selectors", 0, "positions", 0, "margin_us", type="number")})
        setup = setup_of()
        del setup["receiver"]["failsafe"]
        assert outcome(rule, setup) == "pass"
        setup["receiver"]["stabiliser"]["selectors"][0]["states"][1]["band"]["percent"] = [20, 34]
        finding = only(rule, setup)
        assert (finding.kind, finding.at) == ("fail", "/receiver/stabiliser/selectors/0")
        assert "`margin_us` is null; it must be a number" in finding.message

    def test_a_fact_beyond_the_bound_is_open(self) -> None:
        rule = rule_of({"trace": of("channels", 0, "high", "percent", maximum=90)})
        document = read_setup(setup_of())
        assert isinstance(document, Document)
        path = SignalPath(document.setup, bound=1)
        answer = rule.judge(path, path, {})
        assert isinstance(answer, list)
        opened = answer[-1]
        assert "Whether this holds is not known" in opened.message
        assert opened.at == "/channels/0"
        assert opened.settles == ()

    def test_the_trace_is_not_made_for_a_rule_that_does_not_apply(self) -> None:
        rule = rule_of(
            {"trace": of("motors", maxItems=0)},
            when={"document": of("model", "airframe", const="glider"), "trace": of("motors")},
        )
        document = read_setup(setup_of())
        assert isinstance(document, Document)
        path = SignalPath(document.setup)
        rule.judge(path, path, {})
        assert "trace" not in vars(path)


# --- what is wrong in a sheet ---------------------------------------------------------------


def problems(data: Json | str | bytes) -> list[Problem]:
    if isinstance(data, dict):
        data = json.dumps(data, indent=1)
    found = read("club.rules.json", data.encode() if isinstance(data, str) else data)
    assert isinstance(found, list), "the sheet is sound"
    assert all(problem.path == "club.rules.json" for problem in found)
    assert all(problem.message.isprintable() for problem in found)
    return found


def problem(data: Json) -> tuple[str, str]:
    """What stands at the place of the only problem, and the problem's message."""
    (found,) = problems(data)
    assert found.line is not None
    assert found.column is not None
    line = json.dumps(data, indent=1).split("\n")[found.line - 1]
    return line[found.column - 1 :].rstrip(","), found.message


def with_rule(**changes: Any) -> Json:
    made = sheet({"document": True})
    made["rules"][0].update(changes)
    return made


def with_schema(schema: Any, **more: Any) -> Json:
    return sheet({"document": schema}, **more)


FAULTY: list[tuple[Json, str, str]] = [
    (with_rule(word="dangr"), '"dangr"', "did you mean `danger`? It must be one of"),
    (with_rule(id="Club Rule"), '"Club Rule"', 'as in "club/heavy-models"'),
    (with_rule(sinse="1"), '"sinse": "1"', "did you mean `since`?"),
    (with_rule(require={}), "{}", "`document` is missing from `require`: what must hold"),
    (with_rule(message="a\nb"), '"a\\nb"', "it must be a text of 1 to 300 characters on one line"),
    (with_schema({"requird": []}), '"requird": []', "did you mean `required`?"),
    (with_schema({"type": ["null", "null"]}), "[", "or a list of such words, each once"),
    (with_schema({"format": "date"}), '"format": "date"', "ask with `pattern`"),
    (with_schema({"multipleOf": 3}), '"multipleOf": 3', "ask with `enum`"),
    (with_schema({"$id": "urn:a"}), '"$id": "urn:a"', "has no address of its own"),
    (with_schema({"$defs": {}}), '"$defs": {}', "stand in `$defs` of the sheet itself"),
    (with_schema({"dependentRequired": {}}), '"dependentRequired": {}', "ask with `if` and `then`"),
    (with_schema({"unevaluatedItems": False}), '"unevaluatedItems": false', "is not used here"),
    (
        with_schema({"$ref": "club.json"}),
        '"club.json"',
        "nothing outside the sheet can be referred",
    ),
    (with_schema({"$ref": "#/rules/0"}), '"#/rules/0"', "a reference to a schema of this sheet"),
    (
        with_schema({"$ref": "#/$defs/moter"}, **{"$defs": {"motor": True}}),
        '"#/$defs/moter"',
        "refers to `moter`, which is not in `$defs`; did you mean `motor`?",
    ),
    (
        with_schema({"$ref": "#/$defs/a"}, **{"$defs": {"a": {"not": {"$ref": "#/$defs/a"}}}}),
        '"a": {',
        "`a` in `$defs` leads back to itself, through its reference to `a`",
    ),
    (with_schema({"pattern": "(a"}), '"(a"', "which cannot be used: a pattern has no look-around"),
    (with_schema({"pattern": "(?=a)a"}), '"(?=a)a"', "no look-around and no back-references"),
    (
        with_schema({"patternProperties": {"[": True}}),
        '"[": true',
        "a key of `rules` entry 1 (club/test): `require.document.patternProperti",
    ),
    (with_schema({"then": False}), '"then": false', "asks for nothing without `if` beside it"),
    (with_schema({"maxContains": 1}), '"maxContains": 1', "asks for nothing without `contains`"),
    (
        with_schema(of("modle", "mass_g")),
        '"modle": {',
        "`modle` is not a key that a setup has there; did you mean `model`?",
    ),
    (
        with_schema(of("model", required=["mass"])),
        '"mass"',
        "`mass` is not a key that a setup has there; did you mean `mass_g`?",
    ),
    (
        with_schema(of("receiver", "stabiliser", "selectors", 0, "states", 0, "zzz")),
        '"zzz": {}',
        "it has `state`, `behaviour` and `band`",
    ),
    (
        with_schema(of("channels", 0, "function", const="flight-moed")),
        '"flight-moed"',
        "is not a word that a setup has there; did you mean `flight-mode`?",
    ),
    (
        with_schema(of("model", "airframe", enum=["glider", "boat"])),
        '"boat"',
        "it has `aeroplane`, `flying-wing`, `glider`, `helicopter` and `multirotor`",
    ),
    (
        with_schema({"$ref": "#/$defs/a"}, **{"$defs": {"a": of("channel")}}),
        '"channel": {}',
        "`channel` is not a key that a setup has there; did you mean `channels`?",
    ),
    (
        sheet({"trace": of("motors", 0, "fail_safe")}),
        '"fail_safe": {}',
        "`fail_safe` is not a key that a trace has there; did you mean `failsafe`?",
    ),
    (with_rule(examples=[]), "[", "has 0 entries; it must have 2 to 50"),
    (
        with_rule(examples=[{"outcome": "pass", "why": "a", "patch": []}] * 2),
        "[",
        "must have one whose outcome is `fail`; add it",
    ),
    (
        with_rule(examples=[{"outcome": "fail", "why": "a", "patch": [], "at": ""}] * 2),
        "[",
        "must have one whose outcome is `pass`; add it",
    ),
    (with_rule() | {"format": "rule-sheet/2"}, '"rule-sheet/2"', "update prebind"),
    (with_rule() | {"rule": []}, '"rule": []', "`rule` is not a key of a rule sheet"),
    (
        with_rule() | {"pack": {"name": "My Club", "version": "1"}},
        '"My Club"',
        "small letters, dig",
    ),
]


@pytest.mark.parametrize(("data", "there", "says"), FAULTY, ids=lambda it: str(it)[:40])
def test_an_error_names_place_and_remedy(data: Json, there: str, says: str) -> None:
    where, message = problem(data)
    assert where.startswith(there)
    assert says in message


def test_keys_that_a_setup_does_not_have_may_be_the_documents_own() -> None:
    sound = [
        of("x-use", "anything", const=1),
        of("model", "x-use", required=["whatever"]),
        of("transmitter", "controls", "any-id", "kind", const="switch"),
        of("receiver", "failsafe", "intended_states", "any name", const="any state"),
        of("channels", 0, "function", const="x-smoke"),
        of("channels", 0, "side", enum=["left", 3]),
    ]
    for schema in sound:
        assert isinstance(rule_of({"document": schema}).id, str)


def test_two_rules_of_one_id() -> None:
    data = sheet({"document": True})
    data["rules"] *= 2
    where, message = problem(data)
    assert where == '"club/test"'
    assert "`rules` entry 2 (club/test): `id` is that of entry 1 too" in message


def test_all_errors_come_in_the_order_of_the_sheet() -> None:
    data = sheet({"document": {"minimum": "1", "then": 5}}, colour="red")
    data["rules"][0]["word"] = "peril"
    del data["rules"][0]["bench"]
    lines = [problem.line for problem in problems(data)]
    assert lines == sorted(lines, key=lambda line: line or 0)
    assert len(lines) == 5


NOT_JSON = [
    (b"", 1, 1),
    (b'{"format": "rule-sheet/1",}', 1, 26),
    (b'{"format": "a",\n "format": "b"}', 2, 2),
    (b'{"pack": NaN}', 1, 10),
    (b"[]", 1, 1),
    (b'{"a": "\xff"}', 1, 8),
    (b'{"a": "\\ud800"}', 1, 8),
]


@pytest.mark.parametrize(("data", "line", "column"), NOT_JSON)
def test_what_is_no_json_object(data: bytes, line: int, column: int) -> None:
    (found,) = problems(data)
    assert (found.line, found.column) == (line, column)


def test_x_keys_are_carried_along() -> None:
    data = sheet({"document": {"x-by": "A. Builder", "title": "a setup"}}, **{"x-note": 1})
    data["rules"][0]["x-owner"] = {"any": "thing"}
    data["rules"][0]["require"]["x-note"] = {"$ref": "nowhere"}
    assert isinstance(read("a.rules.json", json.dumps(data).encode()), Pack)


# --- the formats ----------------------------------------------------------------------------


def test_what_is_known_of_keys_names_keys_that_there_are() -> None:
    """Keys of which leaving out says something: each can be left out somewhere, and none has a
    default everywhere."""
    met: set[str] = set()
    waiting = [formats.setup()]
    while waiting:
        shape = waiting.pop()
        met |= {key for key, of in shape.keys.items() if of.default is formats.MISSING}
        waiting += [it for it in (*shape.keys.values(), shape.entry, shape.named) if it is not None]
    assert met >= formats._SAYS_ITSELF
    assert formats._INSTEAD.keys() | set().union(*formats._INSTEAD.values()) <= met
