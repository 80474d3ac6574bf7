"""The saddle's one kernel: along each line of a member, its first entry into the tubes it lands on.

Coordinates as in :mod:`cutplan.geometry.solid`: a member's lines run along z, and its metal is kept from far out (z
great) down to where the line first enters any of the tubes. Methods: a ray and a cylinder, held to its stretch by the
planes of its ends, is a quadratic (descriptive geometry); a ray and a torus in :mod:`cutplan.geometry.torus`. A tube
that is itself coped is what is left of it by this same kernel, seen from its own end.
"""

from __future__ import annotations

from collections.abc import Callable
from math import hypot, inf, isfinite

import numpy as np

from cutplan.geometry.saddle import SLACK_MM, Array, around
from cutplan.geometry.solid import Piece, Saddled, Target, run_on
from cutplan.geometry.torus import arc_entry, beyond, in_arc

_JOINT_MM = 1e-7
_LOOKS = (48, 12, 6)
"""Along a line, for what is left of a coped tube: fewer where that tube's own targets are coped in turn."""
_STEPS = 60
_CLOSE_MM = 1e-9
_FAR = 1e4
_ROUND = 12
_DOWN = 200


def saddle_line(targets: tuple[Target, ...], phi_deg: Array, radius_mm: Array | float) -> Array:
    """The z, in mm, of the saddle on ``targets`` at each turn angle, on the member's surface of ``radius_mm``.

    A line that misses every tube as it ends, is where the tubes would be if they ran on: those with a free end first,
    then those that are coped themselves. Minus infinity where it misses even those.
    """
    x, y = np.broadcast_arrays(*around(radius_mm, np.asarray(phi_deg, dtype=float)))
    return line_at(targets, x.ravel(), y.ravel()).reshape(x.shape)


def line_at(targets: tuple[Target, ...], x: Array, y: Array, depth: int = 0) -> Array:
    """As :func:`saddle_line`, of the lines through (x, y). ``depth``: how many coped ends this is seen through."""
    z = first_entry(targets, x, y, depth)
    for coped_too in (False, True):
        rows = np.nonzero(z == -inf)[0]
        if not rows.size:
            break
        longer = run_on(targets, coped_too)
        if longer != targets:
            z[rows] = first_entry(longer, x[rows], y[rows], depth)
    return z


def first_entry(targets: tuple[Target, ...], x: Array, y: Array, depth: int = 0, floor: Array | float = -inf) -> Array:
    """The greatest z of each line through (x, y), flat arrays, that is in a target; minus infinity: none does.

    What is below ``floor`` is not looked for: such lines have the floor itself.
    """
    best = np.full(x.shape, floor)
    coped = []
    for target in targets:
        for piece in target.pieces:
            if piece.clr:
                np.maximum(best, arc_entry(piece, target.radius, x, y), out=best)
                continue
            low, high = rod_span(piece, target.radius, x, y)
            high = np.where(low <= high, high, -inf)
            if piece.saddles:
                coped.append((piece.saddles, low, high))
            else:
                np.maximum(best, high, out=best)
    for saddles, low, high in coped:
        # Only what could come before all that is met already.
        rows = np.nonzero(high > best)[0]
        if rows.size:
            low = np.maximum(low[rows], best[rows])
            best[rows] = np.maximum(best[rows], _highest_kept(saddles, x[rows], y[rows], low, high[rows], depth))
    return best


def rod_span(piece: Piece, radius: float | Array, x: Array, y: Array) -> tuple[Array, Array]:
    """From where to where, along z, each line through (x, y) is in a straight of ``radius`` (or of one for each
    line); nowhere where the first is greater.

    A line that touches the tube to within ``SLACK_MM`` meets it. The cuts of coped ends are left to the caller.
    """
    across, along = x - piece.point[0], y - piece.point[1]
    level, rise = hypot(piece.way[0], piece.way[1]), piece.way[2]
    if level > 1e-9:
        ahead = (across * piece.way[0] + along * piece.way[1]) / level
        beside = (across * piece.way[1] - along * piece.way[0]) / level
        under = radius**2 - beside**2
        half = np.sqrt(np.maximum(under, 0.0)) / level
        middle = ahead * rise / level
        missed = under < -2.0 * radius * SLACK_MM
        low, high = np.where(missed, inf, middle - half), middle + half
    else:
        ahead = np.zeros_like(across)
        missed = across**2 + along**2 > radius**2 + 2.0 * radius * SLACK_MM
        low, high = np.where(missed, inf, -inf), np.full_like(across, inf)
    if isfinite(piece.lo):
        low, high = beyond(piece.way, level * ahead - piece.lo + _JOINT_MM, low, high)
    if isfinite(piece.hi):
        back = (-piece.way[0], -piece.way[1], -rise)
        low, high = beyond(back, piece.hi - level * ahead + _JOINT_MM, low, high)
    for cut in piece.planes:
        gap = tuple(cut.point[k] - piece.point[k] for k in range(3))
        flat = cut.normal[0] * (across - gap[0]) + cut.normal[1] * (along - gap[1]) - cut.normal[2] * gap[2]
        low, high = beyond(cut.normal, flat, low, high)
    return low + piece.point[2], high + piece.point[2]


