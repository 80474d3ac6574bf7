"""A plan from a file, before anything is calculated with it: whether it holds, whether its job is one that could have
been read from a job's own sheets, and whether it is still, or ever was, a plan of a job as that is in its file now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from cutplan.job.model import Job, Settings
from cutplan.job.units import show_length
from cutplan.plan.model import Plan
from cutplan.plan.verify.proof import complaints, length_complaints

_BY_WHICH_IT_IS_SAWN = {"kerf": "kerf", "end_trim": "end trim", "saw_hold": "saw hold"}


def verify(plan: Plan, job: Job | None = None) -> tuple[str, ...]:
    """Everything by which ``plan``, from a file, cannot be believed, and where it is not one of ``job``; empty if it
    holds. Every proof is run once."""
    wrong = (*_unread(plan), *complaints(plan), *length_complaints(plan))
    if job is not None and job != plan.job:
        wrong += job_complaints(plan, job)
    return tuple(dict.fromkeys(wrong))


def job_complaints(plan: Plan, job: Job) -> tuple[str, ...]:
    """Where ``plan`` is not one of ``job``, in words; empty if it is.

    What may be chosen anew for each plan (spares, when members are fitted) need not be the job's. A plan of the rest
    after some cuts is held against the measurements alone: its bars are what was left of others.
    """
    mine, theirs = plan.job.settings, job.settings
    if mine.units is not theirs.units:
        return (f"the plan is in {mine.units.value}, the job in {theirs.units.value}",)
    said = [*_settings(mine, theirs), *length_complaints(replace(plan, job=job))]
    if not plan.origin and not plan.made:
        chosen = replace(theirs, spares=mine.spares, fitted=mine.fitted)
        said += complaints(replace(plan, job=replace(job, settings=chosen)))
    return tuple(dict.fromkeys(said))


def _unread(plan: Plan) -> Iterator[str]:
    """What the reader of a job would have refused, and no proof of its plan meets."""
    names = Counter(tube.name for tube in plan.job.tubes)
    yield from (f"{name}: is listed {times} times among the job's tubes" for name, times in names.items() if times > 1)
    if Counter(plan.drawn) - Counter(plan.rack_before):
        yield "a piece is listed as from the rack's file, but was not on the rack"
    yield from _made(plan)


def _made(plan: Plan) -> Iterator[str]:
    """Where blanks cut earlier are not those still to cut under the same mark, or not numbered on from the cuts."""
    blanks = plan.by_mark()
    cuts = sum(len(bar.cuts) for tube in plan.tubes for bar in tube.bars)
    for number, made in enumerate(plan.made, cuts + 1):
        alike = blanks.get(made.blank.mark)
        if made.number != number:
            yield f"cut {made.number}, made earlier, is not numbered {number}"
        if alike is not None and replace(made.blank, count=alike.count) != alike:
            yield f"cut {made.number}, made earlier: {made.blank.mark} differs from its blanks still to be cut"


def _settings(mine: Settings, theirs: Settings) -> Iterator[str]:
    for field, name in _BY_WHICH_IT_IS_SAWN.items():
        one, other = getattr(mine, field), getattr(theirs, field)
        if one != other:
            units = theirs.units
            yield (
                f"{name}: {show_length(one, units, step=None)} {units.value} in the plan, "
                f"{show_length(other, units, step=None)} {units.value} in the job"
            )
