"""The tubes an end lands on, from what its own row says: angles, offsets, turns, and where one ends.

A tube runs on both ways where nothing else is given. A bend landed on at no given place runs on for a quarter turn both
ways; at a given place it is the member that it belongs to, which goes on towards its end b on the short side. Senses
as in :mod:`cutplan.geometry.saddle`; ``side_deg`` is where the member comes from: 0 from outside the bend, 180 from
inside, at 90 the bend's centre is towards phi = 270. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, degrees, inf, pi, radians, sin, sqrt

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.kernel import near_side
from cutplan.geometry.model import Blank
from cutplan.geometry.placing import Placer
from cutplan.geometry.points import Vector, any_normal, cross, dot, minus, plus, scaled
from cutplan.geometry.saddle import SLACK_MM
from cutplan.geometry.solid import Frame, Piece, Saddled, Target, seen_from
from cutplan.geometry.tubes import pieces_of
from cutplan.job.model import LEAST_COPE_DEG, End, Job, Saddle

_BEND_RUNS_ON = pi / 2.0


def runs_straight_on(one: Saddle) -> bool:
    """Whether the tube of ``one`` is taken as straight and without an end."""
    onto = one.onto
    return onto.clr is None and onto.bend is None and onto.ends_short is None and onto.ends_long is None


def runs_on(job: Job, blank: Blank) -> Iterator[tuple[str, tuple[str, ...]]]:
    """By end of ``blank``, a blank of ``job``: the tubes whose ends are not known, so that they are taken to run on
    both ways."""
    member = job.member(blank.member)
    for name, end in zip("ab", member.ends, strict=True):
        if end.from_points:
            continue
        if landed := tuple(one.onto.name for one in end.saddles if runs_straight_on(one)):
            yield name, landed


@dataclass(frozen=True, slots=True)
class Axis:
    """The axis landed on: the ``point`` nearest the member's own, its direction on the member's short side, and the
    unit vector away from the bend's centre there (of a straight, towards where the member comes from)."""

    point: Vector
    way: Vector
    outwards: Vector


def axis_of(one: Saddle, shift: float = 0.0) -> Axis:
    """Where the tube of ``one`` is, in the frame of the end. ``shift``: of its nearest point, along the member."""
    theta, turn, side = radians(one.angle_deg), radians(one.turn_deg), radians(one.onto.side_deg)
    short = (cos(turn), sin(turn), 0.0)
    clockwise = (-sin(turn), cos(turn), 0.0)
    inward = (0.0, 0.0, 1.0)
    way = plus(scaled(inward, cos(theta)), scaled(short, sin(theta)))
    away = plus(scaled(inward, sin(theta)), scaled(short, -cos(theta)))
    point = plus(scaled(clockwise, float(one.offset)), (0.0, 0.0, shift))
    return Axis(point, way, plus(scaled(away, cos(side)), scaled(clockwise, sin(side))))


def loose_target(one: Saddle, shift: float = 0.0) -> Target:
    """The tube of ``one`` by its row alone. Raises GeometryError for a bend tighter than its tube is wide."""
    axis, onto = axis_of(one, shift), one.onto
    radius = float(onto.od) / 2.0
    if onto.clr is None:
        lo = -inf if onto.ends_long is None else -float(onto.ends_long)
        hi = inf if onto.ends_short is None else float(onto.ends_short)
        ends = (onto.ends_long is not None, onto.ends_short is not None)
        return Target(radius, (Piece(axis.point, axis.way, lo, hi, ends=ends),), onto.name)
    clr = float(onto.clr)
    check_bend(clr, radius)
    reach = clr * _BEND_RUNS_ON
    return Target(radius, (Piece(axis.point, axis.way, -reach, reach, clr, scaled(axis.outwards, -1.0)),), onto.name)


def check_bend(clr: float, radius: float) -> None:
    """A bend must be wider than its tube. Raises GeometryError."""
    if clr <= radius:
        rule = "the bend it lands on has a centreline radius of {0}, no more than half its tube's OD"
        raise GeometryError(rule, column="onto", lengths=(clr,))


def loose_targets(saddles: Sequence[Saddle], shifts: Sequence[float] = ()) -> tuple[Target, ...]:
    """Of all ``saddles`` of an end."""
    return tuple(loose_target(one, shift) for one, shift in zip(saddles, shifts or (0.0,) * len(saddles), strict=True))


@dataclass(frozen=True, slots=True)
class HandEnd:
    """An end by its row: the tubes landed on, and ``taken``: (tube, tube it is taken to end on) where the row leaves
    open which way it goes."""

    targets: tuple[Target, ...]
    taken: tuple[tuple[str, str], ...]


