"""What holds for all tests.

Hypothesis takes new examples on a workbench, in CI the same ones: a change is judged by itself.
"""

from __future__ import annotations

import os

from hypothesis import Phase, settings

os.environ.pop("COLUMNS", None)  # what is printed is compared, however wide the terminal
os.environ["XDG_CACHE_HOME"] = __file__  # no folder: nothing is found that an earlier run kept

# Without shrinking: a failure there is told at once, and made small on a workbench.
settings.register_profile(
    "same examples", derandomize=True, phases=(Phase.explicit, Phase.generate)
)
if os.environ.get("CI"):
    settings.load_profile("same examples")
