"""How each blank came about: its parts one under the other, summed by the spreadsheet itself."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry.model import Blank
from cutplan.output import wording
from cutplan.output.sheets.page import Column, Page, blank_format, exact_format
from cutplan.plan.model import Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``."""
    settings = plan.job.settings
    unit = settings.units.value
    columns = (
        Column("mark", 18, bold=True),
        Column("part", 42),
        Column(f"length ({unit})", 14, exact_format(settings)),
        Column("how it is worked out", 56),
        Column("qty", 8, "0"),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Each blank, tip to tip, is the sum of its parts. Lengths are rounded up to the marking step at the end."
    )
    blocks = []
    for group in _groups(plan.blanks):
        blank = group[0]
        marks = ", ".join(member.mark for member in group)
        count = sum(member.count for member in group)
        note = f": {blank.note}" if blank.note else ""
        setups: dict[str, list[str]] = {}
        for member in group:
            setups.setdefault(wording.setup(member, settings.units), []).append(member.mark)
        # The other hand's ends are its own where it lands on the other side of a pair, or is turned the other way.
        said = "; ".join(f"{', '.join(those)} {text}" if len(setups) > 1 else text for text, those in setups.items())
        first = page.group(f"{marks} ({blank.tube}): {said}{note}")
        start = page.row
        for part in blank.parts:
            page.line((marks, part.what, wording.number(part.length, settings.units), part.how, None))
        row = page.line((marks, "blank, tip to tip", None, _aside(blank, plan), count))
        page.total(row, 3, f"=SUM(C{start}:C{row - 1})", blank_format(settings))
        blocks.append((first, row))
    page.keep_together(blocks)
    page.finish()


def _groups(blanks: tuple[Blank, ...]) -> list[list[Blank]]:
    """Marks of one member (a left and a right) stand together: they are made alike."""
    groups: list[list[Blank]] = []
    for blank in blanks:
        if groups and groups[-1][0].member == blank.member and groups[-1][0].parts == blank.parts:
            groups[-1].append(blank)
        else:
            groups.append([blank])
    return groups


def _aside(blank: Blank, plan: Plan) -> str:
    settings = plan.job.settings
    said = []
    if blank.spread:
        said.append(f"± {wording.length(blank.spread, settings.units)} from the ± of the measurements")
    for side, mm in (("a", blank.cut_off_a), ("b", blank.cut_off_b)):
        if mm:
            said.append(f"cut {wording.tape(mm, settings)} off end {side} after bending")
    return "; ".join(said)
