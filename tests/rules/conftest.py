"""What several tests of rules share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from prebind import Configuration, Inspector
from prebind.inspect import settings
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.fixture
def refused(tmp_path: Path) -> Callable[[str, str, float], bool]:
    """Whether a club's number for a rule is refused; one that is not must do."""

    def ask(rule: str, key: str, number: float) -> bool:
        file = tmp_path / "prebind.toml"
        file.write_text(f'[settings."{rule}"]\n{key} = {number}\n', encoding="utf-8")
        found = settings.read(str(file), Inspector())
        if not isinstance(found, list):
            taken = Inspector(Configuration(numbers={rule: {key: number}}))
            assert not taken.inspect(clean()).problems
            return False
        (problem,) = found
        assert f"`{key}` of “{rule}” must be " in problem.message
        return True

    return ask
