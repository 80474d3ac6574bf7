"""Random members with numbers in doubt, and what their blanks really are for numbers tried inside and at the corners.

Shared by the tests and by ``tests/benchmarks/estimates_versus_samples.py``. The bound on a blank is asked of the layout
once; what it must cover comes from laying out the same member again and again with plain numbers, which the bound knows
nothing of.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job.model import Bend, Cut, End, Job, Measured, Member, Onto, Point, Saddle, Settings, To, Tube

SETTINGS = Settings(fit_cope=Fraction(3, 2), sure=Fraction(0))


def mm(value: float) -> Fraction:
    return Fraction(round(value * 10), 10)


def random_end(rng: random.Random, od: float, *, cope: bool = True) -> End:
    cut = rng.choice([Cut.SQUARE, Cut.MITRE, Cut.COPE, Cut.COPE] if cope else [Cut.SQUARE, Cut.MITRE])
    measured = rng.choice(list(Measured))
    if cut is Cut.SQUARE:
        return End(measured=measured)
    if cut is Cut.MITRE:
        doubt = rng.choice([0.0, 2.0, 7.5])
        return End(cut, rng.uniform(doubt, 60.0), measured=measured, angle_tolerance=doubt)
    onto = od * rng.choice([1.0, 1.05, 1.5])
    room = (onto - od) / 2.0
    doubt = rng.choice([0.0, 1.0, 5.0, 12.0])
    angle = rng.choice([rng.uniform(25.0 + doubt, 90.0), 90.0, 90.0 - doubt / 2.0])
    offset = mm(rng.uniform(-room / 2.0, room / 2.0)) if rng.random() < 0.5 else Fraction(0)
    slip = mm(rng.uniform(0.0, room / 3.0)) if rng.random() < 0.5 else Fraction(0)
    one = Saddle(Onto(mm(onto)), angle, offset, 0.0, doubt, slip)
    return End(cut, saddles=(one,), measured=measured)


def random_hard_end(rng: random.Random, od: float) -> End:
    """A cope onto a bend, on two or three tubes, or on one that ends, whatever is measured of it in doubt."""

    def doubt(choices: list[float]) -> float:
        return rng.choice(choices)

    def saddle(onto: Onto, turn: float) -> Saddle:
        swing = doubt([0.0, 1.0, 4.0, 10.0])
        room = float(onto.od) - od
        return Saddle(
            onto,
            rng.choice([rng.uniform(30.0 + swing, 90.0 - swing), 90.0]),
            mm(rng.uniform(-room / 4.0, room / 4.0)),
            turn,
            swing,
            mm(doubt([0.0, room / 6.0])),
            doubt([0.0, 2.0, 8.0]) if turn else 0.0,
        )

    kind = rng.choice(["bend", "bend", "several", "several", "ends"])
    onto = mm(od * rng.choice([1.0, 1.0, 1.2, 1.6]))
    if kind == "bend":
        side = rng.choice([0.0, 30.0, 90.0, 140.0])
        bend = Onto(onto, clr=Fraction(rng.choice([100, 150])), side_deg=side, side_tolerance=doubt([0.0, 5.0, 15.0]))
        saddles = [saddle(bend, 0.0)]
    elif kind == "ends":
        saddles = [saddle(Onto(onto, ends_short=mm(onto * 2 + 20)), 0.0)]
    else:
        saddles = [
            saddle(Onto(onto), 0.0),
            saddle(Onto(mm(float(onto) * rng.choice([1.0, 1.2]))), rng.choice([60.0, 90.0, 170.0])),
        ]
        if rng.random() < 0.3:
            saddles.append(saddle(Onto(onto, clr=Fraction(120)), rng.choice([-90.0, 120.0])))
    return End(Cut.COPE, saddles=tuple(saddles), measured=rng.choice(list(Measured)[:4]))


def random_hard_member(rng: random.Random) -> tuple[Tube, Member]:
    """A straight member with one such end."""
    od = rng.choice([20.0, 38.0])
    length = mm(rng.uniform(600.0, 900.0))
    return Tube("t", mm(od), Fraction(2)), Member("m", "t", length=length, end_a=random_hard_end(rng, od))


def random_member(rng: random.Random) -> tuple[Tube, Member]:
    od = rng.choice([20.0, 38.0, 44.5])
    grip = Fraction(rng.choice([0, 0, 60, 140]))
    tube = Tube("t", mm(od), Fraction(2), clr=Fraction(rng.choice([100, 160])), stretch=Fraction(3, 2), grip=grip)
    if rng.random() < 0.5:
        ends = random_end(rng, od), random_end(rng, od)
        doubt = mm(rng.choice([0.0, 0.5, 40.0]))
        return tube, Member(
            "m", "t", length=Fraction(rng.randrange(500, 2000)), tolerance=doubt, end_a=ends[0], end_b=ends[1]
        )
    rows = []
    for last in [False] * rng.choice([1, 2]) + [True]:
        rows.append(
            Bend(
                mm(rng.uniform(330, 700)),
                rng.choice(list(To)),
                None if last else rng.uniform(20.0, 90.0),
                tolerance=mm(rng.choice([0.0, 10.0])),
                angle_tolerance=0.0 if last else rng.choice([0.0, 4.0, 15.0]),
            )
        )
    # At times an end straight is shorter than the bender's grip.
    if rng.random() < 0.4:
        rows[0] = replace(rows[0], straight=Fraction(rng.randrange(60, 130)), to=To.TANGENT, tolerance=Fraction(10))
    return tube, Member("m", "t", end_a=random_end(rng, od), end_b=random_end(rng, od), bends=tuple(rows))


def blank_of(tube: Tube, member: Member, settings: Settings = SETTINGS) -> Blank | None:
    """The blank, None where the member is refused."""
    layout = lay_out(Job(settings, (tube,), (), (member,)))
    return layout.blanks[0] if layout.blanks and not layout.faults else None


def tried(rng: random.Random, member: Member, count: int) -> Iterator[Member]:
    """The member with plain numbers instead of doubtful ones: at corners of the ranges, and inside."""
    for number in range(count):
        yield _plain(rng, member, corner=number % 2 == 0)


def _in(rng: random.Random, likely: float, doubt: float, corner: bool) -> float:
    return likely + doubt * (rng.choice([-1.0, 1.0]) if corner else rng.uniform(-1.0, 1.0))


def _length(rng: random.Random, likely: Fraction, doubt: Fraction, corner: bool) -> Fraction:
    return likely + doubt * (rng.choice([-1, 1]) if corner else Fraction(rng.randrange(-1000, 1001), 1000))


def _plain(rng: random.Random, member: Member, *, corner: bool) -> Member:
    bends = tuple(
        replace(
            row,
            straight=_length(rng, row.straight, row.tolerance, corner),
            tolerance=Fraction(0),
            angle_deg=None if row.angle_deg is None else _in(rng, row.angle_deg, row.angle_tolerance, corner),
            angle_tolerance=0.0,
        )
        for row in member.bends
    )
    length = None if member.length is None else _length(rng, member.length, member.tolerance, corner)
    ends = [_plain_end(rng, end, corner) for end in (member.end_a, member.end_b)]
    return replace(member, length=length, tolerance=Fraction(0), end_a=ends[0], end_b=ends[1], bends=bends)


def _plain_end(rng: random.Random, end: End, corner: bool) -> End:
    if end.cut is Cut.MITRE:
        return replace(end, angle_deg=_in(rng, end.angle_deg, end.angle_tolerance, corner), angle_tolerance=0.0)
    if end.cut is Cut.SQUARE:
        return end
    saddles = [_plain_saddle(rng, one, corner) for one in end.saddles]
    measured = end.measured
    if len(saddles) == 1 and saddles[0].angle_deg > 90.0:
        # Beyond square the acute angle is on the other side, and what was the short side is the long one.
        (one,) = saddles
        onto = replace(
            one.onto, side_deg=-one.onto.side_deg, ends_short=one.onto.ends_long, ends_long=one.onto.ends_short
        )
        saddles = [replace(one, onto=onto, angle_deg=180.0 - one.angle_deg, offset=-one.offset)]
        measured = {Measured.LONG: Measured.SHORT, Measured.SHORT: Measured.LONG}.get(measured, measured)
    return replace(end, saddles=tuple(saddles), measured=measured)


def _plain_saddle(rng: random.Random, one: Saddle, corner: bool) -> Saddle:
    onto = replace(one.onto, side_deg=_in(rng, one.onto.side_deg, one.onto.side_tolerance, corner), side_tolerance=0.0)
    angle = _in(rng, one.angle_deg, one.angle_tolerance, corner)
    turn = _in(rng, one.turn_deg, one.turn_tolerance, corner)
    return Saddle(onto, angle, _length(rng, one.offset, one.offset_tolerance, corner), turn)


POINTS = replace(SETTINGS, meet_within=Fraction(10_000))
"""Tubes in doubt that miss each other are taken to meet, however far they miss: where they meet is not the question."""


def random_frame(rng: random.Random) -> tuple[tuple[Tube, ...], tuple[Member, ...]]:
    """Rails by points, and a brace between them that lands on one or two of them; some of their points in doubt."""
    od = rng.choice([30.0, 38.0])
    tubes = Tube("t", mm(od), Fraction(2), clr=Fraction(100)), Tube("w", mm(od * rng.choice([1.0, 1.3])), Fraction(2))

    def point(x: float, y: float, z: float, doubt: float) -> Point:
        doubts = tuple(mm(doubt * rng.choice([0.0, 0.5, 1.0])) for _ in range(3))
        return Point(mm(x), mm(y), mm(z), doubt=(doubts[0], doubts[1], doubts[2]))

    loose = rng.choice([0.0, 3.0, 12.0])
    high = rng.uniform(400.0, 700.0)
    rails = [
        Member("LOW", "w", points=(point(-300, 0, 0, loose), point(1300, 0, rng.uniform(-50, 50), loose))),
        Member("TOP", "w", points=(point(-300, 0, high, 0.0), point(1300, rng.uniform(-60, 60), high, loose))),
    ]
    own = rng.choice([0.0, 5.0, 15.0])
    first, last = rng.uniform(100, 400), rng.uniform(500, 900)
    onto = [Saddle(Onto(tubes[1].od, "LOW", "LOW"))]
    if rng.random() < 0.3:
        # A post that lands on the same place makes a node of two tubes.
        rails.append(Member("POST", "w", points=(point(first, 0, 0, loose), point(first, 300, 300, loose))))
        onto.append(Saddle(Onto(tubes[1].od, "POST", "POST")))
    end_a = End(Cut.COPE, saddles=tuple(onto), from_points=True)
    end_b = End(Cut.COPE, saddles=(Saddle(Onto(tubes[1].od, "TOP", "TOP")),), from_points=True)
    inner = (point(last, rng.uniform(-40, 40), high / 2.0, own),) if rng.random() < 0.4 else ()
    points = (point(first, 0, 0, own), *inner, point(last, 0, high, own))
    return tubes, (*rails, Member("m", "t", end_a=end_a, end_b=end_b, points=points))


def random_node(rng: random.Random) -> tuple[tuple[Tube, ...], tuple[Member, ...]]:
    """A rail, one or two tubes that are coped onto it at a node, and a brace from there, on all of them, to a second
    rail: as wide as they are or narrower, their points in doubt by a few mm."""
    od = rng.choice([30.0, 38.0])
    tubes = (
        Tube("t", mm(od * rng.choice([0.7, 1.0])), Fraction(2), clr=Fraction(100)),
        Tube("w", mm(od), Fraction(2)),
        Tube("x", mm(od * rng.choice([1.0, 1.3])), Fraction(2)),
    )
    doubt = rng.choice([1.0, 2.0, 5.0])

    def point(x: float, y: float, z: float) -> Point:
        doubts = tuple(mm(doubt * rng.choice([0.0, 0.5, 1.0])) for _ in range(3))
        return Point(mm(x), mm(y), mm(z), doubt=(doubts[0], doubts[1], doubts[2]))

    def on(*marks: str) -> End:
        wide = {"LOW": tubes[2].od, "TOP": tubes[2].od, "P1": tubes[1].od, "P2": tubes[1].od}
        return End(Cut.COPE, saddles=tuple(Saddle(Onto(wide[one], one, one)) for one in marks), from_points=True)

    at = point(0, 0, 0)
    rails = [
        Member("LOW", "x", points=(point(-600, 0, 0), point(700, 0, rng.uniform(-40, 40)))),
        Member("TOP", "x", points=(point(-900, rng.uniform(-60, 60), 600), point(1200, 0, 600))),
    ]
    posts = ["P1", "P2"][: rng.choice([1, 2])]
    for number, mark in enumerate(posts):
        way = point(rng.uniform(-400, 400), 500, rng.uniform(100, 400) * (1 - 2 * number))
        rails.append(Member(mark, "w", end_a=on("LOW", *posts[:number]), points=(at, way)))
    brace = Member(
        "m", "t", end_a=on("LOW", *posts), end_b=on("TOP"), points=(at, point(rng.uniform(-600, 600), 0, 600))
    )
    return tubes, (*rails, brace)


def random_bent_frame(rng: random.Random) -> tuple[tuple[Tube, ...], tuple[Member, ...]]:
    """A brace from a rail's bend, or from next to it, to a second rail; now and then onto a post there too. Points of
    all of them in doubt."""
    od = rng.choice([25.0, 38.0])
    wide = mm(od * rng.choice([1.0, 1.3]))
    tubes = Tube("t", mm(od), Fraction(2)), Tube("w", wide, Fraction(2), clr=Fraction(rng.choice([80, 120])))

    def point(x: float, y: float, z: float, doubt: float) -> Point:
        doubts = tuple(mm(doubt * rng.choice([0.0, 0.5, 1.0])) for _ in range(3))
        return Point(mm(x), mm(y), mm(z), doubt=(doubts[0], doubts[1], doubts[2]))

    loose, own = rng.choice([0.0, 1.0, 4.0, 8.0]), rng.choice([0.0, 2.0, 6.0])
    corner = rng.uniform(-300.0, 300.0), rng.uniform(350.0, 700.0)
    # Straight up from within the bend, from inside or outside, or from beside it.
    at = rng.uniform(-160.0, 30.0), rng.uniform(-20.0, 20.0)
    rails = [
        Member("LOW", "w", points=(point(-600, 0, 0, loose), point(0, 0, 0, loose), point(*corner, 0, loose))),
        Member("TOP", "w", points=(point(-700, rng.uniform(-60, 60), 600, loose), point(700, 0, 600, 0.0))),
    ]
    onto = [Saddle(Onto(wide, "LOW", "LOW"))]
    if rng.random() < 0.3:
        rails.append(Member("POST", "w", points=(point(*at, 0, loose), point(at[0], at[1] - 300, 250, loose))))
        onto.append(Saddle(Onto(wide, "POST", "POST")))
    end_a = End(Cut.COPE, saddles=tuple(onto), from_points=True, measured=rng.choice(list(Measured)[:4]))
    end_b = End(Cut.COPE, saddles=(Saddle(Onto(wide, "TOP", "TOP")),), from_points=True)
    points = point(*at, 0, own), point(rng.uniform(-400, 400), 0, 600, own)
    return tubes, (*rails, Member("m", "t", end_a=end_a, end_b=end_b, points=points))


def blank_in_frame(tubes: tuple[Tube, ...], members: tuple[Member, ...]) -> Blank | None:
    """The blank of the brace, None where anything is refused."""
    layout = lay_out(Job(POINTS, tubes, (), members))
    return next((one for one in layout.blanks if one.mark == "m"), None) if not layout.faults else None


def frames_tried(rng: random.Random, members: tuple[Member, ...], count: int) -> Iterator[tuple[Member, ...]]:
    """The members with plain points instead of doubtful ones."""
    for number in range(count):
        corner = number % 2 == 0
        yield tuple(
            replace(one, points=tuple(_plain_point(rng, each, corner) for each in one.points)) for one in members
        )


def _plain_point(rng: random.Random, point: Point, corner: bool) -> Point:
    x, y, z = (
        _length(rng, at, doubt, corner) for at, doubt in zip((point.x, point.y, point.z), point.doubt, strict=True)
    )
    return Point(x, y, z, point.radius)
