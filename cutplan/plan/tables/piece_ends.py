"""An end of a piece close up, on a sheet: as it is cut, with its letter, its sides, and dashed what it meets.

Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from cutplan.geometry.bodies import Body, BodyEnd
from cutplan.geometry.model import EndShape
from cutplan.geometry.neighbours import Rod
from cutplan.geometry.points import Vector, cross, scaled
from cutplan.geometry.views import View, seen_lines
from cutplan.job.model import Cut, Saddle, Units
from cutplan.plan import wording
from cutplan.plan.tables.labels import Box, Labels
from cutplan.plan.tables.sheet import FINE, Sheet, Window, clip, clipped, plain, scale_for
from cutplan.plan.tables.wraps import Stroke, Words

CLOSE = (58.0, 22.0)
"""How wide and high an end is shown close up, in mm on paper."""
_DASH = 1.2
_AXIS_DASH = 0.5
_LETTER = 3.0


def close_views(body: Body, name: str, end: BodyEnd) -> tuple[View, View]:
    """From the side and from above, end a at the left or end b at the right."""
    right = end.z if name == "a" else scaled(end.z, -1.0)
    up: Vector = (0.0, 0.0, 1.0)
    arcs = [each for each in body.course if each.radius is not None]
    if arcs and name == "b":
        up = arcs[-1].inwards(arcs[-1].length)
    towards = cross(right, up)
    return View(right, up, towards), View(right, scaled(towards, -1.0), up)


def close_scale(body: Body, shape: EndShape, rods: Sequence[Rod]) -> float:
    """At which an end is shown with what it meets."""
    widest = max([body.radius, *(rod.radius for rod in rods)])
    long = shape.throat + max(0.0, -shape.tip_from_centre) + 2.0 * body.radius + 2.0 * widest
    return scale_for((long, 2.0 * body.radius + 1.4 * widest), (CLOSE[0] - 4.0, CLOSE[1] - 6.0))


def offsets(shape: EndShape, units: Units) -> str:
    """In words: on which side of the piece's axis the axes of what it lands on pass, and how far from it."""
    return "".join(
        f", axis of {wording.onto(one.onto, units)} {wording.length(abs(one.offset), units)} towards {_side_of(one)}"
        for one in shape.saddles
        if one.offset
    )


def _side_of(saddle: Saddle) -> str:
    return wording.degrees((saddle.turn_deg + (90.0 if saddle.offset > 0 else 270.0)) % 360.0)


def close_up(
    body: Body,
    wall: float,
    name: str,
    end: BodyEnd,
    rods: Sequence[Rod],
    view: View,
    scale: float,
    title: str,
    box: Box,
    sheet: Sheet,
    units: Units,
) -> None:
    """One end, with its letter, 0 and 90, and what it meets."""
    tip = float(end.lines[-1].min())
    widest = max([body.radius, *(rod.radius for rod in rods)])
    # What it meets has room outside the tip.
    outside = (2.0 * widest if rods else body.radius) / scale + 2.0
    anchor = np.array(end.origin) + tip * np.array(end.z)
    flat = view.flat(anchor[None, :])[0]
    x = box.x + min(outside, box.width * 0.6) if name == "a" else box.x + box.width - min(outside, box.width * 0.6)
    window = Window(x, box.y + 4.0 + (box.height - 4.0) / 2.0, (float(flat[0]), float(flat[1])), scale)
    inner = Box(box.x, box.y + 4.0, box.width, box.height - 4.0)
    drawn = clipped(seen_lines((_stub(body, name),), view, 0.0, (wall,)), window, inner)
    dashed = [stroke for rod in rods for stroke in _rod(rod, view, window, inner)]
    dashed += _axes(end, tip, [rod for rod in rods if any(rod.offset)], view, window, inner)
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
            pieces = [_piece(window, body.radius / scale, inwards, start, inner) for start in (0.0, deep)]
            _name(rod, view, window, inner, pieces, labels, units)
    sheet.words.append(Words(title, box.x, box.y + 2.4, 1.9))
    sheet.label(labels)


