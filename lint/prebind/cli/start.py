"""`prebind start`: a new setup, from a plan or from an airframe alone."""

from __future__ import annotations

import os
import sys
from errno import EEXIST
from pathlib import Path
from typing import TYPE_CHECKING, Any

from prebind.cli.options import Parser, add_display, nearest
from prebind.cli.output import on_output, whole_file
from prebind.cli.writing import replace_text
from prebind.document.edit import edited
from prebind.document.positions import Source, split
from prebind.inspect.inspector import Inspector
from prebind.plan.start import Question, Unfit, blank, operations, questions, understood
from prebind.problem import Problem
from prebind.report.wording import clean

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Mapping, Sequence

    from prebind.inspect.finding import Report

Json = dict[str, Any]

_ENDING = ".setup.json"
_LIMIT = 4 * 1024 * 1024


class Stop(Exception):
    """The run ends here; problems say why."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__()
        self.problems = problems


def parser() -> Parser:
    from prebind_schemas import templates

    asked = Parser(
        "prebind start",
        "Starts a setup: complete with channels, bands, overrides and failsafe, and with what is\n"
        "still to be found out marked as not known. It inspects without any fail; what is open is\n"
        "the list of what is left to do.\n\n"
        "On a terminal it asks. Return keeps what stands in brackets, or leaves it not known; a\n"
        "full stop ends the questions. Leave whenever you like: what was answered is written.\n"
        "Elsewhere, and with --answers, it asks nothing.",
        airframes=", ".join(templates()),
        examples="prebind start 'Avocet 1300' --plan club.plan.json\n"
        "prebind start 'Knot 900' --airframe trainer\n"
        "prebind start 'Knot 900' --airframe trainer --answers knot.answers.json\n"
        "prebind start --continue knot-900.setup.json\n",
        exit="0  written, and nothing in it fails\n"
        "1  written, and an answer makes something fail\n"
        "2  not written: a plan or answer that is none, a file that exists; wrong usage\n",
    )
    asked.add_argument("name", metavar="NAME", nargs="?", help="what the model is called")
    source = asked.add_mutually_exclusive_group(required=True)
    source.add_argument("--plan", metavar="FILE", help="a plan (from --report json), or wishes")
    source.add_argument("--airframe", metavar="KIND", help="an airframe's template; see below")
    source.add_argument(
        "--continue", dest="begun", metavar="FILE", help="a setup that was begun and has gaps left"
    )
    asked.add_argument(
        "--answers", metavar="FILE", help='{"answers": {"/model/mass_g": 900, …}}; asks nothing'
    )
    asked.add_argument(
        "--to",
        metavar="FILE",
        help="where to write it (default: NAME.setup.json, in small letters)",
    )
    asked.add_argument(
        "--replace", action="store_true", help="write it even where the file exists already"
    )
    asked.add_argument(
        "--questions", action="store_true", help="list what would be asked, and write nothing"
    )
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    if options.begun is None and options.name is None:
        asked.error("say what the model is called")
    if options.begun is not None and (options.to or options.name):
        asked.error("--continue goes on in the file itself; leave NAME and --to out")
    try:
        return _start(asked, options)
    except Stop as stop:
        from prebind.report.inspection_text import problem_line

        sys.stderr.writelines(map(problem_line, stop.problems))
        return 2


def _start(asked: Parser, options: Namespace) -> int:
    target = options.begun or options.to or _file_name(options.name)
    if (
        options.begun is None
        and not (options.replace or options.questions)
        and Path(target).exists()
    ):
        reason = "exists already; name another file with --to, or say --replace"
        raise Stop(Problem(target, reason))
    text = _read(options.begun) if options.begun is not None else _begun(asked, options)
    setup = _object(text, target)
    wanted = questions(setup, structure=options.airframe is not None)
    if options.questions:
        sys.stdout.writelines(f"{it.id}\n    {it.text}{_hint(it)}\n" for it in wanted)
        return 0
    if options.answers is not None:
        made = edited(text, operations(setup, _answers(options.answers, wanted, text, target)))
    elif sys.stdin.isatty() and sys.stdout.isatty():
        made = _ask(wanted, text, target)
    else:
        made = text
    report = Inspector().inspect(made, path=target)
    if report.problems:
        raise Stop(*report.problems)
    _write(target, text, made, options)
    return _told(report, options)


def _file_name(name: str) -> str:
    small = "".join(it if it.isalnum() else "-" for it in name.lower())
    return ("-".join(filter(None, small.split("-"))) or "model") + _ENDING


# Where it begins


def _begun(asked: Parser, options: Namespace) -> str:
    from json import dumps

    if options.airframe is not None:
        from json import loads

        from prebind_schemas import template_text, templates

        if options.airframe not in templates():
            asked.error(
                f"there is no airframe “{options.airframe}”{nearest(options.airframe, templates())}"
            )
        setup = blank(loads(template_text(options.airframe)), options.name)
    else:
        setup = _planned(options)
    return dumps(setup, indent=2, ensure_ascii=False) + "\n"


def _planned(options: Namespace) -> Json:
    """The model's setup in a plan, or of a plan made now."""
    name = options.plan
    plan = _object(_read(name), name)
    if plan.get("format") == "wishes/1":
        setups = _plan_now(name)
    else:
        from prebind.document.schema import check

        problems = [Problem(name, fault.message) for fault in check(plan, "plan")]
        if problems:
            raise Stop(*problems)
        best = plan["answers"][0]["models"] if plan["answers"] else []
        setups = {it["model"]: it["setup"] for it in best if it["setup"] is not None}
    if options.name not in setups:
        meant = nearest(options.name, setups) if setups else "; no model fits in it"
        raise Stop(Problem(name, f"the plan has no setup for “{options.name}”{meant}"))
    found: Json = dict(setups[options.name])
    return found


