"""Setup documents in any number, from a seed: invented models, most of them clean, some faulty.

    python -m tests.benchmarks.generate FOLDER --count 1000 --seed 1

Each is one of the airframe templates or of the demo fleet, written down as another owner would:
other names, numbers, order and layout.  About half have mistakes laid in, of the catalogue in
`mistakes`; one in forty is no setup at all.  The same seed and number give the same document.
"""

from __future__ import annotations

import json
from argparse import ArgumentParser
from copy import deepcopy
from functools import cache
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any, NamedTuple

from tests.benchmarks.mistakes import MISTAKES, SPOILERS

from prebind.document.parts import merge
from prebind_schemas import template_text, templates

if TYPE_CHECKING:
    from collections.abc import Iterator

Document = dict[str, Any]

FLEET = Path(__file__).parents[1] / "examples" / "fleet"
SECTIONS = ("transmitter", "receiver", "power")
BIRDS = (
    "Avocet",
    "Black Guillemot",
    "Common Scoter",
    "Curlew",
    "Fulmar",
    "Godwit",
    "Herring Gull",
    "Kittiwake",
    "Knot",
    "Lapwing",
    "Puffin",
    "Purple Sandpiper",
    "Ruff",
    "Sandwich Tern",
    "Spoonbill",
    "Stone-curlew",
)
OTHER_WORDS = {
    "rate-switch": "switch-left-front",
    "cut-switch": "switch-right-back",
    "mode-switch": "three-way",
    "recovery-button": "button-top",
    "aileron-right": "right aileron",
    "aileron-left": "left aileron",
    "elevator": "elevator half",
}
A_FOLDER = 1_000  # documents


class Made(NamedTuple):
    """A document: where it goes, its bytes, and the names of the mistakes laid into it."""

    path: str
    data: bytes
    mistakes: tuple[str, ...]


def documents(count: int, seed: int = 1, *, clean: bool = False) -> Iterator[Made]:
    """The first `count` documents of a seed; `clean` leaves all mistakes out."""
    return (document(number, seed, clean=clean) for number in range(count))


def document(number: int, seed: int = 1, *, clean: bool = False) -> Made:
    chance = Random(f"{seed}/{number}")
    setup = deepcopy(chance.choice(_starts()))
    _vary(chance, setup)
    mistakes = [] if clean or chance.random() < 0.5 else _lay_in(chance, setup)
    data = _written(chance, setup)
    if not clean and chance.random() < 1 / 40:
        spoiler = chance.choice(SPOILERS)
        data = spoiler(chance, data)
        mistakes.append(spoiler.__name__)
    bird = setup["model"]["name"].rpartition(" ")[0].lower().replace(" ", "-")
    path = f"hangar-{number // A_FOLDER:03}/{number:06}-{bird}.setup.json"
    return Made(path, data, tuple(mistakes))


def ordinary(seed: int = 1) -> bytes:
    """A clean one of about 8 KB, of a stabilised aeroplane, that takes nothing from other files."""
    return next(made.data for made in documents(1_000, seed, clean=True) if _is_ordinary(made.data))


def _is_ordinary(data: bytes) -> bool:
    if not 7_500 < len(data) < 8_500:
        return False
    setup = json.loads(data)
    alone = not any("from" in setup.get(section, ()) for section in SECTIONS)
    return alone and setup["model"]["airframe"] == "aeroplane" and "stabiliser" in setup["receiver"]


def write(folder: Path, count: int, seed: int = 1, *, clean: bool = False) -> list[Path]:
    """Writes the documents into a folder, and gives their paths in order."""
    paths = []
    for made in documents(count, seed, clean=clean):
        path = folder / made.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(made.data)
        paths.append(path)
    for hangar in {path.parent for path in paths}:
        for part in (FLEET / "parts").iterdir():
            (hangar / "parts").mkdir(exist_ok=True)
            (hangar / "parts" / part.name).write_bytes(part.read_bytes())
    return paths


@cache
def _starts() -> tuple[Document, ...]:
    fleet = [file.read_text(encoding="utf-8") for file in sorted(FLEET.glob("*.setup.json"))]
    return tuple(json.loads(text) for text in [*map(template_text, templates()), *fleet])


# Variation


def _vary(chance: Random, setup: Document) -> None:
    """Another model of the same kind.  What was proved on the old one is not proved on it."""
    setup["model"]["name"] = f"{chance.choice(BIRDS)} {chance.randrange(400, 3000, 10)}"
    setup["x-note"] = "Invented, made in any number to measure with: no real aircraft or person."
    if chance.random() < 0.2:
        return  # as it was, sign-offs too
    setup.pop("sign_offs", None)
    if any("from" in setup.get(section, ()) for section in SECTIONS) and chance.random() < 0.5:
        _resolve(setup)
    if "from" not in setup["receiver"] and "from" not in setup["transmitter"]:
        _reorder(chance, setup)
    _rename(chance, setup)
    _resize(chance, setup)
    _soften(chance, setup)


