"""What collides in a frame: tubes that run into each other, and ends that stop short of what they point at.

Lengths in mm. Method: the stretches of all centrelines against each other first (the distance of two line segments,
vector geometry); of those that come too close, points of one tube's finished outside against the other's finished body.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.bodies import Body, BodyEnd, round_tube
from cutplan.geometry.centreline import chords, gaps
from cutplan.geometry.points import Vector, as_vector
from cutplan.geometry.saddle import Array
from cutplan.job.model import Cut, Job, Member

LEAST_MM = 0.5
"""Tubes that run into each other by less than this are not reported: common practice, no source."""
_ROUND = 24
_NEAR_IN_OD = 2.0
"""An end that points at a tube no further off than this many of its own diameters was meant to reach it: common
practice, no source."""


@dataclass(frozen=True, slots=True)
class Clash:
    """Two tubes that run into each other by ``mm`` at the most, at ``at``: how far one would have to move.
    ``second_member``: the second's member, the later of the two in the job."""

    first: str
    second: str
    second_member: str
    mm: float
    at: Vector


@dataclass(frozen=True, slots=True)
class Loose:
    """End ``name`` of ``mark``, a piece of ``member``, which stops ``mm`` short of ``other`` and touches nothing."""

    mark: str
    member: str
    name: str
    other: str
    mm: float
    at: Vector


@dataclass(slots=True)
class _Tube:
    """A body with what is looked at of it. ``line``: its centreline as finished, in chords, (n, 3)."""

    body: Body
    line: Array = field(init=False)
    _skin: Array | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self.line = centre_chords(self.body)

    @property
    def skin(self) -> Array:
        """Points all over its finished outside, a third of its radius apart along it, (n, 3)."""
        if self._skin is None:
            self._skin = skin(self.body, self.line)
        return self._skin


def centre_chords(body: Body) -> Array:
    """The centreline as finished, from tip to tip, in chords: (n, 3)."""
    line = np.array(chords(body.course)[0])
    for row, end in ((0, body.ends[0]), (-1, body.ends[1])):
        line[row] = np.array(end.origin) + float(end.lines[-1].min()) * np.array(end.z)
    return line


def skin(body: Body, line: Array) -> Array:
    """Points all over a body's finished outside, the edges of its ends among them: (n, 3)."""
    rings = [body.edge("a"), body.edge("b")]
    for start, stop in pairwise(line):
        length = float(np.linalg.norm(stop - start))
        if length < 1e-9:
            continue
        way = (stop - start) / length
        at = np.linspace(0.0, length, max(2, int(3.0 * length / body.radius)))
        rings.append((start + at[:, None, None] * way + body.radius * round_tube(way, _ROUND)).reshape(-1, 3))
    points = np.concatenate(rings)
    kept = np.ones(len(points), dtype=bool)
    for end in body.ends:
        z, cut = end.cut_at(points, body.radius)
        # An end cuts only what is about it: a bent tube may come back past the plane of its end.
        near = np.linalg.norm(points - np.array(end.origin), axis=1) < np.abs(end.lines).max() + 3.0 * body.radius
        kept &= ~near | (z >= cut - 1e-6)
    return points[kept]


def clashes(bodies: Sequence[Body], job: Job, reported: Collection[tuple[str, str, str]] = ()) -> list[Clash]:
    """Tubes that run into each other, the worst first. ``reported``: member, end and other member of which it is known
    already that they do, about that end."""
    tubes = [_Tube(body) for body in bodies]
    members = {member.mark: member for member in job.members}
    found = []
    for (one, two), points in _near_pairs(tubes):
        a, b = tubes[one], tubes[two]
        landings = [*_landings(a.body, b.body, members, reported), *_landings(b.body, a.body, members, reported)]
        mm, at = _overlap(a, b, points, landings)
        if mm > LEAST_MM:
            found.append(Clash(a.body.mark, b.body.mark, b.body.member, mm, at))
    return sorted(found, key=lambda clash: -clash.mm)


