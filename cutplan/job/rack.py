"""The rack: what is kept there between jobs, one table in a workbook or a CSV file that can be edited by hand.

Every length carries its unit (``1460 mm``, ``57 1/2 in``), so that jobs in mm and in inches may share a rack. A row
with a ``job`` and no ``tube`` records that this job's offcuts were put back. ``taken by`` names the job that is planned
on a piece: no other job is, unless it is asked to.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from cutplan.job import folder, workbook
from cutplan.job.cells import Cells
from cutplan.job.faults import NOWHERE, Fault, JobError, Place
from cutplan.job.model import MOST_ALIKE, Source, StockRow, Units
from cutplan.job.tables import Cell, RawSheet, Row, Spoilt, Tables, likely, quoted, squash
from cutplan.job.units import parse_length, with_unit

HEADINGS = ("label", "tube", "length", "end trim", "sawn", "count", "job", "taken by")
"""What a rack's table may hold. ``sawn``: yes where one end is sawn square, so that only the far one loses its trim."""

_NEEDED = ("tube", "length")
_LONGEST = 200
"""Characters of a label or a job's name: room for those of a job with a number after them."""
_MOST_PIECES = 5_000
"""Of all kinds that serve a job: a search looks at them within some seconds."""


@dataclass(frozen=True, slots=True)
class Rest:
    """``count`` pieces on the rack. Lengths in mm; ``end_trim`` is lost at each end that is not sawn. ``job``: whose
    offcut it is; ``taken_by``: the job that is planned on it (empty: none)."""

    tube: str
    length: Fraction
    label: str = ""
    end_trim: Fraction = Fraction(0)
    sawn: bool = False
    count: int = 1
    job: str = ""
    units: Units = Units.MM
    place: Place = field(default=NOWHERE, compare=False)
    taken_by: str = ""

    def is_free_for(self, job: str) -> bool:
        """Whether no job but the one called ``job`` has taken it."""
        return not self.taken_by or squash(self.taken_by) == squash(job)

    def serves_as(self, row: StockRow) -> bool:
        """Whether this is the piece that ``row`` names."""
        return squash(self.tube) == squash(row.tube) and (self.length, self.label, self.end_trim, self.sawn) == (
            row.length,
            row.label,
            row.end_trim or 0,
            row.sawn,
        )

    @property
    def stock(self) -> StockRow:
        """The piece as stock of a job."""
        return StockRow(
            self.tube, self.length, None, self.count, Source.RACK, self.label, self.end_trim, self.place, self.sawn
        )


@dataclass(frozen=True, slots=True)
class Rack:
    """What is on the rack, and the jobs whose offcuts were put back."""

    rests: tuple[Rest, ...] = ()
    jobs: tuple[str, ...] = ()

    sheet: str = field(default="Rack", compare=False)
    """Of a workbook: the sheet that holds the table."""


class RackError(JobError):
    """A rack's file with faults; carries every one of them."""


def read_rack(path: Path) -> Rack:
    """The rack at ``path``, an ``.xlsx`` or ``.csv`` file. Raises RackError with every fault of its rows."""
    faults: list[Fault] = []
    raw = _raw_sheet(path, faults)
    rows = [*raw.rows]
    if faults:
        raise RackError(faults)
    if not rows:
        return Rack(sheet=raw.name)
    headings = _headings(path.name, rows[0], faults)
    rests, jobs = [], []
    for number, cells in rows[1:]:
        place = Place(path.name, number)
        by_heading: dict[str, Cell] = {}
        for index, cell in enumerate(cells):
            heading = headings[index] if index < len(headings) else ""
            if cell is not None and heading:
                by_heading[heading] = cell
            elif cell is not None and (index >= len(headings) or rows[0][1][index] is None):
                faults.append(Fault(place, f"column {index + 1} has no heading", quoted(cell), "clear the cell"))
        row = Cells(Row(place, by_heading, frozenset(headings)), Units.MM, faults)
        if set(by_heading) == {"job"}:
            jobs.append(row.text("job", most=_LONGEST) or "")
        elif by_heading and (rest := _rest(row)) is not None:
            rests.append(rest)
    faults.extend(_twice(rests))
    if faults:
        raise RackError(faults)
    return Rack(tuple(rests), tuple(jobs), raw.name)


