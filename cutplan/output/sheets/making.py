"""How each blank is made, member by member: the lines of its ends, the rough cuts of its saddles, its bends."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Settings, Units
from cutplan.output.sheets.page import Page, SheetColumn, part_format
from cutplan.plan import wording
from cutplan.plan.tables import Making, MarkRow, RoughRow, Tables

TITLE = "Making"
_LINE, _ROUGH = 12, 6
"""Columns of an end's line and of a rough cut."""


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``; marks that are made alike come together."""
    settings = tables.settings
    page = Page(sheet, settings, _columns(settings))
    page.start(
        "Angles round the tube are clockwise as seen from end a looking to end b (standing at end a); 0 is the short "
        "side of the joint. At 0, 90, 180 and 270, and under in: how far along the tube from the tip, which is the "
        "first ear. Round: on the surface, from 0. Inside of the wall: how deep to grind its inside edge, or the joint "
        "stays open. A rough cut starts on its line, in from the sawn end, and runs out towards the end, across the "
        "tube; 0 is square. It never goes beyond the cope and is no steeper than the saw swings "
        f"({wording.degrees(settings.saw_swing)}°): grind the rest to the line. Bends: make all marks on the straight "
        "blank, from its sawn end a, before any bending; a bend goes towards its inside, turned from the bend before. "
        f"{wording.allowed(settings)}"
    )
    blocks = []
    for made in tables.making:
        if made.mark == made.alike[0] and (made.marks or made.bends):
            first = page.group(f"{', '.join(made.alike)} ({made.tube})")
            _ends(page, made)
            _bends(page, made)
            blocks.append((first, page.row - 1))
    if tables.plain_marks:
        page.sentence(f"Square at both ends and straight, so nothing to mark: {tables.plain_marks}.")
    for sentence in tables.third_said:
        page.sentence(sentence)
    page.keep_together(blocks)
    page.finish()


def _columns(settings: Settings) -> tuple[SheetColumn, ...]:
    lengths, wide = part_format(settings), _wide(settings)
    return (
        SheetColumn("end", 5, centred=True),
        SheetColumn("shape", 21),
        SheetColumn("0, short side", wide, lengths, bold=True),
        SheetColumn("90", wide, lengths, bold=True),
        SheetColumn("180, long side", wide, lengths, bold=True),
        SheetColumn("270", wide, lengths, bold=True),
        SheetColumn("tip: round", wide, lengths),
        SheetColumn("second ear: round", wide, lengths),
        SheetColumn("second ear: in", wide, lengths),
        SheetColumn("throat: round", wide, lengths),
        SheetColumn("throat: in", wide, lengths),
        SheetColumn("set", 32),
        SheetColumn("rough cut", 6, centred=True),
        SheetColumn("saw angle (°)", wide, "0.0", bold=True),
        SheetColumn("turn (°)", wide, "0.0"),
        SheetColumn("starts: round", wide, lengths),
        SheetColumn("starts: in", wide, lengths, bold=True),
        SheetColumn("then to grind", wide, lengths),
    )


def _wide(settings: Settings) -> float:
    """Characters that a length takes: 123.4, or 12 13/16."""
    return 7.5 if settings.units is Units.MM else 9.5


def _bend_columns(settings: Settings) -> tuple[SheetColumn, ...]:
    lengths, wide = part_format(settings), _wide(settings)
    return (
        SheetColumn("bend", 5, centred=True),
        SheetColumn("bender's mark", 21, lengths, bold=True),
        SheetColumn("begins", wide, lengths),
        SheetColumn("straight before it", wide, lengths),
        SheetColumn("arc", wide, lengths),
        SheetColumn("angle (°)", wide, "0.0", bold=True),
        SheetColumn("radius", wide, lengths),
        SheetColumn("turn (°)", wide, "0.0", bold=True),
        *(SheetColumn("", wide) for _ in range(3)),
        SheetColumn("note", 32),
        *(SheetColumn("", wide) for _ in range(_ROUGH)),
    )


def _ends(page: Page, made: Making) -> None:
    """An end's line on the left, its rough cuts beside it on the right."""
    for end in ("a", "b"):
        lines = [row for row in made.marks if row.end == end]
        cuts = [row for row in made.rough_cuts if row.end == end]
        for line, cut in zip_longest(lines, cuts):
            page.line((*_line(line, page), *_rough(cut, page)))


def _line(row: MarkRow | None, page: Page) -> Sequence[object]:
    if row is None:
        return [""] * _LINE
    units = page.settings.units
    depths = (row.at_0, row.at_90, row.at_180, row.at_270)
    round_it = (row.tip_round, row.second_ear_round, row.second_ear, row.throat_round)
    return (
        row.end,
        row.shape,
        *(wording.number(mm, units) for mm in depths),
        *("" if mm is None else wording.number(mm, units) for mm in round_it),
        wording.number(row.throat, units),
        row.set,
    )


def _rough(row: RoughRow | None, page: Page) -> Sequence[object]:
    if row is None:
        return [""] * _ROUGH
    units = page.settings.units
    return (
        row.cut,
        round(row.saw_angle, 1),
        round(row.turn, 1) % 360.0,
        wording.number(row.round, units),
        wording.number(row.start, units),
        "" if row.left_to_grind is None else wording.number(row.left_to_grind, units),
    )


def _bends(page: Page, made: Making) -> None:
    if not made.bends:
        return
    units, columns = page.settings.units, _bend_columns(page.settings)
    page.headings(page.row, columns)
    page.row += 1
    for row in made.bends:
        places = (row.benders_mark, row.start, row.straight_before, row.arc)
        shown = (
            row.bend,
            *(wording.number(mm, units) for mm in places),
            row.angle,
            wording.number(row.radius, units),
            row.rotation,
            *[""] * (_LINE - 9),
            row.note,
            *[""] * _ROUGH,
        )
        page.line(shown, columns)
