"""Time that runs out, or is ended from outside, at any moment: what is in hand is a plan, and the bound holds."""

from __future__ import annotations

import itertools
import random
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from types import SimpleNamespace

import pytest

from cutplan.nesting import Piece, Spare, Status, Stock, pack, pack_most
from cutplan.nesting.check import complaints
from cutplan.nesting.clock import Clock
from cutplan.nesting.greedy import at_once
from cutplan.nesting.instance import make
from cutplan.nesting.model import Progress
from cutplan.nesting.search import Search

Job = tuple[list[Piece], list[Stock], Spare | None, Mapping[int, int] | None]


def job(seed: int) -> Job:
    """A seeded job of 12 to 40 pieces on up to three kinds of bar, some limited or owned, some with mitres."""
    dice = random.Random(seed)
    mitred = seed % 3 == 0
    pieces = [
        Piece(dice.randint(40, 480), dice.randint(1, 4), (dice.randint(0, 2), dice.randint(0, 2)) if mitred else (0, 0))
        for _ in range(dice.randint(4, 12))
    ]
    stocks = [
        Stock(1_000, 100),
        Stock(dice.randint(500, 900), dice.randint(45, 95), dice.choice((None, 3))),
        Stock(dice.randint(500, 1_200), 0, dice.randint(1, 2), True),
    ]
    return pieces, stocks, Spare(480, 1) if seed % 2 else None, {1: 9, 2: 15} if mitred else None


def after(polls: int) -> Callable[[], bool]:
    """Says stop from the poll of this number on."""
    counted = itertools.count()
    return lambda: next(counted) >= polls


@pytest.mark.parametrize("seed", [0, 1, 2, 5, 8, 11])
def test_broken_off_at_any_moment_there_is_a_plan_and_the_bound_holds(seed: int) -> None:
    """Guards every place where the clock is looked at: from the first look on, ever later."""
    pieces, stocks, spare, joints = job(seed)
    best = pack(pieces, stocks, kerf=2, spare=spare, joints=joints)
    assert best.status is Status.PROVEN
    assert best.cost is not None
    for polls in (0, 1, 3, *(10 * 2**power for power in range(9))):
        packing = pack(pieces, stocks, kerf=2, spare=spare, joints=joints, stop=after(polls))
        assert packing.cost is not None
        assert packing.bound <= best.cost <= packing.cost
        assert packing.status is (Status.PROVEN if packing.bound == packing.cost else Status.FOUND)
        assert complaints(packing, pieces, stocks, kerf=2, spare=spare, joints=joints) == []


def test_a_stop_that_never_comes_changes_nothing() -> None:
    """Guards that a run which could be broken off gives the plan of one that could not."""
    for seed in range(3):
        pieces, stocks, spare, joints = job(seed)
        plain = pack(pieces, stocks, kerf=2, spare=spare, joints=joints)
        watched = pack(pieces, stocks, kerf=2, spare=spare, joints=joints, stop=lambda: False)
        assert (watched.bars, watched.cost, watched.bound) == (plain.bars, plain.cost, plain.bound)


def large() -> Job:
    """400 blanks, no two alike, on four kinds of bar: the bound is not met within seconds."""
    dice = random.Random(7)
    stocks = [Stock(60_000, 4900), Stock(40_000, 3500), Stock(30_000, 2800), Stock(20_000, 2000, 30)]
    return [Piece(dice.randint(2_500, 24_000), 1) for _ in range(400)], stocks, Spare(24_000, 2), None


def test_a_large_job_under_a_time_limit_is_found_with_a_bound() -> None:
    """Guards that a limit far too short for a proof still ends in a checked plan near its bound."""
    pieces, stocks, spare, _ = large()
    packing = pack(pieces, stocks, kerf=20, spare=spare, time_limit=0.3)
    assert packing.status is Status.FOUND
    assert packing.cost is not None
    assert 0 < packing.bound < packing.cost < 1.1 * packing.bound
    assert complaints(packing, pieces, stocks, kerf=20, spare=spare) == []


def test_a_plan_can_be_had_without_any_time() -> None:
    """Guards the plan that needs no search: everything is cut, and the bound, by length alone, holds."""
    pieces, stocks, spare, _ = large()
    packing = pack(pieces, stocks, kerf=20, spare=spare, time_limit=1e-9)
    assert packing.status is Status.FOUND
    assert packing.cost is not None
    assert 0 < packing.bound < packing.cost < 1.2 * packing.bound


