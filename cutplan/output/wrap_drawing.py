"""A paper wrap as lines and words in mm, before it becomes a page: the end's line unrolled, full size.

The printed side faces out and the marked end is up. Turn angles are clockwise as seen from end a looking to end b,
so on the paper they run to the left at end a and to the right at end b. x runs from the left edge, y from the blank's
sawn end (where the tips are) towards the middle of the member. Method: development of a cylinder.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np

from cutplan.geometry import Blank, EndShape, end_line
from cutplan.job.model import Cut, Tube, Units
from cutplan.output import words

PAPER_MM = 0.1
"""Thickness of common 80 g/m2 office paper: its middle runs half of it outside the tube's surface."""

OVERLAP_MM = 15.0
_BAND_MM = 54.0
"""Paper kept beyond the throat, for the words and for taping down."""

_FOOT_MM = 29.0
"""Of that, what belongs to the words that name the wrap."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through ``points`` (mm); ``width`` in mm; ``dash`` in mm, 0: unbroken."""

    points: tuple[tuple[float, float], ...]
    width: float = 0.2
    dash: float = 0.0


@dataclass(frozen=True, slots=True)
class Words:
    """Text from ``x``, ``y`` (mm, its base line), ``size`` mm high; ``upright``: read from the bottom up."""

    text: str
    x: float
    y: float
    size: float = 3.0
    upright: bool = False


@dataclass(frozen=True, slots=True)
class Wrap:
    """A wrap for one end: its size in mm, its title, and ``line``, what is cut or ground along. ``fit``: the fitting
    allowance that the blank has at this end, in words with its unit (empty: none)."""

    title: str
    width: float
    height: float
    line: Stroke
    strokes: tuple[Stroke, ...]
    words: tuple[Words, ...]
    fit: str = ""


def round_mm(od_mm: float) -> float:
    """How far once round the tube is, in the middle of the paper."""
    return pi * (od_mm + PAPER_MM)


def across_mm(shape: EndShape, side: str, phi_deg: float) -> float:
    """Where the generator at ``phi_deg`` lies on the paper of end ``side`` (``a`` or ``b``), from its left edge."""
    turn = phi_deg % 360.0 / 360.0
    return round_mm(shape.od) * ((1.0 - turn) % 1.0 if side == "a" else turn)


def wraps_of(blank: Blank, tube: Tube, units: Units) -> tuple[Wrap, ...]:
    """The wraps of a blank's coped and mitred ends; a square end needs none."""
    ends = (("a", blank.end_a), ("b", blank.end_b))
    return tuple(_wrap(blank, tube, units, side, shape) for side, shape in ends if shape.cut is not Cut.SQUARE)


def _wrap(blank: Blank, tube: Tube, units: Units, side: str, shape: EndShape) -> Wrap:
    once = round_mm(shape.od)
    width, height = once + OVERLAP_MM, shape.throat + _BAND_MM
    turns = np.arange(0.0, 361.0)
    depths = end_line(shape, turns)
    xs = once * (1.0 - turns / 360.0) if side == "a" else once * turns / 360.0
    line = Stroke(tuple(zip(xs.tolist(), depths.tolist(), strict=True)), 0.5)
    frame = Stroke(((0, 0), (width, 0), (width, height), (0, height), (0, 0)), 0.3)
    seam = Stroke(((once, 0), (once, height)), 0.25, 2.0)
    other = "b" if side == "a" else "a"
    allowed = words.fitting(blank, side)
    fit = f"{words.length(allowed, units)} {units.value}" if allowed else ""
    foot = height - _FOOT_MM
    texts = [
        Words(f"{blank.mark}  end {side}", 4.0, height - 21.0, 6.0),
        Words(words.end(shape, units), 4.0, height - 15.5, 3.2),
        Words(f"upper edge: {f'{fit} inside' if fit else 'on'} the sawn end", 4.0, height - 11.0, 2.6),
        Words(f"(on it, to leave {fit} to fit by hand)" if fit else "", 4.0, height - 6.75, 2.6),
        Words(f"this edge: towards end {other}", 4.0, height - 2.5, 2.6),
        Words("glue the other edge here", once + 5.0, height - 2.0, 2.4, True),
    ]
    strokes = [frame, seam]
    turns_named: list[tuple[float, str]] = [
        (0.0, "0 short side"),
        (90.0, "90"),
        (180.0, "180 long side"),
        (270.0, "270"),
    ]
    if blank.end_a.cut is not Cut.SQUARE and blank.end_b.cut is not Cut.SQUARE:
        turns_named.append((blank.turn_deg if side == "a" else -blank.turn_deg, f"end {other}'s 0"))
    for number, (phi, name) in enumerate(turns_named):
        x = across_mm(shape, side, phi)
        strokes.append(Stroke(((x, 0.0), (x, foot)), 0.15, 1.0))
        strokes.append(Stroke(((x, height - 1.5), (x, height)), 0.3))
        # The other end's line may fall on one of the quarters: its words go to the other side of it.
        texts.append(Words(name, x + 3.6 if number < 4 else x - 0.8 if x > 4.0 else x + 7.2, foot - 1.0, 2.4, True))
    title = f"{blank.mark}, end {side}: {words.end(shape, units)}; tube {tube.name}"
    return Wrap(title, width, height, line, tuple(strokes), tuple(text for text in texts if text.text), fit)
