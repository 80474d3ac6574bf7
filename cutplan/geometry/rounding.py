"""The one rounding policy of geometry: a blank goes up to the next marking step, never down.

A blank cut short costs a bar; one cut long costs a stroke of the file. What floating-point noise alone lifts
above a step (less than one part in ``NOISE_PER_MM`` of a millimetre) stays on that step.
"""

from __future__ import annotations

from fractions import Fraction

NOISE_PER_MM = 10**6
"""A millionth of a millimetre: far below any tape, far above the noise of adding a few doubles."""


def round_up(length_mm: float | Fraction, step_mm: Fraction) -> Fraction:
    """``length_mm`` up to a whole number of ``step_mm``, exactly. Raises ValueError for a step that is not positive."""
    if step_mm.numerator <= 0:
        raise ValueError(f"a marking step is more than 0, got {step_mm}")
    # Whole numbers throughout: (length - noise) / step, rounded up.
    upper, lower = length_mm.as_integer_ratio()
    over = (upper * NOISE_PER_MM - lower) * step_mm.denominator
    under = lower * NOISE_PER_MM * step_mm.numerator
    return Fraction(-(-over // under) * step_mm.numerator, step_mm.denominator)
