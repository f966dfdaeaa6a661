"""Versions of the document format: the first is frozen, and what a next one will take is tried.

A change of the schema that only loosens it is written down with the decision so:

    python -m tests.document.test_versions "A mass may be up to 2 t: what was sound stays sound."
"""

from __future__ import annotations

import json
import re
import sys
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import rfc8785

import prebind.document
from prebind import Document, Inspector, Problem, Report, read
from prebind.document import parts
from prebind.document.edit import edited
from prebind.document.parse import parse_object
from prebind.document.positions import Place, split
from prebind.testing import patched
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

Json = dict[str, Any]
Operations = list[Json]

TESTS = Path(__file__).parents[1]
KEPT = TESTS / "schemas" / "model-setup-1.frozen.json"
FILES = sorted((TESTS / "examples").glob("f*/*.setup.json"))
INSPECTOR = Inspector()


# --- the first is frozen --------------------------------------------------------------------

WORDS = {"description", "title", "examples", "$comment"}
BY_NAME = {"properties", "patternProperties", "$defs", "dependentSchemas"}
BELOW = {"items", "additionalProperties", "propertyNames", "contains", "not", "if", "then", "else"}
EACH = {"allOf", "anyOf", "oneOf", "prefixItems"}


def structure(schema: Any) -> Any:
    """What a schema demands: all of it but the words for people."""
    if not isinstance(schema, dict):
        return schema
    bare: Json = {}
    for key, value in schema.items():
        if key in BY_NAME:
            bare[key] = {name: structure(inner) for name, inner in value.items()}
        elif key in EACH:
            bare[key] = [structure(inner) for inner in value]
        elif key not in WORDS:
            bare[key] = structure(value) if key in BELOW else value
    return bare


def differences(was: Any, now: Any, at: str = "") -> Iterator[str]:
    if isinstance(was, dict) and isinstance(now, dict):
        for key in sorted(was.keys() | now.keys()):
            if key not in now:
                yield f"{at}/{key} is gone"
            elif key not in was:
                yield f"{at}/{key} is new"
            else:
                yield from differences(was[key], now[key], f"{at}/{key}")
    elif was != now:
        yield f"{at} was {json.dumps(was)[:100]} and is {json.dumps(now)[:100]}"


def frozen() -> Json:
    kept: Json = json.loads(KEPT.read_text(encoding="utf-8"))
    return kept


def digest(of: Any) -> str:
    return sha256(rfc8785.dumps(of)).hexdigest()


def assert_frozen(schema: Any) -> None:
    kept = frozen()
    changed = list(differences(kept["structure"], structure(schema)))
    assert not changed, (
        "model-setup/1 is frozen: every document that it accepts stays accepted and means the "
        "same. Changed in setup.schema.json:\n  " + "\n  ".join(changed[:20]) + "\n"
        "If a document could now be refused, or mean something else, take the change back and make "
        "it in a new format, model-setup/2, with a migration (the second part of this file). If "
        "the change only loosens, write the decision down:\n"
        '  python -m tests.document.test_versions "what is looser, and why it harms no document"'
    )
    assert kept["decisions"][-1]["digest"] == digest(kept["structure"]), (
        f"{KEPT.name} was changed without a decision; "
        'run python -m tests.document.test_versions "why"'
    )


def decided(kept: Json, schema: Any, why: str, today: str) -> Json:
    now = structure(schema)
    return {
        "decisions": [*kept["decisions"], {"on": today, "why": why, "digest": digest(now)}],
        "structure": now,
    }


def setup_schema() -> Json:
    schema: Json = json.loads(schema_text("setup"))
    return schema


def test_the_first_format_is_frozen() -> None:
    assert_frozen(setup_schema())


def test_words_may_change() -> None:
    schema = setup_schema()
    schema["description"] = "Other words."
    schema["properties"]["model"]["$comment"] = "A word among developers."
    assert_frozen(schema)


def tighter(schema: Json) -> None:
    schema["required"].append("receiver")


def looser(schema: Json) -> None:
    schema["$defs"]["wing"] = schema["$defs"].get("wing", {}) | {"additionalProperties": True}


def another_default(schema: Json) -> None:
    schema["properties"]["format"]["default"] = "model-setup/1"


def a_key_called_title(schema: Json) -> None:
    schema["properties"]["title"] = {"type": "string"}


