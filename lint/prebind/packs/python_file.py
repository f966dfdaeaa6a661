"""A pack that is one Python file.  Loading it runs its code."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType


def load(file: str) -> ModuleType:
    """The module of a file, which is run anew and leaves nothing on disk.

    Raises OSError where the file cannot be read, and whatever its code raises.
    """
    path = Path(file)
    module = ModuleType(f"prebind_pack_{path.stem}")
    module.__file__ = str(path)
    code = compile(path.read_bytes(), str(path), "exec")
    sys.modules[module.__name__] = module  # typing and attrs look modules up by name
    exec(code, module.__dict__)
    return module
