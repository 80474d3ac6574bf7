"""Pieces each by itself, on sheets: the whole of it, and both its ends close up, from the side and from above.

End a is at the left. A straight piece is turned with the short side of its end a down; a bent one with its first bend
curving up; its end b is shown close up with the bend next to it curving up too. What an end meets is dashed.
Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import radians, sin

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.bodies import Body, body_by_itself
from cutplan.geometry.inside import Insides, insides
from cutplan.geometry.model import Blank
from cutplan.geometry.neighbours import neighbours
from cutplan.geometry.placing import Placer
from cutplan.geometry.views import View, pictorial, seen_lines
from cutplan.job.model import Cut, Job, Settings
from cutplan.plan import wording
from cutplan.plan.tables.labels import Box, Labels, wide
from cutplan.plan.tables.piece_ends import CLOSE, close_scale, close_up, close_views, offsets
from cutplan.plan.tables.sheet import FINE, MARGIN, Sheet, Window, clipped, lines, scale_for, titled
from cutplan.plan.tables.wraps import Stroke, Words

Array = NDArray[np.float64]

_TOP = 18.0
_HEAD = 9.5
_APART = 4.0
_STRAIGHT, _BENT, _IN_SPACE = 47.0, 76.0, 104.0
"""How high a straight piece is shown, one bent in a plane and one bent in space, without its heading."""
_WORDS = 2.2

_SIDE = View((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
_FLAT = 0.01
"""Sine of the angle between two bends' planes below which they are one to the eye."""
_ABOVE = View((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Piece:
    """A blank with its body, its wall thickness and where the insides of its bends are."""

    blank: Blank
    body: Body
    wall: float
    insides: Insides

    @property
    def height(self) -> float:
        """In mm on paper."""
        return _HEAD + (_IN_SPACE if self.in_space else _BENT if self.blank.bends else _STRAIGHT)

    @property
    def in_space(self) -> bool:
        """Whether its bends are in more planes than one."""
        return any(abs(sin(radians(bend.rotation_deg))) > _FLAT for bend in self.blank.bends[1:])


def pieces_of(job: Job, blanks: Sequence[Blank]) -> tuple[Piece, ...]:
    """Each of ``blanks`` by itself."""
    placer = Placer(job)
    return tuple(
        Piece(blank, body_by_itself(job, blank, placer), float(job.tube(blank.tube).wall), insides(blank, job))
        for blank in blanks
    )


def piece_sheets(job: Job, pieces: Sequence[Piece], paper: tuple[float, float]) -> tuple[Sheet, ...]:
    """``pieces`` one below the other, on as many sheets as they take. ``paper``: its long and its short side in mm."""
    width, height = paper
    sheets: list[Sheet] = []
    top = height
    for number, piece in enumerate(pieces):
        if top + _kept_together(pieces, number, height - 2 * MARGIN - _TOP) > height - MARGIN:
            title = f"{job.settings.name}, each piece by itself"
            below = (
                f"Lengths in {wording.unit_name(job.settings)}. End a at the left; end b, close up, at the right. 0: "
                "the short side; 90, 180, 270: from there clockwise, looking from a to b. Dashed: what the end sits on."
                " Along a bent piece: its straights between the bends. Tip to tip: once fitted; the blank is that and "
                "what is left for fitting."
            )
            sheets.append(titled(width, height, title, below))
            top = MARGIN + _TOP
        _draw(piece, job.settings, sheets[-1], Box(MARGIN, top, width - 2 * MARGIN, piece.height))
        top += piece.height
    return tuple(sheets)


def _kept_together(pieces: Sequence[Piece], number: int, most: float) -> float:
    """How high a piece is, with the right one below it where it is the left of a pair and both go on one sheet."""
    piece, after = pieces[number], pieces[number + 1 : number + 2]
    both = piece.height + sum(each.height for each in after)
    pair = after and after[0].blank.member == piece.blank.member and piece.blank.mark.endswith("-L")
    return both if pair and both <= most else piece.height


def _draw(piece: Piece, settings: Settings, sheet: Sheet, area: Box) -> None:
    blank, body = piece.blank, piece.body
    sheet.strokes.append(Stroke(((area.x, area.y), (area.x + area.width, area.y)), FINE))
    sheet.words.insert(sheet.bold, Words(blank.mark, area.x, area.y + 5.0, 3.2))
    sheet.bold += 1
    for row, text in enumerate(
        lines(_about(piece, settings), _WORDS, area.width - wide(blank.mark, 3.2) * 1.1 - 4.0)[:2]
    ):
        sheet.words.append(Words(text, area.x + wide(blank.mark, 3.2) * 1.1 + 4.0, area.y + 5.0 + 3.4 * row, _WORDS))
    top = area.y + _HEAD
    for name, shape, end in zip("ab", blank.ends, body.ends, strict=True):
        left = area.x if name == "a" else area.x + area.width - CLOSE[0]
        views = close_views(body, name, end)
        rods = list(neighbours(shape, end))
        scale = close_scale(body, shape, rods)
        for row, (view, title) in enumerate(zip(views, ("from the side", "from above"), strict=True)):
            box = Box(left, top + row * (CLOSE[1] + 2.0), *CLOSE)
            title = f"end {name} {title}, 1 : {scale:g}"
            close_up(body, piece.wall, name, end, rods, view, scale, title, box, sheet, settings.units)
    middle = Box(area.x + CLOSE[0] + _APART, top, area.width - 2 * (CLOSE[0] + _APART), piece.height - _HEAD - 3.0)
    if piece.in_space:
        under = top + 2 * (CLOSE[1] + 2.0) + 3.0
        high, other = area.y + piece.height - 3.0 - under, area.x + area.width - CLOSE[0]
        _whole_in(piece, pictorial(), "from the side, the right and above", Box(area.x, under, CLOSE[0], high), sheet)
        last = f"square to bend {len(blank.bends)}, end b to the right"
        _whole_in(piece, close_views(body, "b", body.ends[1])[0], last, Box(other, under, CLOSE[0], high), sheet)
    if blank.bends:
        _bent(piece, settings, middle, sheet)
    else:
        _straight(piece, settings, middle, sheet)


def _about(piece: Piece, settings: Settings) -> str:
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
            f"end {name}: {wording.end(shape, units)}{offsets(shape, units)}"
            for name, shape in zip("ab", blank.ends, strict=True)
        ),
    ]
    if blank.both_shaped:
        found.append(_turn(blank.turn_deg) if blank.turn_known else "turn not given, drawn as 0")
    if blank.bends:
        found += [
            f"how end {name} is turned to bend {number} was not given"
            for name, number in (("a", 1), ("b", len(blank.bends)))
            if piece.insides.at(name) is None and blank.end(name).cut is not Cut.SQUARE
        ]
    return "; ".join(found)


