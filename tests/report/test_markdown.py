"""The summary for a review: what it says, how long it may be, what no name can do in it.

Rendered by markdown-it-py: CommonMark, tables, and the raw HTML that review sites let through.
"""

from __future__ import annotations

import re
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from prebind import Inspector, Problem, Report
from prebind.inspect.finding import Earlier, Waived
from prebind.inspect.settings import Settings
from prebind.report.inspection_markdown import ROOM
from prebind.report.inspection_text import REMINDER
from prebind.testing import clean

if TYPE_CHECKING:
    from tests.report.conftest import Tell

EXAMPLES = Path(__file__).parents[1] / "examples"
INSPECTOR = Inspector()
MARKDOWN = MarkdownIt("commonmark", {"html": True}).enable("table")

TAGS = {
    *("p", "strong", "h3", "ul", "li", "code", "span", "details", "summary"),
    *("table", "thead", "tbody", "tr", "th", "td"),
}

# What review sites make of plain text, each as their own pages describe it (from memory).
SITE = re.compile(
    r"@\w|\w://|www\.\w|(?<!\w)[#!]\d|\bGH-\d|\$[^$]+\$|:[a-z_+]+:|[%~][\"\w]", re.IGNORECASE
)

NAMES = [
    "| a | b |",
    "\\| a \\",
    "`` ` ``",
    "**bold** _x_ ~~gone~~",
    "[here](https://example.org)",
    "![x](https://example.org/x.png)",
    "<https://example.org>",
    "https://example.org/x and www.example.org",
    "<script>alert(1)</script>",
    "</code></td></table><h1>",
    "</details><details open>",
    "<!-- ",
    "&lt;b&gt; &#60;",
    "@everyone and someone@example.org",
    "fixes #12, !34, GH-56, %7, ~bug, &8",
    ":white_check_mark:",
    "$`x`$ and $y$",
    "# head",
    "[x]: https://example.org",
    "{{ 7 * 7 }}",
]