def hand_end(name: str, end: End, radius: float, straight: float, placer: Placer) -> HandEnd:
    """What end ``name`` ("a" or "b") of a member lands on; ``radius``: its outside, ``straight``: how long it is there.

    A bend landed on at a known place is the member that it belongs to, with what comes before and after. A tube that
    ends on another one of this end ends there, and goes off on the short side of its saddle.
    """
    targets = [_on_known_bend(one, name, radius, straight, placer) or loose_target(one) for one in end.saddles]
    lands = {i: _lands_on(i, end.saddles, placer) for i in range(len(targets))}
    done: list[int] = []
    taken = []
    while len(done) < len(targets):
        i = next((k for k in lands if k not in done and set(lands[k]) <= set(done)), None)
        if i is None:  # a ring, reported elsewhere
            break
        if lands[i]:
            targets[i] = _coped(targets[i], [targets[j] for j in lands[i]])
            taken.append((end.saddles[i].onto.name, " + ".join(end.saddles[j].onto.name for j in lands[i])))
        done.append(i)
    return HandEnd(tuple(targets), tuple(taken))


def _lands_on(i: int, saddles: Sequence[Saddle], placer: Placer) -> list[int]:
    """Which other tubes of the end tube ``i`` ends on, by one end alone; nothing where its row says where it ends."""
    onto = saddles[i].onto
    member = placer.member(onto.member)
    if member is None or not runs_straight_on(saddles[i]):
        return []
    by_end = []
    for end in member.ends:
        marks = {id(placer.member(one.onto.member)) for one in end.saddles if one.onto.member is not None}
        by_end.append([j for j, one in enumerate(saddles) if j != i and id(placer.member(one.onto.member)) in marks])
    at_a, at_b = by_end
    return [] if at_a and at_b else at_a or at_b


def _coped(target: Target, onto: Sequence[Target]) -> Target:
    """A straight ``target`` cut by the tubes ``onto``, kept on the side that it goes to."""
    (piece,) = target.pieces
    other = onto[0].pieces[0]
    lean = dot(piece.way, other.way)
    square = 1.0 - lean * lean
    if square < sin(radians(LEAST_COPE_DEG)) ** 2 - 1e-9:
        return target
    gap = minus(other.point, piece.point)
    along = (dot(gap, piece.way) - lean * dot(gap, other.way)) / square
    side = any_normal(piece.way)
    frame = Frame(plus(piece.point, scaled(piece.way, along)), side, cross(piece.way, side), piece.way)
    saddle = Saddled(frame, tuple(seen_from(frame, one) for one in onto))
    more = 3.0 * (target.radius + max(one.radius for one in onto)) / sqrt(square)
    return replace(target, pieces=(replace(piece, lo=along - more, ends=(True, False), saddles=(saddle,)),))


def _on_known_bend(one: Saddle, name: str, radius: float, straight: float, placer: Placer) -> Target | None:
    """The member landed on as it is round the landing; None where it, or the place along it, is not known."""
    onto = one.onto
    member = placer.member(onto.member)
    if onto.bend is None or onto.arc_deg is None or member is None:
        return None
    try:
        course = placer.course(member)
    except GeometryError:
        return None
    number = next((i for i, each in enumerate(course) if each.bend == onto.bend), None)
    if number is None or course[number].radius is None:
        return None
    bend = course[number]
    clr = bend.radius or 0.0
    check_bend(clr, float(onto.od) / 2.0)
    along = radians(onto.arc_deg) * clr
    if along > bend.length + SLACK_MM:
        angle = degrees(bend.length / clr)
        rule = f"is {onto.arc_deg:g} degrees along bend {onto.bend} of {onto.name}, which bends by only {angle:.1f}"
        raise GeometryError(rule, column="onto")
    point, way = bend.at(along)
    outwards = scaled(bend.inwards(along), -1.0)
    there = Frame(point, way, outwards, cross(way, outwards))
    axis = axis_of(one)
    hand = 1.0 if name == "a" else -1.0
    here = Frame(axis.point, axis.way, axis.outwards, scaled(cross(axis.way, axis.outwards), hand))
    middle = sum(each.length for each in course[:number]) + along
    reach = 3.0 * (radius + float(onto.od) / 2.0) / sin(radians(one.angle_deg))

    def build(part: float) -> Target:
        ends = (middle - reach * part, middle + reach * part)
        pieces = pieces_of(course, ends, lambda at: placer.cut(member, at))
        return seen_from(here.back, seen_from(there, Target(float(onto.od) / 2.0, pieces, onto.name)))

    return near_side(build, radius, straight)
