"""Estimated members of a plan, proved again: is the room kept for each enough for the longest it may come out as?

From the rows of the job alone. The blank of the likely numbers is the same job's with every ± struck out; what the
numbers in doubt can add to it is found by trying each through its whole range, a step at a time, with formulas of its
own (nothing is shared with what worked out the room). Every value tried is one that can be, so a complaint is never
false; and the steps are fine enough that no more than hundredths of a millimetre can be missed between them. Of a
member by points only two frames are tried, those that make it about as long and as short as may be.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import product

import numpy as np

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job.model import Bend, Cut, End, Job, Measured, Member, Point, Saddle, To, Tube
from cutplan.plan.model import Plan
from cutplan.plan.verify.stages import pieces_landed_on
from cutplan.plan.verify.tried_ends import doubted, exact, laid_out, laid_swing, on_one_straight

_TRIED = 201
_HAIR = 1e-5
_LINES = np.radians(np.arange(0.0, 360.0, 0.25))


def estimate_complaints(plan: Plan) -> Iterator[str]:
    """Where a blank has less room than its numbers may need, or is given a length though they leave it in doubt."""
    by_mark = {mark: member for member in plan.job.members for mark in (member.mark, *member.marks)}
    doubtful = {mark: member for member in plan.job.members if _in_doubt(member, by_mark) for mark in member.marks}
    likely: dict[str, Blank] = {}
    # Most jobs have at most a small ± on a straight member, which needs no blank to be added up.
    if any(blank.estimate or (blank.bends and blank.mark in doubtful) for blank in plan.blanks) or any(
        member.points for member in doubtful.values()
    ):
        certain = replace(plan.job, members=tuple(exact(member) for member in plan.job.members))
        likely = {blank.mark: blank for blank in lay_out(certain).blanks}
    for blank in plan.blanks:
        if blank.mark in doubtful:
            yield from _complaints(plan.job, doubtful[blank.mark], blank, likely.get(blank.mark, blank))
        elif blank.estimate is not None:
            yield f"{blank.mark}: is said to be an estimate, but is not"
    yield from _order_complaints(plan)


def _order_complaints(plan: Plan) -> Iterator[str]:
    """Where an estimated blank is cut before what it is to be measured against."""
    cuts = [cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    guessed = {blank.mark for blank in plan.blanks if blank.estimate is not None}
    last: dict[str, int] = {}
    for cut in cuts:
        last[cut.mark] = max(cut.number, last.get(cut.mark, 0))
    for mark, onto in dict.fromkeys(pieces_landed_on(plan.job.members)):
        for cut in cuts:
            if cut.mark == mark and mark in guessed and last.get(onto, 0) > cut.number:
                late = f"{onto}, which it lands on, is cut after it"
                yield f"cut {cut.number}: {cut.mark} is an estimate, and {late}"


def _complaints(job: Job, member: Member, planned: Blank, likely: Blank) -> Iterator[str]:
    unit = job.settings.units
    less, more = _swing(member, job, likely) if not member.points else _points_swing(member, job, likely)
    sure = float(job.settings.sure)
    if planned.estimate is None:
        # What is sawn at its likely length must be known to within the setting.
        if max(less, more) > sure + _HAIR:
            out = f"{max(less, more) / float(unit.mm):.4g} {unit.value}"
            yield f"{planned.mark}: may be out by {out}, yet is given a length"
        return
    net = sum(part.length for part in likely.parts[:-1])
    needed = net + more
    if float(planned.length) < needed - _HAIR:
        room = f"{float(planned.length / unit.mm):g} {unit.value}"
        yield f"{planned.mark}: may need {needed / float(unit.mm):.6g} {unit.value}, and has room for {room}"
    if float(planned.estimate.least) - float(job.settings.step) > net - less + _HAIR:
        yield f"{planned.mark}: may come out shorter than the plan says"
    if planned.estimate.likely != likely.length:
        yield f"{planned.mark}: its likely length is not what its figures give"


def _in_doubt(member: Member, by_mark: Mapping[str, Member]) -> bool:
    return (
        bool(member.tolerance)
        or any(any(point.doubt) for one in _tied(member, by_mark) for point in one.points)
        or any(row.tolerance or row.angle_tolerance for row in member.bends)
        or any(end.angle_tolerance or any(map(doubted, end.saddles)) for end in (member.end_a, member.end_b))
    )


def _tied(member: Member, by_mark: Mapping[str, Member]) -> tuple[Member, ...]:
    """A member by points and all whose points settle how it ends: those it lands on, and those they land on; and, as
    mitres meet where their points do, all that are mitred where one of these is."""
    if not member.points:
        return ()
    mitred = [
        one
        for one in by_mark.values()
        if one.points and any(end.from_points and end.cut is Cut.MITRE for end in (one.end_a, one.end_b))
    ]
    found = {member.mark: member}
    todo = [member]
    while todo:
        one = todo.pop()
        found[one.mark] = one
        if one in mitred:
            todo += [each for each in mitred if each.mark not in found]
        landed = [saddle.onto.member for end in (one.end_a, one.end_b) if end.from_points for saddle in end.saddles]
        others = (by_mark.get(mark or "") for mark in landed)
        todo += [other for other in others if other is not None and other.mark not in found]
    return tuple(found.values())


def _points_swing(member: Member, job: Job, likely: Blank) -> tuple[float, float]:
    """By how much a blank by points may come out less and more than likely, as two frames show that can be: one with
    every point at an end of this member as far out as may be, along its axis, one with them as far in."""
    by_mark = {mark: each for each in job.members for mark in (each.mark, *each.marks)}
    tied = _tied(member, by_mark)
    furthest = max((doubt for each in tied for point in each.points for doubt in point.doubt), default=Fraction(0))
    # Between nodes the whole way has one ±.
    whole = float(member.tolerance) if member.route is not None else 0.0
    if not furthest:
        return whole, whole
    # What meets goes on meeting, and no corner takes in the mitred ends of another.
    settings = replace(job.settings, meet_within=job.settings.meet_within + 4 * furthest)
    net = sum(part.length for part in likely.parts[:-1])
    found = [net]
    for outwards in (1, -1):
        moved = tuple(exact(_pulled(one, member, outwards)) for one in tied)
        laid = laid_out(Job(settings, job.tubes, (), moved))
        found += [sum(part.length for part in blank.parts[:-1]) for blank in laid if blank.member == member.mark]
    return net - min(found) + whole, max(found) - net + whole


def _pulled(one: Member, member: Member, outwards: int) -> Member:
    """``one`` with each point moved, as far as it may be, along the axis of ``member`` at the end that it is nearer
    to."""
    ends = [
        (_place(member.points[i]), _place(member.points[i]) - _place(member.points[j])) for i, j in ((0, 1), (-1, -2))
    ]
    points = []
    for number, point in enumerate(one.points):
        at = _place(point)
        way = min(ends, key=lambda end: float(np.linalg.norm(end[0] - at)))[1]
        if one is member and 0 < number < len(one.points) - 1:
            way = at - (_place(one.points[number - 1]) + _place(one.points[number + 1])) / 2.0
        x, y, z = (
            value + outwards * doubt * (1 if along >= 0 else -1)
            for value, doubt, along in zip((point.x, point.y, point.z), point.doubt, way, strict=True)
        )
        points.append(replace(point, x=x, y=y, z=z))
    return replace(one, points=tuple(points))


def _place(point: Point) -> np.ndarray:
    return np.array([float(point.x), float(point.y), float(point.z)])


def _swing(member: Member, job: Job, likely: Blank) -> tuple[float, float]:
    """By how much the blank may come out less and more than likely, in mm."""
    tube = job.tube(member.tube)
    ends = [
        _end_swing(end, float(tube.od)) if on_one_straight(end) else laid_swing(member, job, name)
        for name, end in (("a", member.end_a), ("b", member.end_b))
    ]
    if not member.bends:
        whole = 0.0 if member.points else float(member.tolerance)
        return whole + sum(low for low, _ in ends), whole + sum(high for _, high in ends)
    # All that acts on one bend is tried together with it, all else is added as it is: the numbers are free of
    # each other. What lengthens an end straight to the grip takes up what shortens it.
    grips = likely.cut_off_a or likely.cut_off_b or float(tube.grip)
    less, more = (sum(one[side] for one in ends) for side in (0, 1))
    for row in member.bends:
        less, more = less + float(row.tolerance), more + float(row.tolerance)
    for before, after in zip(member.bends, member.bends[1:], strict=False):
        low, high = _bend_swing(before, after, tube)
        less, more = less + low, more + high
    if not grips:
        return less, more
    return _with_grip(member, tube, likely, ends)


def _with_grip(member: Member, tube: Tube, likely: Blank, ends: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The same with a bender's grip: each end straight is tried from its least to its greatest, and is never shorter
    than the grip; all corners of what is left are tried with it."""
    grip, rows = float(tube.grip), member.bends
    starts = _edge_lengths(member, tube, likely)
    found = []
    corners = [(-1.0, 0.0, 1.0) if row.angle_tolerance else (0.0,) for row in rows[:-1]]
    for turned in product(*corners):
        angles = [float(row.angle_deg or 0.0) + by * row.angle_tolerance for row, by in zip(rows, turned, strict=False)]
        for way in (-1.0, 1.0):
            lengths = [way * float(row.tolerance) for row in rows]
            middle = sum(lengths[1:-1])
            for i, angle in enumerate(angles):
                middle += _bent(rows[i], tube, angle) - _bent(rows[i], tube, float(rows[i].angle_deg or 0.0))
            back = [_setbacks(rows, i, tube, angles) - _setbacks(rows, i, tube, None) for i in range(len(rows))]
            middle -= sum(back[1:-1])
            for i, start, (low, high) in ((0, starts[0], ends[0]), (-1, starts[1], ends[1])):
                gained = lengths[i] - back[i] + (high if way > 0 else -low)
                middle += max(start + gained, grip) - max(start, grip)
            found.append(middle)
    return max(-min(found), 0.0), max(max(found), 0.0)


