"""Text on its way to a terminal or a page."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prebind.report.tables import Numbers, table
from prebind.report.wording import clean, evidence, number, paragraph, where


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("plain “text”, 5 µs – ok", "plain “text”, 5 µs – ok"),
        ("\x1b[31m", "\\u001b[31m"),
        ("a\nb\tc\r", "a\\u000ab\\u0009c\\u000d"),
        ("\u202eabc\u2069", "\\u202eabc\\u2069"),
        ("\x7f\x80\x9b", "\\u007f\\u0080\\u009b"),
        ("\ud800", "\\ud800"),
        ("\U000e0041", "\\U000e0041"),
        ("5\u00a0%", "5 %"),
        (5, "5"),
    ],
)
def test_clean(raw: object, shown: str) -> None:
    assert clean(raw) == shown


@given(st.text(st.characters(exclude_categories=())))
def test_nothing_that_steers_is_left(text: str) -> None:
    """Categories of the Unicode Character Database: controls, formats, surrogates, separators."""
    categories = {unicodedata.category(char) for char in clean(text)}
    assert not categories & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (1900.0977, "1900.1"),
        (-100.0244, "-100"),
        (7.654, "7.65"),
        (0.0344, "0.0344"),
        (-0.0, "0"),
        (5, "5"),
        (100000, "100000"),
        (float("inf"), "inf"),
        (float("nan"), "nan"),
    ],
)
def test_number(value: float, shown: str) -> None:
    assert number(value) == shown


def test_where() -> None:
    assert where({"mode-switch": "middle", "knob\n": 40.04}) == (
        "mode-switch at middle, knob\\u000a at 40 %"
    )


@pytest.mark.parametrize(
    ("found", "shown"),
    [
        ({"us": 1900.0977, "percent": 100.02}, "1900.1 µs; 100 %"),
        ({"margin_us": 12.5, "expected_low_us": 1100}, "margin 12.5 µs; expected low 1100 µs"),
        ({"speed_m_s": 24, "delay_s": 3.0}, "speed 24 m/s; delay 3 s"),
        ({"warning_v_per_cell": 3.2}, "warning 3.2 V a cell"),
        ({"controls": {"s": 100.0}}, "with s at 100 %"),
        ({"controls": {}}, "wherever the controls stand"),
        (
            {"states": ["level", "damped"], "band_us": [1100, 1200]},
            "states level, damped; band 1100 µs, 1200 µs",
        ),
        ({"states": []}, "states none"),
        ({"attained": True, "sprung": False, "side": None}, "attained yes; sprung no"),
        ({"at soft": {"channel": 4, "us": 1500}}, "at soft (channel 4, 1500 µs)"),
        ({"name": "a\x1bb"}, "name a\\u001bb"),
        ({}, ""),
    ],
)
def test_evidence(found: dict[str, object], shown: str) -> None:
    assert evidence(found) == shown


def test_paragraph_sets_lines_in_and_keeps_numbers_with_their_units() -> None:
    text = paragraph("The channel puts out 1900 µs and no more of it", 28, "- ", "  ")
    assert text == "- The channel puts out\n  1900 µs and no more of it\n"


def test_paragraph_leaves_long_words_and_hyphens_whole() -> None:
    text = paragraph("see reversal/correction-backwards", 24, "", "  ")
    assert text == "see\n  reversal/correction-backwards\n"


def test_paragraph_begins_below_a_long_beginning() -> None:
    place = "a/very/long/path/of/a.setup.json:1:1: danger: "
    assert paragraph("what is wrong", 50, place, "    ") == f"{place.rstrip()}\n    what is wrong\n"


def test_paragraph_without_a_width_is_one_line() -> None:
    assert paragraph("word " * 50 + "5 µs", None, "a: ") == "a: " + "word " * 50 + "5 µs\n"


def test_table() -> None:
    drawn = table(["Name", Numbers("Pulse")], [["[b]a[/b]", "5 µs"], ["\x1b", "1900 µs"]], 40)
    assert drawn.splitlines() == [
        "Name        Pulse",
        "─────────────────",
        "[b]a[/b]     5 µs",
        "\\u001b    1900 µs",
    ]


def test_a_head_is_no_more_to_be_trusted_than_a_cell() -> None:
    assert "\x1b" not in table(["\x1b[31m"], [["a"]], 40)


def test_a_narrow_table_is_wrapped() -> None:
    drawn = table(["Name", "With"], [["a", "one two three four five six"]], 20)
    assert max(map(len, drawn.splitlines())) <= 20
    assert "six" in drawn
