"""If a cut is spoilt: the offcut that would replace it once everything is cut.

The shortest offcut that serves is named, so that the long spare stays whole for the next mistake.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from cutplan.plan.model import Bar, Cut, Recovery


def recovery_of(blank: Fraction, bars: Sequence[Bar]) -> Recovery | None:
    """Where one more blank of this length (mm) would come from after all cuts; None: from nowhere in hand."""
    serving = [bar for bar in bars if bar.usable >= blank]
    if not serving:
        return None
    bar = min(serving, key=lambda bar: (bar.usable, not bar.cuts, len(bar.name), bar.name))
    return Recovery(
        bar.name, f"from what is left of bar {bar.name}" if bar.cuts else f"from bar {bar.name}, kept whole"
    )


def with_recoveries(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """The bars of one tube with every cut's recovery filled in."""

    def filled(cut: Cut) -> Cut:
        return replace(cut, if_spoilt=recovery_of(cut.blank, bars))

    return tuple(replace(bar, cuts=tuple(filled(cut) for cut in bar.cuts)) for bar in bars)
