"""Every job that a control does, in the document's order."""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.testing import clean

ON = [{"control": "it", "positions": ["on"]}]
OTHER = [{"control": "cut-switch", "positions": ["cut"]}]
RATE = {"low": 10, "high": 10}
MIX = {"name": "m", "from": {"control": "yaw-stick"}, "to": 4, "rate_percent": RATE}
CURVE = {"points": [[-100, -50], [100, 50]]}


def jobs_of(document: dict[str, Any]) -> list[tuple[str, str, str, int | None, bool]]:
    """Kind, place, text, channel, and whether the control acts through a condition."""
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    jobs = prebind.trace(found.setup).control("it").jobs
    return [(it.kind, it.at, it.text, it.channel, it.when is not None) for it in jobs]


def document_of(**sections: Any) -> dict[str, Any]:
    """A setup with one more switch, which has nothing to do yet."""
    document = clean("plain")
    document["transmitter"]["controls"]["it"] = {"kind": "switch", "positions": ["off", "on"]}
    document["inputs"] = [{"id": "shaped", "control": "yaw-stick"}]
    return document | sections


@pytest.mark.parametrize(
    ("section", "entries", "job"),
    [
        (
            "mixes",
            [MIX, MIX | {"name": "n", "from": {"control": "it"}}],
            ("mix", "/mixes/1/from", "feeds channel 4 through the mix “n”", 4, False),
        ),
        (
            "mixes",
            [MIX, MIX | {"name": "n", "when": [*OTHER, *ON]}],
            ("mix", "/mixes/1/when", "switches the mix “n” into channel 4", 4, True),
        ),
        (
            "mixes",
            [MIX | {"from": {"control": "it"}, "when": ON}],
            ("mix", "/mixes/0/from", "feeds channel 4 through the mix “m”", 4, False),
        ),
        (
            "overrides",
            [{"name": "hold", "purpose": "other", "channel": 4, "demand_percent": 0, "when": ON}],
            ("override", "/overrides/0/when", "switches “hold” on channel 4", 4, True),
        ),
        (
            "phases",
            [{"name": "p", "when": OTHER}, {"name": "q", "when": ON}],
            ("phase", "/phases/1/when", "chooses the phase “q”", None, True),
        ),
        (
            "inputs",
            [{"id": "shaped", "control": "yaw-stick", "rates": [{"rate_percent": 9, "when": ON}]}],
            (
                "rates",
                "/inputs/0/rates/0/when",
                "chooses the rates of input “shaped”",
                None,
                True,
            ),
        ),
    ],
)
def test_a_job_in_a_section(
    section: str, entries: list[Any], job: tuple[str, str, str, int | None, bool]
) -> None:
    assert jobs_of(document_of()) == []
    assert jobs_of(document_of(**{section: entries})) == [job]


@pytest.mark.parametrize(
    ("key", "value", "kind", "what", "place"),
    [
        ("rates", [{"rate_percent": 9, "when": ON}, {"rate_percent": 8}], "rates", "rates", 0),
        ("curves", [CURVE | {"when": OTHER}, CURVE | {"when": ON}], "rates", "curves", 1),
        ("trim_percent", [{"percent": 9, "when": ON}], "trim", "trim", 0),
    ],
)
def test_what_it_chooses_of_a_channel(
    key: str, value: list[Any], kind: str, what: str, place: int
) -> None:
    document = document_of()
    document["channels"][3][key] = value
    at = f"/channels/3/{key}/{place}/when"
    assert jobs_of(document) == [(kind, at, f"chooses the {what} of channel 4", 4, True)]


def test_it_drives_what_names_it_or_an_input_that_it_moves() -> None:
    document = document_of(inputs=[{"id": "shaped", "control": "it"}])
    document["channels"].append({"channel": 7, "function": "flap", "control": "it"})
    document["channels"].append({"channel": 8, "function": "lights", "control": "shaped"})
    document["mixes"] = [MIX | {"from": {"input": "shaped"}}, MIX | {"name": "n"}]
    assert jobs_of(document) == [
        ("channel", "/channels/4/control", "drives channel 7 (flap)", 7, False),
        ("channel", "/channels/5/control", "drives channel 8 (lights)", 8, False),
        ("mix", "/mixes/0/from", "feeds channel 4 through the mix “m”", 4, False),
    ]


def test_a_mix_from_a_channel_that_it_drives_is_no_job_of_its_own() -> None:
    document = document_of(mixes=[MIX | {"from": {"channel": 7}}])
    document["channels"].append({"channel": 7, "function": "flap", "control": "it"})
    assert [kind for kind, *_ in jobs_of(document)] == ["channel"]
