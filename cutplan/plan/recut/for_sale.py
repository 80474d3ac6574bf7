"""What can still be bought once bars of a plan were bought, and what is on the rack."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from cutplan.job.model import Source, StockRow
from cutplan.plan.model import Plan
from cutplan.plan.parts import bought_lengths


def still_for_sale(plan: Plan) -> tuple[StockRow, ...]:
    """The bars that can still be bought: those of the plan are bought already."""
    bought = bought_lengths(plan.bars)
    rows = []
    for row in plan.job.stock:
        if row.source is not Source.BUY:
            continue
        if row.available is not None:
            taken = min(row.available, bought[row.tube, row.length, row.price, row.shop])
            bought[row.tube, row.length, row.price, row.shop] -= taken
            row = replace(row, available=row.available - taken)
        if row.available != 0:
            rows.append(row)
    return tuple(rows)


def for_sale_now(plan: Plan, stock: Sequence[StockRow]) -> tuple[StockRow, ...]:
    """The bars that can be bought by the job's own ``stock`` as it is now.

    A row that says how many there are counts as it was written: before the bars of ``plan`` were bought if that number
    is still the one it was planned with, else as it is now.
    """
    before = () if plan.source is None else plan.source.stock
    left = Counter[tuple[object, ...]]()
    for row in still_for_sale(plan):
        left[row.tube, row.length] += row.available or 0
    bought = Counter[tuple[str, Fraction]]()
    for (name, length, _, _), times in bought_lengths(plan.bars).items():
        bought[name, length] += times
    rows = []
    for row in (row for row in stock if row.source is Source.BUY):
        count = row.available
        if count is not None and plan.source is None:
            count = max(count - bought[row.tube, row.length], 0)
        elif count is not None and any(_like(row, old) for old in before):
            count = min(count, left[row.tube, row.length])
            left[row.tube, row.length] -= count
        if count != 0:
            rows.append(replace(row, available=count))
    return tuple(rows)


def _like(row: StockRow, old: StockRow) -> bool:
    """Whether they are the same bars, at any price."""
    return replace(row, price=None, label="") == replace(old, price=None, label="")


def on_the_rack(stock: Sequence[StockRow]) -> Counter[StockRow]:
    """The single pieces of ``stock`` that are on the rack."""
    pieces: Counter[StockRow] = Counter()
    for row in stock:
        if row.source is Source.RACK:
            pieces[replace(row, available=1, price=None)] += row.available or 0
    return pieces