def _landings(
    body: Body, other: Body, members: dict[str, Member], reported: Collection[tuple[str, str, str]]
) -> Iterator[tuple[Array, float]]:
    """Where ``body`` is coped onto ``other``, or known to run into it, and how far about there its saddle has to do
    with both."""
    member = members[body.member]
    names = {other.member, *members[other.member].marks}
    for name, end, made in zip("ab", body.ends, member.ends, strict=True):
        known = (member.mark, name, other.member) in reported
        if known or any(one.onto.member in names for one in made.saddles):
            yield np.array(end.origin), float(np.abs(end.lines[-1]).max()) + body.radius + 2.0 * other.radius


def _near_pairs(tubes: Sequence[_Tube]) -> Iterator[tuple[tuple[int, int], Array]]:
    """Pairs of tubes whose centrelines pass closer than both are wide, with the points on them where they do: rows of
    the first's point, the second's."""
    if len(tubes) < 2:
        return
    starts = np.concatenate([tube.line[:-1] for tube in tubes])
    stops = np.concatenate([tube.line[1:] for tube in tubes])
    owner = np.repeat(np.arange(len(tubes)), [len(tube.line) - 1 for tube in tubes])
    radius = np.array([tube.body.radius for tube in tubes])[owner]
    distance, s, t = gaps(starts, stops)
    # Chords of a bend run inside it by a little.
    close = (distance < radius[:, None] + radius[None, :] + 1.0) & (owner[:, None] < owner[None, :])
    rows, columns = np.nonzero(close)
    pairs: dict[tuple[int, int], list[NDArray[np.float64]]] = {}
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        here = starts[row] + s[row, column] * (stops[row] - starts[row])
        there = starts[column] + t[row, column] * (stops[column] - starts[column])
        pairs.setdefault((int(owner[row]), int(owner[column])), []).append(np.stack([here, there]))
    for pair, points in pairs.items():
        yield pair, np.array(points)


def _overlap(a: _Tube, b: _Tube, nearest: Array, landings: Sequence[tuple[Array, float]]) -> tuple[float, Vector]:
    """By how much two tubes run into each other, and where, landings apart; 0: not."""
    best, at = 0.0, (0.0, 0.0, 0.0)
    for here, there in nearest:
        gap = a.body.radius + b.body.radius - float(np.linalg.norm(there - here))
        middle = (here + there) / 2.0
        landed = any(np.linalg.norm(middle - centre) <= reach for centre, reach in landings)
        if gap > best and not landed and _through(a, here) and _through(b, there):
            best, at = gap, as_vector(middle)
    for one, two in ((a, b), (b, a)):
        lo, hi = two.line.min(axis=0) - two.body.radius, two.line.max(axis=0) + two.body.radius
        kept = ((one.skin > lo) & (one.skin < hi)).all(axis=1)
        for centre, reach in landings:
            kept &= np.linalg.norm(one.skin - centre, axis=1) > reach
        points = one.skin[kept]
        if len(points):
            deep = two.body.depth(points)
            most = int(np.argmax(deep))
            if deep[most] > best + 1e-6:
                best, at = float(deep[most]), as_vector(points[most])
    return best, at


def _through(tube: _Tube, point: Array) -> bool:
    """Whether a point of its axis is in the tube, clear of its ends."""
    return bool(tube.body.depth(point[None, :])[0] > 0.9 * tube.body.radius)


def loose_ends(bodies: Sequence[Body], job: Job) -> list[Loose]:
    """Ends that touch no tube and stop a little short of one that they point at."""
    members = {member.mark: member for member in job.members}
    chords = [centre_chords(body) for body in bodies]
    found = []
    for body in bodies:
        for name, end in zip("ab", body.ends, strict=True):
            if end.cut is Cut.COPE or _served(body, end.origin, bodies, members):
                continue
            near = _ahead(body, name, bodies, chords)
            if near is not None:
                found.append(Loose(body.mark, body.member, name, near[0], near[1], end.origin))
    return found


