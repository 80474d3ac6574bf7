"""The cautions, the settings used, the spares and the proof, in plain words."""

from __future__ import annotations

from dataclasses import fields
from enum import Enum
from fractions import Fraction

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Plane, Settings
from cutplan.output.caution import CAUTION
from cutplan.output.sheets.page import Column, Page
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    page = Page(sheet, settings, (Column("setting", 30, bold=True), Column("value", 100)))
    page.start("What this plan is based on, and what it does not cover.")
    for field in fields(Settings):
        page.line((field.name.replace("_", " "), _shown(field.name, settings)))
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
    page.group("Cost and proof")
    page.sentence(tables.cost)
    for tube in tables.spares if tables.totalled else ():
        page.sentence(tube.costs)
    page.gap()
    page.group("Spares")
    page.sentence(wording.fitted(settings))
    for tube in tables.spares:
        page.sentence(f"{tube.tube}: {' '.join(tube.covers)}")
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
        return f"{wording.length(value, settings.units)} {settings.units.value}"
    if isinstance(value, Plane):
        return wording.plane(value, settings.units)
    return "none" if value is None else str(value)
