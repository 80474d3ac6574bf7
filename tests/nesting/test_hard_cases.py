"""Tight jobs on which the linear bound is met by no plan, and their twins on which it is."""

import random

import pytest
from hard_cases import PETERSEN, PRISM, core, fills, grown, halved

from cutplan.nesting import Piece, Stock, master, pack
from cutplan.nesting.check import complaints
from cutplan.nesting.clock import Clock
from cutplan.nesting.enumeration import Effort, settle
from cutplan.nesting.instance import make
from cutplan.nesting.listing import near, sample
from cutplan.nesting.many_duals import ManyDuals
from cutplan.nesting.master import Master, by_length
from cutplan.nesting.search import Search


def test_small_ones_are_proven_and_the_construction_is_true() -> None:
    """Guards both the proof and the judge: with a triplet or two more, every way of filling bars is tried; three bars
    for the core and one a triplet do just where the core's graph can be coloured in three colours, or one of its pieces
    is cut in two in the right place."""
    for seed in range(4):
        for edges, in_two in ((PETERSEN, False), (PETERSEN, True), (PRISM, False)):
            dice = random.Random(seed)
            pieces = core(dice, 2500, edges)
            if in_two:
                pieces = halved(dice, pieces, 2500)
            pieces = grown(dice, pieces, 2500, seed % 3)
            bars = sum(pieces) // 2500
            none = edges is PETERSEN and not in_two
            assert (bars, len(pieces)) == (3 + seed % 3, 15 + in_two + 3 * (seed % 3))
            assert fills(pieces, 2500) != none
            packing = pack([Piece(length, 1) for length in pieces], [Stock(2500, 1)], second_aims=False)
            assert packing.proven
            assert packing.cost == bars + none


@pytest.mark.parametrize("edges", [PETERSEN, PRISM], ids=["no plan on the bound", "a plan on the bound"])
def test_more_patterns_than_can_be_listed_do_not_end_the_search(edges: list[tuple[int, int]]) -> None:
    """Guards the proof where one dual leaves far too many patterns: several leave few. 93 pieces in 29 bars."""
    dice = random.Random(1)
    lengths = grown(dice, core(dice, 2500, edges), 2500, 26)
    pieces = [Piece(length, 1) for length in lengths]
    instance = make(pieces, [Stock(2500, 1)], 0, None, None)
    duals = next(by_length(instance))
    one = ManyDuals(instance, (29,), duals, Clock(None))
    assert one.tight(2_000) is None
    answer = settle(instance, (29,), duals, [], Clock(None), Effort(patterns=2_000))
    if edges is PETERSEN:
        assert answer is False
    else:
        assert isinstance(answer, list)
        assert len(answer) == 29
        packing = pack(pieces, [Stock(2500, 1)], second_aims=False)
        assert (packing.cost, packing.bound) == (29, 29)
        assert complaints(packing, pieces, [Stock(2500, 1)]) == []


@pytest.mark.parametrize("limit", [None, 1_000.0], ids=["as much work again", "as long as there is time"])
def test_what_stays_open_is_taken_up_again(limit: float | None) -> None:
    """Guards the dives with an exact end: where plain dives and lists of patterns are not to be had, they find the plan
    that the construction says there is. Where it says there is none, they end, and nothing is called proven."""
    found = 0
    for seed in range(4):
        for edges in (PETERSEN, PRISM) if limit is None else (PRISM,):
            dice = random.Random(seed)
            lengths = grown(dice, core(dice, 2500, edges), 2500, 12)
            pieces = [Piece(length, 1) for length in lengths]
            search = Search(
                make(pieces, [Stock(2500, 1)], 0, None, None), Clock(limit), effort=Effort(dives=0, patterns=0, duals=0)
            )
            search.run()
            assert search.bound == 15
            assert search.proven == (search.cost == 15)
            if edges is PRISM:
                assert search.plan is not None
                found += search.cost == 15
            else:
                assert search.cost == 16
    assert found >= (2 if limit is None else 4)


def test_duals_drawn_towards_the_best_end_at_the_same_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the smoothing that long runs of column generation get: begun in the first round, it still ends only where
    no column helps, at the bound that is had without it, and never above it."""
    for seed in range(2):
        dice = random.Random(seed)
        lengths = grown(dice, core(dice, 2500, PETERSEN), 2500, 8)
        instance = make([Piece(length, 1) for length in lengths], [Stock(2500, 7), Stock(1900, 6)], 3, None, None)
        ends = []
        for start in (0, 10_000):
            monkeypatch.setattr(master, "_SMOOTH_FROM", start)
            program = Master(
                instance, instance.demand, [None, 4], instance.prices, [30.0 * w for w in instance.weights]
            )
            ends.append(program.generate(2_000, Clock(None)))
        assert all(end.settled for end in ends)
        assert float(ends[0].bound) == pytest.approx(float(ends[1].bound), rel=1e-7)
        assert ends[0].value == pytest.approx(ends[1].value, rel=1e-7)
        assert max(float(end.bound) for end in ends) <= ends[1].value * (1 + 1e-9)


def test_what_several_duals_leave_is_what_each_of_them_leaves() -> None:
    """Guards the list by several tables at once against the lists by each, and the sample's count against theirs."""
    dice = random.Random(4)
    for _ in range(10):
        pieces = [Piece(dice.randint(20, 90), dice.randint(1, 3), (dice.randint(0, 1), 0)) for _ in range(8)]
        instance = make(pieces, [Stock(200, 1)], 1, None, {1: 3})
        values = [[max(1, w + dice.randint(-9, 9)) for w in instance.weights] for _ in range(3)]
        tables = [instance.table(each, instance.demand, Clock(None), keep=True) for each in values]
        leasts = [table.best(instance.capacities[0]) - 15 for table in tables]
        lists = [near([t], 201, [least], 100_000, full=False) for t, least in zip(tables, leasts, strict=True)]
        together = near(tables, 201, leasts, 100_000, full=False)
        assert together is not None
        assert set(together) == set.intersection(*(set(each or ()) for each in lists))
        often, count = sample(tables, 201, leasts, 100_000)
        if len(instance.machine.lost) == 1:
            assert count == len(together)
            assert sum(often) * count == pytest.approx(sum(n for pattern in together for _, n in pattern))
