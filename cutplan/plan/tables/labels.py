"""Words on a drawing, each where it covers no other word and little else.

In mm on paper, x to the right and y down. Method: of many places round what is named, the cheapest is taken; others
keep off it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, hypot, radians, sin

import numpy as np
from numpy.typing import NDArray

from cutplan.plan.tables.wrap_words import CAPITAL as CAPITAL
from cutplan.plan.tables.wrap_words import wide as wide
from cutplan.plan.tables.wraps import Stroke, Words

Point = tuple[float, float]
Array = NDArray[np.float64]

_BELOW = 0.3
"""How far letters hang below their base line, in capitals."""
_GAP = 0.4
_INK_MM = 0.5
_LEADER_MM, _DOT_MM = 0.2, 0.8
_CELL_MM = 0.3
_FAR = (0.0, 3.5, 5.0, 7.0, 9.0, 13.0, 18.0, 24.0, 32.0)
_WAYS = np.array([(cos(radians(turn)), sin(radians(turn))) for turn in range(0, 360, 20)])
_WORTH = 40.0
_LATER, _LEADER, _LONGER, _CROSSED, _ON_OTHER, _ACROSS_WORDS = 0.4, 3.0, 0.5, 1.5, 5.0, 10.0
"""What a place costs: for each point of those named that is passed over, for a leader and for each mm of it, for
each drawn point that a leader crosses, for each place on another tube that a tube's name covers, and for each word or
leader that its own leader crosses."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle from its upper left corner ``x``, ``y``."""

    x: float
    y: float
    width: float
    height: float


