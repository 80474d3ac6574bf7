"""Whole nodes of a frame as solids (manifold3d): every tube with its own ends and bends, each coped end what the solids
of the tubes it lands on leave of it. Lines are read off by shooting along the tube's outside at what was taken away.

Shares nothing with the package but the job's words. Round things have ``FACETS`` sides, half inside and half outside of
the true surface, which is some 0.01 mm at the tubes' sizes; where a line only grazes a tube, facets tell little.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from random import Random

import numpy as np
from manifold3d import CrossSection, Manifold, OpType
from numpy.typing import NDArray

from cutplan.geometry import Blank, Layout, end_line, lay_out
from cutplan.job.model import Cut, End, Job, Member, Onto, Point, Saddle, Settings, Tube

FACETS = 360
LINES = 72
TURNS = np.arange(LINES) * 360.0 / LINES
GRAZE = 0.12
"""Sine of the angle between line and surface below which a line only grazes."""

Vector = NDArray[np.float64]

_HAIR = 0.005


@dataclass(frozen=True)
class Course:
    """A centreline as straights and arcs: (start, direction, length, radius or 0, unit vector to the arc's centre)."""

    pieces: tuple[tuple[Vector, Vector, float, float, Vector], ...]

    @property
    def middle(self) -> Vector:
        """A point well inside the tube."""
        start, way, length, radius, inwards = max(self.pieces, key=lambda piece: piece[2])
        if not radius:
            return start + way * length / 2.0
        turn = length / radius / 2.0
        return start + radius * (inwards * (1.0 - np.cos(turn)) + way * np.sin(turn))


def course(member: Member) -> Course:
    """By its points: a fillet of the given radius at each inner one."""
    at = [np.array([float(p.x), float(p.y), float(p.z)]) for p in member.points]
    pieces = []
    here = at[0]
    for before, corner, after, point in zip(at, at[1:], at[2:], member.points[1:], strict=False):
        way, on = unit(corner - before), unit(after - corner)
        radius = float(point.radius or 0)
        turn = np.arccos(np.clip(way @ on, -1.0, 1.0))
        back = radius * np.tan(turn / 2.0)
        first = corner - way * back
        pieces.append((here, way, float(np.linalg.norm(first - here)), 0.0, np.zeros(3)))
        inwards = unit(on - way * (way @ on))
        pieces.append((first, way, radius * turn, radius, inwards))
        here = corner + on * back
    way = unit(at[-1] - at[-2])
    pieces.append((here, way, float(np.linalg.norm(at[-1] - here)), 0.0, np.zeros(3)))
    return Course(tuple(pieces))


def unit(v: Vector) -> Vector:
    """``v`` made one long."""
    return v / np.linalg.norm(v)


def across(way: Vector) -> Vector:
    """Some unit vector square to ``way``."""
    return unit(np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))]))


def placed(solid: Manifold, x: Vector, z: Vector, origin: Vector) -> Manifold:
    """``solid`` with its x and z axes along these and its origin there."""
    return solid.transform(np.column_stack([x, np.cross(z, x), z, origin]))


def rod(radius: float, start: Vector, way: Vector, length: float, facets: int) -> Manifold:
    """A straight one, in slices, as long thin facets are slow to cut."""
    solid = CrossSection.circle(radius / np.cos(np.pi / facets) ** 0.5, facets).extrude(length, 6)
    return placed(solid, across(way), way, start)


def ring(
    radius: float, start: Vector, way: Vector, length: float, clr: float, inwards: Vector, facets: int
) -> Manifold:
    """Part of a ring, from ``start`` on."""
    turn = np.degrees(length / clr)
    sides = facets // 2
    profile = CrossSection.circle(radius / np.cos(np.pi / sides) ** 0.5, sides).translate((clr, 0.0))
    solid = profile.revolve(max(int(facets * turn / 180), 12), turn)
    # The ring is turned about its own z; its x is where it starts, seen from the centre.
    return placed(solid, -inwards, np.cross(-inwards, way), start + inwards * clr)


