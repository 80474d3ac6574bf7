"""Changing a rack's file: one run at a time, a job's pieces taken while it is planned on them, its offcuts put back
once."""

from __future__ import annotations

import csv
import errno
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from openpyxl import Workbook
from rich.console import Console

from cutplan.job.faults import NOWHERE, Fault, JobError, Place
from cutplan.job.model import StockRow, Units
from cutplan.job.rack import Rack, RackError, Rest, check_ending, read_rack, shown_exactly, table_of
from cutplan.job.tables import squash
from cutplan.output.files import OutputError, not_written, write_beside
from cutplan.output.rack_book import changed_book
from cutplan.output.text import TextColumn, table
from cutplan.output.workbook import settled
from cutplan.plan.rack import LeftOver

_PATIENCE = 30.0
"""Seconds to wait for another run to be done with the file."""


@dataclass(frozen=True, slots=True)
class Finished:
    """What finishing a job did to the rack: taken out, put back, and pieces that were gone already. ``already``: the
    job was finished before, and nothing was done."""

    already: bool = False
    out: tuple[Rest, ...] = ()
    back: tuple[Rest, ...] = ()
    missing: tuple[Rest, ...] = ()


def take(path: Path, pieces: Sequence[StockRow], job: str, *, of_others: bool = False) -> None:
    """Mark these ``pieces`` of the rack at ``path`` as taken by ``job``, and all else it had taken as free.

    ``of_others``: also what another job has taken. Raises RackError where a piece is no longer there or was taken
    since it was planned on, OutputError where the file cannot be changed.
    """

    def change(rack: Rack) -> Rack | None:
        rests, faults = list(_freed(rack.rests, job)), []
        for row in pieces:
            at = _found(rests, row, "")
            if at is None and of_others:
                at = next((i for i, rest in enumerate(rests) if rest.serves_as(row) and rest.taken_by != job), None)
            if at is None:
                rule = f"{shown_exactly(row.length, Units.MM)} of {row.tube} was taken or cut since it was read"
                faults.append(Fault(Place(path.name), rule, row.label or None, "plan again"))
            else:
                rests = _parted(rests, at, job)
        if faults:
            raise RackError(faults)
        changed = replace(rack, rests=tuple(_joined(rests)))
        return None if changed == rack else changed

    change_rack(path, change)


def finish_job(path: Path, left: LeftOver, job: str, units: Units, *, again: bool = False) -> Finished:
    """Take out of the rack at ``path`` what a job used and put back what is left of it, once for each ``job``.

    What it had taken and did not use is free again. A rack that is not there yet is begun. ``again``: though the job
    was finished before. Raises JobError, OutputError.
    """
    result = Finished(already=True)

    def change(rack: Rack) -> Rack | None:
        nonlocal result
        if job in rack.jobs and not again:
            return None
        name = job.rsplit(" ", 1)[0]
        rests, missing = list(rack.rests), []
        for row in left.used:
            at = _found(rests, row, name)
            if at is None:
                missing.append(Rest(row.tube, row.length, row.label, units=units))
            elif rests[at].count == 1:
                del rests[at]
            else:
                rests[at] = replace(rests[at], count=rests[at].count - 1)
        if again and missing:
            # What it was cut from instead is not known, nor then what is left of it.
            cure = "to cut it again, make a new plan: cutplan plan with --rack"
            raise JobError(
                Fault(Place(path.name), f"no longer has the pieces this plan cuts from: {_said(rest)}", cure=cure)
                for rest in missing
            )
        rests = list(_joined(_freed(rests, name)))
        labels = {rest.label for rest in rests}
        back = []
        for row in left.back:
            label = _unlike(row.label, labels)
            labels.add(label)
            trim = row.end_trim or Fraction(0)
            back.append(Rest(row.tube, row.length, label, trim, row.sawn, 1, name, units))
        out = tuple(Rest(row.tube, row.length, row.label, units=units) for row in left.used)
        result = Finished(False, tuple(rest for rest in out if rest not in missing), tuple(back), tuple(missing))
        return Rack((*rests, *back), (*rack.jobs, job))

    change_rack(path, change)
    return result


def _found(rests: Sequence[Rest], row: StockRow, job: str) -> int | None:
    """Where among ``rests`` the piece ``row`` is: one ``job`` has taken, else a free one, else (for a job) any."""
    wanted = [i for i, rest in enumerate(rests) if rest.serves_as(row)]
    mine = [i for i in wanted if job and rests[i].taken_by and rests[i].is_free_for(job)]
    return next(iter([*mine, *(i for i in wanted if not rests[i].taken_by), *(wanted if job else ())]), None)


def _freed(rests: Iterable[Rest], job: str) -> Iterator[Rest]:
    """The pieces, with none taken by ``job``."""
    for rest in rests:
        yield replace(rest, taken_by="") if rest.is_free_for(job) else rest


