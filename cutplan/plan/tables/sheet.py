"""A sheet of drawings as lines and words in mm on paper, before it becomes a page: x to the right, y down."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.views import Seen
from cutplan.plan.tables.labels import Box, Labels, wide
from cutplan.plan.tables.wraps import Stroke, Words

OUTLINE = 0.35
"""How wide the outline of a tube is drawn, in mm."""
FINE = 0.13
MARGIN = 10.0
CAUTION = (
    "Drawn from the lengths and angles in the job, to find slips by: it says nothing about strength or what is legal. "
    "Measure again before each cut."
)

SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0)
"""The scales that are used, 1 to so many; beyond them, multiples of a hundred."""


@dataclass(slots=True)
class Sheet:
    """A page of ``width`` by ``height`` mm. Drawn in this order: ``strokes``, white ``patches``, ``leaders``,
    ``words``. ``bold``: how many of the words, from the first, are in heavy letters."""

    width: float
    height: float
    title: str
    strokes: list[Stroke] = field(default_factory=list)
    patches: list[Box] = field(default_factory=list)
    leaders: list[Stroke] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    bold: int = 0

    def label(self, labels: Labels) -> None:
        """Add ``labels`` to it."""
        self.patches += labels.patches
        self.leaders += labels.leaders
        self.words += labels.words


@dataclass(frozen=True, slots=True)
class Window:
    """Where on a sheet a view is: its point ``centre`` (mm of the frame) at ``x``, ``y``, at 1 to ``scale``."""

    x: float
    y: float
    centre: tuple[float, float]
    scale: float

    def at(self, points: NDArray[np.float64]) -> list[tuple[float, float]]:
        """Points of the view (n, 2) on the sheet."""
        return [
            (self.x + (float(u) - self.centre[0]) / self.scale, self.y - (float(v) - self.centre[1]) / self.scale)
            for u, v in points
        ]

    def one(self, point: Sequence[float]) -> tuple[float, float]:
        """One point of the view on the sheet."""
        return self.at(np.array([[point[0], point[1]]]))[0]


def titled(width: float, height: float, title: str, below: str) -> Sheet:
    """An empty sheet with its heading and the caution."""
    words = [
        Words(title, MARGIN, MARGIN + 4.0, 4.0),
        *(
            Words(text, MARGIN, MARGIN + 9.0 + 3.6 * row, 2.2)
            for row, text in enumerate(lines(below, 2.2, width - 20.0))
        ),
        Words(CAUTION, MARGIN, height - MARGIN + 3.0, 1.9),
    ]
    return Sheet(width, height, title, words=words, bold=1)


def scale_for(size: Sequence[float], room: Sequence[float]) -> float:
    """The largest usual scale at which something of ``size`` (mm) fits into ``room`` (mm on paper)."""
    least = max(size[0] / room[0], size[1] / room[1])
    return next((scale for scale in SCALES if scale >= least - 1e-9), float(-(-least // 100) * 100))


def lines(text: str, size: float, room: float) -> list[str]:
    """``text`` broken between words into lines no longer than ``room`` mm."""
    found: list[str] = []
    for word in text.split():
        longer = f"{found[-1]} {word}" if found else word
        if found and wide(longer, size) <= room:
            found[-1] = longer
        else:
            found.append(word)
    return found


def plain(points: Iterable[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """A line without the points on the straight between their neighbours, to 0.005 mm."""
    kept: list[tuple[float, float]] = []
    every = list(points)
    for k, point in enumerate(every):
        if 0 < k < len(every) - 1:
            (ax, ay), (bx, by) = kept[-1], every[k + 1]
            long = float(np.hypot(bx - ax, by - ay))
            way, gap = (bx - ax, by - ay), (point[0] - ax, point[1] - ay)
            off = abs(way[0] * gap[1] - way[1] * gap[0]) / long if long > 1e-9 else 1.0
            if off < 0.005 and 0.0 <= way[0] * gap[0] + way[1] * gap[1] <= long * long:
                continue
        kept.append(point)
    return tuple(kept)


def clipped(drawn: Sequence[Seen], window: Window, box: Box) -> list[Stroke]:
    """What is seen, as strokes within ``box``."""
    return [
        Stroke(plain(part), FINE if line.thin else OUTLINE)
        for line in drawn
        for part in clip(window.at(line.points), box)
        if len(part) > 1
    ]


def clip(points: Sequence[tuple[float, float]], box: Box) -> Iterator[list[tuple[float, float]]]:
    """The parts of a line within ``box``. Method: Liang and Barsky."""
    run: list[tuple[float, float]] = []
    for (ax, ay), (bx, by) in pairwise(points):
        low, high = 0.0, 1.0
        for step, near, far in (
            (bx - ax, box.x - ax, box.x + box.width - ax),
            (by - ay, box.y - ay, box.y + box.height - ay),
        ):
            if abs(step) < 1e-12:
                if near > 0.0 or far < 0.0:
                    high = -1.0
                continue
            first, last = sorted((near / step, far / step))
            low, high = max(low, first), min(high, last)
        if low > high:
            if len(run) > 1:
                yield run
            run = []
            continue
        start, stop = (ax + low * (bx - ax), ay + low * (by - ay)), (ax + high * (bx - ax), ay + high * (by - ay))
        if not run or low > 0.0:
            if len(run) > 1:
                yield run
            run = [start]
        run.append(stop)
        if high < 1.0:
            yield run
            run = []
    if len(run) > 1:
        yield run
