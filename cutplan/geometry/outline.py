"""Outlines of ends as they are cut, for pictures: the true line of each, projected, never a symbol.

An end is seen from the side, its short side (turn angle 0) up and the side at 90 nearer the eye. Method: orthographic
projection of the line that :func:`cutplan.geometry.ends.end_line` gives.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians

import numpy as np

from cutplan.geometry.ends import end_line
from cutplan.geometry.model import EndShape

Curve = tuple[tuple[float, float], ...]
"""Points in mm: inwards from the tip, and up from the axis."""

_STEP_DEG = 3.0


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
