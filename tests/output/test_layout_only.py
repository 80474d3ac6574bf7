"""``output`` lays out: what it shows comes from ``plan.tables``, and nothing is worked out on the way."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

OUTPUT = Path(__file__).parents[2] / "cutplan" / "output"
MODULES = sorted(OUTPUT.rglob("*.py"))

ASIDE = {
    "read_back.py": {"cutplan.plan.grid"},  # reads a plan's JSON, to have it proved
    "compare.py": {"cutplan.plan.rough"},  # proves the rough cuts that a list carries
    "template_drawing.py": {"cutplan.geometry.saddle"},  # pictures of the template, of no job
}
"""Imports that a module which shows no plan may have besides."""

DATA_ONLY = {"cutplan.geometry.model"}

SHOWS_A_PLAN = [
    *sorted((OUTPUT / "sheets").glob("*.py")),
    *sorted((OUTPUT / "pack").glob("*.py")),
    *(OUTPUT / name for name in ("terminal.py", "as_json.py", "as_csv.py", "bars_in_text.py")),
]

INSIDE = {
    *("offcut", "end_trim", "by_mark", "rough_ends", "blanks", "turn_deg", "cut_off_a", "cut_off_b"),
    *("saddles", "kerf", "saw_hold", "od", "wall"),
}
"""What a plan, its bars and its blanks have and no row has: only the tables take these apart."""


def imports(module: Path) -> set[str]:
    """Every module of the package that ``module`` imports from, also inside functions."""
    tree = ast.parse(module.read_text(encoding="utf-8"))
    return {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.name)
def test_no_geometry_no_packing_no_grid(module: Path) -> None:
    """No module of output imports a kernel of geometry, the packing or the grid."""
    found = {
        name
        for name in imports(module)
        if name.startswith(("cutplan.geometry", "cutplan.nesting", "cutplan.plan.grid", "cutplan.plan.rough", "numpy"))
    }
    assert found - DATA_ONLY == ASIDE.get(module.name, set())


@pytest.mark.parametrize("module", SHOWS_A_PLAN, ids=lambda module: module.name)
def test_what_shows_a_plan_takes_no_plan_apart(module: Path) -> None:
    """Sheets, terminal, JSON and CSV read rows of tables; what a plan and its blanks are made of they do not touch."""
    tree = ast.parse(module.read_text(encoding="utf-8"))
    read = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    settings = {"kerf", "end_trim", "saw_hold"} if module.name == "page.py" else set()  # how fine a column shows
    assert read & INSIDE - settings == set()
    if module.parent.name == "sheets":
        assert not {name for name in imports(module) if name.startswith("cutplan.plan.model")}


def test_the_rules_can_fail(tmp_path: Path) -> None:
    """An import inside a function is seen."""
    module = tmp_path / "sheet.py"
    module.write_text("def fill():\n    from cutplan.geometry.ends import end_line\n")
    assert imports(module) == {"cutplan.geometry.ends"}
