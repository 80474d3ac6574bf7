"""Guards what the ends of members become: what they sit on, and how they are turned."""

from __future__ import annotations

from fractions import Fraction

import pytest
from broken_base import add, as_folder, broken_sheets, put
from test_read import member_of

from cutplan.job import read
from cutplan.job.model import INCH, Onto, Saddle


def test_angles_come_from_points_where_both_members_have_them(job_of):
    """A blank angle is left to the coordinates where they are known on both sides."""
    rail = member_of(job_of(), "RA")
    assert rail.end_a.from_points
    assert rail.end_a.saddles == (Saddle(Onto(Fraction(38), "FR", "FR")),)


@pytest.mark.parametrize(
    ("text", "onto"),
    [
        ("38x2.5", Onto(Fraction(38), "38x2.5")),
        ("38 X 2.5", Onto(Fraction(38), "38x2.5")),
        ("hoop", Onto(Fraction(38), "HOOP", "HOOP")),
        ("48.3", Onto(Fraction(483, 10), "48.3")),
        ("12 ", Onto(Fraction(38), "12", "12")),
        ("7", Onto(Fraction(38), "7", "7")),
        ("38", Onto(Fraction(38), "38", "38")),
        ("7 bend 1", Onto(Fraction(38), "7", "7", Fraction(114), 1)),
        ('2"', Onto(2 * INCH, '2"')),
        ("HOOP bend 1", Onto(Fraction(38), "HOOP", "HOOP", Fraction(114), 1)),
        ("HOOP bend 2 at 45", Onto(Fraction(38), "HOOP", "HOOP", Fraction(114), 2, 45.0)),
        (
            "HOOP Bend 1 At 45.5° Side 90",
            Onto(Fraction(38), "HOOP", "HOOP", Fraction(114), 1, 45.5, 90.0, side_given=True),
        ),
        ("FR bend 1 at 170 side -90", Onto(Fraction(38), "FR", "FR", Fraction(120), 1, 170.0, -90.0, side_given=True)),
    ],
)
def test_onto_is_read(text, onto, job_of):
    """A tube, a mark, a diameter, a bend of a member with the place on it; case and spacing do not matter."""
    job = job_of(
        *(add("Members", mark=mark, tube="38x2.5", length="500") for mark in ("12", "38")),
        add("Members", mark="7", tube="38x2.5"),
        add("Bends", mark="7", straight="100", angle="30"),
        add("Bends", mark="7", straight="100"),
        put("Members", 3, "onto a", text),
    )
    assert member_of(job, "BS").end_a.saddles == (Saddle(onto, 55.0),)


def test_an_end_may_sit_on_several_tubes(job_of):
    """Several saddles, each with its angle, offset and turn."""
    stay = member_of(
        job_of(
            put("Members", 3, "onto a", "HOOP bend 1 at 40+FR at 90 + 60.3 at -20.5"),
            put("Members", 3, "angle a", "55 + 60 + 90"),
            put("Members", 3, "offset a", "0 + 2 + -3"),
        ),
        "BS",
    )
    assert stay.end_a.saddles == (
        Saddle(Onto(Fraction(38), "HOOP", "HOOP", Fraction(114), 1, 40.0), 55.0),
        Saddle(Onto(Fraction(38), "FR", "FR"), 60.0, Fraction(2), 90.0),
        Saddle(Onto(Fraction(603, 10), "60.3"), 90.0, Fraction(-3), -20.5),
    )


def test_an_end_may_be_turned_against_the_bend_next_to_it(tmp_path):
    """Guards a saddle on a bent member: the first row turns its bend from end a, the last row end b from its bend;
    blank is not 0."""
    coped = put("Members", 2, "end a", "mitre"), put("Members", 2, "angle a", "10")
    for edits, shown in (
        (coped, (None, None)),
        ((*coped, put("Bends", 2, "rotation", "-30")), (-30.0, None)),
        (
            (put("Members", 2, "end b", "mitre"), put("Members", 2, "angle b", "10"), put("Bends", 4, "rotation", "0")),
            (None, 0.0),
        ),
    ):
        where = tmp_path / str(shown)
        where.mkdir()
        reading = read(as_folder(broken_sheets(*edits), where))
        assert reading.faults == ()
        rows = reading.job.members[0].bends
        assert (rows[0].from_end_deg, rows[-1].from_end_deg) == shown
        assert {row.rotation_deg for row in rows} == {0.0}


_BLANK_TURN = (
    "Members row {row}, turn: is blank and taken as 0: both short sides are on the same side, as on a brace "
    "across a corner (write 0 if so); a diagonal between parallel rails needs 180"
)
_BLANK_TURN_BENT = (
    "Members row {row}, turn: is blank and taken as 0: before bending, the short sides of both ends are in line "
    "along the tube (write 0 if so)"
)


def _rail(**cells):
    """RA, given by points and landing on FR, with these cells."""
    return [put("Members", 7, heading.replace("_", " "), value) for heading, value in cells.items()]


@pytest.mark.parametrize(
    ("edits", "row"),
    [
        pytest.param([put("Members", 4, "turn", None)], 4, id="blank"),
        pytest.param([put("Members", 4, "turn", "0")], None, id="given"),
        pytest.param([put("Members", 4, "turn", None), put("Members", 4, "angle b", "90")], None, id="a square tee"),
        pytest.param([put("Members", 5, "turn", None)], None, id="mitres"),
        pytest.param(
            [
                put("Members", 4, "turn", None),
                put("Members", 4, "length", None),
                add("Bends", mark="DG", straight="500", angle="20"),
                add("Bends", mark="DG", straight="500"),
            ],
            4,
            id="bent",
        ),
        pytest.param(_rail(angle_a="45", end_b="cope", onto_b="50", angle_b="45"), 7, id="points, but angles given"),
        pytest.param(_rail(end_b="cope", onto_b="HOOP", angle_b="45"), 7, id="one angle from points"),
        pytest.param(_rail(end_b="cope", onto_b="FR"), None, id="both angles from points"),
    ],
)
def test_a_blank_turn_is_remarked_where_it_matters(edits, row, tmp_path):
    """Only a member coped aslant at both ends may be meant either way, unless coordinates settle it."""
    reading = read(as_folder(broken_sheets(*edits), tmp_path))
    assert reading.faults == ()
    said = [str(remark) for remark in reading.remarks if remark.place.column == "turn"]
    assert reading.job is not None
    bent = any(member.place.row == row and (member.bends or member.points[2:]) for member in reading.job.members)
    assert said == ([(_BLANK_TURN_BENT if bent else _BLANK_TURN).format(row=row)] if row else [])


@pytest.mark.parametrize("edits", [(), (put("Members", 5, "end a", "cope"), put("Members", 5, "onto a", "HOOP"))])
def test_ends_that_are_not_square_may_be_turned(edits, job_of):
    """Two mitres, or a cope and a mitre, carry a turn as two copes do."""
    assert member_of(job_of(put("Members", 5, "turn", "180"), *edits), "KB").turn_deg == 180.0
