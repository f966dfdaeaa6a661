"""The same setup with one thing changed: which setting is to blame, and what would mend it.

Asked only once something has been found.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.record import evolve
from prebind.rule import NotChecked, NotKnown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from prebind import ChannelPath, Path

    Alternative = tuple[str, Path]

_PLAIN: dict[str, Any] = {
    "subtrim_percent": 0.0,
    "trim_percent": (),
    "centre_us": None,
}
"""Settings with a single value, as they are where nothing was set."""


def as_if(path: Path, section: str, entry: Any, **changes: Any) -> Path:
    """The path of the setup in which this entry of a section has other values."""
    return _with(path, section, entry, (evolve(entry, **changes),))


def without(path: Path, section: str, entry: Any) -> Path:
    """The path of the setup that lacks this entry of a section."""
    return _with(path, section, entry, ())


def blame(path: Path, channel: ChannelPath, mended: Callable[[Path], bool]) -> str:
    """Where the one setting stands without which the fault is gone; else the channel's place."""
    for at, other in _alternatives(path, channel):
        try:
            if mended(other):
                return at
        except (NotKnown, NotChecked):
            continue
    return channel.at


def _with(path: Path, section: str, entry: Any, instead: tuple[Any, ...]) -> Path:
    setup, receiver = path.setup, path.setup.receiver
    entries = getattr(receiver if section == "outputs" else setup, section)
    here = next(i for i, other in enumerate(entries) if other is entry)
    changed: dict[str, Any] = {section: (*entries[:here], *instead, *entries[here + 1 :])}
    if section == "outputs" and receiver is not None:
        return path.traced(evolve(setup, receiver=evolve(receiver, **changed)))
    return path.traced(evolve(setup, **changed))


def _alternatives(path: Path, channel: ChannelPath) -> Iterable[Alternative]:
    """The setup without each of the settings that bear on this channel, in document order."""
    yield from _settings(path, "channels", channel.entry)
    for source in path.setup.inputs:
        if source.id == channel.entry.control:
            yield from _settings(path, "inputs", source)
    for mix in channel.mixes:
        yield mix.at, without(path, "mixes", mix)
    for port in path.setup.receiver.outputs if path.setup.receiver else ():
        if port.channel == channel.number:
            yield from _settings(path, "outputs", port)


def _settings(path: Path, section: str, entry: Any) -> Iterable[Alternative]:
    for key, plain in _PLAIN.items():
        if getattr(entry, key, plain) != plain:
            yield f"{entry.at}/{key}", as_if(path, section, entry, **{key: plain})
    travel: Any = getattr(entry, "travel_percent", None)
    for end in ("low", "high"):
        if getattr(travel, end, 100) != 100:
            full = evolve(travel, **{end: 100.0})
            yield (
                f"{entry.at}/travel_percent/{end}",
                as_if(path, section, entry, travel_percent=full),
            )
    for name, value in (("rates", "rate_percent"), ("curves", "points")):
        shapes = getattr(entry, name, None) or ()
        for i in range(len(shapes)):
            fewer = (*shapes[:i], *shapes[i + 1 :])
            yield f"{entry.at}/{name}/{i}/{value}", as_if(path, section, entry, **{name: fewer})
    if hasattr(entry, "reversed"):
        turned = as_if(path, section, entry, reversed=not entry.reversed)
        yield f"{entry.at}/reversed", turned
