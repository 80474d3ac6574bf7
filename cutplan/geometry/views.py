"""What is seen of finished tubes from one side: outlines and ends, with what is in front hiding what is behind.

Lengths in mm, parallel projection. Of a tube is seen, on either side of its centreline, the line on its outside whose
normal is square both to the centreline and to the line of sight; and the edges of its ends. A place on such a line is
hidden where the line of sight from it to the eye meets metal. Method: vector geometry; the contour of a canal surface
(Hilbert and Cohn-Vossen, *Geometry and the Imagination*, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.bodies import LINES, Body, round_tube
from cutplan.geometry.centreline import Stretch
from cutplan.geometry.clashes import centre_chords
from cutplan.geometry.points import Vector
from cutplan.geometry.saddle import Array

SKIN_MM = 0.35
"""Less metal than this next to a line does not hide it: an end's edge is on the tube that it is coped onto."""
_ALIKE = 1e-6
_ARC_STEPS_DEG = 3.0
_HALVINGS = 8
_LOOKS = np.array([0.04, 0.2, 0.35, 0.5, 0.65, 0.8, 0.96])


@dataclass(frozen=True, slots=True)
class View:
    """A parallel projection by unit vectors: what is to the ``right`` on paper, what ``up``, and ``towards`` the
    eye."""

    right: Vector
    up: Vector
    towards: Vector

    def flat(self, points: Array) -> Array:
        """Points (n, 3) on paper, (n, 2): to the right, up."""
        return np.asarray(points @ np.array([self.right, self.up]).T, dtype=float)


