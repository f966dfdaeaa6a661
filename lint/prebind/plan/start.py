"""A setup that is begun: what is not known yet, the questions that settle it, and their answers.

The document is complete at every moment.  What is not known is left out of it, and its key stands
under `x-not-known` beside the gap.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

from attrs import frozen

from prebind.document.positions import split
from prebind.plan.setup import NOT_KNOWN

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Json = dict[str, Any]
Kind = Literal["number", "pair", "choice", "several"]

_OFF = "Propeller off, model restrained: "


@frozen
class Question:
    """`id`: the JSON Pointer of what is asked for.  `default`: what stands there now, if anything.

    A pair is [low, high]; several are any of the choices, in a list.
    """

    id: str
    text: str
    kind: Kind
    choices: tuple[str, ...] = ()
    default: Any = None


class Unfit(Exception):
    """An answer that is none; the message says what is wanted."""


# From a template


_MEASURED: Mapping[str, tuple[str, ...]] = {
    "model": ("mass_g", "wing", "max_speed_m_s"),
    "transmitter": ("name", "start_checks"),
    "receiver": ("name", "frame_ms"),
}
_OF_A_SERVO = ("increasing_pulse", "kind", "pulse_us", "centre_us", "volts", "stall_a")
_ASKED_ANYWAY = ("/transmitter/channels", "/transmitter/stick_mode", "/receiver/inputs")


def blank(template: Mapping[str, Any], name: str) -> Json:
    """A template as the start of a setup: its structure stays, what was measured on it goes."""
    from copy import deepcopy

    setup = deepcopy(dict(template))
    for section, keys in _MEASURED.items():
        for key in keys:
            setup[section].pop(key, None)
        setup[section] = {**setup[section], NOT_KNOWN: [key for key in keys if _asked_for(key)]}
    setup["model"]["name"] = name
    for channel in setup["channels"]:
        channel.pop("reversed", None)
        if channel.pop("trim_range_percent", None) is not None:
            channel[NOT_KNOWN] = ["trim_range_percent"]
    for override in setup.get("overrides", ()):
        if override.pop("release", None) is not None:
            override[NOT_KNOWN] = ["release"]
    _blank_receiver(setup["receiver"])
    servos, surfaces = setup.get("servos", []), setup.get("surfaces", [])
    for servo in servos:
        _keep(servo, ("port", "surface", "y_lead"), _OF_A_SERVO)
    for surface in surfaces:
        _keep(surface, ("id", "function", "side"), ("throw_deg",))
    motor = "engine" if "engine" in setup else "speed_controls"
    gone = [key for key in ("power", motor, "sign_offs", "waivers") if setup.pop(key, None)]
    note = "Begun from an airframe's template. Prove it on the bench, propeller off, first."
    order = {"format": setup.pop("format"), "x-note": note}
    setup.pop("x-note", None)
    return {**order, NOT_KNOWN: [*dict.fromkeys([*gone, motor, "sign_offs"])], **setup}


def _asked_for(key: str) -> bool:
    return key not in ("name", "wing")


def _blank_receiver(receiver: Json) -> None:
    for output in receiver["outputs"]:
        output.pop("reversed", None)
    failsafe = receiver.get("failsafe")
    if failsafe is not None:
        failsafe.pop("delay_s", None)
        failsafe |= {"stored": "at-bind", NOT_KNOWN: ["stored", "delay_s"]}
    stabiliser = receiver.get("stabiliser", {})
    for axis in stabiliser.get("axes", ()):
        axis.pop("gain_percent", None)
        axis |= {"sense": "normal", NOT_KNOWN: ["sense", "gain_percent"]}


def _keep(entry: Json, keys: tuple[str, ...], missing: tuple[str, ...]) -> None:
    for key in [key for key in entry if key not in keys]:
        del entry[key]
    entry[NOT_KNOWN] = list(missing)


# Questions


def questions(setup: Mapping[str, Any], *, structure: bool = False) -> list[Question]:
    """What is still to be asked, what a motor hangs on first.

    `structure`: also what has a default, as the number of channels.
    """
    found = [*_anyway(setup)] if structure else []
    for section in setup.get(NOT_KNOWN, ()):
        found += _of_section(section, setup)
    for at, entry in _entries(setup):
        for key in entry.get(NOT_KNOWN, ()) if at else ():
            asked = _question(f"{at}/{key}", key, entry, setup)
            if asked is not None:
                found.append(asked)
    return found


def _entries(setup: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Every object of the document, with its pointer, in the order in which it is asked about."""
    order = ("transmitter", "overrides", "channels", "receiver", "servos", "surfaces", "model")
    for section in (*order, *(key for key in setup if key not in order)):
        if section in setup and not section.startswith("x-"):
            yield from _below(f"/{section}", setup[section])


