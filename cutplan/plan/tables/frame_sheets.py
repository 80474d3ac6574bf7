"""The frame as it stands, on sheets: a pictorial view and three square ones, with marks, ends and main dimensions.

Only members given by points have a place in the frame; of a pair the left is drawn. Lengths in mm.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cutplan.geometry.bodies import Body, bodies_in_place
from cutplan.geometry.landing import coordinates
from cutplan.geometry.model import Blank
from cutplan.geometry.points import Vector
from cutplan.geometry.views import ABOVE, FRONT, SIDE, Place, Scene, View, pictorial, places, seen_lines
from cutplan.job.model import Job, Member, Settings
from cutplan.plan import wording
from cutplan.plan.tables.labels import Box, Labels, spread, wide
from cutplan.plan.tables.sheet import FINE, MARGIN, OUTLINE, Sheet, Window, lines, plain, scale_for, titled
from cutplan.plan.tables.wraps import Stroke, Words

MARK_MM = 2.3
END_MM = 1.7
NODE_MM = 1.9
_RULER_MM = 1.9
_HALO_MM = 0.7
_TOP = 19.0
_FOOT = 12.0
_CORNER = 16.0
"""Kept at the right for the cross of axes, and at the left as much."""
_REACH = 0.5
"""How far into a view, as a part of it, the line from a coordinate runs towards the nearest tube there."""
_ROOM = 9.0
"""Kept round a view for marks that have no room on their tube."""


@dataclass(frozen=True, slots=True)
class Aspect:
    """A view with its name, and the job's axes that its paper shows to the right and up (none: neither)."""

    view: View
    name: str
    axes: tuple[int, int] | None = None


