"""The saddle: the line along which a round tube meets the outside of another straight round tube.

Distances run along the member's axis from the point nearest the other tube's axis, into the member. Turn
angles ``phi`` are about the member's axis: 0 on the acute side, positive clockwise as seen from end a of the
member looking to end b (at either end). A positive offset puts the other tube's axis towards ``phi`` = 90.

Method: a point of the member's surface is put into the equation of the other cylinder and solved for the
distance along the axis; descriptive geometry of two cylinders, as in any text on it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Line = Callable[[NDArray[np.intp]], Callable[[Array], Array]]
"""Several lines at once: ``line(rows)`` gives their distances at ``phi``, degrees, that broadcasts against the rows."""

SLACK_MM = 1e-6
"""How far a tube may reach past what it lands on before it counts as missing it."""

_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
_NARROWINGS = 36  # a bracket of 8 degrees shrinks to 2.4e-7 of a degree: a millionth of a millimetre even at a kink


def around(radius_mm: float | Array, phi_deg: Array) -> tuple[Array, Array]:
    """x, towards phi = 0, and y, towards phi = 90, of places at each turn angle on a tube of that radius."""
    phi = np.radians(phi_deg)
    return radius_mm * np.cos(phi), radius_mm * np.sin(phi)


def saddle(phi_deg: Any, radius_mm: Any, onto_radius_mm: Any, angle_deg: Any, offset_mm: Any = 0.0) -> Array:
    """Distance in mm from the axis point nearest the other tube's axis to the saddle, at each turn angle.

    ``radius_mm``: of the member's surface (outside for a blank; inside for the inner wall's line; 0 for the
    axis itself). ``onto_radius_mm``: outside radius of the tube landed on. ``angle_deg``: between the axes, 90 a
    square tee. ``offset_mm``: between the axes, positive towards phi = 90. All broadcast against each other.
    Where a generator misses the other tube the distance is minus infinity (nothing is cut there).
    """
    theta = np.radians(np.asarray(angle_deg, dtype=float))
    phi = np.radians(np.asarray(phi_deg, dtype=float))
    return _saddle(phi, radius_mm, onto_radius_mm, np.cos(theta), np.sin(theta), offset_mm)


def saddle_lines(radius_mm: Array, onto_radius_mm: Array, angle_deg: Array, offset_mm: Array) -> Line:
    """The lines of many saddles for :func:`extremes`, each given as for :func:`saddle`."""
    theta = np.radians(angle_deg)
    columns = (radius_mm, onto_radius_mm, np.cos(theta), np.sin(theta), offset_mm)

    def line(rows: NDArray[np.intp]) -> Callable[[Array], Array]:
        picked = [column[rows] for column in columns]
        return lambda phi: _saddle(np.radians(phi), *picked)

    return line


def _saddle(phi: Array, radius: Any, onto_radius: Any, cosine: Any, sine: Any, offset: Any) -> Array:
    across = radius * np.sin(phi) - offset
    under = onto_radius**2 - across**2
    distance = (radius * np.cos(phi) * cosine + np.sqrt(np.maximum(under, 0.0))) / sine
    missed = under < -2.0 * onto_radius * SLACK_MM
    return np.where(missed, -np.inf, distance) if missed.any() else np.asarray(distance)


def extremes(line: Line, count: int, step_deg: float = 1.0) -> tuple[Array, Array, Array, Array]:
    """Lowest and highest distance of ``count`` lines, with the turn angles (degrees, 0 to 360) they are at.

    Returns (lowest, its phi, highest, its phi), each of shape (count,). Every local extreme of a grid of
    ``step_deg`` is narrowed by golden sections (Kiefer, 1953), which also closes in on a kink. Of equal
    extremes the one with the smallest phi is given.
    """
    phi = np.arange(0.0, 360.0, step_deg)
    z = line(np.arange(count)[:, None])(phi[None, :])
    low, low_at = _lowest(line, z, phi, 1.0)
    high, high_at = _lowest(line, -z, phi, -1.0)
    return low, low_at, -high, high_at


def _lowest(line: Line, z: Array, phi: Array, sign: float) -> tuple[Array, Array]:
    local = (z <= np.roll(z, 1, axis=1)) & (z <= np.roll(z, -1, axis=1)) & np.isfinite(z)
    rows, columns = np.nonzero(local)
    # What is too far above the least of its line to become it is not narrowed: between the grid's points a line
    # falls by less than it rises to the next of them (by 1.4 times that at a cusp like a square root's; 4 to be safe).
    at_point = z[rows, columns]
    rise = np.maximum(z[rows, columns - 1], z[rows, (columns + 1) % len(phi)]) - at_point
    least = np.full(len(z), np.inf)
    np.minimum.at(least, rows, at_point)
    near = at_point - 4.0 * rise <= least[rows]
    rows, columns = rows[near], columns[near]
    at_phi = line(rows)
    # Two probes divide a bracket from ``left``, ``width`` wide, by golden sections from either end.
    width = 2.0 * float(phi[1] - phi[0])
    left = phi[columns] - width / 2.0
    at_inner, at_outer = (sign * at_phi(left + part * width) for part in (1.0 - _GOLDEN, _GOLDEN))
    for _ in range(_NARROWINGS):
        go_left = at_inner <= at_outer
        left = np.where(go_left, left, left + (1.0 - _GOLDEN) * width)
        width *= _GOLDEN
        at_probe = sign * at_phi(left + np.where(go_left, 1.0 - _GOLDEN, _GOLDEN) * width)
        at_inner, at_outer = np.where(go_left, at_probe, at_outer), np.where(go_left, at_inner, at_probe)
    best = np.minimum(at_inner, at_outer)
    best_phi = left + np.where(at_inner <= at_outer, 1.0 - _GOLDEN, _GOLDEN) * width
    # The grid point itself may be the exact extreme (a kink, an axis of symmetry).
    on_grid = z[rows, columns]
    keep = on_grid <= best + 1e-12
    best, best_phi = np.where(keep, on_grid, best), np.where(keep, phi[columns], best_phi)
    turns = best_phi % 360.0
    lowest = np.full(len(z), np.inf)
    np.minimum.at(lowest, rows, best)
    at = np.full(len(z), np.inf)
    close = best <= lowest[rows] + 1e-9
    np.minimum.at(at, rows[close], turns[close])
    return lowest, at


_PROBES = 65
_ROUNDS = 4  # each narrows a bracket 32 times: from two degrees to 2e-6 of one


def line_extremes(line: Callable[[Array], Array], phi: Array, z: Array) -> tuple[float, float, float, float]:
    """The same as :func:`extremes` of one line that is slow to ask, in few calls of many turn angles each. ``phi``:
    turn angles evenly round the tube, ``z``: the line there.

    Brackets about all local extremes of a grid are looked at closely, and again about the best place in each.
    """
    signed = np.concatenate([z, -z])
    rows = np.concatenate([_candidates(z), len(phi) + _candidates(-z)])
    sign = np.where(rows < len(phi), 1.0, -1.0)
    at, best = phi[rows % len(phi)], signed[rows]
    width = 2.0 * float(phi[1] - phi[0])
    part = np.linspace(-0.5, 0.5, _PROBES)
    for _ in range(_ROUNDS):
        probes = at[:, None] + width * part
        found = sign[:, None] * line(probes.ravel()).reshape(probes.shape)
        lowest = np.argmin(found, axis=1)
        each = np.arange(len(rows))
        # What was found stays unless it is really bettered: of an exact extreme on the grid, its own turn angle.
        better = found[each, lowest] < best - 1e-12
        at = np.where(better, probes[each, lowest], at)
        best = np.where(better, found[each, lowest], best)
        width *= 2.0 / (_PROBES - 1)
    (low, low_at), (high, high_at) = (_least(best[sign == one], at[sign == one]) for one in (1.0, -1.0))
    return low, low_at, -high, high_at


def _candidates(z: Array) -> NDArray[np.intp]:
    """The local lows of a grid that may hold its lowest (see :func:`_lowest`)."""
    before, after = np.roll(z, 1), np.roll(z, -1)
    rise = np.maximum(before, after) - z
    low = (z <= before) & (z <= after) & (z - 4.0 * rise <= z.min())
    return np.nonzero(low)[0]


def _least(best: Array, at: Array) -> tuple[float, float]:
    least = best.min()
    return float(least), float((at[best <= least + 1e-9] % 360.0).min())
