"""Outlines of pieces and their ends as they are cut, for pictures: the true line of each, projected, never a symbol.

An end is seen from the side, its short side (turn angle 0) up and the side at 90 nearer the eye. Method: orthographic
projection of the line that :func:`cutplan.geometry.ends.end_line` gives; the edge of a tube is seen where its surface
turns away from the eye, half a diameter to either side of its centreline.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from math import atan2, ceil, cos, degrees, inf, radians, sin

import numpy as np

from cutplan.geometry.centreline import stretches
from cutplan.geometry.ends import end_line
from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.points import Lra, Pose, Vector, cross, dot, norm, plus, scaled, turned
from cutplan.job.model import Cut

Point = tuple[float, float]
Curve = tuple[Point, ...]
"""Points in mm: inwards from the tip, and up from the axis."""

_STEP_DEG = 3.0
_FACING = 0.25
"""Sine of the angle to the line of sight below which a tube is seen as running at the eye."""


@dataclass(frozen=True, slots=True)
class EndOutline:
    """The line of an end on the half of the tube nearer the eye and on the half behind, each from its upper edge down
    to its lower. ``radius``: of the tube's outside; ``depth``: of the throat."""

    near: Curve
    far: Curve
    radius: float
    depth: float


def end_outline(shape: EndShape, turn_deg: float = 0.0) -> EndOutline:
    """The outline of ``shape``, its short side turned up and then on by ``turn_deg``, clockwise as seen from end a to
    end b. Drawn with its tip on the left, it is end a; drawn the other way round, end b."""
    radius = shape.od / 2.0
    angles = np.arange(0.0, 180.0 + _STEP_DEG / 2.0, _STEP_DEG)
    near, far = (
        tuple(
            (float(depth), radius * cos(radians(angle)))
            for angle, depth in zip(angles, end_line(shape, half - turn_deg), strict=True)
        )
        for half in (angles, -angles)
    )
    return EndOutline(near, far, radius, shape.throat)


@dataclass(frozen=True, slots=True)
class PieceOutline:
    """A piece seen from one side, in mm, x to the right and y up. ``upper``, ``lower``: its edges from end a to end b.
    ``near``, ``far``: the line of each end on the half nearer the eye and on the half behind, from ``upper`` to
    ``lower``. ``seams``: across the tube, where each bend starts and ends. ``tips``: of both ends, on the axis, each
    with the way that it points. ``rounds``: the tube's round where it runs towards the eye or away from it.
    ``crowns``: the outermost point of each bend, and the way out from its centre."""

    upper: Curve
    lower: Curve
    near: tuple[Curve, Curve]
    far: tuple[Curve, Curve]
    seams: tuple[Curve, ...]
    tips: tuple[tuple[Point, Point], ...]
    crowns: tuple[tuple[Point, Point], ...]
    rounds: tuple[Curve, ...] = ()


class View(Enum):
    """From where a piece is seen, end a on the left. ``SIDE``: the inside of its first bend up (of a straight piece the
    short side of its end a, or of end b where a is square), the side a quarter turn on nearer the eye. ``ABOVE``: from
    there."""

    SIDE = "side"
    ABOVE = "above"