def _below(at: str, value: Any) -> Iterator[tuple[str, Mapping[str, Any]]]:
    if isinstance(value, Mapping):
        yield at, value
        for key, inner in value.items():
            if not key.startswith("x-"):
                yield from _below(f"{at}/{key}", inner)
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            yield from _below(f"{at}/{i}", inner)


_ANYWAY = {
    "/transmitter/channels": "How many channels does the transmitter send?",
    "/transmitter/stick_mode": "Which stick mode is it, 1 to 4?",
    "/receiver/inputs": "How many channels does the receiver take in?",
}

_TEXTS: Mapping[str, tuple[str, Kind, tuple[str, ...]]] = {
    "start_checks": (
        "What does the radio insist on when it is switched on?",
        "several",
        ("throttle-low", "cut-on", "first-positions"),
    ),
    "release": (
        "Does “{name}” let the motor run again only once the stick was low?",
        "choice",
        ("at-low", "at-once"),
    ),
    "trim_range_percent": (
        "How far can the trim of channel {channel} be moved, in percent?",
        "number",
        (),
    ),
    "frame_ms": ("How many milliseconds lie between two pulses of an output?", "number", ()),
    "stored": (
        "How does the receiver learn its failsafe?",
        "choice",
        ("at-bind", "by-menu", "in-transmitter"),
    ),
    "delay_s": ("After how many seconds without a link does the failsafe act?", "number", ()),
    "sense": (
        f"{_OFF}which sense has the stabiliser's {{axis}} axis?",
        "choice",
        ("normal", "reversed"),
    ),
    "gain_percent": ("Which gain has the {axis} axis, in percent?", "number", ()),
    "increasing_pulse": (
        f"{_OFF}as the pulse on port {{port}} grows, which way does {{part}} go?",
        "choice",
        (),
    ),
    "kind": ("Which kind is the servo of {part}?", "choice", ("digital", "analogue")),
    "pulse_us": ("Between which pulses may the servo of {part} be driven, in µs?", "pair", ()),
    "centre_us": ("Which pulse is neutral for the servo of {part}, in µs?", "number", ()),
    "volts": ("Between which voltages does the servo of {part} work?", "pair", ()),
    "stall_a": ("How many ampere does the servo of {part} draw when stalled?", "number", ()),
    "mass_g": ("What does the model weigh ready to fly, in grams?", "number", ()),
    "max_speed_m_s": ("Which highest airspeed is expected, in metres a second?", "number", ()),
}
"""By key: the question, the kind of answer, and what can be chosen."""


def _anyway(setup: Mapping[str, Any]) -> Iterator[Question]:
    for pointer in _ASKED_ANYWAY:
        value: Any = setup
        for token in split(pointer):
            value = value.get(token) if isinstance(value, Mapping) else None
        if value is not None:
            yield Question(pointer, _ANYWAY[pointer], "number", default=value)


def _of_section(section: str, setup: Mapping[str, Any]) -> Iterator[Question]:
    """Those for a section that is missing as a whole; the first throttle port's at least."""
    if section == "speed_controls":
        for i, port in enumerate(_throttle_ports(setup)):
            at = f"/speed_controls/{i}"
            yield Question(
                f"{at}/stop_below_us",
                f"{_OFF}at or below which pulse on port {port} does the motor stand still, in µs?",
                "number",
            )
            yield Question(
                f"{at}/full_above_us",
                f"{_OFF}at or above which pulse on port {port} is it at full power, in µs?",
                "number",
            )
    elif section == "engine":
        yield Question(
            "/engine/idle_us", "Between which pulses does the engine idle, in µs?", "pair"
        )
        yield Question(
            "/engine/stop_below_us",
            "At or below which pulse does the engine stop, in µs?",
            "number",
        )


def _throttle_ports(setup: Mapping[str, Any]) -> list[int]:
    channels = {it["channel"] for it in setup["channels"] if it["function"] == "throttle"}
    outputs = setup.get("receiver", {}).get("outputs", ())
    return sorted(it["port"] for it in outputs if it["channel"] in channels)


