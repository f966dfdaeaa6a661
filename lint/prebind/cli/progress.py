"""A line on standard error that counts documents while a long run goes on."""

from __future__ import annotations

import sys
from time import monotonic

_PATIENCE_S = 1.0
_BETWEEN_S = 0.1


class Progress:
    """Silent unless `wanted`, and for as long as a run is short."""

    def __init__(self, wanted: bool) -> None:
        self._next = monotonic() + _PATIENCE_S if wanted else None
        self._count = 0
        self._shown = ""

    def step(self) -> None:
        """One more document is done."""
        self._count += 1
        if self._next is None or monotonic() < self._next:
            return
        self._next = monotonic() + _BETWEEN_S
        self._shown = f"{self._count:,} documents inspected"
        print(f"\r{self._shown}", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Wipes the line, if there is one."""
        if self._shown:
            print(f"\r{' ' * len(self._shown)}\r", end="", file=sys.stderr, flush=True)
