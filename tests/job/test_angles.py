"""Angles as a tape gives them, against the tables of right-angled triangles and the law of cosines by hand."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from broken_base import add, as_folder, broken_sheets, put
from hypothesis import given
from hypothesis import strategies as st

from cutplan.job import read
from cutplan.job.angles import parse_angle
from cutplan.job.model import Cut, Units
from cutplan.job.units import LengthError


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        (63, 63.0),
        ("63", 63.0),
        ("63°", 63.0),
        ("63.5 deg", 63.5),
        ("45 1/2", 45.5),
        ("45 1/2°", 45.5),
        ("1 over 1", 45.0),
        ("3 over 4", 36.8699),  # the 3-4-5 triangle
        ("300 and 400 across 500", 90.0),  # and again
        ("300 AND 300 across 300", 60.0),
        ("5 and 8 across 7", 60.0),  # 25 + 64 - 40 = 49
        ("250 mm over 0.4 m", 32.0054),
    ],
)
def test_every_way_to_write_an_angle(text: object, degrees: float) -> None:
    """Degrees, fractions of them, slopes and triangles."""
    assert parse_angle(text, Units.MM).degrees == pytest.approx(degrees, abs=1e-4)


def test_inches_and_the_step_of_a_mitre() -> None:
    """Fractions of an inch as a tape shows them; a step of 22 on a tube of 38 is atan(22/38)."""
    assert parse_angle("3 1/2 over 7", Units.IN).degrees == pytest.approx(math.degrees(math.atan(0.5)))
    assert parse_angle("step 22", Units.MM, Fraction(38)).degrees == pytest.approx(30.0686, abs=1e-4)
    assert parse_angle('step 1 1/2"', Units.MM, Fraction(381, 10)).degrees == pytest.approx(45.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("300 and 400 across 700", "is not a triangle: its longest side is as long as the other two together"),
        ("300 and 400 across 800", "is not a triangle: its longest side is longer than the other two together"),
        ("300 and 400 across 90", "is not a triangle"),
        ("0 over 5", "0 in it must be more than 0"),
        ("3 yd over 5", "3 yd in it is not a length"),
        ("step 22", "is the step of a mitre, and this end is not one"),
        ("steep", "is not an angle"),
        ("45 1/0", "is not an angle"),
    ],
)
def test_what_is_no_angle_is_reported(text: str, says: str) -> None:
    """With what was written, and which part of it is wrong."""
    with pytest.raises(LengthError) as caught:
        parse_angle(text, Units.MM)
    assert says in caught.value.rule


@pytest.mark.parametrize(
    ("text", "cure"),
    [
        ("steep", "write degrees (63), a slope (250 over 400) or a triangle (300 and 400 across 500)"),
        ("250/400", "for a slope write 250 over 400"),
        ("1 in 4", "for a slope write 1 over 4"),
        ("30%", "for a slope write 30 over 100"),
        ("250 over", "the rest is missing"),
        ("300 and 400", "for a triangle also measure straight across: 300 and 400 across ..."),
        ("300, 400, 500", "for a triangle write 300 and 400 across 500"),
        ("12 1/2, 14", "for a slope write 12 1/2 over 14"),
        ("step", "such as step 22"),
        ("rise 300 over a run of 500", "leave the other words out: 300 over 500"),
        ("legs 12 in and 12 in, across 17 in", "leave the other words out: 12 in and 12 in across 17 in"),
        ("run 500, rise 300", "for a slope write 300 over 500"),
        ("3 4 5", "for a triangle write 3 and 4 across 5"),
        ("63° 30'", "30 minutes are half of one"),
        ("17 step", "for the step of a mitre write step 17"),
    ],
)
def test_what_was_meant_is_shown(text: str, cure: str) -> None:
    """The written form that it was to be; at a mitre the step is among them."""
    with pytest.raises(LengthError) as caught:
        parse_angle(text, Units.MM)
    assert cure in caught.value.cure
    with pytest.raises(LengthError) as caught:
        parse_angle("steep", Units.MM, Fraction(38))
    assert "or a step (step 22)" in caught.value.cure


@given(st.floats(50, 2000), st.floats(50, 2000), st.floats(5, 175))
def test_a_triangle_gives_its_corner_back(one: float, other: float, corner: float) -> None:
    """Any corner, from legs of any length, within what the figures of the text allow; and 1 mm of tape is an upper
    bound of what any single millimetre less does."""
    across = math.sqrt(one * one + other * other - 2 * one * other * math.cos(math.radians(corner)))
    angle = parse_angle(f"{one:.4f} and {other:.4f} across {across:.4f}", Units.MM)
    assert angle.degrees == pytest.approx(corner, abs=0.05)
    try:
        out = parse_angle(f"{one:.4f} and {other:.4f} across {max(across - 1, 0.01):.4f}", Units.MM)
    except LengthError:
        return
    assert abs(out.degrees - angle.degrees) <= angle.per_mm + 1e-6


def test_in_a_job_each_is_shown_back_in_degrees(tmp_path) -> None:
    """A cope by a triangle, a mitre by its step, two saddles by two slopes, and a bend by the triangle in its corner,
    which turns by the rest of 180."""
    sheets = broken_sheets(
        put("Members", 3, "angle a", "300 and 400 across 400"),
        put("Members", 5, "angle a", "step 17.32"),
        put("Bends", 2, "angle", "500 and 500 across 800"),
        add(
            "Members",
            mark="ZZ",
            tube="30x2",
            length="400",
            end_a="cope",
            angle_a="2 over 1 + 60",
            onto_a="HOOP + FR at 90",
        ),
    )
    reading = read(as_folder(sheets, tmp_path))
    assert reading.faults == ()
    members = {member.mark: member for member in reading.job.members}
    assert members["BS"].end_a.saddles[0].angle_deg == pytest.approx(67.9757, abs=1e-4)
    assert members["KB"].end_a.cut is Cut.MITRE
    assert members["KB"].end_a.angle_deg == pytest.approx(30.0, abs=0.01)
    # What 1 mm of tape makes is the ± of what it measured.
    assert members["BS"].end_a.saddles[0].angle_tolerance == pytest.approx(0.2060, abs=1e-3)
    assert members["KB"].end_a.angle_tolerance == pytest.approx(1.45, abs=0.06)
    assert members["HOOP"].bends[0].angle_tolerance == pytest.approx(0.1910, abs=1e-3)
    assert [one.angle_tolerance for one in members["ZZ"].end_a.saddles] == [pytest.approx(26.565, abs=1e-3), 0.0]
    assert [one.angle_deg for one in members["ZZ"].end_a.saddles] == [pytest.approx(63.4349, abs=1e-4), 60.0]
    assert members["HOOP"].bends[0].angle_deg == pytest.approx(180 - 106.2602, abs=1e-4)
    said = [str(remark) for remark in reading.remarks]
    assert any(
        text.startswith("Members row 3, angle a: 300 and 400 across 400 is 67.98 degrees; 1 mm") for text in said
    )
    assert any(text.startswith("Bends row 2, angle: 500 and 500 across 800 is 73.74 degrees; 1 mm") for text in said)
    assert sum("on the tape makes" in text for text in said) == 4
