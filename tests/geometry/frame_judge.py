"""A whole frame as solids: an end is what all other tubes of the frame that give no way to it leave of its member.

Unlike :mod:`node_judge`, from which the solids come, the judge does not believe what an end lands on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from manifold3d import Manifold, OpType
from node_judge import FACETS, GRAZE, LINES, TURNS, Node, Vector, Verdict, course, given_line, shot

from cutplan.geometry import Layout
from cutplan.job.model import Cut, End, Job, Member

NEAR_MM = 260.0
HAIR_MM = 0.05
"""A line this much nearer to the axis meets the same tube about there, or it only grazes what it meets."""


@dataclass
class Whole(Node):
    """A job all of whose members have points. ``near``: what is cut from an end, by its member's mark and its side."""

    cuts: dict[tuple[str, bool], Manifold] = field(default_factory=dict)

    def others(self, mark: str, at_b: bool) -> list[Member]:
        """The tubes that pass the end closely, but for those that are themselves cut to this member there."""
        point, _, _ = self.end_axis(mark, at_b)
        found = []
        for other in self.job.members:
            if other.mark == mark or not other.points:
                continue
            gives_way = False
            for there_b, end in ((False, other.end_a), (True, other.end_b)):
                far = np.linalg.norm(self.end_axis(other.mark, there_b)[0] - point)
                gives_way |= bool(far < NEAR_MM and any(one.onto.member == mark for one in end.saddles))
            if not gives_way and self.passes(other, point):
                found.append(other)
        return found

    def passes(self, other: Member, point: Vector) -> bool:
        """Whether a tube's centreline comes close to a point."""
        for start, way, length, clr, inwards in course(other).pieces:
            along = np.linspace(0.0, length, 60)[:, None]
            turn = along / clr if clr else along
            at = start + (clr * (inwards * (1 - np.cos(turn)) + way * np.sin(turn)) if clr else way * along)
            if float(np.linalg.norm(at - point, axis=1).min()) < NEAR_MM / 2.0:
                return True
        return False

    def cutters(self, mark: str, at_b: bool) -> Manifold:
        """All of them in one."""
        key = (mark, at_b)
        if key not in self.cuts:
            self.cuts[key] = Manifold.batch_boolean(
                [self.solid(each.mark) for each in self.others(mark, at_b)], OpType.Add
            )
        return self.cuts[key]

    def seen(self, mark: str, at_b: bool, within: float = 0.0) -> tuple[Vector, Vector]:
        """As :meth:`line`, against all of them; within reach of the end, and by so much nearer to the axis."""
        member = self.member(mark)
        end: End = member.end_b if at_b else member.end_a
        point, inward, length = self.end_axis(mark, at_b)
        acute = self.short_side(end, point, inward)
        clockwise = np.cross(-inward if at_b else inward, acute)
        phi = np.radians(TURNS)[:, None]
        reach = min(length * 0.5, NEAR_MM)
        origins = (
            point + inward * reach + (self.radius(member) - within) * (np.cos(phi) * acute + np.sin(phi) * clockwise)
        )
        depth, sine = shot(self.cutters(mark, at_b), origins, -inward)
        return reach - depth, sine


def judge_frame(job: Job, layout: Layout, facets: int = FACETS, *, both_sides: bool = False) -> Iterator[Verdict]:
    """A verdict for each coped end of the members that have points; of mirror images only where ``both_sides``."""
    whole = Whole(job, {}, {}, facets=facets)
    made = {blank.mark: blank for blank in layout.blanks}
    for member in job.members:
        if not member.points or member.mark not in made or (member.mirror_of and not both_sides):
            continue
        for at_b, end in ((False, member.end_a), (True, member.end_b)):
            if end.cut is not Cut.COPE:
                continue
            truth, sine = whole.seen(member.mark, at_b)
            # A line that touches an equal tube may miss its facets, and then meets the next tube squarely.
            inner, _ = whole.seen(member.mark, at_b, within=HAIR_MM)
            clear = ~np.isnan(truth) & (sine > GRAZE) & (np.abs(truth - inner) < HAIR_MM / GRAZE)
            jump = ~(np.abs(truth - np.roll(truth, 1)) < 4.0)
            clear &= ~(jump | np.roll(jump, -1))
            shown = given_line(made[member.mark], at_b, TURNS)
            options = [shown]
            shape = made[member.mark].end_b if at_b else made[member.mark].end_a
            if shape.saddles[0].angle_deg > 89.9:
                options.append(given_line(made[member.mark], at_b, (TURNS + 180.0) % 360.0))
            shown = min(options, key=lambda line: float(np.abs(line - truth)[clear].max()))
            gap = float(np.abs(shown - truth)[clear].max())
            tip = abs(float(np.min(shown[clear])) - float(np.min(truth[clear])))
            missed = int(np.isnan(truth).sum())
            yield Verdict(member.mark, "b" if at_b else "a", tip, gap, missed, LINES - int(clear.sum()) - missed)
