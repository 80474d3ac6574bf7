"""What to mark on each blank by hand: where each end's line lies round the tube."""

from __future__ import annotations

from itertools import groupby

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    unit = settings.units.value
    lengths = part_format(settings)
    columns = (
        Column("mark", 15, bold=True),
        Column("end", 6, centred=True),
        Column("shape", 20),
        Column(f"short side, at 0: in from the tip ({unit})", 12, lengths, bold=True),
        Column(f"at 90 ({unit})", 9, lengths, bold=True),
        Column(f"long side, at 180 ({unit})", 11, lengths, bold=True),
        Column(f"at 270 ({unit})", 9, lengths, bold=True),
        Column(f"tip (first ear): round the tube from 0 ({unit})", 13, lengths),
        Column(f"second ear: round from 0 ({unit})", 12, lengths),
        Column(f"second ear: in from the tip ({unit})", 12, lengths),
        Column(f"throat: round from 0 ({unit})", 12, lengths),
        Column(f"throat: in from the tip ({unit})", 12, lengths),
        Column("set", 27),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Mark four lines along the tube, a quarter turn apart, clockwise as seen from end a looking to end b (standing "
        "at end a); 0 is the short side of the joint. Round the tube: on its surface, the same way round from 0. "
        "Inside of the wall: where a thick wall needs it, how deep to grind its inside edge, or the joint stays open. "
        f"{wording.allowed(settings)}"
    )
    blocks = []
    for _, rows in groupby((row for row in tables.marks if row.mark == row.alike[0]), key=lambda row: row.mark):
        first = page.row
        for row in rows:
            depths = (row.at_0, row.at_90, row.at_180, row.at_270)
            round_it = (row.tip_round, row.second_ear_round, row.second_ear, row.throat_round)
            page.line(
                (
                    ", ".join(row.alike),
                    row.end,
                    row.shape,
                    *(wording.number(mm, settings.units) for mm in depths),
                    *("" if mm is None else wording.number(mm, settings.units) for mm in round_it),
                    wording.number(row.throat, settings.units),
                    row.set,
                )
            )
        blocks.append((first, page.row - 1))
    if not blocks:
        page.sentence("Every end is square.")
    page.keep_together(blocks)
    page.finish()