def _plan_now(name: str) -> Mapping[str, Json]:
    from prebind.cli.plan import wishes
    from prebind.plan import NotInstalled, plan
    from prebind.plan.plain import plan_json
    from prebind.report.plan_text import contradiction_lines

    asked = wishes(name)
    if isinstance(asked, list):
        raise Stop(*asked)
    try:
        found = plan(asked)
    except NotInstalled as error:
        raise Stop(Problem(name, str(error))) from None
    if found.answer is None:
        sys.stderr.writelines(contradiction_lines(plan_json(found, name)))
    return found.setups


def _read(name: str) -> str:
    from prebind.document.contents import contents
    from prebind.document.parse import Unreadable, text_of

    try:
        return text_of(contents(name, _LIMIT + 1))
    except OSError as error:
        raise Stop(Problem(name, f"cannot be read: {error.strerror}")) from None
    except Unreadable as error:
        raise Stop(Problem(name, error.message, error.line, error.column)) from None


def _object(text: str, name: str) -> Json:
    from prebind.document.parse import Unreadable, parse_object

    try:
        return parse_object(text.encode(), _LIMIT)
    except Unreadable as error:
        raise Stop(Problem(name, error.message, error.line, error.column)) from None


# Answers


def _answers(name: str, wanted: Sequence[Question], text: str, target: str) -> Mapping[str, Any]:
    """The answers of a file, each to a question that is asked, and none that breaks the setup."""
    source = Source(name, _read(name).encode())
    document = _object(source.text, name)
    given = document.get("answers")
    if not isinstance(given, dict):
        raise Stop(Problem(name, 'write {"answers": {…}}, with what `--questions` lists as keys'))
    known = [question.id for question in wanted]
    problems = []
    for pointer in given:
        if pointer not in known:
            from prebind.document.wording import nearest as near

            meant = near(pointer, known)
            rest = f"; did you mean “{meant}”?" if meant else "; `--questions` lists what is asked"
            problems.append(_at(source, pointer, f"nothing is asked at “{clean(pointer)}”{rest}"))
    if problems:
        raise Stop(*problems)
    answers = {pointer: value for pointer, value in given.items() if value is not None}
    for problem, pointer in _broken(text, answers, target):
        problems.append(_at(source, pointer, problem) if pointer else Problem(name, problem))
    if problems:
        raise Stop(*problems)
    return answers


def _at(source: Source, pointer: str, message: str) -> Problem:
    place = source.place(("answers", pointer))
    return Problem(source.name, message, place.line, place.column)


def _broken(text: str, answers: Mapping[str, Any], target: str) -> list[tuple[str, str | None]]:
    """What the schema has against the setup with these answers, and the answer to blame."""
    from prebind.document import consistency, schema

    setup = _object(text, target)
    made = _object(edited(text, operations(setup, answers)), target)
    faults = schema.check(made) or consistency.check(made)
    return [(fault.message, _blamed(fault.at, answers)) for fault in faults]


def _blamed(at: str, answers: Mapping[str, Any]) -> str | None:
    tokens = split(at)
    for pointer in answers:
        asked = split(pointer)
        if tokens[: len(asked)] == asked or asked[: len(tokens)] == tokens:
            return pointer
    return None


def _ask(wanted: Sequence[Question], text: str, target: str) -> str:
    """Asks one question after another; the text with what was answered."""
    setup = _object(text, target)
    answers: dict[str, Any] = {}
    print(
        f"{len(wanted)} questions. Return leaves one not known, or keeps what is in brackets; a "
        "full stop ends them.\nWhat was answered is written whenever you leave."
    )
    for number, question in enumerate(wanted, 1):
        try:
            value = _answer(question, number, len(wanted), text, answers, target)
        except (EOFError, KeyboardInterrupt):
            print()
            break
        if value is _ENOUGH:
            break
        if value is not None:
            answers[question.id] = value
    return edited(text, operations(setup, answers))


_ENOUGH = object()


def _answer(
    question: Question,
    number: int,
    count: int,
    text: str,
    answers: Mapping[str, Any],
    target: str,
) -> Any:
    """One answer, asked for until it is one; None where it is left open."""
    while True:
        typed = input(f"{number}/{count} {question.text}{_hint(question)} ").strip()
        if typed == ".":
            return _ENOUGH
        if not typed:
            return None
        try:
            value = understood(question, typed)
        except Unfit as unfit:
            print(f"    {unfit}.")
            continue
        faults = _broken(text, {**answers, question.id: value}, target)
        if not faults:
            return value
        print(f"    {clean(faults[0][0])}.")


def _hint(question: Question) -> str:
    choices = f" ({', '.join(question.choices)})" if question.choices else ""
    default = "" if question.default is None else f" [{question.default}]"
    return f"{choices}{default}"


# The file, and what is left to do


def _write(target: str, before: str, made: str, options: Namespace) -> None:
    if options.begun is not None:
        if made != before:
            replace_text(target, before.encode(), made, Path(target).resolve().parent)
        return
    if not options.replace and os.path.lexists(target):
        raise FileExistsError(EEXIST, "exists already; nothing was written", target)
    with whole_file(target) as sheet:
        sheet.out.write(made)


def _told(report: Report, options: Namespace) -> int:
    from prebind.report.plan_todo_text import todo_text

    sheet = on_output(options.plain)
    counts = report.outcomes
    sheet.out.write(
        f"{clean(report.path_name)} is written: {counts['pass']} passed, {counts['fail']} failed, "
        f"{counts['open']} not checked.\n\n"
    )
    sheet.out.writelines(todo_text(report, sheet.width))
    return 1 if counts["fail"] else 0
