"""What the model says can be written down again, and reads as the same model."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from tests.strategies import setups

from prebind import Document, read
from prebind.model import unstructure
from prebind.testing import clean
from prebind_schemas import templates

EVERY_KEY = Path(__file__).parents[1] / "schemas" / "every-key.setup.json"


def assert_says_the_same(document: Any) -> None:
    before = read(document)
    assert isinstance(before, Document)
    said = unstructure(before.setup)
    after = read(json.dumps(said))
    assert isinstance(after, Document), after
    assert after.setup == before.setup


@pytest.mark.parametrize("name", templates())
def test_every_template(name: str) -> None:
    assert_says_the_same(clean(name))


def test_every_key() -> None:
    assert_says_the_same(EVERY_KEY.read_bytes())


@given(setups())
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_setup(document: dict[str, Any]) -> None:
    assert_says_the_same(document)


def test_defaults_are_left_out() -> None:
    read_back = read(clean())
    assert isinstance(read_back, Document)
    channel = unstructure(read_back.setup)["channels"][0]
    assert "reversed" not in channel
    assert "at" not in channel