@dataclass(slots=True)
class Labels:
    """Places words within ``room``, clear of each other, and of the lines that are drawn there where that can be.
    ``covered``: what it costs to cover a point of those."""

    room: Box
    covered: float = 0.5
    words: list[Words] = field(default_factory=list)
    leaders: list[Stroke] = field(default_factory=list)
    patches: list[Box] = field(default_factory=list)
    tubes: Sequence[Sequence[Point]] = ()
    """For each tube that is seen, places along its middle, which the names of others keep off."""
    _taken: list[tuple[float, float, float, float]] = field(default_factory=list)
    _rows: Array | None = field(init=False, default=None)
    _ink: Array = field(init=False)
    _sums: Array | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._ink = np.zeros((int(self.room.height / _CELL_MM) + 2, int(self.room.width / _CELL_MM) + 2))

    def draw(self, strokes: Iterable[Stroke]) -> None:
        """Note lines that words should not cover."""
        self._ink_in(strokes)
        self._sums = None

    def _ink_in(self, strokes: Iterable[Stroke]) -> None:
        found = []
        for stroke in strokes:
            points = np.array(stroke.points, dtype=float)
            for start, stop in pairwise(points):
                count = int(np.hypot(*(stop - start)) / _INK_MM) + 1
                found.append(start + (stop - start) * (np.arange(count) / count)[:, None])
        if found:
            row, column = self._cells(np.concatenate(found))
            np.add.at(self._ink, (row, column), 1.0)

    def take(self, box: Box) -> None:
        """Keep words out of ``box``."""
        self._taken.append((box.x, box.y, box.x + box.width, box.y + box.height))
        self._rows = None

    def place(
        self,
        text: str,
        size: float,
        at: Sequence[Point],
        *,
        leader: bool = True,
        worth: float = _WORTH,
        boxed: bool = False,
        on: bool = True,
        tube: int | None = None,
    ) -> bool:
        """Write ``text`` at one of the points ``at``, the first rather than the last, or near one with a line to it,
        ``boxed`` with a line round it, not ``on`` beside it only, where it names a ``tube`` on no other; False: there
        is no place worth ``worth``."""
        long, high = wide(text, size) + 2 * _GAP, size * (1.0 + _BELOW) + 2 * _GAP
        best: tuple[float, Box, Point] | None = None
        others = self._others(tube)
        for order, (x, y) in enumerate(at):
            for far in _FAR[0 if on else 1 :] if leader else _FAR[:1]:
                aside = order * _LATER + (_LEADER + far * _LONGER if far else 0.0)
                if aside >= (worth if best is None else best[0]):
                    break
                ways = _WAYS if far else _WAYS[:1] * 0.0
                lefts = (
                    x + ways[:, 0] * far + (np.abs(ways[:, 0]) > 0.3) * np.sign(ways[:, 0]) * long / 2.0 - long / 2.0
                )
                tops = y + ways[:, 1] * far + (np.abs(ways[:, 1]) > 0.3) * np.sign(ways[:, 1]) * high / 2.0 - high / 2.0
                for left, top in self._free(lefts, tops, long, high):
                    box = Box(left, top, long, high)
                    most = worth if best is None else best[0]
                    cost = aside + self._under(box) * self.covered
                    if cost < most:
                        cost += _within(others, box) * _ON_OTHER
                    if far and cost < most:
                        cost += self._along(_nearest(box, (x, y)), (x, y)) * _CROSSED
                    if far and cost < most:
                        cost += self._taken_along(_nearest(box, (x, y)), (x, y)) * _ACROSS_WORDS
                    if cost < most:
                        best = cost, box, (x, y)
        if best is None:
            return False
        self._write(text, size, best[1], best[2])
        if boxed:
            box = best[1]
            right, below = box.x + box.width, box.y + box.height
            round_it = ((box.x, box.y), (right, box.y), (right, below), (box.x, below), (box.x, box.y))
            self.leaders.append(Stroke(round_it, 0.13))
        return True

    def _others(self, tube: int | None) -> Array:
        """Places along the middles of all tubes but this one; none where no tube is named."""
        tubes = self.tubes if tube is not None else ()
        every = [place for number, places in enumerate(tubes) if number != tube for place in places]
        return np.array(every, dtype=float).reshape(-1, 2)

    def _free(self, lefts: Array, tops: Array, long: float, high: float) -> list[Point]:
        """Of boxes of one size those within the room that meet nothing that is taken."""
        room = self.room
        kept = (lefts >= room.x) & (tops >= room.y)
        kept &= (lefts + long <= room.x + room.width) & (tops + high <= room.y + room.height)
        if self._taken:
            taken = self._boxes()
            across = (lefts[:, None] < taken[:, 2]) & (taken[:, 0] < lefts[:, None] + long)
            kept &= ~(across & (tops[:, None] < taken[:, 3]) & (taken[:, 1] < tops[:, None] + high)).any(axis=1)
        return list(zip(lefts[kept].tolist(), tops[kept].tolist(), strict=True))

    def _cells(self, points: Array) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
        at = ((points - np.array([self.room.x, self.room.y])) / _CELL_MM).astype(int)
        rows, columns = self._ink.shape
        return np.minimum(np.maximum(at[:, 1], 0), rows - 1), np.minimum(np.maximum(at[:, 0], 0), columns - 1)

    def _under(self, box: Box) -> float:
        """How many drawn points a box covers."""
        if self._sums is None:
            self._sums = np.pad(self._ink.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
        corners = np.array([[box.x, box.y], [box.x + box.width, box.y + box.height]])
        (top, bottom), (left, right) = self._cells(corners)
        sums = self._sums
        return float(sums[bottom + 1, right + 1] - sums[top, right + 1] - sums[bottom + 1, left] + sums[top, left])

    def _along(self, start: Point, stop: Point) -> float:
        """How many drawn points a leader passes."""
        count = int(hypot(stop[0] - start[0], stop[1] - start[1]) / _CELL_MM) + 1
        parts = (np.arange(count) / count)[:, None]
        row, column = self._cells(np.array(start) * (1.0 - parts) + np.array(stop) * parts)
        return float(self._ink.ravel()[np.unique(row * self._ink.shape[1] + column)].sum())

    def _taken_along(self, start: Point, stop: Point) -> int:
        """How many boxes that are taken a leader passes through."""
        left, top, right, bottom = self._boxes().T
        near = (left < max(start[0], stop[0])) & (right > min(start[0], stop[0]))
        near &= (top < max(start[1], stop[1])) & (bottom > min(start[1], stop[1]))
        if not near.any():
            return 0
        count = int(hypot(stop[0] - start[0], stop[1] - start[1]) / _INK_MM) + 1
        parts = ((np.arange(count) + 1.0) / count)[:, None, None]
        points = np.array(start) * (1.0 - parts) + np.array(stop) * parts
        boxes = self._boxes()[near]
        return int(((points > boxes[:, :2]) & (points < boxes[:, 2:])).all(axis=2).any(axis=0).sum())

    def _boxes(self) -> Array:
        """What is taken, as left, top, right and bottom (n, 4)."""
        if self._rows is None:
            self._rows = np.array(self._taken, dtype=float).reshape(-1, 4)
        return self._rows

    def _write(self, text: str, size: float, box: Box, at: Point) -> None:
        self.take(box)
        self.patches.append(box)
        self.words.append(Words(text, box.x + _GAP, box.y + _GAP + size, size))
        x, y = at
        if box.x <= x <= box.x + box.width and box.y <= y <= box.y + box.height:
            return
        line = Stroke((_nearest(box, at), at), _LEADER_MM)
        self.leaders += [line, Stroke(((x - 0.1, y), (x + 0.1, y)), _DOT_MM)]
        self._ink_in([line])
        # A leader is kept free of words, as a chain of small boxes.
        start, stop = np.array(line.points[0]), np.array(at)
        count = max(2, int(np.hypot(*(stop - start))) + 1)
        for part in np.linspace(0.1, 1.0, count):
            px, py = (start + (stop - start) * part).tolist()
            self.take(Box(px - 0.4, py - 0.4, 0.8, 0.8))


def _within(places: Array, box: Box) -> int:
    """How many of ``places`` (n, 2) are in ``box``."""
    x, y = places[:, 0], places[:, 1]
    return int(((x > box.x) & (x < box.x + box.width) & (y > box.y) & (y < box.y + box.height)).sum())


def _nearest(box: Box, at: Point) -> Point:
    """The point of a box's edge next to ``at``."""
    return min(max(at[0], box.x), box.x + box.width), min(max(at[1], box.y), box.y + box.height)


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Rising places ``apart`` from each other at the least, near those ``wanted`` (rising), between ``low`` and
    ``high``."""
    places = list(wanted)
    for k in range(len(places)):
        floor = low if k == 0 else places[k - 1] + apart
        places[k] = max(places[k], floor)
    ceiling = high
    for k in range(len(places) - 1, -1, -1):
        places[k] = min(places[k], ceiling)
        ceiling = places[k] - apart
    return places
