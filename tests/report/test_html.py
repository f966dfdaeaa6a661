"""The inspection as a page: what it is made of, what it never asks for, what no name can do to it.

Parsed by html5lib, which reads as the WHATWG's HTML standard says and here raises on any error.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from base64 import b64encode
from functools import cache
from hashlib import sha256
from html import unescape
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element

import html5lib
import pytest
from attrs import evolve

from prebind import Inspector, Problem, Report
from prebind.inspect.finding import Earlier, Waived
from prebind.inspect.inspector import Configuration
from prebind.inspect.settings import Settings
from prebind.report.inspection_text import REMINDER
from prebind.rule import WORDS, Cause
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.report.conftest import Tell

EXAMPLES = Path(__file__).parents[1] / "examples"
FILES = sorted(EXAMPLES.glob("*/*.setup.json"))
INSPECTOR = Inspector()

STYLE = (files("prebind.report") / "templates" / "inspection.css").read_text("ascii")

NAMES = [
    "</style><script>alert(1)</script>",
    "</title></svg></figure>",
    "<img src=x onerror=alert(1)>",
    '" onmouseover="alert(1)" x="',
    "' autofocus onfocus='alert(1)",
    "javascript:alert(1)",
    "&lt;b&gt; &amp;#60;",
    "{{ 7 * 7 }}{% raw %}",
    "--><!--",
    "]]></desc><b>",
    "url(https://example.org/x) }body{display:none",
    "`</code><i>`",
]


def parsed(page: str) -> Element:
    root = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)
    assert isinstance(root, Element)
    return root


@cache
def faulty(name: str = "guillemot-faulty") -> Report:
    return INSPECTOR.inspect_file(EXAMPLES / "faulty" / f"{name}.setup.json")


def named(element: Element) -> str:
    return str(element.tag).rpartition("}")[2]


def every(root: Element, *tags: str) -> list[Element]:
    return [element for element in root.iter() if named(element) in tags]


def with_class(root: Element, name: str) -> list[Element]:
    return [element for element in root.iter() if name in element.get("class", "").split()]


def text_of(element: Element) -> str:
    return " ".join("".join(element.itertext()).split())


def by_id(root: Element, name: str) -> Element:
    (found,) = [element for element in root.iter() if element.get("id") == name]
    return found


def assert_sound(root: Element) -> None:
    """What holds of every page, whatever is in it."""
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert not every(root, "script", "link", "img", "iframe", "object", "embed", "form", "base")
    assert not every(root, "image", "foreignObject", "animate", "set", "video", "audio")
    for element in root.iter():
        for name, value in element.items():
            key = str(name).rpartition("}")[2].lower()
            assert not key.startswith("on"), f"{key} runs code"
            assert key not in {"style", "src", "srcset", "action", "ping", "background"}
            if key == "href":
                assert value.startswith("#")
                assert value[1:] in ids, f"{value} leads nowhere"
            if key in {"aria-labelledby", "aria-describedby"}:
                assert all(text_of(by_id(root, label)) for label in value.split())
    for picture in every(root, "svg"):
        assert named(picture[0]) == "title"
        assert text_of(picture[0])
        if picture.get("aria-hidden") != "true":
            assert picture.get("role") == "img"
            assert named(picture[1]) == "desc"
            assert text_of(picture[1])
    for cell in every(root, "th"):
        assert cell.get("scope") in {"col", "row"}
    for table in every(root, "table"):
        assert named(table[0]) == "caption"
    levels = [int(named(heading)[1]) for heading in every(root, "h1", "h2", "h3", "h4", "h5")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(then <= before + 1 for before, then in pairwise(levels))
    for word in with_class(root, "word"):
        assert text_of(word) in WORDS
        assert text_of(word) in word.get("class", "").split()


# --- the fleet ------------------------------------------------------------------------------


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.removesuffix(".setup.json"))
def test_every_document_makes_a_sound_page(tell: Tell, file: Path) -> None:
    report = INSPECTOR.inspect_file(file)
    page = tell("html", [report])
    assert page.isascii()
    root = parsed(page)
    assert_sound(root)
    assert len(with_class(root, "model")) == (report.document is not None)
    shown = [found for found in report.findings if found.kind != "open"]
    assert len(every(root, "article")) == len(shown)
    words = text_of(root)
    for found in report.findings:
        assert " ".join(found.message.replace("`", "").split()) in words
        for sentence in (found.safety, found.remedy) if found.kind == "fail" else (found.bench,):
            assert " ".join((sentence or "").replace("`", "").split()) in words
    for problem in report.problems:
        assert problem.message.replace("`", "") in words


def test_several_documents_make_one_page(tell: Tell) -> None:
    reports = [faulty(), faulty("dunlin-faulty"), INSPECTOR.inspect_file(FILES[0])]
    root = parsed(tell("html", reports))
    assert_sound(root)
    assert [text_of(every(model, "h2")[0]) for model in with_class(root, "model")] == [
        "Guillemot 1800",
        "Dunlin 1400",
    ]
    (overview,) = [t for t in every(root, "table") if "Each model" in text_of(t[0])]
    head, *rows = [[text_of(cell) for cell in row] for row in every(overview, "tr")]
    assert head[:6] == ["Model", "Verdict", *WORDS]
    assert [row[:6] for row in rows] == [
        ["Guillemot 1800", "grounded", "2", "1", "6", "2"],
        ["Dunlin 1400", "grounded", "1", "3", "2", "0"],
    ]
    assert [link.get("href") for link in every(overview, "a")] == ["#model1", "#model2"]


def test_what_is_kept_on_disk_makes_the_same_page(
    tell: Tell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However little of it is held in memory at a time."""
    whole = tell("html", [faulty()])
    monkeypatch.setattr("prebind.report.inspection_html._IN_MEMORY", 100)
    assert tell("html", [faulty()]) == whole


