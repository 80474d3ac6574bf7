"""Whole builds through written workbooks, to the end of each: estimates measured, minds changed, mistakes made good."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from builds_through_commands import build


@pytest.mark.parametrize("seed", [4])
def test_a_build_by_lot_holds_to_its_end(seed: int, tmp_path: Path) -> None:
    """Every list passes the check against its job, holds each member once, and loses no tube."""
    assert build(seed, tmp_path).endswith("holds")