def check_ending(path: Path) -> None:
    """Raise RackError for a rack's file of another kind than a rack can be."""
    if path.suffix.lower() not in (".csv", ".xlsx"):
        raise RackError.of(path.name, "is neither .xlsx nor .csv", cure="save it as one of these")


def table_of(rack: Rack) -> Iterator[tuple[str | int | None, ...]]:
    """The rack as the rows of its table, the headings first."""
    yield HEADINGS
    yield from map(row_of, rack.rests)
    yield from map(row_of_job, rack.jobs)


def row_of(rest: Rest) -> tuple[str | int | None, ...]:
    """The pieces as a row of the table, under ``HEADINGS``."""
    return (
        rest.label or None,
        rest.tube,
        shown_exactly(rest.length, rest.units),
        shown_exactly(rest.end_trim, rest.units) if rest.end_trim else None,
        "yes" if rest.sawn else None,
        rest.count,
        rest.job or None,
        rest.taken_by or None,
    )


def row_of_job(job: str) -> tuple[str | None, ...]:
    """The row that says that this job's offcuts were put back."""
    return tuple(job if heading == "job" else None for heading in HEADINGS)


def free_for(rack: Rack, job: str) -> Rack:
    """The rack without what other jobs than the one called ``job`` have taken."""
    return replace(rack, rests=tuple(rest for rest in rack.rests if rest.is_free_for(job)))


def pieces_for(rack: Rack, tubes: Iterable[str], stock: Sequence[StockRow]) -> tuple[StockRow, ...]:
    """The pieces of these ``tubes`` as stock, beside a job's own ``stock``, whoever has taken them.

    Raises RackError where a piece is in ``stock`` too, so that it would be counted twice; where two pieces alike
    in tube and length differ in their ends and have no label to tell them apart; and where there are far too many.
    """
    names = {squash(tube): tube for tube in tubes}
    lying = [row for row in stock if row.source is Source.RACK and row.available != 0]
    listed = {_known_by(row.tube, row.length, row.label): row.place for row in lying if row.label}
    ends = {(row.tube, row.length): (row.end_trim or 0, row.sawn) for row in lying if not row.label}
    rows, faults = [], []
    for rest in _whole(rack.rests):
        if squash(rest.tube) not in names:
            continue
        tube = names[squash(rest.tube)]
        place = rest.place.at("label")
        if not rest.label:
            if ends.setdefault((tube, rest.length), (rest.end_trim, rest.sawn)) != (rest.end_trim, rest.sawn):
                rule = "is listed twice with different ends"
                faults.append(Fault(place, rule, cure="give each piece a label of its own"))
        elif (other := listed.get(_known_by(tube, rest.length, rest.label))) is not None:
            rule = f"the same piece is also in {other} and would be counted twice"
            faults.append(Fault(place, rule, rest.label, "take it out of one of the two"))
        rows.append(replace(rest.stock, tube=tube))
    if (pieces := sum(row.available or 0 for row in rows)) > _MOST_PIECES:
        rule = f"the rack gives {pieces:,} pieces of this job's tubes, more than {_MOST_PIECES:,}"
        faults.append(Fault(rows[-1].place.at("count"), rule, cure="is a count too high?"))
    if faults:
        raise RackError(faults)
    return tuple(rows)


def _whole(rests: Iterable[Rest]) -> Iterator[Rest]:
    """The pieces, those of one label in one row again where a job has taken some of them."""
    alike: dict[tuple[object, ...], Rest] = {}
    for number, rest in enumerate(rests):
        key = (_known_by(rest.tube, rest.length, rest.label), rest.end_trim, rest.sawn, "" if rest.label else number)
        alike[key] = replace(rest, count=rest.count + alike[key].count) if key in alike else rest
    return iter(alike.values())


def _known_by(tube: str, length: Fraction, label: str) -> tuple[str, Fraction, str]:
    """What distinguishes one piece from another, however it is spelt."""
    return squash(tube), length, squash(label)


