"""What a plan needs of a rack, and what a finished job leaves for it: pieces it used, offcuts worth putting back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.job.faults import Fault, JobError
from cutplan.job.model import Source, StockRow
from cutplan.plan.model import Bar, Plan, own_label
from cutplan.plan.recut.inventory import Inventory
from cutplan.plan.recut.ticks import BarNote, Tick, faults_of


@dataclass(frozen=True, slots=True)
class LeftOver:
    """``used``: pieces drawn from the rack and cut into; ``back``: offcuts for it. One row each. ``unticked``: how many
    cuts count as done though nothing is ticked."""

    used: tuple[StockRow, ...]
    back: tuple[StockRow, ...]
    unticked: int = 0


def left_over(
    plan: Plan, ticks: Sequence[Tick], notes: Sequence[BarNote] = (), *, broken_off: bool = False
) -> LeftOver:
    """What ``plan`` leaves, by its ticks; where no cut is ticked at all, every cut counts as done.

    ``broken_off``: what is not ticked was not cut and never will be, so that its tube is left too. Pieces drawn from
    the rack and not touched stay there. Raises JobError where some cuts are ticked and others are not, or where the
    ticks contradict each other or what was measured.
    """
    cuts = {cut.number for cut in plan.cuts}
    unticked = 0
    if not broken_off and not any(tick.made for tick in ticks if tick.cut in cuts):
        unticked = len(cuts)
        # Before they are judged: what was measured before the first cut is not there after the last.
        ticks = [replace(tick, done=tick.done or tick.cut in cuts) for tick in ticks]
    faults = list(faults_of(plan, ticks, notes, ()))
    faults += [
        Fault(
            tick.place,
            f"cut {tick.cut} is neither done nor spoilt",
            cure="tick it, or plan the rest first; --broken-off if it never will be cut",
        )
        for tick in ticks
        if not broken_off and tick.cut in cuts and not tick.made
    ]
    if faults:
        raise JobError(faults)
    state = Inventory(plan, ticks, {note.bar: note for note in notes})
    before = Counter(_key(row) for row in plan.rack_before for _ in range(row.available or 0))
    drawn = Counter(_key(row) for row in plan.drawn for _ in range(row.available or 0))
    back = []
    for name, row in state.named:
        own = own_label(name, row.label)
        key = _key(replace(row, label=own))
        if before[key]:
            before[key] -= 1
            drawn[key] -= 1
        elif row.length >= plan.job.settings.keep:
            back.append(replace(row, label=own or f"{plan.job.settings.name} {name}"))
    used = [replace(row, available=1) for row in plan.drawn for _ in range(max(drawn[_key(row)], 0))]
    return LeftOver(tuple(used), tuple(back), unticked)


def _key(row: StockRow) -> tuple[object, ...]:
    return (row.tube, row.length, row.label, row.end_trim or 0, row.sawn)


def taken(plan: Plan) -> tuple[StockRow, ...]:
    """The pieces that a rack's file gave and ``plan`` cuts into, keeps a spare on, or turns to after a mistake; one
    row each. Pieces exactly alike that the job lists in its own stock as well count as the rack's."""
    needed = plan.needed
    wanted = Counter(_known_by(bar) for bar in plan.bars if bar.source is Source.RACK and bar.name in needed)
    pieces = []
    for row in plan.drawn:
        for _ in range(row.available or 0):
            if wanted[_known_by(row)] > 0:
                wanted[_known_by(row)] -= 1
                pieces.append(replace(row, available=1))
    return tuple(pieces)


def _known_by(piece: Bar | StockRow) -> tuple[str, Fraction, str]:
    return (piece.tube, piece.length, piece.label)
