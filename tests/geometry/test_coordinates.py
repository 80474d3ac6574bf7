"""Members given by points: their run, and where they land on each other."""

import math

import numpy as np
import pytest
from members import (
    HOOP_MEMBER,
    RAIL,
    F,
    blank,
    found,
    laid,
    member,
    net,
    only_fault,
    points,
)
from wording import Worded

from cutplan.geometry import end_line
from cutplan.geometry.centreline import Stretch
from cutplan.geometry.landing import Landing, Nearest, turned_landings
from cutplan.job.model import (
    Cut,
    End,
    Onto,
    Saddle,
)


def test_points_give_straights_arcs_and_rotation() -> None:
    """A tube up, along and sideways: three straights, two right-angled bends, a quarter turn between them.

    Seen along the second straight, the first bend's centre is below and the second's to the left: clockwise.
    """
    made = blank(member("P", "H45", points=points((0, 0, 0), (0, 0, 1000), (0, 800, 1000), (-700, 800, 1000))))
    assert net(made) == pytest.approx(850 + 500 + 550 + 2 * 75 * math.pi)
    assert [mark.rotation_deg for mark in made.bends] == [0.0, pytest.approx(90.0)]
    assert [mark.straight for mark in made.bends] == [pytest.approx(850), pytest.approx(500)]


def test_points_in_line_make_no_bend() -> None:
    """A point on the way of a straight tube needs no radius and adds no bend."""
    made = blank(member(points=points((0, 0, 0), (300, 0, 0), (1000, 0, 0))))
    assert (net(made), made.bends) == (pytest.approx(1000.0), ())


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (((0, 0, 0), (0, 0, 0), (9, 0, 0)), "Points row 3: is in the same place as the point before"),
        (((0, 0, 0), (500, 0, 0), (10, 0, 0)), "Points row 3: the tube doubles back on itself here"),
        (((0, 0, 0), (500, 0, 0), (500, 200, 0), (0, 200, 0)), "Points row 4, radius: the bends overlap by 100 mm"),
        (((0, 0, 0), (90, 0, 0), (90, 900, 0)), "Points row 3, radius: the bends overlap by 60 mm on the straight"),
        (((0, 0, 0), (500, 0, 0, 10), (500, 500, 0)), 'Points row 3, radius: "10 mm": a centreline radius is more'),
        (((0, 0, 0),), "Points row 2: a centreline needs at least two points"),
    ],
)
def test_points_that_cannot_be(row: tuple[tuple[object, ...], ...], said: str) -> None:
    """Each impossible point is refused at its own row."""
    assert only_fault(laid(member("P", "H45", points=points(*row)))).startswith(said)


def test_a_corner_needs_a_radius(as_worded: Worded) -> None:
    """Without a radius at the point or for the tube, a corner is no bend."""
    said = only_fault(laid(member(points=points((0, 0, 0), (500, 0, 0), (500, 500, 0)))))
    as_worded(said)


def test_angles_and_turn_from_coordinates() -> None:
    """A stay from a hoop's leg to a rail across: both angles by hand, and a quarter turn between the copes."""
    stay = member("S", points=points((0, -500, 800), (-600, -500, 0)), end_a=found("H"), end_b=found("R"))
    made = blank(HOOP_MEMBER, RAIL, stay)
    assert made.end_a.angle_deg == pytest.approx(math.degrees(math.atan2(600, 800)))
    assert made.end_b.angle_deg == 90.0
    assert abs(made.turn_deg) == pytest.approx(90.0)
    assert net(made) == pytest.approx(1000 - 2 * math.sqrt(22.5**2 - 19**2))


def test_both_ends_of_one_plane_have_no_turn_between_them() -> None:
    """A brace in the plane of two parallel legs: both acute sides lie opposite, half a turn apart."""
    other = member("G", "H45", points=points((0, 500, 0), (0, 500, 1000)))
    leg = member("L", "H45", points=points((0, -500, 0), (0, -500, 1000)))
    brace = member("S", points=points((0, -500, 200), (0, 500, 700)), end_a=found("L"), end_b=found("G"))
    made = blank(leg, other, brace)
    assert made.end_a.angle_deg == pytest.approx(made.end_b.angle_deg)
    assert made.turn_deg == 180.0


def test_offset_from_coordinates() -> None:
    """A tube that passes 3 mm beside the hoop's axis gets that offset, with opposite signs on either side."""
    sides = [member("S", points=points((y, -500, 400), (y, -1200, 400)), end_a=found("H")) for y in (3, -3)]
    offsets = [blank(HOOP_MEMBER, each).end_a.saddles[0].offset for each in sides]
    assert sorted(offsets) == [F(-3), F(3)]


def test_landing_on_a_corner_from_coordinates() -> None:
    """A stay that lands half way round a hoop's corner gets the bend, its radius, and how far along; and a remark."""
    k = F(150 * (1 - math.sqrt(0.5)))
    stay = member("S", points=points((0, -500 + k, 1000 - k), (-600, 0, 0)), end_a=found("H"), end_b=found("R"))
    layout = laid(HOOP_MEMBER, RAIL, stay)
    onto = layout.blanks[-1].end_a.saddles[0].onto
    assert (onto.clr, onto.bend, onto.arc_deg) == (F(150), 1, pytest.approx(45.0))
    (remark,) = layout.remarks
    assert str(remark).startswith(
        "Members row 2, onto a: lands on a bend; worked out for a straight tube, the blank would"
    )


