"""From a file to a sound job with its blanks: every fault of the tables and of the geometry at once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job import read
from cutplan.job.faults import JobError, Remark
from cutplan.job.model import Job


@dataclass(frozen=True, slots=True)
class Prepared:
    """A sound job, its blanks and what a person should know about them."""

    job: Job
    blanks: tuple[Blank, ...]
    remarks: tuple[Remark, ...]


def prepare(path: Path) -> Prepared:
    """Read the job at ``path`` (a workbook or a folder of CSV files) and work out its blanks.

    Raises JobError with every fault found: those of the tables, and those of the geometry of the rows that
    could be read.
    """
    reading = read(path)
    if reading.job is None:
        raise JobError(reading.faults)
    layout = lay_out(reading.job)
    faults = reading.faults + layout.faults
    if faults:
        raise JobError(faults)
    return Prepared(reading.job, layout.blanks, reading.remarks + layout.remarks)
