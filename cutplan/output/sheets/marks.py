"""What to mark on each blank by hand: where each end's line lies round the tube, and where the bends begin."""

from __future__ import annotations

from math import pi

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry import Blank, EndShape, end_line
from cutplan.geometry.roughcut import RoughCut
from cutplan.job.model import Cut
from cutplan.output import words
from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan.model import Plan

_QUARTERS = (0.0, 90.0, 180.0, 270.0)


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``."""
    settings = plan.job.settings
    unit = settings.units.value
    lengths = "0.0" if unit == "mm" else part_format(settings)
    columns = (
        Column("mark", 17, bold=True),
        Column("end", 6, centred=True),
        Column("shape", 22),
        Column(f"in from the sawn end ({unit}): at 0, short side", 14, lengths),
        Column("at 90", 10, lengths),
        Column("at 180, long side", 11, lengths),
        Column("at 270", 10, lengths),
        Column(f"tip: round the tube from 0 ({unit})", 13, lengths),
        Column(f"throat: in from the end ({unit})", 13, lengths),
        Column(f"throat: round the tube from 0 ({unit})", 13, lengths),
        Column("set", 26),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Mark four lines along the tube, a quarter turn apart, clockwise as seen from end a looking to end b; 0 is the "
        "short side of the joint. The figures are those of the finished joint: a fitting allowance comes on top."
    )
    blocks = []
    for group in _alike(plan.blanks):
        first = page.row
        for side, shape in (("a", group[0].end_a), ("b", group[0].end_b)):
            if shape.cut is not Cut.SQUARE:
                page.line(_end(group, side, shape, plan))
        if page.row > first:
            blocks.append((first, page.row - 1))
    if not blocks:
        page.sentence("Every end is square.")
    _rough(page, plan)
    _bends(page, plan)
    page.keep_together(blocks)
    page.finish()


def _alike(blanks: tuple[Blank, ...]) -> list[list[Blank]]:
    """Marks whose ends and bends are all alike stand together."""
    groups: dict[object, list[Blank]] = {}
    for blank in blanks:
        groups.setdefault((blank.member, blank.end_a, blank.end_b, blank.turn_deg, blank.bends), []).append(blank)
    return list(groups.values())


def _end(group: list[Blank], side: str, shape: EndShape, plan: Plan) -> tuple[object, ...]:
    units = plan.job.settings.units
    once = pi * shape.od / 360.0
    return (
        ", ".join(blank.mark for blank in group),
        side,
        words.end(shape, units),
        *(words.number(float(depth), units) for depth in end_line(shape, _QUARTERS)),
        words.number(once * shape.tip_turn_deg, units),
        words.number(shape.throat, units),
        words.number(once * shape.throat_turn_deg, units),
        _setting(group[0], side, shape, plan),
    )


def _setting(blank: Blank, side: str, shape: EndShape, plan: Plan) -> str:
    units = plan.job.settings.units
    said = []
    if shape.cut is Cut.MITRE:
        said.append(f"saw at {words.degrees(shape.angle_deg)}°")
    for saddle in shape.saddles:
        if saddle.offset:
            said.append(f"offset {words.length(saddle.offset, units)}")
        if saddle.turn_deg:
            said.append(f"{words.onto(saddle.onto, units)} turned {words.degrees(saddle.turn_deg)}°")
    both = blank.end_a.cut is not Cut.SQUARE and blank.end_b.cut is not Cut.SQUARE
    if side == "b" and both:
        said.append(f"its 0 lies {words.degrees(blank.turn_deg)}° from end a's")
    return "; ".join(said)


def _rough(page: Page, plan: Plan) -> None:
    """Two straight cuts for each coped end; marks that are cut alike stand together."""
    groups: dict[tuple[str, str, tuple[RoughCut, ...]], list[str]] = {}
    for rough in plan.rough_ends:
        blank = plan.blank_of(rough.mark)
        if rough.cuts:
            groups.setdefault((blank.member, rough.end, rough.cuts), []).append(rough.mark)
    if not groups:
        return
    settings = plan.job.settings
    unit = settings.units.value
    page.gap()
    page.group("Rough cuts: two straight cuts that leave each saddle to be crept up on")
    page.sentence(
        "Turn the tube until the line at this angle is uppermost, set the saw, and start the cut there, this far in "
        "from the sawn end; it leaves the tube towards the end. Neither cut goes beyond the saddle, inside or outside."
    )
    heads = ("mark", "end", "cut", "saw angle (°)", "turn (°)", f"round the tube from 0 ({unit})", f"start ({unit})")
    columns = tuple(
        Column(head, old.width, old.format, old.bold, old.centred)
        for head, old in zip(heads + ("",) * (len(page.columns) - len(heads)), page.columns, strict=True)
    )
    page.heads(page.row, columns)
    page.row += 1
    for (_, side, cuts), marks in groups.items():
        shape = plan.blank_of(marks[0]).end_a if side == "a" else plan.blank_of(marks[0]).end_b
        for number, cut in enumerate(cuts, 1):
            row = page.line(
                (
                    ", ".join(marks),
                    side,
                    str(number),
                    round(cut.saw_deg, 1),
                    round(cut.turn_deg, 1),
                    words.number(pi * shape.od * cut.turn_deg / 360.0, settings.units),
                    words.number(cut.start, settings.units),
                    *("" for _ in columns[len(heads) :]),
                ),
                columns,
            )
            for place in (4, 5):
                page.sheet.cell(row, place).number_format = "0.0"


def _bends(page: Page, plan: Plan) -> None:
    settings = plan.job.settings
    unit = settings.units.value
    bent = [group for group in _alike(plan.blanks) if group[0].bends]
    if not bent:
        return
    page.gap()
    page.group("Bends, marked on the straight blank from the sawn end a")
    heads = (
        "mark",
        "bend",
        "bender's mark at",
        f"begins at ({unit})",
        f"straight before ({unit})",
        f"arc ({unit})",
        "angle (°)",
        f"radius ({unit})",
        "turn from the bend before (°)",
        "",
        "after bending",
    )
    columns = tuple(
        Column(head, old.width, old.format, old.bold, old.centred)
        for head, old in zip(heads, page.columns, strict=True)
    )
    page.heads(page.row, columns)
    page.row += 1
    for group in bent:
        blank = group[0]
        for bend in blank.bends:
            row = page.line(
                (
                    ", ".join(one.mark for one in group),
                    str(bend.number),
                    words.number(bend.mark, settings.units),
                    *(words.number(mm, settings.units) for mm in (bend.start, bend.straight, bend.arc)),
                    bend.angle_deg,
                    words.number(bend.radius, settings.units),
                    bend.rotation_deg,
                    None,
                    _after(blank, plan) if bend is blank.bends[-1] else "",
                ),
                columns,
            )
            for number, style in ((3, page.columns[3].format), (7, "0.0"), (9, "0.0")):
                page.sheet.cell(row, number).number_format = style


def _after(blank: Blank, plan: Plan) -> str:
    settings = plan.job.settings
    return "; ".join(
        f"cut {words.length(mm, settings.units)} {settings.units.value} off end {side}"
        for side, mm in (("a", blank.cut_off_a), ("b", blank.cut_off_b))
        if mm
    )
