"""An earlier report: what is new, known and gone, and what only looks like one."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest

from prebind.cli import main
from prebind.testing import clean
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from collections.abc import Callable

SLOW = "travel/slow-primary"
TWO = [("/channels/1/slow_s", SLOW), ("/channels/2/slow_s", SLOW)]
FORMATS = ["json", "sarif"]
VALID = jsonschema_rs.validator_for(json.loads(schema_text("inspection")))


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def write(*slow: int, name: str = "a b.setup.json", **sections: Any) -> None:
    """A trainer, some of its channels slow."""
    document = clean() | sections
    for index in slow:
        document["channels"][index]["slow_s"] = 1.5
    Path(name).write_text(json.dumps(document, indent=2), encoding="utf-8")


def inspect(*arguments: str) -> int:
    return main(["inspect", "--report", "json=now.json", *arguments])


def earlier(kind: str = "json") -> None:
    main(["inspect", "--report", f"{kind}=old"])


def now() -> dict[str, Any]:
    report: dict[str, Any] = json.loads(Path("now.json").read_text(encoding="utf-8"))
    assert VALID.is_valid(report)
    return report


def marked() -> list[tuple[str, str]]:
    (document,) = now()["documents"]
    return [(f["at"], f["baseline"]) for f in document["findings"] if f["kind"] == "fail"]


@pytest.mark.parametrize("kind", FORMATS)
def test_new_known_and_gone(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    write(1, 2)
    earlier(kind)
    write(2, 3)
    assert inspect("--since", "old", "--report", "text") == 1
    assert marked() == [("/channels/2/slow_s", "unchanged"), ("/channels/3/slow_s", "new")]
    (gone,) = now()["documents"][0]["gone"]
    assert (gone["rule"], gone["kind"], gone["word"], gone["at"], gone["baseline"]) == (
        SLOW,
        "fail",
        "caution",
        "/channels/1/slow_s",
        "absent",
    )
    text = capsys.readouterr().out
    assert "Gone since the earlier report: 1 finding\n\n    caution: travel/slow-primary: " in text
    assert "since      new since the earlier report" in text
    assert "since      known from the earlier report" in text
    assert "Grounded by 1 finding (caution or worse; only what is new)." in text


@pytest.mark.parametrize("kind", FORMATS)
def test_only_what_is_new_grounds(kind: str) -> None:
    write(1, 2)
    assert inspect() == 1
    earlier(kind)
    assert inspect("--since", "old") == 0
    assert [state for _, state in marked()] == ["unchanged", "unchanged"]
    assert now()["documents"][0]["gone"] == []
    write()
    assert inspect("--since", "old") == 0
    assert [(gone["at"], gone["rule"]) for gone in now()["documents"][0]["gone"]] == TWO


@pytest.mark.parametrize("kind", FORMATS)
def test_another_document_is_new(kind: str) -> None:
    write(1)
    earlier(kind)
    Path("a b.setup.json").rename("b.setup.json")
    assert inspect("--since", "old") == 1
    assert marked() == [("/channels/1/slow_s", "new")]
    assert now()["documents"][0]["gone"] == []


def test_sarif_tells_it_too() -> None:
    write(1)
    earlier()
    write(1, 2)
    assert main(["inspect", "--since", "old", "--report", "sarif=now.sarif"]) == 1
    (run,) = json.loads(Path("now.sarif").read_text(encoding="utf-8"))["runs"]
    states = [r["baselineState"] for r in run["results"] if r["kind"] == "fail"]
    assert sorted(states) == ["new", "unchanged"]
    assert run["invocations"][0]["exitCode"] == 1


def test_what_was_not_run_is_not_gone() -> None:
    write(1)
    earlier()
    write()
    inspect("--since", "old", "--leave-out", "travel")
    assert now()["documents"][0]["gone"] == []


def until(day: str) -> list[dict[str, str]]:
    return [{"rule": SLOW, "reason": "soft", "by": "the builder", "until": day}]


@pytest.mark.parametrize("kind", FORMATS)
def test_what_was_waived_and_is_no_longer_is_new(kind: str) -> None:
    write(1, waivers=until("9999-12-31"))
    assert inspect() == 0
    earlier(kind)
    write(1, waivers=until("2001-12-31"))
    assert inspect("--since", "old") == 1
    assert ("/channels/1/slow_s", "new") in marked()


@pytest.mark.parametrize("kind", FORMATS)
def test_what_weighs_more_is_new(kind: str) -> None:
    write(1)
    Path("prebind.toml").write_text(f'[settings."{SLOW}"]\nword = "notice"\n', encoding="utf-8")
    earlier(kind)
    Path("prebind.toml").unlink()
    assert inspect("--since", "old") == 1
    assert marked() == [("/channels/1/slow_s", "new")]


def test_what_was_open_and_fails_now_is_new() -> None:
    write(1)
    earlier()
    report = json.loads(Path("old").read_text(encoding="utf-8"))
    found = next(f for f in report["documents"][0]["findings"] if f["rule"] == SLOW)
    found["kind"] = "open"
    Path("old").write_text(json.dumps(report), encoding="utf-8")
    assert inspect("--since", "old") == 1
    found["kind"] = "fail"
    Path("old").write_text(json.dumps(report), encoding="utf-8")
    assert inspect("--since", "old") == 0


@pytest.mark.parametrize("kind", FORMATS)
def test_a_finding_in_a_shared_part(kind: str) -> None:
    radio = clean()["transmitter"] | {"channels": 6}
    Path("radio.json").write_text(json.dumps(radio), encoding="utf-8")
    write(transmitter={"from": "radio.json"})
    inspect()
    report = now()["documents"][0]
    in_part = [f["rule"] for f in report["findings"] if f["file"] == "radio.json"]
    assert in_part == ["capacity/spare"]
    earlier(kind)
    inspect("--since", "old")
    states = {f["baseline"] for f in now()["documents"][0]["findings"]}
    assert states == {"unchanged"}
    assert now()["documents"][0]["gone"] == []


def test_a_document_outside_the_working_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """SARIF names it by its whole URI, our JSON relative to the working folder."""
    write(1)
    Path("deep").mkdir()
    monkeypatch.chdir("deep")
    for kind in FORMATS:
        main(["inspect", "..", "--report", f"{kind}=old"])
        assert inspect("..", "--since", "old") == 0
        assert marked() == [("/channels/1/slow_s", "unchanged")]
    Path("old").write_text(Path("old").read_text().replace("file://", "file://["))
    assert inspect("..", "--since", "old") == 1


# What is no earlier report


def changed(change: Callable[[Any], object]) -> Callable[[Any], str]:
    def changing(report: Any) -> str:
        change(report)
        return json.dumps(report, indent=1)

    return changing


def first(report: Any) -> Any:
    return report["documents"][0]["findings"][0]


@pytest.mark.parametrize(
    ("made", "says"),
    [
        (lambda _: "{\n]", "old:2:1: problem: "),
        (lambda _: "[]", "old:1:1: problem: this must be one object"),
        (lambda _: '{"a": 1}', "old:1:1: problem: this is no report of prebind"),
        (
            lambda _: '{\n "format": "trace/1"}',
            "old:2:12: problem: /format of this report must be inspection/1, not “trace/1”",
        ),
        (
            lambda _: '{"version": "2.1.0",\n "runs": [{"tool": {"driver": {"name": "other"}}}]}',
            "old:2:10: problem: this SARIF report has no run of prebind in it",
        ),
        (
            changed(lambda report: first(report).pop("fingerprint")),
            "`fingerprint` is missing from /documents/0/findings/0 of this report",
        ),
        (
            changed(lambda report: first(report).update(word="bad")),
            "/documents/0/findings/0/word of this report must be danger or warning or caution "
            "or notice, not “bad”",
        ),
        (changed(lambda report: first(report).update(word="\u202egnp\x1b")), "“\\u202egnp\\u001b”"),
        (
            changed(lambda report: report.update(documents={})),
            "/documents of this report must be a list",
        ),
    ],
)
def test_what_cannot_be_used(
    made: Callable[[Any], str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    write(1)
    inspect()
    Path("old").write_text(made(now()), encoding="utf-8")
    Path("now.json").unlink()
    assert inspect("--since", "old") == 2
    error = capsys.readouterr().err
    assert error.startswith("old:")
    assert says in error
    assert not Path("now.json").exists()


def test_one_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    write(1)
    assert inspect("--since", "gone.json") == 2
    assert capsys.readouterr().err == (
        "gone.json: problem: the earlier report cannot be read: No such file or directory\n"
    )
