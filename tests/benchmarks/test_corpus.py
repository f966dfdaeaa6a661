"""The generated documents, and that their reports are those kept, byte for byte."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.benchmarks import corpus
from tests.benchmarks.generate import document, documents, write
from tests.benchmarks.mistakes import MISTAKES, SPOILERS

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_no_verdict_has_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    found = list(corpus.lines(corpus.inspector(), tmp_path))
    kept = corpus.KEPT.read_text(encoding="ascii").splitlines()
    texts = [line.split()[:2] for line in found]
    assert texts == [line.split()[:2] for line in kept], "other documents, not other verdicts"
    changed = [f"- {was}\n+ {now}" for was, now in zip(kept, found, strict=True) if was != now]
    told = "\n".join(changed)
    again = "python -m tests.benchmarks.corpus"
    assert not changed, f"{len(changed)} reports changed; `{again}` keeps these:\n{told}"


def test_clean_documents_are_clean(tmp_path: Path) -> None:
    inspector = corpus.inspector()
    for report in inspector.inspect_files(write(tmp_path, 40, seed=7, clean=True)):
        assert not report.problems
        assert [f"{f.rule} {f.message}" for f in report.findings if f.kind == "fail"] == []


def test_the_corpus_holds_clean_faulty_and_broken_documents_and_most_rules_fail_in_it() -> None:
    kept = [line.split()[3] for line in corpus.KEPT.read_text(encoding="ascii").splitlines()]
    failing = {rule for rules in kept for rule in rules.split(",")} - {"-", "broken"}
    assert len(failing) > len(corpus.inspector().rules) / 2
    assert kept.count("-") > len(kept) / 4
    assert "broken" in kept


def test_the_same_seed_gives_the_same_document_whatever_was_made_before() -> None:
    made = list(documents(30, seed=3))
    assert made[29] == document(29, seed=3)
    assert made != list(documents(30, seed=4))
    assert len({it.data for it in made}) == 30


def test_every_mistake_fits_some_document() -> None:
    laid = {name for made in documents(600, seed=5) for name in made.mistakes}
    assert laid == {it.__name__ for it in (*MISTAKES, *SPOILERS)}