def test_no_document_at_all(tell: Tell) -> None:
    root = parsed(tell("html", [], [Problem("made-pack", "cannot be loaded", pack="made 1.0")]))
    assert_sound(root)
    assert "Not to be trusted: 1 problem. No document was inspected." in text_of(root)
    assert "made-pack · made 1.0: cannot be loaded" in text_of(root)


# --- what it says ---------------------------------------------------------------------------


def test_the_verdict_stands_first_and_the_reminder_beside_it(tell: Tell) -> None:
    root = parsed(tell("html", [faulty()]))
    (header,) = [it for it in every(root, "header") if every(it, "h1")]
    words = text_of(header)
    assert words.index("Grounded by 9 findings (caution or worse).") < words.index(REMINDER)
    assert "11 failed (2 danger, 1 warning, 6 caution, 2 notice)" in words
    assert "Grounded by 9 findings" in text_of(every(root, "title")[0])


def test_a_finding_has_its_evidence_safety_remedy_and_place(tell: Tell) -> None:
    root = parsed(tell("html", [faulty()]))
    found = next(it for it in every(root, "article") if "power/peak" in text_of(it))
    assert found.get("class", "").split()[:2] == ["finding", "warning"]
    words = text_of(found)
    assert words.startswith(
        "warning The servos can draw more at peak than the supply gives power/peak"
    )
    assert "guillemot-faulty.setup.json:394:17 · /power/receiver_supply/peak_a" in words
    assert [text_of(term) for term in every(found, "dt")] == ["Evidence", "Safety", "Remedy"]
    assert "7.65 A; peak 7 A; stalled 2" in words
    missing = next(it for it in every(root, "article") if "failsafe/missing" in text_of(it))
    assert "Change to the document (a person must decide): add /receiver/failsafe" in text_of(
        missing
    )


def test_a_consequence_stands_under_its_cause_and_leads_to_it(tell: Tell) -> None:
    root = parsed(tell("html", [faulty()]))
    articles = every(root, "article")
    consequence = next(it for it in articles if "bands/same-state" in text_of(it))
    cause = articles[articles.index(consequence) - 1]
    assert "bands/unreachable" in text_of(cause)
    assert "because" in consequence.get("class", "").split()
    (link,) = every(consequence, "a")
    assert link.get("href") == f"#{cause.get('id')}"


def test_two_that_blame_each_other_are_both_told(tell: Tell) -> None:
    report = faulty()
    first, second = report.findings[:2]
    both = (
        evolve(first, because=Cause(second.rule, second.at)),
        evolve(second, because=Cause(first.rule, first.at)),
    )
    root = parsed(tell("html", [evolve(report, findings=both)]))
    assert_sound(root)
    assert len(every(root, "article")) == 2
    assert len(with_class(root, "because")) == 1


def test_what_could_not_be_checked_names_the_keys_and_the_step(tell: Tell) -> None:
    document = clean("plain")
    del document["power"]
    report = INSPECTOR.inspect(document)
    words = text_of(parsed(tell("html", [report])))
    part = words.partition("What is not shown is not proven")[2]
    opened = next(found for found in report.findings if found.rule == "power/peak")
    assert "settled by /power" in part
    assert f"power/peak: {opened.bench}" in part
    assert "but 6 checks could not be made" in words or "checks could not be made" in words


