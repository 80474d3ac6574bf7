"""Blanks and saddle lines held against a solid modeller from outside the project (manifold3d).

A member is modelled as a rod of many facets, the tubes it lands on are cut away from it as rods or rings, and tips
and lines are read off what is left.
"""

from dataclasses import dataclass
from fractions import Fraction
from random import Random

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold, OpType
from numpy.typing import NDArray

from cutplan.geometry import end_line, lay_out
from cutplan.geometry.model import Blank
from cutplan.job.model import Cut, End, Job, Member, Onto, Saddle, Settings, Tube

pytestmark = pytest.mark.judge

CLOSE_MM = 0.05
GENERATORS = 120
FACETS = 240
BEYOND = 200.0

Vectors = NDArray[np.float64]


@dataclass(frozen=True)
class Site:
    """An end's reference point, the way into the member, the short side, and the clockwise side."""

    node: Vectors
    inward: Vectors
    acute: Vectors
    clockwise: Vectors


def site(at: float, inward: float, turn_deg: float) -> Site:
    """The end at height ``at`` of a member along z, end a below; turns are right-handed about +z."""
    turn = np.radians(turn_deg)
    return Site(
        np.array([0.0, 0.0, at]),
        np.array([0.0, 0.0, inward]),
        np.array([np.cos(turn), np.sin(turn), 0.0]),
        np.array([-np.sin(turn), np.cos(turn), 0.0]),
    )


def placed(solid: Manifold, x: Vectors, z: Vectors, origin: Vectors) -> Manifold:
    return solid.transform(np.column_stack([x, np.cross(z, x), z, origin]))


def landed_on(one: Saddle, here: Site, od: float, facets: int) -> Manifold:
    """The tube that ``one`` sits on, solid, its facets half inside and half outside of the true surface."""
    theta, offset = np.radians(one.angle_deg), float(one.offset)
    sides = facets if one.onto.clr is None else facets * 2 // 5
    mean = float(one.onto.od) / 2.0 / np.cos(np.pi / sides) ** 0.5
    along = np.cos(theta) * here.inward + np.sin(theta) * here.acute
    away = np.sin(theta) * here.inward - np.cos(theta) * here.acute
    origin = here.node + offset * here.clockwise
    if one.onto.clr is None:
        # No longer than the cut needs, and in slices: long thin facets are slow to cut.
        reach = 1.2 * (float(one.onto.od) + od) / np.sin(theta)
        rod = CrossSection.circle(mean, sides).extrude(reach, 8).translate((0.0, 0.0, -reach / 2.0))
        return placed(rod, here.clockwise, along, origin)
    clr, side = float(one.onto.clr), np.radians(one.onto.side_deg)
    outwards = np.cos(side) * away + np.sin(side) * here.clockwise
    normal = np.cross(outwards, along)
    ring = CrossSection.circle(mean, sides).translate((clr, 0.0)).revolve(facets, 120.0)
    return placed(ring.rotate((0.0, 0.0, -60.0)), outwards, normal, origin - clr * outwards)


def what_is_left(od: float, length: float, tubes: list[Manifold]) -> Manifold:
    """The rod between the tubes: the part that holds the member's middle."""
    rod = CrossSection.circle(od / 2.0, GENERATORS).extrude(length + 2 * BEYOND, 12)
    rod = rod.translate((0.0, 0.0, -BEYOND)) - Manifold.batch_boolean(tubes, OpType.Add)
    for piece in rod.decompose():
        low, high = np.array(piece.bounding_box())[[2, 5]]
        if low < length / 2.0 < high:
            return piece
    raise AssertionError("the member's middle is gone")


def lines_of(piece: Manifold, od: float) -> tuple[Vectors, Vectors]:
    """Lowest and highest z on each generator."""
    points = np.array(piece.to_mesh().vert_properties)[:, :3].astype(float)
    turns = np.degrees(np.arctan2(points[:, 1], points[:, 0])) % 360.0
    number = np.round(turns * GENERATORS / 360.0).astype(int)
    on = (np.abs(np.hypot(points[:, 0], points[:, 1]) - od / 2.0) < 1e-3) & (
        np.abs(turns * GENERATORS / 360.0 - number) < 1e-3
    )
    low, high = np.full(GENERATORS, np.inf), np.full(GENERATORS, -np.inf)
    np.minimum.at(low, number[on] % GENERATORS, points[on, 2])
    np.maximum.at(high, number[on] % GENERATORS, points[on, 2])
    return low, high


def blank_of(member: Member, od: Fraction) -> Blank:
    layout = lay_out(Job(Settings(), (Tube("T", od, Fraction(1)),), (), (member,)))
    assert not layout.faults, layout.faults
    return layout.blanks[0]


