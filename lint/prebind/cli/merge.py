"""`prebind inspect --merge`: the reports of all parts, put together."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING

from prebind.cli.options import Parser, Wanted, reports
from prebind.cli.output import files_there, sheet_for, spare
from prebind.problem import Problem
from prebind.report.inspection_text import problem_line
from prebind.report.merging import Unfit, merge

if TYPE_CHECKING:
    from argparse import Namespace

_OURS = ("merge", "report", "plain", "traceback")


def run(asked: Parser, options: Namespace) -> int:
    wanted = reports(asked, options.report or [Wanted("json", None)], ("json",))
    for name, value in vars(options).items():
        if name not in _OURS and value != asked.get_default(name):
            option = "PATH" if name == "paths" else f"--{name.replace('_', '-')}"
            asked.error(f"{option} belongs to the runs of the parts; --merge inspects nothing")
    spare(files_there(wanted), options.merge)
    try:
        merged = merge(options.merge)
    except Unfit as unfit:
        sys.stderr.write(problem_line(unfit.problem))
        return 2
    with ExitStack() as stack:
        for one in wanted:
            sheet_for(one, stack, options.plain).out.writelines(merged.text())
    sys.stdout.flush()
    sys.stderr.writelines(problem_line(Problem(**problem)) for problem in merged.problems)
    return 2 if merged.problems else int(merged.grounds)
