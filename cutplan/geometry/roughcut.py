"""Two straight cuts that rough out a saddle, as small linear programs, and saw settings from their answers.

A straight cut is a plane across the tube. Along the generator at turn angle φ of a surface of radius r it is
``a + b·r·cos φ + c·r·sin φ`` from the tip, inwards positive; what is nearer the tip falls off. It spares the
saddle where it is nowhere deeper than the saddle line, on the outside and on the inside of the wall. For given
generators that a cut is to clear, the greatest area sawn is a linear program in a, b and c. One cut starts on
each side of the end (about φ = 0, the short side, and φ = 180).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.ends import end_line
from cutplan.geometry.model import EndShape
from cutplan.geometry.saddle import around

Row = tuple[tuple[float, ...], float]

_FINE = np.arange(0.0, 360.0, 0.25)
_AS_MUCH_MM = 0.05
_KEPT_MM = 5.0
"""A mark nearer than that to a cut may go with it: the kerf, and a slip of the saw."""
_EVERY = 12
_COARSE = _FINE[::_EVERY]
_SIDES = 32
"""Of the polygon that takes the place of the circle of all cuts a saw can swing to."""


@dataclass(frozen=True, slots=True)
class Allowed:
    """The cuts (a, b, c) that spare a saddle: each of ``rows`` says coefficients · (a, b, c) <= limit."""

    rows: tuple[Row, ...]
    bounds: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class RoughCut:
    """One straight cut. ``saw_deg``: the saw's angle, 0 = square. ``turn_deg``: the generator turned uppermost, where
    the cut starts deepest, in the turn angles of the saddle line. ``start``: mm from the tip, on that generator."""

    saw_deg: float
    turn_deg: float
    start: float


def allowed_cuts(shape: EndShape, wall: float, swing_deg: float) -> Allowed:
    """The cuts that spare the saddle of ``shape``, ``wall`` in mm, none steeper than ``swing_deg`` off square, to which
    the saw swings."""
    outside, inside = shape.od / 2, shape.od / 2 - wall
    rows: list[Row] = []
    for radius in (outside, inside):
        line = _fine_line(shape, radius)[::_EVERY]
        places = _across(_COARSE, radius)
        rows += [((1.0, float(x), float(y)), float(limit)) for (x, y), limit in zip(places, line, strict=True)]
    steep = math.tan(math.radians(swing_deg))
    for k in range(_SIDES):
        way = 2.0 * math.pi * k / _SIDES
        rows.append(((0.0, math.cos(way), math.sin(way)), steep * math.cos(math.pi / _SIDES)))
    return Allowed(tuple(rows), ((-20 * outside, 20 * outside), (-steep, steep), (-steep, steep)))


def area_sawn(shape: EndShape, clears: NDArray[np.bool_]) -> tuple[float, ...]:
    """Of (a, b, c) the coefficients whose sum grows with the area that a cut saws off on the generators ``clears`` (a
    flag for each of :func:`generators`)."""
    wanted = _across(_COARSE[clears], shape.od / 2)
    return float(len(wanted)), float(wanted[:, 0].sum()), float(wanted[:, 1].sum())


def generators() -> NDArray[np.float64]:
    """The turn angles, in degrees, that a program looks at."""
    return _COARSE.copy()


def sides() -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """What the two cuts start from: the half of the tube about the short side, and that about the long side."""
    short = np.cos(np.radians(_COARSE)) > 0
    return short, ~short


def depths(values: tuple[float, ...], phi_deg: NDArray[np.float64], radius: float) -> NDArray[np.float64]:
    """How far from the tip (mm) a cut is along each generator of a surface of ``radius`` mm."""
    across = _across(phi_deg, radius)
    depth: NDArray[np.float64] = values[0] + across @ np.asarray(values[1:])
    return depth


def spared(values: tuple[float, ...], shape: EndShape, wall: float) -> tuple[float, ...]:
    """The cut moved out to where it spares the saddle between the program's generators too (each quarter degree)."""
    over = max(
        float((depths(values, _FINE, radius) - _fine_line(shape, radius)).max())
        for radius in (shape.od / 2, shape.od / 2 - wall)
    )
    return (values[0] - max(over, 0.0), *values[1:])


