"""The order of cuts by stages: all of one stage, on whichever bars, before any of the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutplan.geometry.model import Blank
from cutplan.plan.model import TubePlan


def in_stage_order(tubes: Sequence[TubePlan], blanks: Sequence[Blank]) -> tuple[TubePlan, ...]:
    """``tubes`` with their cuts numbered from 1 by stage, within a stage in the order they had. On each bar those of
    an earlier stage must come first already."""
    stages = {blank.mark: blank.stage for blank in blanks}
    if not any(stages.values()):
        return tuple(tubes)
    cuts = sorted(
        (cut for tube in tubes for bar in tube.bars for cut in bar.cuts),
        key=lambda cut: (stages[cut.mark], cut.number),
    )
    number = {cut.number: at for at, cut in enumerate(cuts, 1)}
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
