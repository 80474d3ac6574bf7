"""Which pieces of a rack a plan needs, so that no other job is planned on them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from cutplan.job.model import Source, StockRow
from cutplan.plan.model import Bar, Plan


def taken(plan: Plan) -> tuple[StockRow, ...]:
    """The pieces that a rack's file gave and ``plan`` cuts into, keeps a spare on, or turns to after a mistake; one
    row each. Pieces exactly alike that the job lists in its own stock as well count as the rack's."""
    wanted = Counter(_known_by(bar) for bar in _needed(plan) if bar.source is Source.RACK)
    pieces = []
    for row in plan.drawn:
        for _ in range(row.available or 0):
            if wanted[_known_by(row)] > 0:
                wanted[_known_by(row)] -= 1
                pieces.append(replace(row, available=1))
    return tuple(pieces)


def _needed(plan: Plan) -> Iterator[Bar]:
    for tube in plan.tubes:
        turned_to = set()
        for bar in tube.bars:
            for cut in bar.cuts:
                if cut.if_spoilt is not None:
                    turned_to |= {cut.if_spoilt.bar, *cut.if_spoilt.following}
                    turned_to |= {name for name, marks in cut.if_spoilt.layout if marks}
        yield from (bar for bar in tube.bars if bar.cuts or bar.spares or bar.name in turned_to)


def _known_by(piece: Bar | StockRow) -> tuple[str, Fraction, str]:
    return (piece.tube, piece.length, piece.label)
