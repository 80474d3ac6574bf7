"""Guards bars that a seller cuts into parts: the best patterns on them, and their bounds where mitres are shared."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product

import pytest

from cutplan.nesting import Piece, Status, Stock
from cutplan.nesting.clock import Clock
from cutplan.nesting.cut_bars import Groups, Parts
from cutplan.nesting.instance import make
from cutplan.nesting.orders import Seller, Wanted, buy_together


@pytest.mark.parametrize("seed", range(8))
def test_the_best_pattern_is_found(seed):
    """By trying every piece in every part, or in none: the value is the greatest, or above it, where a kind would have
    to be cut more often than is wanted."""
    draw = random.Random(seed)
    pieces = [Piece(length, 1) for length in draw.sample(range(10, 41), 5)]
    instance = make(pieces, [Stock(200, 1)], 2, None, None)
    values = [draw.randint(1, 20) for _ in instance.weights]
    parts = Parts(
        draw.randint(2, 4), draw.randint(35, 45), draw.randint(45, 60), draw.randint(60, 110), draw.choice((-2, 5))
    )
    rooms, best = parts.rooms, 0
    for places in product(range(parts.count + 1), repeat=len(pieces)):
        loads = [
            sum(w for w, at in zip(instance.weights, places, strict=True) if at == part) for part in range(parts.count)
        ]
        used = sum(map(bool, loads))
        if (
            all(load <= room for load, room in zip(loads, rooms, strict=True))
            and sum(loads) + parts.each * used <= parts.whole
        ):
            best = max(best, sum(v for v, at in zip(values, places, strict=True) if at < parts.count))
    found, counts = Groups(instance, instance.demand, values, parts.middle, Clock(None)).best(parts)
    assert found >= best
    kept = sum(values[item] * count for item, count in counts)
    assert kept <= found
    if kept == found:
        assert found == best


@pytest.mark.parametrize("seed", range(6))
def test_shared_mitres_prove_nothing_wrong(seed):
    """With more classes of mitre than can be shared at once: nothing costs more than without, and no bound is above
    what is possible."""
    draw = random.Random(seed)
    pieces = [
        Piece(draw.randint(400, 1400), 1, (draw.randint(1, 6), draw.randint(1, 6))) for _ in range(draw.randint(5, 7))
    ]
    parts = Parts(2, 3000, 3000, 5990, -2)
    stocks = [Stock(parts.as_one - 2, 40, 6), Stock(3000, 23, 6)]
    plain = Wanted(pieces, stocks, [0, 0], 2, parts=(parts, None), fees=(1, 0), sources=(0, 1))
    least = buy_together([plain], [Seller()])
    assert least.status is Status.PROVEN
    shared = buy_together([replace(plain, joints=dict.fromkeys(range(1, 7), 60))], [Seller()])
    assert shared.cost is not None
    assert shared.bound <= shared.cost <= (least.cost or 0)
