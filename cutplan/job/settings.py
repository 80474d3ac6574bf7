"""The ``Job`` sheet: one setting a row."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from cutplan.job.cells import Cells
from cutplan.job.faults import Fault
from cutplan.job.model import INCH, Fitted, Settings, Units
from cutplan.job.sheets import SETTINGS
from cutplan.job.tables import Row, likely, squash

MOST_SPARES = 100
_THICKEST_BLADE = INCH
_MOST_ALLOWANCE = INCH
"""More at one end is a slip of the decimal point: a fit is ground, a weld draws, by a few mm."""
_SMALL = ("fit cope", "fit mitre", "shrink", "meet within")
_LONGEST_REST = Fraction(10_000)
_LONGEST_JOB_NAME = 80
_MOST_SWING = 75.0
_LONGEST_CURRENCY = 20
_KEYS = {squash(word): word for word in SETTINGS}


def defaults(units: Units) -> Settings:
    """The settings of a job that gives none: round figures of its own units."""
    if units is Units.MM:
        return Settings()
    return Settings(
        units=units, kerf=INCH * 3 / 32, step=INCH / 32, keep=12 * INCH, salvage=2 * INCH, meet_within=INCH / 8
    )


def read_settings(rows: tuple[Row, ...], faults: list[Fault]) -> Settings:
    """The settings; what is blank, missing or faulty keeps its default."""
    by_word: dict[str, Row] = {}
    for row in rows:
        cells = Cells(row, Units.MM, faults)
        text = cells.text("setting") if cells.need("setting") else None
        if text is None:
            continue
        word = _KEYS.get(squash(text))
        if word is None:
            cells.fault("setting", "is not a setting", likely(text, SETTINGS))
        elif word in by_word:
            cells.fault("setting", f"stands in row {by_word[word].place.row} already", "keep one of the two")
        else:
            by_word[word] = row
    units = _units(by_word.pop("units", None), faults)
    settings = defaults(units)
    for word, row in by_word.items():
        settings = _set(settings, word, Cells(row, units, faults))
    return settings


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
    # Whatever was meant, the nearer unit keeps a faulty word from making a fault of every fraction.
    meant = Units.IN if text.casefold().startswith(("i", '"', "f", "'")) else Units.MM
    cells.fault("value", "is neither mm nor in", f"write {meant.value}; a length may carry its own unit, as 1.5 m does")
    return meant


def _set(settings: Settings, word: str, cells: Cells) -> Settings:
    """``settings`` with the one named ``word``, where its cell holds a sound value."""
    read: dict[str, Callable[[], object]] = {
        "name": lambda: cells.text("value", most=_LONGEST_JOB_NAME),
        "currency": lambda: cells.text("value", most=_LONGEST_CURRENCY),
        "spares": lambda: cells.whole("value", most=MOST_SPARES),
        "fitted": lambda: cells.word("value", Fitted),
        "share mitres": lambda: cells.yes("value"),
        "kerf": lambda: cells.length("value", most=_THICKEST_BLADE),
        **{
            word: lambda: cells.length("value", most=_MOST_ALLOWANCE)
            for word in ("fit cope", "fit mitre", "shrink", "meet within")
        },
        **{word: lambda: cells.length("value", most=_LONGEST_REST) for word in ("keep", "salvage", "die mark")},
        "saw swing": lambda: cells.degrees("value", least=0.0, most=_MOST_SWING),
        "step": lambda: cells.length("value", positive=True, most=INCH),
    }
    value = read.get(word, lambda: cells.length("value"))()
    return settings if value is None else replace(settings, **{word.replace(" ", "_"): value})  # type: ignore[arg-type]
