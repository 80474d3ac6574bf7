"""Where the job of a saw list is, and whether it has changed there since the list was planned.

A saw list carries the way from its own folder to its job, so that both may be moved together.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path

from cutplan.errors import CutplanError
from cutplan.job.faults import JobError
from cutplan.plan.model import Plan
from cutplan.plan.prepare import Prepared, prepare
from cutplan.plan.recut.differences import differences

_MOST = 20
"""Differences that are reported one by one."""


@dataclass(frozen=True, slots=True)
class JobChange:
    """How the job at ``path`` has changed since a list was planned: ``said``, a sentence each; ``now``: the job
    (None: it has faults)."""

    path: Path
    said: tuple[str, ...]
    now: Prepared | None


class JobChangedError(CutplanError):
    """The job of a saw list has changed since, and it was not said which of the two to go by."""

    def __init__(self, sawlist: Path, change: JobChange) -> None:
        self.sawlist, self.change = sawlist, change
        super().__init__(sawlist, change)

    def __str__(self) -> str:
        said = self.change.said
        more = [f"and {len(said) - _MOST} more"] if len(said) > _MOST else []
        return "\n".join(
            (
                f"{self.change.path}: the job has changed since {self.sawlist.name} was planned:",
                *(f"  {line}" for line in (*said[:_MOST], *more)),
                f'to go on with the job as it is now: cutplan recut "{self.sawlist}" --job "{self.change.path}"',
                f'to go on as it was planned: cutplan recut "{self.sawlist}" --as-planned',
            )
        )


def written_at(plan: Plan, sawlist: Path) -> Plan:
    """``plan`` as its list at ``sawlist`` carries it: with the way from there to its job."""
    if plan.source is None:
        return plan
    job, folder = os.path.abspath(plan.source.path), os.path.abspath(sawlist.parent)
    try:
        way = os.path.relpath(job, folder)
    except ValueError:  # on another drive
        way = job
    return replace(plan, source=replace(plan.source, path=Path(way).as_posix()))


def read_at(plan: Plan, sawlist: Path) -> Plan:
    """The ``plan`` that the list at ``sawlist`` carries, its job found from here."""
    if plan.source is None:
        return plan
    return replace(plan, source=replace(plan.source, path=os.path.normpath(sawlist.parent / plan.source.path)))


def change_of(plan: Plan) -> JobChange | None:
    """How the job of ``plan`` has changed in its file; None: it has not, or it is not there."""
    if plan.source is None or not _is_there(path := Path(plan.source.path)):
        return None
    try:
        now = prepare(path)
    except JobError as error:
        return JobChange(path, tuple(f"it has a fault: {fault}" for fault in error.faults), None)
    if now.source is None or now.source.digest == plan.source.digest:
        return None
    said = differences(plan, now)
    return JobChange(path, said, now) if said else None


def _is_there(path: Path) -> bool:
    """Whether there is a job there; a folder without tables is not one."""
    return path.is_file() or (path.is_dir() and any(one.suffix.lower() == ".csv" for one in path.iterdir()))


def seen(plan: Plan) -> Plan:
    """``plan`` with what its job says now marked as seen, until it changes again."""
    change = change_of(plan)
    if change is None or change.now is None or change.now.source is None or plan.source is None:
        return plan
    return replace(plan, source=replace(plan.source, digest=change.now.source.digest))


def job_to_go_on(
    sawlist: Path, plan: Plan, job: Path | Prepared | None, *, as_planned: bool = False
) -> tuple[Plan, Prepared | None]:
    """What to plan the rest of ``plan``, the list at ``sawlist``, by: the plan, and the job that counts now (None: the
    plan's own). ``job``: the one that was given (None: none was).

    Raises JobError for a job with faults, JobChangedError where the job has changed in its file and nobody said whether
    that counts.
    """
    if job is not None:
        return plan, prepare(job) if isinstance(job, Path) else job
    if as_planned:
        return seen(plan), None
    if (change := change_of(plan)) is not None:
        raise JobChangedError(sawlist, change)
    return plan, None
