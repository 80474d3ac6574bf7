"""Fitted one at a time: the cuts of the whole job in an order in which a tube comes before what lands on it.

Tubes of one kind whose order of cuts carries their spare keep that order; all others may be cut in any. Of what may
come next, what is known comes before what must be measured first, then what was planned first: a list scheduling under
precedence (Kahn 1962). Where the orders that are kept allow none without a tube before one that it lands on, the cut
of these that misses the fewest comes next.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job
from cutplan.job.stages import pieces_landed_on
from cutplan.plan.model import Bar, Early, SawCut, TubePlan

_Due = tuple[bool, int]
"""Whether it must be measured first, and which cut it was: the least comes next."""


def early_cuts(job: Job, tubes: Sequence[TubePlan]) -> tuple[Early, ...]:
    """What is sawn before something it lands on, in the order of sawing."""
    if job.settings.fitted is not Fitted.ONE_AT_A_TIME:
        return ()
    cuts = sorted((cut.number, cut.mark) for tube in tubes for bar in tube.bars for cut in bar.cuts)
    last = {mark: number for number, mark in cuts}
    first = {mark: number for number, mark in reversed(cuts)}
    lands = pieces_landed_on(job.members)
    return tuple(
        Early(number, mark, onto, last[onto])
        for number, mark in cuts
        if number == first[mark]
        for onto in lands.get(mark, ())
        if last.get(onto, 0) > number
    )


def in_fitting_order(job: Job, tubes: Sequence[TubePlan], blanks: Sequence[Blank]) -> tuple[TubePlan, ...]:
    """``tubes`` with their cuts numbered from 1 so that, stage by stage, each comes after those it lands on."""
    by_mark = {blank.mark: blank for blank in blanks}
    runs = [run for tube in tubes for run in _runs(tube, by_mark)]
    lands = pieces_landed_on(job.members)
    order: list[int] = []
    for _, stage in groupby(sorted(runs, key=lambda run: run.stage), key=lambda run: run.stage):
        for run in _Schedule(list(stage), lands).runs():
            order += [cut.number for cut in run.cuts]
    number = {was: at for at, was in enumerate(order, 1)}
    kerf = job.settings.kerf
    return tuple(
        replace(tube, bars=tuple(_sawn_in_order(bar, number, kerf) if bar.cuts else bar for bar in tube.bars))
        for tube in tubes
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """Cuts that follow one another at once: one, or those that share mitres. ``ordered``: its tube keeps its order;
    ``after``: the number of the run that then comes before it (0: none)."""

    cuts: tuple[SawCut, ...]
    stage: int
    due: _Due
    ordered: bool
    after: int

    @property
    def number(self) -> int:
        """The number of its first cut."""
        return self.cuts[0].number

    @property
    def marks(self) -> list[str]:
        """The marks of its cuts."""
        return [cut.mark for cut in self.cuts]


def _runs(tube: TubePlan, blanks: Mapping[str, Blank]) -> Iterator[_Run]:
    """The runs of a tube as they were numbered."""
    ordered = tube.spares.fitted is Fitted.ONE_AT_A_TIME
    after = 0
    for cuts in sorted((run for bar in tube.bars for run in _together(bar)), key=lambda run: run[0].number):
        of = [blanks[cut.mark] for cut in cuts]
        due = any(blank.estimated for blank in of), cuts[0].number
        yield _Run(cuts, max(blank.stage for blank in of), due, ordered, after)
        after = cuts[0].number if ordered else 0


def _together(bar: Bar) -> list[tuple[SawCut, ...]]:
    """The cuts of a bar, those that share a mitre together."""
    runs: list[tuple[SawCut, ...]] = []
    for cut in bar.cuts:
        if cut.shared and runs:
            runs[-1] = (*runs[-1], cut)
        else:
            runs.append((cut,))
    return runs


class _Schedule:
    """The ``runs`` of one stage, in the order of what each ``lands`` on. ``missing``: by run, the marks that must be
    there before it, and the number of the run that must."""

    def __init__(self, runs: Sequence[_Run], lands: Mapping[str, Collection[str]]) -> None:
        self.left = Counter(mark for run in runs for mark in run.marks)
        self.waiting = {run.number: run for run in runs}
        self.missing: dict[int, set[str | int]] = {}
        self.awaited: dict[str | int, list[int]] = {}
        for run in runs:
            onto = {mark for one in run.marks for mark in lands.get(one, ()) if self.left[mark]} - {*run.marks}
            missing = self.missing[run.number] = {*onto, *({run.after} & self.waiting.keys())}
            for cause in missing:
                self.awaited.setdefault(cause, []).append(run.number)
        self.ready = sorted(run.due for run in runs if not self.missing[run.number])

    def runs(self) -> Iterator[_Run]:
        """All of them."""
        while self.waiting:
            number = heapq.heappop(self.ready)[1] if self.ready else self._least_missing()
            run = self.waiting.pop(number)
            yield run
            self.left.subtract(run.marks)
            causes: list[str | int] = [number, *(mark for mark in {*run.marks} if not self.left[mark])]
            for cause in causes:
                for other in self.awaited.get(cause, ()):
                    self.missing[other].discard(cause)
                    if other in self.waiting and not self.missing[other]:
                        heapq.heappush(self.ready, self.waiting[other].due)

    def _least_missing(self) -> int:
        """Where each misses some, the cut that misses the fewest: of a tube that keeps its order, as any other can
        wait."""
        able = (run for number, run in self.waiting.items() if run.after not in self.missing[number])
        return min(able, key=lambda run: (not run.ordered, len(self.missing[run.number]), run.due)).number


def _sawn_in_order(bar: Bar, number: Mapping[int, int], kerf: Fraction) -> Bar:
    """``bar`` with its cuts numbered anew, and laid along it in that order."""
    squared, at = bar.length - bar.end_trim, Fraction(0)
    cuts: list[SawCut] = []
    for run in sorted(_together(bar), key=lambda run: number[run[0].number]):
        moved = at - run[0].start
        for cut, following in zip(run, (*run[1:], None), strict=True):
            at = (cut.end + kerf if following is None else following.start) + moved
            left = max(squared - at, Fraction(0))
            new = replace(cut, number=number[cut.number], start=cut.start + moved, end=cut.end + moved, left=left)
            cuts.append(new)
    return replace(bar, cuts=tuple(cuts))
