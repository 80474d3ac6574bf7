"""The saddle of a tube landing on a bend, where the other tube is a torus.

Same reference and senses as :mod:`cutplan.geometry.saddle`: distances along the member's axis from its point
nearest the tangent line of the other tube's axis at the landing point. ``side_deg`` is the direction the member
comes from: 0 from outside the bend, 180 from inside; at 90 the bend's centre lies towards phi = 270, at 270 (or
-90) towards phi = 90.

Method: no formula is used but the distance of a point from the bend's centreline (a circle). Each generator is
followed inwards from clear of the tube by steps no longer than the distance left to its surface, which cannot leap
over it (Hart, "Sphere tracing", 1996); from there to its point nearest the centreline (Gauss-Newton); and out again
to the surface, by such steps and then by Newton's, which is exact where the generator all but touches it, too.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, radians, sin

import numpy as np

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.saddle import SLACK_MM, Array

_NEAREST_STEPS = 12
_SAFE_STEPS = 24
_NEWTON_STEPS = 20
_REACH = 3.0  # in sums of both radii over sin(angle); on a straight tube the saddle ends within one
_LOOKS = 241
_TOUCHING = 1e-6  # sine of the angle under which a generator counts as touching the surface


@dataclass(frozen=True, slots=True)
class _Generators:
    """Generators of the member, as points ``start + z·way`` in axes of the bend at the landing point.

    The axes: along the tube, towards the bend's centre, square to the bend's plane.
    """

    clr: float
    along: Array
    centre: Array
    plane: Array
    way: tuple[float, float, float]

    def at(self, z: Array) -> tuple[Array, Array, Array, Array]:
        """Of the points at ``z``: (radial, square) components of the distance from the centreline, and their rates."""
        way_along, way_centre, way_plane = self.way
        along = self.along + z * way_along
        centre = self.centre + z * way_centre
        inwards = self.clr - centre
        radius = np.hypot(along, inwards)
        rate = (along * way_along - inwards * way_centre) / np.maximum(radius, 1e-12)
        # radius - clr without the loss of figures that the plain difference has on a gentle bend
        radial = (along**2 + centre**2 - 2.0 * self.clr * centre) / (radius + self.clr)
        return radial, self.plane + z * way_plane, rate, np.full_like(rate, way_plane)

    def distance(self, z: Array) -> Array:
        """Of the points at ``z`` from the bend's centreline."""
        radial, square, _, _ = self.at(z)
        return np.asarray(np.hypot(radial, square), dtype=float)


def torus_saddle(
    phi_deg: Array,
    radius_mm: float,
    onto_radius_mm: float,
    angle_deg: float,
    clr_mm: float,
    side_deg: float = 0.0,
    offset_mm: float = 0.0,
) -> Array:
    """Distance in mm to the saddle on a bend of centreline radius ``clr_mm``, at each turn angle.

    The other arguments, the reference point and minus infinity for a miss are those of
    :func:`cutplan.geometry.saddle.saddle`; ``angle_deg`` and ``offset_mm`` are taken to the tangent line of the
    other tube's axis at the landing point. Raises GeometryError where the bend is tighter than its tube is wide, or
    where the member runs along inside the bend and comes out only at its far side.
    """
    if clr_mm <= onto_radius_mm:
        rule = "the bend landed on has a centreline radius of {0}, not more than half its tube's OD"
        raise GeometryError(rule, column="onto", lengths=(clr_mm,))
    lines = _generators(phi_deg, radius_mm, angle_deg, clr_mm, side_deg, offset_mm)
    axis = _Generators(clr_mm, *(np.zeros(1),) * 3, lines.way)
    z = _inwards(lines, _clear_of_the_tube(axis, lines, onto_radius_mm, radius_mm), onto_radius_mm)
    for _ in range(_NEAREST_STEPS):
        radial, square, radial_rate, square_rate = lines.at(z)
        z = z - (radial * radial_rate + square * square_rate) / (radial_rate**2 + square_rate**2)
    missed = lines.distance(z) > onto_radius_mm + SLACK_MM
    return np.where(missed, -np.inf, _outwards(lines, z, onto_radius_mm))


def torus_reach(
    radius_mm: float,
    onto_radius_mm: float,
    angle_deg: float,
    clr_mm: float,
    side_deg: float = 0.0,
    offset_mm: float = 0.0,
) -> float:
    """How far along the bend the saddle reaches from the landing point, in degrees of its arc, on the wider side.

    The arguments, and the errors raised, are those of :func:`torus_saddle`.
    """
    phi = np.arange(0.0, 360.0, 1.0)
    z = torus_saddle(phi, radius_mm, onto_radius_mm, angle_deg, clr_mm, side_deg, offset_mm)
    lines = _generators(phi, radius_mm, angle_deg, clr_mm, side_deg, offset_mm)
    met = np.isfinite(z)
    along = lines.along[met] + z[met] * lines.way[0]
    inwards = clr_mm - lines.centre[met] - z[met] * lines.way[1]
    return float(np.degrees(np.max(np.abs(np.arctan2(along, inwards)), initial=0.0)))


def _generators(
    phi_deg: Array, radius_mm: float, angle_deg: float, clr_mm: float, side_deg: float, offset_mm: float
) -> _Generators:
    phi, theta, side = np.radians(phi_deg), radians(angle_deg), radians(side_deg)
    # In axes along the tube (T), square to it in the plane of both tangent lines (S), and square to both (W).
    t0, t1 = radius_mm * np.cos(phi) * sin(theta), cos(theta)
    s0, s1 = -radius_mm * np.cos(phi) * cos(theta), sin(theta)
    w0 = radius_mm * np.sin(phi) - offset_mm
    return _Generators(
        clr_mm,
        t0,
        -(s0 * cos(side) + w0 * sin(side)),
        s0 * sin(side) - w0 * cos(side),
        (t1, -s1 * cos(side), s1 * sin(side)),
    )


def _clear_of_the_tube(axis: _Generators, lines: _Generators, onto_radius: float, radius: float) -> Array:
    """A place on each generator that is out of the tube, before it would meet the bend a second time."""
    z = np.linspace(0.0, _REACH * (onto_radius + radius) / hypot(*axis.way[1:]), _LOOKS)
    away = axis.distance(z)
    falling = np.nonzero(np.diff(away) < 0.0)[0]
    start = np.full_like(lines.along, z[falling[0]] if len(falling) else z[-1])
    if np.any(lines.distance(start) <= onto_radius):
        raise GeometryError(
            "part of the member runs along inside the bend it lands on and comes out only at its far side",
            cure="a steeper angle, or land on the straight",
            column="onto",
        )
    return start


def _inwards(lines: _Generators, z: Array, onto_radius: float) -> Array:
    for _ in range(_SAFE_STEPS):
        z = z - np.maximum(lines.distance(z) - onto_radius, 0.0)
    return z


def _outwards(lines: _Generators, z: Array, onto_radius: float) -> Array:
    for step in range(_SAFE_STEPS + _NEWTON_STEPS):
        radial, square, radial_rate, square_rate = lines.at(z)
        distance = np.maximum(np.hypot(radial, square), 1e-12)
        left = onto_radius - distance
        if step < _SAFE_STEPS:
            z = z + np.maximum(left, 0.0)
        else:
            rate = (radial * radial_rate + square * square_rate) / distance
            # Where the generator only touches the surface there is no rate, and nothing left to go.
            z = z + np.where(rate > _TOUCHING, left / np.maximum(rate, _TOUCHING), 0.0)
    return z
