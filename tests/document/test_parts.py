"""Shared parts: laid in, found again, and never read from where they should not be."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Any

import pytest

from prebind.document import Document, Place, read
from prebind.document.parts import merge
from prebind.problem import Problem

if TYPE_CHECKING:
    from pathlib import Path

# RFC 7396, appendix A, as in the tests of json-merge-patch 0.3.0: original, patch, result.
RFC_7396 = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    (["a", "b"], ["c", "d"], ["c", "d"]),
    ({"a": "b"}, ["c"], ["c"]),
    ({"a": "foo"}, None, None),
    ({"a": "foo"}, "bar", "bar"),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]


@pytest.mark.parametrize(("original", "patch", "result"), RFC_7396)
def test_merge_patches_of_rfc_7396(original: Any, patch: Any, result: Any) -> None:
    before = json.dumps([original, patch])
    assert merge(original, patch) == result
    assert json.dumps([original, patch]) == before


RADIO = """{
  "name": "Club radio",
  "channels": 8,
  "output": {
    "centre_us": 1500,
    "limit_percent": 125
  },
  "start_checks": ["throttle-low", "cut-on"],
  "controls": {
    "roll-stick": {"kind": "stick"}
  }
}
"""


def document(transmitter: str, channel: str = '{"channel": 1, "function": "aileron"}') -> str:
    return f"""{{
  "format": "model-setup/1",
  "model": {{"name": "Avocet 900", "airframe": "glider"}},
  "transmitter": {transmitter},
  "channels": [{channel}]
}}
"""


FROM = """{
    "from": "parts/radio.json",
    "name": null,
    "output": {"limit_percent": 150, "steps": 1024},
    "start_checks": ["cut-on"],
    "stick_mode": 2
  }"""


@pytest.fixture
def club(tmp_path: Path) -> Path:
    """The folder under inspection, beside things that are none of its business."""
    folder = tmp_path / "club"
    (folder / "models/parts").mkdir(parents=True)
    (folder / "models/parts/radio.json").write_text(RADIO)
    (folder / "radio.json").write_text(RADIO)
    (tmp_path / "secret.json").write_text(RADIO)
    return folder


def opened(club: Path, transmitter: str, **changed: Any) -> Document | list[Problem]:
    arguments = {"path": str(club / "models/avocet.setup.json"), "root": club, **changed}
    return read(document(transmitter), **arguments)


def whole(club: Path, transmitter: str) -> Document:
    result = opened(club, transmitter)
    assert isinstance(result, Document), result
    return result


def test_keys_of_the_document_lie_over_the_part(club: Path) -> None:
    assert whole(club, FROM).data["transmitter"] == {
        "channels": 8,
        "output": {"centre_us": 1500, "limit_percent": 150, "steps": 1024},
        "start_checks": ["cut-on"],
        "controls": {"roll-stick": {"kind": "stick"}},
        "stick_mode": 2,
    }


def test_the_setup_is_that_of_the_whole(club: Path) -> None:
    transmitter = whole(club, FROM).setup.transmitter
    assert (transmitter.name, transmitter.channels, transmitter.stick_mode) == (None, 8, 2)
    assert transmitter.output.limit_percent == 150.0
    assert transmitter.controls["roll-stick"].at == "/transmitter/controls/roll-stick"


@pytest.mark.parametrize(
    ("pointer", "key", "place"),
    [
        # What the document says
        ("/transmitter", False, (4, 18, 10, 4)),
        ("/transmitter/from", False, (5, 13, 5, 31)),
        ("/transmitter/name", True, (6, 5, 6, 11)),  # taken away here
        ("/transmitter/stick_mode", False, (9, 19, 9, 20)),
        ("/transmitter/output", False, (7, 15, 7, 52)),
        ("/transmitter/output/limit_percent", False, (7, 33, 7, 36)),
        ("/transmitter/output/missing", False, (7, 15, 7, 52)),
        ("/transmitter/start_checks/0", False, (8, 22, 8, 30)),
        ("/transmitter/start_checks/1", False, (8, 21, 8, 31)),  # hides the part's second entry
        ("/transmitter/missing", True, (4, 18, 10, 4)),
        ("/channels/0/channel", False, (11, 28, 11, 29)),
    ],
)
def test_places_in_the_document(
    club: Path, pointer: str, key: bool, place: tuple[int, ...]
) -> None:
    found = whole(club, FROM).locate(pointer, key)
    assert found == Place(str(club / "models/avocet.setup.json"), *place)


@pytest.mark.parametrize(
    ("pointer", "key", "place"),
    [
        ("/transmitter/channels", False, (3, 15, 3, 16)),
        ("/transmitter/channels", True, (3, 3, 3, 13)),
        ("/transmitter/output/centre_us", False, (5, 18, 5, 22)),
        ("/transmitter/controls/roll-stick/kind", False, (10, 28, 10, 35)),
        ("/transmitter/controls/roll-stick/axis", False, (10, 19, 10, 36)),
    ],
)
def test_places_in_the_part(club: Path, pointer: str, key: bool, place: tuple[int, ...]) -> None:
    found = whole(club, FROM).locate(pointer, key)
    assert found == Place(str(club / "models/parts/radio.json"), *place)


def test_a_control_may_be_called_from(club: Path) -> None:
    (club / "models/parts/radio.json").write_text(RADIO.replace("roll-stick", "from"))
    found = whole(club, FROM).locate("/transmitter/controls/from")
    assert found == Place(str(club / "models/parts/radio.json"), 10, 13, 10, 30)


def test_what_the_document_takes_away_is_not_found_in_the_part(club: Path) -> None:
    document = whole(club, '{"from": "parts/radio.json", "output": null}')
    assert "output" not in document.data["transmitter"]
    path = str(club / "models/avocet.setup.json")
    assert document.locate("/transmitter/output/centre_us") == Place(path, 4, 57, 4, 61)


def test_a_part_is_named_as_the_document_is(club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(club.parent)
    result = opened(club, '{"from": "../radio.json"}', path="club/models/avocet.setup.json")
    assert isinstance(result, Document)
    assert [source.name for source in result.sources] == [
        "club/models/avocet.setup.json",
        "club/radio.json",
    ]
    assert [source.text for source in result.sources] == [
        document('{"from": "../radio.json"}'),
        RADIO,
    ]


def test_a_document_without_a_name_has_its_parts_where_it_runs(
    club: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(club)
    result = opened(club, '{"from": "models/parts/radio.json"}', path="-")
    assert isinstance(result, Document)
    assert result.locate("/transmitter/channels").file == "models/parts/radio.json"


def test_the_same_document_may_come_parsed(club: Path) -> None:
    path = str(club / "models/avocet.setup.json")
    result = read(json.loads(document(FROM)), path=path, root=club)
    assert isinstance(result, Document)
    assert result.data == whole(club, FROM).data
    assert result.locate("/transmitter/stick_mode") == Place(path)
    part = str(club / "models/parts/radio.json")
    assert result.locate("/transmitter/channels") == Place(part, 3, 15, 3, 16)
    assert [source.name for source in result.sources] == [part]


def test_links_that_stay_inside_are_followed(club: Path) -> None:
    (club / "models/link.json").symlink_to("parts/radio.json")
    (club / "models/folder").symlink_to(club / "models/parts")
    assert whole(club, '{"from": "link.json"}').setup.transmitter.channels == 8
    assert whole(club, '{"from": "folder/radio.json"}').setup.transmitter.channels == 8


def test_the_folder_itself_may_be_reached_through_a_link(club: Path) -> None:
    other = club.parent / "other"
    other.symlink_to(club)
    path = str(other / "models/avocet.setup.json")
    result = opened(club, '{"from": "parts/radio.json"}', path=path, root=other)
    assert isinstance(result, Document)
    assert result.locate("/transmitter/channels").file == str(other / "models/parts/radio.json")


# What is refused, at `from` in the document


def refused(club: Path, wanted: str, **changed: Any) -> str:
    result = opened(club, f'{{"name": "X",\n"from": {wanted}}}', **changed)
    assert isinstance(result, list)
    [problem] = result
    assert problem.path == str(club / "models/avocet.setup.json")
    assert (problem.line, problem.column) == (5, 9)
    return problem.message


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ("7", "write the path of a shared file here"),
        ("null", "write the path of a shared file here"),
        ('""', "write the path of a shared file here"),
        ('"a\\u0000"', "write the path of a shared file here"),
        ('"/etc/hostname"', "this path is absolute; write it relative to the folder"),
        ('"C:/radio.json"', "this path is absolute"),
        ('"//server/radio.json"', "this path is absolute"),
        ('"parts\\\\radio.json"', "write / between the folders of this path, not \\"),
        ('"../../secret.json"', '"../../secret.json" leads out of the folder that is inspected'),
        ('"../../club2/radio.json"', "leads out of the folder"),
        ('"../.."', "leads out of the folder"),
        ('"missing.json"', 'there is no file "missing.json"; the path begins at the folder'),
        ('"parts/radio.json/x"', "cannot be read: Not a directory"),
        ('"parts"', "this is not an ordinary file"),
        ('".."', "this is not an ordinary file"),
        (f'"{"a" * 300}"', "cannot be read: File name too long"),
    ],
)
def test_paths_that_are_refused(club: Path, wanted: str, words: str) -> None:
    assert words in refused(club, wanted)


def test_an_absolute_path_is_refused_even_inside(club: Path) -> None:
    assert "absolute" in refused(club, json.dumps(str(club / "radio.json")))


@pytest.mark.parametrize("target", ["../../secret.json", "../../../etc/hostname", "/etc/hostname"])
def test_a_link_that_leads_out_is_refused(club: Path, target: str) -> None:
    (club / "models/link.json").symlink_to(target)
    assert '"link.json" leads out of the folder' in refused(club, '"link.json"')


def test_a_linked_folder_that_leads_out_is_refused(club: Path) -> None:
    (club / "models/out").symlink_to("../..")
    assert '"out/secret.json" leads out of the folder' in refused(club, '"out/secret.json"')


def test_a_circle_of_links_is_refused(club: Path) -> None:
    (club / "models/a.json").symlink_to("b.json")
    (club / "models/b.json").symlink_to("a.json")
    assert "cannot be read" in refused(club, '"a.json"')


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_is_refused_at_once(club: Path) -> None:
    os.mkfifo(club / "models/pipe")
    assert "this is not an ordinary file" in refused(club, '"pipe"')


@pytest.mark.skipif(os.open not in os.supports_dir_fd, reason="needs openat")
@pytest.mark.parametrize("swapped", ["parts", "parts/radio.json"])
def test_a_link_that_appears_after_the_check_is_not_followed(
    club: Path, monkeypatch: pytest.MonkeyPatch, swapped: str
) -> None:
    """Between the look at the path and the reading someone swaps in a link to the outside."""
    outside = club.parent / "outside"
    outside.mkdir()
    (outside / "radio.json").write_text(RADIO)
    real = os.open

    def swap_then_open(path: Any, *rest: Any, **more: Any) -> int:
        monkeypatch.setattr(os, "open", real)
        monkeypatch.setattr(os, "supports_dir_fd", {real})
        target = club / "models" / swapped
        target.rename(club / "moved")
        target.symlink_to(outside if swapped == "parts" else outside / "radio.json")
        return real(path, *rest, **more)

    monkeypatch.setattr(os, "open", swap_then_open)
    monkeypatch.setattr(os, "supports_dir_fd", {swap_then_open})
    assert "cannot be read" in refused(club, '"parts/radio.json"')


def test_without_a_folder_there_are_no_parts(club: Path) -> None:
    words = "no shared file can be read here, as no folder is inspected"
    assert words in refused(club, '"parts/radio.json"', root=None)


def test_nothing_stays_open(club: Path) -> None:
    descriptors = "/proc/self/fd"
    if not os.path.isdir(descriptors):  # noqa: PTH112
        pytest.skip("needs a list of open files")
    before = len(os.listdir(descriptors))  # noqa: PTH208
    for wanted in ("parts/radio.json", "parts", "missing.json", "parts/radio.json/x"):
        opened(club, json.dumps({"from": wanted}))
    assert len(os.listdir(descriptors)) == before  # noqa: PTH208


# What is refused, in the part


@pytest.mark.parametrize(
    ("content", "line", "column", "words"),
    [
        ('{"channels": 8,\n}', 1, 15, "remove this comma"),
        ("", 1, 1, "nothing stands here"),
        ("\n[]", 2, 1, "must be one object, in { and }, but a list stands here"),
        (b'{"name": "\xe9"}', 1, 11, "byte 11 (hexadecimal E9) is not UTF-8"),
        ('{"a": 1, "a": 2}', 1, 10, "the key `a` stands twice"),
        ('{"channels": 8,\n "from": "radio.json"}', 2, 2, "cannot have a `from` itself; name"),
        ('{"from": 7}', 1, 2, "cannot have a `from` itself"),
        (RADIO.replace("8", "-8"), 3, 15, "`transmitter.channels`"),
        (RADIO.replace('"stick"', '"lever"'), 10, 28, "`transmitter.controls.roll-stick.kind`"),
        (RADIO.replace('"kind"', '"kimd"'), 10, 20, "`kimd` is not a key of"),
        (RADIO.replace('"kind": "stick"', ""), 10, 19, "`kind` is missing"),
    ],
)
def test_problems_in_the_part(
    club: Path, content: str | bytes, line: int, column: int, words: str
) -> None:
    problems = opened_with(club, content)
    assert (str(club / "models/parts/radio.json"), line, column) in {
        (it.path, it.line, it.column) for it in problems if words in it.message
    }


def opened_with(club: Path, content: str | bytes) -> list[Problem]:
    data = content.encode() if isinstance(content, str) else content
    (club / "models/parts/radio.json").write_bytes(data)
    result = opened(club, FROM)
    assert isinstance(result, list)
    return result


def test_a_part_may_not_be_larger_than_a_document(club: Path) -> None:
    limit = len(document(FROM))
    (club / "models/parts/radio.json").write_text("{" + " " * (limit - 1))
    result = opened(club, FROM, limit_bytes=limit)
    assert isinstance(result, list)
    assert "ends in the middle" in result[0].message  # just within the limit
    (club / "models/parts/radio.json").write_text("{" + " " * limit)
    result = opened(club, FROM, limit_bytes=limit)
    part = str(club / "models/parts/radio.json")
    assert result == [
        Problem(part, f"this has more than {limit} bytes, the most that is read", 1, 1)
    ]


def test_parts_cannot_make_a_circle(club: Path) -> None:
    (club / "models/a.json").write_text('{"from": "b.json"}')
    (club / "models/b.json").write_text('{"from": "a.json"}')
    result = opened(club, '{"from": "a.json"}')
    assert isinstance(result, list)
    [problem] = result
    assert (problem.path, problem.line, problem.column) == (str(club / "models/a.json"), 1, 2)
    assert "a shared part cannot have a `from` itself" in problem.message


def test_all_parts_are_looked_at_and_the_document_comes_first(club: Path) -> None:
    (club / "models/above.json").write_text("{")
    text = document('{"from": "above.json"}').replace(
        '"channels": [', '"power": {"from": "no.json"},\n"receiver": {"from": "7"},\n"channels": ['
    )
    result = read(text, path=str(club / "models/avocet.setup.json"), root=club)
    assert isinstance(result, list)
    assert [(it.path, it.line, it.column, it.message[:24]) for it in result] == [
        (str(club / "models/avocet.setup.json"), 5, 21, 'there is no file "no.jso'),
        (str(club / "models/avocet.setup.json"), 6, 22, 'there is no file "7"; th'),
        (str(club / "models/above.json"), 1, 2, "the document ends in the"),
    ]