def rough_cut_from(values: tuple[float, ...], shape: EndShape) -> RoughCut | None:
    """The saw settings of a cut; None where it would saw nothing off (less than 0.5 mm)."""
    a, b, c = values
    steep = math.hypot(b, c)
    start = a + steep * shape.od / 2
    if start < 0.5:
        return None
    # Rounded, so that a hair below 0 does not read 360.
    return RoughCut(math.degrees(math.atan(steep)), round(math.degrees(math.atan2(c, b)), 6) % 360.0, start)


def steepest_cut(mitre: EndShape, swing_deg: float) -> RoughCut:
    """Of a mitre steeper than a saw swings, the cut that takes the most off it: through its tip, at ``swing_deg``. No
    other plane as flat as that, which keeps beyond the mitre's line all round, is anywhere deeper."""
    return RoughCut(swing_deg, 0.0, mitre.od * math.tan(math.radians(swing_deg)))


def flatter_start(shape: EndShape, wall: float, turn_deg: float, saw_deg: float) -> float:
    """How far in from the tip (mm) a cut at ``saw_deg`` may start on the line at ``turn_deg`` and still spare the
    saddle of ``shape`` on both surfaces of its wall: for a saw that does not swing to what a rough cut asks for."""
    steep, outside = math.tan(math.radians(saw_deg)), shape.od / 2.0
    facing = np.cos(np.radians(_FINE - turn_deg))
    return min(
        float((_fine_line(shape, radius) + steep * (outside - radius * facing)).min())
        for radius in (outside, outside - wall)
    )


def depth_at(cut: RoughCut, turn_deg: float, od: float) -> float:
    """How far in from the tip (mm) ``cut`` is on the outside at ``turn_deg``; below 0 where it takes nothing off."""
    return float(_depths_of(cut, np.array(turn_deg), od))


def _depths_of(cut: RoughCut, turn_deg: NDArray[np.float64], od: float) -> NDArray[np.float64]:
    across = od / 2.0 * (1.0 - np.cos(np.radians(turn_deg - cut.turn_deg)))
    return np.asarray(cut.start - math.tan(math.radians(cut.saw_deg)) * across)


def in_order(cuts: Sequence[RoughCut], od: float) -> tuple[RoughCut, ...]:
    """Two rough cuts in an order in which the first spares the mark of the second: what starts nearer the tip can take
    no mark that is further in."""
    if len(cuts) == 2 and cuts[1].start < min(cuts[0].start, depth_at(cuts[0], cuts[1].turn_deg, od) + _KEPT_MM):
        return cuts[1], cuts[0]
    return tuple(cuts)


def left_to_grind(shape: EndShape, cuts: Sequence[RoughCut]) -> float:
    """How far (mm) the saddle's line is beyond these cuts at the most, on the outside: what is left to grind."""
    return float(_left(shape, cuts).max())


def grind_most_at(shape: EndShape, cuts: Sequence[RoughCut]) -> float:
    """Where round the tube, in degrees, most is left to grind after these cuts; the nearest to 0 where it is as much
    in several places."""
    left = _left(shape, cuts)
    places = _FINE[left >= left.max() - _AS_MUCH_MM]
    return float(min(places, key=lambda turn: min(turn % 360.0, -turn % 360.0)) % 360.0)


def _left(shape: EndShape, cuts: Sequence[RoughCut]) -> NDArray[np.float64]:
    """What is left to grind (mm) at each quarter degree."""
    line = _fine_line(shape, shape.od / 2)
    sawn = [np.zeros_like(line), *(_depths_of(cut, _FINE, shape.od) for cut in cuts)]
    return np.asarray(line - np.maximum.reduce(sawn))


@lru_cache(maxsize=512)
def _fine_line(shape: EndShape, radius_mm: float) -> NDArray[np.float64]:
    """The saddle line at each quarter degree: slow where tubes are coped in turn, and asked for by every cut."""
    return end_line(shape, _FINE, radius_mm=radius_mm)


def _across(phi_deg: NDArray[np.float64], radius: float) -> NDArray[np.float64]:
    return np.column_stack(around(radius, phi_deg))
