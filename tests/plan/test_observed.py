"""What models need, computed from the demo fleet's setups."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from prebind import Path as SignalPath
from prebind import read
from prebind.document import Document
from prebind.plan import plan
from prebind.plan.observed import observed
from prebind.plan.plain import plan_json
from prebind.plan.read import Asked
from prebind.plan.read import read as read_wishes
from prebind_rules.capacity._needed import needed

if TYPE_CHECKING:
    from prebind.plan.needs import Needs

EXAMPLES = Path(__file__).parents[1] / "examples"
FLEET = EXAMPLES / "fleet"


def path_of(file: Path, **changes: Any) -> SignalPath:
    data = json.loads(file.read_bytes()) | changes
    document = read(data, path=str(file), root=FLEET)
    assert isinstance(document, Document), document
    return SignalPath(document.setup)


def needs_of(name: str, **changes: Any) -> Needs:
    return observed(path_of(FLEET / f"{name}.setup.json", **changes))


@pytest.mark.parametrize("file", sorted(FLEET.glob("*.setup.json")), ids=lambda it: it.stem)
def test_as_many_channels_as_the_rules_count(file: Path) -> None:
    """Against the count that the rules of the family capacity make: channels that arrive."""
    path = path_of(file)
    needs = observed(path)
    assert needs.today is not None
    assert sorted(needs.today.channels.values()) == list(needed(path))


def test_a_model_with_all_kinds_of_controls() -> None:
    found = {job.role: (set(job.kinds), job.positions) for job in needs_of("guillemot").jobs}
    assert found == {
        "thrust": ({"stick"}, 2),
        "roll": ({"stick"}, 2),
        "pitch": ({"stick"}, 2),
        "yaw": ({"stick"}, 2),
        "flight-mode": ({"switch"}, 3),
        "recovery": ({"sprung"}, 2),
        "throttle cut": ({"switch"}, 2),
        "rates": ({"switch"}, 2),
        "gear": ({"switch"}, 2),
        "flap": ({"switch"}, 3),
        "lights": ({"switch"}, 3),
        "gain": ({"continuous"}, 2),
    }


def test_a_helicopters_hold_is_a_cut_and_its_stick_does_two_jobs() -> None:
    needs = needs_of("sanderling")
    assert {job.role for job in needs.jobs} >= {"throttle cut", "phases", "rates", "thrust"}
    thrust = next(job for job in needs.jobs if job.role == "thrust")
    driven = [line.function for line in needs.lines if line.job == thrust.id]
    assert driven == ["throttle", "collective"]


def test_positions_that_do_the_same_need_only_one() -> None:
    """Three positions, of which two select the same mode."""
    data = json.loads((FLEET / "shearwater.setup.json").read_bytes())
    switch = data["transmitter"]["controls"]["mode-switch"]
    switch["positions"].append("spare")
    switch["values"].append(switch["values"][1] * 0.95)
    controls = {job.role: job.positions for job in _needs(data).jobs}
    assert controls["flight-mode"] == 2
    assert controls["rates"] == 3


def _needs(data: Any) -> Needs:
    document = read(data, path=str(FLEET / "it"), root=FLEET)
    assert isinstance(document, Document), document
    return observed(SignalPath(document.setup))


def asked(name: str) -> Asked:
    file = EXAMPLES / "plan" / f"{name}.wishes.json"
    found = read_wishes(file.read_bytes(), path=str(file), root=EXAMPLES)
    assert isinstance(found, Asked), found
    return found


def test_which_of_three_transmitters_serves_the_fleet() -> None:
    data = plan_json(plan(asked("tern-bay")))
    serves = {it["name"]: sum(m["fits"] for m in it["models"]) for it in data["transmitters"]}
    assert serves == {
        "Reed, eight channels": 5,
        "Sedge, ten channels": 8,
        "Marram, sixteen channels": 9,
    }
    assert data["transmitter"] == "Marram, sixteen channels"
    marram = data["transmitters"][2]
    assert marram["tightest"] == "Guillemot 1800"
    [tight] = [it for it in marram["models"] if it["model"] == "Guillemot 1800"]
    # Sixteen channels, ten taken; six switches, and six of the jobs want one each.
    assert tight["spare"]["channels"] == 6
    assert tight["spare"]["switches"] == 0
    # Two buttons, one taken by recovery; two knobs and a slider, one taken by the gain.
    assert tight["further"] == {
        "switches_of_two": 0,
        "switches_of_three": 0,
        "sprung": 1,
        "continuous": 2,
    }


def test_a_model_that_exists_keeps_its_channels_and_is_told_its_new_controls() -> None:
    data = plan_json(plan(asked("tern-bay")))
    models = {it["model"]: it for it in data["answers"][0]["models"]}
    dunlin = models["Dunlin 1400"]
    assert [(it["function"], it["channel"]) for it in dunlin["lines"]] == [
        ("aileron", 1),
        ("elevator", 2),
        ("throttle", 3),
        ("rudder", 4),
        ("flight-mode", 5),
        ("recovery", 6),
    ]
    assert dunlin["setup"] is None
    assert {
        key: it[key]
        for it in dunlin["changes"]
        if it["what"] == "recovery"
        for key in ("what", "of", "today")
    } == {"what": "recovery", "of": "control", "today": "recovery-button"}


def test_today_counts_for_a_model_that_is_rebuilt() -> None:
    """Throttle on channel 3 as before, though the wish lists it third only by chance."""
    data = plan_json(plan(asked("tern-bay")))
    rebuilt = next(it for it in data["answers"][0]["models"] if "rebuilt" in it["model"])
    channels = {it["name"]: it["channel"] for it in rebuilt["lines"]}
    assert channels == {
        "aileron": 1,
        "elevator": 2,
        "throttle": 3,
        "rudder": 4,
        "flight mode": 5,
        "recovery": 6,
        "tow-release": 7,
    }
    assert rebuilt["losses"].get("few-changes") is None


def test_the_fleet_uses_the_same_controls() -> None:
    [answer] = plan_json(plan(asked("tern-bay")))["answers"]
    assert answer["losses"].get("same-control") is None
    for model in answer["models"]:
        for it in model["controls"]:
            assert answer["usual"].get(it["job"], it["control"]) == it["control"]