def test_a_rule_that_crashed_is_told_where_it_is_missing(tell: Tell) -> None:
    problem = Problem("a.setup.json", "the rule crashed", rule="bands/x", pack="p 2.0")
    root = parsed(tell("html", [evolve(faulty(), problems=(problem,))]))
    assert "Not to be trusted: 1 problem" in text_of(root)
    assert "a.setup.json · p 2.0: bands/x: the rule crashed" in text_of(root)
    (model,) = with_class(root, "model")
    assert "Not every rule was run here: 1 problem" in text_of(model)


def test_waived_reviewed_new_and_gone(tell: Tell) -> None:
    report = faulty()
    first, second, third, *_ = report.findings
    changed = evolve(
        report,
        findings=(
            evolve(first, waived=Waived("flown with care", "the safety officer", "2031-05-18")),
            evolve(second, kind="review", baseline="unchanged"),
            evolve(third, baseline="new"),
        ),
        gone=(Earlier("bands/gap", "fail", "warning", "/x", "It had a gap.", "f"),),
    )
    root = parsed(tell("html", [changed]))
    assert_sound(root)
    words = text_of(root)
    assert "Grounded by 1 finding (caution or worse; only what is new)." in words
    part = words.partition("Accepted by a waiver " + first.word)[2]
    assert "By the safety officer until 2031-05-18: flown with care" in part
    assert first.safety in part
    judged = words.partition("For a person to judge " + second.word)[2]
    assert "known from the earlier report" in judged
    assert "new since the earlier report" in words
    assert "Gone since the earlier report bands/gap It had a gap." in words


def test_settings_and_rules_left_out_are_told(tell: Tell) -> None:
    report = evolve(
        faulty(),
        settings=Settings("prebind.toml", ground_at="danger"),
        not_run=("bands/gap",),
    )
    words = text_of(parsed(tell("html", [report])))
    assert "Grounded by 2 findings (danger)." in words
    assert "Settings of prebind.toml: ground_at danger." in words
    assert "Left out by prebind.toml, not run: bands/gap." in words


def test_pictures_are_there_with_their_numbers(tell: Tell) -> None:
    root = parsed(tell("html", [INSPECTOR.inspect(clean("trainer"))]))
    model = by_id(root, "model1")
    titles = [text_of(picture[0]) for picture in every(model, "svg")]
    assert titles[:2] == [
        "Bands and positions of selector “flight mode”",
        "Bands and positions of selector “recovery”",
    ]
    assert titles[2:7] == [f"Pulses of port {n}" for n in range(1, 6)]
    assert titles[7:] == [
        "Roll on port 2: aileron-right",
        "Roll on port 5: aileron-left",
        "Pitch on port 3: elevator",
        "Yaw on port 4: rudder",
    ]
    first = every(model, "svg")[0]
    discs = [it for it in every(first, "use") if href(it) == "#shape-one"]
    # −100, 0 and +100 % of ±150 %, between 7 and 93 percent of the width; 2048 steps round a bit.
    assert [float(str(it.get("x")).rstrip("%")) for it in discs] == pytest.approx(
        [7 + 86 * (percent + 150) / 300 for percent in (-100, 0, 100)], abs=0.03
    )
    words = [text_of(it) for it in every(first, "text")]
    assert {"level", "limited", "damped", "-100 %", "1100 µs"} <= set(words)
    assert "middle, margin 135.4 µs" in words


def href(element: Element) -> str:
    return next(value for name, value in element.items() if str(name).endswith("href"))


def test_what_is_beyond_the_bound_is_said(tell: Tell) -> None:
    report = Inspector(Configuration(combinations=1)).inspect(clean("trainer"))
    root = parsed(tell("html", [report]))
    assert_sound(root)
    pictures = " ".join(text_of(figure) for figure in every(root, "figure"))
    assert "Not shown here: not checked: " in pictures


def test_a_document_without_a_receiver_has_nothing_to_draw(tell: Tell) -> None:
    document = clean("plain")
    for key in ("receiver", "servos", "surfaces", "speed_controls"):
        document.pop(key, None)
    root = parsed(tell("html", [INSPECTOR.inspect(document)]))
    assert_sound(root)
    assert not every(root, "figure")
    assert "There is nothing to draw" in text_of(root)


# --- what no name can do --------------------------------------------------------------------