@dataclass
class Node:
    """A job whose members meet; ``solids``: of each member once its ends are cut, made when asked for."""

    job: Job
    solids: dict[str, Manifold]
    lines: dict[tuple[str, bool], tuple[Vector, Vector]]
    raw_more: float = 400.0
    facets: int = FACETS
    turns: Vector = field(default_factory=lambda: TURNS)

    @classmethod
    def of(cls, job: Job, facets: int = FACETS, lines: int = LINES) -> Node:
        """Nothing made yet; ends are looked at on so many lines."""
        return cls(job, {}, {}, facets=facets, turns=np.arange(lines) * 360.0 / lines)

    def member(self, mark: str) -> Member:
        """By its mark."""
        return next(member for member in self.job.members if member.mark == mark)

    def radius(self, member: Member) -> float:
        """Of its outside."""
        return float(self.job.tube(member.tube).od) / 2.0

    def solid(self, mark: str) -> Manifold:
        """The finished member as a rod."""
        if mark not in self.solids:
            member = self.member(mark)
            path, radius = course(member), self.radius(member)
            parts = []
            for number, (start, way, length, clr, inwards) in enumerate(path.pieces):
                if clr:
                    parts.append(ring(radius, start, way, length, clr, inwards, self.facets))
                    continue
                more_a = self.raw_more if number == 0 and self.meets(mark, False) else 0.0
                more_b = self.raw_more if number == len(path.pieces) - 1 and self.meets(mark, True) else 0.0
                # Pieces that only touch may come apart: a straight reaches a hair into the bends next to it.
                hair_a, hair_b = _HAIR if number else 0.0, _HAIR if number < len(path.pieces) - 1 else 0.0
                at = start - way * (more_a + hair_a)
                parts.append(rod(radius, at, way, length + more_a + more_b + hair_a + hair_b, self.facets))
            whole = Manifold.batch_boolean(parts, OpType.Add)
            for at_b, end in ((False, member.end_a), (True, member.end_b)):
                if self.meets(mark, at_b):
                    whole = nearest_part(whole - self.taken(end), path.middle)
                    # A tube as wide as this one cuts it right through, but for a sliver between the facets: what is
                    # left of it on the far side goes by a plane at the tip.
                    point, inward, _ = self.end_axis(mark, at_b)
                    depths, _ = self.line(mark, at_b)
                    tip = float(np.nanmin(depths)) - 0.02
                    # Not all that lies beyond: another leg of a bent tube may come back past there.
                    whole -= rod(1.1 * radius, point + inward * tip, -inward, self.raw_more + 200.0, self.facets)
            self.solids[mark] = whole
        return self.solids[mark]

    def meets(self, mark: str, at_b: bool) -> bool:
        """Whether an end is coped, and what it lands on is there."""
        member = self.member(mark)
        end = member.end_b if at_b else member.end_a
        return end.cut is Cut.COPE and not bool(np.isnan(self.line(mark, at_b)[0]).all())

    def taken(self, end: End) -> Manifold:
        """All that an end lands on."""
        return Manifold.batch_boolean([self.solid(one.onto.member or "") for one in end.saddles], OpType.Add)

    def end_axis(self, mark: str, at_b: bool) -> tuple[Vector, Vector, float]:
        """Last point of an end, unit vector inwards, and how long the straight there is."""
        start, way, length, _, _ = course(self.member(mark)).pieces[-1 if at_b else 0]
        return (start + way * length, -way, length) if at_b else (start, way, length)

    def line(self, mark: str, at_b: bool) -> tuple[Vector, Vector]:
        """For each of ``turns``, how far inwards from the last point the first entry lies (nan: the line misses), and
        the sine of the angle at which it comes in."""
        if (mark, at_b) not in self.lines:
            self.lines[mark, at_b] = self._line(mark, at_b)
        return self.lines[mark, at_b]

    def _line(self, mark: str, at_b: bool) -> tuple[Vector, Vector]:
        member = self.member(mark)
        end = member.end_b if at_b else member.end_a
        point, inward, length = self.end_axis(mark, at_b)
        way = -inward if at_b else inward
        acute = self.short_side(end, point, inward)
        clockwise = np.cross(way, acute)
        phi = np.radians(self.turns)[:, None]
        radius = self.radius(member)
        origins = point + inward * length + radius * (np.cos(phi) * acute + np.sin(phi) * clockwise)
        depth, sine = shot(self.taken(end), origins, -inward)
        return length - depth, sine

    def short_side(self, end: End, point: Vector, inward: Vector) -> Vector:
        """Where turn angles are counted from: the side on which the first tube landed on leans towards the member."""
        return self._short_side(end, point, inward, 60.0)

    def _short_side(self, end: End, point: Vector, inward: Vector, within: float) -> Vector:
        other = course(self.member(end.saddles[0].onto.member or ""))
        best = None
        for start, way, length, clr, inwards in other.pieces:
            along = np.linspace(0.0, length, 4001)[:, None]
            turn = along / clr if clr else along * 0.0
            at = start + (clr * (inwards * (1 - np.cos(turn)) + way * np.sin(turn)) if clr else way * along)
            on = way * np.cos(turn) + inwards * np.sin(turn)
            # Next to the end, not where its axis passes the tube far away.
            near = np.linalg.norm(at - point, axis=1) < within
            gap = np.where(near, np.linalg.norm(np.cross(at - point, inward), axis=1), np.inf)
            if near.any() and (best is None or gap.min() < best[0]):
                best = (gap.min(), on[np.argmin(gap)])
        if best is None:  # what it was to land on ends elsewhere
            return self._short_side(end, point, inward, 10.0 * within)
        on = best[1] if best[1] @ inward >= 0.0 else -best[1]
        return unit(on - inward * (on @ inward))


