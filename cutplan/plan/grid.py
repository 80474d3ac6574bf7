"""From exact millimetres to the whole numbers that are packed, rounded against us.

The grid is 0.1 mm, or 1/256 in for a job in inches. What must fit (blanks, kerf) is rounded up and what it must
fit into (bars) down, so that no rounding can promise tube that is not there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from cutplan.job.model import INCH, Settings, Source, StockRow, Units

GRID = {Units.MM: Fraction(1, 10), Units.IN: INCH / 256}
"""Millimetres in one whole number, by the job's units."""


def grid_up(mm: Fraction, units: Units) -> int:
    """Whole numbers of grid that hold ``mm``: for what must fit."""
    return math.ceil(mm / GRID[units])


def grid_down(mm: Fraction, units: Units) -> int:
    """Whole numbers of grid within ``mm``: for what it must fit into."""
    return math.floor(mm / GRID[units])


def end_trim(row: StockRow, settings: Settings) -> Fraction:
    """What is lost at each mill end of this bar, mm: its own figure, else the job's for a new bar, else
    nothing (a rack piece was squared when it was cut)."""
    if row.end_trim is not None:
        return row.end_trim
    return settings.end_trim if row.source is Source.BUY else Fraction(0)


def near_trim(row: StockRow, settings: Settings) -> Fraction:
    """What is lost at the end the first blank is cut from, mm: nothing where it is sawn already."""
    return Fraction(0) if row.sawn else end_trim(row, settings)


def usable(row: StockRow, settings: Settings) -> Fraction:
    """What a bar yields, mm (never below 0): its length less the end trims and the saw hold.

    Where there is a saw hold, the last cut needs a kerf of its own in front of it; the end trim holds that
    kerf already, so only what the kerf has over the end trim is taken off too.
    """
    trim = end_trim(row, settings)
    left = row.length - near_trim(row, settings) - trim - settings.saw_hold
    if settings.saw_hold > 0:
        left -= max(settings.kerf - trim, Fraction(0))
    return max(left, Fraction(0))


def money_scale(prices: Iterable[Decimal]) -> int:
    """The power of ten that makes every price a whole number."""
    digits: int = 0
    for price in prices:
        exponent = price.normalize().as_tuple().exponent
        assert isinstance(exponent, int)  # a finite price: the reader refuses others
        digits = max(digits, -exponent)
    return int(10**digits)
