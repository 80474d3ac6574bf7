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


def _as_a_tape_has_it(inches: Fraction) -> str:
    whole, rest = divmod(inches, 1)
    return " ".join([*([str(whole)] if whole else []), *([str(rest)] if rest else [])])


SIXTEENTHS = st.integers(16, 960).map(lambda count: Fraction(count, 16))


@given(st.integers(0, 359), st.integers(1, 63), st.sampled_from(["", "°", " deg", " degrees"]))
def test_degrees_come_back_as_written(whole: int, part: int, sign: str) -> None:
    """In decimals and in fractions, with each sign that may follow."""
    assert parse_angle(f"{whole}.{part:02d}{sign}", Units.MM).degrees == pytest.approx(whole + part / 100, abs=1e-9)
    assert parse_angle(f"{whole} {part}/64{sign}", Units.IN).degrees == pytest.approx(whole + part / 64, abs=1e-9)


@given(st.floats(1, 89), st.floats(50, 3000))
def test_a_slope_gives_its_angle_back(degrees: float, along: float) -> None:
    """Any slope, within what the figures of the text allow, whatever the unit; and its ± is that of the worse mm."""
    up = along * math.tan(math.radians(degrees))
    found = parse_angle(f"{up:.4f} over {along:.4f}", Units.MM)
    assert found.degrees == pytest.approx(degrees, abs=1e-3)
    assert parse_angle(f"{up:.4f} mm over {along:.4f} mm", Units.IN).degrees == pytest.approx(found.degrees, abs=1e-9)
    out = [(up + 1, along), (up, along + 1), (up - 1, along), (up, along - 1)]
    worst = max(abs(math.degrees(math.atan2(max(one, 0), other)) - degrees) for one, other in out)
    assert found.per_mm == pytest.approx(worst, abs=2e-3)


@given(SIXTEENTHS, SIXTEENTHS)
def test_a_slope_in_inches_gives_its_angle_back(up: Fraction, along: Fraction) -> None:
    """Typed in fractions of an inch as a tape shows them, and back through the tangent."""
    found = parse_angle(f"{_as_a_tape_has_it(up)} over {_as_a_tape_has_it(along)}", Units.IN)
    assert math.tan(math.radians(found.degrees)) == pytest.approx(up / along, rel=1e-9)
    in_mm = parse_angle(f'{_as_a_tape_has_it(up)}" over {float(along * Fraction(127, 5))!r}', Units.MM)
    assert in_mm.degrees == pytest.approx(found.degrees, abs=1e-9)


@given(SIXTEENTHS, SIXTEENTHS, SIXTEENTHS)
def test_a_triangle_in_inches_gives_its_sides_back(one: Fraction, other: Fraction, across: Fraction) -> None:
    """The corner worked out gives the side across it back by the law of cosines; what is no triangle is reported."""
    text = f"{_as_a_tape_has_it(one)} and {_as_a_tape_has_it(other)} across {_as_a_tape_has_it(across)}"
    if 2 * max(one, other, across) >= one + other + across:
        with pytest.raises(LengthError, match="is not a triangle"):
            parse_angle(text, Units.IN)
        return
    corner = parse_angle(text, Units.IN)
    assert corner.corner
    back = one * one + other * other - 2 * one * other * Fraction(math.cos(math.radians(corner.degrees)))
    assert math.sqrt(back) == pytest.approx(across, abs=1e-6)


@given(st.floats(5, 74), st.sampled_from([Fraction(25), Fraction(38), Fraction(127, 4), Fraction(483, 10)]))
def test_the_step_of_a_mitre_gives_its_angle_back(degrees: float, od: Fraction) -> None:
    """On tubes of any size: the step is the tube times the tangent."""
    step = float(od) * math.tan(math.radians(degrees))
    assert parse_angle(f"step {step:.4f}", Units.MM, od).degrees == pytest.approx(degrees, abs=1e-3)
    assert parse_angle(f"step {step / 25.4:.5f}", Units.IN, od).degrees == pytest.approx(degrees, abs=1e-3)


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
