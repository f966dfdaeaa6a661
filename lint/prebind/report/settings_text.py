"""Settings as text: what a file says, and what is in force and who decided it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.report.wording import clean, number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.inspect.inspector import Inspector
    from prebind.inspect.settings import Settings

    Row = tuple[str, str, str]

DEFAULT = "default"
_NONE = "none"


def spoken(settings: Settings) -> Iterator[str]:
    """Everything that a settings file says, a few words each."""
    if settings.ground_at is not None:
        yield f"ground_at {settings.ground_at}"
    if settings.leave_out:
        yield f"leave_out {', '.join(settings.leave_out)}"
    if settings.packs:
        yield f"packs {', '.join(settings.packs)}"
    if settings.without_packs:
        yield f"without_packs {', '.join(settings.without_packs)}"
    if settings.rule_seconds is not None:
        yield f"rule_seconds {number(settings.rule_seconds)}"
    if settings.region is not None:
        yield f"region {settings.region}"
    for name, word in settings.words.items():
        yield f"{name} word {word}"
    for name, numbers in settings.numbers.items():
        for key, value in numbers.items():
            yield f"{name} {key} {_said(value)}"


def in_force(
    inspector: Inspector, settings: Settings | None, options: Mapping[str, Any]
) -> Iterator[str]:
    """A line for each value in force: its key, the value, and who decided it.

    `options` are those given on the command line, by their names.
    """
    rows = list(_rows(inspector, settings, options))
    widths = [max(len(row[column]) for row in rows) for column in range(2)]
    for key, value, origin in rows:
        yield f"{key:<{widths[0]}}  {value:<{widths[1]}}  {origin}\n"


def _rows(
    inspector: Inspector, settings: Settings | None, options: Mapping[str, Any]
) -> Iterator[Row]:
    def row(keys: tuple[str, ...], default: Any, option: str = "") -> Row:
        line = settings.lines.get(keys) if settings is not None else None
        name = " ".join(clean(key) for key in keys if key != "settings")
        if options.get(option):
            return name, _said(options[option]), option
        if settings is None or line is None:
            return name, _said(default), DEFAULT
        return name, _said(_value(settings, keys)), f"{clean(settings.file)}:{line}"

    yield row(("ground_at",), "caution", "--ground-at")
    yield row(("leave_out",), (), "--leave-out")
    if options.get("--family"):
        yield row(("family",), (), "--family")
    yield row(("packs",), (), "--pack")
    yield row(("without_packs",), (), "--without-pack")
    yield row(("rule_seconds",), inspector.configuration.rule_seconds)
    yield row(("region",), None)
    for rule in inspector.rules.values():
        yield row(("settings", rule.id, "word"), rule.word)
        for key, setting in rule.settings.items():
            yield row(("settings", rule.id, key), setting.default)


def _value(settings: Settings, keys: tuple[str, ...]) -> Any:
    if len(keys) == 1:
        return getattr(settings, keys[0])
    _, rule, key = keys
    return settings.words[rule] if key == "word" else settings.numbers[rule][key]


def _said(value: Any) -> str:
    if value is None or value == () or value == []:
        return _NONE
    if isinstance(value, list | tuple):
        return ", ".join(map(_said, value))
    if isinstance(value, bool):
        return "true" if value else "false"
    return number(value) if isinstance(value, int | float) else clean(value)