def _twice(rests: Iterable[Rest]) -> Iterator[Fault]:
    """The faults of labels that are in two rows for pieces of one tube and length."""
    seen: dict[tuple[object, ...], int | None] = {}
    for rest in rests:
        if rest.label:
            key = (_known_by(rest.tube, rest.length, rest.label), squash(rest.taken_by))
            if key in seen:
                rule = f"a piece of this tube, length and label is already in row {seen[key]}"
                cure = "one piece: delete a row; two: give each a label of its own, or one row with count 2"
                yield Fault(rest.place.at("label"), rule, rest.label, cure)
            seen.setdefault(key, rest.place.row)


def shown_exactly(mm: Fraction, units: Units) -> str:
    """A length with its unit that reads back as exactly itself, in ``units`` where that can be."""
    for unit in (units, Units.MM, Units.IN):
        text = with_unit(mm, unit)
        if parse_length(text, unit) == mm:
            return text
    # Finer than a tape: rounded down to a hundredth of a millimetre, so that the rack promises nothing it has not.
    return f"{float(Fraction(int(mm * 100), 100)):.2f} mm"


def _rest(row: Cells) -> Rest | None:
    tube = row.name("tube") if row.need("tube") else None
    length = _length(row, "length") if row.need("length") else None
    end_trim = _length(row, "end trim") or Fraction(0)
    sawn = row.yes("sawn") or False
    count = row.whole("count", most=MOST_ALIKE)
    label, job = row.text("label", most=_LONGEST) or "", row.text("job", most=_LONGEST) or ""
    taken_by = row.text("taken by", most=_LONGEST) or ""
    if length is not None and length <= 0:
        row.fault("length", "must be more than 0", "delete the row of a piece that is gone")
    if not row.sound or tube is None or length is None or count == 0:
        return None
    units = Units.MM if "m" in str(row.row.cells["length"]).lower() else Units.IN
    return Rest(tube, length, label, end_trim, sawn, 1 if count is None else count, job, units, row.place, taken_by)


def _length(row: Cells, heading: str) -> Fraction | None:
    """A length that says its unit, in mm."""
    value = row.text(heading)
    if value is None:
        return None
    lengths = row.read(heading, lambda: {parse_length(value, units) for units in Units})
    if lengths is None:
        return None
    if len(lengths) > 1:
        row.fault(heading, "has no unit", f"write {value} mm or {value} in")
        return None
    (length,) = lengths
    if length < 0:
        row.fault(heading, "must be 0 or more")
        return None
    return length


def _headings(sheet: str, row: tuple[int, Sequence[Cell | None]], faults: list[Fault]) -> list[str]:
    known = {squash(heading): heading for heading in HEADINGS}
    headings: list[str] = []
    number, cells = row
    place = Place(sheet, number)
    for cell in cells:
        text = "" if cell is None else quoted(cell) or ""
        heading = known.get(squash(text), "")
        if isinstance(cell, Spoilt):
            faults.append(Fault(place, cell.rule, cell.got, cell.cure))
        elif text and not heading:
            faults.append(Fault(place, "is not a column heading of a rack", text, likely(text, HEADINGS)))
        elif heading and heading in headings:
            faults.append(Fault(place, "the heading appears twice", text, "keep one of the two columns"))
        headings.append(heading)
    for heading in _NEEDED:
        if heading not in headings:
            faults.append(
                Fault(place, f"the heading {heading} is missing", cure=f"row {number} must hold the headings")
            )
    return headings


def _raw_sheet(path: Path, faults: list[Fault]) -> RawSheet:
    """The rack's table: of a workbook the first sheet that is not set aside; its faults name ``path``. Raises
    RackError where the file cannot be read."""
    check_ending(path)
    found = Tables()
    try:
        if path.suffix.lower() == ".csv":
            if not (path.exists() or path.is_symlink()):
                raise RackError.of(path.name, "there is no such file", cure="check the name and the folder")
            raw = folder.raw_sheet(path, found)
        else:
            raw = next(workbook.raw_sheets(path, found, rack=True), RawSheet("", ()))
            if not raw.name and not found.faults:
                raise RackError.of(path.name, "has no sheet except notes", cure="give the rack a sheet of its own")
    except JobError as error:
        raise RackError(error.faults) from error
    except OSError as error:
        raise RackError.of(path.name, f"cannot be read: {error.strerror or error}") from error
    faults.extend(replace(fault, place=replace(fault.place, sheet=path.name)) for fault in found.faults)
    return raw