def _served(body: Body, at: Vector, bodies: Sequence[Body], members: dict[str, Member]) -> bool:
    """Whether another tube lands on ``body`` next to its end."""
    reach = 2.0 * _NEAR_IN_OD * body.radius
    for other in bodies:
        for end, made in zip(other.ends, members[other.member].ends, strict=True):
            if any(one.onto.member == body.member for one in made.saddles) and (
                np.linalg.norm(np.array(end.origin) - np.array(at)) < reach + other.radius
            ):
                return True
    return False


def _ahead(body: Body, name: str, bodies: Sequence[Body], chords: Sequence[Array]) -> tuple[str, float] | None:
    """The tube that an end meets first if it is made longer, and how much longer; None: there is none, or one is
    touched. ``chords``: the centrelines of the bodies."""
    end = body.ends["ab".index(name)]
    far = _NEAR_IN_OD * 2.0 * body.radius
    last = np.concatenate([body.edge(name, body.radius * part) for part in (0.02, 0.5, 0.8, 1.0)])
    steps = np.linspace(0.0, far, _STEPS)
    lines = last[None, :, :] - steps[:, None, None] * np.array(end.z)
    here = np.concatenate([last, *(last + back * body.radius * np.array(end.z) for back in (0.5, 1.0, 1.5, 2.0))])
    ends = np.array([float(end.lines.max()) + 2.0 * body.radius, float(end.lines.min()) - far])
    axis = np.array(end.origin) + np.outer(ends, end.z)
    best = None
    for other, line in zip(bodies, chords, strict=True):
        reach = far + 3.0 * body.radius + other.radius
        if other is body or np.linalg.norm(np.array(end.origin) - _nearest_on(line, end.origin)) > reach:
            continue
        if _apart(axis, line) > body.radius + other.radius + LEAST_MM + 1.0:
            continue  # however long it is made; chords of a bend run inside it by a little
        if float(other.depth(here).max()) > -LEAST_MM:
            return None
        hit = (other.depth(lines.reshape(-1, 3)) > 0.0).reshape(_STEPS, -1)
        mm = _corner_met(body, end, other, far)
        if hit.any():
            first = int(hit.any(axis=1).argmax())
            near = _first_touch(other, last[hit[first]], np.array(end.z), float(steps[first - 1]), float(steps[first]))
            mm = min(mm, near)
        if mm <= far and (best is None or mm < best[1]):
            best = other.mark, mm
    return best


def _corner_met(body: Body, end: BodyEnd, other: Body, far: float) -> float:
    """How much longer a body must be at ``end`` to meet an end of ``other`` by its edge, which may be smaller than what
    is between any two of its own lines; over ``far``: it does not."""
    edges = np.concatenate([other.edge("a"), other.edge("b")])
    gap = edges - np.array(end.origin)
    out = np.linalg.norm(gap - np.outer(gap @ np.array(end.z), end.z), axis=1)
    edges = edges[out < body.radius]
    if not len(edges):
        return inf
    z, cut = end.cut_at(edges, body.radius)
    ahead = cut - z
    return float(min(ahead[(ahead > 0.0) & (ahead <= far)], default=inf))


def _first_touch(other: Body, points: Array, inward: Array, short: float, long: float) -> float:
    """How far out, between ``short`` and ``long`` mm, the first of ``points`` enters ``other``, by halving."""
    for _ in range(_HALVINGS):
        middle = (short + long) / 2.0
        if float(other.depth(points - middle * inward).max()) > 0.0:
            long = middle
        else:
            short = middle
    return long


_STEPS = 81
_HALVINGS = 8


def _apart(one: Array, other: Array) -> float:
    """The least distance of a segment from a line in chords."""
    distance, _, _ = gaps(np.concatenate([one[:1], other[:-1]]), np.concatenate([one[1:], other[1:]]))
    return float(distance[0, 1:].min())


def _nearest_on(line: Array, point: Vector) -> Array:
    """A point of a line in chords, about the nearest to ``point``."""
    way = line[1:] - line[:-1]
    part = ((np.array(point) - line[:-1]) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-12)
    on = line[:-1] + np.clip(part, 0.0, 1.0)[:, None] * way
    return np.asarray(on[int(np.argmin(np.linalg.norm(on - np.array(point), axis=1)))])
