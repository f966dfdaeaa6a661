"""The model says what the document says, and every entry knows its place."""

from __future__ import annotations

import copy
import json
import pickle
from pathlib import Path
from typing import TYPE_CHECKING, Any

import attrs
import pytest

from prebind.document import Document, model, read
from prebind.document.structure import structure

if TYPE_CHECKING:
    from collections.abc import Iterator

TESTS = Path(__file__).parents[1]
FLEET = sorted((TESTS / "examples/fleet").glob("*.setup.json"))
EVERY_KEY = TESTS / "schemas/every-key.setup.json"
NAMES = {(model.Mix, "from"): "source", (model.Waiver, "at"): "pointer"}


def whole(path: Path) -> Document:
    document = read(path.read_bytes(), path=str(path), root=path.parent)
    assert isinstance(document, Document), document
    return document


def assert_agrees(raw: Any, value: Any) -> None:
    """Every key of the document stands in the model, and what it leaves out has its default."""
    if attrs.has(type(value)):
        assert_entry_agrees(raw, value)
    elif isinstance(raw, dict):
        kept = [key for key in raw if not key.startswith("x-") or isinstance(raw[key], int)]
        assert list(value) == kept
        for key in kept:
            assert_agrees(raw[key], value[key])
    elif isinstance(raw, list):
        assert isinstance(value, tuple)
        assert len(value) == len(raw)
        for inner, entry in zip(raw, value, strict=True):
            assert_agrees(inner, entry)
    else:
        assert value == raw


def assert_entry_agrees(raw: Any, entry: Any) -> None:
    if isinstance(entry, model.AxisPort) and not isinstance(raw, dict):
        raw = {"port": raw}
    said = {NAMES.get((type(entry), key), key): inner for key, inner in raw.items()}
    for field in attrs.fields(type(entry)):
        value = getattr(entry, field.name)
        if field.name in ("at", "extra", "data"):
            continue
        if field.name == "trim_percent" and isinstance(said.get(field.name), int | float):
            assert value == (model.Trim(percent=said[field.name]),)
        elif field.name in said:
            assert_agrees(said[field.name], value)
        else:
            factory = getattr(field.default, "factory", None)
            assert value == (factory() if factory else field.default)
    assert {key for key in said if not key.startswith("x-")} <= set(attrs.fields_dict(type(entry)))


@pytest.mark.parametrize("path", [EVERY_KEY, *FLEET], ids=lambda path: path.name)
def test_the_model_says_what_the_document_says(path: Path) -> None:
    document = whole(path)
    no_room = {"format", "arming"}  # the same in all; nothing but x- keys
    raw = {key: value for key, value in document.data.items() if key not in no_room}
    assert_agrees(raw, document.setup)


def placed(value: Any) -> list[Any]:
    """Every entry of the model that has room for a place."""
    if isinstance(value, tuple):
        return [entry for inner in value for entry in placed(inner)]
    if isinstance(value, dict):
        return placed(tuple(value.values()))
    if not attrs.has(type(value)):
        return []
    inner = placed(tuple(getattr(value, field.name) for field in attrs.fields(type(value))))
    return [value, *inner] if "at" in attrs.fields_dict(type(value)) else inner


def member(data: Any, pointer: str) -> Any:
    for token in pointer.split("/")[1:]:
        name = token.replace("~1", "/").replace("~0", "~")
        data = data[int(name)] if isinstance(data, list) else data[name]
    return data


@pytest.mark.parametrize("path", [EVERY_KEY, *FLEET], ids=lambda path: path.name)
def test_every_entry_knows_its_place(path: Path) -> None:
    document = whole(path)
    entries = placed(document.setup)
    for entry in entries:
        assert_agrees(member(document.data, entry.at), entry)
    places = [entry.at for entry in entries]
    assert len(set(places)) == len(places)


def test_places_are_pointers() -> None:
    setup = whole(EVERY_KEY).setup
    assert setup.channels[2].at == "/channels/2"
    assert setup.receiver is not None
    assert setup.receiver.outputs[1].at == "/receiver/outputs/1"
    assert setup.receiver.failsafe is not None
    assert setup.receiver.failsafe.channels[2].at == "/receiver/failsafe/channels/2"
    assert setup.receiver.stabiliser is not None
    state = setup.receiver.stabiliser.selectors[0].states[1]
    assert state.at == "/receiver/stabiliser/selectors/0/states/1"
    assert setup.transmitter.controls["dial"].at == "/transmitter/controls/dial"
    assert setup.engine is not None
    assert setup.engine.at == "/engine"


BASE = {
    "format": "model-setup/1",
    "model": {"name": "Dunlin", "airframe": "glider"},
    "transmitter": {"channels": 6.0, "controls": {"a/b~c": {"kind": "knob"}}},
    "channels": [{"channel": 1.0, "function": "flap", "side": 2.0, "subtrim_percent": 3}],
}


