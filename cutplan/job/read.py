"""Reading a job: its tables, checked as a whole, every fault reported at once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from cutplan.job import folder, workbook
from cutplan.job.faults import Fault, JobError, Place, Remark
from cutplan.job.material import read_stock, read_tubes
from cutplan.job.members import read_members
from cutplan.job.model import Job, Member
from cutplan.job.nodes import idle_nodes, read_nodes
from cutplan.job.schema import SHEETS
from cutplan.job.settings import read_settings
from cutplan.job.shops import read_shops
from cutplan.job.tables import NumberedRow, RawSheet, Tables, called, nearest, read_table, sheet_called, squash

_ORDER = {sheet.name: number for number, sheet in enumerate(SHEETS)}
BESIDE_NODES = frozenset({"Tubes", "Stock", "Members", "Bends", "Points"})
"""Sheets that may still be missing or unfinished while the points of a frame are measured."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What came of reading a job. ``job`` holds the sound rows only (None: not a tube could be read), and a member
    that lands on a faulty one lands there on its diameter alone, so it is to be used as it is only where
    ``faults`` is empty."""

    job: Job | None
    faults: tuple[Fault, ...]
    remarks: tuple[Remark, ...]


def read(path: Path, racked: Collection[str] = (), *, nodes_only: bool = False) -> Reading:
    """The job at ``path``: an ``.xlsx`` workbook or a folder of ``.csv`` files. ``racked``: tubes that are on a rack
    of their own, so that ``Stock`` need not list them. ``nodes_only``: the sheets of ``BESIDE_NODES`` need not be
    there or hold anything yet, and there is a job without a tube too.

    Lengths come out in mm, exact. Sheets named ``Notes...`` or ``_...`` and blank rows are passed over; rows that
    begin with ``EXAMPLE`` are too, with one remark for all. Raises JobError for a file that cannot be read at all.
    """
    spared = BESIDE_NODES if nodes_only else {"Stock"} if racked else ()
    tables = read_tables(path, spared)
    settings = read_settings(tables.rows("Job"), tables.faults)
    tubes = read_tubes(tables, settings.units)
    shops = read_shops(tables, settings.units)
    stock = read_stock(tables, settings, tubes, shops)
    nodes = read_nodes(tables, settings)
    members = read_members(tables, settings, tubes, nodes)
    if not nodes_only:
        tables.faults.extend(_missing(tables, members, racked))
    if not tables.faults:
        tables.remarks.extend(idle_nodes(nodes, members))
    faults = sorted(dict.fromkeys(tables.faults), key=_position)
    job = (
        Job(settings, tuple(tubes.sound.values()), tuple(stock), tuple(members), nodes.each, nodes.survey, shops.sound)
        if tubes.sound or nodes_only
        else None
    )
    return Reading(job, tuple(faults), tuple(tables.remarks))


def read_tables(path: Path, spared: Collection[str] = ()) -> Tables:
    """The tables of the job at ``path``: a workbook, or a folder of ``.csv`` files. ``spared``: sheets that this job
    may be without.

    Raises JobError where the job cannot be read at all: missing, no workbook, locked, not UTF-8.
    """
    found = Tables()
    try:
        raw_sheets = folder.raw_sheets(path, found) if path.is_dir() else workbook.raw_sheets(path, found)
        for raw in raw_sheets:
            _add(raw, found)
    except OSError as error:
        raise JobError.of(called(path), f"cannot be read: {error.strerror or error}") from error
    if found.examples:
        one = found.examples == 1
        lines = "1 line that begins" if one else f"{found.examples} lines that begin"
        rest = (
            "was not read: delete it, or leave it there" if one else "were not read: delete them, or leave them there"
        )
        found.remarks.append(Remark(Place(called(path)), f"{lines} with EXAMPLE {rest}"))
    for sheet in SHEETS:
        if sheet.needed and not {sheet.name} & {*found.tables, *found.unread, *spared}:
            cure = f"add {sheet.name}.csv to the folder" if path.is_dir() else "add a sheet of that name"
            found.faults.append(Fault(Place(sheet.name), "the sheet is missing", cure=cure))
    return found


def _add(raw: RawSheet, found: Tables) -> None:
    sheet = sheet_called(raw.name)
    if sheet is None:
        meant = nearest(raw.name, [each.name for each in SHEETS])
        cure = f"did you mean {meant}?" if meant else "for a sheet of your own, begin its name with Notes"
        found.faults.append(Fault(Place(raw.name), "is not a sheet of a job", cure=cure))
        found.unread.add(meant)
        return
    if sheet.name in found.tables:
        found.faults.append(Fault(Place(sheet.name), "the sheet appears twice", cure="keep one of them"))
        return
    rows = iter(raw.rows)
    number, heading_row = next(rows, (1, ()))
    if not heading_row:
        if sheet.needed:
            found.faults.append(Fault(Place(sheet.name), "is blank", cure="row 1 must hold the headings"))
            found.unread.add(sheet.name)
        return
    if number != 1:
        found.faults.append(Fault(Place(sheet.name, 1), "is blank", cure="the headings belong in row 1"))
    found.tables[sheet.name] = read_table(sheet, number, heading_row, _without_examples(rows, found), found)


def _without_examples(rows: Iterable[NumberedRow], found: Tables) -> Iterator[NumberedRow]:
    """The rows but for the worked lines of a template, which are counted."""
    for number, cells in rows:
        first = next((cell for cell in cells if cell is not None), None)
        if isinstance(first, str) and first.startswith("EXAMPLE"):
            found.examples += 1
        else:
            yield number, cells


def _missing(tables: Tables, members: list[Member], racked: Collection[str]) -> list[Fault]:
    """What every job needs and this one has not: rows, and bars of each tube used."""
    faults = [
        Fault(Place(sheet.name), "has no rows below its headings")
        for sheet in SHEETS
        if sheet.needed and sheet.name != "Job" and sheet.name in tables.tables and not tables.rows(sheet.name)
        if sheet.name != "Stock" or not racked
    ]
    if members and all(member.made for member in members) and len(members) == len(tables.rows("Members")):
        faults.append(Fault(Place("Members"), "every member is made already: there is nothing to cut"))
    if not tables.rows("Stock") or not tables.known("Stock"):
        return faults
    stocked = {squash(str(row.cells.get("tube", ""))) for row in tables.rows("Stock")} | {*map(squash, racked)}
    reported: set[str] = set()
    for member in members:
        if not member.made and squash(member.tube) not in stocked and member.tube not in reported:
            reported.add(member.tube)
            cure = "add its bars to Stock" + (" or to the rack" if racked else "")
            faults.append(Fault(member.place.at("tube"), "no bar of this tube is in Stock", member.tube, cure))
    return faults


def _position(fault: Fault) -> tuple[int, str, int]:
    place = fault.place
    return _ORDER.get(place.sheet, -1), place.sheet, place.row or 0
