"""The spare as the frame grows: what is kept for pieces cut but not fitted, and which bars are no longer needed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.model import Job, StockRow
from cutplan.plan.grid import usable
from cutplan.plan.model import Plan, TubePlan
from cutplan.plan.recut.inventory import Inventory
from cutplan.plan.wording import measured


def spares_in_hand(
    job: Job, pieces: Sequence[StockRow], lengths: Sequence[Fraction], wanted: int
) -> tuple[int, Fraction]:
    """The spares that ``pieces`` of tube have room for once all blanks of it are cut: as many as ``wanted`` of the
    longest of these ``lengths`` (shortest first), else one, as long as can be."""
    kerf = job.settings.kerf
    rests = [usable(row, job.settings) for row in pieces for _ in range(row.available or 0)]

    def room(length: Fraction) -> int:
        return sum(int((rest + kerf) // (length + kerf)) for rest in rests)

    count = min(wanted, room(lengths[-1]))
    if count:
        return count, lengths[-1]
    return next(((1, length) for length in reversed(lengths) if wanted and room(length)), (0, Fraction(0)))


def no_longer_needed(
    before: Plan, job: Job, blanks: Sequence[Blank], tubes: Sequence[TubePlan], state: Inventory
) -> Iterator[str]:
    """Which bars that ``before`` needed are whole and now of no use at all, a sentence each, and where they can go; and
    once nothing more is cut of a tube, also those that were bought only for what a shop charges.
    ``blanks``: what ``job`` has still to cut, by the plans of its ``tubes``."""
    plans = {tube.tube: tube for tube in tubes}
    needed = before.needed
    owed = {blank.tube for blank in (*blanks, *(good.blank for good in state.good if not good.fitted)) if blank.insured}
    for name, row in state.named:
        after = plans.get(row.tube)
        if row.sawn or (after is not None and name in after.needed):
            continue
        if name not in needed and not (row.bought and row.tube not in owed):
            continue
        if row.tube not in owed or (after is not None and after.spares.wanted >= job.settings.spares):
            what = f"Bar {name}, {measured(row.length, job.settings)} of {row.tube}, is whole and no longer needed"
            yield f"{what}: {_goes(row)}."


def _goes(row: StockRow) -> str:
    """Where a bar that is not needed can go."""
    if not row.bought:
        return "it can stay on the rack"
    return f"it can go back to {row.shop}" if row.shop else "it can go back to where it was bought"
