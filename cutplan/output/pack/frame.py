"""The frame in the printed pack: its views, and a picture of each stage, a page each on its side."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from cutplan.output.drawing_files import drawing
from cutplan.output.pack.leaf import FOOT, Leaf
from cutplan.output.pdf import POINT_MM, Paper
from cutplan.plan.tables import Tables
from cutplan.plan.tables.sheet import Sheet

PART = "Frame"


def leaves(tables: Tables, paper: Paper) -> list[Leaf]:
    """A page for each sheet; none where no member has a place in the frame."""
    short, long = paper.value
    made = []
    for sheet in tables.frame_sheets((long, short - FOOT)):
        leaf = Leaf(long, short, PART)
        leaf.put(_above_foot(sheet))
        made.append(leaf)
    return made


def _above_foot(sheet: Sheet) -> Callable[[Any], None]:
    from reportlab.graphics import renderPDF

    return lambda canvas: renderPDF.draw(drawing([sheet]), canvas, 0, FOOT / POINT_MM)