def _edge_lengths(member: Member, tube: Tube, likely: Blank) -> tuple[float, float]:
    """From either end of the blank to its first bend, without what was added for the bender to grip."""
    marks = likely.bends
    last = marks[-1].start + marks[-1].arc
    whole = sum(part.length for part in likely.parts[:-1])
    return marks[0].start - likely.cut_off_a, whole - last - likely.cut_off_b


def _bent(row: Bend, tube: Tube, angle_deg: float) -> float:
    """The length of tube in a bend: its arc, less what it grows."""
    radius = float(row.radius if row.radius is not None else tube.clr or 0)
    return radius * math.radians(angle_deg) - float(tube.stretch) * angle_deg / 90.0


def _setbacks(rows: Sequence[Bend], index: int, tube: Tube, angles: Sequence[float] | None) -> float:
    """What the bends beside a straight take off it, at ``angles`` (None: the likely ones)."""
    found = 0.0
    for number in (index - 1, index):
        if 0 <= number < len(rows) - 1:
            angle = float(rows[number].angle_deg or 0.0) if angles is None else angles[number]
            found += _setback(rows[index].to, rows[number], tube, angle)
    return found


def _setback(to: To, row: Bend, tube: Tube, angle_deg: float) -> float:
    if to is To.TANGENT:
        return 0.0
    radius = float(row.radius if row.radius is not None else tube.clr or 0)
    reach = radius + (float(tube.od) / 2.0 if to is To.OUTSIDE else 0.0)
    return reach * math.tan(math.radians(angle_deg) / 2.0)


