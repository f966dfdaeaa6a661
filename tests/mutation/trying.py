"""Laying tests against one mutant, in a process of its own that is forked from a warm one.

The warm process has imported and collected everything.  A first child runs all of it without a
mutant, which must be green, and notes which test calls which function.  Each further child gets one
mutant laid in and runs what calls the changed function, until something notices.
"""

from __future__ import annotations

import ast
import gc
import json
import os
import resource
import sys
from contextlib import chdir
from itertools import accumulate
from math import inf
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest
from tests.benchmarks import corpus
from tests.benchmarks.generate import write
from tests.mutation.laying import functions, lay
from tests.mutation.mutants import change, function_at

from prebind.document import Document, read
from prebind.inspect.engine import Bound, run
from prebind.path import Path as SignalPath
from prebind.testing.trial import told

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from types import FrameType

    from tests.mutation.mutants import Mutant

    from prebind.rule import Rule

ROOT = Path(__file__).parent.parent.parent
RULES = ROOT / "rules" / "prebind_rules"
MEMORY = 3 << 30  # bytes: a mutant that fills the memory does not go unnoticed

ENOUGH = 25.0  # seconds of the processor, as far as calls are noted with that

LEFT_OUT = ("test_conformance", "test_an_ordinary_model_fits_one_sheet")
"""These run in another process, where the mutant is not, or ask what holds for any."""


class Tried(NamedTuple):
    """What came of a mutant: `killed`, `timed out`, `survived`, `no Python` or `not laid`."""

    mutant: Mutant
    what: str
    by: str = ""
    was: str = ""
    now: str = ""
    seconds: float = 0.0


class Calls:
    """Which functions of a folder are called, as (file, name, first line)."""

    def __init__(self, home: Path) -> None:
        self._home = f"{home}{os.sep}"
        self.seen: set[tuple[str, str, int]] = set()

    def __call__(self, frame: FrameType, _event: str, _arg: object) -> None:
        code = frame.f_code
        if code.co_filename.startswith(self._home):
            self.seen.add((code.co_filename, code.co_qualname, code.co_firstlineno))


class Corpus:
    """The generated documents, read once, and what rules say of them.

    A report is another one than the kept one exactly if this is.
    """

    def __init__(self) -> None:
        with TemporaryDirectory() as folder, chdir(folder):
            write(Path(folder), corpus.COUNT, corpus.SEED)
            paths = sorted(Path().rglob("*.setup.json"))
            found = [read(path.read_bytes(), path=str(path), root=path.parent) for path in paths]
        self.documents = [it for it in found if isinstance(it, Document)]
        self.rules: dict[str, Rule] = {it.id: it for it in corpus.inspector().rules.values()}

    def fresh(self) -> Iterator[SignalPath]:
        return (SignalPath(it.setup) for it in self.documents)

    def told(self, rules: Iterable[str], paths: Iterable[SignalPath]) -> Iterator[list[str]]:
        """What the rules say of each document, in turn."""
        bound = [Bound(self.rules[it], self.rules[it].defaults(), None, "") for it in rules]
        for document, path in zip(self.documents, paths, strict=True):
            yield told(run(bound, path, document.data, "-", today=corpus.TODAY))