def _question(
    at: str, key: str, entry: Mapping[str, Any], setup: Mapping[str, Any]
) -> Question | None:
    if key not in _TEXTS:
        return None
    text, kind, choices = _TEXTS[key]
    words = {
        "part": entry.get("surface") or f"what is on port {entry.get('port')}",
        **{name: entry.get(name) for name in ("port", "axis", "channel", "name")},
    }
    if key == "increasing_pulse":
        choices = _ways(entry, setup)
    default = entry.get(key) if key in ("stored", "sense") else None
    return Question(at, text.format(**words), kind, choices, default)


def _ways(servo: Mapping[str, Any], setup: Mapping[str, Any]) -> tuple[str, ...]:
    surfaces = {it["id"]: it["function"] for it in setup.get("surfaces", ())}
    function = surfaces.get(servo.get("surface", ""))
    if function == "rudder":
        return ("trailing-edge-left", "trailing-edge-right")
    if function == "steering":
        return ("wheel-left", "wheel-right")
    if function in ("airbrake", "spoiler", None):
        return ("opens", "closes", "rises", "falls")
    return ("trailing-edge-up", "trailing-edge-down")


# Answers


def understood(question: Question, text: str) -> Any:
    """The value that somebody typed.  Raises Unfit."""
    words = text.replace(",", " ").split()
    match question.kind:
        case "choice":
            found = [it for it in question.choices if it.startswith(text)]
            exact = [it for it in found if it == text]
            if len(exact or found) != 1:
                raise Unfit(f"type one of {', '.join(question.choices)}")
            return (exact or found)[0]
        case "several":
            if words == ["nothing"]:
                return []
            if not words or not set(words) <= set(question.choices):
                raise Unfit(f"type any of {', '.join(question.choices)}, or nothing")
            return list(dict.fromkeys(words))
    numbers = [_number(word) for word in words]
    if question.kind == "pair":
        if len(numbers) != 2:
            raise Unfit("type two numbers, the lower first")
        return numbers
    if len(numbers) != 1:
        raise Unfit("type one number")
    return numbers[0]


def _number(word: str) -> float:
    from math import isfinite

    try:
        value = float(word)
    except ValueError:
        raise Unfit(f"“{word}” is no number") from None
    if not isfinite(value):
        raise Unfit(f"“{word}” is no number")
    return int(value) if value.is_integer() else value


def operations(setup: Mapping[str, Any], answers: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    """The answers as a JSON Patch (RFC 6902) on the document.

    A speed control or engine of which only half is answered stays out.
    """
    found: list[Mapping[str, Any]] = []
    gaps: dict[str, list[str]] = {}
    for section in setup.get(NOT_KNOWN, ()):
        made = _section(section, setup, answers)
        if made is not None:
            found.append({"op": "add", "path": f"/{section}", "value": made})
            gaps.setdefault("", []).append(section)
    for pointer, value in answers.items():
        at, _, key = pointer.rpartition("/")
        if at.split("/")[1] in setup:
            found.append({"op": "add", "path": pointer, "value": value})
            gaps.setdefault(at, []).append(key)
    entries = {"": setup, **dict(_entries(setup))}
    for at, keys in gaps.items():
        missing = entries[at].get(NOT_KNOWN, [])
        left = [key for key in missing if key not in keys]
        if left:
            found.append({"op": "replace", "path": f"{at}/{NOT_KNOWN}", "value": left})
        elif missing:
            found.append({"op": "remove", "path": f"{at}/{NOT_KNOWN}"})
    return found


def _section(section: str, setup: Mapping[str, Any], answers: Mapping[str, Any]) -> Any:
    if section == "engine":
        made = _answered("/engine", ("idle_us", "stop_below_us"), answers)
        ports = _throttle_ports(setup)
        return {"port": ports[0], **made} if made is not None and ports else None
    if section == "speed_controls":
        found = []
        for i, port in enumerate(_throttle_ports(setup)):
            made = _answered(f"/speed_controls/{i}", ("stop_below_us", "full_above_us"), answers)
            if made is None:
                return None
            found.append({"port": port, **made})
        return found or None
    return None


def _answered(at: str, keys: tuple[str, ...], answers: Mapping[str, Any]) -> Json | None:
    made = {key: answers[f"{at}/{key}"] for key in keys if f"{at}/{key}" in answers}
    return made if len(made) == len(keys) else None
