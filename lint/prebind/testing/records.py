"""What a rule's record must hold: looked at without running the rule."""

from __future__ import annotations

import re
from json import dumps
from typing import TYPE_CHECKING, get_args
from unicodedata import category

from prebind.rule import WORDS, Each, Fails, Need

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.packs import Pack
    from prebind.rule import Example, Rule

NAME = re.compile("[a-z0-9-]+")
_ID = re.compile(f"{NAME.pattern}/{NAME.pattern}")
_SETTING = re.compile("[a-z][a-z0-9_]*")
_ENDS = re.compile(r"[.!?][”’)]?(?=\s|$)")
_END = re.compile(r"[.!?][”’)]?$")
_CLAIM = re.compile(
    r"(?i)\b(safe|fit|cleared) (to fly|for flight)\b|\bairworthy\b|\b(is|are|be) (\w+ )?safe\b"
)
_DENIED = re.compile(r"(?i)\b(not|never|no|nobody|nothing|until|unless|whether|cannot)\b|n't\b")
_SHAPELESS = {"Cc", "Cf", "Co", "Cs", "Zl", "Zp"}
"""Unicode categories that show nothing of their own: control, format, private, surrogate, break."""

TITLE = 80
"""Characters of the longest title."""


def ids(rules: Iterable[Rule]) -> Iterator[str]:
    for rule in rules:
        if not _ID.fullmatch(rule.id):
            yield f"“{rule.id}” is no id: family/name, of a to z, 0 to 9 and -"


def texts(rules: Iterable[Rule]) -> Iterator[str]:
    for rule in rules:
        yield from (f"{rule.id}: {what}" for what in _texts(rule))


def _texts(rule: Rule) -> Iterator[str]:
    lines = {"title": rule.title, "source": rule.source, "since": rule.since}
    settings = {f"the meaning of {name}": it.meaning for name, it in rule.settings.items()}
    for name, text in (lines | settings).items():
        yield from unplain(name, text)
    passages = {"safety": rule.safety, "remedy": rule.remedy, "bench": rule.bench}
    for name, text in (passages | {"the docstring": rule.why}).items():
        yield from sentences(name, text)
    if len(rule.title) > TITLE:
        yield f"title has {len(rule.title)} characters, more than {TITLE}"
    if _END.search(rule.title) or rule.title[:1].islower():
        yield f"title begins with a capital and has no full stop, unlike “{rule.title}”"
    if len(_ENDS.findall(rule.safety)) < 2:
        yield "safety names the hazard and, in a sentence of its own, what to do about it"


def unplain(name: str, text: str) -> Iterator[str]:
    """What keeps a text from being one line of plain text."""
    if not text.strip():
        yield f"{name} is empty"
        return
    if text != text.strip():
        yield f"{name} has blanks around it: {text!r}"
    odd = sorted({char for char in text if category(char) in _SHAPELESS})
    if odd:
        yield f"{name} holds {', '.join(f'U+{ord(char):04X}' for char in odd)}, which shows nothing"


def sentences(name: str, text: str) -> Iterator[str]:
    """What keeps a text, which may be broken into lines, from being plain sentences."""
    yield from unplain(name, text.replace("\n", " "))
    if text.strip() and not _END.search(text):
        yield f"{name} does not end as a sentence does: “…{text[-30:]}”"


def claims(rules: Iterable[Rule]) -> Iterator[str]:
    """No rule may promise what only a person can judge."""
    for rule in rules:
        its = (rule.title, rule.why, rule.safety, rule.remedy, rule.bench, rule.source)
        for text in (*its, *(example.why for example in rule.examples())):
            yield from claimed(rule.id, text)


def claimed(whose: str, text: str) -> Iterator[str]:
    for said in re.split(r"(?<=[.!?])\s+", text):
        if _CLAIM.search(said) and not _DENIED.search(said):
            yield f"{whose}: nothing here may say that a model is safe: “{said}”"


def places(rules: Iterable[Rule]) -> Iterator[str]:
    for rule in rules:
        if not callable(rule.each) and rule.each not in get_args(Each):
            yield f"{rule.id}: there is no `each` {rule.each!r}"
        for need in rule.needs:
            if need not in get_args(Need):
                yield f"{rule.id}: there is no need {need!r}"
        if rule.word not in WORDS:
            yield f"{rule.id}: {rule.word!r} is no signal word"


def settings(rules: Iterable[Rule]) -> Iterator[str]:
    for rule in rules:
        for name, setting in rule.settings.items():
            if not _SETTING.fullmatch(name):
                yield f"{rule.id}: “{name}” is no name of a setting: a to z, 0 to 9 and _"
            if setting.default is None or not plain_json(setting.default):
                yield f"{rule.id}: the default of {name} cannot be written down: {setting.default}"


def plain_json(value: object) -> bool:
    try:
        dumps(value, allow_nan=False)
    except (TypeError, ValueError):
        return False
    return True


def examples(rules: Iterable[Rule]) -> Iterator[str]:
    for rule in rules:
        its = list(rule.examples())
        found = {_finds(example) for example in its}
        if True not in found:
            yield f"{rule.id}: no example in which it fails, or asks a person to judge"
        if False not in found:
            yield f"{rule.id}: no example in which it passes"
        for example in its:
            yield from (
                f"{rule.id}: {what}" for what in unplain("`why` of an example", example.why)
            )


def _finds(example: Example) -> bool:
    """Whether the rule must find something there.  Some rules never fail, and only remind."""
    return isinstance(example, Fails) or getattr(example, "outcome", None) == "review"


def names(pack: Pack) -> Iterator[str]:
    for name, text in (("name", pack.name), ("version", pack.version)):
        yield from (f"the pack's {what}" for what in unplain(name, text))
