"""Rules that crash, lie, hang or meddle: each is named, and all the others still run.

Interrupts: tests/inspect/test_inspector.py.  On the command line: tests/packs/test_loading.py.
"""

from __future__ import annotations

import re
import signal
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from itertools import count, repeat
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import pytest

from prebind import Configuration, Inspector
from prebind.inspect import engine
from prebind.inspect.engine import Bound, Ran, run
from prebind.rule import PASS, Cause, Fail, Fix, NotChecked, NotKnown, Open, Pass, Review, rule
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from prebind import Path


def a_rule(judge: Any, name: str = "bands/gap", each: Any = "setup") -> Any:
    made = rule(
        name,
        word="warning",
        title="Invented",
        each=each,
        safety="Careful.",
        remedy="Mend it.",
        bench="Look.",
        source="invented",
        examples=list,
    )
    return made(judge)


def path_of(document: dict[str, Any]) -> Path:
    report = Inspector(Configuration(families=("bands",))).inspect(document)
    assert report.path is not None
    return report.path


PATH = path_of(clean())


def beside_honest_ones(
    judge: Any, each: Any = "setup", *, foreign: bool = True, seconds: float = 10.0
) -> Ran:
    """What comes of this rule between two that find something."""
    bound = [
        Bound(a_rule(lambda *_: Fail("found"), "club/before"), {}, None, "a-club 1.0"),
        Bound(a_rule(judge, each=each), {}, None, "invented 1.0", seconds, foreign),
        Bound(a_rule(lambda *_: Fail("found"), "club/after"), {}, None, "a-club 1.0"),
    ]
    ran = run(bound, PATH, PATH.setup.data, "-")
    assert {"club/before", "club/after"} <= {found.rule for found in ran.findings}
    return ran


def named(ran: Ran) -> str:
    """The one problem, which names rule and pack with its version; the rule found nothing."""
    (problem,) = ran.problems
    assert (problem.rule, problem.pack) == ("bands/gap", "invented 1.0")
    assert [found.rule for found in ran.findings] == ["club/before", "club/after"]
    assert sum(ran.outcomes.values()) == 2
    return problem.message


# --- rules that crash ---


class Lying(Exception):
    def __str__(self) -> str:
        raise ValueError("even this")


class OfItsOwn(BaseException):
    """Not an `Exception`, so that it goes past whoever catches those."""


def raising(error: BaseException) -> Callable[..., Any]:
    def judge(*_: Any) -> Any:
        raise error

    return judge


def half_way(*_: Any) -> Iterator[Any]:
    yield Fail("the first half")
    raise LookupError


CRASHES = {
    "an error": raising(ZeroDivisionError("invented")),
    "an error that cannot be told": raising(Lying()),
    "an error with a long text": raising(ValueError("x" * 10**6)),
    "too deep": raising(RecursionError()),
    "out of memory": raising(MemoryError()),
    "a way out of the process": raising(SystemExit(0)),
    "an end of a generator": raising(GeneratorExit()),
    "an error past all guards": raising(OfItsOwn("invented")),
    "half way": half_way,
}


@pytest.mark.parametrize("crash", CRASHES)
def test_a_crash_is_named(crash: str) -> None:
    message = named(beside_honest_ones(CRASHES[crash]))
    assert message.startswith("the rule crashed and its result is missing (")
    assert len(message) < 300


# --- rules that answer nonsense ---


class Unhappy(Fail):
    """A pack may have its own kinds of answers, if they are what they derive from."""


NO_JSON: dict[str, Any] = {}
NO_JSON["itself"] = NO_JSON
LONE = "\ud83d"

