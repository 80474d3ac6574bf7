"""A judge of packings that shares no code with the search: plain counting, bar by bar.

It trusts nothing but the definitions in `model` and returns complaints, so that a caller can refuse a plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cutplan.nesting.model import PackedBar, Packing, Piece, Spare, Status, Stock


def complaints(
    packing: Packing,
    pieces: Sequence[Piece],
    stocks: Sequence[Stock],
    *,
    kerf: int = 0,
    spare: Spare | None = None,
    joints: Mapping[int, int] | None = None,
    left_out: Sequence[int] | None = None,
) -> list[str]:
    """What is wrong with a packing, in words; an empty list where nothing is. ``left_out``: how many of
    each piece need not be there."""
    if packing.cost is None:
        return ["there are bars but no cost"] if packing.bars else []
    found: list[str] = []
    cut = [0] * len(pieces)
    opened = [0] * len(stocks)
    kept = cost = longest = 0
    for number, bar in enumerate(packing.bars, 1):
        if not 0 <= bar.stock < len(stocks):
            found.append(f"bar {number} is of stock {bar.stock}, which does not exist")
            continue
        opened[bar.stock] += 1
        cost += stocks[bar.stock].price
        kept += bar.spares
        for index in bar.pieces:
            cut[index] += 1
        if not bar.pieces and not bar.spares:
            found.append(f"bar {number} is opened but holds nothing")
        saved, faults = _saved(bar, pieces, joints or {})
        found += [f"bar {number}: {fault}" for fault in faults]
        used = sum(pieces[index].length + kerf for index in bar.pieces) - saved
        length = stocks[bar.stock].length
        if used + bar.spares * ((spare.length if spare else 0) + kerf) > length + kerf:
            found.append(f"bar {number} holds more than its length {length}")
        if bar.rest != max(0, length - used):
            found.append(f"bar {number} has {max(0, length - used)} left, not {bar.rest}")
        longest = max(longest, length - used)
    for index, (piece, count) in enumerate(zip(pieces, cut, strict=True)):
        wanted = piece.count - (left_out[index] if left_out else 0)
        if count != wanted:
            found.append(f"piece {index} is cut {count} times, wanted {wanted} times")
    for index, (stock, count) in enumerate(zip(stocks, opened, strict=True)):
        if stock.count is not None and count > stock.count:
            found.append(f"{count} bars of stock {index} are opened; there are {stock.count}")
        if stock.owned and (stock.count is None or count < stock.count):
            longest = max(longest, stock.length)
    wanted = spare.count if spare and spare.length > 0 else 0
    if kept != wanted:
        found.append(f"{kept} spares are kept, wanted {wanted}")
    if cost != packing.cost:
        found.append(f"the bars cost {cost}, not {packing.cost}")
    if packing.longest != longest:
        found.append(f"the longest piece left is {longest}, not {packing.longest}")
    if packing.bound > cost or (packing.status is Status.PROVEN and packing.bound != cost):
        found.append(f"a bound of {packing.bound} does not go with a cost of {cost}, {packing.status.value}")
    return found


def _saved(bar: PackedBar, pieces: Sequence[Piece], joints: Mapping[int, int]) -> tuple[int, list[str]]:
    """The length that shared cuts save on a bar, and what is wrong with them."""
    if not any(bar.shared):
        return 0, []
    if not len(bar.pieces) == len(bar.flipped) == len(bar.shared):
        return 0, ["it does not say which way round each piece is"]
    saved = 0
    faults = []
    before = 0
    for place, (index, flipped, shared) in enumerate(zip(bar.pieces, bar.flipped, bar.shared, strict=True)):
        lead, trail = pieces[index].ends[::-1] if flipped else pieces[index].ends
        if shared:
            if not place or lead != before or joints.get(lead, 0) <= 0:
                faults.append(f"piece {place + 1} cannot share the cut before it")
            else:
                saved += joints[lead]
        before = trail
    return saved, faults
