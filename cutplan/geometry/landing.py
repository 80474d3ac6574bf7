"""Where a member given by points lands on another: angle, offset, turn and, on a bend, the arc, from coordinates.

Lengths in mm, angles in degrees. The member's end is a half line from its last point inwards; the other member is
its whole centreline, straights and arcs. Method: Newton's, on the place along each where the two come nearest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import acos, atan2, cos, degrees, dist, sin

from cutplan.geometry.centreline import Stretch
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.points import (
    Vector,
    cross,
    dot,
    minus,
    norm,
    plus,
    scaled,
    turn_between,
)
from cutplan.job.model import Member, Saddle, Tube

_LOOKS_PER_PIECE = 24
_STEPS = 60
_SETTLED_MM = 1e-11


@dataclass(frozen=True, slots=True)
class Nearest:
    """Where an end's axis comes nearest another centreline."""

    inwards: float
    """Of the member's nearest point from its end point, along its axis into the member."""
    point: Vector
    way: Vector
    number: int
    """Of the piece it is on, from 0."""
    piece: Stretch
    along: float


@dataclass(frozen=True, slots=True)
class Landing:
    """A saddle found from coordinates. ``acute``: unit vector to its short side; ``near``: where the axes meet."""

    saddle: Saddle
    acute: Vector
    near: Nearest
    moved: Vector = (0.0, 0.0, 0.0)
    """What the member's axis is taken to have been moved by, for its saddle to be on the tube."""
    offset: float = 0.0
    """Between the axes by the points, before that."""

    @property
    def shift(self) -> float:
        """Of the nearest point from the member's end point, inwards positive."""
        return self.near.inwards


def nearest(end_point: Vector, inward: Vector, pieces: list[Stretch], name: str, beyond: float = 0.0) -> Nearest:
    """Where the axis from ``end_point`` along ``inward`` comes nearest the centreline ``pieces``, next to the end.

    Raises GeometryError where that is more than ``beyond`` mm past the centreline's ends.
    """
    _, number, along = min(
        (norm(minus(piece.at(along)[0], end_point)), number, along)
        for number, piece in enumerate(pieces)
        for along in _looks(piece, end_point)
    )
    for _ in range(_STEPS):
        piece = pieces[number]
        point, way = piece.at(along)
        gap = minus(point, end_point)
        lean = dot(inward, way)
        square = max(1.0 - lean * lean, 1e-6)
        step = (lean * dot(gap, inward) - dot(gap, way)) / square
        along += step
        if along < 0.0 and number > 0:
            number -= 1
            along = max(along + pieces[number].length, 0.0)
        elif along > piece.length and number + 1 < len(pieces):
            along = min(along - piece.length, pieces[number + 1].length)
            number += 1
        elif abs(step) < _SETTLED_MM:
            break
    piece = pieces[number]
    past = max(-along, along - piece.length)
    if past > beyond + 1e-6:
        raise GeometryError(
            f"by the points, this end at <0> lands {{0}} beyond an end of {name}; either of the two may be out",
            cure="check the points of both",
            column="onto",
            lengths=(past,),
            places=(end_point,),
        )
    point, way = piece.at(along)
    return Nearest(dot(minus(point, end_point), inward), point, way, number, piece, along)


def _looks(piece: Stretch, point: Vector) -> list[float]:
    """Places along a piece, one of which is about the nearest to ``point``: on a straight the nearest itself."""
    if piece.radius is None:
        return [min(max(dot(minus(point, piece.start), piece.way), 0.0), piece.length)]
    return [piece.length * k / _LOOKS_PER_PIECE for k in range(_LOOKS_PER_PIECE + 1)]


def landing(
    asked: Saddle,
    end_point: Vector,
    inward: Vector,
    from_a: bool,
    pieces: list[Stretch],
    other: Member,
    tube: Tube,
    od: float,
    within: float = 0.0,
) -> Landing:
    """The saddle of an end at ``end_point`` on ``other``, of ``tube`` and with the centreline ``pieces``: its angle,
    offset and place from coordinates.

    ``inward``: unit vector from the end into the member; ``from_a``: it is end a. Where the saddle would reach past the
    tube's side by ``within`` mm at most, the axes are taken to pass that much nearer each other. Raises GeometryError
    where the members do not meet, or run too much alike to be coped.
    """
    near = nearest(end_point, inward, pieces, other.mark, (float(tube.od) + od) / 2.0)
    lean = dot(inward, near.way)
    along = near.way if lean >= 0.0 else scaled(near.way, -1.0)
    theta = acos(min(abs(lean), 1.0))
    if degrees(theta) < 1e-3:
        raise GeometryError(f"by the points, this member runs along {other.mark}", column="onto")
    own = plus(end_point, scaled(inward, near.inwards))
    gap = minus(near.point, own)
    reach = (float(tube.od) + od) / 2.0
    if norm(gap) > reach or abs(near.inwards) > 2.0 * reach / sin(theta):
        spot = min(
            (each.at(k)[0] for each in pieces for k in _looks(each, end_point)), key=lambda at: dist(at, end_point)
        )
        raise GeometryError(
            f"by the points, this end at <0> does not meet {other.mark}: its axis is {{0}} away, nearest at <1>; "
            "either of the two may be out",
            cure="check the points of both",
            column="onto",
            lengths=(dist(spot, end_point),),
            places=(end_point, spot),
        )
    acute = scaled(minus(along, scaled(inward, cos(theta))), 1.0 / sin(theta))
    clockwise = cross(inward if from_a else scaled(inward, -1.0), acute)
    onto = replace(asked.onto, od=tube.od, clr=None, bend=None, arc_deg=None, side_deg=0.0)
    if near.piece.radius is not None:
        outwards = scaled(near.piece.inwards(near.along), -1.0)
        away = minus(scaled(inward, sin(theta)), scaled(acute, cos(theta)))
        onto = replace(
            onto,
            clr=Fraction(near.piece.radius),
            bend=near.piece.bend,
            arc_deg=degrees(near.along / near.piece.radius),
            side_deg=degrees(atan2(dot(outwards, clockwise), dot(outwards, away))),
        )
    offset = dot(gap, clockwise)
    room = (float(tube.od) - od) / 2.0
    over = abs(offset) - room if room >= 0.0 else 0.0
    kept = offset
    if 0.0 < over <= within:
        kept = room if offset > 0.0 else -room
    saddle = Saddle(onto, _exact(degrees(theta)), Fraction(round(kept * 10**9), 10**9))
    return Landing(saddle, acute, near, scaled(clockwise, offset - kept), offset)


def _exact(angle_deg: float) -> float:
    """A whole number of millionths of a degree where the angle is one but for noise."""
    rounded = round(angle_deg, 6)
    return rounded if abs(rounded - angle_deg) < 1e-9 else angle_deg


def turned_landings(landings: list[Landing], way: Vector) -> tuple[tuple[Saddle, ...], tuple[float, ...]]:
    """The saddles of one end, each turned from the first about ``way`` (end a to end b), and their shifts."""
    first = landings[0]
    turns = [0.0, *(turn_between(first.acute, one.acute, way) for one in landings[1:])]
    # Half a turn is 180, on whichever side of it noise leaves it.
    turns = [180.0 if turn < -180.0 + 1e-9 else turn for turn in turns]
    saddles = tuple(replace(one.saddle, turn_deg=turn) for one, turn in zip(landings, turns, strict=True))
    return saddles, tuple(one.shift - first.shift for one in landings)