def _turn(turn_deg: float) -> str:
    """The turn between the ends, in words that need no reference."""
    turn, said = round(turn_deg % 360.0, 2), f"turn {wording.degrees(turn_deg)}"
    if turn in (0.0, 180.0):
        return f"{said}: short sides on {'the same side' if turn == 0.0 else 'opposite sides'}"
    way = f"{wording.degrees(turn)}° clockwise" if turn < 180.0 else f"{wording.degrees(360.0 - turn)}° anticlockwise"
    return f"{said}: the short side of b is {way} from that of a"


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
    drawn = clipped(seen_lines((piece.body,), view, 0.0, (piece.wall,)), window, area)
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
    length = wording.tape(high - low, settings)
    text = f"tip to tip {'about ' + length.removeprefix('~') if piece.blank.estimated else length}"
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
    for view, box, title in zip((_SIDE, _ABOVE), boxes, ("from the side", "from above"), strict=True):
        sheet.words.append(Words(f"{title}, 1 : {scale:g}", box.x, box.y - 0.6, 1.9))
        window, labels = _view(piece, view, scale, box, sheet)
        _ends(piece, view, window, labels)
        if view is _SIDE:
            _sizes(piece, settings, view, window, labels)
        sheet.label(labels)


def _whole_in(piece: Piece, view: View, title: str, area: Box, sheet: Sheet) -> None:
    """The whole piece in ``view``, as large as it may be."""
    flat = view.flat(_whole(piece.body))
    size = (flat.max(axis=0) - flat.min(axis=0)).tolist()
    scale = scale_for(size, (area.width - 14.0, area.height - 12.0))
    sheet.words.append(Words(f"{title}, 1 : {scale:g}", area.x, area.y + 2.4, 1.9))
    window, labels = _view(piece, view, scale, Box(area.x, area.y + 3.0, area.width, area.height - 3.0), sheet)
    _ends(piece, view, window, labels)
    sheet.label(labels)


def _ends(piece: Piece, view: View, window: Window, labels: Labels) -> None:
    """The letters of both ends."""
    for name, end in zip("ab", piece.body.ends, strict=True):
        spot = window.one(view.flat(np.array([end.origin]) + 1.4 * piece.body.radius * np.array([end.z]))[0])
        labels.place(name, _WORDS, [spot], worth=1e9)
        side, up, towards = (float(np.dot(end.x, way)) for way in (view.right, view.up, view.towards))
        if end.cut is Cut.SQUARE or towards < -0.7:
            continue
        along = np.array([2.5, 3.5, 4.5])[:, None] * piece.body.radius
        shown = window.at(
            view.flat(np.array(end.origin) + along * np.array(end.z) + piece.body.radius * np.array(end.x))
        )
        labels.place("0", _ZERO, [(x + 2.2 * side, y - 2.2 * up) for x, y in shown], leader=False, worth=1e9)


_ZERO = 1.9
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
        text = f"{wording.degrees(bend.angle_deg, taped=piece.blank.end_a.taped)}°"
        if bend.rotation_deg and bend.number > 1:
            text += f", turned {wording.degrees(bend.rotation_deg)}°"
        labels.place(text, _WORDS, [spot], worth=1e9)