def _bend_swing(row: Bend, following: Bend, tube: Tube) -> tuple[float, float]:
    def length(angle_deg: float) -> float:
        return (
            _bent(row, tube, angle_deg)
            - _setback(row.to, row, tube, angle_deg)
            - _setback(following.to, row, tube, angle_deg)
        )

    return _tried(length, float(row.angle_deg or 0.0), row.angle_tolerance)


def _tried(length: Callable[[float], float], likely: float, doubt: float) -> tuple[float, float]:
    """By how much ``length`` falls and rises, at the most, as its one number goes through its range."""
    if not doubt:
        return 0.0, 0.0
    found = [length(float(value)) for value in np.linspace(likely - doubt, likely + doubt, _TRIED)]
    return max(length(likely) - min(found), 0.0), max(max(found) - length(likely), 0.0)


@lru_cache(maxsize=256)
def _end_swing(end: End, od: float) -> tuple[float, float]:
    """By how much an end gains less and more than likely."""
    if end.from_points:
        return 0.0, 0.0
    if end.cut is Cut.MITRE:
        per = {Measured.CENTRE: od / 2.0, Measured.FACE: od / 2.0, Measured.SHORT: od}.get(end.measured, 0.0)
        return _tried(lambda angle: per * math.tan(math.radians(angle)), end.angle_deg, end.angle_tolerance)
    in_doubt = [one for one in end.saddles if doubted(one)]
    if not in_doubt:
        return 0.0, 0.0
    (one,) = in_doubt
    likely = _gained(one, od, end.measured, one.angle_deg, float(one.offset))
    angles = np.linspace(one.angle_deg - one.angle_tolerance, one.angle_deg + one.angle_tolerance, _TRIED)
    doubt = float(one.offset_tolerance)
    offsets = np.linspace(float(one.offset) - doubt, float(one.offset) + doubt, 9 if doubt else 1)
    tried = [
        _gained(one, od, end.measured, float(angle), float(offset))
        for angle in (angles if one.angle_tolerance else angles[:1])
        for offset in offsets
    ]
    return max(likely - min(tried), 0.0), max(max(tried) - likely, 0.0)


def _gained(one: Saddle, od: float, measured: Measured, angle_deg: float, offset: float) -> float:
    """What a blank gains between where the tape ran to and its tip, by the equation of the tube landed on, line by
    line round the member."""
    theta, radius, onto = math.radians(angle_deg), od / 2.0, float(one.onto.od) / 2.0

    def distance(round_: float | np.ndarray, r: float) -> np.ndarray:
        across = onto**2 - (r * np.sin(round_) - offset) ** 2
        return np.asarray((r * np.cos(round_) * math.cos(theta) + np.sqrt(np.maximum(across, 0.0))) / math.sin(theta))

    tip = float(distance(_LINES, radius).min())
    if measured is Measured.TIP:
        return 0.0
    if measured is Measured.CENTRE:
        return -tip
    r, at = {Measured.FACE: (0.0, 0.0), Measured.LONG: (radius, math.pi), Measured.SHORT: (radius, 0.0)}[measured]
    return float(distance(at, r)) - tip