def nearest_part(solid: Manifold, point: Vector) -> Manifold:
    """The piece that holds ``point``."""
    pieces = solid.decompose()
    probe = Manifold.sphere(0.5, 12).translate(tuple(point))
    return max(pieces, key=lambda piece: (piece ^ probe).volume())


def shot(solid: Manifold, origins: Vector, way: Vector) -> tuple[Vector, Vector]:
    """From each origin along ``way``: how far to the first facet met from outside (nan: none), and the sine of the
    angle between line and facet. Method: Möller and Trumbore (1997)."""
    mesh = solid.to_mesh()
    corners = np.array(mesh.vert_properties)[:, :3].astype(float)[np.array(mesh.tri_verts)]
    a, ab, ac = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    normal = np.cross(ab, ac)
    facing = normal @ way
    keep = facing < 0.0
    a, ab, ac, normal, facing = a[keep], ab[keep], ac[keep], normal[keep], facing[keep]
    depths, sines = np.full(len(origins), np.nan), np.full(len(origins), np.nan)
    # Seen along the lines, a facet can be met only within the box round it.
    flat = np.column_stack([across(way), np.cross(way, across(way))])
    seen = np.stack([a, a + ab, a + ac]) @ flat
    low, high = seen.min(axis=0) - 1e-9, seen.max(axis=0) + 1e-9
    for number, origin in enumerate(origins):
        there = np.flatnonzero(((low <= origin @ flat) & (origin @ flat <= high)).all(axis=1))
        gap = origin - a[there]
        depth = -np.einsum("ij,ij->i", normal[there], gap) / facing[there]
        q = np.cross(way, gap)
        u = np.einsum("ij,ij->i", ac[there], q) / facing[there]
        v = -np.einsum("ij,ij->i", ab[there], q) / facing[there]
        hit = (u >= -1e-12) & (v >= -1e-12) & (u + v <= 1 + 1e-12) & (depth > -1e-9)
        if hit.any():
            first = np.flatnonzero(hit)[np.argmin(depth[hit])]
            depths[number] = depth[first]
            sines[number] = -facing[there[first]] / np.linalg.norm(normal[there[first]])
    return depths, sines


def given_line(blank: Blank, at_b: bool, turns: Vector) -> Vector:
    """The same by the package: from the last point to the tip is what the blank gains at that end."""
    name = "b" if at_b else "a"
    gained = sum(part.length for part in blank.parts if part.what.startswith(f"end {name}:"))
    return -gained + end_line(blank.end_b if at_b else blank.end_a, turns)


@dataclass(frozen=True)
class Verdict:
    """Of one end: the greatest difference of tip and of line in mm, how many of its lines miss what it lands on as it
    is, and how many only graze it."""

    mark: str
    end: str
    tip: float
    line: float
    missed: int
    grazed: int


def judge(job: Job) -> tuple[Layout, list[Verdict]]:
    """Every coped end of a job. Only the lines that meet a tube squarely are compared, and the tip among them."""
    layout = lay_out(job)
    node = Node.of(job)
    made = {blank.mark: blank for blank in layout.blanks}
    found = []
    loose: set[str] = set()
    for member in job.members:
        for at_b, end in ((False, member.end_a), (True, member.end_b)):
            if end.cut is not Cut.COPE:
                continue
            # Where a tube landed on has lines of its own that miss, its end is a matter of taste.
            if any(one.onto.member in loose for one in end.saddles) or member.mark not in made:
                loose.add(member.mark)
                continue
            truth, sine = node.line(member.mark, at_b)
            clear = ~np.isnan(truth) & (sine > GRAZE)
            # Further in lies another leg of a bent tube, which is another matter.
            clear &= ~(truth > 150.0)
            # A line next to one that jumps, or misses, may lie on either side of that.
            jump = ~(np.abs(truth - np.roll(truth, 1)) < 4.0)
            clear &= ~(jump | np.roll(jump, -1))
            shown = given_line(made[member.mark], at_b, TURNS)
            options = [shown]
            shape = made[member.mark].end_b if at_b else made[member.mark].end_a
            if shape.saddles[0].angle_deg > 89.9:  # square on: either way is the short side
                options.append(given_line(made[member.mark], at_b, (TURNS + 180.0) % 360.0))
            # Not even one: what lands on this tube in turn sees how that line was cut.
            if np.isnan(truth).any():
                loose.add(member.mark)
            if not clear.any():
                continue
            shown = min(options, key=lambda line: float(np.abs(line - truth)[clear].max()))
            gap = float(np.abs(shown - truth)[clear].max())
            tip = abs(float(np.min(shown[clear])) - float(np.min(truth[clear])))
            missed = int(np.isnan(truth).sum())
            found.append(
                Verdict(member.mark, "b" if at_b else "a", tip, gap, missed, LINES - int(clear.sum()) - missed)
            )
    return layout, found