@pytest.mark.parametrize("change", [tighter, looser, another_default, a_key_called_title])
def test_what_it_demands_may_not(change: Any) -> None:
    schema = setup_schema()
    change(schema)
    with pytest.raises(AssertionError, match="model-setup/2") as caught:
        assert_frozen(schema)
    assert 'test_versions "what is looser' in str(caught.value)


def test_a_decision_is_kept_with_what_it_allows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    schema = setup_schema()
    looser(schema)
    again = tmp_path / KEPT.name
    again.write_bytes(rfc8785.dumps(decided(frozen(), schema, "Wings are free.", "2027-01-15")))
    monkeypatch.setattr(sys.modules[__name__], "KEPT", again)
    assert_frozen(schema)
    assert frozen()["decisions"][-1]["why"] == "Wings are free."
    again.write_bytes(rfc8785.dumps({**frozen(), "structure": structure(setup_schema())}))
    with pytest.raises(AssertionError, match="without a decision"):
        assert_frozen(setup_schema())


# --- what is said today of another format ------------------------------------------------------


def said(format_name: Any, **more: Any) -> list[Problem]:
    data = json.dumps({**json.loads(FILES[0].read_bytes()), "format": format_name, **more})
    report = INSPECTOR.inspect(data, path=FILES[0].as_posix(), root=FILES[0].parent)
    assert report.document is None
    return list(report.problems)


@pytest.mark.parametrize("name", ["model-setup/2", "model-setup/17"])
def test_a_newer_document_asks_for_a_newer_prebind(name: str) -> None:
    """And nothing else is said of it: its other keys may be right."""
    (problem,) = said(name, batteries=2)
    assert f'"{name}"' in problem.message
    assert 'this one reads "model-setup/1"' in problem.message
    assert "update prebind" in problem.message
    assert (problem.line, problem.column) == (1, 12)


@pytest.mark.parametrize("name", ["model-setup/0", "model-setup/1.1", "Model-Setup/1", "", 1, None])
def test_what_was_never_a_format_is_told_what_to_write(name: Any) -> None:
    (problem,) = said(name)
    assert problem.message.startswith(f"`format` is {json.dumps(name)}")
    assert 'it must be "model-setup/1"' in problem.message
    assert (problem.line, problem.column) == (1, 12)


EXAMPLES = TESTS / "examples"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ((EXAMPLES / "plan" / "avocet.wishes.json").read_bytes(), "`prebind plan` reads"),
        ((EXAMPLES / "packs" / "tern-bay.rules.json").read_bytes(), "named with `--pack`"),
        (b'{"format": "plan/1"}', "`prebind start --plan`"),
        (b'{"format": "inspection/1"}', "named with `--since`"),
    ],
)
def test_what_is_no_setup_is_told_which_command_reads_it(data: bytes, words: str) -> None:
    """And not which keys of a setup it lacks: nobody is to make a setup of it."""
    (problem,) = INSPECTOR.inspect(data).problems
    assert words in problem.message
    assert 'a setup begins with "format": "model-setup/1"' in problem.message
    assert problem.line == data[: data.index(b'"format"')].count(b"\n") + 1


# --- what a next format takes ------------------------------------------------------------------

# Rules and the model name places of today's format, so today's plays the new one here.  The old one
# is invented: model-setup/0 had `transmitter.channel_count`, masses in kilograms, and limits of
# pulses as objects.  To /2, model-setup/1 will be what this one is to /1.


def migration(old: Json) -> Iterator[Json]:
    """A whole document of the old format, shared parts laid in, as JSON Patch to the new one."""
    yield {"op": "replace", "path": "/format", "value": "model-setup/1"}
    yield {"op": "move", "from": "/transmitter/channel_count", "path": "/transmitter/channels"}
    if "mass_kg" in old["model"]:
        grams = round(1000 * old["model"]["mass_kg"], 6)
        yield {"op": "move", "from": "/model/mass_kg", "path": "/model/mass_g"}
        yield {"op": "replace", "path": "/model/mass_g", "value": grams}
    for i, output in enumerate(old.get("receiver", {}).get("outputs", ())):
        if "limit_us" in output:
            limits = [output["limit_us"]["low"], output["limit_us"]["high"]]
            yield {"op": "replace", "path": f"/receiver/outputs/{i}/limit_us", "value": limits}


