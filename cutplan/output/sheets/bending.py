"""Where each bend begins on the straight blank, one reading of the tape each, from the sawn end a."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry import Blank
from cutplan.output import words
from cutplan.output.sheets.marks import alike
from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan.model import Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``; members bent alike stand together."""
    settings = plan.job.settings
    unit = settings.units.value
    lengths = "0.0" if unit == "mm" else part_format(settings)
    columns = (
        Column("mark", 22, bold=True),
        Column("bend", 7, centred=True),
        Column(f"bender's mark at ({unit})", 13, lengths, bold=True),
        Column(f"begins at ({unit})", 12, lengths),
        Column(f"straight before ({unit})", 12, lengths),
        Column(f"arc ({unit})", 12, lengths),
        Column("angle (°)", 10, "0.0", bold=True),
        Column(f"radius ({unit})", 11, lengths),
        Column("turn from the bend before (°)", 13, "0.0", bold=True),
        Column("after bending", 26),
    )
    page = Page(sheet, settings, columns)
    page.start("Marked on the straight blank, all from its sawn end a, before any bend is made.")
    blocks = []
    for group in alike(plan.blanks):
        blank, first = group[0], page.row
        for bend in blank.bends:
            page.line(
                (
                    ", ".join(one.mark for one in group),
                    bend.number,
                    *(words.number(mm, settings.units) for mm in (bend.mark, bend.start, bend.straight, bend.arc)),
                    bend.angle_deg,
                    words.number(bend.radius, settings.units),
                    bend.rotation_deg,
                    _after(blank, plan) if bend is blank.bends[-1] else "",
                )
            )
        if page.row > first:
            blocks.append((first, page.row - 1))
    page.keep_together(blocks)
    page.finish()


def _after(blank: Blank, plan: Plan) -> str:
    settings = plan.job.settings
    return "; ".join(
        f"cut {words.length(mm, settings.units)} {settings.units.value} off end {side}"
        for side, mm in (("a", blank.cut_off_a), ("b", blank.cut_off_b))
        if mm
    )
