"""What an end lands on, as it really is: tubes of straights and arcs that end as they end, seen from that end.

Lengths in mm. Everything is in the frame of the landing end: its origin is the cope's reference point on the member's
axis, ``x`` its short side (turn angle 0), ``y`` its clockwise side (90), ``z`` into the member. At end b that frame is
left-handed; nothing here uses the hand. A tube counts as a solid rod: what it encloses is no place for another.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

from cutplan.geometry.points import Vector, along_arc, cross, dot, minus, plus, scaled


@dataclass(frozen=True, slots=True)
class Frame:
    """A place with three unit vectors, square to each other, of either hand."""

    origin: Vector
    x: Vector
    y: Vector
    z: Vector

    @classmethod
    def of_end(cls, name: str, origin: Vector, short: Vector, inward: Vector) -> Frame:
        """That of end ``name`` of a member, by its short side and its direction into the member."""
        return cls(origin, short, cross(inward if name == "a" else scaled(inward, -1.0), short), inward)

    def vector(self, v: Vector) -> Vector:
        """``v`` by this frame's axes."""
        return dot(v, self.x), dot(v, self.y), dot(v, self.z)

    def point(self, p: Vector) -> Vector:
        """``p`` by this frame."""
        return self.vector(minus(p, self.origin))

    def frame(self, other: Frame) -> Frame:
        """``other`` by this frame."""
        return Frame(self.point(other.origin), self.vector(other.x), self.vector(other.y), self.vector(other.z))

    @property
    def back(self) -> Frame:
        """The frame by which what is given by this one is given by the axes that this one is given by."""
        columns = [(self.x[k], self.y[k], self.z[k]) for k in range(3)]
        return Frame(scaled(self.vector(self.origin), -1.0), *columns)


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane cut through ``point``; ``normal`` points to what is kept."""

    point: Vector
    normal: Vector


@dataclass(frozen=True, slots=True)
class Saddled:
    """A coped end: what is kept is beyond its own saddle, as seen from ``frame``, that end's."""

    frame: Frame
    targets: tuple[Target, ...]


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a tube's centreline, from ``lo`` to ``hi`` mm along it from ``point``.

    A straight along ``way``; or, where ``clr`` is not 0, an arc of that radius, of half a turn at most, its centre from
    ``point`` towards ``inwards``. ``ends``: whether the tube itself ends at lo, at hi, by a square or plane cut.
    ``planes``, ``saddles``: the cuts of the tube's ends, which a straight alone has.
    """

    point: Vector
    way: Vector
    lo: float
    hi: float
    clr: float = 0.0
    inwards: Vector = (0.0, 0.0, 0.0)
    ends: tuple[bool, bool] = (False, False)
    planes: tuple[Plane, ...] = ()
    saddles: tuple[Saddled, ...] = ()

    @property
    def centre(self) -> Vector:
        """Of an arc."""
        return plus(self.point, scaled(self.inwards, self.clr))

    def at(self, along: float) -> tuple[Vector, Vector]:
        """Point and direction ``along`` mm from ``point``."""
        if not self.clr:
            return plus(self.point, scaled(self.way, along)), self.way
        return along_arc(self.point, self.way, self.inwards, self.clr, along)


@dataclass(frozen=True, slots=True)
class Target:
    """A tube landed on: its outside ``radius``, its stretches near the landing, what it is called."""

    radius: float
    pieces: tuple[Piece, ...]
    name: str = ""


def seen_from(frame: Frame, target: Target) -> Target:
    """``target`` by ``frame``, which is given in the same axes as it."""
    return replace(target, pieces=tuple(_seen(frame, piece) for piece in target.pieces))


def _seen(frame: Frame, piece: Piece) -> Piece:
    return replace(
        piece,
        point=frame.point(piece.point),
        way=frame.vector(piece.way),
        inwards=frame.vector(piece.inwards),
        planes=tuple(Plane(frame.point(one.point), frame.vector(one.normal)) for one in piece.planes),
        saddles=tuple(replace(one, frame=frame.frame(one.frame)) for one in piece.saddles),
    )


_OTHER_HAND = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0))


def other_hand(target: Target) -> Target:
    """``target`` in the mirror: every turn angle the other way round."""
    return seen_from(_OTHER_HAND, target)


def run_on(targets: tuple[Target, ...], coped_too: bool) -> tuple[Target, ...]:
    """The same tubes running straight on where they end; where they are coped onto others only if ``coped_too``."""
    return tuple(
        replace(target, pieces=tuple(_run_on(piece, coped_too) for piece in target.pieces)) for target in targets
    )


def _run_on(piece: Piece, coped_too: bool) -> Piece:
    at_lo, at_hi = piece.ends
    return replace(
        piece,
        lo=-inf if at_lo else piece.lo,
        hi=inf if at_hi else piece.hi,
        planes=(),
        saddles=() if coped_too else piece.saddles,
    )