class Page(HTMLParser):
    """Tags in their order, and the pieces of text between them."""

    def __init__(self, markdown: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.feed(MARKDOWN.render(markdown))
        self.close()
        assert self.open == [], "every tag is closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in TAGS
        assert attrs == []
        self.tags.append(tag)
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        raise AssertionError(data)

    @property
    def text(self) -> str:
        return "".join(self.texts)

    def rows(self, head: str) -> list[str]:
        """The lines of text below a heading, up to the next."""
        return self.text.partition(head)[2].splitlines()


@cache
def faulty(name: str = "guillemot-faulty") -> Report:
    return INSPECTOR.inspect_file(EXAMPLES / "faulty" / f"{name}.setup.json")


def cells(markdown: str, rule: str) -> list[str]:
    """The cells of the first table row that names a rule."""
    row = next(line for line in markdown.splitlines() if f"<code>{rule}</code> |" in line)
    return [cell.strip() for cell in row.strip("|").split("|")]


# --- what it says ---------------------------------------------------------------------------


def test_the_first_line_is_the_verdict_in_words_and_counts(tell: Tell) -> None:
    first = tell("markdown", [faulty()]).splitlines()[0]
    passed = faulty().outcomes["pass"]
    assert first == (
        "**Grounded by 9 findings (caution or worse): 2 danger, 1 warning, 6 caution.** "
        f"1 document inspected: {passed} passed, 11 failed (2 danger, 1 warning, 6 caution, "
        f"2 notice), 1 not checked, 3 to judge, {faulty().outcomes['notApplicable']} not "
        "applicable."
    )


def test_a_run_that_is_not_to_be_trusted_says_so_first(tell: Tell) -> None:
    broken = INSPECTOR.inspect_file(EXAMPLES / "broken/redshank-duplicate-key.setup.json")
    text = tell("markdown", [faulty(), broken])
    assert text.startswith("**Not to be trusted: 1 problem. Grounded by 9 findings")
    page = Page(text)
    assert "redshank-duplicate-key.setup.json:68:7" in page.text
    assert "the key `reversed` stands twice in this object" in page.text


def test_nothing_found_is_not_called_safe(tell: Tell) -> None:
    report = INSPECTOR.inspect_file(EXAMPLES / "fleet/turnstone.setup.json")
    text = tell("markdown", [report])
    checks = report.outcomes["open"]
    assert text.startswith(
        f"**Nothing was found that grounds (caution or worse), but {checks} checks could not be "
        "made.**"
    )
    assert "safe " not in text.partition("###")[0]
    assert "### What grounds" not in text


def test_nothing_inspected(tell: Tell) -> None:
    text = tell("markdown", [])
    assert text == f"**No document was inspected.**\n\n{REMINDER}\n"


def test_what_grounds_is_a_table_worst_first(tell: Tell) -> None:
    text = tell("markdown", [faulty("dunlin-faulty"), faulty()])
    page = Page(text)
    table = text.partition("### What grounds\n\n")[2].partition("\n\n")[0].splitlines()
    words = [line.split("|")[1].strip(" *") for line in table[2:]]
    assert words == ["danger"] * 3 + ["warning"] * 4 + ["caution"] * 8
    assert len(table) == 2 + 15
    row = cells(text, "power/peak")
    assert row[0] == "**warning**"
    assert row[2].endswith("guillemot-faulty.setup.json<span>:</span>394:17</code>") or row[
        2
    ].endswith("guillemot-faulty.setup.json:394:17</code>")
    assert row[3].startswith("With 2 of 8 servos stalled, they draw 7.65 A together")
    assert "guillemot-faulty.setup.json:394:17" in page.text


def test_the_caution_stands_open_beside_danger_and_warning(tell: Tell) -> None:
    text = tell("markdown", [faulty()])
    opened, _, folded = text.partition("<details>")
    for found in faulty().findings:
        if found.kind == "fail" and found.word != "notice":
            part = opened if found.word in ("danger", "warning") else folded
            start = f"- <code>{found.rule}</code> **Safety:** "
            (line,) = [line for line in part.splitlines() if line.startswith(start)]
            assert Page(line).text.strip() == (
                f"{found.rule} Safety: {found.safety} Remedy: {found.remedy}"
            )


def test_the_rest_is_folded(tell: Tell) -> None:
    text = tell("markdown", [faulty()])
    assert "<summary>Does not ground: 5 findings</summary>" in text
    folded = text.partition("<summary>Does not ground: 5 findings</summary>")[2]
    assert "<code>travel/subtrim-large</code>" in folded.partition("</details>")[0]
    assert text.count("<details>") == text.count("</details>") == 2


def test_what_could_not_be_checked_is_grouped_by_key(tell: Tell) -> None:
    document = clean("plain")
    del document["power"]
    report = INSPECTOR.inspect(document, path="plover.setup.json")
    opened = [found for found in report.findings if found.settles == ("/power",)]
    assert len(opened) > 1
    text = tell("markdown", [report, report])
    (row,) = [line for line in text.splitlines() if line.startswith("| <code>/power</code> ")]
    key, count, place, said = [cell.strip() for cell in row.strip("| ").split("|")]
    assert (key, count) == ("<code>/power</code>", str(2 * len(opened)))
    assert "plover.setup.json" in place
    assert Page(said).text.strip() == f"{opened[0].message}. By hand: {opened[0].bench}"
    assert f"### Not checked: {2 * report.outcomes['open']} checks" in text


def test_open_outcomes_ground_when_asked(tell: Tell) -> None:
    document = clean("plain")
    del document["power"]
    text = tell("markdown", [INSPECTOR.inspect(document)], complete=True)
    assert "(caution or worse, or not checked)" in text.splitlines()[0]
    assert cells(text, "power/peak")[0] == "**warning, not checked**"


def test_what_is_new_against_an_earlier_report(tell: Tell) -> None:
    first, second, third, *_ = faulty().findings
    report = evolve(
        faulty(),
        findings=(
            evolve(first, baseline="unchanged"),
            evolve(second, baseline="new"),
            evolve(third, baseline="new"),
        ),
        gone=(Earlier("bands/gap", "fail", "warning", "/x", "It had a gap.", "f"),),
    )
    text = tell("markdown", [report])
    assert "Grounded by 2 findings (caution or worse; only what is new): " in text.splitlines()[0]
    assert "### Since the earlier report\n\n2 new, 1 known from it, 1 gone.\n" in text
    assert cells(text, second.rule)[3].endswith("(new)")
    assert "| <code>bands/gap</code> | warning: It had a gap. |" in text
    folded = text.partition("Does not ground: 1 finding</summary>")[2]
    assert cells(folded, first.rule)[3].endswith("(unchanged)")


def test_waivers_settings_and_rules_left_out(tell: Tell) -> None:
    first = faulty().findings[0]
    waived = Waived("flown with care", "the safety officer", "2031-05-18")
    report = evolve(
        faulty(),
        findings=(evolve(first, waived=waived),),
        settings=Settings("prebind.toml", ground_at="danger"),
        not_run=("bands/gap",),
    )
    text = tell("markdown", [report])
    folded = text.partition("<summary>Accepted by a waiver: 1 finding</summary>")[2]
    assert "Accepted by the safety officer until 2031-05-18: flown with care" in folded
    assert "Settings of prebind.toml: ground&#95;at danger." in text
    assert "Left out by prebind.toml, not run: bands/gap." in text


def test_a_person_decides(tell: Tell) -> None:
    assert tell("markdown", [faulty()]).endswith(f"\n\n{REMINDER}\n")


# --- how long it may be ---------------------------------------------------------------------


def test_rows_beyond_two_hundred_are_counted(tell: Tell) -> None:
    found = evolve(faulty().findings[0], message="Short.", safety="s", remedy="r")
    report = evolve(faulty(), path_name="a", document=faulty().document, findings=(found,) * 250)
    text = tell("markdown", [report])
    shown = text.count("| Short. |")
    assert 0 < shown <= 200
    assert f"\nand {250 - shown} more, which the other reports have.\n" in text
    assert "Grounded by 250 findings" in text


@pytest.mark.parametrize("sign", ["x", "|", "@a ", "海", "\U0001f6e9", "\x07"])
def test_no_amount_of_anything_makes_it_longer(tell: Tell, sign: str) -> None:
    long = sign * 3000
    reports = []
    for n in range(12):
        made = []
        for i, found in enumerate(faulty("redshank-muddled-faulty").findings * 8):
            waived = Waived(long, long, long) if i % 7 == 0 else None
            settles = tuple(f"/{n}/{i}/{long}" for _ in range(5)) if found.settles else ()
            made.append(
                evolve(
                    found,
                    rule=f"{i % 90}/{long}",
                    message=long,
                    safety=long,
                    remedy=long,
                    settles=settles,
                    bench=long,
                    waived=waived,
                )
            )
        gone = tuple(Earlier(long, "fail", "danger", "/x", long, "f") for _ in range(30))
        reports.append(evolve(faulty(), findings=tuple(made), gone=gone))
    problems = [Problem(long, long, rule=long, pack=long)] * 500
    text = tell("markdown", reports, problems)
    assert len(text.encode()) <= ROOM
    page = Page(text)
    assert page.text.rstrip().endswith(REMINDER)
    sections = ("What grounds", "Not to be trusted", "Since the earlier", "Not checked", "Does not")
    for heading in sections:
        assert heading in page.text
    assert "Cut to the size of a comment: the other reports have the whole." in text


def test_no_more_than_that_is_kept(tell: Tell) -> None:
    text = tell("markdown", [faulty("redshank-muddled-faulty")] * 400)
    assert "400 documents inspected" in text
    assert len(text.encode()) <= ROOM


# --- what no name can do --------------------------------------------------------------------


def hostile(name: str) -> Report:
    report = faulty("redshank-muddled-faulty")
    made = [
        evolve(
            found,
            rule=name,
            message=name,
            safety=name,
            remedy=name,
            bench=name if found.bench else None,
            settles=(f"/{name}",) if found.settles else (),
            waived=Waived(name, name, name) if i == 0 else None,
        )
        for i, found in enumerate(report.findings[:12] + report.findings[-3:])
    ]
    return evolve(
        report,
        findings=tuple(made),
        path_name=name,
        gone=(Earlier(name, "fail", "danger", "/x", name, "f"),),
        problems=(Problem(name, name, rule=name, pack=name),),
        settings=Settings(name, words={name: "danger"}),
        not_run=(name,),
    )


@cache
def harmless(tell: Tell) -> list[str]:
    return [tag for tag in Page(tell("markdown", [hostile("name")])).tags if tag != "span"]


def assert_only_text(tell: Tell, name: str) -> None:
    """The same elements as with a harmless name, and no text that a site would act on."""
    text = tell("markdown", [hostile(name)])
    page = Page(text)
    assert [tag for tag in page.tags if tag != "span"] == harmless(tell)
    for piece in page.texts:
        assert not SITE.search(piece), piece
    assert page.text.count(name.strip()) >= 29


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_only_ever_text(tell: Tell, name: str) -> None:
    assert_only_text(tell, name)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.text(st.sampled_from("ab1 |\\`*_[]()<>&@#!$%~:/.-=+{}\"'^wGH"), min_size=1, max_size=30).map(
        lambda text: f"x{text}x"
    )
)
def test_no_mixture_of_signs_is_more_than_text(tell: Tell, name: str) -> None:
    assert_only_text(tell, name)


@pytest.mark.parametrize("sign", ["\n", "\r", "\x1b", "\u202e", "\u2028", "\x00"])
def test_signs_that_steer_are_spelt_out(tell: Tell, sign: str) -> None:
    text = tell("markdown", [hostile(f"a{sign}b")])
    assert {char for char in text if not char.isprintable()} == {"\n"}
    assert f"a&#92;u{ord(sign):04x}b" in text


def test_a_long_place_keeps_its_end(tell: Tell) -> None:
    report = evolve(faulty(), problems=(Problem("x" * 300 + "/y.setup.json", "m", 7, 9),))
    assert "x/y.setup.json:7:9" in Page(tell("markdown", [report])).text
    assert "x" * 130 not in tell("markdown", [report])
