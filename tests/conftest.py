"""Hypothesis: new examples on a workbench, in CI the same ones: a change is judged by itself."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("same examples", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("same examples")