@pytest.mark.parametrize("along", [83.0, 45.0, 7.0, 0.0])
@pytest.mark.parametrize("side", [90.0, -90.0])
@pytest.mark.parametrize("at_b", [False, True])
def test_a_bend_by_hand_is_the_member_it_belongs_to(along: float, side: float, at_b: bool) -> None:
    """A stay square to the plane of a bend, its place given by the bend and how far along it or by its points: one
    blank and one line all round, where the saddle lies partly on the straight beside the bend, too."""
    turn = math.radians(along)
    foot = (0, -500 + 150 * (1 - math.cos(turn)), 850 + 150 * math.sin(turn))
    # Clockwise is seen from end a to end b, so from outside at the one and from inside the member at the other.
    far = (500 if (side > 0) != at_b else -500, *foot[1:])
    ends = {"end_b" if at_b else "end_a": found("H")}
    placed = blank(HOOP_MEMBER, member("S", points=points(*((far, foot) if at_b else (foot, far))), **ends))
    lying = Onto(F(45), "H", "H", F(150), 1, along, side)
    ends = {"end_b" if at_b else "end_a": End(Cut.COPE, saddles=(Saddle(lying),))}
    shown = blank(HOOP_MEMBER, member("S", length=F(500), **ends))
    assert net(shown) == pytest.approx(net(placed), abs=1e-4)
    one, other = (made.end_b if at_b else made.end_a for made in (shown, placed))
    turns = np.arange(0.0, 360.0, 3.0)
    # Which of both ways along a tube a square tee calls its short side is free.
    lines = [end_line(other, turns), end_line(other, turns + 180.0)]
    assert min(float(np.abs(end_line(one, turns) - line).max()) for line in lines) < 1e-4


def test_last_point_short_of_the_axis() -> None:
    """Points that stop 30 mm short of the other tube's centre: the blank is longer by that, and says so."""
    stay = member("S", points=points((0, -530, 400), (0, -1500, 400)), end_a=found("H"))
    made = blank(HOOP_MEMBER, stay)
    assert net(made) == pytest.approx(1000 - math.sqrt(22.5**2 - 19**2))
    assert any("come nearest" in part.what and part.length == pytest.approx(30.0) for part in made.parts)


def test_node_of_three_tubes_from_coordinates() -> None:
    """An end on a hoop and on a cross tube there is cut by both: its tip is no further out than either alone."""
    cross = member("X", "H45", points=points((-800, -500, 400), (800, -500, 400)))
    stay = {"points": points((0, -500, 400), (0, -1200, 700))}
    alone = blank(HOOP_MEMBER, cross, member("S", end_a=found("H"), **stay))
    both = blank(HOOP_MEMBER, cross, member("S", end_a=found("H", "X"), **stay))
    assert len(both.end_a.saddles) == 2
    assert abs(both.end_a.saddles[1].turn_deg) == pytest.approx(90.0)
    assert net(both) < net(alone)


def test_turn_between_the_ends_of_a_bent_member() -> None:
    """A bent stay in one plane, landing on two tubes square to that plane or in it: the bend carries the turn along."""
    low = member("A", "H45", points=points((0, -500, 0), (0, 500, 0)))
    high = member("B", "H45", points=points((-900, 0, 1300), (-500, 0, 900)))
    bent = points((0, 0, 0), (0, 0, 1000), (-600, 0, 1000))
    stay = member("S", "H45", points=bent, end_a=found("A"), end_b=found("B"))
    made = blank(low, high, stay)
    # End a is a square tee on a tube square to the plane: its sides lie a quarter turn off the plane of end b's.
    assert made.end_a.angle_deg == 90.0
    assert made.end_b.angle_deg == pytest.approx(45.0)
    assert abs(made.turn_deg) == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("end_point", "said"),
    [
        (
            (0, -300, 400),
            "by the points, this end at x 0, y -300, z 400 does not meet H: its axis is 200 mm away, nearest "
            "at x 0, y -500, z 400; either of the two may be out",
        ),
        (
            (0, -500, -200),
            "by the points, this end at x 0, y -500, z -200 lands 200 mm beyond an end of H; either of the two may be "
            "out",
        ),
    ],
)
def test_points_that_do_not_meet(end_point: tuple[int, int, int], said: str) -> None:
    """An end in the air, or past the end of what it lands on, is refused."""
    stay = member(
        "S", points=points(end_point, (0, -320, 900) if "meet" in said else (0, -1500, -200)), end_a=found("H")
    )
    assert said in only_fault(laid(HOOP_MEMBER, stay))


def test_a_member_along_another_is_no_cope(as_worded: Worded) -> None:
    """A member that runs along the tube it should land on is refused."""
    stay = member("S", points=points((0, -500, 200), (0, -500, 700)), end_a=found("H"))
    as_worded(only_fault(laid(HOOP_MEMBER, stay)))


def test_coordinates_are_needed_on_both_sides(as_worded: Worded) -> None:
    """An angle from coordinates needs points of the member and of what it lands on."""
    as_worded(only_fault(laid(HOOP_MEMBER, member("S", end_a=found("H")))))
    plain = member("Q", "H45")
    stay = member("S", points=points((0, 0, 0), (0, 0, 500)), end_a=found("Q"))
    as_worded(only_fault(laid(plain, stay)))


@pytest.mark.parametrize("noise", [1e-18, -1e-18])
def test_half_a_turn_between_saddles_is_180(noise: float) -> None:
    """Guards against -180 on one machine and 180 on another, where the last figure of a coordinate differs."""
    here = Nearest(0.0, (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0, Stretch((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 1.0), 0.0)
    ways = ((1.0, 0.0, 0.0), (-1.0, noise, 0.0))
    landings = [Landing(Saddle(Onto(F(38))), way, here) for way in ways]
    saddles, _ = turned_landings(landings, (0.0, 0.0, 1.0))
    assert [one.turn_deg for one in saddles] == [0.0, 180.0]
