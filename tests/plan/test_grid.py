"""The grid: blanks and kerf up, bars down, and what a bar yields."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_jobs import bars, rack

from cutplan.job.model import INCH, Settings, StockRow, Units
from cutplan.plan.grid import GRID, end_trim, grid_down, grid_up, money_scale, near_trim, usable

F = Fraction


@pytest.mark.parametrize(
    ("mm", "units", "up", "down"),
    [
        (F(100), Units.MM, 1000, 1000),
        (F(1, 100), Units.MM, 1, 0),
        (F("99.95"), Units.MM, 1000, 999),
        (INCH, Units.IN, 256, 256),
        (INCH + F(1, 1000), Units.IN, 257, 256),
        (F(0), Units.IN, 0, 0),
    ],
)
def test_what_must_fit_goes_up_and_what_it_fits_into_down(mm: Fraction, units: Units, up: int, down: int) -> None:
    """Rounding is against us in both directions, and exact where the grid is met."""
    assert (grid_up(mm, units), grid_down(mm, units)) == (up, down)


@given(st.fractions(0, 10**5), st.sampled_from(Units))
def test_rounding_never_promises_tube(mm: Fraction, units: Units) -> None:
    """Up is never short of the length, down never beyond it, neither off by a whole step."""
    step = GRID[units]
    assert 0 <= grid_up(mm, units) * step - mm < step
    assert 0 <= mm - grid_down(mm, units) * step < step


@pytest.mark.parametrize(
    ("row", "settings", "yields"),
    [
        (bars(6000), Settings(kerf=F(2)), F(6000)),
        (bars(6000), Settings(kerf=F(2), end_trim=F(5)), F(5990)),
        (bars(6000, end_trim=12), Settings(kerf=F(2), end_trim=F(5)), F(5976)),
        (rack(900), Settings(kerf=F(2), end_trim=F(5)), F(900)),
        # The saw hold: the end trim of 5 holds the last cut's kerf of 2; one of 1 holds half of it; none, nothing.
        (bars(6000), Settings(kerf=F(2), end_trim=F(5), saw_hold=F(60)), F(5930)),
        (bars(6000), Settings(kerf=F(2), end_trim=F(1), saw_hold=F(60)), F(5937)),
        (rack(900), Settings(kerf=F(2), end_trim=F(5), saw_hold=F(60)), F(838)),
        (rack(50), Settings(kerf=F(2), saw_hold=F(60)), F(0)),
        # Begun already: only the far mill end is lost.
        (StockRow("T", F(4000), sawn=True), Settings(kerf=F(2), end_trim=F(5)), F(3995)),
        (StockRow("T", F(4000), sawn=True), Settings(kerf=F(2), end_trim=F(5), saw_hold=F(60)), F(3935)),
    ],
)
def test_what_a_bar_yields(row: StockRow, settings: Settings, yields: Fraction) -> None:
    """End trims, the saw hold and the last cut's kerf come off, each where it applies."""
    assert usable(row, settings) == yields


def test_the_trims_of_each_end() -> None:
    """A bar's own trim goes before the job's, a rack piece has none, and a sawn end loses nothing more."""
    settings = Settings(end_trim=F(5))
    sawn = StockRow("T", F(4000), sawn=True)
    assert [end_trim(row, settings) for row in (bars(6000), bars(6000, end_trim=0), rack(900), sawn)] == [5, 0, 0, 5]
    assert [near_trim(row, settings) for row in (bars(6000), bars(6000, end_trim=7), rack(900), sawn)] == [5, 7, 0, 0]


@pytest.mark.parametrize(
    ("prices", "scale"),
    [([], 1), (["40"], 1), (["4E+1"], 1), (["58.20"], 10), (["58.25", "40"], 100), (["0.125", "1.5"], 1000)],
)
def test_prices_become_whole_numbers(prices: list[str], scale: int) -> None:
    """The scale is the least power of ten under which no price keeps a fraction."""
    assert money_scale(Decimal(price) for price in prices) == scale
