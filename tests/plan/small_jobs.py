"""Small jobs built directly: one tube, square blanks of given lengths, bars of given lengths."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

import pytest

from cutplan.geometry.model import Blank, EndShape, Part
from cutplan.job.model import Cut, Job, Member, Settings, Source, StockRow, Tube
from cutplan.plan import StockError, complaints, make_plan

SQUARE = EndShape(Cut.SQUARE, 40.0)


def blank(
    mark: str,
    length: Fraction | int,
    count: int = 1,
    *,
    tube: str = "T",
    insured: bool = True,
    ends: tuple[EndShape, EndShape] = (SQUARE, SQUARE),
) -> Blank:
    """A straight blank, by default square-ended and insured."""
    exact = Fraction(length)
    return Blank(mark, mark, tube, count, exact, (Part("measured", float(exact)),), *ends, insured=insured)


def bars(
    length: Fraction | int,
    price: str | None = None,
    available: int | None = None,
    *,
    tube: str = "T",
    end_trim: Fraction | int | None = None,
) -> StockRow:
    """Bars to buy."""
    trim = None if end_trim is None else Fraction(end_trim)
    return StockRow(tube, Fraction(length), Decimal(price) if price else None, available, Source.BUY, "", trim)


def rack(length: Fraction | int, count: int = 1, label: str = "", *, tube: str = "T") -> StockRow:
    """Pieces on the rack."""
    return StockRow(tube, Fraction(length), None, count, Source.RACK, label)


def job(stock: Sequence[StockRow], blanks: Sequence[Blank], settings: Settings | None = None) -> Job:
    """A job that wants ``blanks``, each its own member, from ``stock``."""
    names = dict.fromkeys([row.tube for row in stock] + [one.tube for one in blanks])
    tubes = tuple(Tube(name, Fraction(40), Fraction(2)) for name in names)
    members = tuple(
        Member(one.mark, one.tube, one.count, length=one.length, insured=one.insured, stage=one.stage or None)
        for one in blanks
    )
    return Job(settings or Settings(kerf=Fraction(2), spares=0), tubes, tuple(stock), members)


def least_cost(stock: Sequence[StockRow], lengths: Sequence[Fraction], kerf: Fraction) -> Fraction | None:
    """The least cost of bars that hold ``lengths``, found by trying every place for each; None: no bars do.

    Bars without a price cost their length, rack pieces nothing; no end trim, no saw hold. One blank more than fills
    a bar needs a kerf in front of it, so a bar is as good as one a kerf longer on which each blank takes its kerf.
    """
    kinds = [
        (row.length + kerf, Fraction(0) if row.source is Source.RACK else Fraction(row.price or row.length))
        for row in stock
    ]
    in_hand = [len(lengths) if row.available is None else row.available for row in stock]
    longest_first = sorted(lengths, reverse=True)
    best: list[Fraction | None] = [None]

    def place(number: int, rooms: tuple[Fraction, ...], cost: Fraction) -> None:
        if best[0] is not None and cost >= best[0]:
            return
        if number == len(longest_first):
            best[0] = cost
            return
        need = longest_first[number] + kerf
        for room in sorted({room for room in rooms if room >= need}):
            at = rooms.index(room)
            place(number + 1, (*rooms[:at], room - need, *rooms[at + 1 :]), cost)
        for kind, (length, price) in enumerate(kinds):
            if in_hand[kind] and length >= need:
                in_hand[kind] -= 1
                place(number + 1, (*rooms, length - need), cost + price)
                in_hand[kind] += 1

    place(0, (), Fraction(0))
    return best[0]


Number = TypeVar("Number", int, Fraction)


def packs(
    needs: Sequence[Number],
    rooms: Sequence[Number],
    known: dict[tuple[tuple[Number, ...], tuple[Number, ...]], bool],
) -> bool:
    """Whether these fit into these rooms, found by trying every place; the kerfs are in both."""
    need, free = tuple(sorted(needs, reverse=True)), tuple(sorted(rooms))
    if not need:
        return True
    if not free or need[0] > free[-1]:
        return False
    if (need, free) not in known:
        known[need, free] = any(
            packs(need[1:], (*free[:at], room - need[0], *free[at + 1 :]), known)
            for at, room in enumerate(free)
            if room >= need[0] and room not in free[:at]
        )
    return known[need, free]


def costs(least: Decimal | None, wanted: Job, blanks: Sequence[Blank]) -> None:
    """Assert that the plan costs the ``least`` there is, proven, and that its check from scratch finds nothing wrong;
    None: that there is no plan."""
    if least is None:
        with pytest.raises(StockError):
            make_plan(wanted, blanks)
        return
    plan = make_plan(wanted, blanks)
    assert (plan.cost, plan.proven) == (least, True)
    assert complaints(plan) == ()
