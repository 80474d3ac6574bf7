"""What is marked on a blank and cut off it by hand: places round the tube, the rule of a third, notes on bends."""

from __future__ import annotations

import re
from fractions import Fraction
from math import pi

import pytest

from cutplan.geometry.ends import end_line
from cutplan.geometry.layout import lay_out
from cutplan.job.model import Bend, Cut, End, Job, Member, Onto, Saddle, Settings, StockRow, Tube
from cutplan.plan import make_plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables

F = Fraction
OD = 38.0
SQUARE_ON_45 = Saddle(Onto(F(45)), 90.0)


def tables(*members: Member) -> Tables:
    """The tables of a job of these members, all of one tube."""
    tube = Tube("T", F(38), F(2), clr=F(114))
    job = Job(Settings(), (tube,), (StockRow("T", F(6000)),), members)
    return Tables(with_rough_ends(make_plan(job, lay_out(job).blanks)))


@pytest.mark.parametrize("second", [Saddle(Onto(F(45)), 70.0, F(0), 90.0), Saddle(Onto(F(45)), 80.0, F(0), 70.0)])
def test_places_that_have_no_column_are_on_the_line(second: Saddle) -> None:
    """Of an end on two tubes: so far round the tube from 0 as is said, the line is as deep as is said, and nowhere
    more than once round."""
    both = End(Cut.COPE, saddles=(SQUARE_ON_45, second))
    made = tables(Member("M", "T", length=F(500), end_a=both))
    (blank,) = made.plan.blanks
    said = [
        [float(figure) for figure in re.findall(r"\d+(?:\.\d+)?", text)]
        for text in made.making[0].marks[0].set.split("; ")
        if text.startswith("further")
    ]
    assert said
    for round_mm, deep in said:
        assert 0.0 < round_mm < pi * OD
        (line,) = end_line(blank.end_a, [360.0 * round_mm / (pi * OD)])
        assert deep == pytest.approx(float(line), abs=0.02)


def test_a_third_that_is_too_deep_is_said_of_the_first_cut_alone() -> None:
    """Two cuts from opposite sides that meet a third of 38 in, 12.7: that deep the sides of a square tee on its equal,
    which are at its tip, are cut away, and those of 45 degrees on a tube of 60 are 9.4 deep. Both cuts of an end would
    say the same."""
    tee, steep = Saddle(Onto(F(38)), 90.0), Saddle(Onto(F(60)), 45.0)
    ends = [End(Cut.COPE, saddles=(saddle,)) for saddle in (tee, steep)]
    made = tables(Member("M", "T", length=F(500), end_a=ends[0], end_b=ends[1])).making[0]
    assert [(row.end, row.cut, bool(row.check)) for row in made.rough_cuts] == [
        ("a", "A", True),
        ("a", "B", False),
        ("b", "A", True),
        ("b", "B", False),
    ]
    # On an axis along x, tip where it is met first: sqrt(30^2 - 19^2) at both sides, 30 from top to bottom.
    assert [re.findall(r"[\d.]+", row.check) for row in made.rough_cuts if row.check][1] == ["12.5", "9.5"]


def test_each_end_says_where_the_inside_of_the_bend_next_to_it_is() -> None:
    """By hand: the first bend's inside at -25 from end a's short side, the second's 40 on from that, of which end b's
    own 0 is 100 on: 335, and 275. A bend between them says nothing."""
    rows = (Bend(F(500), angle_deg=60.0, from_end_deg=-25.0), Bend(F(300), angle_deg=90.0, rotation_deg=40.0))
    end_a, end_b = (End(Cut.COPE, saddles=(Saddle(Onto(F(45)), angle),)) for angle in (55.0, 70.0))
    hook = Member("HOOK", "T", end_a=end_a, end_b=end_b, turn_deg=100.0, bends=(*rows, Bend(F(400))))
    notes = [re.findall(r"(\d+)° of end (\w)", row.note) for row in tables(hook).making[0].bends]
    assert notes == [[("335", "a")], [("275", "b")]]
    middle = Bend(F(300), angle_deg=30.0, rotation_deg=10.0)
    three = Member(
        "HOOK", "T", end_a=end_a, end_b=end_b, turn_deg=100.0, bends=(rows[0], middle, rows[1], Bend(F(400)))
    )
    notes = [re.findall(r"(\d+)° of end (\w)", row.note) for row in tables(three).making[0].bends]
    assert notes == [[("335", "a")], [], [("285", "b")]]
