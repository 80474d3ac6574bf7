"""All the drawings of a job: the frame, as it grows stage by stage, then the pieces that have no place in it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from cutplan.geometry.model import Blank
from cutplan.job.faults import Fault, Remark
from cutplan.job.model import Job
from cutplan.job.stages import in_stages, stages_of
from cutplan.plan.tables.end_list import end_sheets
from cutplan.plan.tables.frame_sheets import frame_of, frame_sheets, stage_sheets
from cutplan.plan.tables.piece_sheets import piece_sheets, pieces_of
from cutplan.plan.tables.sheet import Sheet

if TYPE_CHECKING:
    from cutplan.plan.prepare import Prepared


def drawable(prepared: Prepared) -> bool:
    """Whether there is anything to draw, and all that has a blank can be."""
    given = {each.mark for each in prepared.job.members if each.points or each.bends or each.length is not None}
    made = {blank.member for blank in prepared.blanks}
    placed = any(member.points or member.route for member in prepared.job.members)
    return made <= given and (bool(made) or placed)


def drawings(
    job: Job,
    blanks: Sequence[Blank],
    paper: tuple[float, float],
    marks: Collection[str] = (),
    found: Sequence[Fault | Remark] = (),
) -> tuple[Sheet, ...]:
    """The frame, with a picture of each stage and a list of its ends, and every piece outside it but those that are
    made already; with ``marks``, those pieces alone. ``paper``: its long and its short side in mm. ``found``: what is
    wrong with the job, or should be known of it."""
    if marks:
        return piece_sheets(job, pieces_of(job, [blank for blank in blanks if blank.mark in marks]), paper)
    placed = {member.mark for member in job.members if member.points or member.route or member.made}
    outside = [blank for blank in blanks if blank.member not in placed]
    return (
        *frame_drawings(job, blanks, paper),
        *end_sheets(job, blanks, paper, found),
        *piece_sheets(job, pieces_of(job, outside), paper),
    )


def frame_drawings(job: Job, blanks: Sequence[Blank], paper: tuple[float, float]) -> tuple[Sheet, ...]:
    """The frame from all sides, with a picture of each stage; nothing without points."""
    frame = frame_of(job, blanks)
    stages = stages_of(job.members) if in_stages(job.members) else {}
    return (*frame_sheets(job, frame, paper), *(stage_sheets(job, frame, paper, stages) if stages else ()))
