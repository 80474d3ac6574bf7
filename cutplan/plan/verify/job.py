"""A plan held against its job as it is in its file now: whether it is still, or ever was, a plan of that job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cutplan.job.model import Job, Settings
from cutplan.job.units import show_length
from cutplan.plan.model import Plan
from cutplan.plan.verify.proof import complaints, length_complaints

_BY_WHICH_IT_IS_SAWN = {"kerf": "kerf", "end_trim": "end trim", "saw_hold": "saw hold"}


def job_complaints(plan: Plan, job: Job) -> tuple[str, ...]:
    """Where ``plan`` is not one of ``job``, in words; empty if it is.

    What may be chosen afresh for each plan (spares, when members are fitted) need not be the job's. A plan of the rest
    after some cuts is held against the measurements alone: its bars are what was left of others.
    """
    mine, told = plan.job.settings, job.settings
    if mine.units is not told.units:
        return (f"the plan is in {mine.units.value}, the job in {told.units.value}",)
    said = [*_settings(mine, told), *length_complaints(replace(plan, job=job))]
    if not plan.origin and not plan.made:
        chosen = replace(told, spares=mine.spares, fitted=mine.fitted)
        said += complaints(replace(plan, job=replace(job, settings=chosen)))
    return tuple(dict.fromkeys(said))


def _settings(mine: Settings, told: Settings) -> Iterator[str]:
    for field, name in _BY_WHICH_IT_IS_SAWN.items():
        one, other = getattr(mine, field), getattr(told, field)
        if one != other:
            units = told.units
            yield (
                f"{name}: {show_length(one, units, step=None)} {units.value} in the plan, "
                f"{show_length(other, units, step=None)} {units.value} in the job"
            )