LIES: dict[str, tuple[Any, str]] = {
    "nothing": (None, "NoneType"),
    "a number": (7, "int"),
    "a word": ("pass", "of the type str, which is no outcome"),
    "a list of nothing": ([None], "of the type NoneType, which is no outcome"),
    "a class": (Pass, "type"),
    "no text": (Fail(None), "its `message` is of the type NoneType, no text"),  # type: ignore[arg-type]
    "an empty text": (Fail("  "), "its `message` is empty"),
    "half a text": (Fail(LONE), "its `message` has half of a surrogate pair in it"),
    "a text that is bytes": (Fail(b"m"), "its `message` is of the type bytes, no text"),  # type: ignore[arg-type]
    "a review without a text": (Review(None), "its `message` is of the type NoneType"),  # type: ignore[arg-type]
    "an open one without a text": (Open(None), "its `message` is of the type NoneType"),  # type: ignore[arg-type]
    "no evidence": (Fail("m", evidence=None), "its `evidence` is of the type NoneType, no object"),  # type: ignore[arg-type]
    "a list as evidence": (Fail("m", evidence=[1]), "its `evidence` is of the type list"),  # type: ignore[arg-type]
    "evidence that is no JSON": (Fail("m", evidence={"a": {1}}), "its `evidence` is no plain JSON"),
    "evidence that is no number": (Fail("m", evidence={"a": float("nan")}), "is no plain JSON"),
    "evidence within itself": (Fail("m", evidence=NO_JSON), "its `evidence` is no plain JSON"),
    "half a text in evidence": (Fail("m", evidence={"a": LONE}), "its `evidence` is no plain JSON"),
    "a place that is no text": (Fail("m", at=7), "its `at` is of the type int, no text"),  # type: ignore[arg-type]
    "a place that is no pointer": (Fail("m", at="channels"), "'channels' is not a JSON Pointer"),
    "a pointer with a lone tilde": (Fail("m", at="/a~"), "'/a~' is not a JSON Pointer"),
    "a word that is none": (Fail("m", word="doom"), 'its `word` is "doom", none of danger'),  # type: ignore[arg-type]
    "advice that is no text": (Fail("m", remedy=7), "its `remedy` is of the type int"),  # type: ignore[arg-type]
    "a fix that is none": (Fail("m", fix={"op": "remove"}), "its `fix` is of the type dict"),  # type: ignore[arg-type]
    "a fix of another kind": (Fail("m", fix=Fix("maybe", ())), '`fix.applies` is "maybe"'),  # type: ignore[arg-type]
    "a fix without a patch": (Fail("m", fix=Fix("safe", None)), "its `fix.patch` is of the type"),  # type: ignore[arg-type]
    "a fix of nothing": (Fail("m", fix=Fix("safe", ({},))), "its `fix.patch.op` is of the type"),
    "a fix that is no JSON": (
        Fail("m", fix=Fix("safe", ({"op": "add", "path": "", "value": {1}},))),
        "its `fix.patch` is no plain JSON",
    ),
    "a cause that is none": (
        Fail("m", because="bands/gap"),
        'its `because` is "bands/gap", no Cause',
    ),  # type: ignore[arg-type]
    "a cause nowhere": (Fail("m", because=Cause("a/b", "c")), "its `because.at`: 'c' is not"),
    "keys in one text": (Open("m", settles="/a"), 'its `settles` is "/a", no list'),  # type: ignore[arg-type]
    "keys that are none": (Open("m", settles=("a",)), "its `settles`: 'a' is not a JSON Pointer"),
    "a bench check that is none": (Open("m", bench=7), "its `bench` is of the type int"),  # type: ignore[arg-type]
}


@pytest.mark.parametrize("lie", LIES)
def test_nonsense_is_named(lie: str) -> None:
    answer, says = LIES[lie]
    assert says in named(beside_honest_ones(lambda *_: answer))
    assert named(beside_honest_ones(lambda *_: [PASS, Fail("m"), answer]))


@pytest.mark.parametrize(
    ("each", "says"),
    [
        (lambda _: [1, 2], "'int' object has no attribute 'at'"),
        (lambda _: None, "'NoneType' object is not iterable"),
        (raising(RuntimeError("invented")), "RuntimeError: invented"),
        (lambda _: repeat(PATH), "it wants to judge more than 100,000 places"),
    ],
)
def test_places_that_are_none_are_named(each: Any, says: str) -> None:
    assert says in named(beside_honest_ones(lambda *_: PASS, each))


def test_more_findings_than_anybody_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "MOST", 50)
    places = lambda _: [PATH] * 6  # noqa: E731
    ten = beside_honest_ones(lambda *_: [Fail("m")] * 10, places)
    assert "it has more than 50 findings" in named(ten)
    endless = beside_honest_ones(lambda *_: (Fail("m") for _ in count()))
    assert "it has more than 50 findings" in named(endless)
    assert not beside_honest_ones(lambda *_: [Fail("m")] * 50).problems


@pytest.mark.parametrize(
    "answer",
    [
        Unhappy("m"),
        Fail("m", evidence=MappingProxyType({"a": (1, None, [True])})),
        Fail("m", at="/channels/1/reversed"),  # a key that is left out
        Fail("m", at="/channels/-"),
        Fail("m", at="/sign_offs/range"),
        Fail("m", at="/x-mine/anything"),
        Fail("m", at="/transmitter/controls/none-yet"),
        Open("m", settles=["/servos/0/volts"]),  # type: ignore[arg-type]
    ],
    ids=repr,
)
def test_what_only_looks_odd_is_taken(answer: Any) -> None:
    ran = beside_honest_ones(lambda *_: answer)
    assert ran.problems == []
    assert "bands/gap" in {found.rule for found in ran.findings}


