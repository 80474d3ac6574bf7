"""Every bar to scale: its blanks with their marks; trim, spare and rest told apart by hatching and by words."""

from __future__ import annotations

from fractions import Fraction

from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Settings
from cutplan.output.drawing import drawable, to_scale
from cutplan.output.sheets.page import CHARACTER, FACE, FIRST_ROW, Column, Page, put
from cutplan.plan import wording
from cutplan.plan.tables import Tables
from cutplan.plan.tables.bars import BarRow, CutRun, Stretch
from cutplan.plan.tables.bars import StretchKind as Kind

_CELLS = 90
_WIDTH = 1.65
_HEIGHT = 58.0
"""Cells that the longest bar takes, how wide each is in characters, how high the drawing stands in points."""

# Blue and vermilion that colour-blind eyes tell apart (Okabe & Ito, 2008); the hatching tells as much in black.
_FILLS = {
    Kind.BLANK: PatternFill("solid", fgColor="FFFFFF"),
    Kind.DOUBT: PatternFill("lightDown", fgColor="808080", bgColor="FFFFFF"),
    Kind.SPARE: PatternFill("lightUp", fgColor="0072B2", bgColor="FFFFFF"),
    Kind.OFFCUT: PatternFill("gray125", fgColor="808080", bgColor="FFFFFF"),
    Kind.TRIM: PatternFill("darkGrid", fgColor="D55E00", bgColor="FFFFFF"),
    Kind.LOST: PatternFill("darkGrid", fgColor="D55E00", bgColor="FFFFFF"),
}
_SIGNS = {Kind.DOUBT: "?", Kind.SPARE: "/", Kind.OFFCUT: ".", Kind.TRIM: "#", Kind.LOST: "#"}
"""Printed all over a stretch, for a spreadsheet or a printer that shows all hatching as grey; as on the terminal."""

_NAMES = {
    Kind.BLANK: "MARK  blank",
    Kind.SPARE: "/ / / SPARE  keep whole / / /",
    Kind.OFFCUT: ". . . LEFT  see Offcuts . . .",
    Kind.TRIM: "# # # TRIM  end trim, and what the vice holds # # #",
}
_CUT = Side(style="thick", color="000000")
_EDGE = Side(style="thin", color="000000")
_BORDERS = {
    (first, last, blank): Border(
        top=_EDGE,
        bottom=_EDGE,
        left=_EDGE if first else None,
        right=(_CUT if blank else _EDGE) if last else None,
    )
    for first in (True, False)
    for last in (True, False)
    for blank in (True, False)
}
_LEVEL = Alignment(horizontal="center", vertical="center")
_UPRIGHT = Alignment(horizontal="center", vertical="center", text_rotation=90)
_FONTS = {size: Font(name=FACE, size=size, bold=True) for size in (11, 10, 9, 8, 6)}
_LINE = 1.25
"""How high a line stands, in sizes."""


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    page = Page(sheet, tables.settings, tuple(Column("", _WIDTH) for _ in range(_CELLS)))
    doubt = " ? is what a blank that must be measured first may take beyond its least." if tables.waiting else ""
    page.title(
        f"All bars to one scale, squared end on the left. A thick line is a saw cut: the kerf is lost there.{doubt}"
    )
    _legend(page)
    longest = max((bar.length for bar in tables.bars), default=Fraction(1))
    blocks = []
    for bar in tables.bars:
        first = page.row
        _bar(page, bar, longest)
        blocks.append((first, page.row - 1))
    page.keep_together(blocks)
    page.finish()


def _legend(page: Page) -> None:
    start = 1
    for kind, width in zip(_NAMES, (12, 22, 22, 34), strict=True):
        _box(page, FIRST_ROW, start, width, kind, _NAMES[kind], _FONTS[10], sawn=kind is Kind.BLANK)
        start += width
    page.height(FIRST_ROW, 18)


def _bar(page: Page, bar: BarRow, longest: Fraction) -> None:
    settings = page.settings
    rest = f"{bar.rest} left" if bar.cuts else "not cut"
    kept = f", {wording.counted(bar.spares, 'spare')} on it" if bar.spares else ""
    page.sentence(f"{bar.title}; {rest}{kept}", bold=True)
    parts = drawable(bar.stretches, longest, _CELLS)
    start = 1
    for part, width in zip(parts, to_scale(parts, longest, _CELLS), strict=True):
        text, font, upright = _label(part, width, settings)
        _box(page, page.row, start, width, part.kind, text, font, upright=upright, sawn=part.sawn)
        start += width
    page.height(page.row, _HEIGHT)
    page.row += 1
    if bar.runs:
        page.sentence("   ".join(_named(run, settings) for run in bar.runs))
    page.gap()


def _named(run: CutRun, settings: Settings) -> str:
    each = "" if run.first == run.last else " each"
    first = "measure first, " if run.estimated else ""
    return f"{wording.cuts(run.first, run.last)}: {run.mark} {first}{run.blank}{each}"


def _label(part: Stretch, width: int, settings: Settings) -> tuple[str, Font, bool]:
    """The text that a stretch has room for, its font, and whether it stands upright."""
    if part.kind in (Kind.BLANK, Kind.DOUBT):
        text = part.text
    elif part.kind in (Kind.SPARE, Kind.OFFCUT):
        name = "SPARE" if part.kind is Kind.SPARE else "LEFT"
        text = f"{name} {wording.found(part.length, settings.units)}"
    else:
        text = "TRIM"
    room = width * _WIDTH * CHARACTER
    sign = _SIGNS.get(part.kind, "")
    for size in (11, 9):
        font = _FONTS[size]
        long, high = _long(text, size) + 3, size * _LINE
        if long <= room:
            return _filled(text, sign, room, size), font, False
        if high <= room and long <= _HEIGHT:
            return _filled(text, sign, _HEIGHT, size), font, True
    text = str(part.cut) if part.cut else _filled("", sign, _HEIGHT, 8)
    return text, _FONTS[8 if room >= 8 * _LINE else 6], True


def _long(text: str, size: float) -> float:
    """About how many points a text is long: bold capitals and figures take 0.62 of the size, signs and spaces less."""
    return sum(0.3 if letter in " /." else 0.62 for letter in text) * size


def _filled(text: str, sign: str, room: float, size: float) -> str:
    """``text`` with ``sign`` on both sides of it, as often as there is room for, or the signs alone."""
    if not sign:
        return text
    gap = (room - 6 - _long(text, size)) / (2 if text else 1)
    signs = " ".join([sign] * int(gap / _long(f"{sign} ", size)))
    return f"{signs}  {text}  {signs}" if text and signs else text or signs


def _box(
    page: Page,
    row: int,
    start: int,
    width: int,
    kind: Kind,
    text: str,
    font: Font,
    *,
    upright: bool = False,
    sawn: bool,
) -> None:
    end = start + width - 1
    for column in range(start, end + 1):
        border = _BORDERS[column == start, column == end, sawn]
        cell = put(page.sheet, row, column, text if column == start else None)
        page.dress(cell, font=font, fill=_FILLS[kind], border=border, alignment=_UPRIGHT if upright else _LEVEL)
    page.merge(row, start, end)
