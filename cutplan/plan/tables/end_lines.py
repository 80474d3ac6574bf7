"""The lines of shaped ends as tables to mark by: places round the tube, and how far in from the tip the line is there.

Every tip, ear and throat is among the places, and the quarters; every 30 degrees too where a hand that joins the marks
would miss the line by more than is ground away by eye. Where it would miss it even so, an end is marked by its wrap
only, and the quarters are to check that by. An end that is the same both ways round is given half-way round.
How a hand joins marks is taken as a cubic from each to the next, level at ears and throats or in a point there,
whichever is nearer the line (*common practice, no source*: the picture beside it shows which).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, pi

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.ends import BEVEL_MM, bevel, ears_and_throats, end_line
from cutplan.geometry.model import EndShape
from cutplan.job.model import Cut, Settings
from cutplan.plan.tables import card_words

Array = NDArray[np.float64]
Table = tuple[tuple[str, ...], ...]

NEAR_MM = 2.0
"""What is ground away by eye while a joint is fitted: marks need be no nearer than that."""
_SAME_DEG, _BESIDE_DEG = 1.0, 5.0
"""Places nearer than the first are one; a place between the quarters that is nearer to another is left out."""
_SAME_MM = 0.1
_HARDLY_MM = 0.5
"""The width of a scriber's line: an ear that rises by less from the throat beside it is not marked."""
_FINE = np.arange(0.0, 360.0, 1.0)
_MOST = 8
"""The most columns of a table that can be read at a glance; the rest continue below."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place round the tube, clockwise as seen from end a to end b from the end's 0, with what is there, if anything:
    tip, ear or throat."""

    turn_deg: float
    what: str = ""


@dataclass(frozen=True, slots=True)
class EndLine:
    """Where an end is marked. ``both``: it is the same both ways round, and given one way; ``by_wrap``: it is marked by
    its wrap only, as a hand that joins the marks would be further off its line than ``NEAR_MM``."""

    places: tuple[Place, ...]
    both: bool
    by_wrap: bool


@lru_cache(maxsize=512)
def end_marks(shape: EndShape, wall: float) -> EndLine:
    """Where ``shape`` is marked, an end that is not square of a tube with this wall."""
    points = _points(shape)
    coarse, fine = _with(points, 90.0), _with(points, 30.0)
    places = coarse if max(_off(shape, coarse), _off_straight(shape, coarse)) <= NEAR_MM else None
    if places is None:
        places = next((each for each in (fine, coarse) if _off(shape, each) <= NEAR_MM), None)
    shown, both = places or coarse, _both(shape, wall)
    if both:
        shown = tuple(place for place in shown if place.turn_deg <= 180.0 + _SAME_DEG)
    return EndLine(shown, both, places is None)


def _points(shape: EndShape) -> list[Place]:
    """Tips, ears and throats, one for those too near each other to distinguish."""
    if shape.cut is not Cut.COPE:
        return [Place(0.0, "throat"), Place(180.0, "tip")]
    ears, throats = ears_and_throats(shape)
    found: list[Place] = []
    every = [(turn, depth, "tip" if depth < _SAME_MM else "ear") for turn, depth in ears]
    every += [(turn, depth, "throat") for turn, depth in throats]
    for turn, _, what in _worth_marking(every):
        if all(_apart(turn, one.turn_deg) >= _SAME_DEG for one in found):
            found.append(Place(_at_quarter(turn), what))
    return found


def _worth_marking(every: Sequence[tuple[float, float, str]]) -> list[tuple[float, float, str]]:
    """Ears and throats (turn, depth, what) without those that hardly rise from their neighbour: an ear is dropped
    together with the throat next to it; the deepest throat and what is at the tip stay."""
    deepest = max((depth for _, depth, what in every if what == "throat"), default=0.0)
    kept = sorted(every)
    while len(kept) > 2:
        pairs = [
            (abs(one[1] - before[1]), number)
            for number, (before, one) in enumerate(zip([kept[-1], *kept], kept, strict=False))
            if _may_go((before, one), deepest)
        ]
        least, k = min(pairs, default=(np.inf, 0))
        if least >= _HARDLY_MM:
            break
        kept = [one for number, one in enumerate(kept) if number not in (k, (k - 1) % len(kept))]
    return kept


def _may_go(pair: Sequence[tuple[float, float, str]], deepest: float) -> bool:
    return all(what == "ear" or (what == "throat" and depth < deepest) for _, depth, what in pair)


def _with(points: Sequence[Place], step: float) -> tuple[Place, ...]:
    """``points`` and every ``step`` degrees, but for what is next to one of them."""
    turns = np.arange(0.0, 360.0, step).tolist()
    more = [
        Place(turn)
        for turn in turns
        if all(_apart(turn, one.turn_deg) >= (_BESIDE_DEG if turn % 90.0 else _SAME_DEG) for one in points)
    ]
    return tuple(sorted((*points, *more), key=lambda place: place.turn_deg))


def _at_quarter(turn: float) -> float:
    quarter = round(turn / 90.0) * 90.0
    return quarter % 360.0 if abs(turn - quarter) < _SAME_DEG else turn


def _apart(one: float, other: float) -> float:
    return abs((one - other + 180.0) % 360.0 - 180.0)


def _both(shape: EndShape, wall: float) -> bool:
    """Whether the end is its own mirror image, outside and inside."""
    outside, deeper = end_line(shape, _FINE), bevel(shape, _FINE, wall)
    return all(float(np.abs(line - np.roll(line[::-1], 1)).max()) < _SAME_MM for line in (outside, outside + deeper))


