"""Numbers written with their ±, or as a range: read exactly, in every place where they are used, refused elsewhere."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cutplan.job.angles import parse_doubtful
from cutplan.job.model import INCH, Units
from cutplan.job.read import read
from cutplan.job.units import LengthError, parse_measure

F = Fraction


@pytest.mark.parametrize("text", ["1120 ± 40", "1120 +/- 40", "1120+-40", "1080 to 1160", "1080  TO 1160"])
def test_a_length_and_its_doubt(text):
    """However it is written, it is the same length and the same ±."""
    measure = parse_measure(text, Units.MM)
    assert (measure.length, measure.tolerance) == (1120, 40)


def test_inches_have_doubts_too():
    """A range in inches, fractions and all, is exact."""
    assert parse_measure("44 1/2 ± 1", Units.IN).length == F(89, 2) * INCH
    between = parse_measure("43 1/2 to 4' 1/2\"", Units.IN)
    assert (between.length, between.tolerance) == (46 * INCH, F(5, 2) * INCH)


@pytest.mark.parametrize(("text", "degrees", "doubt"), [("63 ± 3", 63, 3), ("60 to 66°", 63, 3), ("63", 63, 0)])
def test_an_angle_and_its_doubt(text, degrees, doubt):
    """Degrees take a ± as lengths do."""
    angle, found = parse_doubtful(text, Units.MM)
    assert (angle.degrees, found) == (degrees, doubt)


@pytest.mark.parametrize(
    ("text", "rule", "cure"),
    [
        ("1160 to 1080", "runs from larger to smaller", "write 1080 to 1160"),
        ("1080 to 1120 to 1160", "is not a range", "1120 ± 40"),
        ("1080 to 1160 ± 5", "is not a range", "1120 ± 40"),
        ("1120 ± 4 ± 5", "more than one ±", ""),
        ("1120 ± -4", "negative ±", ""),
        ("1080-1160", "is not a length", "for a range write 1080 to 1160"),
    ],
)
def test_what_is_no_range_is_refused(text, rule, cure):
    """The message says what is wrong with it, and what to write."""
    with pytest.raises(LengthError) as caught:
        parse_measure(text, Units.MM)
    assert rule in caught.value.rule
    assert cure in caught.value.cure


def job(tmp_path, members, bends=None):
    (tmp_path / "Job.csv").write_text("setting,value\nsure,2\n", encoding="utf-8")
    (tmp_path / "Tubes.csv").write_text("tube,od,wall,clr\nT,38,2.5,114\nW,50,2.5,\n", encoding="utf-8")
    (tmp_path / "Stock.csv").write_text("tube,length\nT,6000\nW,6000\n", encoding="utf-8")
    headings = "mark,tube,length,end a,angle a,onto a,offset a,end b,angle b,turn\n"
    (tmp_path / "Members.csv").write_text(f"{headings}{members}", encoding="utf-8")
    if bends:
        (tmp_path / "Bends.csv").write_text(f"mark,straight,angle\n{bends}", encoding="utf-8")
    return read(tmp_path)


def test_every_measured_number_may_be_in_doubt(tmp_path):
    """Length, both angles, offset, straight and bend keep their ± in the job."""
    reading = job(
        tmp_path,
        "A,T,1080 to 1160,cope,60 +/- 3,W,2 ± 1/2 in,mitre,20 to 30,0\nB,T,,,,,,,,\n".replace("1/2 in", "1"),
        "B,400 ± 10,60 to 80\nB,300 to 320,\n",
    )
    assert not reading.faults
    first, second = reading.job.members
    (one,) = first.end_a.saddles
    assert reading.job.settings.sure == 2
    assert (first.length, first.tolerance) == (1120, 40)
    assert (one.angle_deg, one.angle_tolerance, one.offset, one.offset_tolerance) == (60, 3, 2, 1)
    assert (first.end_b.angle_deg, first.end_b.angle_tolerance) == (25, 5)
    assert [(row.straight, row.tolerance, row.angle_tolerance) for row in second.bends] == [
        (400, 10, 10),
        (310, 10, 0),
    ]


def test_what_says_where_an_end_lands_may_be_in_doubt(tmp_path):
    """How far along a bend, from which side, and how a second saddle is turned; typed as +/-, or as a range."""
    reading = job(
        tmp_path,
        "B,T,,,,,,,,\nA,T,900,cope,60 +/- 3 + 50,B bend 1 at 30 +/- 5 side 80 to 100 + W at 90 +/- 4,,,,\n",
        "B,400,60\nB,300,\n",
    )
    assert not reading.faults
    one, other = reading.job.members[1].end_a.saddles
    assert (one.onto.arc_deg, one.onto.arc_tolerance, one.onto.side_deg, one.onto.side_tolerance) == (30, 5, 90, 10)
    assert (one.angle_deg, one.angle_tolerance, other.turn_deg, other.turn_tolerance) == (60, 3, 90, 4)


@pytest.mark.parametrize(
    ("onto", "says"),
    [
        ("B bend 1 at 58 ± 5", "may be off bend 1 of B, which bends by 60 degrees"),
        ("W at 0 ± 5 + W at 90", "turns the first saddle"),
        ("B bend 1 at 30 ± 5 ± 5", "is not a tube, mark or outside diameter"),
    ],
)
def test_where_an_end_lands_must_be_possible_over_the_whole_range(tmp_path, onto, says):
    """One fault, with what was written."""
    angles = "60 + 60" if "+ W" in onto else "60"
    rows = f"B,T,,,,,,,,\nA,T,900,cope,{angles},{onto},,,,\n"
    (fault,) = job(tmp_path, rows, "B,400,60\nB,300,\n").faults
    assert says in str(fault)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("A,T,40 ± 40,,,,,,,\n", "may be 0"),
        ("A,T,900,cope,12 ± 3,W,,,,\n", "may be under 10 degrees"),
        ("A,T,900,mitre,74 ± 3,,,,,\n", "must be from 0 to 75 degrees at a mitre, over its whole range"),
        ("A,T,900,mitre,1 ± 3,,,,,\n", "must be from 0 to 75 degrees at a mitre, over its whole range"),
        ("A,T,900,cope,60,W,4 ± 3,,,\n", "leaves part of the member off the tube"),
        ("A,T,900,cope,60,W,,mitre,20,5 ± 1\n", "cannot have a ± here"),
    ],
)
def test_a_range_that_cannot_be_is_a_fault_of_its_cell(tmp_path, row, says):
    """One fault, with what was written."""
    (fault,) = job(tmp_path, row).faults
    assert says in str(fault)
