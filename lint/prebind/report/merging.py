"""Reports of parts, put together to the report that one run over everything would have given.

The reports come from other machines and are not trusted: each is checked against the schema, and
all of them against each other, so that nothing is missing and nothing is counted twice.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.document import schema
from prebind.document.contents import contents
from prebind.document.parse import Unreadable, parse_object
from prebind.document.positions import Source, escape
from prebind.inspect.baseline import LIMIT_BYTES
from prebind.inspect.finding import Finding, Waived
from prebind.problem import Problem
from prebind.report.inspection_json import closing, dumps, opening

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    Json = dict[str, Any]

_AROUND = 0  # the position of a problem that does not belong to one setup
_FEW = 10  # parts that a message names

_ALIKE = {
    "tool": "was made by another prebind, or with other packs",
    "settings": "was made under other settings, or on another day",
}


class Unfit(Exception):
    """Why the reports cannot be put together: what is wrong with one of them, and where."""

    def __init__(
        self, path: str, message: str, line: int | None = None, column: int | None = None
    ) -> None:
        super().__init__(message)
        self.problem = Problem(path, message, line, column)


class Merged(NamedTuple):
    """The pieces of the whole report, `documents` as text, each on its line."""

    tool: Json
    documents: list[str]
    settings: Json
    problems: list[Json]
    grounds: bool

    def text(self) -> Iterator[str]:
        """Byte for byte what the one run would have written."""
        yield opening(self.tool)
        for number, document in enumerate(self.documents):
            yield f"{',' if number else ''}\n{document}"
        yield closing(self.settings, self.problems)


class _Document(NamedTuple):
    position: int
    text: str
    grounds: bool


class _Part:
    """The report of one part, its documents as text, so that no more need be held in memory."""

    def __init__(self, path: str, whole: Json) -> None:
        self.path = path
        self.number = int(whole["part"].pop("number"))
        self.all: Json = whole["part"]
        self.alike = [whole[key] for key in _ALIKE]
        self.since = {"gone" in document for document in whole["documents"]}
        self.own_settings = {
            document["settings"]["file"]: document["settings"]
            for document in whole["documents"]
            if "settings" in document
        }
        self.problems = [(problem.pop("position", 0), problem) for problem in whole["problems"]]
        self.documents = [_document(it, whole["settings"]) for it in whole["documents"]]

    @property
    def positions(self) -> list[int]:
        """Of its documents, and of what there is no document of."""
        there = [document.position for document in self.documents]
        return [*there, *({position for position, _ in self.problems} - {_AROUND, *there})]


def merge(paths: Sequence[str]) -> Merged:
    """Raises Unfit for the first report that is none of ours, or does not fit to the others."""
    parts = [_Part(path, _read(path)) for path in paths]
    _fit(parts)
    documents = sorted(document for part in parts for document in part.documents)
    problems = [problem for part in parts for problem in part.problems]
    around = {dumps(problem): problem for position, problem in problems if position == _AROUND}
    own = sorted((it for it in problems if it[0] != _AROUND), key=lambda it: it[0])
    tool, settings = parts[0].alike
    return Merged(
        tool,
        [document.text for document in documents],
        settings,
        [*(around[text] for text in sorted(around)), *(problem for _, problem in own)],
        any(document.grounds for document in documents),
    )


# One report


def _read(path: str) -> Json:
    try:
        data = contents(path, LIMIT_BYTES + 1)
        whole = parse_object(data, LIMIT_BYTES)
    except OSError as error:
        raise Unfit(path, f"the report cannot be read: {error.strerror}") from None
    except Unreadable as error:
        raise Unfit(path, error.message, error.line, error.column) from None
    from jsonschema_rs import validator_for

    fault = next(validator_for(schema.whole("inspection")).iter_errors(whole), None)
    if fault is not None:
        tokens = [str(token) for token in fault.instance_path]
        place = Source(path, data).place(tokens)
        at = "".join(f"/{escape(token)}" for token in tokens) or "the top"
        message = f"{at} of this report is not as prebind writes its JSON reports"
        raise Unfit(path, message, place.line, place.column)
    if "part" not in whole:
        raise Unfit(path, "this is the report of a whole run, not of a part (--part)")
    return whole


def _document(document: Json, settings: Json) -> _Document:
    level = document.get("settings", {}).get("ground_at", settings["ground_at"])
    grounds = any(
        _finding(found).grounds(level, settings["complete"]) for found in document["findings"]
    )
    return _Document(int(document.pop("position", 0)), dumps(document), grounds)


def _finding(found: Json) -> Finding:
    """As much of it as decides whether it grounds."""
    keys = ("rule", "kind", "word", "at", "message", "evidence", "safety", "remedy", "fingerprint")
    waived = Waived(**found["waived"]) if "waived" in found else None
    return Finding(
        **{key: found[key] for key in keys}, waived=waived, baseline=found.get("baseline")
    )


# All of them


def _fit(parts: Sequence[_Part]) -> None:
    """Raises Unfit where they are not all the parts of one run, each once."""
    first = parts[0]
    numbers: dict[int, str] = {}
    own_settings: dict[str, Json] = {}
    for part in parts:
        for said, mine, others in zip(_ALIKE.values(), part.alike, first.alike, strict=True):
            if mine != others:
                raise Unfit(part.path, f"this {said} than {first.path}; run all parts alike")
        if part.all != first.all:
            raise Unfit(
                part.path,
                f"this is a part of something else than {first.path}: of other setups, or one of "
                "another number of parts",
            )
        if part.number in numbers:
            raise Unfit(part.path, f"this is part {part.number} again, as {numbers[part.number]}")
        numbers[part.number] = part.path
        if len(part.since | first.since) > 1:
            raise Unfit(part.path, "only some parts were laid against an earlier report (--since)")
        for file, settings in part.own_settings.items():
            if own_settings.setdefault(file, settings) != settings:
                raise Unfit(part.path, f"{file} said something else where another part was run")
    _complete(parts, numbers)


def _complete(parts: Sequence[_Part], numbers: Collection[int]) -> None:
    first = parts[0]
    of, entries = int(first.all["of"]), int(first.all["entries"])
    missing = (number for number in range(1, of + 1) if number not in numbers)
    few = [str(number) for number in islice(missing, _FEW)]
    if few:
        more = ", and more" if of - len(numbers) > _FEW else ""
        raise Unfit(first.path, f"of {of} parts these are missing: {', '.join(few)}{more}")
    positions = sorted(position for part in parts for position in part.positions)
    if len(positions) != entries or positions != list(range(1, entries + 1)):
        raise Unfit(first.path, "the parts lack setups, or have some twice; someone changed them")
