"""A paper wrap as lines and words in mm, before it becomes a page: the end's line unrolled, full size.

The printed side faces out and the marked end is up. Turn angles are clockwise as seen from end a looking to end b,
so on the paper they run to the left at end a and to the right at end b. x runs from the left edge, y from the blank's
sawn end (where the tips are) towards the middle of the member. Method: development of a cylinder.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import atan2, cos, degrees, hypot, pi, radians, sin

import numpy as np

from cutplan.geometry import Blank, EndShape, bevel, end_line
from cutplan.geometry.ends import BEVEL_MM
from cutplan.geometry.inside import UNKNOWN, Insides, insides
from cutplan.job.model import Cut, Job, Saddle, Settings, Tube
from cutplan.plan import wording
from cutplan.plan.tables.alike import alike_groups

PAPER_MM = 0.1
"""Thickness of common 80 g/m2 office paper: its middle runs half of it outside the tube's surface."""

OVERLAP_MM = 15.0
_BAND_MM = 54.0
"""Paper kept beyond the throat, for the words and for taping down."""

_FOOT_MM = 29.0
"""Of that, what belongs to the words that name the wrap."""

_LABEL_MM = 2.4
"""How high the letters along a line are."""

_PLAIN = 0.3
"""Sine of the angle from which on the centre of a bend lies to one side of a member that lands on it."""

_BEND_MM = 9.0
"""Paper kept for the longer words of a bent member."""


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
    """A wrap for one end: its size in mm, its title, and ``line``, what is cut or ground along. ``helps``: how to lay
    it on, a line each, where this end asks for more than every wrap does; ``own``: those of them that hold for this end
    alone, where what such wraps have in common is said for all."""

    title: str
    width: float
    height: float
    line: Stroke
    strokes: tuple[Stroke, ...]
    words: tuple[Words, ...]
    helps: tuple[str, ...] = ()
    own: tuple[str, ...] = ()


def round_mm(od_mm: float) -> float:
    """How far once round the tube is, in the middle of the paper."""
    return pi * (od_mm + PAPER_MM)


def across_mm(shape: EndShape, side: str, phi_deg: float) -> float:
    """Where the generator at ``phi_deg`` lies on the paper of end ``side`` (``a`` or ``b``), from its left edge."""
    turn = phi_deg % 360.0 / 360.0
    return round_mm(shape.od) * ((1.0 - turn) % 1.0 if side == "a" else turn)


def every_wrap(job: Job, blanks: Iterable[Blank]) -> tuple[Wrap, ...]:
    """The wraps of ``blanks`` of ``job``, one after the other, but for those that must be measured first. Blanks that
    are made alike, such as two hands that come out the same, share theirs."""
    known = [blank for blank in blanks if not blank.estimated]
    lie = {blank.mark: insides(blank, job) for blank in known}
    return tuple(
        wrap
        for group in alike_groups(known, lie)
        for wrap in wraps_of(
            group[0],
            job.tube(group[0].tube),
            job.settings,
            lie[group[0].mark],
            named=", ".join(blank.mark for blank in group),
        )
    )


def wraps_of(
    blank: Blank, tube: Tube, settings: Settings, lie: Insides = UNKNOWN, *, named: str = ""
) -> tuple[Wrap, ...]:
    """The wraps of a blank's coped and mitred ends; a square end needs none. ``lie``: how they lie to its bends;
    ``named``: the marks that they are for, where that is more than its own."""
    ends = (("a", blank.end_a), ("b", blank.end_b))
    marks = named or blank.mark
    return tuple(
        _wrap(blank, marks, tube, settings, side, shape, lie) for side, shape in ends if shape.cut is not Cut.SQUARE
    )


