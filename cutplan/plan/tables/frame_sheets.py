"""The frame in place, on sheets: a pictorial view and three square ones, with marks, ends and main dimensions.

Only members given by points have a place in the frame; of a pair the left is drawn. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cutplan.geometry.bodies import Body, bodies_in_place
from cutplan.geometry.centreline import coordinates
from cutplan.geometry.model import Blank
from cutplan.geometry.points import Vector
from cutplan.geometry.views import (
    ABOVE,
    BACK,
    BELOW,
    FRONT,
    OTHER_SIDE,
    SIDE,
    Place,
    Scene,
    View,
    pictorial,
    places,
    seen_lines,
)
from cutplan.job.model import Job, Member, Settings
from cutplan.plan import wording
from cutplan.plan.tables.end_list import axis_points, coordinate
from cutplan.plan.tables.labels import Box, Labels
from cutplan.plan.tables.rulers import RULER_ROOM, Spot, rulers
from cutplan.plan.tables.sheet import FINE, MARGIN, OUTLINE, Sheet, Window, lines, plain, scale_for, titled
from cutplan.plan.tables.strays import Stray, strays
from cutplan.plan.tables.wraps import Stroke, Words

MARK_MM = 2.3
END_MM = 2.1
NODE_MM = 1.9
_HALO_MM = 0.7
_TOP = 19.0
_FOOT = 12.0
_LISTED_MM, _LINE = (1.9, 1.6, 1.4), 1.6
"""How high letters at the foot are, the largest that do; and how far their lines are apart, in that."""
_CORNER = 16.0
"""Kept at the right for the cross of axes, and at the left as much."""
_ROOM = 9.0
"""Kept round a view for marks that have no room on their tube."""
_CROSS_MM = 1.3
_NEAR_END_MM = 9.0
"""How far from its end on paper the letter of an end may be written."""


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
BEHIND = Aspect(pictorial(212.0), "pictorial view from behind")
"""Drawn where the first view does not show every piece."""
OTHERS = (
    Aspect(BACK, "seen against y (x to the left, z up)"),
    Aspect(OTHER_SIDE, "seen along x (y to the left, z up)"),
    Aspect(BELOW, "seen from below (x to the right, y down)"),
)
"""Each drawn where it names a piece that no view before it does."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What is in the frame: its bodies with their wall thicknesses, and the points they are given by. ``axes``: of
    members that cannot be made, their points by mark. ``nodes``: by name. ``strays``: ends whose point is off
    what they land on."""

    bodies: tuple[Body, ...]
    walls: tuple[float, ...]
    points: tuple[Spot, ...]
    axes: tuple[tuple[str, tuple[Vector, ...]], ...] = ()
    nodes: tuple[tuple[str, Vector], ...] = ()
    strays: tuple[Stray, ...] = ()


def frame_of(job: Job, blanks: Sequence[Blank]) -> Frame:
    """The members of ``job`` that are given by points or run from node to node, in place."""
    bodies = tuple(bodies_in_place(job, blanks))
    members = {member.mark: member for member in job.members}
    walls = tuple(float(job.tube(members[body.member].tube).wall) for body in bodies)
    made = {body.member for body in bodies}
    nodes = {node.name: node.xyz for node in job.nodes}
    points = [spot for member in job.members if member.route is None for spot in _spots(member)]
    points += [Spot(name, "", at) for name, at in nodes.items()]
    axes = [(member.mark, tuple(axis_points(member, nodes))) for member in job.members if member.mark not in made]
    seen = tuple((mark, axis) for mark, axis in axes if axis)
    return Frame(bodies, walls, tuple(points), seen, tuple(nodes.items()), tuple(strays(job)))


def _spots(member: Member) -> Iterator[Spot]:
    """The points of a member with what they are of it."""
    points = coordinates(member)
    for number, point in enumerate(points):
        part = "a" if number == 0 else "b" if number == len(points) - 1 else "corner"
        yield Spot(member.marks[0], part, point)


Names = Sequence[tuple[str, Vector]]
"""Nodes by name, with their places."""


def frame_sheets(job: Job, frame: Frame, paper: tuple[float, float]) -> tuple[Sheet, ...]:
    """A sheet for each view. ``paper``: its long and its short side in mm."""
    if not frame.bodies and not frame.axes:
        return ()
    legend = "Letters a and b: the ends of each piece."
    if frame.nodes:
        legend += " In boxes: the nodes."
    if frame.strays:
        legend += " Crosses: points of ends that are off the axis of what they land on."
    if frame.axes:
        legend += " Dashed, with a question mark: the axes of pieces that have faults, see the list of ends."
    if any(member.pair and member.points for member in job.members):
        legend += " Of a pair the left is drawn (with the setting mirror, the right as well)."
    drawn = [_view(job, frame, aspect, legend, paper) for aspect in ASPECTS]
    behind = [set(hidden) for _, hidden in drawn]
    if behind[0]:
        drawn.append(_view(job, frame, BEHIND, legend, paper))
        behind.append(set(drawn[-1][1]))
    unseen = set.intersection(*behind)
    for aspect in OTHERS if unseen else ():
        sheet, hidden = _view(job, frame, aspect, legend, paper)
        if unseen - set(hidden):
            drawn.append((sheet, hidden))
            unseen &= set(hidden)
    for sheet, hidden in drawn:
        if hidden:
            _listed(sheet, "Behind others here, see the other views", hidden)
    return tuple(sheet for sheet, _ in drawn)


def _view(
    job: Job, frame: Frame, aspect: Aspect, legend: str, paper: tuple[float, float]
) -> tuple[Sheet, Sequence[str]]:
    """A sheet of one view, and the marks that have no place in it."""
    window, room = _window(frame, aspect, paper)
    sheet = _titled(job.settings, aspect.name, legend, window, paper)
    if aspect.axes:
        rulers(job.settings, frame.points, aspect.view, aspect.axes, window, room, sheet)
    labels = _drawn(frame, aspect, window, room, sheet, frozenset())
    for stray in frame.strays:
        _cross(stray, frame, job.settings, aspect, window, sheet, labels)
    scene = Scene(frame.bodies, aspect.view, _HALO_MM * window.scale)
    hidden = _mark(frame, scene, window, labels, frame.nodes, aspect)
    sheet.label(labels)
    return sheet, hidden


def _cross(
    stray: Stray, frame: Frame, settings: Settings, aspect: Aspect, window: Window, sheet: Sheet, labels: Labels
) -> None:
    """A cross at the point of an end that is off what it lands on, a line from there to the end, and how far off."""
    x, y = window.one(aspect.view.flat(np.array([stray.at]))[0])
    marks = [Stroke(((x - _CROSS_MM, y + k), (x + _CROSS_MM, y - k)), 0.25) for k in (_CROSS_MM, -_CROSS_MM)]
    body = next((body for body in frame.bodies if body.mark == stray.mark), None)
    if body is not None:
        tip = window.one(aspect.view.flat(body.edge(stray.name).mean(axis=0)[None, :])[0])
        marks.append(Stroke(((x, y), tip), FINE, 0.6))
    sheet.strokes += marks
    labels.draw(marks)
    text = f"{stray.mark} {stray.name} is {coordinate(stray.mm, settings.units)} off {stray.onto}"
    labels.place(text, NODE_MM, [(x, y)], worth=1e9, on=False)


def stage_sheets(job: Job, frame: Frame, paper: tuple[float, float], stages: Mapping[str, int]) -> tuple[Sheet, ...]:
    """A pictorial sheet for each stage of building: what is there in thin lines, what is next in heavy ones, with its
    marks. ``stages``: by member; 0 for what is there already."""
    found = {stages[body.member] for body in frame.bodies}
    numbers = sorted(found - {0})
    aspect = ASPECTS[0]
    sheets = []
    for stage in numbers if len(found) > 1 else ():
        window, room = _window(frame, aspect, paper)
        kept = [k for k, body in enumerate(frame.bodies) if stages[body.member] <= stage]
        built = Frame(tuple(frame.bodies[k] for k in kept), tuple(frame.walls[k] for k in kept), ())
        before = frozenset(k for k, body in enumerate(built.bodies) if stages[body.member] < stage)
        legend = "In heavy lines: what is made in this stage. In thin lines: what is there before it."
        sheet = _titled(job.settings, f"stage {stage} of {numbers[-1]}", legend, window, paper)
        labels = _drawn(built, aspect, window, room, sheet, before)
        scene = Scene(built.bodies, aspect.view, _HALO_MM * window.scale)
        hidden = _mark(built, scene, window, labels, (), aspect, before)
        sheet.label(labels)
        if hidden:
            _listed(sheet, "Also in this stage, behind others here", hidden)
        sheets.append(sheet)
    return tuple(sheets)


def _window(frame: Frame, aspect: Aspect, paper: tuple[float, float]) -> tuple[Window, Box]:
    """Where on its sheet the frame is, and the room round it for marks."""
    width, height = paper
    axes = [np.array(points) for _, points in frame.axes]
    corners = aspect.view.flat(np.concatenate([*(_around(body) for body in frame.bodies), *axes]))
    low, high = corners.min(axis=0), corners.max(axis=0)
    left, under = RULER_ROOM if aspect.axes else (0.0, 0.0)
    room = Box(MARGIN + left, MARGIN + _TOP, width - 2 * MARGIN - left, height - 2 * MARGIN - _TOP - _FOOT - under)
    scale = scale_for(high - low, (room.width - 2 * _ROOM - _CORNER, room.height - 2 * _ROOM))
    middle = (float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0)
    window = Window(room.x + room.width / 2.0, room.y + room.height / 2.0, middle, scale)
    wide_on, high_on = ((high - low) / scale + 2 * _ROOM).tolist()
    return window, Box(window.x - wide_on / 2.0, window.y - high_on / 2.0, wide_on, high_on)


def _titled(settings: Settings, name: str, legend: str, window: Window, paper: tuple[float, float]) -> Sheet:
    below = f"1 : {window.scale:g}, lengths in {wording.unit_name(settings)}. {legend}"
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
        for name, end, inner in (("a", points[0], points[1]), ("b", points[-1], points[-2])):
            labels.place(name, END_MM, [_inwards(end, inner, mm) for mm in (3.0, 5.0, 8.0)], worth=1e9)
    _axes(aspect, Box(MARGIN, MARGIN, sheet.width - 2 * MARGIN, sheet.height - 2 * MARGIN - _FOOT), sheet)
    return labels


def _inwards(end: tuple[float, float], inner: tuple[float, float], mm: float) -> tuple[float, float]:
    """``mm`` from an end of an axis on paper, or half way where it is short."""
    long = float(np.hypot(inner[0] - end[0], inner[1] - end[1]))
    part = min(mm / long, 0.5) if long > 0.0 else 0.0
    return end[0] + (inner[0] - end[0]) * part, end[1] + (inner[1] - end[1]) * part


def _listed(sheet: Sheet, text: str, names: Sequence[str]) -> None:
    """``text`` and the ``names`` at the foot, in smaller letters if there are many; too many to read are only counted
    (all are on the list of ends)."""
    for size in _LISTED_MM:
        said = lines(f"{text}: {', '.join(names)}.", size, sheet.width - 2 * MARGIN)
        if len(said) * size * _LINE <= _FOOT - 2.0:
            break
    else:
        size, said = _LISTED_MM[0], [f"{text}: {len(names)} pieces; all are on the list of ends."]
    last = sheet.height - MARGIN - 1.0
    high = size * _LINE
    sheet.words += [Words(part, MARGIN, last - high * (len(said) - 1 - row), size) for row, part in enumerate(said)]


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
    labels.tubes = [[window.one(place.point) for place in each if place.free] for each in found]
    order = sorted(kept, key=lambda k: sum(place.free for place in found[k]))
    without = []
    for number in order:
        free = sorted((place for place in found[number] if place.free), key=lambda one: abs(one.part - 0.5))
        spots = [window.one(place.point) for place in free if 0.15 <= place.part <= 0.85][::2] or [
            window.one(place.point) for place in free
        ]
        if not spots or not labels.place(frame.bodies[number].mark, MARK_MM, spots, worth=80.0, tube=number):
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
    """The letter of an end on its tube, a little way in from its tip, where that is seen; else nowhere."""
    most = max(3.0 * radius, _NEAR_END_MM * window.scale)
    near = [one for one in found if one.free and 1.2 * radius < one.mm < most and one.part < 0.4]
    labels.place(name, END_MM, [window.one(one.point) for one in near][:8], leader=False, worth=9.0)


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