class Trying:
    """A pytest plugin that, instead of running the tests, tries mutants of a folder with them."""

    def __init__(self, home: Path, mutants: list[Mutant], heard: Callable[[Tried], None]) -> None:
        self._home = home
        self._of_rules = home == RULES
        self._mutants = mutants
        self._heard = heard
        self._failed = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self._failed = report.nodeid

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [it for it in items if not any(name in it.nodeid for name in LEFT_OUT)]

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            raise pytest.UsageError("the tests cannot be collected")
        self._items = session.items
        self._corpus = Corpus()
        self._imports = _imports()
        if self._of_rules:  # the facts are worked out once: no mutant of a rule changes them
            self._paths = list(self._corpus.fresh())
            self._kept = {it: self._said([it]) for it in self._corpus.rules}
        else:
            self._kept = {"": self._said(self._corpus.rules)}
        self._functions = functions()
        gc.collect()
        gc.freeze()
        found = self._forked(self._green)
        if len(found) == 1 or isinstance(found[0], str):
            raise pytest.UsageError(f"not green without a mutant: {found}")
        self._seconds, self._callers = found
        for mutant in self._mutants:
            self._heard(self._tried(mutant))
        return True

    def _said(self, rules: Iterable[str]) -> list[list[str]]:
        return list(self._corpus.told(rules, self._paths_now()))

    def _paths_now(self) -> Iterable[SignalPath]:
        return self._paths if self._of_rules else self._corpus.fresh()

    def _green(self) -> Any:
        """Seconds of each test and which tests call a function, or what fails without a mutant."""
        seconds: list[float] = []
        callers: dict[str, list[int]] = {}
        for index, item in enumerate(self._items):
            calls, started = Calls(self._home), process_time()
            if not _tries(item):
                sys.settrace(calls)  # type: ignore[arg-type]
            try:
                failed = self._run(item, inf)
            finally:
                sys.settrace(None)
            if failed:
                return [failed]
            seconds.append(process_time() - started)
            for called in calls.seen:
                for key in (_key(*called), called[0]):
                    callers.setdefault(key, []).append(index)
        return seconds, callers

    def _tried(self, mutant: Mutant) -> Tried:
        items = self._for(mutant)

        def inside() -> Any:
            text = mutant.text()
            try:
                changed = change(mutant.file.read_text(encoding="utf-8"), text)
                lay(mutant, text, self._functions)
            except SyntaxError:
                return ("no Python",)
            except (LookupError, ValueError) as error:
                return ("not laid", str(error), *changed)
            except Exception as error:  # whoever imports the module notices
                return ("killed", f"import: {error!r}", *changed)
            by = next((by for by in self._steps(mutant, items) if by), "")
            return ("killed" if by else "survived", by, *changed)

        before = os.times().children_user
        found = self._forked(inside)
        return Tried(mutant, *found)._replace(seconds=os.times().children_user - before)

    def _for(self, mutant: Mutant) -> list[int]:
        """The tests that call the changed function, or the file, cheapest first.

        No more than take `ENOUGH` together, though a test beyond may notice.
        """
        where = function_at(mutant.file, mutant.place)
        key = _key(str(mutant.file), *where) if where else str(mutant.file)
        trying = {i for i, item in enumerate(self._items) if _tries(item)}
        callers = sorted(trying.union(self._callers.get(key, ())), key=self._seconds.__getitem__)
        if self._of_rules:  # what is not run takes no time either
            concerned = affected(mutant.file, self._imports)
            families = _families(concerned)
            callers = [
                it
                for it in callers
                if self._rule(it) in concerned
                or (self._rule(it) is None and self._is_of(it, families))
            ]
        whole = accumulate(self._seconds[it] for it in callers)
        return [it for it, seconds in zip(callers, whole, strict=True) if seconds < ENOUGH]

    def _steps(self, mutant: Mutant, items: list[int]) -> Iterator[str]:
        """What notices, or an empty text, step by step."""
        if self._of_rules:
            concerned = affected(mutant.file, self._imports)
            yield from self._tests(it for it in items if self._rule(it) in concerned)
            for rule in sorted(concerned):
                yield from self._differs(rule, [rule])
            yield from self._tests(it for it in items if self._rule(it) is None)
        else:
            yield from self._differs("", self._corpus.rules)
            yield from self._tests(items)

    def _differs(self, key: str, rules: Iterable[str]) -> Iterator[str]:
        found = self._corpus.told(rules, self._paths_now())
        for kept in self._kept[key]:
            _allow(5.0)
            yield "corpus" if kept != next(found) else ""

    def _is_of(self, index: int, families: set[str]) -> bool:
        """Whether a test is one of these families' or of the whole fleet."""
        path = self._items[index].path
        return path.name in families or path.parent.name == "tests"

    def _rule(self, index: int) -> str | None:
        """The rule of whose examples a test is one."""
        params = getattr(self._items[index], "callspec", None)
        return getattr(params.params.get("rule"), "id", None) if params is not None else None

    def _tests(self, indices: Iterable[int]) -> Iterator[str]:
        for index in indices:
            yield self._run(self._items[index], self._seconds[index])

    def _run(self, item: pytest.Item, seconds: float) -> str:
        """The test if it fails, or an empty text."""
        _allow(seconds)
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
        return self._failed

    def _forked(self, inside: Callable[[], Any]) -> Any:
        """What a child finds, or that it was ended for taking too long."""
        here, there = os.pipe()
        child = os.fork()
        if not child:
            os.close(here)
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
            nothing = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nothing, stream)
            try:
                found = inside()
            except BaseException as error:
                found = ("broken", repr(error))
            with os.fdopen(there, "w", encoding="utf-8") as out:
                json.dump(found, out)
            os._exit(0)
        os.close(there)
        with os.fdopen(here, encoding="utf-8") as said:
            text = said.read()
        _, ended = os.waitpid(child, 0)
        return json.loads(text) if not ended else ("timed out", f"ended by signal {ended}")


def _allow(seconds: float) -> None:
    """Lets this process end itself if what comes takes far more of the processor than it did."""
    if seconds < inf:
        until = int(process_time() + 5 * seconds + 6)
        resource.setrlimit(resource.RLIMIT_CPU, (until, resource.RLIM_INFINITY))


def _families(rules: Iterable[str]) -> set[str]:
    """The test files of the families that some rules are of."""
    parts = (rule.partition("/")[0].replace("-", "_") for rule in rules)
    return {"test_pages.py", *(f"test_{family}.py" for family in parts)}


def _tries(item: pytest.Item) -> bool:
    """Whether Hypothesis makes up what a test tries, so that it may call anything."""
    return hasattr(getattr(item, "obj", None), "hypothesis")


def _key(file: str, name: str, line: int) -> str:
    return f"{file}:{line}:{name}"


def affected(file: Path, imports: dict[Path, set[Path]]) -> set[str]:
    """The ids of the rules that a file of the rules is, or serves."""
    serves, waiting = {file}, [file]
    while waiting:
        others = imports[waiting.pop()] - serves
        serves |= others
        waiting += others
    rules = (it for it in serves if not it.name.startswith("_"))
    return {f"{it.parent.name}/{it.stem}".replace("_", "-") for it in rules}


def _imports() -> dict[Path, set[Path]]:
    """Which files of the rules import each."""
    files = sorted(RULES.rglob("*.py"))
    found: dict[Path, set[Path]] = {file: set() for file in files}
    for file in files:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module is not None:
                names = [f"{node.module}.{it.name}" for it in node.names]
                for module in (node.module, *names):  # `from family import _part` is one, too
                    other = RULES.parent / f"{module.replace('.', '/')}.py"
                    if other in found:
                        found[other].add(file)
    return found