def _off(shape: EndShape, places: Sequence[Place]) -> float:
    """How far a hand that joins the marks at ``places`` is off the line of ``shape`` at the most."""
    at = np.array([place.turn_deg for place in places])
    extreme = np.array([bool(place.what) for place in places])
    marks, line = end_line(shape, at), end_line(shape, _FINE)
    return min(float(np.abs(joined(at, marks, extreme, _FINE, pointed=one) - line).max()) for one in (False, True))


def _off_straight(shape: EndShape, places: Sequence[Place]) -> float:
    """The same of a hand that joins the marks of a cope by straight lines round the tube. A mitre is flat, and sawn."""
    if shape.cut is not Cut.COPE:
        return 0.0
    at = np.array([place.turn_deg for place in places])
    line = end_line(shape, _FINE)
    return float(np.abs(np.interp(_FINE, at, end_line(shape, at), period=360.0) - line).max())


def joined(at: Array, marks: Array, extreme: NDArray[np.bool_], turns: Array, *, pointed: bool) -> Array:
    """The marks (``at`` rising, in degrees, once round) joined by a cubic each to the next: its slope at a mark is that
    of a parabola through it and its neighbours; where ``extreme``, level, or with ``pointed`` the slope of each
    side."""
    round_at = np.concatenate((at[-1:] - 360.0, at, at[:1] + 360.0))
    round_marks = np.concatenate((marks[-1:], marks, marks[:1]))
    gaps = np.diff(round_at)
    rises = np.diff(round_marks) / gaps
    slopes = (rises[:-1] * gaps[1:] + rises[1:] * gaps[:-1]) / (gaps[:-1] + gaps[1:])
    slopes = np.where(extreme, 0.0, slopes)
    number = np.searchsorted(at, turns, side="right") - 1  # -1: before the first mark, after the last
    after = (number + 1) % len(at)
    gap, rise = gaps[number % len(at) + 1], rises[number % len(at) + 1]
    low, high = slopes[number], slopes[after]
    if pointed:
        both = extreme[number] & extreme[after]
        low, high = (
            np.where(both, rise, np.where(extreme[number], 1.5 * rise - 0.5 * high, low)),
            np.where(both, rise, np.where(extreme[after], 1.5 * rise - 0.5 * low, high)),
        )
    part = ((turns - at[number]) % 360.0) / gap
    rest = 1.0 - part
    bow = part * rest * (rest * (low - rise) - part * (high - rise)) * gap
    return np.asarray(marks[number] + part * rise * gap + bow, dtype=float)


def line_tables(ends: Sequence[tuple[str, EndShape]], wall: float, settings: Settings) -> tuple[Table, ...]:
    """The lines of ``ends``, each by its name, as tables: one for all where they are marked at the same places. Their
    rows: the places in degrees, with what is there; how far round the tube they are; how far in from the tip, outside
    and inside."""
    marked = [(name, shape, end_marks(shape, wall)) for name, shape in ends]
    if len(marked) > 1 and len({(line.places, line.both) for _, _, line in marked}) == 1:
        return tuple(_tables(marked, wall, settings))
    return tuple(table for one in marked for table in _tables([one], wall, settings))


def _tables(marked: Sequence[tuple[str, EndShape, EndLine]], wall: float, settings: Settings) -> Iterator[Table]:
    named = "end " + marked[0][0] if len(marked) == 1 and marked[0][0] else "at"
    line = marked[0][2]
    parts = ceil(len(line.places) / _MOST)
    size = ceil(len(line.places) / parts)
    for first in range(0, len(line.places), size):
        places = line.places[first : first + size]
        rows = [(named, *(f"{round(place.turn_deg)}° {place.what}".rstrip() for place in places))]
        if line.both or any(place.turn_deg % 90.0 for place in line.places):
            once = pi * marked[0][1].od / 360.0
            way = "either way" if line.both else "clockwise"
            rows.append((way, *(card_words.tape(once * place.turn_deg, settings) for place in places)))
        for name, shape, _ in marked:
            of = f"{name} " if len(marked) > 1 else ""
            depths = _depths(shape, places, wall, settings)
            rows += [(f"{of}{where}", *cells) for where, cells in depths if set(cells) != {"-"}]
        yield tuple(rows)


def _depths(
    shape: EndShape, places: Sequence[Place], wall: float, settings: Settings
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """How far in from the tip ``shape`` is marked, outside and, where a thick wall asks for more, inside: a dash where
    it does not."""
    turns = [place.turn_deg for place in places]
    line = np.maximum(end_line(shape, turns), 0.0)
    yield "outside", tuple(card_words.tape(float(mm), settings) for mm in line)
    if float(bevel(shape, np.arange(0.0, 360.0, 2.0), wall).max()) > BEVEL_MM:
        deeper = bevel(shape, turns, wall)
        yield (
            "inside",
            tuple(
                card_words.tape(float(mm + more), settings) if more >= BEVEL_MM else "-"
                for mm, more in zip(line, deeper, strict=True)
            ),
        )


def line_says(ends: Sequence[tuple[str, EndShape]], wall: float) -> str:
    """How ``ends`` are marked, in words: ends whose marks do not show the line between them by their wraps only."""
    poor = [name for name, shape in ends if end_marks(shape, wall).by_wrap]
    if not poor:
        return "lay on its wrap, or mark these, in from the tip, and join them"
    said = "by its wrap only: the line turns sharply between these marks, in from the tip, which are to check it by"
    if len(poor) == len(ends):
        return said
    return f"end {poor[0]} {said}; the other end by its wrap, or mark and join"