@pytest.mark.parametrize(
    ("at", "lifted"),
    [
        ("/channels/99/nothing", "/channels"),
        ("/chanels/0", ""),
        ("/channels/0/revversed", "/channels/0"),
        ("/model/name/first", "/model/name"),
        ("/model/7", "/model"),
    ],
)
def test_a_pointer_that_points_nowhere_is_lifted_and_named(at: str, lifted: str) -> None:
    """What was found is told at the nearest place that exists, so that it is not lost."""
    judge = lambda *_: [Fail("one", at=at), Fail("two", at="/model"), Fail("three", at=at)]  # noqa: E731
    ran = beside_honest_ones(judge)
    assert {(f.message, f.at) for f in ran.findings if f.rule == "bands/gap"} == {
        ("one", lifted),
        ("two", "/model"),
        ("three", lifted),
    }
    (problem,) = ran.problems
    assert (problem.rule, problem.pack) == ("bands/gap", "invented 1.0")
    told = lifted or "the top of the document"
    assert f"points at {at}, which there cannot be; what it found is told at {told}" in (
        problem.message
    )


def test_a_fix_that_does_not_fit_is_no_crash() -> None:
    nowhere = Fix("decide", ({"op": "remove", "path": "/nowhere"},))
    ran = beside_honest_ones(lambda *_: Fail("m", fix=nowhere))
    assert not ran.problems
    assert "bands/gap" in {found.rule for found in ran.findings}


def test_what_a_rule_says_before_a_fact_is_missing_counts() -> None:
    def judge(*_: Any) -> Iterator[Any]:
        yield Fail("seen")
        raise NotKnown("not written down", ("/servos",))

    ran = beside_honest_ones(judge)
    its = [(f.kind, f.message) for f in ran.findings if f.rule == "bands/gap"]
    assert its == [("fail", "seen"), ("open", "not written down")]
    assert not ran.problems


@pytest.mark.parametrize("reason", [NotKnown("m"), NotChecked("m", ("a",), 9)])
def test_places_that_are_not_known_are_open(reason: Exception) -> None:
    ran = beside_honest_ones(lambda *_: PASS, raising(reason))
    assert [f.kind for f in ran.findings if f.rule == "bands/gap"] == ["open"]
    assert not ran.problems


def test_evidence_that_changes_later_is_kept_as_it_was() -> None:
    def judge(*_: Any) -> Iterator[Any]:
        evidence: dict[str, Any] = {}
        for number in (1, 2):
            evidence["number"] = number
            yield Fail(f"number {number}", evidence=evidence)

    said = {f.message: f.evidence for f in beside_honest_ones(judge).findings}
    assert said["number 1"] == {"number": 1}


# --- rules that hang ---


def round_and_round(*_: Any) -> Any:
    while True:
        pass


def asleep(*_: Any) -> Any:
    time.sleep(60)


def dozing(*_: Any) -> Any:
    while True:
        time.sleep(0.01)


def a_pattern_that_explodes(*_: Any) -> Any:
    return re.match(r"(a+)+$", "a" * 60 + "b")


def passing_for_ever(*_: Any) -> Any:
    return repeat(PASS)


def swallowing_once(*_: Any) -> Any:
    try:
        round_and_round()
    except BaseException:
        round_and_round()


def swallowing(*_: Any) -> Any:
    for _ in count():
        try:
            time.sleep(0.001)
        except BaseException:
            continue


def swallowing_all(*_: Any) -> Any:
    while True:
        try:
            swallowing()
        except BaseException:
            continue


def that_cannot_be_told(*_: Any) -> Any:
    class Slow(Exception):
        __str__ = round_and_round

    raise Slow


HANGS = [
    round_and_round,
    dozing,
    passing_for_ever,
    swallowing_once,
    that_cannot_be_told,
]
ONLY_IN_THE_MAIN_THREAD = [asleep, a_pattern_that_explodes, swallowing, swallowing_all]


def stopped(judge: Any) -> str:
    started = time.perf_counter()
    message = named(beside_honest_ones(judge, seconds=0.2))
    assert 0.2 <= time.perf_counter() - started < 20  # others may be busy on the machine
    return message


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="needs a timer of the system")
@pytest.mark.parametrize("hang", [*HANGS, *ONLY_IN_THE_MAIN_THREAD])
def test_a_rule_that_hangs_is_stopped(hang: Any) -> None:
    assert "was stopped after 0.2 s, and its result is missing" in stopped(hang)
    assert signal.getsignal(signal.SIGALRM) is signal.SIG_DFL
    assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)


