"""End shapes: square, mitred, coped onto one tube or onto several meeting at a node.

All distances in mm along the member's axis. Turn angles and the sign of offsets as in
:mod:`cutplan.geometry.saddle`: 0 on the short (acute) side, clockwise seen from end a looking to end b. The
reference of a cope is the axis point nearest the first tube's axis; of a mitre or square end the axis point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import repeat
from math import inf, isfinite, radians, tan
from typing import Any

import numpy as np

from cutplan.geometry.byhand import loose_targets, runs_straight_on
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import trimmed
from cutplan.geometry.kernel import met_again, saddle_line
from cutplan.geometry.model import EndShape
from cutplan.geometry.saddle import SLACK_MM, Array, extremes, line_extremes, saddle, saddle_lines
from cutplan.geometry.solid import Target
from cutplan.job.model import LEAST_COPE_DEG, MOST_MITRE_DEG, Cut, Saddle

BEVEL_MM = 1.0
"""From this on, how much deeper the inside of the wall is than the outside is reported: less goes with the burr."""

_LOT = 1000
_SINGLE_GRID_DEG = 6.0  # one saddle onto a straight tube turns slowly: two lows and two highs at most


def square(od_mm: float) -> EndShape:
    """A square end: everything is at the tip."""
    return EndShape(Cut.SQUARE, od_mm)


def mitre(od_mm: float, angle_deg: float) -> EndShape:
    """A plane cut ``angle_deg`` off square (0 = square, as a saw's scale reads), its short side at phi = 0.

    The tip is r·tan(angle) beyond the axis point, the short side as much before it. Raises GeometryError
    outside 0 to ``MOST_MITRE_DEG``.
    """
    if not 0.0 <= angle_deg <= MOST_MITRE_DEG:
        cure = f"from the tube's axis it would be {trimmed(90 - angle_deg, 3)}" if 15 <= angle_deg <= 90 else ""
        rule = f"a mitre must be between 0 (square) and {trimmed(MOST_MITRE_DEG, 0)} degrees"
        raise GeometryError(rule, trimmed(angle_deg, 3), cure, "angle")
    rise = od_mm / 2.0 * tan(radians(angle_deg))
    return EndShape(
        Cut.MITRE,
        od_mm,
        angle_deg=angle_deg,
        tip_from_centre=-rise,
        face=rise,
        short=2.0 * rise,
        throat=2.0 * rise,
        tip_turn_deg=180.0,
    )


def cope(
    od_mm: float,
    saddles: Sequence[Saddle],
    shifts: Sequence[float] = (),
    targets: tuple[Target, ...] = (),
    straight_mm: float = inf,
) -> EndShape:
    """A coped end on one tube, or on several at a node (each saddle turned from the first by its ``turn_deg``).

    ``targets``: the tubes landed on as they are, in the end's frame; without them, they run on as the saddles say.
    What any of the tubes takes away is cut. ``shifts``: of each saddle's own nearest point from the first's, in mm,
    inwards positive. ``straight_mm``: how far the member runs from here to its other end or a bend. Raises
    GeometryError where the end cannot be saddled.
    """
    return _cope(od_mm, tuple(saddles), tuple(shifts), targets, straight_mm)


@lru_cache(maxsize=512)
def _cope(
    od_mm: float,
    saddles: tuple[Saddle, ...],
    shifts: tuple[float, ...],
    targets: tuple[Target, ...],
    straight_mm: float,
) -> EndShape:
    """As :func:`cope`. Kept, as a plan is proved from its measurements again, and a job is read over and over."""
    if not saddles:
        raise GeometryError("a cope needs a tube to land on", column="onto")
    if len(saddles) == 1 and not targets and runs_straight_on(saddles[0]):
        (shape,) = simple_copes([od_mm], [saddles[0]])
        if isinstance(shape, GeometryError):
            raise shape
        return replace(shape, shifts=shifts)
    for one in saddles:
        _check_angle(one)
    if len(saddles) == 1:
        _check_width(od_mm, saddles[0])
    tubes = targets or loose_targets(saddles, shifts)
    again = met_again(tubes, od_mm / 2.0)
    if again is not None and again < straight_mm - od_mm:
        raise GeometryError(
            "{0} back from where it lands, the member runs into the same bend again",
            cure="a steeper angle, or land on the straight",
            column="onto",
            lengths=(again,),
        )
    shape = EndShape(Cut.COPE, od_mm, saddles[0].angle_deg, saddles, shifts=shifts, targets=tubes)
    turns = np.arange(0.0, 360.0, 1.0)
    # The axis is asked for along with the lines round it: every call costs as much again where tubes are coped in turn.
    *around, axis = envelope(shape, np.append(turns, 0.0), np.append(np.full_like(turns, od_mm / 2.0), 0.0))
    line, face = np.array(around), float(axis)
    missing = turns[~np.isfinite(line)]
    if len(missing):
        raise _missing(float(missing[0]))
    tip, tip_at, throat, throat_at = line_extremes(lambda phi: envelope(shape, phi, od_mm / 2.0), turns, line)
    if not isfinite(tip):
        raise _missing(tip_at)
    if not isfinite(face):
        raise GeometryError("the member's axis misses every tube it lands on", column="offset")
    return replace(
        shape,
        tip_from_centre=tip,
        face=face - tip,
        long=float(line[180]) - tip,
        short=float(line[0]) - tip,
        throat=throat - tip,
        tip_turn_deg=tip_at,
        throat_turn_deg=throat_at,
    )


def _missing(phi_deg: float) -> GeometryError:
    return GeometryError(
        f"part of the end (from {trimmed(phi_deg, 0)}° round the tube) misses every tube it lands on",
        cure="turn or move the tubes, or use a wider one",
        column="onto",
    )


def simple_copes(ods_mm: Sequence[float], saddles: Sequence[Saddle]) -> list[EndShape | GeometryError]:
    """Coped ends on one straight tube each, all at once; a GeometryError in the place of one that cannot be saddled."""
    refused: dict[int, GeometryError] = {}
    onto_ods = [float(one.onto.od) for one in saddles]
    offsets = [float(one.offset) if one.offset else 0.0 for one in saddles]
    for i, (od, one, onto_od, offset) in enumerate(zip(ods_mm, saddles, onto_ods, offsets, strict=True)):
        # The usual case first, and fast.
        if LEAST_COPE_DEG <= one.angle_deg <= 90.0 and od + 2.0 * abs(offset) <= onto_od:
            continue
        try:
            _check_angle(one)
            _check_width(od, one)
        except GeometryError as error:
            refused[i] = error
    if not refused:
        return [*_copes_on_straight(ods_mm, saddles, onto_ods, offsets)]
    good = [i for i in range(len(saddles)) if i not in refused]
    made = _copes_on_straight(
        [ods_mm[i] for i in good],
        [saddles[i] for i in good],
        [onto_ods[i] for i in good],
        [offsets[i] for i in good],
    )
    shapes = dict(zip(good, made, strict=True))
    return [refused[i] if i in refused else shapes[i] for i in range(len(saddles))]


def _copes_on_straight(
    ods: Sequence[float], saddles: Sequence[Saddle], onto_ods: Sequence[float], offsets: Sequence[float]
) -> list[EndShape]:
    if not ods:
        return []
    r = np.array(ods) / 2.0
    R = np.array(onto_ods) / 2.0
    angle = np.array([one.angle_deg for one in saddles])
    e = np.array(offsets)
    short, long, face = (saddle(phi, radius, R, angle, e) for phi, radius in ((0.0, r), (180.0, r), (0.0, 0.0)))
    tip, tip_at, throat, throat_at = _centred_extremes(r, R, angle, short, long)
    offset = np.nonzero(e)[0]
    # In lots that the processor's cache holds.
    for off in (offset[i : i + _LOT] for i in range(0, len(offset), _LOT)):
        tip[off], tip_at[off], throat[off], throat_at[off] = extremes(
            saddle_lines(r[off], R[off], angle[off], e[off]), len(off), _SINGLE_GRID_DEG
        )
    columns = (tip, face - tip, long - tip, short - tip, throat - tip, tip_at, throat_at)
    named = (ods, angle.tolist(), zip(saddles), *(column.tolist() for column in columns))
    return list(map(EndShape, repeat(Cut.COPE), *named))


def _centred_extremes(r: Array, R: Array, angle: Array, short: Array, long: Array) -> tuple[Array, ...]:
    """Tip and throat without offset, in closed form.

    With K² = R² - r² the distance falls to K where r·cos(phi) = -K·cot(angle) (set its derivative to nothing
    and solve), if the tube is wide enough for that; else the long side is the tip. The throat is the short side.
    """
    root = np.sqrt(np.maximum(R**2 - r**2, 0.0))
    lean = root / np.tan(np.radians(angle))
    ears = lean <= r
    tip = np.where(ears, root, long)
    tip_at = np.where(ears, np.degrees(np.arccos(np.clip(-lean / r, -1.0, 1.0))), 180.0)
    return tip, tip_at, short.copy(), np.zeros_like(short)


def envelope(shape: EndShape, phi_deg: Array, radius_mm: Array | float) -> Array:
    """Distance of a coped end's line from the reference point, at ``phi_deg`` on the surface of ``radius_mm``.

    Minus infinity where no tube cuts.
    """
    if shape.targets:
        return saddle_line(shape.targets, phi_deg, radius_mm)
    lines = [
        saddle(phi_deg - one.turn_deg, radius_mm, float(one.onto.od) / 2.0, one.angle_deg, float(one.offset)) + shift
        for one, shift in shape.shifted_saddles
    ]
    return np.asarray(np.maximum.reduce(lines), dtype=float)


def end_line(shape: EndShape, phi_deg: Any, *, radius_mm: float | Array | None = None) -> Array:
    """Distance in mm from the tip to the finished end's line, inwards positive, at each turn angle ``phi_deg``.

    ``phi_deg`` = 0 is the short (acute) side of the first saddle or of the mitre; it grows clockwise seen from
    end a of the member looking to end b, at either end. ``radius_mm``: of the surface the line is on, None for
    the outside; with the inside radius it is the inner wall's line, measured from the same tip. A saddle's line
    is that of the tube's outside cut by the other's outside, as in :mod:`cutplan.geometry.saddle`.
    """
    phi = np.asarray(phi_deg, dtype=float)
    radius = shape.od / 2.0 if radius_mm is None else radius_mm
    if shape.cut is Cut.COPE:
        return envelope(shape, phi, radius) - shape.tip_from_centre
    slope = tan(radians(shape.angle_deg)) if shape.cut is Cut.MITRE else 0.0
    return np.asarray((shape.od / 2.0 + radius * np.cos(np.radians(phi))) * slope, dtype=float)


def bevel(shape: EndShape, phi_deg: Any, wall_mm: float) -> Array:
    """How much deeper in mm the line is on the inside of the wall than on the outside, at each turn angle: cut square
    to the wall along the outside's line, that much is left standing inside, and keeps the joint open. Never below 0: an
    inside that is nearer the tip only leaves a gap. A mitre, which a saw cuts in one plane, needs none."""
    phi = np.asarray(phi_deg, dtype=float)
    if shape.cut is not Cut.COPE:
        return np.zeros_like(phi)
    inside = end_line(shape, phi, radius_mm=shape.od / 2.0 - wall_mm)
    return np.asarray(np.maximum(inside - end_line(shape, phi), 0.0), dtype=float)


def ears_and_throats(shape: EndShape) -> tuple[tuple[tuple[float, float], ...], tuple[tuple[float, float], ...]]:
    """All ears (nearest the tip) and all throats (furthest from it) of a coped end: (turn angle in degrees, mm from
    the tip), the ears from the tip on, the throats the deepest first. What rises or falls by less than 0.05 mm is
    neither."""
    phi = np.arange(0.0, 360.0, 0.25)
    line = end_line(shape, phi)
    start = round(shape.tip_turn_deg * 4.0) % len(phi)
    turned = np.roll(line, -start)
    found: tuple[list[tuple[float, float]], list[tuple[float, float]]] = ([], [])
    # Walk once round from the tip; an extreme counts once the line has turned back from it far enough.
    best, seeking_low = start, False
    for step in range(1, len(phi) + 1):
        here = (start + step) % len(phi)
        value, top = float(turned[step % len(phi)]), float(line[best])
        if (value < top) if seeking_low else (value > top):
            best = here
        elif abs(value - top) > _EAR_MM:
            found[0 if seeking_low else 1].append((float(phi[best]), top))
            best, seeking_low = here, not seeking_low
    ears = [(shape.tip_turn_deg, 0.0), *sorted(found[0], key=lambda one: one[1])]
    return tuple(ears), tuple(sorted(found[1], key=lambda one: -one[1]))


_EAR_MM = 0.05


def _check_angle(one: Saddle) -> None:
    if not LEAST_COPE_DEG - 1e-9 <= one.angle_deg <= 90.0 + 1e-9:
        cure = ""
        if 90.0 < one.angle_deg <= 180.0 - LEAST_COPE_DEG:
            cure = f"give the acute angle, {trimmed(180.0 - one.angle_deg, 3)}, and turn the end by 180"
        rule = f"a cope's angle must be between {trimmed(LEAST_COPE_DEG, 0)} and 90 degrees (90: a square tee)"
        raise GeometryError(rule, trimmed(one.angle_deg, 3), cure, "angle")


def _check_width(od: float, one: Saddle) -> None:
    onto = float(one.onto.od)
    room = (onto - od) / 2.0
    if room < -SLACK_MM:
        raise GeometryError(
            "a member of OD {0} is wider than the tube of {1} it lands on, so its sides miss it and no saddle can fit",
            one.onto.name or None,
            "cope the narrower tube onto the wider, or land on a wider tube",
            "onto",
            (od, onto),
        )
    if abs(float(one.offset)) > room + SLACK_MM:
        raise GeometryError(
            "so far off centre that part of the member misses the tube it lands on (at most {1} between the axes)",
            "{0}",
            "reduce the offset, or land on a wider tube",
            "offset",
            (float(one.offset), max(room, 0.0)),
        )
