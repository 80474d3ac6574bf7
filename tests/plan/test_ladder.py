"""The ladder of one tube's costs: right, and climbed with few solves."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from small_jobs import bars, blank, job

from cutplan.geometry.model import Blank
from cutplan.job.model import Settings, StockRow
from cutplan.nesting import Packing, Status
from cutplan.plan.ladder import Clock, Ladder, Rung
from cutplan.plan.problem import Limits, Problem, problem_of

F = Fraction
Solve = Callable[..., Packing]


def ladder_of(stock: list[StockRow], wanted: list[Blank], most: int) -> Ladder:
    """The ladder of one tube, not climbed yet."""
    return Ladder(problem_of(job(stock, wanted, Settings(kerf=F(0), spares=0)), "T", tuple(wanted)), most)


def climbed(ladder: Ladder, monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, Fraction]]:
    """Climb it, and give the (spares, length) of every solve it took."""
    solves: list[tuple[int, Fraction]] = []
    solve = Problem.solve

    def counted(self: Problem, count: int, length: Fraction, limits: Limits, *, second_aims: bool = True) -> Packing:
        solves.append((count, length))
        assert not second_aims
        return solve(self, count, length, limits, second_aims=second_aims)

    monkeypatch.setattr(Problem, "solve", counted)
    ladder.solve(0, 0, Limits())
    ladder.climb(Clock(Limits()), 0)
    return solves


def test_equal_ends_need_no_solve_between(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twenty lengths, and the bar's rest holds the longest twice: two solves settle all forty steps."""
    ladder = ladder_of([bars(6000, "9")], [blank(f"M{n}", 100 + n) for n in range(20)], 2)
    assert climbed(ladder, monkeypatch) == [(0, F(0)), (2, F(119))]
    assert {rung.cost for rung in ladder.rungs()} == {9}
    assert len(list(ladder.rungs())) == 41


def test_a_step_is_found_by_bisection(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fifteen lengths, the rest of 105 serves the first six: found in a few solves, and every rung is right."""
    wanted = [blank(f"M{n}", 100 + n) for n in range(15)]  # together 1605
    ladder = ladder_of([bars(1710, "9")], wanted, 1)
    assert len(climbed(ladder, monkeypatch)) <= 6
    assert [(rung.spares, rung.cost) for rung in ladder.rungs()] == [(0, 9)] + [(1, 9)] * 6 + [(1, 18)] * 9
    assert all(rung.bound == rung.cost for rung in ladder.rungs())


def test_what_cannot_be_served_has_no_rung(monkeypatch: pytest.MonkeyPatch) -> None:
    """One bar of 1000 with 900 cut: the 80 can be kept once, the 820 not at all; nothing twice."""
    ladder = ladder_of([bars(1000, "9", 1)], [blank("A", 820), blank("B", 80)], 2)
    climbed(ladder, monkeypatch)
    assert list(ladder.rungs()) == [Rung(0, F(0), 9, 9), Rung(1, F(80), 9, 9)]


def test_unfinished_solves_bound_their_neighbours(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where time is short a plan that keeps more is taken for a step that has none of its own, and a bound on less
    stands for more."""
    answers = {
        (0, F(0)): Packing(Status.PROVEN, cost=10, bound=10),
        (1, F(300)): Packing(Status.FOUND, cost=30, bound=12),
        (1, F(100)): Packing(Status.UNKNOWN, bound=15),
        (1, F(200)): Packing(Status.FOUND, cost=40, bound=11),
    }
    monkeypatch.setattr(Problem, "solve", lambda self, count, length, limits, second_aims: answers[count, length])
    ladder = ladder_of([bars(1000, "9")], [blank("A", 300), blank("B", 200), blank("C", 100)], 1)
    ladder.solve(0, 0, Limits())
    assert ladder.unsettled() == 3
    ladder.climb(Clock(Limits()), 0)
    assert list(ladder.rungs()) == [
        Rung(0, F(0), 10, 10),
        Rung(1, F(100), 30, 15),
        Rung(1, F(200), 30, 15),
        Rung(1, F(300), 30, 15),
    ]


def test_when_time_is_up_nothing_more_is_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the members' own cost is found then; the ladder has that one rung."""
    ladder = ladder_of([bars(1000, "9")], [blank("A", 600), blank("B", 300)], 2)
    ladder.solve(0, 0, Limits())
    monkeypatch.setattr(Problem, "solve", lambda *_, **__: pytest.fail("solved though time is up"))
    ladder.climb(Clock(Limits(seconds=-1.0)), 0)
    assert list(ladder.rungs()) == [Rung(0, F(0), 9, 9)]


def test_time_is_shared() -> None:
    """Of ten seconds a quarter each for four solves, an eighth for the next of many; without a limit there is none to
    share; what is left is never less than none."""
    share = Clock(Limits(seconds=10.0)).share(4).seconds
    assert share is not None
    assert 2.4 < share <= 2.5
    eighth = Clock(Limits(seconds=10.0)).share(400).seconds
    assert eighth is not None
    assert 1.2 < eighth <= 1.25
    assert Clock(Limits()).share(4).seconds is None
    assert Clock(Limits(seconds=-1.0)).share(0).seconds == 0