def test_rules_that_hang_are_stopped_in_threads_too() -> None:
    with ThreadPoolExecutor(len(HANGS)) as pool:
        said = list(pool.map(stopped, HANGS))
    assert len(said) == len(HANGS)
    assert set(said) == {"the rule was stopped after 0.2 s, and its result is missing"}
    assert "prebind watch" not in {thread.name for thread in threading.enumerate()}


def test_a_wait_in_a_thread_ends_first() -> None:
    """It is not interrupted; once it is over the rule is stopped, and named."""
    with ThreadPoolExecutor(1) as pool:
        started = time.perf_counter()
        ran = pool.submit(beside_honest_ones, lambda *_: time.sleep(0.6), seconds=0.1).result()
    assert "stopped after 0.1 s" in named(ran)
    assert time.perf_counter() - started >= 0.6


def test_a_timer_of_somebody_else_is_left_alone() -> None:
    """Then a thread watches, as it does outside of the main thread."""

    def mine(*_: Any) -> None:
        pass

    before = signal.signal(signal.SIGALRM, mine)
    try:
        signal.setitimer(signal.ITIMER_REAL, 300)
        assert "stopped after 0.2 s" in stopped(round_and_round)
        assert signal.getsignal(signal.SIGALRM) is mine
        assert 200 < signal.getitimer(signal.ITIMER_REAL)[0] < 300
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize("seconds", [1e-300, 1e300, float("inf")])
def test_any_number_of_seconds(seconds: float) -> None:
    """None is too short for the timer, which takes 0 for never, and none too long."""
    judge = round_and_round if seconds < 1 else lambda *_: PASS
    assert bool(beside_honest_ones(judge, seconds=seconds).problems) == (seconds < 1)


def test_a_rule_of_ones_own_that_takes_long_is_not_stopped() -> None:
    """It is told; prebind's own rules, and sheets, are bounded otherwise."""
    ran = beside_honest_ones(lambda *_: time.sleep(0.1) or PASS, foreign=False, seconds=0.05)
    assert "the rule took 0.1 s over this document, longer than 0.05 s" in ran.problems[0].message
    assert ran.outcomes["pass"] == 1


def test_who_is_stopped_and_who_is_not() -> None:
    """Nothing is set up for prebind's own."""
    assert not any(bound.foreign for bound in Inspector()._bound)


# --- rules that meddle ---


def test_a_document_that_a_rule_changes_is_as_before() -> None:
    def judge(_: Any, path: Path, __: Any) -> Any:
        path.setup.data["channels"].clear()
        path.setup.data["x-mine"] = {"a": 1}
        return Fail("m", at="/model")

    before = clean()
    assert PATH.setup.data == before
    ran = beside_honest_ones(judge)
    assert PATH.setup.data == before
    (problem,) = ran.problems
    assert (problem.rule, problem.pack) == ("bands/gap", "invented 1.0")
    assert "changed the document that it was to judge; that was taken back" in problem.message


def given() -> list[Any]:
    """What a rule is handed, or can ask what it is handed for."""
    facts = [PATH, PATH.channels[0], PATH.ports[0], PATH.selectors[0]]
    return [PATH.setup, PATH.setup.channels[0], PATH.setup.receiver, *facts]


KINDS = ["Setup", "Channel", "Receiver", "Path", "ChannelPath", "PortPath", "SelectorPath"]


@pytest.mark.parametrize("kind", KINDS)
def test_what_a_rule_is_given_cannot_be_changed(kind: str) -> None:
    thing = next(it for it in given() if type(it).__name__ == kind)
    with pytest.raises(AttributeError):
        thing.number = 99


def test_tables_and_lists_that_a_rule_is_given_cannot_be_changed() -> None:
    """All of the setup: tests/document/test_structure.py."""
    lists = ("channels", "servos", "surfaces", "overrides", "speed_controls")
    assert {type(getattr(PATH.setup, name)) for name in lists} == {tuple}

    def judge(_: Any, path: Path, __: Any) -> Any:
        path.setup.transmitter.controls.clear()  # type: ignore[attr-defined]

    (problem,) = beside_honest_ones(judge).problems
    assert "what a setup says cannot be changed" in problem.message


def test_settings_that_a_rule_is_given_cannot_be_changed() -> None:
    """The same table is handed out for every document."""
    inspector = Inspector()
    for bound in inspector._bound:
        table: Any = bound.settings
        with pytest.raises(TypeError):
            table["margin_us"] = 2
        for name, default in inspector.rules[bound.rule.id].defaults().items():
            assert table[name] == default
            assert table[name] is not default or not isinstance(default, list)
