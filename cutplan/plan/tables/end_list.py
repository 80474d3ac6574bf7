"""The list of ends: where the axis of each piece of the frame begins and stops, in figures, and what is wrong with it.

A picture shows that something is off; the list says by how much. Lengths in mm until they are written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import dist

from cutplan.geometry.centreline import coordinates
from cutplan.geometry.model import Blank
from cutplan.geometry.points import Vector
from cutplan.job.faults import Fault, Remark
from cutplan.job.model import INCH, Job, Member, Units
from cutplan.job.units import show_length
from cutplan.plan import wording
from cutplan.plan.tables.labels import wide
from cutplan.plan.tables.sheet import FINE, MARGIN, Sheet, lines, titled
from cutplan.plan.tables.strays import strays
from cutplan.plan.tables.wraps import Stroke, Words

_TEXT = 2.0
_LINE = 3.4
_GAP = 1.8
_TOP = 18.0
_FOOT = 3.0
_NOT_MADE = "see the faults"


@dataclass(frozen=True, slots=True)
class AxisEnd:
    """An end of a piece's axis: its node ("": none), its place and how it is cut."""

    node: str
    at: Vector
    cut: str


@dataclass(frozen=True, slots=True)
class Axis:
    """A piece of the frame: both ends of its axis and the corners between them, by node ("": none)."""

    mark: str
    tube: str
    a: AxisEnd
    b: AxisEnd
    corners: tuple[tuple[str, Vector], ...]

    @property
    def apart(self) -> float:
        """From end to end, straight through the air."""
        return dist(self.a.at, self.b.at)


def axes_of(job: Job, blanks: Sequence[Blank]) -> tuple[Axis, ...]:
    """All members of ``job`` that have a place in the frame, in the order of its rows; of a pair the left."""
    made = {blank.mark: blank for blank in blanks}
    nodes = {node.name: node.xyz for node in job.nodes}
    units = job.settings.units
    off = {(one.mark, one.name): f"; {coordinate(one.mm, units)} off {one.onto}" for one in strays(job)}
    found = []
    for member in job.members:
        names = _names(member)
        points = axis_points(member, nodes)
        if len(points) < 2 or len(points) != len(names):
            continue
        blank = made.get(member.marks[0])
        cuts = [wording.end(shape, units) for shape in (blank.end_a, blank.end_b)] if blank else [_NOT_MADE] * 2
        cuts = [f"{cut}{off.get((member.marks[0], name), '')}" for name, cut in zip("ab", cuts, strict=True)]
        corners = tuple(zip(names[1:-1], points[1:-1], strict=True))
        a, b = AxisEnd(names[0], points[0], cuts[0]), AxisEnd(names[-1], points[-1], cuts[1])
        found.append(Axis(member.marks[0], member.tube, a, b, corners))
    return tuple(found)


def axis_points(member: Member, nodes: Mapping[str, Vector]) -> list[Vector]:
    """The points that a member runs through; where it could not be laid out, the places of its nodes."""
    if member.points or member.route is None:
        return list(coordinates(member))
    return [nodes[name] for name in member.route.nodes if name in nodes]


def _names(member: Member) -> tuple[str, ...]:
    """The nodes of its points; an end that runs on beyond its node says so."""
    if member.route is None:
        return ("",) * len(member.points)
    first, *way, last = member.route.nodes
    past_a, past_b = member.route.past
    return (f"past {first}" if past_a else first, *way, f"past {last}" if past_b else last)


def coordinate(mm: float, units: Units) -> str:
    """A coordinate to a tenth of a millimetre, or as a tape in inches has it: the nearest 64th. No ~ before it, which
    on paper looks like a minus."""
    if units is Units.MM:
        return wording.length(round(mm, 1) + 0.0, units)
    return show_length(Fraction(mm), units, step=INCH / 64)