def renamed(name: str) -> dict[str, Any]:
    """A setup with gaps, in which a name stands wherever a document may choose one."""
    document = clean("trainer")
    document["channels"].append({"channel": 7, "function": "x-lamp"})
    document["receiver"]["outputs"].append({"port": 6, "channel": 7})
    del document["servos"][3]["increasing_pulse"]
    text = json.dumps(document)
    for old in (
        "Oystercatcher 1500",
        "mode-switch",
        "roll-stick",
        "flight mode",
        "limited",
        "middle",
        "aileron-right",
        "throttle cut",
    ):
        text = text.replace(json.dumps(old), json.dumps(f"{name} {old[:2]}"))
    made: dict[str, Any] = json.loads(text)
    return made


def shape_of(root: Element) -> list[tuple[str, tuple[str, ...], str]]:
    """The elements with the names of their attributes, and their classes."""
    return [
        (named(it), tuple(sorted(map(str, it.keys()))), it.get("class", "")) for it in root.iter()
    ]


def hostile(name: str) -> Report:
    report = INSPECTOR.inspect(renamed(name), path=f"{name}.setup.json")
    assert report.document is not None, report.problems
    return evolve(
        report,
        findings=tuple(
            evolve(
                found,
                message=f"{found.message} {name}",
                safety=name,
                remedy=name,
                bench=name if found.bench else None,
                evidence={name: name, "controls": {name: name}},
            )
            for found in report.findings
        ),
        problems=(Problem(name, name, rule=name, pack=name),),
    )


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_only_ever_text(tell: Tell, name: str) -> None:
    """The page has the same elements as with a harmless name of the same length."""
    root = parsed(tell("html", [hostile(name)]))
    assert_sound(root)
    harmless = "".join(sign if sign in " `-" else "n" for sign in name)
    assert shape_of(root) == shape_of(parsed(tell("html", [hostile(harmless)])))
    assert name.replace("`", "") in text_of(root)


@pytest.mark.parametrize("sign", ["\x1b[31m", "\n", "\u202e", "\u2066", "\x00", "\ud800", "\x7f"])
def test_signs_that_steer_are_spelt_out(tell: Tell, sign: str) -> None:
    report = faulty()
    changed = evolve(report.findings[0], message=f"a{sign}b", evidence={sign: sign})
    page = tell("html", [evolve(report, findings=(changed,))])
    assert f"a\\u{ord(sign[0]):04x}{sign[1:]}b" in page
    assert not {char for char in page if not char.isprintable()} - {"\n"}


def test_a_documents_backticks_make_code_and_nothing_else(tell: Tell) -> None:
    report = faulty()
    changed = evolve(report.findings[0], message="see `<b>x</b>` and `y")
    root = parsed(tell("html", [evolve(report, findings=(changed,))]))
    (message,) = with_class(root, "message")
    assert [(named(it), it.text, it.tail) for it in message] == [("code", "<b>x</b>", " and `y")]


# --- what it asks for: nothing --------------------------------------------------------------


def test_its_policy_forbids_everything_but_its_own_style(tell: Tell) -> None:
    root = parsed(tell("html", [faulty()]))
    (style,) = every(root, "style")
    digest = b64encode(sha256((style.text or "").encode()).digest()).decode()
    (policy,) = [
        it.get("content")
        for it in every(root, "meta")
        if it.get("http-equiv") == "Content-Security-Policy"
    ]
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )


def test_its_style_fetches_nothing() -> None:
    assert "@import" not in STYLE
    assert "http" not in STYLE
    assert set(re.findall(r"url\(([^)]*)\)", STYLE)) == {
        "#hatch",
        "#dots",
        "#alarm",
    }


def test_no_address_stands_in_the_page(tell: Tell) -> None:
    assert "://" not in tell("html", [faulty()])


# --- contrast -------------------------------------------------------------------------------


