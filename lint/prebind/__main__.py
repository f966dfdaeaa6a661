"""`python -m prebind`."""

from __future__ import annotations

import sys

from prebind.cli import main

if __name__ == "__main__":
    sys.exit(main())
