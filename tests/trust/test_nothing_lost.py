"""`mend` and `sign` killed at any moment leave the old file or the new one.

Each is killed twenty times; PREBIND_KILLS=500 in the environment makes it hundreds.

Killed at the moments that matter, full disks, permissions, links and files changed meanwhile:
tests/cli/test_mend.py and tests/cli/test_sign.py.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from prebind.testing import clean

if TYPE_CHECKING:
    from pathlib import Path

TIMES = int(os.environ.get("PREBIND_KILLS", "20"))

# One process that loads everything and forks: each child begins to work at once, so that the
# moments of death lie in the work and not in the imports.
KILLER = """
import os, signal, sys, time
from pathlib import Path
from random import Random
from prebind.cli import main
file, times, command = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3:]
old = file.read_bytes()
rights = file.stat().st_mode

def child():
    pid = os.fork()
    if pid == 0:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1); os.dup2(null, 2)
        os._exit(main(command))
    return pid

def once():
    started = time.perf_counter()
    os.waitpid(child(), 0)
    return time.perf_counter() - started

took = 9.0
for _ in range(4):  # the first warms caches on the disk
    took = min(took, once())
    new = file.read_bytes()
    assert new != old, "nothing was written"
    file.write_bytes(old)
chance, seen = Random("kills"), {old: 0, new: 0}
for _ in range(times):
    pid = child()
    time.sleep(chance.uniform(0.4, 1.1) * took)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    now = file.read_bytes()
    assert now in seen, f"{len(now)} bytes that are neither"
    assert file.stat().st_mode == rights
    seen[now] += 1
    took *= 0.9 if now == new else 1.1  # another program may keep the machine busy, or stop
    file.write_bytes(old)
left = sorted(p.name for p in file.parent.iterdir() if p != file)
assert all(name.endswith(".part") for name in left), left
once()
assert file.read_bytes() == new, "what a killed run left behind is in the way"
print(*seen.values())
"""


@pytest.mark.parametrize(
    "command",
    [
        ["mend", "--yes", "plover.setup.json"],
        ["sign", "plover.setup.json", "--check", "range", "--by", "A"],
    ],
    ids=["mend", "sign"],
)
def test_killed_at_any_moment(tmp_path: Path, command: list[str]) -> None:
    document = clean("plain")
    document["receiver"]["outputs"][3]["reversed"] = True
    document["servos"][3]["increasing_pulse"] = "trailing-edge-right"
    file = tmp_path / "plover.setup.json"
    file.write_text(json.dumps(document, indent=2), encoding="utf-8")
    file.chmod(0o640)
    ran = subprocess.run(
        [sys.executable, "-c", KILLER, file.name, str(TIMES), *command],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    old, new = map(int, ran.stdout.split())
    assert old + new == TIMES
    assert old >= TIMES // 10  # death came in time