def _parted(rests: Sequence[Rest], at: int, job: str) -> list[Rest]:
    """``rests`` with one of the pieces ``at`` this place taken by ``job``, in a row of its own."""
    rest = rests[at]
    mine = replace(rest, count=1, taken_by=job)
    if rest.count == 1:
        return [*rests[:at], mine, *rests[at + 1 :]]
    return [*rests[:at], replace(rest, count=rest.count - 1), replace(mine, place=NOWHERE), *rests[at + 1 :]]


def _joined(rests: Iterable[Rest]) -> Iterator[Rest]:
    """The pieces, those in one row again that a label names or a job has taken, where nothing distinguishes them."""
    rows: dict[object, Rest] = {}
    for number, rest in enumerate(rests):
        key = (squash(rest.tube), squash(rest.label), replace(rest, tube="", label="", count=1))
        kept = key if rest.label or rest.taken_by else (key, number)
        rows[kept] = replace(rows[kept], count=rows[kept].count + rest.count) if kept in rows else rest
    yield from rows.values()


def change_rack(path: Path, change: Callable[[Rack], Rack | None]) -> None:
    """Read the rack, let ``change`` make another of it (None: leave it), and write that, while no other run may.

    A workbook keeps all that is not the rack's table. Raises RackError, OutputError.
    """
    check_ending(path)
    with _alone(path):
        old = read_rack(path) if path.exists() else None
        rack = change(old or Rack())
        if rack is not None:
            content = changed_book(path, old, rack) if old and _is_book(path) else _content(rack, path)
            write_beside(path, lambda beside: beside.write_bytes(content))


def _is_book(path: Path) -> bool:
    return path.suffix.lower() == ".xlsx"


def _content(rack: Rack, path: Path) -> bytes:
    if not _is_book(path):
        text = io.StringIO(newline="")
        csv.writer(text, lineterminator="\n").writerows(table_of(rack))
        return text.getvalue().encode()
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "Rack"
    for number, row in enumerate(table_of(rack), 1):
        for column, value in enumerate(row, 1):
            cell = sheet.cell(number, column, value)
            if isinstance(value, str):
                cell.data_type = "s"
    return settled(book)


def _unlike(label: str, taken: set[str]) -> str:
    """``label``, with a number after it where it is taken."""
    number, unlike = 1, label
    while unlike in taken:
        number += 1
        unlike = f"{label}-{number}"
    return unlike


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Hold a lock on a hidden file beside ``path``, which the system takes back from a run that is killed. Raises
    OutputError where another run holds it for too long."""
    from filelock import FileLock, Timeout

    lock = path.with_name(f".{path.name}.lock")
    if not path.parent.exists():  # the lock would make the folder
        raise not_written(path, FileNotFoundError(errno.ENOENT, "no such folder"))
    try:
        with FileLock(lock, timeout=_PATIENCE, poll_interval=0.02):
            try:
                yield
            finally:
                # Removed while it is held: a run that waits for it then finds that its name is gone, and makes another.
                with suppress(OSError):
                    lock.unlink()
    except Timeout as error:
        raise OutputError(path, "is being changed by another run", "wait for it to end, then try again") from error
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(path, f"cannot be changed: {error.strerror}", "check its folder") from error


def unticked_said(path: Path, left: LeftOver) -> str:
    """That a job was finished by a list without ticks."""
    count = "its cut counts" if left.unticked == 1 else f"all {left.unticked} of its cuts count"
    return f"{path}: no cut is ticked, so {count} as made (with --broken-off, only what is ticked counts)"


def finished_lines(done: Finished) -> Iterator[str]:
    """What finishing a job did, in words."""
    if done.already:
        yield "This job was finished before: nothing was changed (for another job from the same plan: --again)."
        return
    for rest in done.back:
        yield f"Put on the rack: {_said(rest)}; write that on it"
    for rest in done.out:
        yield f"Taken out: {_said(rest)}"
    for rest in done.missing:
        yield f"Remark: no longer on the rack: {_said(rest)}"
    if not (done.back or done.out or done.missing):
        yield "Nothing is worth keeping, and nothing was taken from the rack."


def show_rack(rack: Rack, console: Console) -> None:
    """What is on the rack, a line for each piece, longest first within a tube."""
    columns = (
        TextColumn("tube"),
        TextColumn("length", right=True),
        TextColumn("count", right=True),
        TextColumn("label", wraps=True),
        TextColumn("from job", wraps=True),
        TextColumn("taken by", wraps=True),
    )
    rows = [
        (rest.tube, shown_exactly(rest.length, rest.units), str(rest.count), rest.label, rest.job, rest.taken_by)
        for rest in sorted(rack.rests, key=lambda rest: (rest.tube, -rest.length, rest.label))
    ]
    table(console, columns, rows)


def _said(rest: Rest) -> str:
    label = f", marked {rest.label}" if rest.label else ""
    return f"{shown_exactly(rest.length, rest.units)} of {rest.tube}{label}"
