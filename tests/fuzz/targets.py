"""What is fuzzed, and what must hold of each, whatever the bytes.

A target raises Breach, or whatever the code under test raises, where something does not hold.
"""

from __future__ import annotations

import json
import re
import tempfile
from contextlib import contextmanager
from functools import cache
from io import StringIO
from pathlib import Path
from time import process_time
from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import evolve
from tests.fuzz import corpus, reports
from tests.fuzz.mutation import Mutator, toml_dumped, toml_loaded

from prebind import Configuration, Inspector, Problem, Report
from prebind.document import Place, Source
from prebind.document.parse import MAX_DEPTH, MAX_NUMBER, Unreadable, parse
from prebind.format import Sheet
from prebind.inspect import baseline, mending
from prebind.inspect.comparing import compare
from prebind.inspect.nearest import Nearest, Under
from prebind.path.plain import trace_json
from prebind.report.card import card
from prebind.report.card.html import card_html
from prebind.report.card.markdown import card_markdown
from prebind.report.card.text import card_text
from prebind.report.comparison_json import comparison_json
from prebind.report.comparison_markdown import comparison_markdown
from prebind.report.comparison_text import comparison_text
from prebind.report.inspection_json import dumps, relative
from prebind.report.mend_text import mend_text
from prebind.report.settings_text import in_force
from prebind.report.trace_text import trace_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

DOCUMENT_SECONDS = 2.0
"""Of the processor, for one document: to inspect it, or to write one report."""

TODAY = "2027-01-15"


class Breach(Exception):
    """Something that must hold does not; `kind` tells two of them apart."""

    def __init__(self, kind: str, more: str = "") -> None:
        super().__init__(f"{kind}: {more}" if more else kind)
        self.kind = kind


slowest: dict[str, float] = {}
"""The most seconds that each step took."""

heaviest: dict[str, tuple[float, bytes]] = {}
"""By rule: the most seconds that it took, and for which document: a long run goes on from those."""


@contextmanager
def within(what: str, seconds: float, detail: Callable[[], str] = lambda: "") -> Iterator[None]:
    started = process_time()
    yield
    took = process_time() - started
    slowest[what] = max(took, slowest.get(what, 0.0))
    if took > seconds:
        raise Breach(f"slow {what} {detail()}".rstrip(), f"{took:.1f} s")


@cache
def inspector() -> Inspector:
    return Inspector(Configuration(today=TODAY))


class Target(NamedTuple):
    """`run` takes one input; `mutator` makes more of the `seeds`."""

    seeds: Callable[[], Sequence[bytes]]
    run: Callable[[bytes], object]
    mutator: Callable[[], Mutator]


# --- the reader -----------------------------------------------------------------------------


def reader(data: bytes) -> None:
    """It accepts what the standard library's parser accepts within our limits, and finds places."""
    said = _unreadable(data)
    value, why_not = _strictly(data)
    if said is None and why_not:
        raise Breach("reader accepts what it should not", why_not)
    if said is not None and not why_not:
        raise Breach("reader refuses what it should accept", said.message)
    if said is not None:
        _Lines(data).inside(said.line, said.column, "unreadable")
        return
    if not _same(parse(data), value):
        raise Breach("reader reads another value")
    source, lines = Source("-", data), _Lines(data)
    for tokens, inner in _some(value):
        if not _same(lines.value(source.place(tokens), "value"), inner):
            raise Breach("place of a value", str(tokens))


def _unreadable(data: bytes) -> Unreadable | None:
    try:
        parse(data)
    except Unreadable as error:
        return error
    return None


def _strictly(data: bytes) -> tuple[Any, str]:
    """The value by the standard library, or why it is none that we read."""

    def pairs(found: list[tuple[str, Any]]) -> dict[str, Any]:
        if len(dict(found)) < len(found):
            raise ValueError("a key stands there twice")
        return dict(found)

    def number(text: str) -> Any:
        if len(text) > MAX_NUMBER or float(text) in (float("inf"), float("-inf")):
            raise ValueError("a number is too long or too large")
        return json.loads(text)

    def constant(text: str) -> Any:
        raise ValueError(f"{text} is no JSON")

    try:
        text = data.removeprefix(b"\xef\xbb\xbf").decode()
        value = json.loads(
            text,
            object_pairs_hook=pairs,
            parse_float=number,
            parse_int=number,
            parse_constant=constant,
        )
        if _depth(value) > MAX_DEPTH:
            return None, "it is too deep"
        json.dumps(value, ensure_ascii=False).encode()
    except RecursionError:
        return None, "it is too deep"
    except ValueError as error:
        return None, str(error)
    return value, ""


