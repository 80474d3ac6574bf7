"""Where others land on a tube: how far along each joint reaches and on which side, against another way to find it."""

from __future__ import annotations

from fractions import Fraction
from math import cos, degrees, hypot, radians, sin, tan

import numpy as np
import pytest

from cutplan.geometry.bodies import bodies_in_place
from cutplan.geometry.footprints import Footprint, footprints, tip_of
from cutplan.geometry.layout import lay_out
from cutplan.job.model import Cut, End, Job, Member, Onto, Point, Saddle, Settings, StockRow, Tube

WIDE, THIN = Tube("wide", Fraction(40), Fraction(2), clr=Fraction(100)), Tube("thin", Fraction(30), Fraction(2))


def points(*rows: tuple[float, float, float]) -> tuple[Point, ...]:
    """Rows as points of a member."""
    return tuple(Point(*(Fraction(value).limit_denominator(10**6) for value in row)) for row in rows)


def onto(mark: str, od: int = 40) -> End:
    """An end coped onto a member, by its points."""
    return End(Cut.COPE, saddles=(Saddle(Onto(Fraction(od), name=mark, member=mark)),), from_points=True)


def found(base: Member, *others: Member) -> tuple[tuple[Footprint, ...], float]:
    """What lands on ``base``, and where the tip of its end a is."""
    job = Job(Settings(), (WIDE, THIN), (StockRow("wide", Fraction(6000)),), (base, *others))
    layout = lay_out(job)
    bodies = {body.member: body for body in bodies_in_place(job, layout.blanks)}
    assert len(bodies) == len(job.members)
    return footprints(bodies[base.mark], bodies, job), tip_of(bodies[base.mark], "a")


def test_square_on_and_at_45_by_hand():
    """Square on, 30 mm tube covers 15 mm each side of its axis. At 45 degrees its axis leaves the 40 mm tube's outside
    20 further along, and the short and long sides lie 15 x sqrt 2 from there. Sides are clockwise as seen along +x:
    from +y to +z a quarter turn."""
    base = Member("BASE", "wide", points=points((0, 0, 0), (1000, 0, 0)))
    up = Member("UP", "thin", points=points((300, 0, 0), (300, 0, 500)), end_a=onto("BASE"))
    lean = Member("LEAN", "thin", points=points((600, 0, 0), (1000, 400, 0)), end_a=onto("BASE"))
    (first, second), tip = found(base, up, lean)
    assert (first.mark, first.end, first.by, first.turn_deg) == ("UP", "a", "first", 0.0)
    assert tip == pytest.approx(0.0)
    assert (first.start, first.stop) == pytest.approx((285.0, 315.0), abs=0.02)
    assert second.turn_deg == pytest.approx(270.0, abs=0.01)
    reach = 15.0 * hypot(1.0, 1.0)
    assert (second.start, second.stop) == pytest.approx((620.0 - reach, 620.0 + reach), abs=0.05)


@pytest.mark.parametrize("seed", range(12))
def test_random_joints_against_rods(seed):
    """Every line of the lander's outside is followed to where it enters the other tube's cylinder: how far along that
    tube those places reach, and on which side they are, from its own mitred end's short side."""
    draw = np.random.default_rng(seed)
    at, angle, side = draw.uniform(300.0, 700.0), draw.uniform(35.0, 90.0), draw.uniform(0.0, 360.0)
    way = np.array(
        [cos(radians(angle)), sin(radians(angle)) * cos(radians(side)), sin(radians(angle)) * sin(radians(side))]
    )
    start = np.array([at, 0.0, 0.0])
    # The corner at x = 0 has its other tube along +y, so that the mitre's short side is at +y.
    base = Member("BASE", "wide", points=points((0, 0, 0), (1000, 0, 0)), end_a=End(Cut.MITRE, from_points=True))
    corner = Member("CORNER", "wide", points=points((0, 0, 0), (0, 600, 0)), end_a=End(Cut.MITRE, from_points=True))
    other = Member("LAND", "thin", points=points(tuple(start), tuple(start + 500.0 * way)), end_a=onto("BASE"))
    (one,), tip = found(base, corner, other)
    u = np.cross(way, [0.0, 0.0, 1.0]) if abs(way[2]) < 0.9 else np.cross(way, [0.0, 1.0, 0.0])
    u /= np.linalg.norm(u)
    v = np.cross(way, u)
    phi = np.radians(np.arange(0.0, 360.0, 0.5))[:, None]
    lines = start + 15.0 * (np.cos(phi) * u + np.sin(phi) * v)
    # |(y, z)| = 20 on the line p + t way, the larger t: where the line leaves the cylinder.
    a, b = way[1] ** 2 + way[2] ** 2, lines[:, 1] * way[1] + lines[:, 2] * way[2]
    t = (-b + np.sqrt(b**2 - a * (lines[:, 1] ** 2 + lines[:, 2] ** 2 - 400.0))) / a
    hits = lines + t[:, None] * way
    assert one.start == pytest.approx(float(hits[:, 0].min()), abs=0.2)
    assert one.stop == pytest.approx(float(hits[:, 0].max()), abs=0.2)
    assert abs((one.turn_deg - side + 180.0) % 360.0 - 180.0) < 0.2
    assert one.by == "a"
    assert tip == pytest.approx(-20.0 * tan(radians(45.0)), abs=0.01)


def test_past_a_bend_and_on_it():
    """On a bent tube a joint is given on its stretch: after a quarter bend of 100 mm radius from where that ends, on it
    by its arc; sides from the inside of the bend, here at +y, carried round it."""
    base = Member("BASE", "wide", points=points((0, 0, 0), (500, 0, 0), (500, 500, 0)))
    after = Member("AFTER", "thin", points=points((500, 300, 0), (900, 300, 0)), end_a=onto("BASE"))
    middle = (500 - 100 + 100 * cos(radians(45)), 100 - 100 * sin(radians(45)), 0.0)
    on = Member("ON", "thin", points=points(middle, (*middle[:2], 400.0)), end_a=onto("BASE"))
    (first, second), _ = found(base, after, on)
    assert (first.mark, first.number, first.by) == ("ON", 1, "bend")
    assert degrees((first.start + first.stop) / 200.0) == pytest.approx(45.0, abs=0.3)
    assert first.turn_deg == pytest.approx(90.0, abs=0.5)
    assert (second.mark, second.number, second.turn_deg) == ("AFTER", 2, pytest.approx(180.0, abs=0.1))
    assert (second.start, second.stop) == pytest.approx((185.0, 215.0), abs=0.05)
