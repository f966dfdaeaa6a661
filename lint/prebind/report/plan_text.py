"""A plan as tables for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from prebind.report.cells import NOTHING, heading, percent, us
from prebind.report.tables import Numbers, Rows, table
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterable

Json = Mapping[str, Any]

NOTE = (
    "A plan is a proposal, worked out from what is written down. A person decides. Bind with the "
    "propeller off and the model restrained; prove controls, throttle cut, states, corrections and "
    "failsafe on the model before it flies. The law where you fly, the site's rules, the makers' "
    "instructions and an experienced instructor come first."
)

_FURTHER = {
    "switches_of_two": ("switch of two positions", "switches of two positions"),
    "switches_of_three": ("switch of three positions", "switches of three positions"),
    "sprung": ("sprung button or switch", "sprung buttons or switches"),
    "continuous": ("slider or knob", "sliders or knobs"),
}

_LOST = {
    "cut-in-reach": "throttle cut out of reach of the free hand",
    "recovery-in-reach": "recovery only by letting go of a stick",
    "same-control": "on another control than in the rest of the fleet",
    "gentlest-at-end": "the most protective mode not at an end",
    "states-as-listed": "states in another order than listed",
    "kept-if-room": "wishes left out",
    "spare-channels": "spare channels missing",
    "few-changes": "changes to today's setup",
    "no-waste": "switch positions unused",
}


def plan_text(plan: Json, width: int) -> Iterator[str]:
    """The report `plan`: which transmitter, then the answers model by model."""
    yield from _transmitters(plan, width)
    for answer in plan["answers"]:
        yield from _answer(answer, plan, width)
    yield f"\n{paragraph(NOTE, width)}"


def contradiction_lines(plan: Json) -> Iterator[str]:
    """Each contradiction of a model with a transmitter, each wish on a line with its place."""
    for radio in plan["transmitters"]:
        for model in radio["models"]:
            for found in model["contradictions"]:
                yield from _contradiction(found, model["model"], radio["name"], plan["path"])


def _contradiction(found: Json, model: str, radio: str, name: str) -> Iterator[str]:
    first = found["wishes"][0]
    yield (
        f"{_place(first, name)}: contradiction: “{clean(model)}” does not fit "
        f"“{clean(radio)}”: {clean(found['message'])}\n"
    )
    for wish in found["wishes"]:
        yield f"{_place(wish, name)}: wish: {clean(wish['asks'])}\n"
    remedies = "; or ".join(clean(it) for it in found["remedies"])
    yield f"{_place(first, name)}: remedy: {remedies}\n"


def _place(wish: Json, name: str) -> str:
    return f"{clean(name)}:{wish['line']}:{wish['column']}"


# Which transmitter


def _transmitters(plan: Json, width: int) -> Iterator[str]:
    yield heading("Which transmitter", width).removeprefix("\n")
    heads = [
        "Transmitter",
        Numbers("Serves"),
        Numbers("Spare channels"),
        Numbers("Switches"),
        Numbers("Positions"),
        "Tightest model",
    ]
    yield table(heads, [_transmitter(radio) for radio in plan["transmitters"]], width)
    for radio in plan["transmitters"]:
        if radio["tightest"] is not None:
            yield f"\n{paragraph(_next(radio), width)}"


def _transmitter(radio: Json) -> list[str]:
    models = radio["models"]
    fit = sum(model["fits"] for model in models)
    tightest = _tightest(radio)
    spare = tightest["spare"] if tightest is not None else {}
    numbers = [str(spare.get(key, NOTHING)) for key in ("channels", "switches", "positions")]
    return [
        radio["name"],
        f"{fit} of {len(models)}",
        *numbers,
        radio["tightest"] or NOTHING,
    ]


def _tightest(radio: Json) -> Json | None:
    return next((it for it in radio["models"] if it["model"] == radio["tightest"]), None)


def _next(radio: Json) -> str:
    """What a model may ask for beyond what the tightest needs."""
    tightest = _tightest(radio)
    assert tightest is not None
    further = [
        f"{count} {_FURTHER[kind][count != 1]}"
        for kind, count in tightest["further"].items()
        if count
    ]
    controls = f", and of controls for any one of: {', '.join(further)}" if further else ""
    channels = _count(tightest["spare"]["channels"], "channel")
    return (
        f"On “{clean(radio['name'])}” the next model may ask for all that “"
        f"{clean(radio['tightest'])}” needs, for {channels} more{controls}."
    )


# Answers


def _answer(answer: Json, plan: Json, width: int) -> Iterator[str]:
    radio = clean(plan["transmitter"])
    if answer["put_first"] is None:
        proven = "proven" if answer["proven"] else "the best found, not proven"
        title = f"The best plan on “{radio}”: {proven}"
    else:
        title = (
            f"If “{answer['put_first']}” counted above all: {answer['total']} instead of "
            + str(plan["answers"][0]["total"])
        )
    yield heading(title, width)
    yield paragraph(_losses(answer["losses"]), width)
    if answer["put_first"] is not None:
        yield paragraph(_against(answer, plan["answers"][0]), width)
    best = plan["answers"][0]["models"]
    for model in answer["models"]:
        if answer["put_first"] is None or model not in best:
            yield from _model(model, width)


def _losses(losses: Json) -> str:
    if not losses:
        return "Every preference is met."
    return "Not as preferred: " + _listed(f"{_LOST[name]}: {n}" for name, n in losses.items()) + "."


def _against(answer: Json, best: Json) -> str:
    """What this answer trades against the best one."""
    names = dict.fromkeys([*best["losses"], *answer["losses"]])
    gains = [name for name in names if _lost(answer, name) < _lost(best, name)]
    costs = [name for name in names if _lost(answer, name) > _lost(best, name)]
    gained = _listed(f"{name} {_lost(best, name)} → {_lost(answer, name)}" for name in gains)
    paid = _listed(f"{name} {_lost(best, name)} → {_lost(answer, name)}" for name in costs)
    return f"Gains {gained}; pays {paid}."


def _lost(answer: Json, name: str) -> int:
    return int(answer["losses"].get(name, 0))


def _listed(parts: Iterable[str]) -> str:
    return "; ".join(parts)


def _model(model: Json, width: int) -> Iterator[str]:
    yield heading(f"“{clean(model['model'])}”", width)
    rows: Rows = [
        [
            str(line["channel"]),
            line["name"],
            ", ".join(map(str, line["ports"])) or NOTHING,
            line["control"] or "mixed",
        ]
        for line in model["lines"]
    ]
    yield table([Numbers("Channel"), "Function", "Ports", "Control"], rows, width)
    for selector in model["selectors"]:
        yield from _selector(selector, width)
    for text in _beside(model):
        yield f"\n{paragraph(text, width)}"


def _selector(selector: Json, width: int) -> Iterator[str]:
    title = f"{clean(selector['name'])}, on {clean(selector['control'])}"
    yield f"\n{paragraph(title, width)}"
    rows = [
        [
            found["position"] or percent(found["percent"]),
            us(found["us"]),
            found["state"] or NOTHING,
            NOTHING if found["margin_us"] is None else us(found["margin_us"]),
        ]
        for found in selector["positions"]
    ]
    yield table(["Position", Numbers("Pulse"), "State", Numbers("Margin")], rows, width)


def _beside(model: Json) -> Iterator[str]:
    """What takes no channel, what is left out, and what changes."""
    if model["cut"] is not None:
        cut = model["cut"]
        yield f"Throttle cut: {clean(cut['control'])} at “{clean(cut['position'])}”."
    selected = {line["control"] for line in model["lines"]}
    if model["cut"] is not None:
        selected.add(model["cut"]["control"])
    others = [
        f"{clean(it['job'])} on {clean(it['control'])}"
        for it in model["controls"]
        if it["control"] not in selected
    ]
    if others:
        yield f"Without a channel: {', '.join(others)}."
    if model["left_out"]:
        yield f"Left out: {', '.join(clean(it['name']) for it in model['left_out'])}."
    if model["changes"]:
        yield f"Changes: {'; '.join(map(_change, model['changes']))}."


def _change(change: Json) -> str:
    what = f"{clean(change['what'])} from {change['of']} {clean(change['today'])}"
    return f"{what} to {clean(change['planned'])}"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")
