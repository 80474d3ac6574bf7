"""What to say when the stock cannot serve: what can be cut, what cannot, the least to buy on top."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

import pytest
from small_jobs import bars, blank, job, rack

from cutplan.geometry.model import Blank
from cutplan.job.model import INCH, Settings, StockRow, Units
from cutplan.plan import StockError, make_plan
from cutplan.plan.model import Purchase, Shortage

F = Fraction
NO_KERF = Settings(kerf=F(0), spares=0)


def shortage_in(stock: Sequence[StockRow], wanted: Sequence[Blank], settings: Settings = NO_KERF) -> Shortage:
    """The one shortage of a job whose stock cannot serve it."""
    with pytest.raises(StockError) as caught:
        make_plan(job(stock, wanted, settings), wanted)
    (found,) = caught.value.shortages
    assert f"{found.tube}: {found.why}" in str(caught.value)
    return found


def test_too_few_bars() -> None:
    """One bar of 1000 holds 600 + 400 of 600 + 600 + 400; one bar more serves, and is the least."""
    found = shortage_in([bars(1000, "10", 1)], [blank("A", 600, 2), blank("B", 400)])
    assert (found.can, found.cannot) == ((("A", 1), ("B", 1)), (("A", 1),))
    assert found.least == (Purchase("T", F(1000), 1, Decimal(10), Decimal(10)),)
    assert not found.spares_only


def test_the_least_is_the_cheapest_not_the_first() -> None:
    """On top of what is at hand the cheapest bars that help are named, of any length the job knows."""
    found = shortage_in([rack(700), bars(1000, "10", 0), bars(650, "5", 0)], [blank("A", 600, 3)])
    assert (found.can, found.cannot) == ((("A", 1),), (("A", 2),))
    assert found.least == (Purchase("T", F(650), 2, Decimal(5), Decimal(10)),)


def test_only_the_spare_is_missing() -> None:
    """Every member can be cut but no spare kept: that is said, and what would serve the spare."""
    found = shortage_in([bars(1000, "10", 1)], [blank("A", 600)], Settings(kerf=F(0), spares=1))
    assert found.spares_only
    assert (found.can, found.cannot) == ((("A", 1),), ())
    assert found.least == (Purchase("T", F(1000), 1, Decimal(10), Decimal(10)),)
    assert "spare" in found.why


def test_a_member_longer_than_any_bar() -> None:
    """No number of bars helps: the member, its length and the longest bar's yield are named."""
    found = shortage_in([bars(6000, "10")], [blank("HOOP", 6500), blank("A", 300)], Settings(kerf=F(0), end_trim=F(5)))
    assert found.least == ()
    assert found.cannot == (("HOOP", 1),)
    assert found.why == (
        "HOOP needs one piece of 6500 mm; the longest bar you can get gives 5990 mm "
        "(check the length, or add a longer bar to Stock)"
    )


def test_several_members_longer_than_any_bar_in_inches() -> None:
    """Lengths are reported as a tape reads them, and of several members as of several."""
    settings = Settings(units=Units.IN, kerf=F(0), spares=0, step=INCH / 32)
    long = INCH * F(3901, 16)
    found = shortage_in([bars(240 * INCH, "10")], [blank("L", long), blank("R", long)], settings)
    assert found.why.startswith("L, R each need one piece of 243 13/16 in; the longest bar you can get gives 240 in (")


def test_a_rack_piece_longer_than_what_is_sold() -> None:
    """A long rack piece serves the hoop, so it is the short members that are missing, and what is sold helps."""
    found = shortage_in([rack(7000), bars(6000, "10", 0)], [blank("HOOP", 6500), blank("A", 3000, 2)])
    assert (found.can, found.cannot) == ((("HOOP", 1),), (("A", 2),))
    assert found.least == (Purchase("T", F(6000), 1, Decimal(10), Decimal(10)),)


def test_one_long_rack_piece_for_two_long_members() -> None:
    """The rack serves one hoop; no bar that is sold serves the other, and that is what is said."""
    found = shortage_in([rack(7000), bars(6000, "10")], [blank("HOOP", 6500, 2), blank("A", 100)])
    assert (found.cannot, found.least) == ((("HOOP", 1),), ())
    assert found.why.startswith("HOOP needs one piece of 6500 mm; the longest bar you can get gives 6000 mm")


def test_nothing_for_sale() -> None:
    """A job that knows of no bar to buy is reported of bars of a usual length, unpriced, in its own units."""
    found = shortage_in([rack(500)], [blank("A", 600, 2)])
    assert found.least == (Purchase("T", F(6000), 1, None, None),)
    inches = Settings(units=Units.IN, kerf=F(0), spares=0)
    found = shortage_in([rack(10 * INCH)], [blank("A", 100 * INCH, 3)], inches)
    assert found.least == (Purchase("T", 240 * INCH, 2, None, None),)


def test_like_marks_are_served_in_order() -> None:
    """Within one length the marks named first are the ones that can be cut."""
    found = shortage_in([rack(700, 2)], [blank("L", 600), blank("M", 600), blank("R", 600)])
    assert (found.can, found.cannot) == ((("L", 1), ("M", 1)), (("R", 1),))


def test_every_tube_that_is_short_is_named() -> None:
    """Two tubes are short at once: both are reported, the one that does not is not."""
    wanted = [blank("A", 600, tube="A"), blank("B", 600, tube="B"), blank("C", 600, tube="C")]
    stock = [rack(500, tube="A"), rack(800, tube="B"), rack(500, tube="C")]
    with pytest.raises(StockError) as caught:
        make_plan(job(stock, wanted, NO_KERF), wanted)
    assert [short.tube for short in caught.value.shortages] == ["A", "C"]
