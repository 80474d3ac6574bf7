"""The cautions, the settings used and the spares, in plain words."""

from __future__ import annotations

from dataclasses import fields
from enum import Enum
from fractions import Fraction
from itertools import zip_longest

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Plane, Settings
from cutplan.output import CAUTION
from cutplan.output.sheets.page import Page, SheetColumn
from cutplan.plan import wording
from cutplan.plan.tables import Tables
from cutplan.plan.tables.shops import MEASURE_PARTS


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    pair = (SheetColumn("setting", 16, bold=True), SheetColumn("value", 34))
    page = Page(sheet, settings, pair * 2, upright=True)
    page.start("What this plan is based on, and what it does not cover.")
    shown = [(field.name.replace("_", " "), _shown(field.name, settings)) for field in fields(Settings)]
    half = (len(shown) + 1) // 2
    for one, other in zip_longest(shown[:half], shown[half:], fillvalue=("", "")):
        page.line((*one, *other))
    page.gap()
    if tables.changes:
        page.group("What changed since the last list")
        for sentence in tables.changes:
            page.sentence(sentence)
        page.gap()
    page.group("Caution")
    for sentence in CAUTION:
        page.sentence(sentence)
    page.gap()
    page.group("Spares")
    page.sentence(wording.fitted(settings))
    for tube in tables.spares:
        page.sentence(f"{tube.tube}: {' '.join(tube.covers)}")
    page.gap()
    page.group("Left at the end")
    for sentence in tables.left_over_said:
        page.sentence(sentence)
    if any(bar.parts for bar in tables.bars):
        page.gap()
        page.group("Bars that the shop cuts")
        page.sentence(MEASURE_PARTS)
    if tables.remarks:
        page.gap()
        page.group("Remarks on the job")
        for remark in tables.remarks:
            page.sentence(str(remark))
    page.gap()
    page.group("Words")
    for sentence in _WORDS:
        page.sentence(sentence)
    page.finish()


_WORDS = (
    "Blank: the piece as it leaves the saw, square-cut, tip to tip, including all allowances.",
    "Tip: the longest point of a cope or mitre. Throat: its deepest point. Cope: the saddle by which a tube sits on "
    "another. Mitre: a flat cut; 0° is square, as on a saw's scale.",
    "Left of the bar: what a tape shows from the fresh saw cut to the far end; more if less end trim was needed.",
    "Kerf: what the blade removes at each cut. End trim: what is cut off each mill end to square it.",
    "Spare: tube kept uncut so that a spoilt blank can be cut again. Insured: a member that a spare can replace.",
)


def _shown(name: str, settings: Settings) -> str:
    value = getattr(settings, name)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, Fraction):
        return wording.measured(value, settings)
    if isinstance(value, Plane):
        return wording.plane(value, settings.units)
    return "none" if value is None else str(value)
