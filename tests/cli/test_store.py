"""The cache folder: what is sound is found, and nothing that happens to it is an error."""

from __future__ import annotations

import errno
import marshal
import os
import sys
import time
import zlib
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest

from prebind.cli.store import Store

if TYPE_CHECKING:
    from collections.abc import Callable

NAME = "ab12"
MIB = 1024 * 1024


class Egg(NamedTuple):
    colour: str
    spots: tuple[Any, ...] = ()


class Nest:
    """No plain data, and no named tuple, though it may look like one."""

    @classmethod
    def _make(cls, _: object) -> Nest:
        return cls()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path / "prebind"


@pytest.fixture
def store(folder: Path) -> Store:
    del folder
    return Store(time.time())


def files(folder: Path) -> list[Path]:
    return [file for file in folder.rglob("*") if file.is_file()]


@pytest.mark.parametrize(
    "entry",
    [
        "blue",
        (),
        ("a", [("b", 1.5), ()], {"c": None, ("d", "e"): True}),
        Egg("blue", (Egg("\udc80"), [Egg("–")], {"f": Egg("white")}, b"\0", float("inf"))),
    ],
    ids=repr,
)
def test_what_is_kept_is_found(store: Store, entry: object) -> None:
    assert store.find(NAME) is None
    store.keep(NAME, entry)
    found = store.find(NAME)
    assert repr(found) == repr(entry)
    assert type(found) is type(entry)
    assert store.find("ab13") is None


def test_what_is_no_plain_data_is_not_kept(store: Store, folder: Path) -> None:
    store.keep(NAME, Egg("blue", (Nest(),)))
    assert not files(folder)
    store.keep(NAME, "blue")
    assert store.find(NAME) == "blue"


@pytest.mark.skipif(os.name == "nt", reason="rights of another kind")
def test_nobody_else_may_look(store: Store, folder: Path) -> None:
    before = os.umask(0)
    try:
        store.keep(NAME, "blue")
    finally:
        os.umask(before)
    assert {it.stat().st_mode & 0o777 for it in (folder, folder / "a")} == {0o700}


def sealed(entry: object) -> Callable[[bytes], bytes]:
    return lambda _: zlib.compress(marshal.dumps(entry))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda _: b"",
        lambda data: data[:-1],
        lambda data: data[: len(data) // 2],
        lambda data: data[:20] + bytes([data[20] ^ 1]) + data[21:],
        lambda _: b"\x80\x05.",
        lambda data: zlib.decompress(data),
        sealed(None),
        sealed((None, ["ab13", "blue"])),  # another's
        sealed((None, [NAME])),
        sealed((None, [NAME, (("os", "system"), ["true"])])),
        sealed((None, [NAME, (("not_loaded", "Egg"), ["blue"])])),
        sealed((None, [NAME, ((Nest.__module__, "Nest"), ["blue"])])),
        sealed((None, [NAME, ((Egg.__module__, "Egg"), [])])),
    ],
)
def test_a_broken_entry_is_none_and_is_kept_anew(
    store: Store, folder: Path, spoil: Callable[[bytes], bytes]
) -> None:
    store.keep(NAME, Egg("blue"))
    (file,) = files(folder)
    file.write_bytes(spoil(file.read_bytes()))
    assert store.find(NAME) is None
    store.keep(NAME, Egg("blue"))
    assert store.find(NAME) == Egg("blue")


def test_an_entry_that_is_a_folder_is_none(store: Store, folder: Path) -> None:
    (folder / "a" / NAME).mkdir(parents=True, mode=0o700)
    folder.chmod(0o700)
    assert store.find(NAME) is None
    store.keep(NAME, "blue")
    assert store.find(NAME) is None
    assert not files(folder)


@pytest.mark.skipif(os.name == "nt", reason="rights of another kind")
def test_a_folder_that_others_may_write_to_is_left_alone(store: Store, folder: Path) -> None:
    store.keep(NAME, "blue")
    folder.chmod(0o770)
    assert store.find(NAME) is None
    store.keep("cd34", "white")
    assert [file.name for file in files(folder)] == [NAME]


@pytest.mark.skipif(os.name == "nt", reason="links want rights there")
def test_a_link_in_place_of_the_folder_is_not_followed(store: Store, folder: Path) -> None:
    (folder.parent / "elsewhere").mkdir(mode=0o700)
    folder.symlink_to("elsewhere")
    store.keep(NAME, "blue")
    assert store.find(NAME) is None
    assert not list((folder.parent / "elsewhere").iterdir())


@pytest.mark.parametrize("code", [errno.EROFS, errno.ENOSPC, errno.EACCES])
@pytest.mark.parametrize("step", ["mkdir", "write_bytes", "replace"])
def test_a_disk_that_takes_nothing_is_no_error(
    store: Store, folder: Path, monkeypatch: pytest.MonkeyPatch, step: str, code: int
) -> None:
    write_bytes = Path.write_bytes

    def fails(file: Path, *given: Any, **_: Any) -> None:
        if step == "write_bytes":
            write_bytes(file, given[0][:5])
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(Path, step, fails)
    store.keep(NAME, "blue")
    store.keep("ab34", "blue")
    monkeypatch.undo()
    assert not files(folder)


