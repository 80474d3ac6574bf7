"""Ends left in the air, and ends whose saddle a third tube would cut, as solids (manifold3d) say, against what the
package reports. The solids share nothing with it but the job's words.

An end is in the air if its finished solid, for one diameter back from the tip, touches no other and no tube lands on it
there, yet would meet one if it were up to two diameters longer. A third tube cuts a saddle if, on some line along the
outside, it is met before any of those landed on.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from random import Random
from unittest.mock import patch

import numpy as np
from frames import random_frame
from manifold3d import Manifold
from node_judge import GRAZE, LINES, Node, rod, shot, unit

from cutplan.geometry import lay_out
from cutplan.geometry import layout as layout_module
from cutplan.geometry.bodies import bodies_in_place
from cutplan.geometry.clashes import Loose, loose_ends
from cutplan.job.faults import Remark
from cutplan.job.model import Cut, End, Job, Member, Point

FAR_OD = 2.0
FACETS = 90


@dataclass(frozen=True)
class InTheAir:
    """End ``name`` of ``mark``: ``gap`` mm from the solid next to it, and how much longer it would have to be to meet
    ``other``."""

    mark: str
    name: str
    gap: float
    other: str
    mm: float


@dataclass(frozen=True)
class ThirdTube:
    """Tube ``third`` sticks ``mm`` out of the saddle of end ``name`` of ``mark``, and shares ``volume`` with it.
    ``certain``: all lines of all saddles concerned meet what is landed on, which leaves no choice how they are cut.
    ``steep``: by how much the next line differs."""

    mark: str
    name: str
    third: str
    mm: float
    volume: float
    certain: bool
    steep: float


def in_the_air(node: Node) -> list[InTheAir]:
    """All square ends that touch nothing and would soon meet something."""
    found = []
    for member in node.job.members:
        for name, end in (("a", member.end_a), ("b", member.end_b)):
            if end.cut is Cut.SQUARE and (one := _gap(node, member, name)) is not None:
                found.append(one)
    return found


def _gap(node: Node, member: Member, name: str) -> InTheAir | None:
    od = 2.0 * node.radius(member)
    tip, inward, _ = node.end_axis(member.mark, name == "b")
    others = [other for other in node.job.members if other is not member]
    last = node.solid(member.mark) ^ _ball(tip, 1.2 * od)
    last = last.trim_by_plane(tuple(-inward), float(-(tip + inward * od) @ inward))
    if any(_lands_by(node, other, member, tip, od) for other in others):
        return None
    reach = FAR_OD * od
    gap = min(last.min_gap(node.solid(other.mark), 2.0 * reach) for other in others)
    beyond = rod(od / 2.0, tip, -inward, reach, node.facets)
    best = None
    for other in others:
        met = beyond ^ node.solid(other.mark)
        if met.volume() > 0.01:
            corners = np.array(met.to_mesh().vert_properties)[:, :3].astype(float)
            mm = float(((tip - corners) @ inward).min())
            if best is None or mm < best.mm:
                best = InTheAir(member.mark, name, gap, other.mark, mm)
    return best


def _lands_by(node: Node, other: Member, member: Member, tip: np.ndarray, od: float) -> bool:
    """Whether an end of ``other`` is coped onto ``member`` within two diameters and its own radius of a tip."""
    for at_b, end in ((False, other.end_a), (True, other.end_b)):
        far = float(np.linalg.norm(node.end_axis(other.mark, at_b)[0] - tip))
        if any(one.onto.member == member.mark for one in end.saddles) and far < 2.0 * od + node.radius(other):
            return True
    return False


def _ball(at: np.ndarray, radius: float) -> Manifold:
    return Manifold.sphere(radius, 24).translate(tuple(at))


def coped_onto_nothing(node: Node) -> list[tuple[str, str]]:
    """Coped ends, by mark and name, no line of which meets what they are to land on."""
    return [
        (member.mark, name)
        for member in node.job.members
        for name, end in (("a", member.end_a), ("b", member.end_b))
        if end.cut is Cut.COPE and not node.meets(member.mark, name == "b")
    ]


def third_tubes(node: Node) -> list[ThirdTube]:
    """All that stick out of a saddle, landed on by nothing there."""
    found = []
    for member in node.job.members:
        for at_b, end in ((False, member.end_a), (True, member.end_b)):
            if not node.meets(member.mark, at_b):
                continue
            landed = {one.onto.member for one in end.saddles}
            line = _line(node, member, at_b)
            for other in node.job.members:
                if other is member or other.mark in landed or _gives_way(node, other, member, at_b):
                    continue
                mm, steep = _sticks_out(node, member, at_b, other, line)
                if mm > 0.0:
                    volume = (node.solid(member.mark) ^ node.solid(other.mark)).volume()
                    place = node.end_axis(member.mark, at_b)[0]
                    sure = _all_meet(node, member, place) and _all_meet(node, other, place)
                    found.append(ThirdTube(member.mark, "b" if at_b else "a", other.mark, mm, volume, sure, steep))
    return found


def _all_meet(node: Node, member: Member, place: np.ndarray) -> bool:
    """Whether every line of the saddles of a member about a place meets what it lands on, and none jumps from one tube
    to another far behind it: solids leave standing what is behind a tube and beside it, a saw and a file do not."""
    near, jump = 12.0 * node.radius(member), node.radius(member) / 2.0
    for at_b, end in ((False, member.end_a), (True, member.end_b)):
        if end.cut is Cut.COPE and np.linalg.norm(node.end_axis(member.mark, at_b)[0] - place) < near:
            line = node.line(member.mark, at_b)[0]
            if np.isnan(line).any() or np.abs(line - np.roll(line, 1)).max() > jump:
                return False
    return True


def _line(node: Node, member: Member, at_b: bool) -> np.ndarray:
    """How far in an end is cut along each of its lines; where what it lands on has ended, as if that ran on."""
    line = node.line(member.mark, at_b)[0].copy()
    missed = np.isnan(line)
    if missed.any():
        end = member.end_b if at_b else member.end_a
        onto = [node.member(one.onto.member or "") for one in end.saddles]
        longer = tuple(replace(each, end_a=End(), end_b=End(), points=_run_on(each)) for each in onto)
        others = tuple(each for each in node.job.members if each not in onto)
        run_on = Node.of(replace(node.job, members=(*others, *longer)), facets=node.facets, lines=len(line))
        line[missed] = run_on.line(member.mark, at_b)[0][missed]
    return line


def _run_on(member: Member) -> tuple[Point, ...]:
    """Its points, the first and the last 300 further out."""
    points = list(member.points)
    for k, inner in ((0, 1), (-1, -2)):
        x, y, z = _at(member.points[k]) + 300.0 * unit(_at(member.points[k]) - _at(member.points[inner]))
        points[k] = Point(Fraction(float(x)), Fraction(float(y)), Fraction(float(z)))
    return tuple(points)


def _gives_way(node: Node, other: Member, member: Member, at_b: bool) -> bool:
    tip = node.end_axis(member.mark, at_b)[0]
    return _lands_by(node, other, member, tip, 2.0 * node.radius(member))


def _sticks_out(node: Node, member: Member, at_b: bool, other: Member, line: np.ndarray) -> tuple[float, float]:
    """By how much at the most, within six radii of both of the end; and by how much less on the lines next to that, or
    more on lines that only graze."""
    point, inward, length = node.end_axis(member.mark, at_b)
    radius = node.radius(member)
    reach = min(length, 6.0 * (radius + node.radius(other)))
    end = member.end_b if at_b else member.end_a
    acute = node.short_side(end, point, inward)
    clockwise = np.cross(-inward if at_b else inward, acute)
    phi = np.radians(node.turns)[:, None]
    origins = point + inward * reach + radius * (np.cos(phi) * acute + np.sin(phi) * clockwise)
    depth, sine = shot(node.solid(other.mark), origins, -inward)
    out = reach - depth - line
    clear = ~np.isnan(out) & (sine > GRAZE)
    if not (out[clear] > 0.0).any():
        return 0.0, 0.0
    # Where its own saddle only grazes what it lands on, flat sides tell its line to a few millimetres.
    saddle = node.line(member.mark, at_b)[1]
    if ((out > 0.0) & (saddle < 3.0 * GRAZE)).any():
        return float(out[clear].max()), np.inf
    grazing = float(np.nanmax(out))
    out = np.where(clear, out, 0.0)
    most = int(out.argmax())
    beside = min(out[most - 1], out[(most + 1) % len(out)])
    return float(out[most]), max(float(out[most] - max(beside, 0.0)), grazing - float(out[most]))


def with_slips(seed: int, job: Job) -> Job:
    """``job`` with some ends as a person leaves them by mistake: square, some millimetres short of their node or beside
    it; or coped onto only the first of the tubes that they land on."""
    dice = Random(seed)
    members = []
    for member in job.members:
        points, ends = list(member.points), [member.end_a, member.end_b]
        for k, inner in ((0, 1), (-1, -2)):
            chance = dice.random()
            if chance < 0.25:
                way = unit(_at(points[inner]) - _at(points[k]))
                side = unit(np.cross(way, [dice.gauss(0, 1) for _ in range(3)]))
                moved = _at(points[k]) + way * dice.uniform(0.0, 110.0) + side * dice.choice([0.0, 0.0, 12.0, 40.0])
                x, y, z = (Fraction(round(float(c))) for c in moved)
                points[k] = Point(x, y, z)
                ends[k] = End()
            elif ends[k].cut is Cut.SQUARE:
                # Beyond its node, so that what lands there lands on it all round.
                x, y, z = (
                    Fraction(round(float(c))) for c in _at(points[k]) + 90.0 * unit(_at(points[k]) - _at(points[inner]))
                )
                points[k] = replace(points[k], x=x, y=y, z=z)
            elif chance < 0.6 and len(ends[k].saddles) > 1:
                ends[k] = replace(ends[k], saddles=ends[k].saddles[: dice.choice([1, 2])])
        members.append(replace(member, points=tuple(points), end_a=ends[0], end_b=ends[1]))
    return replace(job, members=tuple(members))


def _at(point: Point) -> np.ndarray:
    return np.array([float(point.x), float(point.y), float(point.z)])


def sound(job: Job) -> Job:
    """``job`` without the members that cannot be made, and those that land on them."""
    while faults := lay_out(job).faults:
        made = {blank.member for blank in lay_out(job).blanks}
        kept = tuple(
            each
            for each in job.members
            if each.mark in made
            and all(one.onto.member in made for end in (each.end_a, each.end_b) for one in end.saddles)
        )
        assert len(kept) < len(job.members), faults
        job = replace(job, members=kept)
    return job


@dataclass
class Compared:
    """How many were there, and in words what was missed, false or of another size."""

    in_the_air: int = 0
    onto_nothing: int = 0
    third_tubes: int = 0
    certain: int = 0
    wrong: list[str] = field(default_factory=list)


SURE_MM, CLOSE_MM = 0.7, 0.6
"""Gaps between solids with flat sides are known to less than the first; sizes may differ by the second."""
SHARED_MM3 = 50.0


def compared(job: Job, facets: int = FACETS, lines: int = LINES) -> Compared:
    """What the solids of ``job`` say against what is reported."""
    node = Node.of(job, facets, lines)
    with patch.object(layout_module, "_MOST_MISFITS", 10**6):
        layout = lay_out(job)
    found = Compared()
    _compare_air(node, loose_ends(list(bodies_in_place(job, layout.blanks)), job), found)
    for mark, name in coped_onto_nothing(node):
        found.onto_nothing += 1
        over = [one.text for one in layout.remarks if one.place.column == f"end {name}" and f"{mark} hangs" in one.text]
        if not any("on 100 %" in text for text in over):
            found.wrong.append(f"missed: end {name} of {mark} lands on nothing")
    _compare_third(node, layout.remarks, found)
    return found


def _compare_air(node: Node, reported: Sequence[Loose], found: Compared) -> None:
    said = {(one.mark, one.name): one for one in reported}
    true = {(one.mark, one.name): one for one in in_the_air(node)}
    for key, one in true.items():
        far = 2.0 * FAR_OD * node.radius(node.member(one.mark))
        if one.gap < SURE_MM or one.mm > far - 1.0:
            continue
        found.in_the_air += 1
        if key not in said:
            found.wrong.append(f"missed: {one}")
        elif abs(said[key].mm - one.mm) > CLOSE_MM or said[key].other != one.other:
            found.wrong.append(f"otherwise: {one}, {said[key]}")
    found.wrong += [f"false: {one}" for key, one in said.items() if key not in true or true[key].gap < SURE_MM / 2.0]


def _compare_third(node: Node, remarks: Sequence[Remark], found: Compared) -> None:
    said: dict[tuple[str, str, str], float] = {}
    pairs = set()
    for one in remarks:
        if (into := re.match(r"(\S+) runs (\S+) mm into (\S+) at ", one.text)) is not None:
            said[into[1], (one.place.column or "")[-1:], into[3]] = float(into[2])
            pairs.add(frozenset((into[1], into[3])))
        elif (both := re.match(r"(\S+) and (\S+) run into each other by ", one.text)) is not None:
            pairs.add(frozenset((both[1], both[2])))
    true = {(one.mark, one.name, one.third): one for one in third_tubes(node)}
    for key, one in true.items():
        if one.mm < CLOSE_MM or one.volume < SHARED_MM3:
            continue
        found.third_tubes += 1
        found.certain += one.certain
        if not one.certain and frozenset((one.mark, one.third)) not in pairs:
            continue
        if frozenset((one.mark, one.third)) not in pairs:
            found.wrong.append(f"missed: {one}")
        elif key in said and one.certain and not -CLOSE_MM < said[key] - one.mm < max(CLOSE_MM, one.steep):
            found.wrong.append(f"otherwise: {one}, reported as {said[key]}")
    for (mark, name, third), mm in said.items():
        if (mark, name, third) in true or mm < SURE_MM / 2.0:
            continue
        place = node.end_axis(mark, name == "b")[0]
        both_meet = all(_all_meet(node, node.member(each), place) for each in (mark, third))
        if both_meet and (node.solid(mark) ^ node.solid(third)).volume() < 0.01:
            found.wrong.append(f"false: {mark} end {name} runs {mm} into {third}")


def slipped_frame(seed: int) -> Job:
    """A random frame with slips, of what of it can be made."""
    return sound(with_slips(seed, random_frame(seed, off_node=0)))
