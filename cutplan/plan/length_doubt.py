"""How the doubt of surveyed nodes becomes that of the members between them: of a whole blank, and of each straight.

A blank is what its centreline comes to: the ways from node to node, less two setbacks at each bend, with its arc in
their place, and on to the plates at its ends. So its ± follows from what each coordinate changes of that, taken from
small differences, and from the covariance of the coordinates (propagation of variances; Ghilani, *Adjustment
Computations*).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import atan2, ceil, degrees
from typing import TYPE_CHECKING

from cutplan.geometry.bend import arc, growth, setback_factor
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.nodes import corners_kept
from cutplan.geometry.plates import face_of, flat_end
from cutplan.geometry.points import Vector, cross, dot, minus, norm, scaled
from cutplan.job.model import Job, Member, Node, Plate, Route

if TYPE_CHECKING:
    from cutplan.survey import Adjustment

_SMALL_MM = 1e-3
_HAIR = 1e-6

Places = Mapping[str, Vector]


def with_doubt(member: Member, found: Adjustment, job: Job) -> Member:
    """``member`` with the ± that the doubt of its nodes, and of those of its plates, makes of its length."""
    if member.route is None:
        return member
    whole, *straights = (_doubt(found, row) for row in gradients(member, member.route, found, job))
    if not whole:
        return member
    each = tuple(straights) if len(straights) > 1 else ()
    return replace(member, tolerance=whole, route=replace(member.route, doubts=each))


def doubts_of(
    found: Adjustment, job: Job, worked_out: Callable[[Places], Sequence[float]], names: Sequence[str]
) -> list[float | None]:
    """The ± of each of what is worked out from the places of the nodes ``names`` of ``job``; None: left open."""
    return [found.doubt_of(row) for row in _Frame(found, job).gradients(worked_out, names)]


def gradients(member: Member, route: Route, found: Adjustment, job: Job) -> list[dict[int, float]]:
    """How much each coordinate of the survey (3 * node + axis) changes the length of ``member``, and of each of its
    straights from tangent point to tangent point."""
    frame = _Frame(found, job)
    course = _Course.of(member, route, frame.at, job)
    return frame.gradients(lambda at: (course.whole(at), *course.straights(at)), course.names)


def _doubt(found: Adjustment, row: Mapping[int, float]) -> Fraction:
    """The ± of a quantity with that gradient, in mm, up to a tenth."""
    return Fraction(ceil((found.doubt_of(row) or 0.0) * 10.0 - _HAIR), 10)


@dataclass(frozen=True, slots=True)
class _Course:
    """The centreline of a member from node to node, those on the way that it bends at, and the ``plates`` at its ends,
    each with its end node and the next."""

    corners: tuple[str, ...]
    radii: tuple[float, ...]
    stretch: float
    plates: tuple[tuple[int, Plate, tuple[str, str]], ...]

    @classmethod
    def of(cls, member: Member, route: Route, at: Places, job: Job) -> _Course:
        """That of ``member``."""
        tube = job.tube(member.tube)
        kept = corners_kept([at[name] for name in route.nodes], float(job.settings.meet_within))
        corners = tuple(route.nodes[k] for k in kept)
        radii = tuple(float(route.radii[k - 1] or tube.clr or 0) for k in kept[1:-1])
        ends = ((0, member.end_a, corners[:2]), (-1, member.end_b, corners[:-3:-1]))
        plates = tuple((k, end.plate, (way[0], way[1])) for k, end, way in ends if end.plate is not None)
        return cls(corners, radii, float(tube.stretch), plates)

    @property
    def names(self) -> tuple[str, ...]:
        """The nodes that it depends on."""
        return tuple({*self.corners, *(name for _, plate, _ in self.plates for name in plate.nodes)})

    def straights(self, at: Places) -> list[float]:
        """From tangent point to tangent point, and at the ends to the plates."""
        found = [norm(minus(at[there], at[here])) for here, there in pairwise(self.corners)]
        for k, (radius, angle) in enumerate(zip(self.radii, self._angles(at), strict=True)):
            back = radius * setback_factor(angle)
            found[k] -= back
            found[k + 1] -= back
        for k, plate, way in self.plates:
            found[k] += _beyond(plate, way, at)
        return found

    def whole(self, at: Places) -> float:
        """From end to end, with the tube in each bend."""
        turned = zip(self.radii, self._angles(at), strict=True)
        bent = (arc(angle, radius) - growth(angle, self.stretch) for radius, angle in turned)
        return sum(self.straights(at)) + sum(bent)

    def _angles(self, at: Places) -> list[float]:
        ways = [minus(at[there], at[here]) for here, there in pairwise(self.corners)]
        return [degrees(atan2(norm(cross(one, two)), dot(one, two))) for one, two in pairwise(ways)]


@dataclass(frozen=True, slots=True)
class _Frame:
    """The surveyed nodes of a job, both sides of a mirror."""

    found: Adjustment
    job: Job

    @property
    def at(self) -> dict[str, Vector]:
        """Where each is."""
        return {node.name: spot(self.found, node, self.job) for node in self.job.nodes}

    def gradients(
        self, worked_out: Callable[[Places], Sequence[float]], names: Sequence[str]
    ) -> list[dict[int, float]]:
        """By how much each coordinate changes each of what is worked out from the places of the nodes ``names``."""
        at, index = self.at, {place.name: number for number, place in enumerate(self.found.places)}
        nodes = {node.name: node for node in self.job.nodes}
        found: list[dict[int, float]] = [{} for _ in worked_out(at)]
        for name in names:
            node = nodes[name]
            for axis in range(3):
                key = 3 * index[node.base] + axis
                way = -1.0 if self._across(node, axis) else 1.0
                for row, change in zip(found, _changes(worked_out, at, name, axis), strict=True):
                    row[key] = row.get(key, 0.0) + way * change
        return found

    def _across(self, node: Node, axis: int) -> bool:
        """Whether a node moves the other way along ``axis`` than the one that was measured."""
        mirror = self.job.settings.mirror
        return mirror is not None and mirror.axis.number == axis and node.is_image


def spot(found: Adjustment, node: Node, job: Job) -> Vector:
    """Where a node of ``job`` is, on either side of its mirror."""
    xyz, mirror = list(found.place(node.base).xyz), job.settings.mirror
    if mirror is not None and node.is_image:
        xyz[mirror.axis.number] = 2.0 * float(mirror.at) - xyz[mirror.axis.number]
    return xyz[0], xyz[1], xyz[2]


def _changes(worked_out: Callable[[Places], Sequence[float]], at: Places, name: str, axis: int) -> list[float]:
    """By how much a mm more of one coordinate of a node changes each of what is worked out."""
    found = []
    for by in (_SMALL_MM, -_SMALL_MM):
        moved = list(at[name])
        moved[axis] += by
        found.append(worked_out({**at, name: (moved[0], moved[1], moved[2])}))
    return [(one - other) / (2.0 * _SMALL_MM) for one, other in zip(*found, strict=True)]


def _beyond(plate: Plate, way: tuple[str, str], at: Places) -> float:
    """How far beyond its node ``way[0]`` a member that goes on to ``way[1]`` meets its plate."""
    gap = minus(at[way[1]], at[way[0]])
    try:
        _, inwards, _ = flat_end(face_of(plate, at, 0.0), "a", at[way[0]], scaled(gap, 1.0 / norm(gap)))
    except (GeometryError, ZeroDivisionError):
        return 0.0  # It is reported where the end is placed.
    return -inwards
