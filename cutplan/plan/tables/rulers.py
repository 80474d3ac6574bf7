"""Coordinates along the edges of a view: a line from each to the point it belongs to, and whose point it is.

Lengths in mm.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from cutplan.geometry.points import Vector
from cutplan.geometry.views import View
from cutplan.job.model import Settings
from cutplan.plan.tables.end_list import coordinate
from cutplan.plan.tables.labels import Box, spread, wide
from cutplan.plan.tables.sheet import FINE, Sheet, Window, lines
from cutplan.plan.tables.wraps import Stroke, Words

RULER_MM = 1.9
RULER_ROOM = (26.0, 22.0)
"""Kept for them at the left of a view, and below it."""
_OUT = 3.0
_APART = 1.0
_DOT = 0.8
_MOST_NAMED = 3
"""The points of a coordinate are named where there are at most so many."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the frame and whose it is: end "a" or "b" of a piece or a "corner" of it; a node by its name, with no
    ``part``."""

    name: str
    part: str
    at: Vector


@dataclass(frozen=True, slots=True)
class _Level:
    """Coordinates that are nearly the same, as one: the one most often met, of several as often met their mean;
    ``spots``: on paper, with their names."""

    value: float
    spots: tuple[tuple[Spot, tuple[float, float]], ...]

    def names(self) -> list[str]:
        """Whose it is, where it is a few points' alone."""
        parts: dict[str, list[str]] = {}
        for spot, _ in self.spots if len(self.spots) <= _MOST_NAMED else ():
            parts.setdefault(spot.name, []).append(spot.part)
        return [" ".join(dict.fromkeys([name, *sorted(part)])).strip() for name, part in parts.items()]


def rulers(
    settings: Settings,
    spots: Sequence[Spot],
    view: View,
    axes: tuple[int, int],
    window: Window,
    room: Box,
    sheet: Sheet,
) -> None:
    """Along the lower and the left edge of ``room``: where the points of the frame are."""
    within = max(float(settings.meet_within), 0.5)
    front = _in_front(spots, view, window)
    for way in (0, 1):
        low, high = (room.x, room.x + room.width) if way == 0 else (-room.y - room.height, -room.y)
        levels = _most(list(_levels(front, axes[way], way, within)), int((high - low) / (RULER_MM + _APART)))
        sign = 1.0 if way == 0 else -1.0
        places = [sign * _on_paper(level.value, way, window) for level in levels]
        long = RULER_ROOM[1 - way] - _OUT - 0.8
        texts = [_lines(coordinate(level.value, settings.units), level.names(), long) for level in levels]
        if sum(map(len, texts)) > (high - low) / (RULER_MM + _APART):
            texts = [
                text[:1] if len(text) == 1 else [coordinate(level.value, settings.units)]
                for level, text in zip(levels, texts, strict=True)
            ]
        wanted = [place for place, text in zip(places, texts, strict=True) for _ in text]
        shown = iter(spread(wanted, RULER_MM + _APART, low, high))
        for level, at, text in zip(levels, places, texts, strict=True):
            put = [sign * next(shown) for _ in text]
            # On paper the first line is at the left, or above.
            _ruler(text, sorted(put), level, way, sign * at, room, sheet)


def _lines(value: str, names: Sequence[str], room: float) -> list[str]:
    """A coordinate and whose it is, in as many lines as that takes; alone where a name is too long for a line."""
    text = f"{value}  {', '.join(names)}".rstrip()
    said = [text] if wide(text, RULER_MM) <= room else lines(text, RULER_MM, room)
    return said if all(wide(line, RULER_MM) <= room for line in said) else [value]


def _ruler(
    texts: Sequence[str], puts: Sequence[float], level: _Level, way: int, at: float, room: Box, sheet: Sheet
) -> None:
    """A coordinate, line by line at ``puts``, with its line to the nearest of its points, on to the other where it is
    that of two tubes; a dot on each."""
    put = (puts[0] + puts[-1]) / 2.0
    edge = room.y + room.height if way == 0 else room.x
    reach = sorted((abs(point[1 - way] - edge), point) for _, point in level.spots)
    reach = reach[: 2 if len(level.names()) == len(reach) == 2 else 1]
    far = reach[-1][1][1 - way]
    for _, (x, y) in reach:
        sheet.strokes.append(Stroke(((x - 0.01, y), (x + 0.01, y)), _DOT))
    if way == 0:
        sheet.strokes.append(Stroke(((at, far), (at, edge)), FINE / 2, 0.8))
        sheet.strokes.append(Stroke(((at, edge), (put, edge + _OUT)), FINE))
        for text, x in zip(texts, puts, strict=True):
            y = edge + _OUT + 0.8 + wide(text, RULER_MM)
            sheet.words.append(Words(text, x + RULER_MM / 2, y, RULER_MM, True))
    else:
        sheet.strokes.append(Stroke(((far, at), (edge, at)), FINE / 2, 0.8))
        sheet.strokes.append(Stroke(((edge, at), (edge - _OUT, put)), FINE))
        for text, y in zip(texts, puts, strict=True):
            x = edge - _OUT - 0.8 - wide(text, RULER_MM)
            sheet.words.append(Words(text, x, y + RULER_MM / 2, RULER_MM))


def _in_front(spots: Sequence[Spot], view: View, window: Window) -> list[tuple[Spot, tuple[float, float]]]:
    """Points with their places on paper; of nodes behind each other the one nearest the eye."""
    found: dict[tuple[str, str, int, int], tuple[Spot, tuple[float, float]]] = {}
    for spot in sorted(spots, key=lambda one: -float(np.dot(one.at, view.towards))):
        x, y = window.one(view.flat(np.array([spot.at]))[0])
        found.setdefault((spot.name if spot.part else "", spot.part, round(x * 4), round(y * 4)), (spot, (x, y)))
    return list(found.values())


def _on_paper(value: float, way: int, window: Window) -> float:
    return window.one((value, 0.0))[0] if way == 0 else window.one((0.0, value))[1]


def _levels(spots: Iterable[tuple[Spot, tuple[float, float]]], axis: int, way: int, within: float) -> Iterator[_Level]:
    """Points whose coordinates are nearly the same, each group sorted from its edge."""
    lots: list[list[tuple[Spot, tuple[float, float]]]] = []
    for one in sorted(spots, key=lambda each: each[0].at[axis]):
        if lots and one[0].at[axis] - lots[-1][-1][0].at[axis] <= within:
            lots[-1].append(one)
        else:
            lots.append([one])
    for lot in lots:
        met = Counter(round(spot.at[axis], 6) for spot, _ in lot)
        often = [value for value, times in met.items() if times == max(met.values())]
        value = sum(often) / len(often)
        near = sorted(lot, key=lambda one: -one[1][1] if way == 0 else one[1][0])
        yield _Level(value, tuple(near))


def _most(levels: list[_Level], room: int) -> list[_Level]:
    """As many of them as there is room for, the outermost among them."""
    if len(levels) <= room:
        return levels
    kept = np.unique(np.linspace(0, len(levels) - 1, room).round().astype(int))
    return [levels[k] for k in kept]
