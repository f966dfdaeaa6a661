"""The command line: `prebind COMMAND …`.

A command is a module of this package with `parser()` and `run(given)`; only the one that is asked
for is imported.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["main", "program"]

COMMANDS = {
    "inspect": "inspect setups and report what is wrong",
    "trace": "show the signal path of one setup: pulses, states, directions",
    "compare": "say what changed between two setups, in effect",
    "card": "make the bench and field card of one setup",
    "rulebook": "list the rules, or explain one",
    "plan": "plan channels and controls for wished models, and which radio serves them",
    "start": "start a new setup, from a plan or an airframe",
    "mend": "mend what a change of the document can mend",
    "sign": "record that a check was done by hand, bound to what it proved",
}


def program() -> NoReturn:
    """Runs the command line as a program of its own, and ends the process.

    A short run is done before its memory is worth tidying: nobody looks for cycles but who makes
    many, and what is left at the end is not taken down piece by piece.
    """
    gc.disable()
    code = main()
    sys.stderr.flush()
    if "threading" in sys.modules:  # whoever has begun more than this one is waited for
        sys.exit(code)
    atexit._run_exitfuncs()
    os._exit(code)


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and gives the exit code.

    0: nothing grounds; 1: something does; 2: the run itself is not to be trusted.
    """
    given = sys.argv[1:] if arguments is None else list(arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # where the terminal lacks a sign
    try:
        code = _run(given)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read along has left
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 2
    except KeyboardInterrupt:
        print("prebind: interrupted; nothing was finished", file=sys.stderr)
        return 130
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else 2
    except Exception as error:
        return _crashed(error, "--traceback" in given)
    return code


def _run(given: list[str]) -> int:
    if not given or given[0] not in COMMANDS:
        _top(given)
    from importlib import import_module

    command = import_module(f"{__name__}.{given[0]}")
    code: int = command.run(given[1:])
    return code


def _top(given: list[str]) -> NoReturn:
    """What is not a command: help, the version, or a mistake."""
    from argparse import SUPPRESS

    from prebind import __version__
    from prebind.cli.options import Parser, nearest

    width = max(map(len, COMMANDS))
    parser = Parser(
        "prebind",
        "Reads how radio-control models are set up, works out what every control position does,\n"
        "and says what is wrong.",
        commands="".join(f"{name:<{width}}  {what}\n" for name, what in COMMANDS.items()),
        examples="prebind inspect                      every *.setup.json below this folder\n"
        "prebind inspect dunlin.setup.json    one setup\n"
        "prebind inspect --help               what a command can be told\n",
    )
    parser.usage = "prebind COMMAND ..."
    parser.add_argument("--version", action="version", version=f"prebind {__version__}")
    parser.add_argument("command", nargs="?", help=SUPPRESS)
    name = parser.parse_known_args(given)[0].command
    parser.error(
        "name a command" if name is None else f"“{name}” is no command{nearest(name, COMMANDS)}"
    )


def _crashed(error: Exception, whole: bool) -> int:
    from prebind.report.wording import clean

    if whole:
        from traceback import print_exception

        print_exception(error)
    elif isinstance(error, OSError):
        where = error.filename or "the output"
        print(f"prebind: {clean(where)}: {clean(error.strerror)}", file=sys.stderr)
    else:
        what = clean(f"{type(error).__name__}: {error}")
        for note in getattr(error, "__notes__", ("prebind",)):
            print(f"{clean(note)} crashed, which is a fault in it: {what}", file=sys.stderr)
        print("The same command with --traceback shows where.", file=sys.stderr)
    return 2
