"""Where a spoilt blank's replacement comes from: the shortest offcut that serves."""

from __future__ import annotations

from fractions import Fraction

from small_jobs import bars, blank, job, rack

from cutplan.job.model import Settings
from cutplan.plan.model import Bar
from cutplan.plan.planner import lay_on
from cutplan.plan.spoilt import ranked, recovery_of, with_recoveries

F = Fraction
LONG, SHORT = blank("LONG", 600), blank("SHORT", 200)
JOB = job([bars(1000, "5")], [LONG, SHORT], Settings(kerf=F(0), spares=0))


def used(name: str, length: int, marks: str) -> Bar:
    """A bar of this length with these blanks: L is LONG, S is SHORT."""
    return lay_on(JOB, rack(length), [LONG if mark == "L" else SHORT for mark in marks], name=name, first=1, spares=0)


def test_the_shortest_offcut_that_serves() -> None:
    """Of offcuts 400, 250 and 100, the 250 replaces a 200, so that the 400 stays whole."""
    recovery = recovery_of(F(200), ranked([used("1", 1000, "L"), used("2", 850, "L"), used("3", 700, "L")]))
    assert recovery is not None
    assert (recovery.bar, recovery.how) == ("2", "from what is left of bar 2")


def test_an_offcut_that_just_serves_and_one_that_just_does_not() -> None:
    """200 left serve a blank of 200; a tenth of a millimetre less does not."""
    just = recovery_of(F(200), ranked([used("1", 800, "L")]))
    assert just is not None
    assert recovery_of(F(2001, 10), ranked([used("1", 800, "L")])) is None


def test_a_bar_kept_whole() -> None:
    """An unopened bar serves too, and is named as such; of two alike the opened one goes first."""
    whole = used("2", 400, "")
    recovery = recovery_of(F(300), ranked([used("1", 700, "L"), whole]))
    assert recovery is not None
    assert (recovery.bar, recovery.how) == ("2", "from bar 2, kept whole")
    opened = recovery_of(F(300), ranked([whole, used("1", 1000, "L")]))
    assert opened is not None
    assert opened.bar == "1"


def test_every_cut_of_a_tube_is_answered() -> None:
    """The long blank can be had from nowhere, the short one from its own bar's offcut."""
    (bar,) = with_recoveries([used("1", 1000, "LS")])
    assert [cut.if_spoilt and cut.if_spoilt.bar for cut in bar.cuts] == [None, "1"]


def test_bars_go_by_number_where_they_are_alike() -> None:
    """Of equal offcuts bar 9 comes before bar 10: the answer is the same every time."""
    recovery = recovery_of(F(100), ranked([used("10", 800, "L"), used("9", 800, "L")]))
    assert recovery is not None
    assert recovery.bar == "9"
