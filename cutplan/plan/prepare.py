"""From a file to a sound job with its blanks: every fault of the tables and of the geometry at once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job import read
from cutplan.job.faults import JobError, Remark
from cutplan.job.model import Job, StockRow
from cutplan.job.rack import Rack, pieces_for, read_rack


@dataclass(frozen=True, slots=True)
class Prepared:
    """A sound job, its blanks and what a person should know about them. ``drawn``: those rows of its stock that a
    rack's file gave."""

    job: Job
    blanks: tuple[Blank, ...]
    remarks: tuple[Remark, ...]
    drawn: tuple[StockRow, ...] = ()


def prepare(path: Path, rack: Path | None = None) -> Prepared:
    """Read the job at ``path`` (a workbook or a folder of CSV files) and work out its blanks. ``rack``: a rack's file,
    whose pieces of the job's tubes are stock too.

    Raises JobError with every fault found: those of the tables, and those of the geometry of the rows that
    could be read; or those of the rack.
    """
    lying = read_rack(rack) if rack is not None else Rack()
    reading = read(path, {rest.tube for rest in lying.rests})
    if reading.job is None:
        raise JobError(reading.faults)
    layout = lay_out(reading.job)
    faults = reading.faults + layout.faults
    if faults:
        raise JobError(faults)
    job = reading.job
    drawn = pieces_for(lying, dict.fromkeys(blank.tube for blank in layout.blanks), job.stock)
    return Prepared(replace(job, stock=job.stock + drawn), layout.blanks, reading.remarks + layout.remarks, drawn)
