"""Who may import whom: data flows one way, and the core knows no rule."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent
SOURCES = ("lint", "rules", "schemas")

STEPS = ("document", "path", "packs", "inspect", "plan", "report", "cli")
"""The steps of the core in the order in which data flows; none imports a later one."""

PUBLIC = {"prebind", "prebind.rule", "prebind.hooks", "prebind.model", "prebind.record"}
"""What a rule may import of the core."""


def modules(folder: str) -> list[Path]:
    return sorted((ROOT / folder).rglob("*.py"))


def imported(file: Path) -> Iterator[tuple[str, str]]:
    """(module, name) of every import in a file, those inside functions included."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((alias.name, "") for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}: imports name the whole module"
            yield from ((node.module or "", alias.name) for alias in node.names)


def step_of(module: str) -> int | None:
    parts = module.split(".")
    return (
        STEPS.index(parts[1])
        if parts[0] == "prebind" and parts[1:2] and parts[1] in STEPS
        else None
    )


@pytest.mark.parametrize("file", modules("lint"), ids=str)
def test_no_step_imports_a_later_one(file: Path) -> None:
    own = step_of(".".join(file.relative_to(ROOT / "lint").with_suffix("").parts))
    if own is None:
        return
    for module, _ in imported(file):
        other = step_of(module)
        assert other is None or other <= own, f"{file} imports {module}"


@pytest.mark.parametrize("file", modules("lint"), ids=str)
def test_the_core_imports_no_rule(file: Path) -> None:
    assert not [m for m, _ in imported(file) if m.split(".")[0] == "prebind_rules"]


@pytest.mark.parametrize("file", modules("lint/prebind/path"), ids=str)
def test_the_path_knows_no_rule_no_report_and_no_file(file: Path) -> None:
    allowed = ("prebind.path", "prebind.document.model", "prebind.record")
    for module, _ in imported(file):
        assert not module.startswith("prebind") or module.startswith(allowed), module
        if (file.name, module) != ("digest.py", "json"):  # a digest's canonical form is JSON
            assert module.split(".")[0] not in {"pathlib", "os", "io", "json"}, module


@pytest.mark.parametrize("file", modules("rules"), ids=str)
def test_rules_know_only_the_public_interface(file: Path) -> None:
    for module, name in imported(file):
        if module.split(".")[0] == "prebind":
            assert module in PUBLIC, f"{file} imports {module}"
            assert not (module == "prebind" and name in STEPS)
        assert module.split(".")[0] != "prebind_schemas"


@pytest.mark.parametrize("file", modules("schemas"), ids=str)
def test_schemas_know_nobody(file: Path) -> None:
    assert not [m for m, _ in imported(file) if m.startswith("prebind")]


def test_no_drawer_for_odds_and_ends() -> None:
    odd = {"utils", "util", "helpers", "common", "misc"}
    assert not [file for folder in SOURCES for file in modules(folder) if file.stem in odd]


def test_the_top_holds_what_it_should() -> None:
    names = {entry.name for entry in ROOT.iterdir() if not entry.name.startswith(".")}
    built = {"dist", "build"}
    assert names - built == {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "CHANGELOG.md",
        "pyproject.toml",
        "docs",
        "lint",
        "rules",
        "schemas",
        "tests",
    }
