"""When the stock is not enough for a tube: what can be cut from it, what cannot, and the least to buy on top."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from cutplan.job.model import INCH, Source, StockRow, Units
from cutplan.job.units import with_unit
from cutplan.nesting import Packing, Status, Stock, pack_most
from cutplan.plan.grid import GRID, grid_down, usable
from cutplan.plan.model import Purchase, Shortage
from cutplan.plan.parts import one_part_each, yields
from cutplan.plan.problem import Limits, Problem

USUAL_BAR = {Units.MM: Fraction(6000), Units.IN: 240 * INCH}
"""A bar length commonly sold (6 m: suppliers' pages; 20 ft: from memory), proposed where the job names no bar
for sale."""


def shortage_of(problem: Problem, count: int, length: Fraction, limits: Limits) -> Shortage:
    """What is missing for ``problem`` with ``count`` spares of ``length`` mm. The least to buy on top is worked out
    first: a person who is stuck needs that most."""
    half = limits.part(0.5)
    delivered, problem = problem, one_part_each(problem)
    rows, stocks = _for_sale(problem)
    in_hand = tuple(replace(stock, price=0) for stock in problem.stocks)
    packing = _packed(problem, in_hand + stocks, count, length, half)
    spares_only, served, proven = _served(problem, count, half)
    can, cannot = _by_mark(problem, served)
    least: tuple[Purchase, ...] = ()
    if packing.status is Status.IMPOSSIBLE:  # with any number of bars: something is longer than all that are sold
        longest = max([group[0].length for group in problem.blanks] + ([length] if count else []))
        best = max((stock.length for stock in stocks), default=0) * GRID[problem.job.settings.units]
        why = _too_long(problem, longest, best)
        least = _delivered(delivered, count, length, limits)
    else:
        least, why = _on_top(problem, rows, packing), _why(spares_only)
    sure = delivered is problem
    return Shortage(problem.tube, can, cannot, spares_only, least, why, proven and sure, packing.proven and sure)


def _packed(problem: Problem, stocks: tuple[Stock, ...], count: int, length: Fraction, limits: Limits) -> Packing:
    """The cheapest way to have the pieces of ``problem``, and these spares, out of ``stocks``; any of those
    that cost the same. Nothing of this is reported as progress."""
    return replace(problem, stocks=stocks).solve(count, length, replace(limits, progress=None), second_aims=False)


def _delivered(problem: Problem, count: int, length: Fraction, limits: Limits) -> tuple[Purchase, ...]:
    """The least to buy if the bars that are too long to be carried were delivered, where that would do."""
    job = problem.job
    long = tuple(row for row in job.stock if row.tube == problem.tube and row not in problem.rows)
    every = replace(problem, rows=(*problem.rows, *long))
    rows, stocks = _for_sale(every, delivered=True)
    in_hand = tuple(replace(stock, price=0, count=stock.count if stock.owned else 0) for stock in problem.stocks)
    packing = _packed(problem, in_hand + stocks, count, length, limits)
    return () if packing.cost is None else _on_top(problem, rows, packing)


def _served(problem: Problem, count: int, limits: Limits) -> tuple[bool, list[int], bool]:
    """Whether only the spares find no room, how many of each piece can be cut, and whether that is proven the most.
    A fault of the search in this leaves it out: that the stock is not enough, and what to buy, must still be said."""
    if count > 0 and problem.solve(0, Fraction(0), limits, second_aims=False).cost is not None:
        return True, [piece.count for piece in problem.pieces], True
    try:
        most, left_out = pack_most(
            problem.pieces,
            problem.stocks,
            kerf=problem.kerf,
            joints=problem.joints or None,
            time_limit=limits.seconds,
            stop=limits.stop,
        )
    except (AssertionError, ArithmeticError):
        return False, [0] * len(problem.pieces), False
    return False, [piece.count - left for piece, left in zip(problem.pieces, left_out, strict=True)], most.proven


def _by_mark(problem: Problem, served: list[int]) -> tuple[tuple[tuple[str, int], ...], tuple[tuple[str, int], ...]]:
    """How many of each mark can be cut and how many cannot; within one length, earlier marks are served first."""
    can, cannot = [], []
    for group, left in zip(problem.blanks, served, strict=True):
        for blank in group:
            here = min(blank.count, left)
            left -= here
            if here:
                can.append((blank.mark, here))
            if here < blank.count:
                cannot.append((blank.mark, blank.count - here))
    return tuple(can), tuple(cannot)


def _for_sale(problem: Problem, *, delivered: bool = False) -> tuple[tuple[StockRow, ...], tuple[Stock, ...]]:
    """Every bar the job says can be bought, now in any number; else a bar of the usual length, unpriced.
    ``delivered``: also those that are too long to be carried, whole."""
    settings = problem.job.settings
    rows = tuple(replace(row, available=None) for row in problem.rows if row.source is Source.BUY)
    if not rows:
        rows = (StockRow(problem.tube, USUAL_BAR[settings.units], end_trim=settings.end_trim),)
    return rows, tuple(
        Stock(
            grid_down(usable(row, settings) if delivered else yields(problem.job, row), settings.units),
            grid_down(row.length, settings.units) if row.price is None else int(row.price * problem.scale),
        )
        for row in rows
    )


def _on_top(problem: Problem, rows: tuple[StockRow, ...], packing: Packing) -> tuple[Purchase, ...]:
    first = len(problem.stocks)
    counts = Counter(bar.stock - first for bar in packing.bars if bar.stock >= first)
    return tuple(
        Purchase(
            problem.tube,
            rows[i].length,
            counts[i],
            rows[i].price,
            None if rows[i].price is None else Decimal(counts[i]) * (rows[i].price or Decimal(0)),
            rows[i].shop,
        )
        for i in sorted(counts, key=lambda i: -rows[i].length)
    )


def _too_long(problem: Problem, longest: Fraction, best: Fraction) -> str:
    marks = [blank.mark for group in problem.blanks for blank in group if blank.length == longest]
    needed, given = (with_unit(mm, problem.job.settings.units) for mm in (longest, best))
    need = f"{marks[0]} needs" if len(marks) == 1 else f"{', '.join(marks)} each need"
    return (
        f"{need} one piece of {needed}; the longest bar you can get gives {given} "
        f"({_longer_somewhere(problem, longest) or 'check the length, or add a longer bar to Stock'})"
    )


def _longer_somewhere(problem: Problem, longest: Fraction) -> str:
    """Where a bar that is long enough is sold, but is too long to be carried home; nothing where there is none."""
    job = problem.job
    for row in job.stock:
        if row.tube == problem.tube and not job.is_whole(row) and usable(row, job.settings) >= longest:
            long = with_unit(row.length, job.settings.units)
            return f"{row.shop} has bars of {long}, too long to be carried: fill in its delivery charge, if it delivers"
    return ""


def _why(spares_only: bool) -> str:
    if spares_only:
        return "every member can be cut, but no room is left for the spare (--spares 0 plans without it)"
    return "the bars you have and can buy are not enough for every blank"
