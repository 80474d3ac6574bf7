"""The ``Nodes`` sheet, and the members that run from one of its nodes to another.

With a mirror, a node off its plane is there twice: ``A`` (or ``A-L``) as it was measured, ``A-R`` on the other side.
Where each member goes and how its ends are cut is worked out from there by :mod:`cutplan.geometry.nodes`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from cutplan.job.bends import Courses, Draft
from cutplan.job.cells import Cells
from cutplan.job.distances import find_node, read_coordinate, read_distances
from cutplan.job.faults import Place, Remark, listed
from cutplan.job.frame import Coordinate, GivenNode, Survey, TapeReading
from cutplan.job.model import Member, Node, Plane, Point, Route, Settings
from cutplan.job.schema import MEMBERS, NODES
from cutplan.job.tables import Row, Tables, squash
from cutplan.job.units import parse_length

_WITH_RADIUS = re.compile(r"(?P<name>.+?)\s+radius\s+(?P<radius>.+)", re.IGNORECASE)
_BETWEEN = re.compile(r"\s*[,;&/]\s*|\s+and\s+|\s+then\s+|\s+", re.IGNORECASE)
_ROUTE_HEADINGS = ("from", "via", "to")
_ROUTED_HEADINGS = (*_ROUTE_HEADINGS, "past a", "past b", "rank")


@dataclass(slots=True)
class Nodes:
    """All nodes, both sides of a mirror, by every name they have (squashed). ``names``: as they are spelt, once.
    ``faulty``: names of rows that could not be read. ``known``: whether all rows are known.
    ``missed``: that there are none was reported."""

    mirror: Plane | None
    known: bool
    missed: bool = False
    found: dict[str, Node] = field(default_factory=dict)
    names: list[str] = field(default_factory=list)
    faulty: set[str] = field(default_factory=set)
    given: list[GivenNode] = field(default_factory=list)
    readings: tuple[TapeReading, ...] = ()

    @property
    def survey(self) -> Survey | None:
        """What the nodes are to be worked out from, where they are not simply given."""
        plain = all(each.value is not None and not each.tolerance for node in self.given for each in node.xyz)
        return None if plain and not self.readings else Survey(tuple(self.given), self.readings)

    @property
    def each(self) -> tuple[Node, ...]:
        """Every node once, in order."""
        return tuple({node.name: node for node in self.found.values()}.values())

    def halved(self, row: Row) -> bool:
        """Whether a member of this row is in the half that was measured and is not its own mirror image."""
        if self.mirror is None:
            return False
        keys = [squash(name) for name, _ in _parts(row)]
        nodes = [self.found.get(key) for key in keys]
        if len(nodes) < 2 or any(node is None or squash(node.name).endswith("-r") for node in nodes):
            return False
        return any(node is not None and node.image != node.name for node in nodes)


def read_nodes(tables: Tables, settings: Settings) -> Nodes:
    """The rows of ``Nodes`` and of ``Distances``; faults go to ``tables``."""
    nodes = Nodes(settings.mirror, tables.known("Nodes"))
    taped = bool(tables.rows("Distances")) or not tables.known("Distances")
    for row in tables.rows("Nodes"):
        cells = Cells(row, settings.units, tables.faults)
        name = cells.value(NODES.column("name"))
        xyz = [read_coordinate(cells, heading, taped=taped) for heading in ("x", "y", "z")]
        if name is None:
            nodes.known = False
            continue
        key = squash(name)
        if settings.mirror is not None and key.endswith(("-l", "-r")):
            cells.fault("name", "ends in -L or -R, as the names that the mirror makes do", "leave that ending out")
        elif key in nodes.found:
            cells.fault("name", f"is in row {nodes.found[key].place.row} already", "give each node a name of its own")
        if not cells.sound:
            nodes.faulty.add(key)
            continue
        nodes.names.append(name)
        x, y, z = (each or Coordinate() for each in xyz)
        nodes.given.append(GivenNode(name, (x, y, z), row.place))
        _enter(nodes, nodes.given[-1], settings)
    nodes.readings = read_distances(tables, settings, nodes)
    return nodes


def _enter(nodes: Nodes, given: GivenNode, settings: Settings) -> None:
    """A node, and its mirror image where it has one; what is not known yet is nowhere in particular."""
    x, y, z = (each.value if each.value is not None else each.about or Fraction(0) for each in given.xyz)
    node = Node(given.name, x, y, z, place=given.place)
    key, mirror = squash(node.name), settings.mirror
    if mirror is None:
        nodes.found[key] = node
        return
    across = given.xyz[mirror.axis.number].value
    if across is not None and abs(across - mirror.at) <= settings.meet_within:
        # In the plane: either name means it.
        here = replace(node, image=node.name)
        nodes.found |= {key: here, f"{key}-l": here, f"{key}-r": here}
        return
    left, right = f"{node.name}-L", f"{node.name}-R"
    measured = replace(node, name=left, image=right)
    image = mirrored_node(replace(measured, name=right), mirror, left)
    nodes.found |= {key: measured, f"{key}-l": measured, f"{key}-r": image}


def mirrored_node(node: Node, mirror: Plane, image: str) -> Node:
    """``node`` on the other side of the plane."""
    xyz = [node.x, node.y, node.z]
    xyz[mirror.axis.number] = 2 * mirror.at - xyz[mirror.axis.number]
    return replace(node, image=image, x=xyz[0], y=xyz[1], z=xyz[2])


def read_routes(nodes: Nodes, drafted: list[tuple[Draft, Cells]], points: Courses[Point]) -> dict[str, Route]:
    """The route of every member that has one, by its key; its points, as the nodes are measured, go to ``points``."""
    routes: dict[str, Route] = {}
    seen: set[str] = set()
    for draft, cells in drafted:
        if not any(cells.given(heading) for heading in _ROUTED_HEADINGS):
            continue
        pointed = draft.key in points.named
        route = _route(cells, draft, nodes)
        if pointed and draft.key not in seen:
            heading = next(heading for heading in _ROUTED_HEADINGS if cells.given(heading))
            cells.fault(heading, "is given by nodes here, and the member has rows in Points", "keep one of the two")
        points.named.add(draft.key)
        seen.add(draft.key)
        if route is None or not cells.sound:
            cells.sound = False
            continue
        routes[draft.key] = route
        points.sound[draft.key] = tuple(
            Point(node.x, node.y, node.z, radius, draft.place)
            for node, radius in zip(
                (nodes.found[squash(name)] for name in route.nodes), (None, *route.radii, None), strict=True
            )
        )
    return routes


def idle_nodes(nodes: Nodes, members: Sequence[Member]) -> list[Remark]:
    """Nodes that no tube, plate or distance is given by: left over, or a tube was given another by mistake."""
    named = {name for member in members if member.route for name in member.route.nodes}
    if not named:
        return []
    named |= {name for member in members for end in member.ends if end.plate for name in end.plate.nodes}
    named |= {name for reading in nodes.readings for name in (reading.start, reading.end)}
    idle = [node for node in nodes.each if not named & {node.name, node.image}]
    # Each is named as its row has it, once for both sides.
    rows = dict.fromkeys(one.name for one in nodes.given if any(node.place == one.place for node in idle))
    if not rows:
        return []
    text = f"no tube runs to {listed(tuple(rows))}: left over, or a tube was given another node by mistake"
    return [Remark(Place("Nodes"), text)]


def _route(cells: Cells, draft: Draft, nodes: Nodes) -> Route | None:
    for heading in ("from", "to"):
        cells.need(heading)
    past_a, past_b = (cells.value(MEMBERS.column(f"past {side}")) or Fraction(0) for side in "ab")
    rank = cells.value(MEMBERS.column("rank")) or 0
    names: list[str] = []
    radii: list[Fraction | None] = []
    for heading in _ROUTE_HEADINGS:
        text = cells.text(heading) if cells.given(heading) else None
        for part in (text or "").split("+") if text is not None else ():
            found = _node(cells, heading, part.strip(), nodes)
            if found is None:
                return None
            name, radius = found
            if radius is not None and draft.tube is not None and radius * 2 <= draft.tube.od:
                rule = f"has a radius of half the outside diameter {cells.show(draft.tube.od)} or less"
                cells.fault(heading, rule, "give the centreline radius")
            if names and name == names[-1]:
                cells.fault(heading, f"names the node {name} twice in a row", "leave one of them out")
            names.append(name)
            if heading == "via":
                radii.append(radius)
    if not (cells.given("from") and cells.given("to")) or not cells.sound:
        return None
    free = tuple(_free(cells, side) for side in "ab")
    return Route(tuple(names), tuple(radii), (past_a, past_b), rank, (free[0], free[1]))


def _free(cells: Cells, side: str) -> bool:
    """Whether an end is left to be worked out: nothing is said of it, or that it is coped and not onto what."""
    cut = str(cells.row.cells.get(f"end {side}", "cope"))
    return squash(cut) in ("cope", "notch") and not cells.given(f"onto {side}")


def _node(cells: Cells, heading: str, text: str, nodes: Nodes) -> tuple[str, Fraction | None] | None:
    """The node that ``text`` names, and the radius of the bend there."""
    name, radius = text, None
    match = _WITH_RADIUS.fullmatch(text)
    if match is not None and squash(text) not in nodes.found:
        if heading != "via":
            cells.fault(heading, "gives a radius where there is no bend", "leave it out")
            return None
        name = match["name"]
        written = match["radius"]
        radius = cells.read(heading, lambda: parse_length(written, cells.units))
        if radius is None:
            return None
        if radius <= 0:
            cells.fault(heading, "must be more than 0", "give the centreline radius", got=match["radius"])
            return None
    parts = [part.strip() for part in _BETWEEN.split(name)]
    if heading == "via" and squash(name) not in nodes.found and len(parts) > 1:
        known = [nodes.found.get(squash(part)) for part in parts]
        if all(known):
            cells.fault(heading, "names several nodes", f"join them by +: {' + '.join(parts)}", got=text)
            return None
    node = find_node(cells, heading, name, nodes)
    return None if node is None else (node.name, radius)


def _parts(row: Row) -> list[tuple[str, str]]:
    """The names of a row's nodes, without radii, and the headings they are under."""
    found = []
    for heading in _ROUTE_HEADINGS:
        for part in str(row.cells.get(heading, "")).split("+"):
            match = _WITH_RADIUS.fullmatch(part.strip())
            name = match["name"] if match else part.strip()
            if name:
                found.append((name, heading))
    return found
