"""Guards the least total of bars from sellers who charge for an order: against every purchase tried, and a model."""

from __future__ import annotations

import random

import pytest

from cutplan.nesting import Piece, Spare, Status, Stock
from cutplan.nesting.orders import Seller, Wanted, buy_together
from tests.nesting.orders_judge import holds, least_by_model, least_by_trying, lengths


def seeded(seed: int) -> tuple[list[Wanted], list[Seller]]:
    """One to three problems and one to three sellers; prices and thresholds close enough to matter."""
    draw = random.Random(seed)
    sellers = [
        Seller(
            draw.choice((0, 9, 15, 40)),
            draw.choice((None, None, 60, 100, 150)),
            draw.choice((0, 0, 50, 90)),
        )
        for _ in range(draw.randint(1, 3))
    ]
    wanted = []
    for _ in range(draw.randint(1, 5 - len(sellers)) if len(sellers) > 2 else draw.randint(1, 3)):
        stocks, sold = [], []
        for seller in range(len(sellers)):
            for long in draw.sample((60, 42, 30), draw.randint(1, 2 if len(sellers) < 3 else 1)):
                stocks.append(Stock(long, draw.randint(long // 2, long // 2 + 12), draw.randint(1, 3)))
                sold.append(seller)
        if draw.random() < 0.4:
            stocks.append(Stock(draw.randint(10, 40), 0, 1, owned=True))
            sold.append(None)
        if draw.random() < 0.3:
            stocks.append(Stock(60, 45, 2))
            sold.append(None)
        pieces = [Piece(draw.randint(8, 29), draw.randint(1, 2)) for _ in range(draw.randint(1, 3))]
        spare = Spare(max(piece.length for piece in pieces), 1) if draw.random() < 0.4 else None
        wanted.append(Wanted(pieces, stocks, sold, draw.choice((0, 1)), spare))
    return wanted, sellers


@pytest.mark.parametrize("seed", range(30))
def test_no_purchase_costs_less(seed):
    """The total is the least of all purchases, it is proven, and the bars bought do hold everything."""
    wanted, sellers = seeded(seed)
    found = buy_together(wanted, sellers)
    least = least_by_trying(wanted, sellers)
    assert found.cost == least
    assert found.status is (Status.IMPOSSIBLE if least is None else Status.PROVEN)
    for one, mix in zip(wanted, found.bars or (), strict=False):
        rooms = tuple(s.length + one.kerf for s, n in zip(one.stocks, mix, strict=True) for _ in range(n))
        assert holds(rooms, lengths(one), one.kerf)


def test_both_judges_agree():
    """The judges, which share nothing, say the same."""
    for seed in range(60, 72):
        wanted, sellers = seeded(seed)
        least = least_by_trying(wanted, sellers)
        assert least_by_model(wanted, sellers, 20)[0] == least


@pytest.mark.parametrize(
    ("free_from", "cost", "bars"),
    [(120, 120, (2,)), (121, 135, (2,)), (180, 140, (2,)), (None, 140, (2,)), (150, 140, (2,))],
)
def test_free_delivery_begins_at_its_sum(free_from, cost, bars):
    """Two bars at 60 are needed: from 120 on delivered free; just above, a bar more at 15 is cheaper than 20 for
    delivery, and where more than one would be needed it is not."""
    wanted = [
        Wanted([Piece(50, 2)], [Stock(60, 60, 5)], [0]),
        Wanted([Piece(1, 1)], [Stock(5, 0, 1, owned=True), Stock(5, 15, 9)], [None, 0]),
    ]
    found = buy_together(wanted, [Seller(20, free_from)])
    assert (found.cost, found.bars[0], found.status) == (cost, bars, Status.PROVEN)


@pytest.mark.parametrize(("minimum", "cost"), [(0, 60), (60, 60), (61, 61), (100, 100)])
def test_a_small_order_is_charged_the_minimum(minimum, cost):
    """An order of less than the minimum costs the minimum, and one of that much or more what it comes to; nothing is
    bought just because it is charged anyway."""
    wanted = [Wanted([Piece(50, 1)], [Stock(60, 60, 5)], [0])]
    found = buy_together(wanted, [Seller(0, None, minimum)])
    assert (found.cost, found.bars) == (cost, ((1,),))


def test_nothing_ordered_is_charged_nothing():
    """What is in hand serves: no delivery, no minimum."""
    wanted = [Wanted([Piece(50, 1)], [Stock(60, 0, 1, owned=True), Stock(60, 9, 5)], [None, 0])]
    found = buy_together(wanted, [Seller(20, None, 100)])
    assert (found.cost, found.bars) == (0, ((1, 0),))


def test_without_time_what_is_found_is_not_called_proven():
    """With no time for a proof, the bound is below the cost or the two meet; both are sound."""
    wanted, sellers = seeded(9)
    found = buy_together(wanted, sellers, time_limit=1e-4)
    least = least_by_trying(wanted, sellers)
    assert least is not None
    assert found.bound <= least
    assert found.cost is None or found.cost >= least
    assert found.status is not Status.PROVEN or found.cost == least


def test_great_amounts_are_proven_too():
    """Prices with many digits, many bars and a threshold far off leave the proof what it is."""
    wanted = [
        Wanted([Piece(2_800, 6), Piece(1_900, 8)], [Stock(6_000, 58_200_000), Stock(3_000, 33_400_000)], [0, 1], 2)
    ]
    found = buy_together(wanted, [Seller(18_000_000, 900_000_000), Seller(9_000_000, None, 70_000_000)])
    assert found.status is Status.PROVEN
    assert found.cost == found.bound == 6 * 58_200_000 + 18_000_000