def piece_outline(
    blank: Blank, inside: Insides, view: View = View.SIDE, *, flat: bool = False, mirrored: bool = False
) -> PieceOutline:
    """The outline of ``blank`` as it is when it is finished; ``flat``: of the straight blank, before it is bent, with
    the tube that is cut off afterwards. ``inside``: where the inside of its bends is, seen from its ends. ``mirrored``:
    seen from the other side and so with end a on the right, which shows a right-hand piece as the mirror image of the
    left-hand one."""
    walk = _walked(blank, flat)
    (at_a, way_a), (at_b, way_b) = walk.stations[0], walk.stations[-1]
    short_a = turned(_UP, way_a, -inside.a) if blank.bends and inside.a is not None else _UP
    if blank.bends:
        short_b = walk.up if inside.b is None else turned(walk.up, way_b, -inside.b)
    else:
        short_b = _UP if blank.end_a.cut is Cut.SQUARE else turned(_UP, way_a, blank.turn_deg)
    if flat:
        at_a, at_b = plus(at_a, scaled(way_a, blank.cut_off_a)), plus(at_b, scaled(way_b, -blank.cut_off_b))
    radius, hand = blank.end_a.od / 2.0, -1.0 if mirrored else 1.0
    eye: Vector = (0.0, 0.0, hand) if view is View.SIDE else (0.0, 1.0, 0.0)

    def seen(point: Vector) -> Point:
        return hand * point[0], point[1] if view is View.SIDE else -hand * point[2]

    def edge(way: Vector, otherwise: Vector = _UP) -> Vector:
        """Where the upper edge of a tube that runs ``way`` is seen; ``otherwise`` where the eye looks along it."""
        side = cross(eye, way)
        return scaled(side, hand / norm(side)) if norm(side) > 1e-9 else otherwise

    def rim(shape: EndShape, at: Vector, way: Vector, short: Vector, inwards: float, behind: float) -> Curve:
        beside = cross(way, short)
        side = edge(way, short)
        first = degrees(atan2(dot(side, beside), dot(side, short)))
        turns = first + hand * behind * np.arange(0.0, 180.0 + _STEP_DEG / 2.0, _STEP_DEG)
        points = []
        for turn, depth in zip(turns, end_line(shape, turns), strict=True):
            out = plus(scaled(short, radius * cos(radians(turn))), scaled(beside, radius * sin(radians(turn))))
            points.append(seen(plus(plus(at, scaled(way, inwards * float(depth))), out)))
        return tuple(points)

    ends = ((blank.end_a, at_a, way_a, short_a, 1.0), (blank.end_b, at_b, way_b, short_b, -1.0))
    near_a, near_b = (rim(*end, 1.0) for end in ends)
    far_a, far_b = (rim(*end, -1.0) for end in ends)
    inner = walk.stations[1:-1]
    upper, lower = (
        tuple(seen(plus(at, scaled(edge(way), half * radius))) for at, way in inner) for half in (1.0, -1.0)
    )
    tips = tuple((seen(at), _less(seen(plus(at, scaled(way, -inwards))), seen(at))) for _, at, way, _, inwards in ends)
    crowns = tuple(
        (seen(plus(at, scaled(out, radius))), _less(seen(plus(at, out)), seen(at))) for at, out in walk.crowns
    )
    seams = tuple(
        tuple(seen(plus(at, scaled(edge(way), half * radius))) for half in (1.0, -1.0)) for at, way in walk.seams
    )
    facing = [norm(cross(eye, way)) for _, way in walk.stations]
    rounds = []
    for number, (at, way) in enumerate(walk.stations):
        if facing[number] < min(_FACING, *facing[max(number - 1, 0) : number + 2]) + 1e-9:
            across = scaled(edge(way, walk.up), radius)
            beside = scaled(cross(way, across), hand)
            turns = np.radians(np.arange(0.0, 360.0 + _STEP_DEG / 2.0, _STEP_DEG))
            rounds.append(tuple(seen(plus(at, plus(scaled(across, cos(t)), scaled(beside, sin(t))))) for t in turns))
    return PieceOutline(
        (near_a[0], *upper, near_b[0]),
        (near_a[-1], *lower, near_b[-1]),
        (near_a, near_b),
        (far_a, far_b),
        seams,
        tips,
        crowns,
        tuple(rounds),
    )


@dataclass(frozen=True, slots=True)
class _Walk:
    """Points of the centreline with the way it runs there; where bends start and end; the middle of each bend and the
    way out from its centre; ``up``: at end b, the inside of the last bend."""

    stations: tuple[tuple[Vector, Vector], ...]
    seams: tuple[tuple[Vector, Vector], ...]
    crowns: tuple[tuple[Vector, Vector], ...]
    up: Vector


_UP: Vector = (0.0, 1.0, 0.0)


def _walked(blank: Blank, flat: bool) -> _Walk:
    """From end a to end b: along x, the inside of the first bend up."""
    origin, way = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0)
    if flat:
        spots = [at for bend in blank.bends for at in (bend.start, bend.start + bend.arc)]
        middles = [(bend.start + bend.arc / 2.0, 0.0, 0.0) for bend in blank.bends]
        return _Walk(
            ((origin, way), ((float(blank.length), 0.0, 0.0), way)),
            tuple(((at, 0.0, 0.0), way) for at in spots),
            tuple((at, scaled(_UP, -1.0)) for at in middles),
            _UP,
        )
    edges = [blank.cut_off_a]
    for bend in blank.bends:
        edges += [bend.start, bend.start + bend.arc]
    edges.append(float(blank.length) - blank.cut_off_b)
    table = Lra(
        tuple(stop - start for start, stop in zip(edges[::2], edges[1::2], strict=True)),
        tuple(bend.angle_deg for bend in blank.bends),
        tuple(bend.radius for bend in blank.bends),
        (0.0, *(bend.rotation_deg for bend in blank.bends[1:])),
    )
    course = stretches(table, Pose(origin, way, cross(way, _UP)))
    bends = [piece for piece in course if piece.radius is not None]
    stations = [(origin, way)]
    for piece in bends:
        steps = max(2, 2 * ceil(degrees(piece.length / (piece.radius or inf)) / 2.0))
        stations += [piece.at(piece.length * step / steps) for step in range(steps + 1)]
    seams = [piece.at(along) for piece in bends for along in (0.0, piece.length)]
    halves = [(piece, piece.length / 2.0) for piece in bends]
    crowns = [(piece.at(half)[0], scaled(piece.inwards(half), -1.0)) for piece, half in halves]
    up = bends[-1].inwards(bends[-1].length) if bends else _UP
    return _Walk((*stations, course[-1].at(course[-1].length)), tuple(seams), tuple(crowns), up)


def _less(a: Point, b: Point) -> Point:
    return a[0] - b[0], a[1] - b[1]