def aged(new: Json) -> Iterator[Json]:
    """The other way round, to have documents of the old format."""
    yield {"op": "replace", "path": "/format", "value": "model-setup/0"}
    yield {"op": "move", "from": "/transmitter/channels", "path": "/transmitter/channel_count"}
    if "mass_g" in new["model"]:
        kilograms = new["model"]["mass_g"] / 1000
        yield {"op": "move", "from": "/model/mass_g", "path": "/model/mass_kg"}
        yield {"op": "replace", "path": "/model/mass_kg", "value": kilograms}
    for i, output in enumerate(new.get("receiver", {}).get("outputs", ())):
        if "limit_us" in output:
            low, high = output["limit_us"]
            limits = {"low": low, "high": high}
            yield {"op": "replace", "path": f"/receiver/outputs/{i}/limit_us", "value": limits}


TOUCHED = (
    r'"format"\s*:\s*"model-setup/[01]"',
    r'"(channel_count|channels|mass_kg|mass_g)"\s*:\s*[\d.]+',
    r'"limit_us"\s*:\s*(\{[^}]*\}|\[[^]]*\])',
)
"""How each stands in a text, before and after."""

LAYOUTS: list[Json] = [{"indent": 2}, {"indent": "\t"}, {"separators": (",", ":")}]


def whole(file: Path) -> str:
    """A document with its parts in it, laid out as people do."""
    document = read(file.read_bytes(), path=file.as_posix(), root=file.parent)
    assert isinstance(document, Document)
    if len(document.sources) == 1:
        return file.read_bytes().decode()
    return json.dumps(document.data, indent=2, ensure_ascii=False)


def old_texts() -> Iterator[Any]:
    for file in FILES:
        text = whole(file)
        for i, way in enumerate([None, *LAYOUTS]):
            laid = text if way is None else json.dumps(json.loads(text), **way)
            marked = "\ufeff" + laid.replace("\n", "\r\n") if i == 1 else laid
            name = f"{file.name.removesuffix('.setup.json')}-{i}"
            yield pytest.param(edited(marked, aged(json.loads(text))), id=name)


OLD = list(old_texts())


def parsed(text: str) -> Json:
    return parse_object(text.encode(), 2**22)


def untouched(text: str) -> str:
    """All but what is migrated, and but for commas: they go and come with the entry behind."""
    for member in TOUCHED:
        text = re.sub(rf"\s*{member}", "", text)
    return text.replace(",", "")


@pytest.mark.parametrize("old", OLD)
def test_a_migration_keeps_the_formatting(old: str) -> None:
    operations = list(migration(parsed(old)))
    new = edited(old, operations)
    assert parsed(new) == patched(parsed(old), operations)
    assert untouched(new) == untouched(old)
    assert len(untouched(old)) > 0.9 * len(old) - 300
    assert new.count("\r\n") in (new.count("\n"), 0)
    assert new.startswith("\ufeff") == old.startswith("\ufeff")


def before(pointer: str, operations: Sequence[Mapping[str, Any]]) -> str:
    """Where a place of the migrated document was before.

    Only what was moved has another name.  What a value holds that was replaced is not in the old
    one; it is found where that value stands.
    """
    for operation in reversed(operations):
        if operation["op"] == "move":
            to = operation["path"]
            if pointer == to or pointer.startswith(f"{to}/"):
                pointer = operation["from"] + pointer.removeprefix(to)
    return pointer


class Migrated(Document):
    """A document as if migrated, whose places are those of the old one."""

    _operations: Operations

    @classmethod
    def of(cls, old: Document) -> Migrated:
        operations = list(migration(old.data))
        data = patched(old.data, operations)
        self = cls(old.path, data, old._main, old._parts)
        object.__setattr__(self, "_operations", operations)
        return self

    def locate(self, pointer: str, key: bool = False) -> Place:
        return super().locate(before(pointer, self._operations), key)


def reading(data: bytes, *, path: str, root: Path | None, limit_bytes: int) -> Any:
    """`prebind.read` as it will be: an old document is checked and judged as if migrated."""
    opened = prebind.document._open(data, path, limit_bytes)
    if isinstance(opened, Problem) or opened[0].get("format") != "model-setup/0":
        return read(data, path=path, root=root, limit_bytes=limit_bytes)
    own, main = opened
    loaded = parts.load(own, path, root, limit_bytes)
    shared = {name: part for name, part in loaded.items() if isinstance(part, parts.Part)}
    assert shared.keys() == loaded.keys()
    laid_in = own | {name: part.resolved for name, part in shared.items()}
    document = Migrated.of(Document(path, laid_in, main, shared))
    faults = prebind.document._check(document.data)
    return [prebind.document._problem(fault, document) for fault in faults] or document