ASPECTS = (
    Aspect(pictorial(), "pictorial view"),
    Aspect(FRONT, "seen along y (x to the right, z up)", (0, 2)),
    Aspect(SIDE, "seen against x (y to the right, z up)", (1, 2)),
    Aspect(ABOVE, "seen from above (x to the right, y up)", (0, 1)),
)


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands in the frame: its bodies with their wall thicknesses, and the points they are given by. ``axes``: of
    members that cannot be made, their points by mark. ``nodes``: by name."""

    bodies: tuple[Body, ...]
    walls: tuple[float, ...]
    points: tuple[Vector, ...]
    axes: tuple[tuple[str, tuple[Vector, ...]], ...] = ()
    nodes: tuple[tuple[str, Vector], ...] = ()


def frame_of(job: Job, blanks: Sequence[Blank]) -> Frame:
    """The members of ``job`` that are given by points or run from node to node, in place."""
    bodies = tuple(bodies_in_place(job, blanks))
    members = {member.mark: member for member in job.members}
    walls = tuple(float(job.tube(members[body.member].tube).wall) for body in bodies)
    made = {body.member for body in bodies}
    nodes = {node.name: (float(node.x), float(node.y), float(node.z)) for node in job.nodes}
    points = [point for member in job.members if member.route is None for point in coordinates(member)]
    axes = [(member.mark, _axis(member, nodes)) for member in job.members if member.mark not in made]
    seen = tuple((mark, axis) for mark, axis in axes if axis)
    return Frame(bodies, walls, (*points, *nodes.values()), seen, tuple(nodes.items()))


def _axis(member: Member, nodes: Mapping[str, Vector]) -> tuple[Vector, ...]:
    """The points that a member runs through, those of its nodes where it has none yet."""
    if member.points or member.route is None:
        return tuple(coordinates(member))
    return tuple(nodes[name] for name in member.route.nodes if name in nodes)


Names = Sequence[tuple[str, Vector]]
"""Nodes by name, with their places."""


def frame_sheets(job: Job, frame: Frame, paper: tuple[float, float]) -> tuple[Sheet, ...]:
    """A sheet for each view. ``paper``: its long and its short side in mm."""
    if not frame.bodies and not frame.axes:
        return ()
    told = "Letters a and b: the ends of each piece."
    if frame.nodes:
        told += " In boxes: the nodes."
    if frame.axes:
        told += " Dashed, with a question mark: the axes of pieces that have faults."
    if any(member.pair and member.points for member in job.members):
        told += " Of a pair the left is drawn; the right is its mirror image."
    sheets = []
    for aspect in ASPECTS:
        window, room = _window(frame, aspect, paper)
        sheet = _titled(job.settings, aspect.name, told, window, paper)
        labels = _drawn(frame, aspect, window, room, sheet, frozenset())
        if aspect.axes:
            sheet.strokes += _rulers(job.settings, frame, aspect.axes, window, room, sheet)
        hidden = _mark(
            frame, Scene(frame.bodies, aspect.view, _HALO_MM * window.scale), window, labels, frame.nodes, aspect
        )
        _finish(sheet, labels)
        if hidden:
            _listed(sheet, f"Behind others here, see the other views: {', '.join(hidden)}.")
        sheets.append(sheet)
    return tuple(sheets)


def stage_sheets(job: Job, frame: Frame, paper: tuple[float, float], stages: Mapping[str, int]) -> tuple[Sheet, ...]:
    """A pictorial sheet for each stage of building: what stands in thin lines, what is next in heavy ones, with its
    marks. ``stages``: by member; 0 for what is there already."""
    found = {stages[body.member] for body in frame.bodies}
    numbers = sorted(found - {0})
    aspect = ASPECTS[0]
    sheets = []
    for stage in numbers if len(found) > 1 else ():
        window, room = _window(frame, aspect, paper)
        kept = [k for k, body in enumerate(frame.bodies) if stages[body.member] <= stage]
        stands = Frame(tuple(frame.bodies[k] for k in kept), tuple(frame.walls[k] for k in kept), ())
        before = frozenset(k for k, body in enumerate(stands.bodies) if stages[body.member] < stage)
        told = "In heavy lines: what is made in this stage. In thin lines: what stands before it."
        sheet = _titled(job.settings, f"stage {stage} of {numbers[-1]}", told, window, paper)
        labels = _drawn(stands, aspect, window, room, sheet, before)
        scene = Scene(stands.bodies, aspect.view, _HALO_MM * window.scale)
        hidden = _mark(stands, scene, window, labels, (), aspect, before)
        _finish(sheet, labels)
        if hidden:
            _listed(sheet, f"Also in this stage, behind others here: {', '.join(hidden)}.")
        sheets.append(sheet)
    return tuple(sheets)


def _window(frame: Frame, aspect: Aspect, paper: tuple[float, float]) -> tuple[Window, Box]:
    """Where on its sheet the frame lies, and the room round it for marks."""
    width, height = paper
    axes = [np.array(points) for _, points in frame.axes]
    corners = aspect.view.flat(np.concatenate([*(_around(body) for body in frame.bodies), *axes]))
    low, high = corners.min(axis=0), corners.max(axis=0)
    left, under = (20.0, 14.0) if aspect.axes else (0.0, 0.0)
    room = Box(MARGIN + left, MARGIN + _TOP, width - 2 * MARGIN - left, height - 2 * MARGIN - _TOP - _FOOT - under)
    scale = scale_for(high - low, (room.width - 2 * _ROOM - _CORNER, room.height - 2 * _ROOM))
    middle = (float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0)
    window = Window(room.x + room.width / 2.0, room.y + room.height / 2.0, middle, scale)
    wide_on, high_on = ((high - low) / scale + 2 * _ROOM).tolist()
    return window, Box(window.x - wide_on / 2.0, window.y - high_on / 2.0, wide_on, high_on)


def _titled(settings: Settings, name: str, told: str, window: Window, paper: tuple[float, float]) -> Sheet:
    below = f"1 : {window.scale:g}, lengths in {wording.unit_name(settings)}. {told}"
    return titled(*paper, f"{settings.name}, {name}", below)


def _drawn(frame: Frame, aspect: Aspect, window: Window, room: Box, sheet: Sheet, light: frozenset[int]) -> Labels:
    """Draw the frame, the bodies ``light`` in thin lines, and its axes; what may be written on it."""
    drawn = seen_lines(frame.bodies, aspect.view, _HALO_MM * window.scale, frame.walls)
    heavy = OUTLINE * 1.4 if light else OUTLINE
    sheet.strokes += [
        Stroke(plain(window.at(line.points)), FINE if line.thin or line.of in light else heavy)
        for line in drawn
        if len(line.points) > 1
    ]
    dashed = [(mark, window.at(aspect.view.flat(np.array(points)))) for mark, points in frame.axes]
    sheet.strokes += [Stroke(tuple(points), OUTLINE, 2.0) for _, points in dashed]
    labels = Labels(room)
    labels.draw(sheet.strokes)
    for mark, points in dashed:
        middle = [((ax + bx) / 2.0, (ay + by) / 2.0) for (ax, ay), (bx, by) in pairwise(points)]
        labels.place(f"{mark}?", MARK_MM, middle, worth=1e9)
    _axes(aspect, Box(MARGIN, MARGIN, sheet.width - 2 * MARGIN, sheet.height - 2 * MARGIN - _FOOT), sheet)
    return labels


def _finish(sheet: Sheet, labels: Labels) -> None:
    sheet.patches += labels.patches
    sheet.leaders += labels.leaders
    sheet.words += labels.words


def _listed(sheet: Sheet, text: str) -> None:
    """``text`` at the foot, three lines of it at the most."""
    told = lines(text, 1.9, sheet.width - 2 * MARGIN)
    if len(told) > 3:
        told = [*told[:2], told[2][: int(len(told[2]) * 0.9)] + " ..."]
    last = sheet.height - MARGIN - 1.0
    sheet.words += [Words(part, MARGIN, last - 3.0 * (len(told) - 1 - row), 1.9) for row, part in enumerate(told)]


def _around(body: Body) -> np.typing.NDArray[np.float64]:
    """Points that hold all of a body between them."""
    found = [body.edge("a"), body.edge("b")]
    for piece in body.course:
        for part in np.linspace(0.0, 1.0, 2 if piece.radius is None else 13):
            found.append(np.array([piece.at(piece.length * float(part))[0]]))
    return np.concatenate(found)


def _mark(
    frame: Frame,
    scene: Scene,
    window: Window,
    labels: Labels,
    names: Names,
    aspect: Aspect,
    without_marks: frozenset[int] = frozenset(),
) -> list[str]:
    """Write the marks, the names of the nodes and the letters of the ends, those of the bodies ``without_marks`` apart;
    the marks that there was no place for, or nothing seen of."""
    found = places(scene)
    kept = [k for k in range(len(found)) if k not in without_marks]
    order = sorted(kept, key=lambda k: sum(place.free for place in found[k]))
    without = []
    for number in order:
        free = sorted((place for place in found[number] if place.free), key=lambda one: abs(one.part - 0.5))
        spots = [window.one(place.point) for place in free if 0.15 <= place.part <= 0.85][::2] or [
            window.one(place.point) for place in free
        ]
        if not spots or not labels.place(frame.bodies[number].mark, MARK_MM, spots, worth=80.0):
            without.append(frame.bodies[number].mark)
    seen: set[tuple[int, int]] = set()
    for name, place in sorted(names, key=lambda one: -float(np.dot(one[1], aspect.view.towards))):
        at = window.one(aspect.view.flat(np.array([place]))[0])
        # Of nodes behind each other the nearest is named: those behind it are in the other views.
        spot = round(at[0]), round(at[1])
        if spot not in seen:
            seen.add(spot)
            labels.place(name, NODE_MM, [at], boxed=True, worth=80.0)
    for number in order:
        for name, near in (("a", _from_a), ("b", _from_b)):
            _letter(name, near(found[number]), frame.bodies[number].radius, window, labels)
    return sorted(without, key=[body.mark for body in frame.bodies].index)


def _from_a(found: Sequence[Place]) -> list[Place]:
    return list(found)


def _from_b(found: Sequence[Place]) -> list[Place]:
    total = found[-1].mm
    return [Place(1.0 - one.part, total - one.mm, one.point, one.free) for one in reversed(found)]


def _letter(name: str, found: Sequence[Place], radius: float, window: Window, labels: Labels) -> None:
    """The letter of an end on its tube, a little way in from its tip, where that is seen."""
    spots = [window.one(one.point) for one in found if one.free and one.mm > 1.5 * radius and one.part < 0.4]
    labels.place(name, END_MM, spots[:8], leader=False, worth=6.0)


def _axes(aspect: Aspect, room: Box, sheet: Sheet) -> None:
    """Which way x, y and z go, in the lower right corner."""
    x, y, long = room.x + room.width - 14.0, room.y + room.height - 9.0, 8.0
    ways = aspect.view.flat(np.eye(3)) * long
    for name, (right, up) in zip("xyz", ways.tolist(), strict=True):
        size = float(np.hypot(right, up))
        if size < 1.0:
            continue
        tip = (x + right, y - up)
        sheet.strokes.append(Stroke(((x, y), tip), 0.2))
        for side in (1.0, -1.0):
            back = (-right * 1.6 - side * up * 0.6, -up * 1.6 + side * right * 0.6)
            sheet.strokes.append(Stroke((tip, (tip[0] + back[0] / size, tip[1] - back[1] / size)), 0.2))
        sheet.words.append(Words(name, tip[0] + right / size * 2.0 - 0.6, tip[1] - up / size * 2.0 + 0.8, 1.9))


def _rulers(
    settings: Settings,
    frame: Frame,
    axes: tuple[int, int],
    window: Window,
    room: Box,
    sheet: Sheet,
) -> Iterable[Stroke]:
    """Along the lower and the left edge: where the points of the frame lie, each place with its coordinate."""
    strokes: list[Stroke] = []
    within = max(float(settings.meet_within), 0.5)
    flat = [(point[axes[0]], point[axes[1]]) for point in frame.points]
    bottom, left = room.y + room.height, room.x
    apart = _RULER_MM + 1.0
    for way in (0, 1):
        values = _levels([point[way] for point in flat], within)
        span = (room.x, room.x + room.width) if way == 0 else (room.y + room.height, room.y)
        values = _most(values, int(abs(span[1] - span[0]) / apart))
        on_paper = [window.one((value, 0.0))[0] if way == 0 else window.one((0.0, value))[1] for value, _, _ in values]
        if way == 0:
            shown = spread(on_paper, apart, span[0], span[1])
        else:
            shown = [-one for one in spread([-one for one in on_paper], apart, -span[0], -span[1])]
        for (value, low, high), at, put in zip(values, on_paper, shown, strict=True):
            own = [point for point in flat if low - 1e-6 <= point[way] <= high + 1e-6]
            nearest = min(own, key=lambda point: point[1 - way])
            text = wording.length(round(value, 1), settings.units) if settings.units.value == "mm" else _inch(value)
            if way == 0:
                end = max(window.one(nearest)[1] + 1.0, bottom - _REACH * room.height)
                strokes.append(Stroke(((at, end), (at, bottom)), FINE / 2, 0.8))
                strokes.append(Stroke(((at, bottom), (put, bottom + 3.0)), FINE))
                sheet.words.append(
                    Words(text, put + _RULER_MM / 2, bottom + 3.8 + wide(text, _RULER_MM), _RULER_MM, True)
                )
            else:
                end = min(window.one(nearest)[0] - 1.0, left + _REACH * room.width)
                strokes.append(Stroke(((end, at), (left, at)), FINE / 2, 0.8))
                strokes.append(Stroke(((left, at), (left - 3.0, put)), FINE))
                long = wide(text, _RULER_MM)
                sheet.words.append(Words(text, left - 3.8 - long, put + _RULER_MM / 2, _RULER_MM))
    return strokes


def _inch(mm: float) -> str:
    return f"{round(mm / 25.4, 2):g}"


def _levels(values: Iterable[float], within: float) -> list[tuple[float, float, float]]:
    """Coordinates that lie together: the one most often met, the least and the greatest of each lot."""
    lots: list[list[float]] = []
    for value in sorted(values):
        if lots and value - lots[-1][-1] <= within:
            lots[-1].append(value)
        else:
            lots.append([value])
    return [(Counter(lot).most_common(1)[0][0], lot[0], lot[-1]) for lot in lots]


def _most(values: list[tuple[float, float, float]], room: int) -> list[tuple[float, float, float]]:
    """As many of them as there is room for, the outermost among them."""
    if len(values) <= room:
        return values
    kept = np.unique(np.linspace(0, len(values) - 1, room).round().astype(int))
    return [values[k] for k in kept]
