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
from cutplan.job.column import Column, Kind, Sheet
from cutplan.job.faults import NOWHERE, Fault, JobError, Place
from cutplan.job.model import MOST_ALIKE, Source, StockRow, Units
from cutplan.job.tables import RawSheet, Tables, read_table, squash
from cutplan.job.units import parse_length, with_unit

_LONGEST = 200
"""Characters of a label or a job's name: room for those of a job with a number after them."""
RACK = Sheet(
    "Rack",
    (
        Column("label", "what is written on the piece", most=_LONGEST),
        Column("tube", "its section", Kind.NAME, needed=True),
        Column("length", "with its unit", needed=True),
        Column("end trim", "what is lost at each end that is not sawn, with its unit"),
        Column("sawn", "yes: one end is sawn square, so that only the far one loses its trim", Kind.YES),
        Column("count", "how many pieces (blank: 1)", Kind.WHOLE, least=0, most=MOST_ALIKE),
        Column("job", "whose offcut it is", most=_LONGEST),
        Column("taken by", "the job that is planned on it", most=_LONGEST),
    ),
)
HEADINGS = RACK.headings
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
    found = Tables()
    raw = _raw_sheet(path, found)
    rows = [*raw.rows]
    if found.faults:
        raise RackError(replace(fault, place=replace(fault.place, sheet=path.name)) for fault in found.faults)
    if not rows:
        return Rack(sheet=raw.name)
    rests, jobs = [], []
    for row in read_table(replace(RACK, name=path.name), *rows[0], rows[1:], found).rows:
        cells = Cells(row, Units.MM, found.faults)
        if set(row.cells) == {"job"}:
            jobs.append(cells.typed(RACK.column("job"), "job") or "")
        elif row.cells and (rest := _rest(cells)) is not None:
            rests.append(rest)
    found.faults.extend(_duplicates(rests))
    if found.faults:
        raise RackError(found.faults)
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
    """The pieces of these ``tubes`` as stock, beside a job's own ``stock``, taken by another job or not.

    Raises RackError where a piece is in ``stock`` too, so that it would be counted twice; where two pieces alike
    in tube and length differ in their ends and have no label to tell them apart; and where there are far too many.
    """
    names = {squash(tube): tube for tube in tubes}
    racked = [row for row in stock if row.source is Source.RACK and row.available != 0]
    listed = {_known_by(row.tube, row.length, row.label): row.place for row in racked if row.label}
    ends = {(row.tube, row.length): (row.end_trim or 0, row.sawn) for row in racked if not row.label}
    rows, faults = [], []
    for rest in _as_if_free(rack.rests):
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


def _as_if_free(rests: Iterable[Rest]) -> Iterator[Rest]:
    """The pieces, those of one label in one row again where a job has taken some of them."""
    alike: dict[tuple[object, ...], Rest] = {}
    for number, rest in enumerate(rests):
        key = (_known_by(rest.tube, rest.length, rest.label), rest.end_trim, rest.sawn, "" if rest.label else number)
        alike[key] = replace(rest, count=rest.count + alike[key].count) if key in alike else rest
    return iter(alike.values())


def _known_by(tube: str, length: Fraction, label: str) -> tuple[str, Fraction, str]:
    """What distinguishes one piece from another, however it is spelt."""
    return squash(tube), length, squash(label)


def _duplicates(rests: Iterable[Rest]) -> Iterator[Fault]:
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
    sawn, count, label, job, taken_by = (
        row.typed(RACK.column(heading), heading) for heading in ("sawn", "count", "label", "job", "taken by")
    )
    if length is not None and length <= 0:
        row.fault("length", "must be more than 0", "delete the row of a piece that is gone")
    if not row.sound or tube is None or length is None or count == 0:
        return None
    units = Units.MM if "m" in str(row.row.cells["length"]).lower() else Units.IN
    pieces = 1 if count is None else count
    return Rest(tube, length, label or "", end_trim, sawn or False, pieces, job or "", units, row.place, taken_by or "")


def _length(row: Cells, heading: str) -> Fraction | None:
    """A length with its own unit, in mm."""
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


def _raw_sheet(path: Path, found: Tables) -> RawSheet:
    """The rack's table: of a workbook the first sheet that is not set aside. Raises RackError where the file cannot be
    read."""
    check_ending(path)
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
    return raw