@pytest.fixture
def tomorrow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(prebind.document, "read", reading)


def told(report: Report) -> list[Any]:
    """All that a report says but for positions."""
    assert report.document is not None
    findings = [
        (f.rule, f.kind, f.word, f.at, f.message, f.evidence, f.remedy, f.settles, f.fix)
        for f in report.findings
    ]
    prints = [found.fingerprint for found in report.findings]
    return [findings, prints, report.problems, report.outcomes, report.not_applicable]


@pytest.mark.usefixtures("tomorrow")
@pytest.mark.parametrize("old", OLD)
def test_an_old_document_is_judged_as_if_migrated(old: str) -> None:
    report = INSPECTOR.inspect(old)
    migrated = INSPECTOR.inspect(edited(old, migration(parsed(old))))
    assert told(report) == told(migrated)


def standing(text: str, place: Place) -> Any:
    """The value at a place of a text, its lines counted apart from the code under test."""
    body = text.removeprefix("\ufeff").replace("\r\n", "\n")
    assert place.line is not None
    assert place.column is not None
    lines = body.split("\n")
    offset = sum(len(line) + 1 for line in lines[: place.line - 1]) + place.column - 1
    return json.JSONDecoder().raw_decode(body, offset)[0]


def value_at(data: Any, pointer: str) -> Any:
    for token in split(pointer):
        data = data[int(token)] if isinstance(data, list) else data[token]
    return data


@pytest.mark.usefixtures("tomorrow")
@pytest.mark.parametrize("old", OLD)
def test_findings_stand_in_the_old_text(old: str) -> None:
    report = INSPECTOR.inspect(old)
    operations = list(migration(parsed(old)))
    for found in report.findings:
        place = report.place(found)
        assert place is not None
        assert standing(old, place) == value_at(parsed(old), before(found.at, operations))


@pytest.mark.usefixtures("tomorrow")
def test_a_finding_about_what_was_renamed_stands_where_it_was() -> None:
    (old,) = next(iter(OLD)).values
    few = edited(old, [{"op": "replace", "path": "/transmitter/channel_count", "value": 1}])
    report = INSPECTOR.inspect(few)
    found = next(it for it in report.findings if it.at == "/transmitter/channels")
    place = report.place(found)
    assert place is not None
    assert few.split("\n")[(place.line or 0) - 1].strip() == '"channel_count": 1'


@pytest.mark.usefixtures("tomorrow")
def test_what_is_wrong_in_an_old_document_stands_in_the_old_text() -> None:
    (old,) = next(iter(OLD)).values
    wrong = edited(old, [{"op": "replace", "path": "/transmitter/channel_count", "value": 0}])
    (problem,) = INSPECTOR.inspect(wrong).problems
    line = wrong.split("\n")[(problem.line or 0) - 1]
    assert '"channel_count": 0' in line
    assert "`transmitter.channels` is 0" in problem.message


@pytest.mark.usefixtures("tomorrow")
def test_an_old_part_migrates_with_the_document_that_names_it(tmp_path: Path) -> None:
    """A part has no format of its own: that of the document counts."""
    data = json.loads(whole(FILES[0]))
    old = patched(data, list(aged(data)))
    part = tmp_path / "radio.json"
    part.write_text(json.dumps(old["transmitter"], indent=1), encoding="utf-8")
    file = tmp_path / "a.setup.json"
    file.write_text(json.dumps({**old, "transmitter": {"from": "radio.json"}}), encoding="utf-8")
    report = INSPECTOR.inspect_file(file)
    assert report.document is not None
    assert told(report) == told(INSPECTOR.inspect(data))
    place = report.document.locate("/transmitter/channels")
    assert place.file == part.as_posix()
    assert standing(part.read_text(encoding="utf-8"), place) == data["transmitter"]["channels"]


def main(why: Iterable[str]) -> None:
    kept = frozen() if KEPT.exists() else {"decisions": []}
    today = datetime.now(UTC).date().isoformat()
    KEPT.write_bytes(rfc8785.dumps(decided(kept, setup_schema(), " ".join(why), today)))


if __name__ == "__main__":
    if not sys.argv[1:]:
        sys.exit(__doc__)
    main(sys.argv[1:])
