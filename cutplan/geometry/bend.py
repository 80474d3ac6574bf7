"""Bends: setback, arc and stretch. Lengths in mm (or any one unit), angles in degrees of turn.

Reference points: the *tangent point* where a straight meets a bend; the *apex* where the two centrelines cross;
the *outside* corner where the two outer faces cross, read along the straight's axis.
"""

from __future__ import annotations

from math import pi, radians, tan

from cutplan.job.model import To


def setback_factor(angle_deg: float) -> float:
    """K = tan(A/2): apex to tangent point for a radius of 1 (FAA AC 43.13-1B, table 4-7). 0 <= A < 180."""
    if not 0.0 <= angle_deg < 180.0:
        raise ValueError(f"an apex exists for 0 to less than 180 degrees, got {angle_deg}")
    return tan(radians(angle_deg) / 2.0)


def setback(to: To, angle_deg: float, radius: float, od: float) -> float:
    """The distance between the point a straight was measured to and its tangent point (0 for ``tangent``)."""
    if to is To.TANGENT:
        return 0.0
    reach = radius if to is To.APEX else radius + od / 2.0
    return reach * setback_factor(angle_deg)


def arc(angle_deg: float, radius: float) -> float:
    """Length of the centreline round the bend: radius times the angle in radians."""
    return radius * angle_deg * pi / 180.0


def growth(angle_deg: float, stretch_per_90: float) -> float:
    """What the tube grows in the bend: the growth measured on a 90° test bend, in proportion to the angle."""
    return stretch_per_90 * angle_deg / 90.0