FRONT = View((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
"""Looking along y: x to the right, z up."""
SIDE = View((0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
"""Looking against x: y to the right, z up."""
ABOVE = View((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
"""Looking down: x to the right, y up."""
BACK = View((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
OTHER_SIDE = View((0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (-1.0, 0.0, 0.0))
BELOW = View((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
"""From the sides opposite to those three."""


def pictorial(round_deg: float = 32.0, down_deg: float = 24.0) -> View:
    """From the front, ``round_deg`` to the right of it, looking ``down_deg`` down; what is upright stays upright."""
    r, d = radians(round_deg), radians(down_deg)
    return View(
        (cos(r), sin(r), 0.0),
        (-sin(r) * sin(d), cos(r) * sin(d), cos(d)),
        (sin(r) * cos(d), -cos(r) * cos(d), sin(d)),
    )


@dataclass(frozen=True, slots=True)
class Line:
    """A line on body number ``of``, through ``points`` (n, 3). ``thin``: not an outline, an edge inside it."""

    of: int
    points: Array
    thin: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """What is seen of a line: ``points`` on paper (n, 2), in mm of the frame."""

    of: int
    points: Array
    thin: bool = False


def seen_lines(bodies: Sequence[Body], view: View, halo: float = 0.0, walls: Sequence[float] = ()) -> list[Seen]:
    """All that is seen of ``bodies``. ``halo``: how far in mm what passes well behind stops short of what is in front.
    ``walls``: of each, for the inner edges of the ends that look at the eye."""
    scene = Scene(bodies, view, halo)
    step = min((body.radius for body in bodies), default=1.0) / 2.0
    lines = [
        line
        for number, body in enumerate(bodies)
        for line in (
            *outlines(body, number, view, step),
            *end_edges(body, number, walls[number] if walls else 0.0, view),
        )
    ]
    return list(scene.seen(lines))


def outlines(body: Body, number: int, view: View, step: float) -> Iterator[Line]:
    """Both sides of a body's outline, from end to end, in parts where it bends past the line of sight."""
    eye = np.array(view.towards)
    for side in (1.0, -1.0):
        run: list[Array] = []
        last: Array | None = None
        for place, piece in enumerate(body.course):
            square = np.cross(piece.way, eye)
            if piece.radius is None and float(np.linalg.norm(square)) < _ALIKE:
                if len(run) > 1:
                    yield Line(number, np.array(run))
                run, last = [], None
                continue
            low, high = _reach(body, place, side * square)
            if high < low:
                continue
            at, way = _sampled(piece, low, high, step)
            square = np.cross(way, eye)
            size = np.linalg.norm(square, axis=1)
            for point, normal in zip(at[size > _ALIKE], square[size > _ALIKE] / size[size > _ALIKE, None], strict=True):
                if last is not None and float(normal @ last) < 0.0:
                    if len(run) > 1:
                        yield Line(number, np.array(run))
                    run = []
                run.append(point + side * body.radius * normal)
                last = normal
        if len(run) > 1:
            yield Line(number, np.array(run))
    yield from _rounds(body, number, eye)


def _rounds(body: Body, number: int, eye: Array) -> Iterator[Line]:
    """Where a tube bends past the line of sight it is seen round: once round it there."""
    last = len(body.course) - 1
    for place, piece in enumerate(body.course):
        if piece.radius is None:
            alike = float(np.linalg.norm(np.cross(piece.way, eye))) < _ALIKE
            for along, met in ((0.0, place > 0), (piece.length, place < last)):
                if alike and met:
                    yield Line(number, _ring(body, np.array(piece.at(along)[0]), np.array(piece.way)))
            continue
        sides = [float(np.cross(piece.at(along)[1], eye) @ np.array(piece.normal)) for along in (0.0, piece.length)]
        level = abs(float(np.array(piece.normal) @ eye)) < _ALIKE
        if level and min(sides) < -_ALIKE and max(sides) > _ALIKE:
            yield Line(number, _ring(body, *_past_sight(piece, eye)))


def _reach(body: Body, place: int, normal: Array) -> tuple[float, float]:
    """From where to where a piece of the course is there on the side of ``normal``, the ends' cuts heeded."""
    piece = body.course[place]
    low, high = 0.0, piece.length
    for end, at in ((body.ends[0], 0), (body.ends[1], len(body.course) - 1)):
        if place != at:
            continue
        turn = np.degrees(np.arctan2(float(normal @ np.array(end.y)), float(normal @ np.array(end.x)))) % 360.0
        line = np.append(end.lines[-1], end.lines[-1][0])
        cut = float(np.interp(turn * LINES / 360.0, np.arange(LINES + 1), line))
        tip = np.array(end.origin) + cut * np.array(end.z)
        along = float((tip - np.array(piece.start)) @ np.array(piece.way))
        if end is body.ends[0]:
            low = along
        else:
            high = along
    return low, high


def _sampled(piece: Stretch, low: float, high: float, step: float) -> tuple[Array, Array]:
    """Points along the centreline and its direction there."""
    if piece.radius is None:
        count = max(2, int((high - low) / step) + 2)
        along = np.linspace(low, high, count)
        way = np.array(piece.way)
        return np.array(piece.start) + along[:, None] * way, np.tile(way, (count, 1))
    count = max(3, int(np.degrees(piece.length / piece.radius) / _ARC_STEPS_DEG) + 2)
    found = [piece.at(float(each)) for each in np.linspace(low, high, count)]
    return np.array([point for point, _ in found]), np.array([way for _, way in found])


def _past_sight(piece: Stretch, eye: Array) -> tuple[Array, Array]:
    """Where an arc runs along the line of sight."""
    low, high = 0.0, piece.length
    side = np.array(piece.normal)
    start = float(np.cross(piece.way, eye) @ side)
    for _ in range(50):
        middle = (low + high) / 2.0
        if (float(np.cross(piece.at(middle)[1], eye) @ side) > 0.0) == (start > 0.0):
            low = middle
        else:
            high = middle
    point, way = piece.at(low)
    return np.array(point), np.array(way)


def _ring(body: Body, at: Array, way: Array) -> Array:
    """Once round the tube at a point of its centreline."""
    ring = at + body.radius * round_tube(way, 72)
    return np.vstack([ring, ring[:1]])


def end_edges(body: Body, number: int, wall: float, view: View) -> Iterator[Line]:
    """The edges of both ends, and of one that looks at the eye that of its inside too, where ``wall`` is above 0."""
    for name, end in zip("ab", body.ends, strict=True):
        edge = body.edge(name)
        yield Line(number, np.vstack([edge, edge[:1]]))
        if wall > 0.0 and float(np.array(end.z) @ np.array(view.towards)) < -0.05:
            inner = body.edge(name, body.radius - wall)
            yield Line(number, np.vstack([inner, inner[:1]]), thin=True)


class Scene:
    """Bodies as seen from one side; what of a line on one of them is hidden by itself and the others."""

    def __init__(self, bodies: Sequence[Body], view: View, halo: float = 0.0) -> None:
        self.bodies, self.view, self.halo = bodies, view, halo
        self._eye = np.array(view.towards)
        self._chords = [centre_chords(body) for body in bodies]

    def seen(self, lines: Sequence[Line]) -> Iterator[Seen]:
        """What is seen of ``lines``, part by part."""
        if not lines:
            return
        points = np.concatenate([line.points for line in lines])
        owner = np.concatenate([np.full(len(line.points), line.of) for line in lines])
        bare = self._bare(points, owner)
        starts = np.cumsum([0, *(len(line.points) for line in lines)])
        joined = np.ones(len(points), dtype=bool)
        joined[starts[1:-1] - 1] = joined[-1] = False
        edge = np.nonzero(joined & (bare != np.roll(bare, -1)))[0]
        turning = self._turning(points, owner, bare, edge)
        for line, start, stop in zip(lines, starts[:-1].tolist(), starts[1:].tolist(), strict=True):
            for part in _runs(points, bare, turning, start, stop):
                yield Seen(line.of, self.view.flat(part), line.thin)

    def free(self, points: Array, owner: NDArray[np.int_]) -> NDArray[np.bool_]:
        """Which of ``points`` (n, 3) on the bodies ``owner`` are seen."""
        return self._bare(points, owner)

    def _turning(
        self, points: Array, owner: NDArray[np.int_], bare: NDArray[np.bool_], edge: NDArray[np.int_]
    ) -> dict[int, Array]:
        """Between point ``edge`` and the next: where a line comes to be hidden, or seen again."""
        low, high = points[edge].copy(), points[edge + 1].copy()
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            same = self._bare(middle, owner[edge]) == bare[edge]
            low[same], high[~same] = middle[same], middle[~same]
        return dict(zip(edge.tolist(), (low + high) / 2.0, strict=True))

    def _bare(self, points: Array, owner: NDArray[np.int_]) -> NDArray[np.bool_]:
        hidden = np.zeros(len(points), dtype=bool)
        flat = self.view.flat(points)
        for number, body in enumerate(self.bodies):
            chords = self._chords[number]
            reach = body.radius + self.halo + 1.0
            line = self.view.flat(chords)
            lo, hi = line.min(axis=0) - reach, line.max(axis=0) + reach
            near = np.nonzero(~hidden & ((flat > lo) & (flat < hi)).all(axis=1))[0]
            for start, stop in pairwise(chords):
                if not len(near):
                    break
                covered = self._covered(body, start, stop, points[near], owner[near], number)
                hidden[near[covered]] = True
                near = near[~covered]
        return ~hidden

    def _covered(
        self, body: Body, start: Array, stop: Array, points: Array, owner: NDArray[np.int_], number: int
    ) -> NDArray[np.bool_]:
        """Which of ``points`` are behind the stretch of ``body`` between two points of its centreline."""
        covered = np.zeros(len(points), dtype=bool)
        radii = np.array([each.radius for each in self.bodies])
        for halo in (0.0, self.halo) if self.halo > 0.0 else (0.0,):
            near, far = _through_rod(points, self._eye, start, stop, body.radius + halo + 1.0)
            # What touches, or nearly so, is not drawn apart.
            least = 1e-6 if halo == 0.0 else 1.0
            near = np.maximum(near, least if halo == 0.0 else radii[owner] + body.radius)
            chosen = np.nonzero(~covered & (far > near) & ((owner != number) | (halo == 0.0)))[0]
            if not len(chosen):
                continue
            t = near[chosen, None] + (far - near)[chosen, None] * _LOOKS
            looks = points[chosen, None, :] + t[:, :, None] * self._eye
            deep = body.depth(looks.reshape(-1, 3)).reshape(t.shape)
            close = t < radii[owner[chosen], None] + body.radius
            covered[chosen[(deep > np.where(close, SKIN_MM, 1e-6) - halo).any(axis=1)]] = True
        return covered


def _through_rod(points: Array, eye: Array, start: Array, stop: Array, radius: float) -> tuple[Array, Array]:
    """From where to where, in mm along the line of sight, it passes through a straight rod with flat ends."""
    way = stop - start
    length = float(np.linalg.norm(way))
    if length < 1e-9:
        return np.ones(len(points)), np.zeros(len(points))
    way = way / length
    gap = points - start
    along, lean = gap @ way, float(eye @ way)
    out = gap - along[:, None] * way
    across = eye - lean * way
    square = float(across @ across)
    if square < 1e-12:
        inside = (out * out).sum(axis=1) < radius * radius
        near, far = np.where(inside, -np.inf, 1.0), np.where(inside, np.inf, 0.0)
    else:
        half = out @ across
        root = half * half - square * ((out * out).sum(axis=1) - radius * radius)
        wide = np.sqrt(np.maximum(root, 0.0)) / square
        near = np.where(root > 0.0, -half / square - wide, 1.0)
        far = np.where(root > 0.0, -half / square + wide, 0.0)
    if abs(lean) > 1e-9:
        one, two = -along / lean, (length - along) / lean
        near, far = np.maximum(near, np.minimum(one, two)), np.minimum(far, np.maximum(one, two))
    else:
        beyond = (along < 0.0) | (along > length)
        near, far = np.where(beyond, 1.0, near), np.where(beyond, 0.0, far)
    return near, far


def _runs(points: Array, bare: NDArray[np.bool_], turning: dict[int, Array], start: int, stop: int) -> Iterator[Array]:
    """The seen parts of the line through ``points[start:stop]``."""
    run: list[Array] = []
    for k in range(start, stop):
        if bare[k]:
            run.append(points[k])
        if k in turning:
            run.append(turning[k])
            if bare[k]:
                yield np.array(run)
                run = []
    if len(run) > 1:
        yield np.array(run)


@dataclass(frozen=True, slots=True)
class Place:
    """A place on a tube's centreline on paper: how far it is along, from tip to tip as a part of 1, and ``mm``; is its
    near side ``free``, that is, seen."""

    part: float
    mm: float
    point: tuple[float, float]
    free: bool


def places(scene: Scene, count: int = 41) -> list[list[Place]]:
    """Of each body: places evenly along it."""
    found: list[list[Place]] = []
    if not scene.bodies:
        return found
    eye = np.array(scene.view.towards)
    at, on, parts, lengths = [], [], [], []
    for body in scene.bodies:
        line = centre_chords(body)
        steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
        run = np.concatenate([[0.0], np.cumsum(steps)])
        part = np.linspace(0.0, 1.0, count)
        centre = np.stack([np.interp(part * run[-1], run, line[:, k]) for k in range(3)], axis=1)
        which = np.clip(np.searchsorted(run, part * run[-1], side="right") - 1, 0, len(steps) - 1)
        way = np.diff(line, axis=0)[which] / np.maximum(steps[which], 1e-9)[:, None]
        front = eye - (way @ eye)[:, None] * way
        size = np.linalg.norm(front, axis=1)
        front = np.where(size[:, None] > 1e-3, front / np.maximum(size, 1e-9)[:, None], 0.0)
        at.append(centre)
        on.append(centre + body.radius * front)
        parts.append(part)
        lengths.append(run[-1])
    owner = np.repeat(np.arange(len(at)), count)
    free = scene.free(np.concatenate(on), owner)
    for number, centre in enumerate(at):
        flat = scene.view.flat(centre)
        own = free[number * count : (number + 1) * count]
        found.append(
            [
                Place(float(p), float(p * lengths[number]), (float(x), float(y)), bool(seen))
                for p, (x, y), seen in zip(parts[number], flat, own, strict=True)
            ]
        )
    return found
