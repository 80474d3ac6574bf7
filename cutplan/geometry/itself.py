"""Whether a bent tube runs into itself, as no tube can: mostly two corners in the wrong order.

Lengths in mm. Method: chords of the centreline against each other, see :func:`cutplan.geometry.nearness.gaps`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutplan.geometry.landing import Piece
from cutplan.geometry.nearness import gaps
from cutplan.geometry.points import Vector

_CHORDS = 12
_LEAST_MM = 0.5
_APART_OD = 4.0
"""Places of a centreline nearer to each other along it than so many diameters are of one bend."""


def meets_itself(course: Sequence[Piece], radius: float) -> Vector | None:
    """Where a centreline comes closer to itself than its tube is wide, away from both its ends, which may meet."""
    points, along = [course[0].at(0.0)[0]], [0.0]
    for piece in course:
        steps = _CHORDS if piece.radius is not None else 1
        for k in range(1, steps + 1):
            points.append(piece.at(piece.length * k / steps)[0])
            along.append(along[-1] + piece.length / steps)
    if len(points) < 4:
        return None
    at, mm = np.array(points), np.array(along)
    distance, s, t = gaps(at[:-1], at[1:])
    here = mm[:-1, None] + s * np.diff(mm)[:, None]
    there = mm[None, :-1] + t * np.diff(mm)[None, :]
    od = 2.0 * radius
    close = (distance < od - _LEAST_MM) & (there - here > _APART_OD * od)
    close &= ~((here < _APART_OD * od) & (mm[-1] - there < _APART_OD * od))
    if not close.any():
        return None
    row, column = np.unravel_index(int(np.where(close, distance, np.inf).argmin()), distance.shape)
    x, y, z = (at[row] + s[row, column] * (at[row + 1] - at[row])).tolist()
    return x, y, z
