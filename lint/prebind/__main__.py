"""`python -m prebind`."""

from __future__ import annotations

from prebind.cli import program

if __name__ == "__main__":
    program()