def test_bars_that_run_out_are_distinguished_from_those_that_are_too_few() -> None:
    """Guards that want of time is never called a shortage of tube: 2 x 60 and 2 x 40 fit two bars of 100 exactly."""
    pieces, stocks = [Piece(60, 2), Piece(40, 2)], [Stock(100, 1, 2)]
    assert pack(pieces, stocks, stop=after(0)).status is not Status.IMPOSSIBLE
    short = pack([Piece(60, 3), Piece(40, 1)], stocks, stop=after(0))
    assert short.status is Status.UNKNOWN
    assert short.cost is None
    assert pack([Piece(101, 1)], stocks, stop=after(0)).status is Status.IMPOSSIBLE


def test_without_search_each_bar_is_the_cheapest_that_holds_its_pieces() -> None:
    """Guards the exchange at the end: 90 goes on the bar of 100, 30 on the cheap one of 40, and over is reported."""
    instance = make([Piece(90, 1), Piece(30, 2)], [Stock(100, 50), Stock(40, 30, 1)], 0, None, None)
    plan, over = at_once(instance, instance.demand, instance.limits)
    assert sorted(plan) == [(0, ((0, 1),)), (0, ((1, 2),))]
    assert over == [0, 0]
    instance = make([Piece(90, 2), Piece(30, 1)], [Stock(100, 50, 1), Stock(40, 30, 1)], 0, None, None)
    plan, over = at_once(instance, instance.demand, instance.limits)
    assert sorted(plan) == [(0, ((0, 1),)), (1, ((1, 1),))]
    assert over == [1, 0]


def test_what_most_can_be_served_is_a_plan_too_when_time_is_short() -> None:
    """Guards the words for a shortage: what is said to fit does fit, and nothing is called proven for want of time."""
    pieces, stocks = [Piece(length, 2) for length in range(300, 700, 7)], [Stock(1_000, 10, 20)]
    packing, left = pack_most(pieces, stocks, kerf=2, time_limit=1e-9)
    assert packing.status is Status.FOUND
    assert complaints(packing, pieces, stocks, kerf=2, left_out=left) == []
    assert 0 < sum(left) < sum(piece.count for piece in pieces)


def test_a_solver_at_work_is_interrupted() -> None:
    """Guards the long waits, in a solver's own code: one that runs until it is reported hears of the stop."""
    shown = threading.Event()
    solver = SimpleNamespace(Solve=lambda: 6 if shown.wait(60) else 0, InterruptSolve=shown.set)
    assert Clock(None, stop=after(3)).solve(solver) == 6


def test_a_solver_gets_the_time_that_is_left() -> None:
    """Guards that a solver is never given more than the limit, and never 0, which would mean none."""
    given: list[int] = []
    solver = SimpleNamespace(SetTimeLimit=given.append, Solve=lambda: 0)
    assert Clock(5.0).solve(solver) == 0
    assert Clock(0.0).solve(solver) == 0
    assert 4_000 < given[0] <= 5_000
    assert given[1] == 1


def ticking() -> Iterator[float]:
    """Whole seconds, one a call."""
    return itertools.count(0.0)


def test_the_clock_counts_from_its_making(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the limit itself: up once as many seconds are gone."""
    seconds = ticking()
    monkeypatch.setattr(time, "perf_counter", lambda: next(seconds))
    clock = Clock(2.5)
    assert [clock.up for _ in range(3)] == [False, False, True]


def test_what_is_proven_stays_reported_while_the_second_aims_are_settled():
    """The searches for a longer rest know of no plan at first; whoever listens hears of the one there is to the end."""
    dice = random.Random(3)
    pieces = [Piece(dice.randint(80, 420), 1) for _ in range(40)]
    heard: list[Progress] = []
    packing = pack(pieces, [Stock(1_000, 100)], kerf=3, progress=heard.append)
    alone: list[Progress] = []
    pack(pieces, [Stock(1_000, 100)], kerf=3, progress=alone.append, second_aims=False)
    after_the_proof = heard[len(alone) :]
    assert after_the_proof
    assert packing.status is Status.PROVEN
    assert {(at.cost, at.bound) for at in after_the_proof} == {(packing.cost, packing.cost)}


def test_steps_end_a_search_and_are_the_same_every_time() -> None:
    """Guards the measure of work by which the secondary objectives are given up: a search goes on for that many steps
    and one table or program more, and does as many the next time."""
    pieces, stocks, spare, _ = large()
    instance = make(pieces[:60], stocks, 20, spare, None)
    done = []
    for allowed in (0, 20_000_000, 20_000_000):
        clock = Clock(None).settled(1, 1, allowed)
        search = Search(instance, clock, below=1_000_000)
        search.run()
        assert clock.up
        assert not search.proven
        done.append(clock.steps)
    assert done[1] == done[2]
    assert done[0] < 20_000_000 <= done[1] < 60_000_000