def structured(**more: Any) -> model.Setup:
    document = read({**BASE, **more})
    assert isinstance(document, Document), document
    return document.setup


def test_whole_numbers_stay_whole_and_the_others_do_not() -> None:
    channel = structured().channels[0]
    assert repr((channel.channel, channel.side, channel.subtrim_percent)) == "(1, 2, 3.0)"
    assert repr(structured().transmitter.channels) == "6"
    servo = {"port": 1.0, "volts": [5, 6], "stall_a": 2}
    [made] = structured(servos=[servo]).servos or ()
    assert repr((made.port, made.volts, made.stall_a)) == "(1, (5.0, 6.0), 2.0)"


def test_an_id_with_signs_of_pointers_is_escaped() -> None:
    assert structured().transmitter.controls["a/b~c"].at == "/transmitter/controls/a~1b~0c"


@pytest.mark.parametrize(
    ("given", "trims"),
    [
        (2, (model.Trim(2.0),)),
        (-0.5, (model.Trim(-0.5),)),
        ([{"percent": 4}], (model.Trim(4.0),)),
        (
            [{"percent": 1, "when": [{"control": "a/b~c", "above_percent": 0}]}, {"percent": 0}],
            (
                model.Trim(1.0, (model.Condition(control="a/b~c", above_percent=0.0),)),
                model.Trim(0.0),
            ),
        ),
    ],
)
def test_trim_is_a_list_always(given: Any, trims: tuple[model.Trim, ...]) -> None:
    channels = [{"channel": 1, "function": "flap", "trim_percent": given}]
    assert structured(channels=channels).channels[0].trim_percent == trims


@pytest.mark.parametrize(("given", "volts"), [(5, "5.0"), (5.5, "5.5"), ([4.8, 6], "(4.8, 6.0)")])
def test_volts_are_one_number_or_two(given: Any, volts: str) -> None:
    power = structured(power={"receiver_supply": {"source": "battery", "volts": given}}).power
    assert power is not None
    assert power.receiver_supply is not None
    assert repr(power.receiver_supply.volts) == volts


def test_own_keys_are_kept_at_the_top_and_dropped_below() -> None:
    transmitter = {
        "channels": 6,
        "x-bought": "2020",
        "controls": {"x-list": [1, 2], "knob": {"kind": "knob", "x-colour": "red"}},
        "output": {"native": {"x-smoke": -1}},
    }
    setup = structured(**{"x-note": {"a": 1}, "x-more": 2, "transmitter": transmitter})
    assert setup.extra == {"x-note": {"a": 1}, "x-more": 2}
    assert list(setup.transmitter.controls) == ["knob"]
    assert setup.transmitter.output.native == {"x-smoke": -1}  # here a function of one's own


def test_two_setups_share_nothing_that_changes() -> None:
    first, second = structured(**{"x-a": 1}), structured(**{"x-b": 1})
    assert first.extra == {"x-a": 1}
    assert second.extra == {"x-b": 1}


def test_entries_are_equal_wherever_they_stand() -> None:
    entry = {"channel": 1, "function": "flap"}
    setup = structured(channels=[entry, entry])
    assert setup.channels[0] == setup.channels[1]
    assert setup.channels[0].at != setup.channels[1].at


def test_the_document_is_left_alone() -> None:
    data = json.loads(EVERY_KEY.read_text())
    structure(data)
    assert data == json.loads(EVERY_KEY.read_text())


def parts_of(thing: Any) -> Iterator[Any]:
    """Everything that the model says, down to the last number; `data` is the document itself."""
    yield thing
    inner = thing.values() if isinstance(thing, dict) else thing if isinstance(thing, tuple) else ()
    if attrs.has(type(thing)):
        inner = [getattr(thing, it.name) for it in attrs.fields(type(thing)) if it.name != "data"]
    for it in inner:
        yield from parts_of(it)


def test_nothing_that_a_setup_says_can_be_written_over() -> None:
    setup = structure(json.loads(EVERY_KEY.read_text()))
    tables = [it for it in parts_of(setup) if isinstance(it, dict)]
    assert len(tables) >= 5
    for table in tables:
        for change in (
            lambda it: it.update(a=1),
            lambda it: it.__setitem__("a", 1),
            lambda it: it.__ior__({"a": 1}),
            lambda it: it.setdefault("a", 1),
            lambda it: it.pop("a", None),
            lambda it: it.clear(),
        ):
            with pytest.raises(TypeError, match="cannot be changed"):
                change(table)
    for thing in parts_of(setup):
        assert not isinstance(thing, list | set)
        if attrs.has(type(thing)):
            with pytest.raises(AttributeError):
                thing.at = "elsewhere"


def test_a_copied_setup_is_the_same() -> None:
    setup = structure(json.loads(EVERY_KEY.read_text()))
    for other in (copy.deepcopy(setup), pickle.loads(pickle.dumps(setup))):
        assert other == setup
        with pytest.raises(TypeError):
            other.transmitter.controls["a"] = None
