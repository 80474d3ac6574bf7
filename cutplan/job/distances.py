"""What is known of a node's place: a coordinate as written in a cell, and the ``Distances`` sheet of tape readings."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from cutplan.job.cells import Cells
from cutplan.job.faults import Place, Remark
from cutplan.job.frame import Coordinate, TapeReading
from cutplan.job.model import Node, Settings, Units
from cutplan.job.schema import DISTANCES
from cutplan.job.tables import Spoilt, Tables, squash
from cutplan.job.units import SUCH_AS, LengthError, parse_length, parse_measure, with_unit

if TYPE_CHECKING:
    from cutplan.job.nodes import Nodes

_ABOUT = re.compile(r"about\s+(.+)", re.IGNORECASE)
_SIDE = re.compile(r"([<>])\s*(.+)")
_OR_EQUAL = re.compile(r"([<>])\s*=\s*(.+)")
_CURE = "write how far it is, about 800 if only roughly, or on which side it is: > 0, < 0, > A for further on than A"
_SHORTEST_MM, _LONGEST_MM = 200, 15_000
_READINGS = 3
"""So many readings none of which is as long as the first may be inches in a job in mm, and one longer than the second
millimetres in a job in inches."""


def read_coordinate(cells: Cells, heading: str, *, taped: bool) -> Coordinate | None:
    """A coordinate: ``400``, ``400 ± 2``; where there are distances also blank, ``about 400``, ``> 0``, ``< A``."""
    if not cells.given(heading):
        if not taped:
            cells.need(heading)
        return Coordinate()
    cell = cells.row.cells[heading]
    if isinstance(cell, bool | Spoilt):
        cells.text(heading)
        return None
    if found := _OR_EQUAL.fullmatch(str(cell).strip()):
        cells.fault(heading, "must be > or <", f"write {found[1]} {found[2]}")
        return None
    about, side = (pattern.fullmatch(str(cell).strip()) for pattern in (_ABOUT, _SIDE))
    if (about or side) and not taped:
        rule = "does not fix the coordinate, and there are no Distances to calculate it from"
        cells.fault(heading, rule, "measure it")
        return None

    def parse() -> Coordinate:
        if about is not None:
            return Coordinate(about=parse_length(about[1], cells.units))
        if side is not None:
            return Coordinate(more=side[1] == ">", than=_than(side[2], cells))
        try:
            measure = parse_measure(cell, cells.units)
        except LengthError as error:
            if error.cure not in ("", SUCH_AS[cells.units]) or not taped:
                raise
            raise LengthError(str(cell), error.rule, _CURE) from error
        return Coordinate(measure.length, measure.tolerance)

    return cells.read(heading, parse)


def _than(text: str, cells: Cells) -> str | Fraction:
    """A place, or the name of a node."""
    try:
        return parse_length(text, cells.units)
    except LengthError:
        return text


def read_distances(tables: Tables, settings: Settings, nodes: Nodes) -> tuple[TapeReading, ...]:
    """The rows of ``Distances``; faults go to ``tables``."""
    found = []
    for row in tables.rows("Distances"):
        cells = Cells(row, settings.units, tables.faults)
        ends = []
        for heading in ("from", "to"):
            text = cells.value(DISTANCES.column(heading))
            ends.append(None if text is None else find_node(cells, heading, text, nodes))
        measure = cells.measure("distance", positive=True) if cells.need("distance") else None
        start, end = ends
        if start is None or end is None or measure is None:
            continue
        across = settings.mirror is not None and _side(start) * _side(end) < 0
        if start.name == end.name:
            cells.fault("to", "is the node it is measured from", "name the other node")
        elif not measure.tolerance and not settings.tape:
            cells.fault(
                "distance", "has no ±, and the setting tape gives none", "write it as 1408 ± 2, or fill in tape on Job"
            )
        else:
            doubt = measure.tolerance or settings.tape
            found.append(TapeReading(base(start), base(end), measure.length, doubt, across, row.place))
    for given in nodes.given:
        for heading, each in zip(("x", "y", "z"), given.xyz, strict=True):
            if isinstance(each.than, str):
                own = squash(each.than) == squash(given.name)
                cells = Cells(
                    next(row for row in tables.rows("Nodes") if row.place == given.place), settings.units, tables.faults
                )
                if own:
                    cells.fault(heading, "is the node itself", f"name another node, or a number: {_sign(each)} 0")
                else:
                    find_node(cells, heading, each.than, nodes)
    _remark_units(tables, settings, found)
    return tuple(found)


def _sign(coordinate: Coordinate) -> str:
    return ">" if coordinate.more else "<"


def _remark_units(tables: Tables, settings: Settings, found: list[TapeReading]) -> None:
    """A frame as small as a hand, or as large as a barn, may be measured in the other unit."""
    longest = max((reading.length for reading in found), default=Fraction(0))
    small = settings.units is Units.MM and longest < _SHORTEST_MM and len(found) >= _READINGS
    if small or (settings.units is Units.IN and longest > _LONGEST_MM):
        other = "inches, set units to in" if small else "millimetres, set units to mm"
        text = f"the longest reading is only {with_unit(longest, settings.units)}; if the readings are {other} on Job"
        text = text if small else text.replace(" only ", " ")
        tables.remarks.append(Remark(Place("Distances"), text))


def find_node(cells: Cells, heading: str, name: str, nodes: Nodes) -> Node | None:
    """The node called ``name``; a fault where there is none."""
    node = nodes.found.get(squash(name))
    if node is not None:
        return node
    if not nodes.known or squash(name) in nodes.faulty:
        cells.sound = False
        return None
    if not nodes.names:
        if not nodes.missed:
            rule = f"has no rows, and {cells.place.sheet} names nodes such as {name}"
            cells.sheet_fault("Nodes", rule, "name the points of the frame there")
        nodes.missed = True
        cells.sound = False
        return None
    cure = cells.guess(name, nodes.names)
    if squash(name).endswith("-r") and nodes.mirror is None and squash(name)[:-2] in nodes.found:
        cure = "set mirror on Job, such as y=0, and every node has a mirror image"
    cells.fault(heading, "is not a node in Nodes", cure, got=name)
    return None


def base(node: Node) -> str:
    """The name under which a node was given, whichever side of the mirror is meant."""
    return node.name[:-2] if node.image not in ("", node.name) else node.name


def _side(node: Node) -> int:
    """-1 for the side that was measured, 1 for its mirror image, 0 in the plane or without a mirror."""
    if node.image in ("", node.name):
        return 0
    return 1 if node.name.endswith("-R") else -1
