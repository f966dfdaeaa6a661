"""A plan as plain data, format `plan/1`: schema `plan.schema.json`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.plan.needs import CUT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.path.selector import Selected, SelectorPath
    from prebind.plan import Plan
    from prebind.plan.contradiction import Contradiction
    from prebind.plan.program import Assignment
    from prebind.plan.serving import Fit, Serving
    from prebind.plan.solve import Answer

Json = dict[str, Any]

FORMAT_NAME = "plan/1"


def plan_json(found: Plan, name: str = "-") -> Json:
    """The whole plan.  `name` is what it calls the wishes."""
    answers = [found.answer, *found.trades] if found.answer is not None else []
    return {
        "format": FORMAT_NAME,
        "path": name,
        "transmitters": [_serving(it, found) for it in found.servings],
        "transmitter": found.chosen.radio.name if found.chosen is not None else None,
        "answers": [_answer(it) for it in answers],
    }


def _serving(one: Serving, found: Plan) -> Json:
    tightest = one.tightest if one.serves else None
    return {
        "name": one.radio.name,
        "at": one.radio.at,
        "channels": one.radio.channels,
        "serves": one.serves,
        "total": one.search.total,
        "proven": one.search.proven,
        "tightest": tightest.needs.name if tightest is not None else None,
        "models": [_fit(fit, found) for fit in one.fits],
    }


def _fit(fit: Fit, found: Plan) -> Json:
    return {
        "model": fit.needs.name,
        "at": fit.needs.at,
        "fits": fit.fits,
        "spare": {
            "channels": fit.channels,
            "inputs": fit.inputs,
            "ports": fit.ports,
            "switches": fit.switches,
            "positions": fit.positions,
        },
        "further": fit.further,
        "contradictions": [_contradiction(it, found) for it in fit.contradictions],
    }


def _contradiction(it: Contradiction, found: Plan) -> Json:
    wishes = []
    for wish in it.wishes:
        place = found.asked.locate(wish.at)
        wishes.append(
            {"at": wish.at, "line": place.line, "column": place.column, "asks": wish.text}
        )
    return {
        "among": it.half,
        "message": it.message,
        "wishes": wishes,
        "remedies": list(it.remedies),
    }


def _answer(answer: Answer) -> Json:
    return {
        "put_first": answer.put_first,
        "total": answer.total,
        "proven": answer.proven,
        "losses": {name: lost for name, lost in answer.losses.items() if lost},
        "usual": dict(answer.usual),
        "models": [_model(it) for it in answer.assignments],
    }


def _model(found: Assignment) -> Json:
    from prebind.plan.setup import setup_of

    needs = found.needs
    setup = setup_of(found) if needs.wish else None
    cut = found.controls.get(CUT)
    texts = {entry.id: entry.text for entry in needs.entries}
    return {
        "model": needs.name,
        "at": needs.at,
        "lines": [
            {
                "name": line.id,
                "function": line.function,
                "channel": found.channels[line.id],
                "ports": list(found.ports.get(line.id, ())),
                "control": found.controls.get(line.job or ""),
            }
            for line in sorted(
                (it for it in needs.lines if it.id in found.channels),
                key=lambda it: found.channels[it.id],
            )
        ],
        "controls": [
            {"job": job.role, "control": found.controls[job.id]}
            for job in needs.jobs
            if job.id in found.controls
        ],
        "cut": None if cut is None or setup is None else _cut(setup, cut),
        "selectors": [] if setup is None else list(_selectors(setup)),
        "left_out": [{"at": id_, "name": texts[id_]} for id_ in found.dropped],
        "changes": list(_changes(found)),
        "losses": {name: lost for name, lost in found.losses.items() if lost},
        "setup": setup,
    }


def _cut(setup: Json, control: str) -> Json | None:
    for override in setup.get("overrides", ()):
        return {"control": control, "position": override["when"][0]["positions"][0]}
    return None


def _selectors(setup: Json) -> Iterator[Json]:
    """Each position with its state, pulse and margin, as the signal path has it."""
    from prebind.document.structure import structure
    from prebind.path import Path

    path = Path(structure(setup))
    for selector in path.selectors:
        yield {
            "name": selector.name,
            "channel": selector.entry.channel,
            "control": selector.channel.control,
            "positions": list(_positions(selector)),
        }


def _positions(selector: SelectorPath) -> Iterator[Json]:
    control = selector.channel.control or ""
    for found in selector.positions:
        yield {
            "position": found.controls[control] if found.point else None,
            "percent": _number(found, "percent"),
            "us": _number(found, "us"),
            "state": found.states[0] if found.states else None,
            "margin_us": None if found.margin_us is None else round(found.margin_us, 3),
        }


def _number(found: Selected, unit: str) -> Any:
    low = round(getattr(found, f"low_{unit}"), 3) + 0.0
    high = round(getattr(found, f"high_{unit}"), 3) + 0.0
    return low if found.point else [low, high]


def _changes(found: Assignment) -> Iterator[Mapping[str, Any]]:
    """What is not as it is in the setup of today."""
    needs = found.needs
    for job in needs.jobs:
        today = needs.control_today(job)
        now = found.controls.get(job.id)
        if today is not None and now is not None and now != today:
            yield {"what": job.role, "of": "control", "today": today, "planned": now}
    channels = needs.today.channels if needs.today is not None else {}
    for line in needs.lines:
        today_on, planned = channels.get(line.id), found.channels.get(line.id)
        if today_on is not None and planned is not None and planned != today_on:
            yield {"what": line.id, "of": "channel", "today": today_on, "planned": planned}
