"""Members given by points as the tubes they are: the stretches near a landing, and how their ends are cut.

Lengths in mm, in the job's coordinates. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import radians, sin, tan

from cutplan.geometry.centreline import Stretch
from cutplan.geometry.landing import Landing
from cutplan.geometry.points import Vector, angle_between, minus, norm, unit
from cutplan.geometry.solid import Frame, Piece, Plane, Saddled, Target
from cutplan.job.model import Saddle

_MEET_MM = 3.2
"""Two mitred ends whose last points are this close are one joint (1/8 in)."""
_MITRE_NEAR_DEG = 1.0


@dataclass(frozen=True, slots=True)
class EndCut:
    """How a tube ends: ``more`` mm beyond its last point at the most (infinite where that is not known, so that it runs
    on), and there cut by ``plane`` or ``saddle``."""

    more: float = 0.0
    plane: Plane | None = None
    saddle: Saddled | None = None


def mitred_cut(
    angle_deg: float, radius: float, partners: Sequence[tuple[Vector, Vector]], axis: tuple[Vector, Vector]
) -> EndCut:
    """In the plane that halves the corner with the other mitred end there; square where none there has this mitre.

    ``axis`` and ``partners``: last point and unit vector inwards, of this end and of the others.
    """
    point, inward = axis
    for other_point, other_inward in partners:
        square = minus(inward, other_inward)
        if norm(minus(point, other_point)) > _MEET_MM or norm(square) < 1e-6:
            continue
        normal = unit(square)
        if abs(angle_between(normal, inward) - angle_deg) <= _MITRE_NEAR_DEG:
            return EndCut(radius * tan(radians(angle_deg + _MITRE_NEAR_DEG)), Plane(point, normal))
    return EndCut()


def saddled_cut(
    saddles: Sequence[Saddle],
    shift: float,
    shifts: Sequence[float],
    frame: Frame,
    targets: tuple[Target, ...],
    radius: float,
) -> EndCut:
    """Coped onto ``targets`` as seen from ``frame``; long enough beforehand for every saddle to be cut from it."""
    reach = max((radius + float(one.onto.od) / 2.0) / sin(radians(one.angle_deg)) for one in saddles)
    more = 2.0 * reach + abs(shift) + max((abs(one) for one in shifts), default=0.0)
    return EndCut(more, saddle=Saddled(frame, targets))


def reach_along(one: Landing, radii: float) -> float:
    """How far from the landing point a saddle is along a straight tube at the most. ``radii``: both tubes' sum."""
    return radii / sin(radians(one.saddle.angle_deg))


def near_part(one: Landing, course: Sequence[Stretch], radii: float, far_point: Vector | None) -> tuple[float, float]:
    """Where along a centreline a landing is, in mm from its end a, and how far it looks at the tube both ways.

    No further than half way to where the member's other end lands on it too, next to ``far_point``.
    """
    starts = list(accumulate((piece.length for piece in course), initial=0.0))
    here = starts[one.near.number] + one.near.along
    reach = 3.0 * reach_along(one, radii)
    if far_point is not None:
        looks = [
            (norm(minus(piece.at(piece.length * k / 8)[0], far_point)), start + piece.length * k / 8)
            for piece, start in zip(course, starts, strict=False)
            for k in range(9)
        ]
        reach = min(reach, max(abs(min(looks)[1] - here) / 2.0, radii))
    return here, reach


def straight_through(one: Landing, course: Sequence[Stretch], radius: float, onto_radius: float) -> bool:
    """Whether the whole saddle is on one straight of the tube, clear of its bends and ends."""
    piece = one.near.piece
    if piece.radius is not None:
        return False
    reach = reach_along(one, radius + onto_radius)
    return reach <= one.near.along <= piece.length - reach


def pieces_of(
    course: Sequence[Stretch], part: tuple[float, float], cut_of: Callable[[str], EndCut]
) -> tuple[Piece, ...]:
    """The stretches of a centreline that reach into ``part`` of it; ``cut_of`` gives how end "a" or "b" ends."""
    pieces = []
    start = 0.0
    for number, stretch in enumerate(course):
        first, last = number == 0, number == len(course) - 1
        low, high = start, start + stretch.length
        start = high
        if high < part[0] or low > part[1]:
            continue
        piece = stretch.piece
        if first and low > part[0] and not piece.clr:
            piece = _cut(piece, cut_of("a"), at_start=True)
        if last and high < part[1] and not piece.clr:
            piece = _cut(piece, cut_of("b"), at_start=False)
        pieces.append(piece)
    return tuple(pieces)


def _cut(piece: Piece, cut: EndCut, *, at_start: bool) -> Piece:
    lo, hi = (piece.lo - cut.more, piece.hi) if at_start else (piece.lo, piece.hi + cut.more)
    return replace(
        piece,
        lo=lo,
        hi=hi,
        ends=(True, piece.ends[1]) if at_start else (piece.ends[0], True),
        planes=piece.planes + ((cut.plane,) if cut.plane else ()),
        saddles=piece.saddles + ((cut.saddle,) if cut.saddle else ()),
    )
