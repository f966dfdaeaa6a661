"""Settings files: `prebind.toml`, the nearest one upward from a document.

Such a file comes with the documents, so it is not trusted: it is checked key by key, and reports
say what it says.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from prebind.packs import SHEET
from prebind.problem import Problem
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from prebind.inspect.inspector import Configuration, Inspector
    from prebind.rule import Rule, Setting, Word

    Keys = tuple[str, ...]
    Fault = tuple[Keys, str]

NAME = "prebind.toml"
LIMIT_BYTES = 256 * 1024
REGIONS = ("us", "eu", "uk")
_KEYS = (
    "ground_at",
    "leave_out",
    "packs",
    "without_packs",
    "rule_seconds",
    "region",
    "settings",
)


class Settings(NamedTuple):
    """What one settings file says; None and empty where it says nothing.

    `packs` are files.  `lines` has the line of each key, by its names from the top.
    """

    file: str
    ground_at: Word | None = None
    leave_out: tuple[str, ...] = ()
    packs: tuple[str, ...] = ()
    without_packs: tuple[str, ...] = ()
    rule_seconds: float | None = None
    region: Literal["us", "eu", "uk"] | None = None
    words: Mapping[str, Word] = {}
    numbers: Mapping[str, Mapping[str, Any]] = {}
    lines: Mapping[Keys, int] = {}

    def without(self, *, ground_at: bool, leave_out: bool) -> Settings:
        """What is left where something stronger decides these."""
        return self._replace(
            ground_at=None if ground_at else self.ground_at,
            leave_out=() if leave_out else self.leave_out,
        )

    def over(self, configuration: Configuration) -> Configuration:
        """The configuration, with what the file says about rules beside it."""
        from prebind.record import evolve

        return evolve(
            configuration,
            leave_out=(*configuration.leave_out, *self.leave_out),
            rule_seconds=self.rule_seconds or configuration.rule_seconds,
            region=self.region or configuration.region,
            words={**configuration.words, **self.words},
            numbers={**configuration.numbers, **self.numbers},
        )


class Found(NamedTuple):
    """What a settings file says, and an inspector with the packs that it names."""

    settings: Settings
    inspector: Inspector


def read(file: str, inspector: Inspector) -> Found | list[Problem]:
    """What a settings file says, or everything that is wrong with it, by line.

    The names in it are those of the inspector's packs and of its own.
    """
    try:
        text = _text(file)
    except OSError as error:
        return [Problem(file, f"the settings cannot be read: {error.strerror}")]
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        return [Problem(file, "this is not UTF-8; save the file as UTF-8", line, 1)]
    except _TooLarge as error:
        return [Problem(file, str(error))]
    from tomllib import loads

    try:
        given = loads(text)
    except ValueError as error:
        return [_no_toml(file, text, str(error))]
    except RecursionError:
        return [Problem(file, "this is nested too deeply to be settings")]
    faults = list(_faults(given, file))
    under = inspector if faults else inspector.configured(_with_packs(given, file, inspector))
    faults += _faults_of_rules(given, under.rules)
    if faults:
        problems = [Problem(file, message, *_place(text, keys)) for keys, message in faults]
        problems += under.problems[len(inspector.problems) :]
        return sorted(problems, key=lambda problem: (problem.line or 0, problem.column or 0))
    return Found(_settings(file, given, text), under)


def _with_packs(given: Mapping[str, Any], file: str, inspector: Inspector) -> Configuration:
    from prebind.record import evolve

    asked = inspector.configuration
    return evolve(
        asked,
        packs=(*asked.packs, *_pack_files(given, file)),
        without_packs=(*asked.without_packs, *given.get("without_packs", ())),
    )


def _pack_files(given: Mapping[str, Any], file: str) -> tuple[str, ...]:
    """The files of packs, as seen from the working folder."""
    folder = os.path.dirname(file)  # noqa: PTH120
    return tuple(os.path.join(folder, name) for name in given.get("packs", ()))  # noqa: PTH118


class _TooLarge(Exception):
    pass


def _text(file: str) -> str:
    if os.path.exists(file) and not os.path.isfile(file):  # noqa: PTH110, PTH113
        raise OSError(0, "it is no file")
    with open(file, "rb") as stream:  # noqa: PTH123
        data = stream.read(LIMIT_BYTES + 1)
    if len(data) > LIMIT_BYTES:
        raise _TooLarge(f"the settings have more than {LIMIT_BYTES:,} bytes, the most that is read")
    return data.decode().replace("\r\n", "\n")


def _no_toml(file: str, text: str, said: str) -> Problem:
    import re

    what, _, where = said.partition(" (at ")
    place = re.match(r"line (\d+), column (\d+)", where)
    lines = text.split("\n")
    line, column = map(int, place.groups()) if place else (len(lines), len(lines[-1]) + 1)
    return Problem(file, f"this is not TOML: {what}", line, column)


def _settings(file: str, given: dict[str, Any], text: str) -> Settings:
    rules: dict[str, dict[str, Any]] = given.get("settings", {})
    keys: list[Keys] = [(key,) for key in given]
    keys += [("settings", name, key) for name, table in rules.items() for key in table]
    return Settings(
        file,
        given.get("ground_at"),
        tuple(given.get("leave_out", ())),
        _pack_files(given, file),
        tuple(given.get("without_packs", ())),
        given.get("rule_seconds"),
        given.get("region"),
        {name: table["word"] for name, table in rules.items() if "word" in table},
        {
            name: {key: value for key, value in table.items() if key != "word"}
            for name, table in rules.items()
            if table.keys() - {"word"}
        },
        {of: _place(text, of)[0] for of in keys},
    )


# Checking


def meant(name: str, known: Iterable[str]) -> str:
    """The end of a message about an unknown name: the one that was meant, if any is near."""
    from difflib import get_close_matches

    near = get_close_matches(name, sorted(known), 1)
    return f"; did you mean “{near[0]}”?" if near else ""


def _faults(given: Mapping[str, Any], file: str) -> Iterator[Fault]:
    for key in given.keys() - set(_KEYS):
        yield (key,), f"“{key}” is no setting{meant(key, _KEYS) or _all(_KEYS)}"
    if "ground_at" in given:
        yield from _one_of(("ground_at",), given["ground_at"], WORDS)
    if "region" in given:
        yield from _one_of(("region",), given["region"], REGIONS)
    for key in ("leave_out", "packs", "without_packs"):
        yield from _texts(key, given.get(key, []))
    seconds = given.get("rule_seconds", 1)
    if _wanted(1, seconds) or seconds <= 0:
        yield ("rule_seconds",), f"`rule_seconds` must be a number above 0, {_not(seconds)}"
    yield from _pack_faults(given.get("packs"), os.path.dirname(file))  # noqa: PTH120


def _pack_faults(names: Any, folder: str) -> Iterator[Fault]:
    root = os.path.realpath(folder)
    for name in names if isinstance(names, list) else ():
        if not isinstance(name, str):
            continue
        if not name.endswith((SHEET, ".py")):
            yield ("packs", name), f"“{name}” is no pack: a rule sheet ends in {SHEET}, code in .py"
        elif not _within(os.path.join(folder, name), root):  # noqa: PTH118
            yield (
                ("packs", name),
                f"“{name}” lies outside this file's folder; put it there, or name it with --pack",
            )


def _within(path: str, root: str) -> bool:
    try:
        return os.path.commonpath([os.path.realpath(path), root]) == root
    except ValueError:  # another drive, or no name for a file
        return False


def _faults_of_rules(given: Mapping[str, Any], rules: Mapping[str, Rule]) -> Iterator[Fault]:
    yield from _left_out_faults(given.get("leave_out"), rules)
    yield from _table_faults(given.get("settings", {}), rules)


def _left_out_faults(names: Any, rules: Mapping[str, Rule]) -> Iterator[Fault]:
    known = {*rules, *(rule.family for rule in rules.values())}
    for name in names if isinstance(names, list) else ():
        if isinstance(name, str) and name not in known:
            yield ("leave_out", name), f"“{name}” is no rule or family{meant(name, known)}"


def _table_faults(tables: Any, rules: Mapping[str, Rule]) -> Iterator[Fault]:
    if not isinstance(tables, dict):
        yield ("settings",), f'`settings` must be tables as [settings."bands/gap"], {_not(tables)}'
        return
    for name, table in tables.items():
        yield from _rule_faults(name, table, rules)


def _rule_faults(name: str, table: Any, rules: Mapping[str, Rule]) -> Iterator[Fault]:
    at = ("settings", name)
    if name not in rules:
        family = any(rule.family == name for rule in rules.values())
        hint = f'; write a rule in quotes: [settings."{name}/..."]' if family else ""
        yield at, f"“{name}” is no rule{hint or meant(name, rules)}"
        return
    if not isinstance(table, dict):
        yield at, f"what is set for “{name}” must be a table, {_not(table)}"
        return
    settings = rules[name].settings
    known = ("word", *settings)
    for key, value in table.items():
        if key == "word":
            yield from _one_of((*at, key), value, WORDS)
        elif key not in settings:
            yield (*at, key), f"“{key}” is no setting of “{name}”{meant(key, known) or _all(known)}"
        else:
            wanted = instead(settings[key], value)
            if wanted:
                yield (*at, key), f"`{key}` of “{name}” must be {wanted}, {_not(value)}"


def instead(setting: Setting, value: Any) -> str | None:
    """What a number of a rule should be instead; None where it can be that."""
    wanted = _count(value) if setting.count else _wanted(setting.default, value)
    return wanted or _within_bounds(setting, value)


def _within_bounds(setting: Setting, value: Any) -> str | None:
    least, most = setting.least, setting.most
    if (least is None or value >= least) and (most is None or value <= most):
        return None
    if most is None:
        return f"a number from {least:g} up"
    return f"a number up to {most:g}" if least is None else f"a number from {least:g} to {most:g}"


def _count(value: Any) -> str | None:
    whole = isinstance(value, int) and not isinstance(value, bool) and value >= 0
    return None if whole else "a whole number from 0 up"


def _wanted(default: Any, value: Any) -> str | None:
    """What a rule's setting should be instead; None where it is."""
    if isinstance(default, bool):
        return None if isinstance(value, bool) else "true or false"
    if isinstance(default, int | float):
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return None if number and abs(value) < float("inf") else "a number"
    if isinstance(default, str):
        return None if isinstance(value, str) else "a text in quotes"
    whole = f"a list of {len(default)}"
    if not isinstance(value, list) or len(value) != len(default):
        return whole
    its = (_wanted(default[0], one) for one in value)
    return next((f"{whole}, each {it}" for it in its if it), None)


