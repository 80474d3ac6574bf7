"""Ends that are flat on a plate: a foot on the floor, a stay on a sloping wall. Lengths in mm, angles in degrees.

Cut along a plane, an end is a mitre: off square by the angle between the tube and the plane's normal, its short side
where the tube leans over the plate. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import acos, degrees, radians, tan

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import trimmed
from cutplan.geometry.points import Vector, any_normal, cross, dot, minus, norm, plus, scaled, unit
from cutplan.geometry.solid import Frame
from cutplan.geometry.solid import Plane as Cutting
from cutplan.geometry.tubes import EndCut
from cutplan.job.model import MOST_MITRE_DEG, Axis, Plate


@dataclass(frozen=True, slots=True)
class Face:
    """A plane in space: a point of it, and a unit vector square to it."""

    point: Vector
    normal: Vector

    def up(self, inward: Vector) -> Vector:
        """Square to it, on the side of a tube that goes off ``inward``."""
        return self.normal if dot(self.normal, inward) >= 0.0 else scaled(self.normal, -1.0)


def face_of(plate: Plate, at: Mapping[str, Vector], within: float) -> Face:
    """Where ``plate`` is. ``at``: the nodes; ``within``: how far out they may be. Raises GeometryError where its three
    nodes are that near to one line."""
    if len(plate.nodes) == 3:
        one, two, three = (at[name] for name in plate.nodes)
        normal = cross(minus(two, one), minus(three, one))
        longest = max(norm(minus(two, one)), norm(minus(three, one)), norm(minus(three, two)))
        if norm(normal) <= max(within, 1e-6) * longest:
            rule = "is not a plane: its nodes are on one line, or nearly"
            raise GeometryError(rule, " + ".join(plate.nodes), "take three that are well apart both ways", "onto")
        return Face(one, unit(normal))
    level = _axis(plate.axis)
    through = at[plate.nodes[0]] if plate.nodes else scaled(level, float(plate.at))
    if plate.along is None:
        return Face(through, level)
    return Face(through, unit(minus(level, scaled(_axis(plate.along), tan(radians(plate.rise_deg))))))


def _axis(axis: Axis) -> Vector:
    return float(axis is Axis.X), float(axis is Axis.Y), float(axis is Axis.Z)


def flat_end(face: Face, name: str, point: Vector, inward: Vector) -> tuple[float, float, Frame]:
    """Of end ``name`` at ``point``: its angle off square, how far along its axis the plate is (inwards positive), and
    its frame there. Raises GeometryError where it is too flat."""
    up = face.up(inward)
    rise = dot(inward, up)
    angle = degrees(acos(min(1.0, rise)))
    if angle > MOST_MITRE_DEG:
        rule = f"is cut {trimmed(angle, 1)} degrees off square by its plane; {MOST_MITRE_DEG:g} is the most"
        raise GeometryError(rule, cure="check the nodes or points, and the plane", column="onto")
    shift = dot(minus(face.point, point), up) / rise
    # The short side is the underside: where the tube leans over the plate.
    under = minus(scaled(inward, rise), up)
    short = any_normal(inward) if norm(under) < 1e-9 else unit(under)
    return round(angle, 9), shift, Frame.of_end(name, plus(point, scaled(inward, shift)), short, inward)


def flat_cut(frame: Frame, face: Face, radius: float) -> EndCut:
    """How a tube ends on its plate; its last point may be short of that."""
    up = face.up(frame.z)
    return EndCut(4.0 * radius / max(dot(frame.z, up), 0.1), Cutting(frame.origin, up))
