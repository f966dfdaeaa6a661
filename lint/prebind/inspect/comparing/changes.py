"""What two setups do, fact by fact: where they differ, before and after."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from attrs import frozen

from prebind.inspect.comparing.facts import Fact, Key, answer, facts, port_name, throw_at
from prebind.inspect.comparing.pulses import most_moved
from prebind.inspect.comparing.recorded import recorded, shallow
from prebind.inspect.comparing.rows import changed_rows
from prebind.path.channel import ChannelPath
from prebind.path.facts import NotChecked, NotKnown
from prebind.path.port import PortPath
from prebind.path.proofs import tenth

if TYPE_CHECKING:
    from collections.abc import Callable

    from prebind.inspect.comparing.facts import Facts, Section, Value
    from prebind.inspect.comparing.pulses import Source
    from prebind.inspect.comparing.recorded import Entry
    from prebind.path import Path
    from prebind.path.facts import Controls
    from prebind.path.selector import SelectorPath

    T = TypeVar("T")

SECTIONS: tuple[Section, ...] = (
    "motors",
    "failsafe",
    "directions",
    "selectors",
    "surfaces",
    "ports",
    "recorded",
)
"""In the order in which they are told: first what can hurt somebody."""

_NOTHING = Fact(None, "", None)


@frozen
class Change:
    """One fact that is another one now.

    `about` names the part of the setup, `fact` what is told of it, `controls` where they stand
    where that matters.  A value's keys say what it is and in which unit; None means that there is
    nothing, `not_known` why there is no answer.  `at_old` and `at_new` are JSON Pointers into the
    setups, None where one has no such part.  An empty `fact` is an entry as a whole.
    """

    section: Section
    about: str
    fact: str
    before: Value
    after: Value
    at_old: str | None
    at_new: str | None
    controls: Controls | None = None


class NotCompared(NamedTuple):
    """A fact that could not be laid side by side, and why."""

    section: Section
    about: str
    fact: str
    reason: str


def changes(old: Path, new: Path) -> tuple[list[Change], list[NotCompared]]:
    """What changed, by section, and what could not be compared.

    The older setup is spelt as the newer one: names tell which part is which.
    """
    found = _Changes(old, new)
    return sorted(found.changed, key=lambda it: SECTIONS.index(it.section)), found.not_compared


def _decides(path: Path) -> Any:
    """Everything that decides pulses, states and directions, with its defaults."""
    setup, stabiliser = path.setup, path.stabiliser
    keys = ("channels", "inputs", "phases", "mixes", "overrides", "servos", "surfaces")
    controls = path.controls.values()
    return [
        [getattr(setup, key) for key in keys],
        setup.transmitter.output,
        setup.model.tail,
        [
            (it.id, it.entry.kind, it.axis, [(at, it.value(at)) for at in it.positions])
            for it in controls
        ],
        [(it.centre_us, it.mix_limit_us, shallow(it.entry, "centre_us")) for it in path.ports],
        [(it.entry, it.expected) for it in path.axes],
        stabiliser and shallow(stabiliser, "axes", "expects", "mix_limit_percent", "selectors"),
        [(shallow(it.entry, "states"), _bands(it)) for it in path.selectors],
        setup.receiver and setup.receiver.failsafe,
    ]


def _bands(selector: SelectorPath) -> list[Any]:
    """In µs whichever unit they are written in: restating one may change its last digits."""
    return [
        (shallow(it.state, "band"), round(it.low_us, 6), round(it.high_us, 6))
        for it in selector.bands
    ]


class _Changes:
    def __init__(self, old: Path, new: Path) -> None:
        self._old = old
        self._new = new
        self.changed: list[Change] = []
        self.not_compared: list[NotCompared] = []
        self._same_path = _decides(old) == _decides(new)
        self._facts(facts(old), facts(new))
        self._recorded(recorded(old), recorded(new))
        self._selectors()
        self._pulses()

    def _facts(self, old: Facts, new: Facts) -> None:
        for key in dict.fromkeys((*new, *old)):
            before, after = old.get(key, _NOTHING), new.get(key, _NOTHING)
            reason = (after.value or {}).get("not_checked")
            if reason and "not_checked" in (before.value or {}):
                if not self._same_path:
                    self._beyond(key, after.about, reason)
            elif not _same(before.value, after.value):
                self._add(key, before, after)

    def _recorded(self, old: dict[str, Entry], new: dict[str, Entry]) -> None:
        for about in dict.fromkeys((*new, *old)):
            was, now = old.get(about), new.get(about)
            if was is None or now is None:
                before, after = (None if it is None else dict(it.keys) for it in (was, now))
                self._write(about, "", before, after, was, now)
                continue
            for key in dict.fromkeys((*now.keys, *was.keys)):
                before, after = (
                    None if it.keys.get(key) is None else {key: it.keys[key]} for it in (was, now)
                )
                if before != after:
                    self._write(about, key, before, after, was, now)

    def _write(
        self,
        about: str,
        fact: str,
        before: Value,
        after: Value,
        was: Entry | None,
        now: Entry | None,
    ) -> None:
        at = None if was is None else was.at, None if now is None else now.at
        self.changed.append(Change("recorded", about, fact, before, after, *at))

    def _selectors(self) -> None:
        old = {selector.name: selector for selector in self._old.selectors}
        for now in self._new.selectors:
            was = old.get(now.name)
            if was is None:
                continue
            about, key = f"“{now.name}”", Key("selectors", now.name, "state")
            rows = self._asked(key, about, partial(changed_rows, was, now))
            for row in rows or ():
                before, after = Fact(row.before, about, was.at), Fact(row.after, about, now.at)
                self._add(key, before, after, row.controls)

    def _pulses(self) -> None:
        """Of every port; and of channels where no port shows it, though a stabiliser may see it."""
        old, shown = _sources(self._old), set[int]()
        for what, now in _sources(self._new).items():
            was = old.get(what)
            if was is None or (isinstance(now, ChannelPath) and now.number in shown):
                continue
            about, key = _source_name(now), Key("ports", what, "pulse")
            moved = self._asked(key, about, partial(most_moved, was, now))
            if moved is not None:
                shown |= _feeding(now)
                before = Fact(_pulse(was, moved.before_us), _source_name(was), was.at)
                after = Fact(_pulse(now, moved.after_us), about, now.at)
                self._add(key, before, after, moved.controls)

    def _asked(self, key: Key, about: str, ask: Callable[[], T]) -> T | None:
        """None where there is no answer; what is not known is told among the facts."""
        try:
            return ask()
        except NotKnown:
            return None
        except NotChecked as reason:
            self._beyond(key, about, reason.message)
            return None

    def _beyond(self, key: Key, about: str, reason: str) -> None:
        self.not_compared.append(NotCompared(key.section, about, key.fact, reason))

    def _add(self, key: Key, before: Fact, after: Fact, controls: Controls | None = None) -> None:
        was, now = _tenths(before.value), _tenths(after.value)
        about = after.about or before.about
        if before.about not in ("", about):
            about = f"{about}, before {before.about}"
        self.changed.append(
            Change(key.section, about, key.fact, was, now, before.at, after.at, controls)
        )


def _sources(path: Path) -> dict[str, Source]:
    """What puts out pulses: every port, then the channels, but for those of selectors."""
    selecting = {selector.entry.channel for selector in path.selectors}
    ports = {f"port {port.number}": port for port in path.ports}
    channels = (channel for channel in path.channels if channel.number not in selecting)
    return {**ports, **{f"channel {channel.number}": channel for channel in channels}}


def _feeding(source: Source) -> set[int]:
    if isinstance(source, ChannelPath):
        return {source.number}
    return {channel.number for channel in source.channels}


def _source_name(source: Source) -> str:
    return port_name(source) if isinstance(source, PortPath) else f"channel {source.number}"


def _pulse(source: Source, us: float) -> Value:
    """A pulse, and what it makes of the surface where one can tell."""
    servos = source.servos if isinstance(source, PortPath) else ()
    throws = [answer(partial(throw_at, servo, us)) or {} for servo in servos]
    return {"us": us, **throws[0]} if len(throws) == 1 and "deg" in throws[0] else {"us": us}


def _same(before: Value, after: Value) -> bool:
    """Pulses and degrees to a tenth; why something is not known makes no difference."""
    was, now = (_tenths(it) for it in (before, after))
    for value in (was, now):
        if value and "not_known" in value:
            value["not_known"] = True
    return bool(was == now)


def _tenths(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _tenths(inside) for key, inside in value.items()}
    if isinstance(value, list):
        return [_tenths(inside) for inside in value]
    return tenth(value) if isinstance(value, float) else value
