"""Numbers as they are written into a derivation, in the job's units, with digits enough to redo it; and as they are
reported of what does not fit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from cutplan.job.model import INCH, Units
from cutplan.job.units import with_unit


@lru_cache(8192)  # the same few diameters and angles come again and again
def trimmed(value: float, digits: int) -> str:
    """``value`` with at most ``digits`` decimals and no idle zeros."""
    text = f"{value:.{digits}f}"
    if digits:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def angle(degrees: float) -> str:
    """An angle to a thousandth of a degree, with its sign."""
    return trimmed(degrees, 3) + "°"


@dataclass(frozen=True, slots=True)
class Figures:
    """Writes lengths held in mm in ``units``: to a thousandth of a millimetre, or to a ten-thousandth of an inch."""

    units: Units

    def length(self, mm: float) -> str:
        """``mm`` as a bare number in the job's units."""
        if self.units is Units.MM:
            return trimmed(mm, 3)
        return trimmed(mm / 25.4, 4)

    def named(self, mm: float | Fraction) -> str:
        """``mm`` with its unit; in inches as a fraction where it is one of a tape's (to 1/64)."""
        exact = Fraction(mm) / self.units.mm
        if self.units is Units.IN and exact.denominator in (2, 4, 8, 16, 32, 64):
            whole, part = divmod(exact, 1)
            return f"{whole} {part} in" if whole else f"{part} in"
        return f"{self.length(float(mm))} {self.units.value}"

    def about(self, mm: float) -> str:
        """A miss or a clash, with its unit, as closely as a tape finds it: a tenth of a millimetre, a 64th of an inch.
        What is there at all is never called nothing."""
        step = Fraction(1, 10) if self.units is Units.MM else INCH / 64
        return with_unit(max(Fraction(mm), step), self.units, step=step)

    def place(self, point: tuple[float, float, float]) -> str:
        """A place in the frame, to a millimetre or a tenth of an inch."""
        unit, digits = (25.4, 1) if self.units is Units.IN else (1.0, 0)
        return ", ".join(f"{axis} {trimmed(c / unit, digits)}" for axis, c in zip("xyz", point, strict=True))


MILLIMETRES = Figures(Units.MM)
