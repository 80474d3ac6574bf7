"""If a cut is spoilt: the offcut that would replace it once everything is cut.

The shortest offcut that serves is named, so that the long spare stays whole for the next mistake. Two mistakes do not
fight over one offcut: a blank of up to the spare's length takes the place of one spare at the most, wherever it is cut,
so after each mistake room for all but one of the spares is left, on the offcut named or on one of the next.
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


def with_recoveries(bars: Sequence[Bar], spares: int = 1) -> tuple[Bar, ...]:
    """The bars of one tube with every cut's recovery filled in; where several ``spares`` are kept, with the offcuts to
    turn to when earlier mistakes have used the first."""

    def filled(cut: Cut) -> Cut:
        first = recovery_of(cut.blank, bars)
        others, following = list(bars), []
        recovery = first
        for _ in range(spares - 1):
            others = [bar for bar in others if recovery and bar.name != recovery.bar]
            recovery = recovery_of(cut.blank, others)
            following += [recovery.bar] if recovery else []
        if first and following:
            how = f"{first.how}; if too little is left there by then, of bar {', then bar '.join(following)}"
            first = replace(first, how=how, following=tuple(following))
        return replace(cut, if_spoilt=first)

    return tuple(replace(bar, cuts=tuple(filled(cut) for cut in bar.cuts)) for bar in bars)
