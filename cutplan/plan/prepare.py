"""From a file to a sound job with its blanks: every fault of the tables and of the geometry at once."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields, is_dataclass, replace
from enum import Enum
from pathlib import Path

from cutplan.geometry import Layout, lay_out
from cutplan.geometry.model import Blank
from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.job.faults import Fault, JobError, Remark
from cutplan.job.model import Job, StockRow
from cutplan.job.rack import Rack, free_for, pieces_for, read_rack, shown_exactly
from cutplan.job.read import Reading
from cutplan.job.tables import squash
from cutplan.plan.located import located
from cutplan.plan.model import JobFile


@dataclass(frozen=True, slots=True)
class Prepared:
    """A sound job, its blanks and what a person should know about them. ``drawn``: those rows of its stock that a
    rack's file gave; ``standing``: its members that are made already, where their length is known; ``source``: the job
    as it is in its file."""

    job: Job
    blanks: tuple[Blank, ...]
    remarks: tuple[Remark, ...]
    drawn: tuple[StockRow, ...] = ()
    standing: tuple[Blank, ...] = ()
    source: JobFile | None = None


def prepare(path: Path, rack: Path | None = None, *, taken: bool = False) -> Prepared:
    """Read the job at ``path`` (a workbook or a folder of CSV files) and work out its blanks. ``rack``: a rack's file,
    whose pieces of the job's tubes are stock too; those that other jobs have taken only where ``taken`` says so.

    Raises JobError with every fault found: those of the tables, and those of the geometry of the rows that
    could be read; or those of the rack.
    """
    on_rack = read_rack(rack) if rack is not None else Rack()
    reading = read(path, {rest.tube for rest in on_rack.rests})
    own, job, layout, remarks, faults = _laid_out(reading)
    if faults:
        raise JobError(faults)
    tubes = dict.fromkeys(blank.tube for blank in layout.blanks)
    if rack is not None and not taken:
        remarks += _left_out(rack.name, on_rack, job.settings.name, {squash(tube) for tube in tubes})
        on_rack = free_for(on_rack, job.settings.name)
    drawn = pieces_for(on_rack, tubes, job.stock)
    source = JobFile(str(path), digest_of(own), own.stock, own.settings)
    return Prepared(replace(job, stock=job.stock + drawn), layout.blanks, remarks, drawn, layout.standing, source)


def digest_of(job: Job) -> str:
    """A digest of all that counts in ``job``: not where its rows are, nor what their notes say."""
    return hashlib.sha256(_content(job).encode()).hexdigest()[:16]


def _content(value: object) -> str:
    if is_dataclass(value):
        counted = (field.name for field in fields(value) if field.compare and field.name != "note")
        return f"({';'.join(f'{name}={_content(getattr(value, name))}' for name in counted)})"
    if isinstance(value, tuple):
        return f"[{','.join(map(_content, value))}]"
    return value.value if isinstance(value, Enum) else repr(value)


def as_far_as_sound(path: Path) -> tuple[Prepared, tuple[Fault, ...]]:
    """The job at ``path`` with those of its blanks that can be made, and its faults. Raises JobError where the tables
    make no job at all, or nothing says where its nodes are."""
    _, job, layout, remarks, faults = _laid_out(read(path))
    return Prepared(job, layout.blanks, remarks, (), layout.standing), faults


def _laid_out(reading: Reading) -> tuple[Job, Job, Layout, tuple[Remark, ...], tuple[Fault, ...]]:
    """The job as it was read, the same with its nodes in their places, its blanks, remarks and faults. Raises JobError
    where there is no job, or nothing says where its nodes are."""
    if reading.job is None:
        raise JobError(reading.faults)
    here = located(reading.job)
    if here.faults:
        raise JobError(reading.faults + here.faults)
    found = settled(here.job)
    layout = Layout((), found.faults, ()) if found.faults else lay_out(found.job)
    remarks = reading.remarks + here.remarks + found.remarks + layout.remarks
    return reading.job, found.job, layout, remarks, reading.faults + layout.faults


def _left_out(file: str, on_rack: Rack, job: str, tubes: set[str]) -> tuple[Remark, ...]:
    """A remark for each piece of these ``tubes`` (names squashed) that another job has taken."""
    return tuple(
        Remark(
            replace(rest.place.at("taken by"), sheet=file),
            f"{rest.count} of {shown_exactly(rest.length, rest.units)} of {rest.tube}"
            f"{f', marked {rest.label},' if rest.label else ''} taken by {rest.taken_by}: not used",
        )
        for rest in on_rack.rests
        if squash(rest.tube) in tubes and not rest.is_free_for(job)
    )