def _one_of(keys: Keys, value: Any, known: tuple[str, ...]) -> Iterator[Fault]:
    if value in known:
        return
    near = meant(value, known) if isinstance(value, str) else ""
    yield keys, f"`{keys[-1]}` must be {_or(known)}, {_not(value)}{near}"


def _texts(key: str, value: Any) -> Iterator[Fault]:
    if not isinstance(value, list):
        yield (key,), f'`{key}` must be a list of texts, as in ["a", "b"], {_not(value)}'
        return
    for one in value:
        if not isinstance(one, str):
            yield (key,), f"`{key}` must be a list of texts; it has {_said(one)} in it"


def _all(known: Iterable[str]) -> str:
    return f"; known are {', '.join(known)}"


def _or(known: tuple[str, ...]) -> str:
    return f"{', '.join(known[:-1])} or {known[-1]}"


def _not(value: Any) -> str:
    return f"not {_said(value)}"


def _said(value: Any) -> str:
    match value:
        case str():
            return f"“{value}”"
        case bool():
            return "true" if value else "false"
        case int() | float():
            return str(value) if len(str(value)) < 40 else "so long a number"
        case list():
            return f"a list of {len(value)}"
        case dict():
            return "a table"
    return "a date or time"


# Places


def _place(text: str, keys: Keys) -> tuple[int, int]:
    """Line and column of a key, from 1: its names are looked for one after the other.

    The last may be an entry of a list.  What is not found stands where the name before it does.
    """
    import re

    lines = [line.partition("#")[0] for line in text.split("\n")]
    found, start = (1, 1), 0
    for index, key in enumerate(keys):
        end = r"" if index and keys[0] in ("leave_out", "packs") else r"\s*[=.\]]"
        name = re.compile(rf"(?<![\w/-])[\"']?{re.escape(key)}(?![\w/-])[\"']?{end}")
        for number in range(start, len(lines)):
            match = name.search(lines[number])
            if match is not None:
                found, start = (number + 1, match.start() + 1), number
                break
    return found