def test_a_file_in_place_of_the_folder_is_no_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    store = Store(time.time())
    store.keep(NAME, "blue")
    assert store.find(NAME) is None


# How much


def taken(folder: Path) -> int:
    return sum(file.stat().st_blocks * 512 for file in files(folder))


def names(count: int, first: str = "a") -> list[str]:
    return [f"{first}{number:04x}" for number in range(count)]


@pytest.mark.skipif(os.name == "nt", reason="no blocks to count")
def test_it_takes_no_more_than_it_may(folder: Path) -> None:
    """A sixteenth for what begins with one digit; what is oldest goes first."""
    for number, name in enumerate(names(300)):
        Store(time.time() + 1, 16 * MIB // 4).keep(name, os.urandom(5000))
        os.utime(folder / "a" / name, (number, number))
        assert taken(folder) <= MIB // 4
    left = sorted(file.name for file in files(folder))
    assert left == names(300)[-len(left) :]
    assert taken(folder) > MIB // 8


def test_what_was_used_stays_longer(folder: Path) -> None:
    for number, name in enumerate(names(100)):
        store = Store(time.time() + 1, 16 * MIB // 4)
        store.keep(name, os.urandom(5000))
        os.utime(folder / "a" / name, (number, number))
        assert store.find(names(1)[0]) is not None
    assert Store(time.time(), 0).find(names(2)[1]) is None


def test_a_run_over_more_than_there_is_room_for_finds_what_fits(folder: Path) -> None:
    """It throws out nothing of its own, or the next one would find nothing at all."""
    found = []
    for _ in range(3):
        store = Store(time.time() - 0.1, 16 * MIB // 4)
        found.append(0)
        for name in names(100):
            if store.find(name) is not None:
                found[-1] += 1
            else:
                store.keep(name, os.urandom(5000))
        past = time.time() - 60
        for file in files(folder):
            os.utime(file, (past, past))
    assert found[0] == 0
    assert found[1] == found[2] > 20
    assert store.find(names(100)[-1]) is None


def test_what_is_too_large_does_not_keep_out_the_rest(store: Store, folder: Path) -> None:
    store.keep(NAME, os.urandom(MIB))
    assert not files(folder)
    store.keep(NAME, "blue")
    assert store.find(NAME) == "blue"


def test_what_a_killed_process_left_goes_too(folder: Path) -> None:
    Store(time.time()).keep(NAME, "blue")
    draft = folder / "a" / f"{NAME}.77"
    draft.write_bytes(bytes(MIB // 2))
    os.utime(draft, (1, 1))
    Store(time.time(), 16 * MIB // 4).keep("ab34", "blue")
    assert not draft.exists()


# Several processes


def _keeping(colour: str, seconds: float) -> None:
    store = Store(time.time())
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        for name in names(5):
            store.keep(name, Egg(colour * 20_000))
            found = store.find(name)
            assert found is not None
            assert len(set(found.colour)) == 1
            assert len(found.colour) == 20_000


def test_processes_that_keep_the_same_leave_it_whole(folder: Path) -> None:
    context = get_context("spawn")
    both: list[Any] = [context.Process(target=_keeping, args=(colour, 1.0)) for colour in "bw"]
    for one in both:
        one.start()
    for one in both:
        one.join(60)
    assert [one.exitcode for one in both] == [0, 0]
    assert sorted(file.name for file in files(folder)) == names(5)


# Where


@pytest.mark.parametrize(
    ("platform", "environment", "expected"),
    [
        ("linux", {"HOME": "/home/tern"}, "/home/tern/.cache/prebind"),
        ("linux", {"HOME": "/home/tern", "XDG_CACHE_HOME": "/c"}, "/c/prebind"),
        ("linux", {"HOME": "/home/tern", "XDG_CACHE_HOME": "c"}, "/home/tern/.cache/prebind"),
        ("darwin", {"HOME": "/Users/tern"}, "/Users/tern/Library/Caches/prebind"),
        ("win32", {"LOCALAPPDATA": "/Tern/Local"}, "/Tern/Local/prebind"),
        ("win32", {"LOCALAPPDATA": ""}, None),
    ],
)
def test_where_it_lies(
    monkeypatch: pytest.MonkeyPatch,
    platform: str,
    environment: dict[str, str],
    expected: str | None,
) -> None:
    for name in ("HOME", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", platform)
    from prebind.cli.store import _folder

    if expected is None:
        with pytest.raises(OSError, match="no cache folder"):
            _folder()
    else:
        assert _folder() == Path(expected)
