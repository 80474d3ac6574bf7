"""The order of cuts by stages: all of one stage, on whichever bars, before any of the next.

Within a stage what is known comes before what must be measured first, and what is landed on before what lands on it.
Blanks that share a mitre stay together. Where each member is fitted before the next is cut, the order is that of
``sequential.fitting``, with stages or without.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job
from cutplan.plan.model import Bar, TubePlan
from cutplan.plan.sequential.fitting import in_fitting_order

Turn = tuple[int, int, int]
"""When a cut comes: its stage, whether it must be measured first, how many of its stage it waits for."""


def turn(blank: Blank) -> Turn:
    """When ``blank`` is best cut."""
    return blank.stage, int(blank.estimated), blank.waits


def latest(blank: Blank) -> Turn:
    """When ``blank`` must be cut at the earliest: only an estimate cannot be cut before what it is measured against."""
    return (blank.stage, 1, blank.waits) if blank.estimated and blank.waits else (blank.stage, 0, 0)


def on_a_bar(
    blanks: Sequence[Blank], turned: Sequence[tuple[bool, bool]]
) -> tuple[list[Blank], tuple[tuple[bool, bool], ...]]:
    """``blanks`` of one bar in their turn, in which they can stand as no two share a cut but neighbours. ``turned``: of
    each whether end b comes first and whether it shares the cut before it (empty: none does)."""
    flags = list(turned) or [(False, False)] * len(blanks)
    turns = _together([turn(blank) for blank in blanks], [shared for _, shared in flags])
    order = sorted(range(len(blanks)), key=turns.__getitem__)
    return [blanks[at] for at in order], tuple(flags[at] for at in order) if turned else ()


def in_order_of_sawing(job: Job, tubes: Sequence[TubePlan], blanks: Sequence[Blank]) -> tuple[TubePlan, ...]:
    """``tubes`` with their cuts numbered from 1 by their turns, else in the order they had. On each bar they must be in
    that order already, but where members are fitted one at a time."""
    if Fitted.ONE_AT_A_TIME in (job.settings.fitted, *(tube.spares.fitted for tube in tubes)):
        return in_fitting_order(job, tubes, blanks)
    if not any(blank.stage for blank in blanks):
        return tuple(tubes)
    by_mark = {blank.mark: turn(blank) for blank in blanks}
    turns: dict[int, Turn] = {}
    for tube in tubes:
        for bar in tube.bars:
            turns |= _turns_on(bar, by_mark)
    number = {was: at for at, was in enumerate(sorted(turns, key=lambda was: (turns[was], was)), 1)}
    return tuple(
        replace(
            tube,
            bars=tuple(
                replace(bar, cuts=tuple(replace(cut, number=number[cut.number]) for cut in bar.cuts))
                for bar in tube.bars
            ),
        )
        for tube in tubes
    )


def _turns_on(bar: Bar, turns: Mapping[str, Turn]) -> dict[int, Turn]:
    """By number, the turns of the cuts of a bar."""
    together = _together([turns[cut.mark] for cut in bar.cuts], [cut.shared for cut in bar.cuts])
    return dict(zip((cut.number for cut in bar.cuts), together, strict=True))


def _together(turns: Sequence[Turn], shared: Sequence[bool]) -> list[Turn]:
    """The turns of the blanks along a bar, the same for those that share a cut: the last of theirs."""
    runs: list[list[Turn]] = []
    for one, shares in zip(turns, shared, strict=True):
        if shares and runs:
            runs[-1].append(one)
        else:
            runs.append([one])
    return [max(run) for run in runs for _ in run]
