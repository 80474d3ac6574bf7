"""Lines of measurement on a card, read back from the file: along what they measure, as long as it is to scale."""

from __future__ import annotations

import re
from fractions import Fraction
from math import hypot
from pathlib import Path

import pytest
from pdf_back import read_page
from pypdf import PdfReader

from cutplan.geometry.layout import lay_out
from cutplan.job.model import Bend, Job, Member, Settings, StockRow, Tube
from cutplan.output.pack import write_pack
from cutplan.plan import make_plan
from cutplan.plan.tables import Tables


def test_they_are_square_to_scale_and_closed_at_both_ends(tmp_path: Path) -> None:
    """Of a bent piece: one over it from side to side and one from top to bottom, at one scale of the lengths beside
    them, neither slanting; one over the straight blank, as long as the blank is drawn; each with a bar across both
    ends."""
    tube = Tube("T", Fraction(38), Fraction(2), clr=Fraction(114))
    bends = (Bend(Fraction(300), angle_deg=90.0, radius=Fraction(114)), Bend(Fraction(700)))
    job = Job(Settings(), (tube,), (StockRow("T", Fraction(6000)),), (Member("HOOK", "T", bends=bends),))
    write_pack(Tables(make_plan(job, lay_out(job).blanks)), tmp_path / "pack.pdf", parts=("cards",))
    paths, words = read_page(PdfReader(tmp_path / "pack.pdf").pages[-1])
    thin = [path.points for path in paths if len(path.points) == 2 and abs(path.width - 0.2) < 0.01]
    lines = [points for points in thin if hypot(points[1][0] - points[0][0], points[1][1] - points[0][1]) > 10.0]
    ways = [(round(abs(u - x), 2), round(abs(v - y), 2)) for (x, y), (u, v) in lines]
    across = sorted(x for x, y in ways if y == 0.0)
    down = [y for x, y in ways if x == 0.0]
    assert (len(across), len(down), len(lines)) == (2, 1, 3)
    sizes = [float(match[1]) for one in words if (match := re.match(r"(\d+(?:\.\d+)?) mm outside", one.text))]
    assert len(sizes) == 2
    assert across[0] / down[0] == pytest.approx(sizes[0] / sizes[1], abs=0.02)
    assert across[1] > across[0]
    (straight,) = (points for points, (wide, _) in zip(lines, ways, strict=True) if wide == across[1])
    level = straight[0][1]
    drawn = [point for path in paths if 0.3 < path.width < 0.4 for point in path.points if 0 < point[1] - level < 12.0]
    ends_there = sorted(x for x, _ in straight)
    assert [min(x for x, _ in drawn), max(x for x, _ in drawn)] == pytest.approx(ends_there, abs=0.05)
    for ends, (wide, _) in zip(lines, ways, strict=True):
        for x, y in ends:
            bar = ((x, y - 1.2), (x, y + 1.2)) if wide else ((x - 1.2, y), (x + 1.2, y))
            flat = [value for point in bar for value in point]
            assert any(
                [value for point in points for value in point] == pytest.approx(flat, abs=0.01) for points in thin
            )
