"""The lines of a blank's derivation: what each part is, how long, and the sum a pocket calculator can redo."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from cutplan.geometry.ends import envelope
from cutplan.geometry.figures import Figures, angle
from cutplan.geometry.kernel import saddle_line
from cutplan.geometry.model import EndShape, Part
from cutplan.geometry.saddle import saddle
from cutplan.job.model import Cut, End, Measured, Saddle, Settings

_SAME_MM = 1e-6

_FROM = {
    Measured.CENTRE: "from the centre of {onto}",
    Measured.FACE: "from the face of {onto}, along the axis,",
    Measured.LONG: "from the face of {onto}, along the long side,",
    Measured.SHORT: "from the face of {onto}, along the short side,",
}
_FROM_PLANE = {
    Measured.CENTRE: "from the axis",
    Measured.FACE: "from the axis",
    Measured.LONG: "from the long side",
    Measured.SHORT: "from the short side",
}


def to_tip(shape: EndShape, measured: Measured) -> float:
    """What the blank gains (negative: loses) at an end between the point measured to and the tip, in mm."""
    if measured is Measured.CENTRE:
        return 0.0 - shape.tip_from_centre
    if measured is Measured.TIP:
        return 0.0
    if measured is Measured.FACE:
        return shape.face
    return shape.long if measured is Measured.LONG else shape.short


@dataclass(frozen=True, slots=True)
class Allowances:
    """What is added at an end, by its name ("a" or "b") and its cut: for fitting, and for the weld's shrinkage."""

    parts: Mapping[tuple[str, Cut], tuple[Part, ...]]
    most: float = 0.0
    """The most that both ends of a blank can gain, in mm."""


def allowances(settings: Settings) -> Allowances:
    """Those of a job."""
    shrink = float(settings.shrink)
    fits = {Cut.COPE: float(settings.fit_cope), Cut.MITRE: float(settings.fit_mitre), Cut.SQUARE: 0.0}
    parts = {(name, cut): _added(name, cut, fit, shrink) for name in "ab" for cut, fit in fits.items()}
    return Allowances(parts, 2.0 * (max(fits.values()) + shrink))


def _added(name: str, cut: Cut, fit: float, shrink: float) -> tuple[Part, ...]:
    parts = []
    if fit:
        parts.append(Part(f"end {name}: fitting allowance for the {cut.value}", fit))
    if shrink:
        parts.append(Part(f"end {name}: weld shrinkage", shrink))
    return tuple(parts)


def end_parts(name: str, shape: EndShape, end: End, allowed: Allowances, figures: Figures) -> list[Part]:
    """The parts of end ``name`` ("a" or "b"): to the tip, fitting allowance, weld shrinkage."""
    cut, measured = shape.cut, end.measured
    added = allowed.parts[name, cut]
    if cut is Cut.SQUARE or measured is Measured.TIP:
        return list(added)
    what = _what(name, cut, measured, _landed_on(shape))
    return [Part(what, to_tip(shape, measured), partial(_to_tip_sum, shape, measured, figures)), *added]


@lru_cache(1024)
def _what(name: str, cut: Cut, measured: Measured, onto: str) -> str:
    words = _FROM if cut is Cut.COPE else _FROM_PLANE
    return f"end {name}: {words[measured].format(onto=onto)} to the tip"


def _landed_on(shape: EndShape) -> str:
    return (shape.saddles and shape.saddles[0].onto.member) or "the other tube"


def _to_tip_sum(shape: EndShape, measured: Measured, figures: Figures) -> str:
    if shape.cut is Cut.MITRE:
        return _mitre_sum(shape, measured, figures)
    tip = _tip_sum(shape, figures)
    if measured is Measured.CENTRE:
        return f"-{tip}"
    turn = None if measured is Measured.FACE else 180.0 if measured is Measured.LONG else 0.0
    return f"{_line_sum(shape, turn, figures)} - {tip}"


