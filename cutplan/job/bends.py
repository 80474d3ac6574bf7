"""The ``Bends`` and ``Points`` sheets: the course of a bent member, row by row."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Generic, TypeVar

from cutplan.job.cells import Cells
from cutplan.job.faults import Place
from cutplan.job.model import Bend, Point, To, Tube, Units
from cutplan.job.tables import Tables, squash

Step = TypeVar("Step", Bend, Point)

LAST_STRAIGHT = "is in the member's last row, which is its last straight"


@dataclass(frozen=True, slots=True)
class Draft:
    """A member as far as other rows refer to it: its mark, its tube (None: not known) and whether it is a pair."""

    mark: str
    tube: Tube | None
    pair: bool
    place: Place

    @property
    def key(self) -> str:
        """The mark as it is compared."""
        return squash(self.mark)

    @property
    def named(self) -> bool:
        """Whether the mark could be read; else the row's place is used for it."""
        return self.mark != str(self.place)


@dataclass(slots=True)
class Courses(Generic[Step]):
    """Whether all rows are known, the sound courses by member's key, the keys of all members that have rows."""

    known: bool
    sound: dict[str, tuple[Step, ...]] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)


def read_bends(tables: Tables, units: Units, drafts: Mapping[str, Draft]) -> Courses[Bend]:
    """The rows of ``Bends`` by member: straights with bends between them, a straight last."""
    return _courses("Bends", tables, units, drafts, _bend, "at least two straights with a bend between them")


def read_points(tables: Tables, units: Units, drafts: Mapping[str, Draft]) -> Courses[Point]:
    """The rows of ``Points`` by member: its two ends, and between them a point for each bend."""
    return _courses("Points", tables, units, drafts, _point, "at least two points")


def _courses(
    sheet: str,
    tables: Tables,
    units: Units,
    drafts: Mapping[str, Draft],
    read: Callable[[Cells, Draft, bool, bool], Step | None],
    least: str,
) -> Courses[Step]:
    courses: Courses[Step] = Courses(tables.known(sheet))
    for draft, group in _groups(sheet, tables, units, drafts, courses.named):
        last = len(group) - 1
        steps = [read(cells, draft, number == 0, number == last) for number, cells in enumerate(group)]
        if last == 0:
            group[0].fault("mark", f"has only one row here but needs {least}")
        _refuse_same_points(group, steps)
        for cells in group:
            tables.remarks.extend(cells.taped_remarks())
        sound = [step for step, cells in zip(steps, group, strict=True) if step is not None and cells.sound]
        if len(sound) == len(group):
            courses.sound[draft.key] = tuple(sound)
    return courses


def _groups(
    sheet: str, tables: Tables, units: Units, drafts: Mapping[str, Draft], named: set[str]
) -> list[tuple[Draft, list[Cells]]]:
    """The rows of each member, which must be together."""
    groups: list[tuple[Draft, list[Cells]]] = []
    marks = [draft.mark for draft in drafts.values() if draft.named]
    for row in tables.rows(sheet):
        cells = Cells(row, units, tables.faults)
        mark = cells.text("mark") if cells.need("mark") else None
        if mark is None:
            continue
        key = squash(mark)
        draft = drafts.get(key)
        if draft is None:
            if key not in named and tables.known("Members"):
                cells.fault("mark", "is not a mark in Members", cells.guess(mark, marks))
            named.add(key)
        elif groups and groups[-1][0] is draft:
            groups[-1][1].append(cells)
        else:
            if key in named:
                cells.fault("mark", "has other rows further up", "keep the rows of a member together")
            groups.append((draft, [cells]))
            named.add(key)
    return groups


def _bend(cells: Cells, draft: Draft, first: bool, last: bool) -> Bend | None:
    measure = cells.measure("straight") if cells.need("straight") else None
    to = cells.value("to") or To.TANGENT
    angle, doubt = cells.doubtful("angle", most=180.0) or (None, 0.0)
    if angle is not None and cells.taped and cells.taped[-1][1].corner:
        # A triangle laid inside the corner gives the corner; the tube turns by the rest of 180.
        angle = 180.0 - angle
        cells.taped[-1] = ("angle", replace(cells.taped[-1][1], degrees=angle))
    radius = _radius(cells, draft, inner=not last)
    rotation = cells.value("rotation")
    if last:
        if cells.given("angle"):
            cells.fault("angle", LAST_STRAIGHT, "clear it, or add a row")
    elif angle is None:
        cells.need("angle")
    elif not angle:
        cells.fault("angle", "is not a bend", "put the straights before and after it in one row")
    elif not (angle - doubt > 0 and angle + doubt <= 180):
        cells.fault("angle", "must be more than 0 and at most 180 degrees over its whole range", "narrow the range")
    if measure is None:
        return None
    if first or last:
        return Bend(measure.length, to, angle, radius, 0.0, measure.tolerance, cells.place, rotation, doubt)
    return Bend(measure.length, to, angle, radius, rotation or 0.0, measure.tolerance, cells.place, None, doubt)


def _point(cells: Cells, draft: Draft, first: bool, last: bool) -> Point | None:
    x, y, z = (cells.coordinate(heading) for heading in ("x", "y", "z"))
    radius = _radius(cells, draft, inner=not (first or last))
    if x is None or y is None or z is None:
        return None
    doubt = x.tolerance, y.tolerance, z.tolerance
    return Point(x.length, y.length, z.length, radius, cells.place, doubt)


def _radius(cells: Cells, draft: Draft, *, inner: bool) -> Fraction | None:
    """The radius of a bend; one must be known, here or by the tube's ``clr``."""
    radius: Fraction | None = cells.value("radius")
    tube = draft.tube
    if not inner:
        if cells.given("radius"):
            cells.fault("radius", "is given where there is no bend", "clear it, or add a row")
    elif not cells.given("radius"):
        if tube is not None and tube.clr is None:
            cells.fault("radius", f"is needed here because tube {tube.name} has no clr")
    elif radius is not None and tube is not None and radius * 2 <= tube.od:
        cells.fault("radius", f"is half the outside diameter {cells.show(tube.od)} or less")
    return radius


def _refuse_same_points(group: list[Cells], steps: list[Bend | None] | list[Point | None]) -> None:
    """Two points of a member in one place are a slip."""
    for cells, before, here in zip(group[1:], steps, steps[1:], strict=False):
        if not (isinstance(before, Point) and isinstance(here, Point)):
            continue
        if (before.x, before.y, before.z) == (here.x, here.y, here.z):
            cells.fault("x", "is the same point as in the row before", "delete one of them", got=None)
