"""Ends whose point is not on the axis of what they land on: an offset that is meant, or a slip. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cutplan.geometry.centreline import Stretch, centreline, closest, coordinates
from cutplan.geometry.points import PointError, Vector
from cutplan.job.model import Cut, Job, Measured, Member

LEAST_MM = 0.5
"""Less is nothing that a drawing shows."""


@dataclass(frozen=True, slots=True)
class Stray:
    """End ``name`` of the member ``mark``, its point ``at``, ``mm`` from the axis of ``onto``."""

    mark: str
    name: str
    at: Vector
    onto: str
    mm: float


def strays(job: Job) -> Iterator[Stray]:
    """Of the coped ends that are measured to an axis, those whose point is off the axes of all that they land on."""
    courses = {
        mark: course
        for member in job.members
        if (course := _course(job, member))
        for mark in (member.mark, *member.marks)
    }
    for member in job.members:
        if not member.points:
            continue
        points = coordinates(member)
        for name, end, at in (("a", member.end_a, points[0]), ("b", member.end_b, points[-1])):
            if end.cut is Cut.COPE and end.measured is Measured.CENTRE:
                near = [
                    (closest(courses[onto], at).gap, onto)
                    for saddle in end.saddles
                    if (onto := saddle.onto.member or saddle.onto.name) in courses
                ]
                if near and min(near)[0] >= LEAST_MM:
                    gap, onto = min(near)
                    yield Stray(member.marks[0], name, at, onto, gap)


def _course(job: Job, member: Member) -> list[Stretch]:
    """The centreline of a member that is given by points; nothing where they make none."""
    tube = next((tube for tube in job.tubes if tube.name == member.tube), None)
    if not member.points or tube is None:
        return []
    try:
        return centreline(member, tube)
    except PointError:
        return []
