"""Many pieces, most of them unlike, on a fine grid: bars filled at once."""

import random

import pytest

from cutplan.nesting import Piece, Spare, Stock, pack
from cutplan.nesting.check import complaints
from cutplan.nesting.greedy import filled
from cutplan.nesting.instance import make


@pytest.mark.parametrize("stocks", [[Stock(60_000, 4900)], [Stock(60_000, 4900), Stock(25_000, 0, 3, owned=True)]])
def test_where_bars_can_be_filled_to_the_end_the_bound_by_length_is_met_at_once(stocks: list[Stock]) -> None:
    """Guards the plan that needs neither a table nor a linear program, its proof, and the second aims after it."""
    dice = random.Random(2)
    pieces = [Piece(length, 1) for length in dice.sample(range(2_000, 18_000), 400)]
    packing = pack(pieces, stocks, kerf=20, spare=Spare(17_000, 1))
    assert complaints(packing, pieces, stocks, kerf=20, spare=Spare(17_000, 1)) == []
    assert packing.proven
    assert packing.lp_bound is None
    need = sum(piece.length + 20 for piece in pieces) + 17_020
    owned = sum((stock.length + 20) * (stock.count or 0) for stock in stocks)
    assert packing.cost == 4900 * -(-(need - owned) // 60_020)


@pytest.mark.parametrize("longest_first", [False, True])
def test_filled_bars_hold_what_they_can(longest_first: bool) -> None:
    """Guards that no bar holds more than it can, nothing is cut twice or lost, and bars run out where they do."""
    dice = random.Random(5)
    pieces = [Piece(dice.randint(2_000, 18_000), dice.randint(1, 3)) for _ in range(60)]
    instance = make(pieces, [Stock(30_000, 9, 8), Stock(60_000, 20)], 20, None, None)
    plan, left, free = filled(instance, instance.demand, instance.limits, 20, longest_first)
    held = list(left)
    for stock, counts in plan:
        assert sum(instance.weights[item] * n for item, n in counts) <= instance.capacities[stock]
        for item, n in counts:
            held[item] += n
    assert tuple(held) == instance.demand
    assert [stock for stock, _ in plan[:8]] == [0] * 8
    assert free == [0, instance.limits[1] - len(plan) + 8]
    assert 0 < sum(left) < sum(instance.demand) / 4
