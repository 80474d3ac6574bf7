"""A saw list that someone has worked with, as far as it can be believed: read, proved, and not written over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cutplan.output.compare import altered, shown_complaints, shown_remarks
from cutplan.output.opened import read_saw_list
from cutplan.output.ticks import SawListError
from cutplan.plan.model import Plan
from cutplan.plan.prepare import Prepared
from cutplan.plan.recut.differences import differences
from cutplan.plan.recut.job_file import job_to_go_on, read_at
from cutplan.plan.recut.ticks import BarNote, Tick
from cutplan.plan.verify.carried import verify


def believed(path: Path) -> tuple[Plan, tuple[Tick, ...], tuple[BarNote, ...]]:
    """The plan that the saw list at ``path`` carries, its ticks, and what was written against bars. Raises SawListError
    where the plan does not hold, or what the list shows of cuts and bars was written over."""
    found = read_saw_list(path)
    if wrong := verify(found.plan):
        cure = "go on from the list as cutplan wrote it, or plan the job again"
        raise SawListError(path, f"is not correct: {_first(wrong)}", cure)
    if wrong := altered(found):
        cure = "put it back; what the tape shows for a bar goes under measured now on Bars in hand"
        raise SawListError(path, f"was altered: {_first(wrong)}", cure)
    return read_at(found.plan, path), found.ticks, found.notes


@dataclass(frozen=True, slots=True)
class Ticked:
    """A saw list to go on from: the ``plan`` it carries, its ticks, what was written against bars, and the job that
    counts ``now`` (None: the plan's own)."""

    plan: Plan
    ticks: tuple[Tick, ...]
    notes: tuple[BarNote, ...]
    now: Prepared | None

    @property
    def untouched(self) -> bool:
        """Whether nothing was ticked or written on it, and the job is as it was planned."""
        ticked = any(tick.done or tick.spoilt for tick in self.ticks)
        noted = any(note.gone or note.measured is not None for note in self.notes)
        return not (ticked or noted or (self.now is not None and differences(self.plan, self.now)))


def ticked(path: Path, job: Path | Prepared | None, *, as_planned: bool) -> Ticked:
    """The saw list at ``path`` to go on from with ``job``, where that was given, or ``as_planned``. Raises
    SawListError, JobError for a job with faults, JobChangedError where it has changed and neither was given."""
    plan, ticks, notes = believed(path)
    plan, now = job_to_go_on(path, plan, job, as_planned=as_planned)
    return Ticked(plan, ticks, notes, now)


def _first(wrong: Sequence[str]) -> str:
    more = f"; and {len(wrong) - 3} more" if len(wrong) > 3 else ""
    return f"{'; '.join(wrong[:3])}{more}"


@dataclass(frozen=True, slots=True)
class Checked:
    """A plan proved from scratch: what is ``wrong`` with it (nothing: it holds), and what else should be known."""

    plan: Plan
    wrong: tuple[str, ...]
    remarks: tuple[str, ...] = ()
    changed: bool = False
    """Whether the job has changed since: that is then among what is wrong."""


def check_list(path: Path, prepared: Prepared | None = None) -> Checked:
    """Prove the saw list at ``path``: its plan from scratch, all that it shows against the plan, and the job it carries
    against ``prepared``, where that is given. Raises SawListError for what is no saw list."""
    found = read_saw_list(path, whole=True)
    wrong, changed = list(verify(found.plan)), False
    if prepared is not None:
        of_job = [text for text in verify(found.plan, prepared.job) if text not in wrong]
        same_units = prepared.job.settings.units is found.plan.job.settings.units
        said = differences(read_at(found.plan, path), prepared) if of_job and same_units else ()
        # One line a member says it all.
        named = {text.split(":")[0] for text in said}
        wrong += [*said, *(text for text in of_job if text.split(":")[0] not in named)]
        changed = bool(said)
    wrong += shown_complaints(found)
    return Checked(found.plan, tuple(dict.fromkeys(wrong)), shown_remarks(found.book), changed)