def palettes() -> Iterator[dict[str, str]]:
    """The colours of the light scheme, and those of the dark one."""
    light, dark = re.findall(r":root \{(.*?)\}", STYLE, re.DOTALL)
    base = dict(re.findall(r"--(\w+): (#\w{6})", light))
    yield base
    yield base | dict(re.findall(r"--(\w+): (#\w{6})", dark))


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.1, relative luminance of sRGB (from memory)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (
            part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
        )
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_of_contrast() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", [0, 1])
def test_texts_stand_out(scheme: int) -> None:
    """WCAG 2.1, 1.4.3 and 1.4.11: 4.5 to 1 for text, 3 to 1 for what must be seen."""
    colours = list(palettes())[scheme]
    for ground in ("paper", "sheet"):
        for text in ("ink", "soft", "link", "wrong"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
        for line in ("mark", "wrong", "lost", "ink"):
            assert contrast(colours[line], colours[ground]) >= 3, (line, ground)
    assert contrast(colours["ink"], colours["tint"]) >= 4.5


@pytest.mark.parametrize("word", WORDS)
def test_signal_words_stand_out(word: str) -> None:
    found = re.search(rf"\.word\.{word} \{{ background: (#\w+); color: (#\w+)", STYLE)
    assert found is not None
    assert contrast(found[1], found[2]) >= 4.5


def test_signal_words_have_the_colours_of_their_panels() -> None:
    """ANSI Z535: red, orange, yellow, blue (secondary source)."""
    hues = {
        word: re.search(rf"\.word\.{word} \{{ background: #(..)(..)(..)", STYLE) for word in WORDS
    }
    parts = {
        word: [int(part, 16) for part in found.groups()] for word, found in hues.items() if found
    }
    red, orange, yellow, blue = (parts[word] for word in WORDS)
    assert red[0] > 3 * max(red[1:])
    assert orange[0] > orange[1] > 100 > orange[2]
    assert min(yellow[:2]) > 200 > yellow[2]
    assert blue[2] > 1.5 * max(blue[:2])


# --- how it is written ----------------------------------------------------------------------


def test_models_are_written_in_order_and_only_once_the_verdict_is_known(tell: Tell) -> None:
    many = [faulty("dunlin-faulty")] * 30 + [faulty()]
    page = tell("html", many)
    assert len(page) > 1024 * 1024, "more than is kept in memory"
    assert page.index("Grounded by 189 findings") < page.index('id="model1"')
    places = [page.index(f'id="model{n}"') for n in range(1, 32)]
    assert places == sorted(places)


# --- in a browser ---------------------------------------------------------------------------

CHROMIUM = shutil.which("chromium")

QUIET = (
    "--headless",
    "--no-sandbox",
    "--no-first-run",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
)

ASK = """
axe.run(document, {resultTypes: ["violations"]}).then(found => {
  const told = document.createElement("pre");
  told.id = "told";
  told.textContent = JSON.stringify({
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
    ground: getComputedStyle(document.body).backgroundColor,
    too_wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
    violations: found.violations.map(it => [it.id, it.nodes.map(node => node.html)]),
    passes: found.passes.length,
  });
  document.body.append(told);
});
"""


def axe() -> str | None:
    """The text of axe-core, where someone has it: PREBIND_AXE names it, or `npm install` did."""
    places = [os.environ.get("PREBIND_AXE", ""), "node_modules/axe-core/axe.min.js"]
    return next((Path(it).read_text("utf-8") for it in places if Path(it).is_file()), None)


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="there is no chromium here")
@pytest.mark.skipif(axe() is None, reason="PREBIND_AXE names no axe.min.js of axe-core")
@pytest.mark.parametrize(("scheme", "width"), [("light", 1200), ("dark", 1200), ("dark", 500)])
def test_axe_finds_nothing(tell: Tell, tmp_path: Path, scheme: str, width: int) -> None:
    """axe-core's rules for WCAG 2.1 and its best practices, run in the page by Chromium."""
    assert CHROMIUM is not None
    page = tell("html", [faulty("dunlin-faulty")])
    page = re.sub('<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    ask = f"<script>{axe()}</script><script>{ASK}</script></body>"
    file = tmp_path / "page.html"
    file.write_text(page.replace("</body>", ask), "utf-8")
    ran = subprocess.run(
        [
            CHROMIUM,
            *QUIET,
            f"--user-data-dir={tmp_path / 'profile'}",
            f"--blink-settings=preferredColorScheme={'0' if scheme == 'dark' else '1'}",
            f"--window-size={width},900",
            "--virtual-time-budget=60000",
            "--dump-dom",
            file.as_uri(),
        ],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    told = re.search(r'<pre id="told">(.*?)</pre>', ran.stdout, re.DOTALL)
    assert told is not None, ran.stdout[-2000:]
    found = json.loads(unescape(told[1]))
    colours = list(palettes())[scheme == "dark"]
    paper = [int(colours["paper"][i : i + 2], 16) for i in (1, 3, 5)]
    assert found["dark"] is (scheme == "dark")
    assert found["ground"] == f"rgb({paper[0]}, {paper[1]}, {paper[2]})"
    assert found["too_wide"] == 0
    assert found["passes"] > 20
    assert found["violations"] == []