def _stub(body: Body, name: str) -> Body:
    """The end with the first bend next to it, without what would hide it or be behind it."""
    course = body.course if name == "a" else body.course[::-1]
    bends = [k for k, piece in enumerate(course) if piece.radius is not None]
    if not bends or bends[0] == len(course) - 1:
        return body
    kept = course[: bends[0] + 1]
    last = kept[-1]
    at, way = last.at(last.length if name == "a" else 0.0)
    inward = scaled(way, -1.0) if name == "a" else way
    side = last.normal
    lines = np.zeros_like(body.ends[0].lines)
    far = BodyEnd(at, side, cross(way, side), inward, lines, Cut.SQUARE)
    if name == "a":
        return replace(body, course=kept, ends=(body.ends[0], far))
    return replace(body, course=kept[::-1], ends=(far, body.ends[1]))


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


def _axes(end: BodyEnd, tip: float, rods: Sequence[Rod], view: View, window: Window, box: Box) -> list[Stroke]:
    """The axes of the end and of what passes it by, where they are not on each other in this view."""
    out = np.array(end.origin) + tip * np.array(end.z)
    found = [np.array([out + 400.0 * np.array(end.z), out - 80.0 * np.array(end.z)])] if rods else []
    for rod in rods:
        point, way = np.array(rod.point), np.array(rod.way)
        if float(np.linalg.norm(np.cross(way, np.array(view.towards)))) < 0.05:
            across = [np.array(each) * rod.radius * 0.5 for each in (view.right, view.up)]
            found += [np.array([point - each, point + each]) for each in across]
        else:
            found.append(np.array([point - 400.0 * way, point + 400.0 * way]))
    return [Stroke(plain(part), FINE, _AXIS_DASH) for line in found for part in clip(window.at(view.flat(line)), box)]


def _piece(window: Window, radius: float, inwards: float, start: float, box: Box) -> Box:
    """The piece from ``start`` behind its tip inwards."""
    edge = window.x + inwards * start
    left, right = (edge, box.x + box.width) if inwards > 0.0 else (box.x, edge)
    return Box(left, window.y - radius, right - left, 2.0 * radius)


def _name(rod: Rod, view: View, window: Window, box: Box, pieces: Sequence[Box], labels: Labels, units: Units) -> None:
    """What the end meets by name, on it and off the first of ``pieces`` that leaves room, where there is any;
    with its offset, where the view shows it."""
    off = np.array(rod.offset)
    text = rod.name
    if float(np.linalg.norm(view.flat(off))) > max(0.5 * float(np.linalg.norm(off)), 1e-6):
        text += f", {wording.length(float(np.linalg.norm(off)), units)} off"
    along = np.array([2.0, -2.0, 2.6, -2.6, 3.2, -3.2, 1.4, -1.4, 1.2, -1.2, 0.0])[:, None] * rod.radius
    axis = np.array(rod.point) + along * np.array(rod.way)
    across = np.cross(np.array(rod.way), np.array(view.towards))
    size = float(np.linalg.norm(across))
    aside = 0.6 * rod.radius * across / size if size > 0.05 else np.zeros(3)
    spots = window.at(view.flat(np.concatenate([axis, axis + aside, axis - aside])))
    inside = [(x, y) for x, y in spots if _holds(box, x, y)]
    clear = ([(x, y) for x, y in inside if not _holds(piece, x, y)] for piece in pieces)
    labels.place(text, 1.9, next((spots for spots in clear if spots), inside), worth=1e9)


def _holds(box: Box, x: float, y: float) -> bool:
    return box.x < x < box.x + box.width and box.y < y < box.y + box.height


def _rod(rod: Rod, view: View, window: Window, box: Box) -> Iterator[Stroke]:
    """The outline of what an end meets."""
    way, eye = np.array(rod.way), np.array(view.towards)
    square = np.cross(way, eye)
    size = float(np.linalg.norm(square))
    point = np.array(rod.point)
    if rod.plate:
        # Its face is a line only where it is looked along.
        ends = np.array([[-1.0], [1.0]]) * rod.radius / max(size, 0.05) * square
        found = [point + ends] if size > 0.99 else []
    elif size < 0.05:
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