def point(v: Vector, radius: float | None = None) -> Point:
    """A point of a member, to a thousandth of a millimetre."""
    x, y, z = (Fraction(round(float(c) * 1000), 1000) for c in v)
    return Point(x, y, z, None if radius is None else Fraction(radius))


def onto(job_tubes: dict[str, str], *marks: str) -> End:
    """An end coped onto these, by points."""
    return End(
        Cut.COPE,
        saddles=tuple(Saddle(Onto(Fraction(SIZES[job_tubes[mark]][0]), mark, mark)) for mark in marks),
        from_points=True,
    )


SIZES = {"A": (45, 150), "B": (38, 114), "C": (30, 90)}
TUBES = tuple(Tube(name, Fraction(od), Fraction(2), clr=Fraction(clr)) for name, (od, clr) in SIZES.items())


def apart(dice: Random, ways: list[Vector], least_deg: float) -> Vector:
    """A direction at least so far from all these, and from their opposites."""
    limit = np.cos(np.radians(least_deg))
    while True:
        way = unit(np.array([dice.gauss(0, 1) for _ in range(3)]))
        if all(abs(way @ other) < limit for other in ways):
            return way


def random_node(seed: int) -> Job:
    """Two to five tubes at one node: the first runs through, ends there, or bends there; each of the others lands on
    the first and on some of those before it."""
    dice = Random(seed)
    centre = np.array([dice.uniform(-50, 50) for _ in range(3)])
    first_way = unit(np.array([dice.gauss(0, 1) for _ in range(3)]))
    kind = dice.choice(["through", "ends", "ends past", "bend", "bend's end"])
    tube_of = {"M1": dice.choice("AB")}
    ways = [first_way]
    long = 700.0
    if kind.startswith("bend"):
        clr = float(SIZES[tube_of["M1"]][1])
        turn = np.radians(dice.uniform(40, 100))
        side = unit(np.cross(first_way, apart(dice, ways, 20)))
        on = first_way * np.cos(turn) + side * np.sin(turn)
        corner = np.zeros(3)
        back = clr * np.tan(turn / 2)
        at = [corner - first_way * (back + 400), corner, corner + on * (back + 400)]
        along = dice.uniform(0, turn) if kind == "bend" else dice.choice([0.0, turn]) + dice.uniform(-0.12, 0.12)
        begin = corner - first_way * back
        if along < 0:
            here, tangent = begin + first_way * along * clr, first_way
        elif along > turn:
            here, tangent = corner + on * back + on * (along - turn) * clr, on
        else:
            here = begin + clr * (side * (1 - np.cos(along)) + first_way * np.sin(along))
            tangent = first_way * np.cos(along) + side * np.sin(along)
        shift = centre - here
        points = tuple(point(p + shift, clr if i == 1 else None) for i, p in enumerate(at))
        ways = [tangent]
    else:
        past = {"through": 500.0, "ends": 0.0, "ends past": dice.uniform(5, 30)}[kind]
        points = (point(centre - first_way * long), point(centre + first_way * past))
    members = [Member("M1", tube_of["M1"], points=points)]
    for number in range(2, dice.choice([2, 3, 3, 4, 5]) + 1):
        mark = f"M{number}"
        tube_of[mark] = dice.choice([name for name in "ABC" if name >= tube_of["M1"]])
        way = apart(dice, ways, dice.choice([15, 25, 40]))
        before = [m for m in (f"M{k}" for k in range(2, number)) if tube_of[m] <= tube_of[mark]]
        lands = ["M1", *[m for m in before if dice.random() < 0.7]]
        off = np.zeros(3)
        if len(lands) == 1 and dice.random() < 0.4:
            most = (SIZES[tube_of["M1"]][0] - SIZES[tube_of[mark]][0]) / 2
            off = unit(np.cross(ways[0], way)) * most * dice.uniform(-0.9, 0.9)
        end = onto(tube_of, *lands)
        start, far = point(centre + off), point(centre + off + way * long)
        if dice.random() < 0.5:
            members.append(Member(mark, tube_of[mark], end_a=end, points=(start, far)))
        else:
            members.append(Member(mark, tube_of[mark], end_b=end, points=(far, start)))
        ways.append(way)
    # Nothing is moved to meet, but for what the points are rounded by.
    return Job(Settings(meet_within=Fraction(1, 100)), TUBES, (), tuple(members))


def mirrored(job: Job) -> Job:
    """The same node in the mirror."""
    flip = tuple(replace(member, points=tuple(replace(p, x=-p.x) for p in member.points)) for member in job.members)
    return replace(job, members=flip)
