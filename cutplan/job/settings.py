"""The ``Job`` sheet: one setting a row."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from cutplan.job.cells import Cells
from cutplan.job.faults import Fault
from cutplan.job.model import INCH, Settings, Units
from cutplan.job.schema import SETTING_WORDS, SETTINGS
from cutplan.job.tables import Row, likely, squash

_SETTINGS = {squash(setting.heading): setting for setting in SETTINGS}


def defaults(units: Units) -> Settings:
    """The settings of a job that gives none: round figures of its own units."""
    if units is Units.MM:
        return Settings()
    return Settings(
        units=units,
        kerf=INCH * 3 / 32,
        step=INCH / 32,
        keep=12 * INCH,
        salvage=2 * INCH,
        meet_within=INCH / 8,
        sure=INCH / 8,
        tape=INCH / 16,
    )


def read_settings(rows: tuple[Row, ...], faults: list[Fault]) -> Settings:
    """The settings; what is blank, missing or faulty keeps its default."""
    by_word: dict[str, Row] = {}
    for row in rows:
        cells = Cells(row, Units.MM, faults)
        text = cells.text("setting") if cells.need("setting") else None
        if text is None:
            continue
        setting = _SETTINGS.get(squash(text))
        if setting is None:
            cells.fault("setting", "is not a setting", likely(text, SETTING_WORDS))
        elif setting.heading in by_word:
            cells.fault("setting", f"is in row {by_word[setting.heading].place.row} already", "keep one of the two")
        else:
            by_word[setting.heading] = row
    units = _units(by_word.pop("units", None), faults)
    values: dict[str, Any] = {}
    for word, row in by_word.items():
        setting = _SETTINGS[squash(word)]
        value = Cells(row, units, faults).typed(setting, "value")
        if value is not None:
            values[setting.field] = value
    return replace(defaults(units), **values)


def _units(row: Row | None, faults: list[Fault]) -> Units:
    if row is None:
        return Units.MM
    cells = Cells(row, Units.MM, faults)
    text = cells.text("value")
    if text is None:
        return Units.MM
    for units in Units:
        if text.casefold() == units.value:
            return units
    # The likelier unit keeps one faulty word from making every fraction a fault.
    meant = Units.IN if text.casefold().startswith(("i", '"', "f", "'")) else Units.MM
    cells.fault("value", "must be mm or in", f"write {meant.value}; a length may have its own unit, such as 1.5 m")
    return meant