def _wrap(blank: Blank, marks: str, tube: Tube, settings: Settings, side: str, shape: EndShape, lie: Insides) -> Wrap:
    units = settings.units
    once = round_mm(shape.od)
    width, height = once + OVERLAP_MM, shape.throat + _BAND_MM + (_BEND_MM if blank.bends else 0.0)
    turns = np.arange(0.0, 361.0)
    depths = end_line(shape, turns)
    xs = once * (1.0 - turns / 360.0) if side == "a" else once * turns / 360.0
    line = Stroke(tuple(zip(xs.tolist(), depths.tolist(), strict=True)), 0.5)
    frame = Stroke(((0, 0), (width, 0), (width, height), (0, height), (0, 0)), 0.3)
    seam = Stroke(((once, 0), (once, height)), 0.25, 2.0)
    other = "b" if side == "a" else "a"
    allowed = wording.fitting(blank, side)
    fit = f"{wording.length(allowed, units)} {units.value}" if allowed else ""
    joint = "; ".join([wording.end(shape, units), *(f"on {name}" for name in bends_landed_on(shape))])
    end = "the end as cut after bending" if _cut_off(blank, side) else "the sawn end"
    texts = [
        Words(f"{marks}  end {side}", 4.0, height - 21.0, 6.0),
        Words(joint, 4.0, height - 15.5, 3.2),
        Words(f"upper edge: {f'{fit} inside' if fit else 'on'} {end}", 4.0, height - 11.0, 2.6),
        Words(f"(on it, to leave {fit} to fit by hand)" if fit else "", 4.0, height - 6.75, 2.6),
        Words(f"this edge: towards end {other}", 4.0, height - 2.5, 2.6),
        Words("glue the other edge here", once + 5.0, height - 2.0, 2.4, True),
    ]
    texts = [_fitted(text, once - 1.0) for text in texts if text.text]
    named = [(0.0, "0 short side"), (90.0, "90"), (180.0, "180 long side"), (270.0, "270")]
    if blank.end_a.cut is not Cut.SQUARE and blank.end_b.cut is not Cut.SQUARE:
        known = "" if blank.turn_known else "?"
        named.append((blank.turn_deg if side == "a" else -blank.turn_deg, f"end {other}'s 0{known}"))
    landed = inside_landed_on(shape)
    named += [(turn, "inside of bend" if len(landed) == 1 else f"inside of {what}") for turn, what in landed]
    inside = lie.a if side == "a" else lie.b
    bends = [] if inside is None else [(inside, "inside"), (inside + 180.0, "outside")]
    lines = [(across_mm(shape, side, turn), name) for turn, name in named]
    beside = [(across_mm(shape, side, turn), f"{what} of {_next_bend(blank, side)}") for turn, what in bends]
    foot = height - _FOOT_MM
    strokes = [frame, seam]
    bevels = bevel(shape, turns, float(tube.wall))
    if float(bevels.max()) > BEVEL_MM:
        strokes.append(Stroke(tuple(zip(xs.tolist(), (depths + bevels).tolist(), strict=True)), 0.25, 0.8))
    for x, _ in lines:
        strokes += [Stroke(((x, 0.0), (x, foot)), 0.15, 1.0), Stroke(((x, height - 1.5), (x, height)), 0.3)]
    for x, _ in beside:
        # Unbroken, and at the lower edge again: it is carried on along the tube.
        strokes += [Stroke(((x, 0.0), (x, foot)), 0.3), Stroke(((x, height - 4.0), (x, height)), 0.6)]
    texts += _labels([*lines, *beside], foot - 1.0, once)
    title = f"{marks}, end {side}: {joint}; tube {tube.name}"
    helps = _helps(blank, side, settings, fit, inside)
    if not blank.turn_known:
        helps = (
            *helps,
            f"The turn was not given: the line of end {other}'s 0 is drawn as for a turn of 0.",
        )
    own = tuple(line for line in helps if line not in _fit_helps(fit))
    if float(bevels.max()) > BEVEL_MM:
        deepest = f"{wording.length(float(bevels.max()), units)} {units.value}"
        helps = (
            *helps,
            f"Dashed line: how deep the inside of the wall must go, {deepest} beyond the outside at the most. Grind",
            "from the full line outside to the dashed one inside, or the joint stays open.",
        )
    return Wrap(title, width, height, line, tuple(strokes), tuple(texts), helps, own)


def bends_landed_on(shape: EndShape) -> list[str]:
    """The bends that an end lands on, by member and number."""
    return [_bend_name(one) for one in shape.saddles if one.onto.clr is not None]


def _bend_name(one: Saddle) -> str:
    name = one.onto.member or one.onto.name
    return f"{name}, bend {one.onto.bend}" if one.onto.bend else name


