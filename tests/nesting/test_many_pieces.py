"""Many pieces, most of them unlike, on a fine grid: bars filled at once."""

import random

import numpy as np
import pytest

from cutplan.nesting import Piece, Spare, Stock, pack
from cutplan.nesting.check import complaints
from cutplan.nesting.clock import Clock
from cutplan.nesting.greedy import filled
from cutplan.nesting.instance import make
from cutplan.nesting.listing import near


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


def test_a_thinned_out_grid_gives_the_values_and_patterns_of_the_whole_one() -> None:
    """Guards the lengths that are left out of a table: on random pieces and bars every value, every pattern offered and
    every pattern near the best is the one found with all lengths from 0 up."""
    dice = random.Random(8)
    thinned = 0
    for _ in range(150):
        longest = dice.choice([60, 300, 3_000])
        pieces = [
            Piece(dice.randint(longest // 8, longest // 2), dice.randint(1, 3)) for _ in range(dice.randint(1, 7))
        ]
        stocks = [Stock(dice.randint(longest // 2, longest), 1) for _ in range(dice.randint(1, 2))]
        instance = make(pieces, stocks, dice.randint(0, 2), None, None)
        every = make(pieces, stocks, instance.capacities[0] - stocks[0].length, None, None)
        every.grid.dense, every.grid.lengths = True, np.arange(max(every.capacities) + 1)
        thinned += not instance.grid.dense
        values = [max(0, weight + dice.randint(-9, 9)) for weight in instance.weights]
        demand = [dice.randint(0, count) for count in instance.demand]
        one, other = (each.table(values, demand, Clock(None), keep=True) for each in (instance, every))
        for capacity in instance.capacities:
            assert one.best(capacity) == other.best(capacity)
            assert one.patterns(capacity, 5) == other.patterns(capacity, 5)
            least = one.best(capacity) - 20
            assert near([one], capacity, [least], 10_000) == near([other], capacity, [least], 10_000)
    assert thinned > 50
