"""Ends that lie flat on a plate: a foot on the floor, a stay on a wall. Lengths in mm, angles in degrees.

The plate's plane is square to an axis of the job's coordinates, so the end is a mitre. Method: vector geometry.
"""

from __future__ import annotations

from math import acos, degrees

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import trimmed
from cutplan.geometry.points import Vector, any_normal, cross, dot, minus, norm, plus, scaled
from cutplan.geometry.solid import Frame
from cutplan.geometry.solid import Plane as Cutting
from cutplan.geometry.tubes import EndCut
from cutplan.job.model import Plane
from cutplan.job.schema import MOST_MITRE_DEG


def flat_end(plate: Plane, name: str, point: Vector, inward: Vector) -> tuple[float, float, Frame]:
    """Of end ``name`` at ``point``: its angle off square, how far along its axis the plate is (inwards positive), and
    its frame there. Raises GeometryError where it lies too flat."""
    up = _up(plate, inward)
    rise = dot(inward, up)
    angle = degrees(acos(min(1.0, rise)))
    if angle > MOST_MITRE_DEG:
        rule = f"is cut {trimmed(angle, 1)} degrees off square by its plane; {MOST_MITRE_DEG:g} is the most"
        raise GeometryError(rule, cure="check the nodes or points, and the plane", column="onto")
    shift = (float(plate.at) - point[plate.axis.number]) / inward[plate.axis.number]
    # The short side is the underside: where the tube leans over the plate.
    under = minus(scaled(inward, rise), up)
    short = any_normal(inward) if norm(under) < 1e-9 else scaled(under, 1.0 / norm(under))
    along = inward if name == "a" else scaled(inward, -1.0)
    return round(angle, 9), shift, Frame(plus(point, scaled(inward, shift)), short, cross(along, short), inward)


def flat_cut(frame: Frame, plate: Plane, radius: float) -> EndCut:
    """How a tube ends on its plate; its last point may be short of that."""
    up = _up(plate, frame.z)
    return EndCut(4.0 * radius / max(dot(frame.z, up), 0.1), Cutting(frame.origin, up))


def _up(plate: Plane, inward: Vector) -> Vector:
    """Square to the plate, on the tube's side."""
    normal = [0.0, 0.0, 0.0]
    normal[plate.axis.number] = 1.0 if inward[plate.axis.number] >= 0.0 else -1.0
    return normal[0], normal[1], normal[2]
