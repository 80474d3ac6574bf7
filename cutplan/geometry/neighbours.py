"""What an end is against, as straight rods in the frame of a body: to be shown beside it, never to be cut by.

Lengths in mm. A tube landed on that is bent is shown as the straight that touches it there; of a mitre, the other half
of its corner, or the plate that it is flat on. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, radians, sin

from cutplan.geometry.bodies import BodyEnd
from cutplan.geometry.byhand import axis_of
from cutplan.geometry.ends import end_line
from cutplan.geometry.model import EndShape
from cutplan.geometry.points import Vector, minus, plus, scaled
from cutplan.geometry.solid import Frame
from cutplan.job.model import Cut

_PLATE = 1.3
"""How far a plate is shown to each side of its tube's axis, in diameters."""


@dataclass(frozen=True, slots=True)
class Rod:
    """A straight tube through ``point`` along ``way``. ``name``: as the job calls it. ``cut``: it begins in the plane
    through ``point`` square to this (none: it runs on both ways). ``plate``: it is a plate, of which that plane is the
    face. ``offset``: from the axis of the end to its own, where they pass each other."""

    point: Vector
    way: Vector
    radius: float
    name: str
    cut: Vector | None = None
    plate: bool = False
    offset: Vector = (0.0, 0.0, 0.0)


def neighbours(shape: EndShape, end: BodyEnd) -> Iterator[Rod]:
    """The tubes that ``end``, cut to ``shape``, is against."""
    if shape.cut is Cut.SQUARE:
        return
    # The cut is known from the end's origin and, by its shape, from its tip; the tip from where the axes meet.
    tip = float(end.lines[-1, 0]) - float(end_line(shape, 0.0))
    centre = plus(end.origin, scaled(end.z, tip - shape.tip_from_centre))
    if shape.plate:
        lean = radians(shape.angle_deg)
        down = minus(scaled(end.x, sin(lean)), scaled(end.z, cos(lean)))
        yield Rod(centre, down, _PLATE * shape.od, "", down, plate=True)
        return
    if shape.cut is Cut.MITRE:
        double = radians(2.0 * shape.angle_deg)
        way = plus(scaled(end.z, -cos(double)), scaled(end.x, sin(double)))
        yield Rod(centre, way, shape.od / 2.0, "", minus(way, end.z))
        return
    from_end = Frame(centre, end.x, end.y, end.z).back
    for one, shift in shape.shifted_saddles:
        axis, name = axis_of(one, shift), one.onto.name or one.onto.member or ""
        point, way = from_end.point(axis.point), from_end.vector(axis.way)
        offset = minus(point, plus(centre, scaled(end.z, shift)))
        yield Rod(point, way, float(one.onto.od) / 2.0, name, offset=offset)
