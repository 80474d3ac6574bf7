"""Pieces each by itself, on sheets: the whole of it, and both its ends close up, from the side and from above.

End a is at the left. A straight piece is turned with the short side of its end a down; a bent one with its first bend
curving up; its end b is shown close up with the bend next to it curving up too. What an end lies against is dashed.
Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.bodies import Body, BodyEnd, body_by_itself
from cutplan.geometry.inside import Insides, insides
from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.neighbours import Rod, neighbours
from cutplan.geometry.points import Vector, cross, scaled
from cutplan.geometry.views import Seen, View, seen_lines
from cutplan.job.model import Cut, Job, Settings
from cutplan.plan import wording
from cutplan.plan.tables.labels import Box, Labels, wide
from cutplan.plan.tables.sheet import FINE, MARGIN, OUTLINE, Sheet, Window, lines, plain, scale_for, titled
from cutplan.plan.tables.wraps import Stroke, Words

Array = NDArray[np.float64]

_TOP = 18.0
_HEAD = 9.5
_CLOSE = (58.0, 22.0)
"""How wide and high an end is shown close up, in mm on paper."""
_APART = 4.0
_STRAIGHT, _BENT = 47.0, 76.0
"""How high a straight and a bent piece is shown, without its heading."""
_DASH = 1.2
_WORDS = 2.2
_LETTER = 3.0

_SIDE = View((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
_ABOVE = View((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Piece:
    """A blank with its body, its wall thickness and how its ends lie to its bends."""

    blank: Blank
    body: Body
    wall: float
    lie: Insides

    @property
    def height(self) -> float:
        """In mm on paper."""
        return _HEAD + (_BENT if self.blank.bends else _STRAIGHT)


def pieces_of(job: Job, blanks: Sequence[Blank]) -> tuple[Piece, ...]:
    """Each of ``blanks`` by itself."""
    return tuple(
        Piece(blank, body_by_itself(job, blank), float(job.tube(blank.tube).wall), insides(blank, job))
        for blank in blanks
    )


def piece_sheets(job: Job, pieces: Sequence[Piece], paper: tuple[float, float]) -> tuple[Sheet, ...]:
    """``pieces`` one below the other, on as many sheets as they take. ``paper``: its long and its short side in mm."""
    width, height = paper
    sheets: list[Sheet] = []
    top = height
    for piece in pieces:
        if top + piece.height > height - MARGIN:
            title = f"{job.settings.name}, pieces"
            below = (
                f"Lengths in {wording.unit_name(job.settings)}. End a at the left, end b at the right. 0: the short "
                "side; 90: a quarter turn clockwise, looking from end a to end b. Dashed: what the end lies against. "
                "Lengths along a bent piece: its straights between the bends."
            )
            sheets.append(titled(width, height, title, below))
            top = MARGIN + _TOP
        _draw(piece, job.settings, sheets[-1], Box(MARGIN, top, width - 2 * MARGIN, piece.height))
        top += piece.height
    return tuple(sheets)


def _draw(piece: Piece, settings: Settings, sheet: Sheet, area: Box) -> None:
    blank, body = piece.blank, piece.body
    sheet.strokes.append(Stroke(((area.x, area.y), (area.x + area.width, area.y)), FINE))
    sheet.words.insert(sheet.bold, Words(blank.mark, area.x, area.y + 5.0, 3.2))
    sheet.bold += 1
    for row, text in enumerate(
        lines(_told(piece, settings), _WORDS, area.width - wide(blank.mark, 3.2) * 1.1 - 4.0)[:2]
    ):
        sheet.words.append(Words(text, area.x + wide(blank.mark, 3.2) * 1.1 + 4.0, area.y + 5.0 + 3.4 * row, _WORDS))
    top = area.y + _HEAD
    for name, shape, end in (("a", blank.end_a, body.ends[0]), ("b", blank.end_b, body.ends[1])):
        left = area.x if name == "a" else area.x + area.width - _CLOSE[0]
        views = _close_views(piece, name, end)
        rods = list(neighbours(shape, end))
        scale = _close_scale(body, shape, rods)
        for row, (view, told) in enumerate(zip(views, ("from the side", "from above"), strict=True)):
            box = Box(left, top + row * (_CLOSE[1] + 2.0), *_CLOSE)
            _close_up(piece, name, end, rods, view, scale, f"end {name} {told}, 1 : {scale:g}", box, sheet)
    middle = Box(area.x + _CLOSE[0] + _APART, top, area.width - 2 * (_CLOSE[0] + _APART), piece.height - _HEAD - 3.0)
    if blank.bends:
        _bent(piece, settings, middle, sheet)
    else:
        _straight(piece, settings, middle, sheet)


def _told(piece: Piece, settings: Settings) -> str:
    """A piece in words: tube, blank, both ends, turn."""
    blank, units = piece.blank, settings.units
    found = [
        f"{blank.tube}, "
        + (
            f"an estimate, measure first: {wording.estimate(blank, settings)}"
            if blank.estimated
            else f"blank {wording.blank(blank.length, settings)}"
        ),
        *([f"{blank.count} times"] if blank.count > 1 else []),
        *(
            f"end {name}: {wording.end(shape, units)}{_offsets(shape, settings)}"
            for name, shape in (("a", blank.end_a), ("b", blank.end_b))
        ),
    ]
    if Cut.SQUARE not in (blank.end_a.cut, blank.end_b.cut):
        found.append(
            f"turn {wording.degrees(blank.turn_deg)}" if blank.turn_known else "turn not in the job, drawn for 0"
        )
    if blank.bends:
        found += [
            f"how end {name} lies to bend {number} is not in the job"
            for name, shape, turn, number in (
                ("a", blank.end_a, piece.lie.a, 1),
                ("b", blank.end_b, piece.lie.b, len(blank.bends)),
            )
            if turn is None and shape.cut is not Cut.SQUARE
        ]
    return "; ".join(found)


def _offsets(shape: EndShape, settings: Settings) -> str:
    off = [wording.length(one.offset, settings.units) for one in shape.saddles]
    return f" offset {' + '.join(off)}" if any(one.offset for one in shape.saddles) else ""


def _close_views(piece: Piece, name: str, end: BodyEnd) -> tuple[View, View]:
    """From the side and from above, end a at the left or end b at the right."""
    right = end.z if name == "a" else scaled(end.z, -1.0)
    up: Vector = (0.0, 0.0, 1.0)
    arcs = [each for each in piece.body.course if each.radius is not None]
    if arcs and name == "b":
        up = arcs[-1].inwards(arcs[-1].length)
    towards = cross(right, up)
    return View(right, up, towards), View(right, scaled(towards, -1.0), up)


def _close_scale(body: Body, shape: EndShape, rods: Sequence[Rod]) -> float:
    widest = max([body.radius, *(rod.radius for rod in rods)])
    long = shape.throat + max(0.0, -shape.tip_from_centre) + 2.0 * body.radius + 2.0 * widest
    return scale_for((long, 2.0 * body.radius + 1.4 * widest), (_CLOSE[0] - 4.0, _CLOSE[1] - 6.0))


def _close_up(
    piece: Piece,
    name: str,
    end: BodyEnd,
    rods: Sequence[Rod],
    view: View,
    scale: float,
    told: str,
    box: Box,
    sheet: Sheet,
) -> None:
    """One end, with its letter, 0 and 90, and what it lies against."""
    body = piece.body
    tip = float(end.lines[-1].min())
    widest = max([body.radius, *(rod.radius for rod in rods)])
    # What it lies against has room outside the tip.
    outside = (2.0 * widest if rods else body.radius) / scale + 2.0
    anchor = np.array(end.origin) + tip * np.array(end.z)
    flat = view.flat(anchor[None, :])[0]
    x = box.x + min(outside, box.width * 0.6) if name == "a" else box.x + box.width - min(outside, box.width * 0.6)
    window = Window(x, box.y + 4.0 + (box.height - 4.0) / 2.0, (float(flat[0]), float(flat[1])), scale)
    inner = Box(box.x, box.y + 4.0, box.width, box.height - 4.0)
    drawn = _clipped(seen_lines((body,), view, 0.0, (piece.wall,)), window, inner)
    dashed = [stroke for rod in rods for stroke in _rod(rod, view, window, inner)]
    sheet.strokes += [*drawn, *dashed]
    labels = Labels(inner, covered=3.0)
    labels.draw([*drawn, *dashed])
    inwards = 1.0 if name == "a" else -1.0
    deep = (float(end.lines[-1].max()) - tip) / scale
    letter = (window.x + inwards * (deep + body.radius * 0.9 / scale + 1.5), window.y)
    labels.place(name, _LETTER, [letter, (letter[0] + inwards * 3.0, letter[1])], leader=False, worth=1e9)
    turns = (("0", end.x), ("90", end.y), ("180", scaled(end.x, -1.0)), ("270", scaled(end.y, -1.0)))
    for text, side in turns if end.cut is not Cut.SQUARE else ():
        _side(text, side, view, body.radius / scale, letter[0] + inwards * 5.5, window, labels)
    for rod in rods:
        if rod.name:
            _name(rod, view, window, inner, labels)
    sheet.words.append(Words(told, box.x, box.y + 2.4, 1.9))
    sheet.patches += labels.patches
    sheet.leaders += labels.leaders
    sheet.words += labels.words


def _side(text: str, side: Vector, view: View, radius: float, x: float, window: Window, labels: Labels) -> None:
    """``text`` where the line at ``side`` of the tube is: above it or below, or on it where it is nearest the eye."""
    up, towards = (float(np.dot(side, way)) for way in (view.up, view.towards))
    if text in ("180", "270") and towards < 0.9:
        return
    further = 4.0 * float(np.sign(x - window.x))
    if abs(up) > 0.9:
        off = (radius + 2.0) * float(np.sign(up))
        labels.place(text, 1.9, [(x, window.y - off), (x + further, window.y - off)], leader=False, worth=1e9)
    elif towards > 0.1:
        labels.place(text, 1.9, [(x + further, window.y - radius * up * 0.8)], leader=False, worth=1e9)


def _name(rod: Rod, view: View, window: Window, box: Box, labels: Labels) -> None:
    """What the end lies against by name, on it and off the piece, where there is room."""
    along = np.array([2.0, -2.0, 2.6, -2.6, 3.2, -3.2, 1.4, -1.4, 0.0])[:, None] * rod.radius
    spots = window.at(view.flat(np.array(rod.point) + along * np.array(rod.way)))
    inside = [(x, y) for x, y in spots if box.x < x < box.x + box.width and box.y < y < box.y + box.height]
    labels.place(rod.name, 1.9, inside, worth=1e9)


def _rod(rod: Rod, view: View, window: Window, box: Box) -> Iterator[Stroke]:
    """The outline of what an end lies against."""
    way, eye = np.array(rod.way), np.array(view.towards)
    square = np.cross(way, eye)
    size = float(np.linalg.norm(square))
    point = np.array(rod.point)
    if size < 0.05:
        turn = np.radians(np.linspace(0.0, 360.0, 49))
        across = np.array(view.right), np.array(view.up)
        ring = point + rod.radius * (np.cos(turn)[:, None] * across[0] + np.sin(turn)[:, None] * across[1])
        found = [ring]
    else:
        long = 400.0 + 20.0 * rod.radius
        found = []
        for side in (1.0, -1.0):
            edge = point + side * rod.radius * square / size
            start = -long
            if rod.cut is not None:
                start = -float((edge - point) @ np.array(rod.cut)) / float(way @ np.array(rod.cut))
            found.append(edge + np.array([start, long])[:, None] * way)
    for line in found:
        for part in clip(window.at(view.flat(line)), box):
            yield Stroke(plain(part), FINE * 1.3, _DASH)


def _clipped(drawn: Sequence[Seen], window: Window, box: Box) -> list[Stroke]:
    return [
        Stroke(plain(part), FINE if line.thin else OUTLINE)
        for line in drawn
        for part in clip(window.at(line.points), box)
        if len(part) > 1
    ]


def clip(points: Sequence[tuple[float, float]], box: Box) -> Iterator[list[tuple[float, float]]]:
    """The parts of a line that lie within ``box``. Method: Liang and Barsky."""
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


def _whole(body: Body) -> Array:
    """Points that hold all of a piece between them."""
    found = [body.edge("a"), body.edge("b")]
    for each in body.course:
        for part in np.linspace(0.0, 1.0, 2 if each.radius is None else 13):
            found.append(np.array([each.at(each.length * float(part))[0]]) + body.radius * _CUBE)
    return np.concatenate(found)


_CUBE = np.vstack([np.eye(3), -np.eye(3)])


def _view(piece: Piece, view: View, scale: float, area: Box, sheet: Sheet) -> tuple[Window, Labels]:
    """The whole piece in the middle of ``area``."""
    flat = view.flat(_whole(piece.body))
    middle = (flat.min(axis=0) + flat.max(axis=0)) / 2.0
    window = Window(area.x + area.width / 2.0, area.y + area.height / 2.0, (float(middle[0]), float(middle[1])), scale)
    drawn = _clipped(seen_lines((piece.body,), view, 0.0, (piece.wall,)), window, area)
    sheet.strokes += drawn
    labels = Labels(area)
    labels.draw(drawn)
    return window, labels


def _straight(piece: Piece, settings: Settings, area: Box, sheet: Sheet) -> None:
    """From the side, with its length from tip to tip."""
    body = piece.body
    edges = np.concatenate([body.edge("a"), body.edge("b")])
    low, high = float(edges[:, 0].min()), float(edges[:, 0].max())
    scale = scale_for((high - low, 2.0 * body.radius), (area.width - 4.0, 14.0))
    window, _ = _view(piece, _SIDE, scale, Box(area.x, area.y + 4.0, area.width, 18.0), sheet)
    start, stop = window.one((low, 0.0))[0], window.one((high, 0.0))[0]
    text = f"tip to tip {'about ' * piece.blank.estimated}{wording.tape(high - low, settings)}"
    _dimension(start, stop, window.y + body.radius / scale, text, sheet)
    sheet.words.append(Words(f"from the side, 1 : {scale:g}", area.x, area.y + 2.4, 1.9))
    mid = window.y
    for name, x in (("a", start - 3.0), ("b", stop + 1.6)):
        if area.x - 3.0 <= x <= area.x + area.width + 1.5:
            sheet.words.append(Words(name, x, mid + 1.0, _WORDS))


def _dimension(start: float, stop: float, edge: float, text: str, sheet: Sheet) -> None:
    """A dimension line below an edge, its text under it."""
    y = edge + 5.0
    for x in (start, stop):
        sheet.strokes.append(Stroke(((x, edge + 0.8), (x, y + 1.0)), FINE))
    sheet.strokes.append(Stroke(((start, y), (stop, y)), FINE))
    for x, way in ((start, 1.0), (stop, -1.0)):
        for side in (0.5, -0.5):
            sheet.strokes.append(Stroke(((x, y), (x + way * 2.0, y + side)), FINE))
    sheet.words.append(Words(text, (start + stop - wide(text, _WORDS)) / 2.0, y + 3.4, _WORDS))


def _bent(piece: Piece, settings: Settings, area: Box, sheet: Sheet) -> None:
    """From the side and from above, one beside or below the other, with its straights and bends."""
    around = _whole(piece.body)
    (wide_side, high_side), (wide_above, high_above) = (
        (view.flat(around).max(axis=0) - view.flat(around).min(axis=0)).tolist() for view in (_SIDE, _ABOVE)
    )
    below = scale_for(
        (max(wide_side, wide_above), high_side + high_above), (area.width - 24.0, area.height - 4 * _ROOM - 6.0)
    )
    beside = scale_for(
        (wide_side + wide_above, max(high_side, high_above)), (area.width - 48.0, area.height - 2 * _ROOM - 3.0)
    )
    scale = min(below, beside)
    if below <= beside:
        part = high_side / scale + 2 * _ROOM
        boxes = (
            Box(area.x, area.y + 3.0, area.width, part),
            Box(area.x, area.y + part + 6.0, area.width, high_above / scale + 2 * _ROOM),
        )
    else:
        part = wide_side / scale + 24.0
        boxes = (
            Box(area.x, area.y + 3.0, part, area.height - 3.0),
            Box(area.x + part, area.y + 3.0, area.width - part, area.height - 3.0),
        )
    for view, box, told in zip((_SIDE, _ABOVE), boxes, ("from the side", "from above"), strict=True):
        sheet.words.append(Words(f"{told}, 1 : {scale:g}", box.x, box.y - 0.6, 1.9))
        window, labels = _view(piece, view, scale, box, sheet)
        for name, end in zip("ab", piece.body.ends, strict=True):
            spot = window.one(view.flat(np.array([end.origin]) + 1.4 * piece.body.radius * np.array([end.z]))[0])
            labels.place(name, _WORDS, [spot], worth=1e9)
        if view is _SIDE:
            _sizes(piece, settings, view, window, labels)
        sheet.patches += labels.patches
        sheet.leaders += labels.leaders
        sheet.words += labels.words


_ROOM = 6.0
"""Kept above and below a bent piece for its lengths and angles."""


def _sizes(piece: Piece, settings: Settings, view: View, window: Window, labels: Labels) -> None:
    """Each straight's length between its bends, each bend's angle, and how it is turned from the one before."""
    bends = iter(piece.blank.bends)
    for each in piece.body.course:
        spot = window.one(view.flat(np.array([each.at(each.length / 2.0)[0]]))[0])
        if each.radius is None:
            if each.length > 0.5:
                labels.place(wording.tape(each.length, settings), _WORDS, [spot], worth=1e9)
            continue
        bend = next(bends)
        text = f"{wording.degrees(bend.angle_deg)}°"
        if bend.rotation_deg and bend.number > 1:
            text += f", turned {wording.degrees(bend.rotation_deg)}°"
        labels.place(text, _WORDS, [spot], worth=1e9)