def _mitre_sum(shape: EndShape, measured: Measured, figures: Figures) -> str:
    if measured is Measured.LONG:
        return ""
    across = shape.od if measured is Measured.SHORT else shape.od / 2.0
    return f"{figures.length(across)} × tan {angle(shape.angle_deg)}"


def _tip_sum(shape: EndShape, figures: Figures) -> str:
    (one, *others) = shape.saddles
    if not others and one.onto.clr is None and not one.offset and shape.tip_turn_deg != 180.0:
        # Without offset the ears are the tip, and the angle drops out of the formula.
        return f"sqrt({figures.length(float(one.onto.od) / 2.0)}² - {figures.length(shape.od / 2.0)}²)"
    return _line_sum(shape, shape.tip_turn_deg, figures)


def _line_sum(shape: EndShape, turn_deg: float | None, figures: Figures) -> str:
    """The sum for a coped end's line at ``turn_deg`` on the outside, None for the axis itself."""
    radius = 0.0 if turn_deg is None else shape.od / 2.0
    if len(shape.saddles) == 1 and not shape.shifts and shape.saddles[0].onto.clr is None:
        return _saddle_sum(shape.saddles[0], radius, turn_deg, figures)
    phi = np.array([turn_deg or 0.0])
    line = float(envelope(shape, phi, radius)[0])
    for one, shift in shape.shifted_saddles:
        if one.onto.clr is not None:
            continue
        reach = saddle(phi - one.turn_deg, radius, float(one.onto.od) / 2.0, one.angle_deg, float(one.offset))
        if abs(float(reach[0]) + shift - line) < _SAME_MM:
            text = _saddle_sum(one, radius, turn_deg, figures)
            return f"({text} {_signed(shift, figures)})" if shift else text
    # No one formula gives it: a bend, or the end of a tube.
    first = max(shape.targets, key=lambda target: float(saddle_line((target,), phi, radius)[0]))
    return f"({figures.length(line)}, found on the surface of {first.name or 'the other tube'})"


def _saddle_sum(one: Saddle, radius: float, turn_deg: float | None, figures: Figures) -> str:
    """The saddle's formula with its numbers: (r·cos(phi)·cos(theta) + sqrt(R² - (r·sin(phi) - e)²)) / sin(theta)."""
    r, R = figures.length(radius), figures.length(float(one.onto.od) / 2.0)
    if not turn_deg and not one.turn_deg and not one.offset and one.angle_deg != 90.0:
        # The most usual sum by far, written straight away.
        theta = angle(one.angle_deg)
        return f"({r} × cos {theta} + {R}) / sin {theta}" if radius else f"{R} / sin {theta}"
    turn = ((turn_deg or 0.0) - one.turn_deg) % 360.0
    square_on = one.angle_deg == 90.0
    offset = float(one.offset) if one.offset else 0.0
    across = _across(r, turn, offset, figures) if radius else _offset_alone(offset, figures)
    root = f"sqrt({R}² - {across}²)" if across else R
    if square_on:
        return root
    theta = angle(one.angle_deg)
    if not radius or turn in (90.0, 270.0):
        return f"{root} / sin {theta}"
    along = f"{r} × cos {theta}" if turn in (0.0, 180.0) else f"{r} × cos {angle(turn)} × cos {theta}"
    if turn == 180.0:
        return f"({root} - {along}) / sin {theta}"
    return f"({along} + {root}) / sin {theta}"


def _across(r: str, turn: float, offset: float, figures: Figures) -> str:
    if turn in (0.0, 180.0):
        return _offset_alone(offset, figures)
    side = r if turn == 90.0 else f"{r} × sin {angle(turn)}"
    if not offset:
        return side if turn == 90.0 else f"({side})"
    return f"({side} {_signed(-offset, figures)})"


def _offset_alone(offset: float, figures: Figures) -> str:
    return figures.length(abs(offset)) if offset else ""


def _signed(length: float, figures: Figures) -> str:
    return f"+ {figures.length(length)}" if length >= 0 else f"- {figures.length(-length)}"
