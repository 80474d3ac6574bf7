"""The rest of a tube left where it was planned: a blank to cut again goes on the shortest offcut that serves.

Where this works nothing is bought, and nobody has to strike out what is on paper.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.model import Job, Source, StockRow
from cutplan.plan.grid import usable
from cutplan.plan.model import SPOILT_PIECE, Bar, SawCut, TubePlan
from cutplan.plan.planner import lay_on, spares_of
from cutplan.plan.spoilt import with_recoveries
from cutplan.plan.staging import on_a_bar


@dataclass(slots=True)
class _Laid:
    """A piece in hand with what is laid on it; ``turned``: of each blank, whether end b comes first and whether its
    leading mitre shares the cut before it."""

    job: Job
    name: str
    row: StockRow
    blanks: list[Blank]
    turned: list[tuple[bool, bool]]

    def bar(self, first: int = 1) -> Bar:
        """The bar, its blanks in their turn."""
        blanks, turned = on_a_bar(self.blanks, self.turned)
        return lay_on(self.job, self.row, blanks, name=self.name, first=first, turned=turned)

    @property
    def fits(self) -> bool:
        cuts = self.bar().cuts
        return not cuts or cuts[-1].end <= usable(self.row, self.job.settings)

    def put(self, blank: Blank, flipped: bool = False, shared: bool = False) -> None:
        self.blanks.append(blank)
        self.turned.append((flipped, shared))

    def take(self) -> None:
        """Take the last blank off again."""
        self.blanks.pop()
        self.turned.pop()


def kept_as_planned(
    job: Job,
    tube: str,
    pieces: Sequence[tuple[str, StockRow]],
    waiting: Mapping[str, Sequence[SawCut]],
    blanks: Sequence[Blank],
    kept: tuple[int, Fraction],
    first: int,
) -> TubePlan | None:
    """The plan of ``tube`` with its ``waiting`` cuts left on their bars, nothing bought, cuts numbered from ``first``.

    ``pieces``: what is in hand, by the name of the bar; ``blanks``: what is still to cut, all of this tube; ``kept``:
    how many spares of what length (mm) must find room. None: it cannot be so.
    """
    by_mark = {blank.mark: blank for blank in blanks}
    due = Counter({blank.mark: blank.count for blank in blanks})
    laid = []
    for name, row in pieces:
        on = _Laid(job, name, row, [], [])
        before: SawCut | None = None
        for cut in waiting.get(name, ()):
            follows = before is not None and cut.shared and before.number == cut.number - 1
            on.put(by_mark[cut.mark], cut.flipped, follows)
            before = cut
        while not on.fits:
            on.take()
        due.subtract(blank.mark for blank in on.blanks)
        laid.append(on)
    for blank in sorted(blanks, key=lambda blank: -blank.length):
        for _ in range(due[blank.mark]):
            if not _placed(blank, laid):
                return None
    return _tube_plan(job, tube, laid, blanks, kept, first)


def course_as_planned(
    job: Job,
    before: TubePlan,
    pieces: Sequence[tuple[str, StockRow]],
    waiting: Mapping[str, Sequence[SawCut]],
    blanks: Sequence[Blank],
    first: int,
) -> TubePlan | None:
    """The rest of a tube fitted one at a time, where all so far went by its plan ``before``: the same cuts in the same
    order, numbered from ``first``, each with the recovery it had. The other arguments are those of
    :func:`kept_as_planned`. None: a recovery names a bar that is no longer in hand."""
    by_mark = {blank.mark: blank for blank in blanks}
    numbers = sorted(cut.number for name, _ in pieces for cut in waiting.get(name, ()))
    rank = {number: first + at for at, number in enumerate(numbers)}
    bars = []
    for name, row in pieces:
        cuts = waiting.get(name, ())
        turned = [(cut.flipped, False) for cut in cuts]
        laid = lay_on(job, row, [by_mark[cut.mark] for cut in cuts], name=name, first=1, turned=turned)
        kept = tuple(
            replace(new, number=rank[old.number], if_spoilt=old.if_spoilt)
            for new, old in zip(laid.cuts, cuts, strict=True)
        )
        bars.append(replace(laid, cuts=kept))
    bars.sort(key=lambda bar: bar.cuts[0].number if bar.cuts else math.inf)
    recoveries = [cut.if_spoilt for bar in bars for cut in bar.cuts if cut.if_spoilt]
    if {name for way in recoveries for name, _ in way.layout} - {name for name, _ in pieces} - {SPOILT_PIECE}:
        return None
    lost = {cut.mark for bar in bars for cut in bar.cuts if cut.if_spoilt is None}
    spares = spares_of(blanks, before.spares.wanted, before.spares.length, lost)
    nothing = Decimal(0)
    return TubePlan(before.tube, _priced(job, before.tube), nothing, nothing, True, tuple(bars), spares)


def _placed(blank: Blank, laid: Sequence[_Laid]) -> bool:
    for on in sorted(laid, key=lambda on: on.bar().usable):
        on.put(blank)
        if on.fits:
            return True
        on.take()
    return False


def _tube_plan(
    job: Job, tube: str, laid: Sequence[_Laid], blanks: Sequence[Blank], kept: tuple[int, Fraction], first: int
) -> TubePlan | None:
    wanted, length = kept
    kerf = job.settings.kerf
    bars = []
    for on in sorted(laid, key=lambda on: not on.blanks):
        bar = on.bar(first)
        here = min(wanted, int((bar.usable + kerf) // (length + kerf))) if wanted else 0
        bars.append(replace(bar, spares=here))
        wanted -= here
        first += len(bar.cuts)
    if wanted:
        return None
    nothing = Decimal(0)
    spares = spares_of(blanks, *kept)
    return TubePlan(tube, _priced(job, tube), nothing, nothing, True, with_recoveries(bars, kept[0]), spares)


def _priced(job: Job, tube: str) -> bool:
    """Whether more of the tube can be bought, at a price."""
    return any(row.price is not None for row in job.stock if row.tube == tube and row.source is Source.BUY)
