"""Where each bend begins on the straight blank, one reading of the tape each, from the sawn end a."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry import BendMark, Blank
from cutplan.geometry.inside import insides
from cutplan.output import wording
from cutplan.output.sheets.marks import alike
from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan.model import Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``; members bent alike stand together."""
    settings = plan.job.settings
    unit = settings.units.value
    lengths = part_format(settings)
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
        Column("note", 34),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Make all marks on the straight blank, from its sawn end a, before any bending. Turns are clockwise as seen "
        "from end a looking to end b (standing at end a); a bend goes towards its inside."
    )
    blocks = []
    for group in alike(plan):
        blank, first = group[0], page.row
        for bend in blank.bends:
            page.line(
                (
                    ", ".join(one.mark for one in group),
                    bend.number,
                    *(wording.number(mm, settings.units) for mm in (bend.mark, bend.start, bend.straight, bend.arc)),
                    bend.angle_deg,
                    wording.number(bend.radius, settings.units),
                    bend.rotation_deg,
                    _note(blank, bend, plan),
                )
            )
        if page.row > first:
            blocks.append((first, page.row - 1))
    page.keep_together(blocks)
    page.finish()


def _note(blank: Blank, bend: BendMark, plan: Plan) -> str:
    """What is to be cut off after bending, and which way the bend next to a shaped end goes."""
    settings = plan.job.settings
    lie = insides(blank, plan.job)
    said = []
    for side, cut_off, inside, last in (
        ("a", blank.cut_off_a, lie.a, blank.bends[0]),
        ("b", blank.cut_off_b, lie.b, blank.bends[-1]),
    ):
        if bend is last and inside is not None:
            said.append(f"its inside is at {wording.degrees(inside)}° of end {side} (see Marks)")
        if bend is last and cut_off:
            said.append(f"after bending cut {wording.tape(cut_off, settings)} {settings.units.value} off end {side}")
    return "; ".join(said)
