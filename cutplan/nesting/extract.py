"""From columns to bars: whole pieces by their index, in cutting order, what is left of each bar."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.nesting.instance import Instance
from cutplan.nesting.master import Column
from cutplan.nesting.model import PackedBar, Piece, Stock
from cutplan.nesting.shared_cuts import line_up


def trim(instance: Instance, plan: Sequence[Column]) -> list[Column]:
    """The plan without what it holds beyond the demand: taken first from the bars that hold the least, so
    that what is left grows where it is already long. A bar left with nothing is not opened."""
    surplus = [-count for count in instance.demand]
    for _, counts in plan:
        for item, count in counts:
            surplus[item] += count
    order = sorted(range(len(plan)), key=lambda b: (-instance.capacities[plan[b][0]] + instance.load(plan[b][1]), b))
    kept: dict[int, Column] = {}
    for place in order:
        stock, counts = plan[place]
        rest = []
        for item, count in counts:
            less = max(0, min(count, surplus[item]))
            surplus[item] -= less
            if count > less:
                rest.append((item, count - less))
        if rest:
            kept[place] = (stock, tuple(rest))
    return [kept[place] for place in sorted(kept)]


def extract(
    instance: Instance, plan: Sequence[Column], pieces: Sequence[Piece], stocks: Sequence[Stock], kerf: int
) -> tuple[PackedBar, ...]:
    """The bars of a plan, those of one stock together, the fullest first."""
    plan = trim(instance, plan)
    plan = sorted(plan, key=lambda column: (column[0], -instance.load(column[1]), column[1]))
    shelves = [list(members) for members in instance.members]
    bars = []
    for stock, counts in plan:
        chosen = [shelves[item].pop(0) for item, count in counts for _ in range(count)]
        cut = [index for index in chosen if index >= 0]
        bars.append(lay(instance, stock, cut, len(chosen) - len(cut), pieces, stocks[stock].length, kerf))
    return tuple(bars)


def lay(
    instance: Instance, stock: int, cut: list[int], spares: int, pieces: Sequence[Piece], length: int, kerf: int
) -> PackedBar:
    """One bar with these pieces, put in cutting order."""
    used = sum(pieces[index].length + kerf for index in cut)
    flipped: tuple[bool, ...] = ()
    shared: tuple[bool, ...] = ()
    if instance.joints:
        ends = {index: _ends(instance, pieces[index], kerf) for index in set(cut)}
        order, turned, joined = line_up([ends[index] for index in cut], instance.joints)
        cut = [cut[place] for place in order]
        if any(joined):
            flipped, shared = tuple(turned), tuple(joined)
        leads = [ends[i][1] if turn else ends[i][0] for i, turn in zip(cut, turned, strict=True)]
        used -= sum(instance.joints[lead] for lead, yes in zip(leads, joined, strict=True) if yes)
    return PackedBar(stock, tuple(cut), spares, max(0, length - used), flipped, shared)


def _ends(instance: Instance, piece: Piece, kerf: int) -> tuple[int, int]:
    """A piece's ends as the instance sees them, in the piece's own order; square where it may not share."""
    low, high = sorted(end if instance.joints.get(end, 0) else 0 for end in piece.ends)
    if (piece.length + kerf, (low, high)) in zip(instance.weights, instance.kinds, strict=True):
        first, second = piece.ends
        return (first if instance.joints.get(first, 0) else 0, second if instance.joints.get(second, 0) else 0)
    return (0, 0)


def longest_left(bars: Sequence[PackedBar], stocks: Sequence[Stock]) -> int:
    """The longest single piece left: of an opened bar, or an owned bar not opened."""
    left = [bar.rest for bar in bars]
    for index, stock in enumerate(stocks):
        if stock.owned and (stock.count is None or stock.count > sum(bar.stock == index for bar in bars)):
            left.append(stock.length)
    return max(left, default=0)
