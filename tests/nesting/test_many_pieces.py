"""Many pieces, most of them unlike, on a fine grid: bars filled at once."""

import math
import random

import numpy as np
import pytest

from cutplan.nesting import Piece, Spare, Stock, classes, knapsack, pack, search
from cutplan.nesting.check import complaints
from cutplan.nesting.classes import by_class, by_halves, guided
from cutplan.nesting.clock import Clock
from cutplan.nesting.greedy import filled
from cutplan.nesting.instance import make
from cutplan.nesting.listing import near
from cutplan.nesting.search import Search


@pytest.mark.parametrize("stocks", [[Stock(60_000, 4900)], [Stock(60_000, 4900), Stock(25_000, 0, 3, owned=True)]])
def test_where_bars_can_be_filled_to_the_end_the_bound_by_length_is_met_at_once(stocks: list[Stock]) -> None:
    """Guards the plan that needs neither a table nor a linear program, its proof, and secondary objectives after it."""
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


def few(seed: int) -> tuple[list[Piece], list[Stock]]:
    """A small seeded job, two to six pieces a bar, on one to three kinds of bar, one of them limited."""
    dice = random.Random(seed)
    longest = dice.choice([100, 1_000])
    low, high = dice.choice([(0.15, 0.5), (0.2, 0.53), (0.3, 0.7), (0.42, 0.8)])
    pieces = [
        Piece(dice.randint(int(low * longest), int(high * longest)), dice.randint(1, 2))
        for _ in range(dice.randint(8, 14))
    ]
    stocks = [Stock(longest, 49), Stock(longest * 4 // 5, 41), Stock(longest * 17 // 20, 30, 2)]
    return pieces, stocks[: dice.randint(1, 3)]


def test_bounds_by_class_and_by_halves_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards both against plans that are proven without them: no bound is above the least cost, and it comes to it
    often enough to be of use; no pattern is worth more than the duals say. Where no three pieces go on a bar the
    classes are split to the last, and the bound is the linear program's."""
    monkeypatch.setattr(classes, "_CLASSES", 4)
    monkeypatch.setattr(classes, "_MOST_CLASSES", 8)
    met = pairs = 0
    for seed in range(40):
        pieces, stocks = few(seed)
        instance = make(pieces, stocks, 1, None, None)
        limits = [None if n >= sum(instance.demand) else n for n in instance.limits]
        plain = pack(pieces, stocks, kerf=1, second_aims=False)
        least = plain.cost
        assert least is not None
        best = 0
        for duals in (*by_class(instance, Clock(None)), *by_halves(instance, Clock(None))):
            table = instance.table(duals.values, instance.demand, Clock(None))
            for capacity, top in zip(instance.capacities, duals.tops, strict=True):
                assert table.best(capacity) <= top
            best = max(best, math.ceil(duals.bound(instance.demand, instance.prices, limits)))
        assert best <= least
        if 3 * instance.weights[-1] > max(instance.capacities):
            pairs += 1
            assert best >= (plain.lp_bound or 0)
        met += best == least
    assert met >= 10
    assert pairs >= 5


def test_plans_by_class_are_whole_and_proofs_stay_true(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the way that large jobs take, on small ones: the least cost is the one found without it."""
    for seed in range(12):
        pieces, stocks = few(seed)
        plain = pack(pieces, stocks, kerf=1, second_aims=False)
        with monkeypatch.context() as patch:
            patch.setattr(search, "_LARGE", 0)
            patch.setattr(search, "_LAST", 1)
            patch.setattr(classes, "_CLASSES", 4)
            large = pack(pieces, stocks, kerf=1, second_aims=False)
        assert complaints(large, pieces, stocks, kerf=1) == []
        assert (large.cost, large.status) == (plain.cost, plain.status)


def test_where_a_class_is_used_up_the_piece_next_to_its_mean_is_taken() -> None:
    """Of the first class none is left: in its place comes what is next to its mean, not the longest nor the shortest,
    so that the rest of the bar is as it was meant; then what fits best."""
    left = [(weight, item) for item, weight in enumerate((10, 20, 30, 40, 50, 60))]
    chosen = classes._filled([(31, []), (60, [])], 92, left)
    assert [weight for weight, _ in chosen] == [30, 60]
    assert [weight for weight, _ in left] == [10, 20, 40, 50]


def test_where_bars_in_hand_are_not_enough_large_jobs_have_no_plan_at_once() -> None:
    """Guards the bounds by class where nothing has a price, and the filling where bars run out."""
    pieces = [Piece(length, 1) for length in random.Random(2).sample(range(4_000, 18_000), 165)]
    instance = make(pieces, [Stock(60_000, 0, 10, owned=True)], 20, None, None)
    short = Search(instance, Clock(None))
    assert not short._at_once()
    assert short.plan is None


def test_two_or_three_pieces_to_a_bar_come_near_the_bound() -> None:
    """Guards the filling by class, where filling with whatever is left ends with long pieces that go together with
    none: bars hold what they can, nothing is cut twice or lost, and the plan is within 0.4 % of the bound."""
    dice = random.Random(3)
    pieces = [Piece(length, 1) for length in dice.sample(range(12_000, 32_000), 900)]
    instance = make(pieces, [Stock(60_000, 1)], 20, None, None)
    plan, left, free = guided(instance, instance.demand, instance.limits, 120, Clock(None))
    held = list(left)
    for stock, counts in plan:
        assert sum(instance.weights[item] * n for item, n in counts) <= instance.capacities[stock]
        for item, n in counts:
            held[item] += n
    assert tuple(held) == instance.demand
    assert free == [instance.limits[0] - len(plan)]
    assert sum(left) <= 120
    whole = Search(instance, Clock(None))
    whole._at_once()
    assert whole.cost is not None
    assert whole.bound <= whole.cost <= 1.004 * whole.bound


def test_a_thinned_out_grid_gives_the_values_and_patterns_of_the_whole_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the lengths that are left out of a table, and its bits: on random pieces and bars every value, every
    pattern offered and every pattern near the best is the one found with all lengths from 0 up, a byte for each."""
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
        other = every.table(values, demand, Clock(None), keep=True)
        with monkeypatch.context() as patch:
            patch.setattr(knapsack, "_UNPACKED", dice.choice([0, 16_000_000]))
            one = instance.table(values, demand, Clock(None), keep=True)
        for capacity in instance.capacities:
            assert one.best(capacity) == other.best(capacity)
            assert one.patterns(capacity, 5) == other.patterns(capacity, 5)
            least = one.best(capacity) - 20
            assert near([one], capacity, [least], 10_000) == near([other], capacity, [least], 10_000)
    assert thinned > 50