def _depth(value: Any) -> int:
    inner = (
        value.values() if isinstance(value, dict) else value if isinstance(value, list) else None
    )
    return 0 if inner is None else 1 + max(map(_depth, inner), default=0)


def _same(one: Any, other: Any) -> bool:
    return json.dumps(one, sort_keys=False) == json.dumps(other, sort_keys=False)


def _some(value: Any, tokens: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Values and their places; of many beside each other the first and last ones."""
    yield tokens, value
    if isinstance(value, dict | list):
        items = list(value.items() if isinstance(value, dict) else enumerate(value))
        for key, inner in items if len(items) < 12 else [*items[:6], *items[-6:]]:
            yield from _some(inner, (*tokens, str(key)))


# --- places ---------------------------------------------------------------------------------


class _Lines:
    """Lines of a text, split apart from the code under test."""

    def __init__(self, data: bytes) -> None:
        self._text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace")
        ends = list(re.finditer(r"\r\n|\n|\r", self._text))
        self._starts = [0, *(end.end() for end in ends)]
        self._ends = [*(end.start() for end in ends), len(self._text)]

    def inside(self, line: int | None, column: int | None, what: str) -> None:
        if line is None or column is None:
            raise Breach(f"no place: {what}")
        if not (1 <= line <= len(self._starts) and 1 <= column <= self._length(line) + 1):
            raise Breach(f"place outside the file: {what}", f"{line}:{column}")

    def _length(self, line: int) -> int:
        return self._ends[line - 1] - self._starts[line - 1]

    def value(self, place: Place, what: str) -> Any:
        """The JSON value that stands there."""
        self.inside(place.line, place.column, what)
        self.inside(place.end_line, place.end_column, what)
        start = self._starts[place.line - 1] + place.column - 1
        end = self._starts[place.end_line - 1] + place.end_column - 1
        return json.loads(self._text[start:end])


def _at(value: Any, pointer: str) -> Any:
    for token in pointer.split("/")[1:]:
        name = token.replace("~1", "/").replace("~0", "~")
        value = value[int(name)] if isinstance(value, list) else value[name]
    return value


def _findings_stand_somewhere(report: Report) -> None:
    assert report.document is not None
    files = {source.name: _Lines(source.data) for source in report.document.sources}
    for found in report.findings:
        place = report.place(found)
        if place is None or place.file not in files:
            raise Breach(f"place of {found.rule}", f"{place}")
        there = files[place.file].value(place, found.rule)
        if len(files) == 1 and not _same(there, _at(report.document.data, found.at)):
            raise Breach(f"place of {found.rule}", f"{found.at} is not what stands there")


def _problems_stand_somewhere(problems: Sequence[Problem], files: dict[str, bytes]) -> None:
    for problem in problems:
        if problem.rule is not None:
            last = (problem.traceback or "").strip().splitlines()[-3:]
            raise Breach(f"rule {problem.rule} {_kind_of(problem.message)}", " / ".join(last))
        if problem.path not in files:
            raise Breach("problem of an unknown file", problem.path)
        if not problem.message or not problem.message.isprintable():
            raise Breach("message of a problem", problem.message)
        if len(problem.message) > 2000:
            raise Breach("message of a problem is long", problem.message[:200])
        _Lines(files[problem.path]).inside(problem.line, problem.column, problem.message[:40])


def _kind_of(message: str) -> str:
    return re.sub(r"[\d.]+", "N", message)[:60]


# --- documents ------------------------------------------------------------------------------


def inspection(data: bytes) -> Report:
    """Bytes to a report."""
    report = _inspected(data)
    if report.path is not None:
        with within("trace", DOCUMENT_SECONDS):
            trace = trace_json(report.path, "-")
        reports.strict_json(dumps(trace))
    return report


def document(data: bytes) -> None:
    """Bytes to a report in every format, the trace and the card."""
    report = inspection(data)
    told(report)
    if report.path is not None:
        with within("trace", DOCUMENT_SECONDS):
            text = "".join(trace_text(report.path, trace_json(report.path, "-"), "-", 80))
        reports.plain(text)
        _card(report)


def _inspected(data: bytes, by: Inspector | None = None) -> Report:
    found: list[Report] = []
    with within("inspection", DOCUMENT_SECONDS, lambda: _slowest_rule(found[0])):
        found.append((by or inspector()).inspect(data, path="a.setup.json"))
    report = found[0]
    for rule, took in report.seconds.items():
        if DOCUMENT_SECONDS > took > heaviest.get(rule, (0.0, b""))[0]:
            heaviest[rule] = (took, data)
    _problems_stand_somewhere(report.problems, {"a.setup.json": data})
    if report.document is not None:
        _findings_stand_somewhere(report)
    elif not report.problems:
        raise Breach("neither a document nor a problem")
    return report


def _slowest_rule(report: Report) -> str:
    return max(report.seconds, key=lambda rule: report.seconds[rule], default="while reading")


def told(report: Report, by: Inspector | None = None) -> None:
    for name in (by or inspector()).formats:
        for width in (100, 30) if name == "text" else (100,):
            with within(f"format {name}", DOCUMENT_SECONDS):
                text = reports.written(name, by or inspector(), [report], width)
            try:
                reports.check(name, text)
            except Exception as error:
                raise Breach(f"format {name} {type(error).__name__}", str(error)[:300]) from error


def _card(report: Report) -> None:
    with within("card", DOCUMENT_SECONDS):
        made = card(report)
        page, text = "".join(card_html(made)), "".join(card_text(made, Sheet(StringIO())))
        markdown = "".join(card_markdown(made))
    try:
        reports.page(page)
        reports.plain(text + markdown)
    except Exception as error:
        raise Breach(f"card {type(error).__name__}", str(error)[:300]) from error


# --- comparing -------------------------------------------------------------------------------


def comparison(data: bytes) -> None:
    """Two documents, one after the other, compared in every format."""
    one, _, other = data.partition(corpus.BETWEEN)
    old, new = inspector().inspect(one), inspector().inspect(other)
    if old.document is None or new.document is None:
        return
    with within("comparison", DOCUMENT_SECONDS):
        found = compare(old, new, inspector())
    plain = comparison_json(found, [], relative)
    reports.check("comparison", dumps(plain))
    reports.plain("".join(comparison_text(found, relative, Sheet(StringIO(), 80))))
    reports.plain("".join(comparison_markdown(found, relative)))


# --- mending --------------------------------------------------------------------------------

MEND_SECONDS = 20.0


def mend(data: bytes) -> None:
    """Every fix on offer laid in: the text stays a sound document, and a second run rests."""
    report = _inspected(data)
    if report.document is None or not any(found.fix for found in report.findings):
        return
    with within("mending", MEND_SECONDS):
        done = mending.mended(inspector(), report, None, lambda _: True)
    text = "".join(mend_text(report, done, Sheet(StringIO(), 80)))
    reports.plain(text.replace("\t", " "))
    after = _inspected(done.text.encode())
    if after.document is None:
        raise Breach("mended into a broken document", after.problems[0].message)
    if bool(done.done) != (done.text.encode() != data):
        raise Breach("mended without a change, or changed without mending")
    again = mending.mended(inspector(), after, None, lambda _: True)
    if again.done or again.text != done.text:
        raise Breach(f"mended twice {again.done[0].rule if again.done else ''}")


# --- shared parts ---------------------------------------------------------------------------


@cache
def _folder(name: str) -> Path:
    """A folder for this run alone, which goes with it."""
    holder = tempfile.TemporaryDirectory(prefix=f"prebind-fuzz-{name}-")
    _holders.append(holder)
    return Path(holder.name)


_holders: list[Any] = []


def folder(data: bytes) -> None:
    """A document whose sections come from files beside it."""
    main, *parts = data.split(corpus.BETWEEN)
    root = _folder("parts")
    file = root / "a.setup.json"
    files = {file.as_posix(): main}
    file.write_bytes(main)
    for name, text in zip(corpus.PARTS, [*parts, b"", b"", b""], strict=False):
        (root / f"{name}.json").write_bytes(text)
        files[(root / f"{name}.json").as_posix()] = text
    with within("inspection", DOCUMENT_SECONDS):
        report = inspector().inspect_file(file, root)
    _problems_stand_somewhere(report.problems, files)
    if report.document is not None:
        _findings_stand_somewhere(report)
    told(report)


# --- settings, sheets, earlier reports --------------------------------------------------------


@cache
def _judged() -> tuple[bytes, ...]:
    return corpus.judged()


def settings(data: bytes) -> None:
    """A settings file beside a document."""
    root = _folder("settings")
    (root / "club.rules.json").write_bytes(corpus.sheets()[0])
    (root / "prebind.toml").write_bytes(data)
    with within("settings", DOCUMENT_SECONDS):
        found = Nearest(inspector()).of((root / "a.setup.json").as_posix())
    if not isinstance(found, Under):
        lines = data.decode("utf-8", "replace").replace("\r\n", "\n").split("\n")
        for problem in found:
            if not problem.message:
                raise Breach("settings: a problem without a message")
            if problem.line is not None and not (
                problem.path.endswith("rules.json") or 1 <= problem.line <= len(lines)
            ):
                raise Breach("settings: place outside the file", str(problem))
        told(Report("prebind.toml", None, problems=tuple(found)))
        return
    reports.plain("".join(in_force(found.inspector, found.settings, {})))
    for text in _judged():
        report = found.inspector.inspect(text, path=(root / "a.setup.json").as_posix())
        for problem in report.problems:
            if "longer than" not in problem.message and "took" not in problem.message:
                raise Breach(f"settings: rule {problem.rule}", problem.message)
        told(evolve(report, settings=found.settings))


def sheet(data: bytes) -> None:
    """A rule sheet, and its rules laid against documents."""
    from prebind.packs import Pack
    from prebind.packs.sheet import read

    with within("sheet", DOCUMENT_SECONDS):
        found = read("club.rules.json", data)
    if not isinstance(found, Pack):
        _problems_stand_somewhere(found, {"club.rules.json": data})
        return
    file = _folder("sheet") / "club.rules.json"
    file.write_bytes(data)
    families = tuple({rule.family for rule in found.rules})
    by = inspector().configured(
        Configuration(today=TODAY, packs=(file.as_posix(),), families=families), strict=False
    )
    for text in _judged():
        with within("sheet's rules", DOCUMENT_SECONDS):
            report = by.inspect(text, path="a.setup.json")
        own = [p for p in report.problems if p.rule in {rule.id for rule in found.rules}]
        if own:
            last = (own[0].traceback or "").strip().splitlines()[-3:]
            raise Breach(f"sheet's rule crashed {_kind_of(own[0].message)}", " / ".join(last))
        told(report, by)


@cache
def _reports() -> tuple[Report, ...]:
    return tuple(
        inspector().inspect(data, path=f"{i}.setup.json") for i, data in enumerate(_judged())
    )


def since(data: bytes) -> None:
    """An earlier report, against which findings are new, unchanged or gone."""
    file = _folder("since") / "earlier.json"
    file.write_bytes(data)
    with within("earlier report", DOCUMENT_SECONDS):
        found = baseline.read(file.as_posix())
    if isinstance(found, Problem):
        _problems_stand_somewhere([found], {file.as_posix(): data})
        return
    for report in _reports():
        told(found.compared(report, relative))


# --- wishes -----------------------------------------------------------------------------------

PLAN_SECONDS = 30.0


def wishes(data: bytes) -> None:
    """Wishes that are sound are planned for; the others are told."""
    from prebind.plan import Asked, plan, read
    from prebind.plan.plain import plan_json
    from prebind.report.plan_text import contradiction_lines, plan_text

    root = corpus.EXAMPLES
    path = (root / "plan" / "a.wishes.json").as_posix()
    with within("wishes", DOCUMENT_SECONDS):
        found = read(data, path=path, root=root)
    if not isinstance(found, Asked):
        _problems_stand_somewhere([p for p in found if p.path == path], {path: data})
        return
    with within("plan", PLAN_SECONDS):
        made = plan_json(plan(found), "a.wishes.json")
    reports.strict_json(dumps(made))
    reports.plain("".join([*plan_text(made, 80), *contradiction_lines(made)]))


# --- all of them ------------------------------------------------------------------------------


class _InOnePart(Mutator):
    """Changes one of several files."""

    def mutated(self, data: bytes, random: Any) -> bytes:
        files = data.split(corpus.BETWEEN)
        which = random.randrange(len(files))
        files[which] = super().mutated(files[which], random)
        return corpus.BETWEEN.join(files)


def _of(seeds: Callable[[], Sequence[bytes]], **more: Any) -> Callable[[], Mutator]:
    return lambda: Mutator(seeds(), **more)


def _documents() -> tuple[bytes, ...]:
    return (*corpus.setups(), *corpus.broken())


TARGETS: dict[str, Target] = {
    "reader": Target(_documents, reader, _of(_documents)),
    "inspection": Target(_documents, inspection, _of(_documents)),
    "document": Target(_documents, document, _of(_documents)),
    "waivers": Target(corpus.waived, document, _of(corpus.waived, below="waivers")),
    "comparison": Target(corpus.pairs, comparison, lambda: _InOnePart(corpus.setups())),
    "mend": Target(_documents, mend, _of(_documents)),
    "folder": Target(corpus.folders, folder, lambda: _InOnePart(corpus.setups())),
    "settings": Target(
        corpus.settings,
        settings,
        _of(corpus.settings, schema="settings", load=toml_loaded, dump=toml_dumped),
    ),
    "sheet": Target(corpus.sheets, sheet, _of(corpus.sheets, schema="sheet")),
    "since": Target(corpus.earlier, since, _of(corpus.earlier, schema="inspection")),
    "wishes": Target(corpus.wishes, wishes, _of(corpus.wishes, schema="wishes")),
}
