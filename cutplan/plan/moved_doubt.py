"""The ± of nodes that were moved onto a tube: what the readings know of the tube there, and of the node along it.

A node that was moved is the nearest place on the straight between two others, so its ± follows from what each of their
coordinates and of its own changes of that place, taken from small differences (as in
:mod:`cutplan.plan.length_doubt`). Of one on the arc of a bend the ± stays that of the node as it was measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from cutplan.geometry.nodes import corners_kept
from cutplan.geometry.points import Vector, dot, minus, norm, plus, scaled
from cutplan.job.model import Job
from cutplan.plan.length_doubt import Places, doubts_of

if TYPE_CHECKING:
    from cutplan.survey import Adjustment

Doubts = tuple[float | None, float | None, float | None]
_SAME_MM = 0.01


def moved_doubts(job: Job, settled: Job, moved: Mapping[str, str], found: Adjustment) -> dict[str, Doubts]:
    """By node of ``job`` that was ``moved`` onto a member, by its mark: the ± of each coordinate. ``settled``: the job
    with its nodes where they were moved to."""
    return dict(_Moved(job, settled, moved, found).every())


class _Moved:
    def __init__(self, job: Job, settled: Job, moved: Mapping[str, str], found: Adjustment) -> None:
        self.job, self.moved, self.found = job, moved, found
        self.routes = {member.mark: member.route.nodes for member in settled.members if member.route is not None}
        self.there = {node.name: node.xyz for node in settled.nodes}
        mirror = job.settings.mirror
        self.flat = {} if mirror is None else {node.name: mirror for node in job.nodes if node.image == node.name}

    def every(self) -> Iterator[tuple[str, Doubts]]:
        """Of every node that lies on a straight."""
        here = {node.name: node.xyz for node in self.job.nodes}
        for name in self.moved:
            spot = self._spot(name, here)
            if norm(minus(spot, self.there[name])) > _SAME_MM:
                continue  # On an arc.
            names = tuple(dict.fromkeys(self._needed(name, ())))
            x, y, z = doubts_of(self.found, self.job, partial(self._spot, name), names)
            yield name, (x, y, z)

    def _spot(self, name: str, at: Places) -> Vector:
        """Where a node comes to be, as the nodes are ``at``."""
        return self._place(name, at, ())

    def _needed(self, name: str, done: tuple[str, ...]) -> Iterator[str]:
        """The nodes that its place depends on."""
        yield name
        if name in self.moved and name not in done:
            for other in self.routes.get(self.moved[name], ()):
                yield from self._needed(other, (*done, name))

    def _place(self, name: str, at: Places, done: tuple[str, ...]) -> Vector:
        """The same: the nodes that its tube ends at may be moved themselves, but for those that are ``done``."""
        if name not in self.moved or name in done:
            return at[name]
        route = self.routes.get(self.moved[name], ())
        if len(route) < 2:
            return at[name]
        first, *inner, last = route
        start, stop = (self._place(end, at, (*done, name)) for end in (first, last))
        places = [start, *(at[corner] for corner in inner), stop]
        kept = [places[k] for k in corners_kept(places, float(self.job.settings.meet_within))]
        spot = min((_nearest(at[name], *leg) for leg in pairwise(kept)), key=lambda each: norm(minus(each, at[name])))
        if (mirror := self.flat.get(name)) is not None:
            xyz = list(spot)
            xyz[mirror.axis.number] = float(mirror.at)
            spot = (xyz[0], xyz[1], xyz[2])
        return spot


def _nearest(point: Vector, one: Vector, other: Vector) -> Vector:
    """The place next to ``point`` on the line through two others, but not beyond them."""
    way = minus(other, one)
    square = dot(way, way)
    along = min(max(dot(minus(point, one), way) / square, 0.0), 1.0) if square else 0.0
    return plus(one, scaled(way, along))