def with_marks(job: Job, found: Iterable[Fault | Remark]) -> Iterator[str]:
    """What is wrong or should be known, each with the mark of the member whose row it was found in."""
    marks = {(member.place.sheet, member.place.row): member.mark for member in job.members}
    for one in found:
        mark = marks.get((one.place.sheet, one.place.row)) if one.place.row is not None else None
        yield f"{mark}: {one}" if mark else str(one)


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of the list: its heading, and where it begins; figures are written up to its end."""

    heading: str
    left: float
    width: float
    figures: bool = False


def _columns(axes: Sequence[Axis], width: float, units: Units) -> tuple[_Column, ...]:
    """Mark, tube, then for either end node, x, y, z and cut, and what is between the ends; the cuts have what is left
    of ``width``. No columns for nodes where there are none."""
    names = [name for axis in axes for name in (axis.a.node, axis.b.node, *(name for name, _ in axis.corners))]
    mark = max(wide("piece", _TEXT), *(wide(axis.mark, _TEXT) for axis in axes)) * 1.1 + _GAP
    tube = max([wide("corner 8", _TEXT), *(wide(axis.tube, _TEXT) for axis in axes)]) + _GAP
    node = max(wide(name, _TEXT) for name in names) + _GAP if any(names) else 0.0
    figures = [c for axis in axes for end in (axis.a.at, axis.b.at, *(at for _, at in axis.corners)) for c in end]
    figure = max(wide("a: x", _TEXT) * 1.1, *(wide(coordinate(c, units), _TEXT) for c in figures)) + _GAP
    last = max(wide("a to b", _TEXT) * 1.1, *(wide(coordinate(axis.apart, units), _TEXT) for axis in axes)) + _GAP
    most = max(wide(end.cut, _TEXT) for axis in axes for end in (axis.a, axis.b)) + 2 * _GAP
    cut = min(most, (width - mark - tube - last) / 2.0 - node - 3 * figure)
    parts: list[tuple[str, float, bool]] = [("piece", mark, False), ("tube", tube, False)]
    for name in "ab":
        parts += [(f"{name} at", node, False), *((f"{name}: {axis}", figure, True) for axis in "xyz")]
        parts += [(f"{name} is cut", cut, False)]
    parts.append(("a to b", last, True))
    lefts = accumulate((part for _, part, _ in parts), initial=MARGIN)
    return tuple(_Column(name, left, size, right) for (name, size, right), left in zip(parts, lefts, strict=False))


class _Pages:
    """Sheets that are filled from above."""

    def __init__(self, job: Job, paper: tuple[float, float], below: str) -> None:
        self.job, self.paper, self.below = job, paper, below
        self.sheets: list[Sheet] = []
        self.y = 0.0

    def room(self, high: float) -> bool:
        """Make room for ``high`` mm; True: on a new sheet."""
        if self.sheets and self.y + high <= self.paper[1] - MARGIN - _FOOT:
            return False
        self.sheets.append(titled(*self.paper, f"{self.job.settings.name}, ends of the pieces", self.below))
        self.y = MARGIN + _TOP
        return True

    def bold(self, text: str, x: float) -> None:
        """Bold letters on the current line."""
        sheet = self.sheets[-1]
        sheet.words.insert(sheet.bold, Words(text, x, self.y + _TEXT, _TEXT))
        sheet.bold += 1

    def write(self, text: str, x: float, row: int = 0) -> None:
        """Plain letters on the current line, or ``row`` lines below it."""
        if text:
            self.sheets[-1].words.append(Words(text, x, self.y + _TEXT + row * _LINE, _TEXT))

    def rule(self, right: float) -> None:
        """A thin line from the left margin to ``right``."""
        y = self.y - (_LINE - _TEXT) / 2.0
        self.sheets[-1].strokes.append(Stroke(((MARGIN, y), (right, y)), FINE))


def end_sheets(
    job: Job, blanks: Sequence[Blank], paper: tuple[float, float], found: Iterable[Fault | Remark] = ()
) -> tuple[Sheet, ...]:
    """The list, with what was ``found`` to be wrong with the job or should be known of it, on as many sheets as it
    takes; none without a frame. ``paper``: its long and its short side in mm."""
    axes, units = axes_of(job, blanks), job.settings.units
    if not axes:
        return ()
    said = (
        f"Where the axis of each piece begins (a) and stops (b), in {wording.unit_name(job.settings)} (to the nearest "
        f"{'tenth' if units is Units.MM else '64th'}), and how each "
        "end is cut. a to b: from end to end of the axis, straight through the air. Hold it against what you measured."
    )
    if any(member.pair and member.points for member in job.members):
        said += " Of a pair the left is listed."
    pages = _Pages(job, paper, said)
    faults = [one for one in found if isinstance(one, Fault)]
    _said(pages, "Faults", with_marks(job, faults))
    _listed(pages, axes, _columns(axes, paper[0] - 2 * MARGIN, units), units)
    _said(pages, "Remarks", with_marks(job, (one for one in found if isinstance(one, Remark))))
    return tuple(pages.sheets)


def _said(pages: _Pages, heading: str, texts: Iterable[str]) -> None:
    """Sentences under a heading; nothing where there are none."""
    number = -1
    for number, text in enumerate(texts):
        said = lines(text, _TEXT, pages.paper[0] - 2 * MARGIN)
        if pages.room((len(said) + 2) * _LINE) or number == 0:
            pages.bold(heading, MARGIN)
            pages.y += _LINE
        for row, part in enumerate(said):
            pages.write(part, MARGIN, row)
        pages.y += len(said) * _LINE
    if number >= 0:
        pages.y += _LINE


def _listed(pages: _Pages, axes: Sequence[Axis], columns: Sequence[_Column], units: Units) -> None:
    right = columns[-1].left + columns[-1].width
    for number, axis in enumerate(axes):
        cells = _cells(axis, columns, units)
        deep = max(map(len, cells))
        if pages.room((deep + (number == 0)) * _LINE) or number == 0:
            for column in columns:
                if column.width:
                    pages.bold(column.heading, _at(column, column.heading))
            pages.y += _LINE
        pages.rule(right)
        pages.bold(axis.mark, MARGIN)
        for column, texts in zip(columns, cells, strict=True):
            for row, text in enumerate(texts):
                pages.write(text, _at(column, text), row)
        pages.y += deep * _LINE
    pages.rule(right)
    pages.y += _LINE


def _at(column: _Column, text: str) -> float:
    """Where ``text`` begins in its column."""
    return column.left + column.width - _GAP - wide(text, _TEXT) if column.figures else column.left


def _cells(axis: Axis, columns: Sequence[_Column], units: Units) -> list[list[str]]:
    """A piece column by column, each a line or more: its mark is in the first; below end a are its corners."""
    cells = [[], [axis.tube, *(f"corner {number}" for number in range(1, len(axis.corners) + 1))]]
    for end, corners in ((axis.a, axis.corners), (axis.b, ())):
        places = [(end.node, end.at), *corners]
        cells.append([node for node, _ in places])
        cells += [[coordinate(at[k], units) for _, at in places] for k in range(3)]
        cells.append(lines(end.cut, _TEXT, columns[len(cells)].width - _GAP))
    return [*cells, [coordinate(axis.apart, units)]]