def met_again(targets: tuple[Target, ...], radius_mm: float) -> float | None:
    """Where the member, further in than its saddle, runs into what it lands on once more: the least z of that; or None.

    Looked for on its axis and on lines round it of ``radius_mm``, and only where a tube landed on has a bend: a
    straight one is met once. The targets are near z = 0.
    """
    bent = tuple(target for target in targets if any(piece.clr for piece in target.pieces))
    if not bent:
        return None
    radii = np.append(0.0, np.full(_ROUND, radius_mm))
    x, y = around(radii, np.append(0.0, np.arange(0.0, 360.0, 360.0 / _ROUND)))
    top = first_entry(bent, x, y)
    hit = np.nonzero(top > 0.0)[0]
    if not hit.size:
        return None
    z = top[hit] * (1.0 - np.linspace(0.0, 1.0, _DOWN)[1:-1, None])
    size = z.shape
    points = (np.broadcast_to(x[hit], size).ravel(), np.broadcast_to(y[hit], size).ravel(), z.ravel())
    # Past its end a tube is not left for another part of it.
    out = ~inside(run_on(bent, True), *points).reshape(size)
    # Out of the tube again above the place where the axis is in it (the axis line: above the landing point).
    axis = float(top[0]) if hit[0] == 0 and not out[:, 0].any() else 0.0
    again = [
        float(z[first, k])
        for k, first in enumerate(np.argmax(out, axis=0))
        if out[first, k] and (hit[k] == 0 or z[first, k] > max(axis, radius_mm))
    ]
    return min(again, default=None)


def near_side(build: Callable[[float], Target], radius_mm: float, straight_mm: float) -> Target:
    """A tube landed on without what the member, ``straight_mm`` long up to its other end or a bend, does not reach.

    ``build`` makes the tube for a part of the usual stretch of it, from 1 down.
    """
    target, part = build(1.0), 0.5
    while part > 0.05:
        again = met_again((target,), radius_mm)
        if again is None or again < straight_mm - 3.0 * target.radius:
            break
        target, part = build(part), part / 2.0
    return target


def inside(targets: tuple[Target, ...], x: Array, y: Array, z: Array) -> np.typing.NDArray[np.bool_]:
    """Whether each point is in one of ``targets`` (what coped ends have lost of them not taken off)."""
    found = np.zeros(x.shape, dtype=bool)
    for target in targets:
        for piece in target.pieces:
            if piece.clr:
                found |= in_arc(piece, target.radius, x, y, z)
            else:
                low, high = rod_span(piece, target.radius, x, y)
                found |= (low <= z) & (z <= high)
    return found


def _highest_kept(saddles: tuple[Saddled, ...], x: Array, y: Array, low: Array, high: Array, depth: int) -> Array:
    """The greatest z from ``low`` to ``high`` of each line that no coped end has lost; minus infinity: none."""
    kept = kept_inside(saddles, x, y, high, depth + 1)
    found = np.where(kept >= 0.0, high, -inf)
    rows = np.nonzero((kept < 0.0) & (low < high))[0]
    if not rows.size:
        return found
    x, y = x[rows], y[rows]
    low, high = np.maximum(low[rows], -_FAR), np.minimum(high[rows], _FAR)
    looks = _LOOKS[min(depth, len(_LOOKS) - 1)]
    z = high - (high - low) * np.linspace(0.0, 1.0, looks)[:, None]
    size = (looks, len(rows))
    wide = (np.broadcast_to(x, size).ravel(), np.broadcast_to(y, size).ravel(), z.ravel())
    left = kept_inside(saddles, *wide, depth + 1).reshape(size)
    some = left >= 0.0
    hit = np.nonzero(some.any(axis=0))[0]
    if hit.size:
        first = np.argmax(some[:, hit], axis=0)
        above = np.maximum(first - 1, 0)
        x, y = x[hit], y[hit]
        found[rows[hit]] = _last_kept(
            lambda z: kept_inside(saddles, x, y, z, depth + 1), z[first, hit], z[above, hit], left[above, hit]
        )
    return found


def _last_kept(kept: Callable[[Array], Array], inside: Array, outside: Array, cut_away: Array) -> Array:
    """The z of each line at which it enters what is left, between one ``inside`` and one ``outside``, where ``kept`` is
    ``cut_away``, below 0. Method: inverse quadratic interpolation or halving, whichever is safe (Chandrupatla 1997)."""
    a, b, at_a, at_b = inside, outside, kept(inside), cut_away
    share = np.full(a.shape, 0.5)
    for _ in range(_STEPS):
        middle = a + share * (b - a)
        here = kept(middle)
        same = (here >= 0.0) == (at_a >= 0.0)
        c, at_c = np.where(same, a, b), np.where(same, at_a, at_b)
        b, at_b = np.where(same, b, a), np.where(same, at_b, at_a)
        a, at_a = middle, here
        wide = np.abs(b - a)
        if np.all(wide <= _CLOSE_MM):
            break
        with np.errstate(divide="ignore", invalid="ignore"):
            xi, phi = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
            smooth = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
            ahead = at_a / (at_b - at_a) * at_c / (at_b - at_c)
            ahead += (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
            least = np.minimum(_CLOSE_MM / 2.0 / wide, 0.5)
            share = np.where(smooth & np.isfinite(ahead), np.clip(ahead, least, 1.0 - least), 0.5)
    return np.where(at_a >= 0.0, a, b)


def kept_inside(saddles: tuple[Saddled, ...], x: Array, y: Array, z: Array, depth: int = 1) -> Array:
    """How far inside each point is of what the coped ends have left, along their own axes; negative: cut away."""
    left = np.full(x.shape, inf)
    for one in saddles:
        frame = one.frame
        gap = (x - frame.origin[0], y - frame.origin[1], z - frame.origin[2])
        own = [gap[0] * axis[0] + gap[1] * axis[1] + gap[2] * axis[2] for axis in (frame.x, frame.y, frame.z)]
        np.minimum(left, own[2] - line_at(one.targets, own[0], own[1], depth) + SLACK_MM, out=left)
    return left
