"""A pack run once more in an interpreter of its own, and watched while it is.

Run as a program it loads the pack that its first argument names, and leaves what came of it, as
JSON, in the file that its second argument names.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import evolve

from prebind.rule import Outcome
from prebind.testing.trial import Told, Trial

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from types import FrameType

    from prebind.rule import Rule

_HASH_SEEDS = ("1", "2")
_REACHING_OUT = ("os.", "socket.", "sqlite3.", "subprocess.")
"""How audit events begin that a rule has no business to raise, beside `open`."""
_IMPORTS = ("<frozen importlib", "<frozen zipimport")


class Elsewhere(NamedTuple):
    """`touched` is what rules reached out for while they judged, `said` what came to the output.

    `failed` says why the interpreter did not come to its end, where it did not.
    """

    told: Told
    touched: list[str]
    said: str
    failed: str = ""


def elsewhere(name: str) -> Elsewhere:
    """The pack of that name or path, run in a fresh interpreter with another hash seed."""
    import json
    import subprocess
    from pathlib import Path
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        file = Path(folder) / "told.json"
        command = [sys.executable, "-m", __name__, name, str(file)]
        done = subprocess.run(command, cwd=folder, env=_environment(), capture_output=True)
        said = (done.stdout + done.stderr).decode(errors="replace")
        if done.returncode or not file.exists():
            return Elsewhere({}, [], "", said.strip().rpartition("\n")[2] or "it ended")
        found = json.loads(file.read_text(encoding="utf-8"))
    return Elsewhere(found["told"], found["touched"], said)


def _environment() -> dict[str, str]:
    """This one's, with the same modules to be found and other hashes."""
    seed = _HASH_SEEDS[os.environ.get("PYTHONHASHSEED") == _HASH_SEEDS[0]]
    paths = os.pathsep.join(map(os.path.abspath, sys.path))
    return os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": paths}


class Watch:
    """Hears of every file, connection and program that is opened while a rule judges."""

    def __init__(self) -> None:
        self.touched: dict[str, None] = {}
        self._judging = ""

    def over(self, rule: Rule) -> Rule:
        """The rule, watched."""
        each = self._watched(rule.id, rule.each) if callable(rule.each) else rule.each
        return evolve(rule, judge=self._watched(rule.id, rule.judge), each=each)

    def _watched(self, name: str, asked: Callable[..., Any]) -> Callable[..., Any]:
        def answer(*given: Any) -> Any:
            self._judging = name
            try:
                answered = asked(*given)
                return answered if isinstance(answered, Outcome) else list(answered)
            finally:
                self._judging = ""

        return answer

    def __call__(self, event: str, given: Sequence[object]) -> None:
        if not self._judging or not (event == "open" or event.startswith(_REACHING_OUT)):
            return
        if not _importing():
            what = ", ".join(map(repr, given[:1]))
            self.touched[f"{self._judging}: {event} {what}"] = None


def _importing() -> bool:
    """Whether it is the import of a module that reads files."""
    frame: FrameType | None = sys._getframe()
    while frame is not None:
        if frame.f_code.co_filename.startswith(_IMPORTS):
            return True
        frame = frame.f_back
    return False


def main(name: str, file: str) -> None:
    import json
    from pathlib import Path

    trial, watch = Trial(name), Watch()
    rules = [watch.over(rule) for rule in trial.rules]
    documents = list(trial.mappings())
    sys.addaudithook(watch)
    found = trial.told_of(rules, documents)
    text = json.dumps({"told": found, "touched": list(watch.touched)})
    Path(file).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