def _resolve(setup: Document) -> None:
    """Lays the shared parts in, as another club would write it."""
    for section in SECTIONS:
        own = dict(setup.get(section, {}))
        part = own.pop("from", None)
        if part is not None:
            shared = json.loads((FLEET / part).read_text(encoding="utf-8"))
            setup[section] = merge(shared, own)


def _reorder(chance: Random, setup: Document) -> None:
    """The channels in another order at the radio."""
    numbers = [channel["channel"] for channel in setup["channels"]]
    others = list(numbers)
    if chance.random() < 0.5:
        chance.shuffle(others)
    renumbered = dict(zip(numbers, others, strict=True))
    _renumber(setup, renumbered)
    setup["channels"].sort(key=lambda channel: int(channel["channel"]))


def _renumber(node: Any, renumbered: dict[int, int]) -> None:
    for value in node.values() if isinstance(node, dict) else node:
        if isinstance(value, dict | list):
            _renumber(value, renumbered)
    if isinstance(node, dict):
        for key in ("channel", "to"):
            if isinstance(node.get(key), int):
                node[key] = renumbered.get(node[key], node[key])


def _rename(chance: Random, setup: Document) -> None:
    """Other names for controls and surfaces, wherever they stand."""
    if "from" in setup["transmitter"]:
        return
    controls = setup["transmitter"]["controls"]
    surfaces = {surface["id"] for surface in setup.get("surfaces", ())}
    words = {
        old: new
        for old, new in OTHER_WORDS.items()
        if (old in controls or old in surfaces) and chance.random() < 0.5
    }
    setup["transmitter"]["controls"] = {
        words.get(name, name): control for name, control in controls.items()
    }
    for channel in (*setup["channels"], *setup.get("inputs", ())):
        _reword(channel, words)
    for section in ("phases", "mixes", "overrides"):
        for entry in setup.get(section, ()):
            _reword(entry, words)
    for entry in (*setup.get("servos", ()), *setup.get("surfaces", ())):
        for key in ("surface", "id"):
            if key in entry:
                entry[key] = words.get(entry[key], entry[key])


def _reword(node: Any, words: dict[str, str]) -> None:
    for value in node.values() if isinstance(node, dict) else node:
        if isinstance(value, dict | list):
            _reword(value, words)
    if isinstance(node, dict) and "control" in node:
        node["control"] = words.get(node["control"], node["control"])


def _resize(chance: Random, setup: Document) -> None:
    """A little larger or smaller."""
    factor = chance.choice([0.92, 0.96, 1, 1, 1.02])
    model = setup["model"]
    model["mass_g"] = round(model["mass_g"] * factor)
    if "wing" in model:
        model["wing"]["span_mm"] = round(model["wing"]["span_mm"] * factor)
        model["wing"]["area_dm2"] = round(model["wing"]["area_dm2"] * factor, 1)
    pack = setup.get("power", {}).get("flight_pack", {})
    if "capacity_mah" in pack:
        pack["capacity_mah"] = chance.choice([pack["capacity_mah"], 2600, 3000, 4000])
    if chance.random() < 0.4:
        setup["region"] = chance.choice(["us", "eu", "uk"])


def _soften(chance: Random, setup: Document) -> None:
    """Expo to the owner's taste; the ends stay, as throws are built on them."""
    for channel in (*setup["channels"], *setup.get("inputs", ())):
        for rate in channel.get("rates", ())[1:]:
            if rate.get("expo_percent", 0) > 0:
                rate["expo_percent"] += chance.choice([0, 5, 10])


def _lay_in(chance: Random, setup: Document) -> list[str]:
    """One to four mistakes, those that fit this setup."""
    wanted = chance.choice([1, 1, 2, 3, 4])
    laid: list[str] = []
    for mistake in chance.sample(MISTAKES, len(MISTAKES)):
        if len(laid) == wanted:
            break
        if mistake(chance, setup):
            laid.append(mistake.__name__)
    return laid


def _written(chance: Random, setup: Document) -> bytes:
    """The text, laid out as people and programs do."""
    if chance.random() < 0.3:
        keys = list(setup)
        chance.shuffle(keys)
        setup = {key: setup[key] for key in keys}
    indent = chance.choice([2, 2, 2, 4, "\t", None])
    text = json.dumps(setup, indent=indent, ensure_ascii=chance.random() < 0.5)
    if chance.random() < 0.1:
        text = text.replace("\n", "\r\n")
    return f"{text}\n".encode()


def main() -> None:
    asked = ArgumentParser(description=__doc__)
    asked.add_argument("folder", type=Path)
    asked.add_argument("--count", type=int, default=1_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--clean", action="store_true", help="without mistakes")
    given = asked.parse_args()
    write(given.folder, given.count, given.seed, clean=given.clean)


if __name__ == "__main__":
    main()
