"""Guards the layout: imports point one way, and each heavy library stays where it belongs."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "cutplan"
MODULES = sorted(PACKAGE.rglob("*.py"))
MAY_IMPORT = {
    "cli": {"api", "output", "plan", "geometry", "survey", "job", "manual", "errors", ""},
    "api": {"output", "plan", "geometry", "survey", "job", "errors"},
    "output": {"plan", "geometry", "job", "errors", ""},
    "plan": {"nesting", "geometry", "survey", "job", "errors"},
    "geometry": {"job", "errors"},
    "survey": {"errors"},
    "nesting": {"errors"},
    "job": {"errors"},
    "manual": set(),
    "errors": set(),
    "": {"api"},
}
"""cli -> api -> output, plan -> nesting, geometry, survey -> job; ``output`` shows a plan, so it knows
``plan``'s dataclasses. The empty name is the package itself: its version, and the names of ``api``."""

FILES_AND_SCREENS = {"pandas", "click", "rich", "openpyxl", "reportlab"}


def part(module: Path) -> str:
    """The part of the package that a module belongs to: ``job``, ``cli`` ..., or the empty name."""
    first = module.relative_to(PACKAGE).parts[0]
    return "" if first == "__init__.py" else first.removesuffix(".py")


@cache
def imported(module: Path) -> frozenset[str]:
    """Every module named by an import statement, wherever in the file it is."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: a relative import"
            names.add(node.module or "")
    return frozenset(names)


def test_every_part_is_known():
    """A new part of the package must say what it may import."""
    assert {part(module) for module in MODULES} == set(MAY_IMPORT)


@pytest.mark.parametrize("module", MODULES, ids=lambda module: str(module.relative_to(PACKAGE)))
def test_arrows_point_one_way(module):
    """A module imports its own part and the parts below it, and no other."""
    own = part(module)
    parts = {[*name.split("."), ""][1] for name in imported(module) if name == "cutplan" or name.startswith("cutplan.")}
    assert parts - {own} <= MAY_IMPORT[own]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: str(module.relative_to(PACKAGE)))
def test_libraries_stay_where_they_belong(module):
    """Only nesting and survey solve; geometry, nesting and survey know no files and no screens."""
    own = part(module)
    libraries = {name.split(".")[0] for name in imported(module)}
    if own != "nesting":
        assert "ortools" not in libraries
    if own in ("geometry", "nesting", "survey"):
        assert not libraries & FILES_AND_SCREENS
    if own not in ("survey", "nesting"):
        assert "scipy" not in libraries
    if own != "cli":
        assert "click" not in libraries


def test_every_dependency_is_used_and_every_import_declared():
    """What is installed with the package is what it imports, no more and no less."""
    declared = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    used = {name.split(".")[0] for module in MODULES for name in imported(module)}
    outside = used - set(sys.stdlib_module_names) - {"cutplan"}
    assert outside == {re.split(r"[<>=~ ]", each)[0] for each in declared}


def test_the_rules_can_fail(tmp_path):
    """The reader of imports sees those inside functions and behind TYPE_CHECKING too."""
    source = "import os.path\nif TYPE_CHECKING:\n    from rich.console import Console\ndef f():\n    import click\n"
    module = tmp_path / "module.py"
    module.write_text(source)
    assert imported(module) == {"os.path", "rich.console", "click"}