def inside_landed_on(shape: EndShape) -> list[tuple[float, str]]:
    """For each bend that an end lands on: at which turn angle its inside, the side of its centre, lies; not where the
    member comes so nearly from outside or inside of it that no side of the tube does."""
    found = []
    for one in shape.saddles:
        if one.onto.clr is None:
            continue
        theta, side = radians(one.angle_deg), radians(one.onto.side_deg)
        ahead, across = cos(theta) * cos(side), -sin(side)
        if hypot(ahead, across) > _PLAIN:
            found.append((one.turn_deg + degrees(atan2(across, ahead)), _bend_name(one)))
    return found


def _helps(blank: Blank, side: str, settings: Settings, fit: str, inside: float | None) -> tuple[str, ...]:
    """How to lay this wrap on: for what the blank is longer here, and how it lies to the bend next to it."""
    helps = []
    if extra := _cut_off(blank, side):
        grip = wording.taped(extra, settings)
        helps.append(
            f"The blank is {grip} longer here, for the bender to hold: bend it, cut that off, then lay this on."
        )
    helps += _fit_helps(fit)
    bend = _next_bend(blank, side)
    if blank.bends and inside is None:
        helps.append(f"How this end is turned to {bend} was not given (rotation on sheet Bends): lay it on after")
        helps.append("bending, turned by what it lands on.")
    elif blank.bends:
        helps.append(f"The inside of {bend} is where its centre is. Bent tube: lay the line marked so along that side.")
        if not extra:
            helps.append("Straight blank: carry the line on along the tube, and bend towards it.")
    return tuple(helps)


def _fit_helps(fit: str) -> tuple[str, ...]:
    """Where to lay a wrap on a blank that is ``fit`` longer for fitting."""
    if not fit:
        return ()
    return (
        f"The blank is {fit} longer here, for fitting: lay the upper edge {fit} inside its sawn end to",
        "mark the finished joint, or on the sawn end to leave that much, to be crept up on by hand.",
    )


def _cut_off(blank: Blank, side: str) -> float:
    return blank.cut_off_a if side == "a" else blank.cut_off_b


def _next_bend(blank: Blank, side: str) -> str:
    """The bend next to an end, by its number from end a."""
    return f"bend {1 if side == 'a' else len(blank.bends)}"


def _long(text: str, size: float) -> float:
    """About how long a text is: letters of Helvetica are 0.53 of their size wide, and size counts capitals only."""
    return len(text) * size / 0.72 * 0.53


def _fitted(text: Words, room: float) -> Words:
    """``text`` in letters small enough for ``room`` mm."""
    long = text.x + _long(text.text, text.size)
    return text if text.upright or long <= room else replace(text, size=text.size * (room - text.x) / (long - text.x))


def _labels(lines: Sequence[tuple[float, str]], foot: float, once: float) -> list[Words]:
    """What each line is, along it: to its right, to its left, or further up, where neither lines nor words are in the
    way. Lines in one place are named together."""
    named: list[tuple[float, str]] = []
    for x, name in lines:
        at = next((number for number, (other, _) in enumerate(named) if abs(x - other) < once / 360.0), None)
        if at is None:
            named.append((x, name))
        else:
            named[at] = (named[at][0], f"{named[at][1]} = {name}")
    placed: list[tuple[float, float, float]] = []
    texts = []
    for x, whole in named:
        # On a wrap with little depth a long name would leave it at its upper edge.
        name = whole if _long(whole, _LABEL_MM) < foot else whole.replace(" side", "").replace("end ", "")
        long = _long(name, _LABEL_MM)

        def free(left: float, up: float, long: float = long) -> bool:
            return 0.0 < left < once - _LABEL_MM and not any(
                abs(left - there) < _LABEL_MM + 0.3 and low < up + long and up < high for there, low, high in placed
            )

        def clear(left: float, x: float = x) -> bool:
            return not any(left - 0.5 < line < left + _LABEL_MM + 0.5 for line, _ in named if line != x)

        ups = [0.0, *(high + 2.0 for _, _, high in placed)]
        spots = [spot for spot in product((x + 1.0, x - 1.0 - _LABEL_MM), sorted(ups)) if free(*spot)]
        left, up = next((spot for spot in spots if clear(spot[0])), spots[0])
        placed.append((left, up, up + long))
        texts.append(Words(name, left + _LABEL_MM, foot - up, _LABEL_MM, True))
    return texts
