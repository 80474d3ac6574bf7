"""A tube's share of a job as whole numbers, and the cost on the way back."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from small_jobs import SQUARE, bars, blank, job, rack

from cutplan.geometry.model import EndShape
from cutplan.job.model import INCH, Cut, Settings, Units
from cutplan.nesting import Piece, Spare, Stock
from cutplan.plan.problem import Limits, problem_of, shared_saving

F = Fraction
MITRE_45 = EndShape(Cut.MITRE, 40.0, 45.0)
MITRE_30 = EndShape(Cut.MITRE, 40.0, 30.0)


def test_marks_of_one_length_are_one_piece() -> None:
    """Left and right and all others of one length are packed as one piece, longest first, and keep their marks."""
    wanted = (blank("S", 300, 3), blank("A-L", 700), blank("A-R", 700))
    problem = problem_of(job([bars(6000, "58.20"), rack(900, 2)], wanted), "T", wanted)
    assert problem.pieces == (Piece(7000, 2), Piece(3000, 3))
    assert [[one.mark for one in group] for group in problem.blanks] == [["A-L", "A-R"], ["S"]]
    assert problem.lengths == (F(700), F(300))
    assert problem.stocks == (Stock(60000, 582), Stock(9000, 0, 2, owned=True))
    assert (problem.kerf, problem.priced, problem.scale) == (20, True, 10)
    assert problem.money(1164) == Decimal("116.4")


def test_without_prices_a_bar_costs_its_length() -> None:
    """The whole bar is paid for, not only what its trims leave; the cost comes back in the job's units."""
    wanted = (blank("A", 100 * INCH),)
    settings = Settings(units=Units.IN, kerf=INCH / 16, end_trim=INCH / 4, spares=0)
    problem = problem_of(job([bars(240 * INCH)], wanted, settings), "T", wanted)
    assert problem.stocks == (Stock(239 * 256 + 128, 240 * 256),)
    assert not problem.priced
    assert problem.money(240 * 256) == 240
    assert problem.money(128) == Decimal("0.5")


def test_a_length_off_the_grid_is_packed_longer() -> None:
    """A blank of 100.01 mm takes 100.1 on the grid, a bar of 999.99 yields 999.9, a kerf of 1.58 takes 1.6."""
    wanted = (blank("A", F("100.01")),)
    problem = problem_of(job([bars(F("999.99"))], wanted, Settings(kerf=F("1.58"))), "T", wanted)
    assert (problem.pieces[0].length, problem.stocks[0].length, problem.kerf) == (1001, 9999, 16)
    assert problem.spare(2, F("100.01")) == Spare(1001, 2)


@pytest.mark.parametrize(("count", "length"), [(0, F(500)), (2, F(0))])
def test_no_spare_is_no_spare(count: int, length: Fraction) -> None:
    """Neither none of a length nor some of no length reserves anything."""
    wanted = (blank("A", 100),)
    assert problem_of(job([bars(1000)], wanted), "T", wanted).spare(count, length) is None


def test_only_shared_mitres_part_one_length() -> None:
    """Where mitres may be shared, like lengths with other ends are other pieces; elsewhere ends do not matter."""
    wanted = (
        blank("A", 500, ends=(MITRE_45, SQUARE)),
        blank("B", 500, ends=(SQUARE, MITRE_45)),
        blank("C", 500, ends=(MITRE_45, MITRE_30)),
    )
    apart = problem_of(job([bars(1000)], wanted), "T", wanted)
    assert apart.pieces == (Piece(5000, 3),)
    assert apart.joints == {}
    shared = problem_of(job([bars(1000)], wanted, Settings(share_mitres=True)), "T", wanted)
    assert sorted(piece.ends for piece in shared.pieces) == [(0, 1), (1, 0), (1, 2)]
    # OD 40, kerf 2: 40·tan 45° - 2·(√2 - 1) = 39.17; 40·tan 30° - 2·(1/cos 30° - 1) = 22.785; down to 0.1 mm.
    assert shared.joints == {1: 391, 2: 227}


def test_a_mitre_flatter_than_its_blade_saves_nothing() -> None:
    """Square cuts share nothing; a thick wheel through a thin tube at a steep angle never saves less than nothing."""
    assert shared_saving(F(40), 0.0, Settings()) == 0
    assert shared_saving(F(10), 80.0, Settings(kerf=F(30))) == 0


def test_progress_is_reported_in_the_tubes_own_cost() -> None:
    """Who listens hears the tube and money, not the solver's whole numbers."""
    heard: list[tuple[str, Decimal | None, Decimal]] = []
    wanted = (blank("A", 700, 5), blank("B", 450, 4))
    problem = problem_of(job([bars(1000, "12.50")], wanted), "T", wanted)
    limits = Limits(progress=lambda tube, cost, bound: heard.append((tube, cost, bound)))
    packing = problem.solve(0, F(0), limits)
    assert packing.cost is not None
    assert problem.money(packing.cost) == Decimal("87.5")
    assert heard
    assert {tube for tube, _, _ in heard} == {"T"}
    assert all(bound <= Decimal("87.5") and (cost is None or cost >= Decimal("87.5")) for _, cost, bound in heard)