def net(blank: Blank) -> float:
    """The blank before rounding."""
    return sum(part.length for part in blank.parts[:-1])


def random_cope(chance: Random, od: Fraction, bend: bool = False) -> End:
    onto_od = od + Fraction(chance.randint(5, 300), 10)
    room = (onto_od - od) / 2
    offset = room * Fraction(chance.randint(-90, 90), 100) if chance.random() < 0.6 else Fraction(0)
    onto = Onto(onto_od)
    if bend:
        clr, side = (
            onto_od * Fraction(chance.randint(25, 50), 10),
            chance.choice([0.0, 90.0, 180.0, 270.0, 33.0, -120.0]),
        )
        onto = Onto(onto_od, clr=clr, side_deg=side)
    least = 60 if bend else 20
    return End(Cut.COPE, saddles=(Saddle(onto, float(chance.randint(least, 90)), offset),))


def check(blank: Blank, length: float, facets: int) -> None:
    """Tip to tip, and the line of each end on every generator."""
    a, b = blank.end_a, blank.end_b
    tubes = [landed_on(one, site(0.0, 1.0, one.turn_deg), a.od, facets) for one in a.saddles]
    tubes += [landed_on(one, site(length, -1.0, blank.turn_deg + one.turn_deg), a.od, facets) for one in b.saddles]
    if b.cut is Cut.SQUARE:
        tubes.append(Manifold.cube((1e3, 1e3, 2 * BEYOND), True).translate((0.0, 0.0, length + BEYOND)))
    piece = what_is_left(a.od, length, tubes)
    low, high = lines_of(piece, a.od)
    turns = np.arange(GENERATORS) * 360.0 / GENERATORS
    bottom, top = np.array(piece.bounding_box())[[2, 5]]
    assert top - bottom == pytest.approx(net(blank), abs=CLOSE_MM)
    assert bottom == pytest.approx(a.tip_from_centre, abs=CLOSE_MM)
    assert np.max(np.abs(a.tip_from_centre + end_line(a, turns) - low)) < CLOSE_MM
    assert np.max(np.abs(length - b.tip_from_centre - end_line(b, turns - blank.turn_deg) - high)) < CLOSE_MM


@pytest.mark.parametrize("seed", range(16))
def test_two_copes_on_straight_tubes(seed: int) -> None:
    """Tip to tip and every generator of members with a random cope at each end, turned against each other."""
    chance = Random(seed)
    od = Fraction(chance.randint(200, 500), 10)
    member = Member(
        "M",
        "T",
        length=Fraction(600),
        end_a=random_cope(chance, od),
        end_b=random_cope(chance, od),
        turn_deg=float(chance.randint(-180, 180)),
    )
    check(blank_of(member, od), 600.0, FACETS)


@pytest.mark.parametrize("seed", range(7))
def test_cope_landing_on_a_bend(seed: int) -> None:
    """Tip and every generator of members landing on a bend from all sides, centred or not."""
    chance = Random(1000 + seed)
    od = Fraction(chance.randint(200, 400), 10)
    end = random_cope(chance, od, bend=True)
    clr = float(end.saddles[0].onto.clr or 0)
    # Coming from inside of the bend, the member ends well before the far side of the ring.
    length = clr * 0.8
    member = Member("M", "T", length=Fraction(length), end_a=end)
    check(blank_of(member, od), length, 360)


@pytest.mark.parametrize("seed", range(3))
def test_equal_tubes(seed: int) -> None:
    """Tip and every generator where both tubes are the same, so that the ears run out on the other's side."""
    chance = Random(2000 + seed)
    od = Fraction(chance.randint(200, 500), 10)
    ends = [End(Cut.COPE, saddles=(Saddle(Onto(od), float(chance.randint(45, 90))),)) for _ in "ab"]
    member = Member("M", "T", length=Fraction(600), end_a=ends[0], end_b=ends[1], turn_deg=30.0)
    check(blank_of(member, od), 600.0, 2048)


@pytest.mark.parametrize("seed", range(4))
def test_several_tubes_at_one_end(seed: int) -> None:
    """Tip and every generator where a second tube, and one narrower than the member, cut into the same end."""
    chance = Random(3000 + seed)
    od = Fraction(chance.randint(200, 400), 10)
    (first,) = random_cope(chance, od).saddles
    (second,) = random_cope(chance, od).saddles
    narrow = Saddle(Onto(od * 3 / 4), float(chance.randint(30, 90)), turn_deg=float(chance.randint(0, 359)))
    second = Saddle(second.onto, second.angle_deg, second.offset, float(chance.randint(0, 359)))
    member = Member("M", "T", length=Fraction(600), end_a=End(Cut.COPE, saddles=(first, second, narrow)))
    check(blank_of(member, od), 600.0, FACETS)
