"""If a cut is spoilt: the offcut that would replace it once everything is cut.

The shortest offcut that serves is named, so that the long spare stays whole for the next mistake. Two mistakes do not
compete for one offcut: a blank of up to the spare's length takes the place of one spare at most, wherever it is cut, so
after each mistake room for all but one of the spares is left, on the offcut named or on one of the next.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from cutplan.plan.model import Bar, Recovery, SawCut


def ranked(bars: Iterable[Bar]) -> tuple[Bar, ...]:
    """The bars in the order in which they are turned to: the shortest offcut first, of two alike the opened one."""
    return tuple(sorted(bars, key=lambda bar: (bar.usable, not bar.cuts, len(bar.name), bar.name)))


def recovery_of(blank: Fraction, bars: Sequence[Bar], spares: int = 1) -> Recovery | None:
    """Where one more blank of this length (mm) would come from after all cuts; None: nothing in hand is long enough.

    ``bars`` as :func:`ranked`; where several ``spares`` are kept, with the bars to turn to when earlier mistakes have
    used the first.
    """
    at = bisect_left(bars, blank, key=lambda bar: bar.usable)
    if at == len(bars):
        return None
    bar = bars[at]
    following = tuple(other.name for other in bars[at + 1 : at + spares])
    how = f"from what is left of bar {bar.name}" if bar.cuts else f"from bar {bar.name}, kept whole"
    if following:
        how = f"{how}; if too little is left there by then, from bar {', then bar '.join(following)}"
    return Recovery(bar.name, how, following=following)


def with_recoveries(bars: Sequence[Bar], spares: int = 1) -> tuple[Bar, ...]:
    """The bars of one tube with every cut's recovery filled in, for so many ``spares`` kept."""
    order = ranked(bars)

    def filled(cut: SawCut) -> SawCut:
        return replace(cut, if_spoilt=recovery_of(cut.blank, order, spares))

    return tuple(bar.with_cuts(filled) for bar in bars)
