"""The rack: what lies there between jobs, one table in a workbook or a CSV file that can be edited by hand.

Every length carries its unit (``1460 mm``, ``57 1/2 in``), so that jobs in mm and in inches may share a rack. A row
with a ``job`` and no ``tube`` records that this job's offcuts were put back.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from cutplan.job.cells import Cells
from cutplan.job.faults import Fault, JobError, Place
from cutplan.job.model import NOWHERE, Source, StockRow, Units
from cutplan.job.tables import Cell, Row, likely, squash
from cutplan.job.units import LengthError, parse_length, show_length

HEADS = ("label", "tube", "length", "end trim", "sawn", "count", "job")
"""What a rack's table may hold. ``sawn``: yes where one end is sawn square, so that only the far one loses its trim."""

_NEEDED = ("tube", "length")


@dataclass(frozen=True, slots=True)
class Rest:
    """``count`` pieces on the rack. Lengths in mm; ``end_trim`` is lost at each end that is not sawn."""

    tube: str
    length: Fraction
    label: str = ""
    end_trim: Fraction = Fraction(0)
    sawn: bool = False
    count: int = 1
    job: str = ""
    units: Units = Units.MM
    place: Place = field(default=NOWHERE, compare=False)

    def serves_as(self, row: StockRow) -> bool:
        """Whether this is the piece that ``row`` tells of."""
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
    """What lies on the rack, and the jobs whose offcuts were put back."""

    rests: tuple[Rest, ...] = ()
    jobs: tuple[str, ...] = ()


def read_rack(path: Path) -> Rack:
    """The rack at ``path``, an ``.xlsx`` or ``.csv`` file. Raises JobError with every fault of its rows."""
    rows = _rows(path)
    if not rows:
        return Rack()
    faults: list[Fault] = []
    sheet = path.name
    heads = _heads(sheet, rows[0][1], faults)
    rests, jobs = [], []
    for number, cells in rows[1:]:
        by_head = {head: cell for head, cell in zip(heads, cells, strict=False) if head and cell is not None}
        if not by_head:
            continue
        row = Cells(Row(Place(sheet, number), by_head, frozenset(heads)), Units.MM, faults)
        if set(by_head) == {"job"}:
            jobs.append(row.text("job") or "")
        elif (rest := _rest(row)) is not None:
            rests.append(rest)
    faults.extend(_twice(rests))
    if faults:
        raise JobError(faults)
    return Rack(tuple(rests), tuple(jobs))


def table_of(rack: Rack) -> Iterator[tuple[str | int | None, ...]]:
    """The rack as the rows of its table, the heads first."""
    yield HEADS
    for rest in rack.rests:
        yield (
            rest.label or None,
            rest.tube,
            shown_exactly(rest.length, rest.units),
            shown_exactly(rest.end_trim, rest.units) if rest.end_trim else None,
            "yes" if rest.sawn else None,
            rest.count,
            rest.job or None,
        )
    for job in rack.jobs:
        yield (None, None, None, None, None, None, job)


def pieces_for(rack: Rack, tubes: Iterable[str], stock: Sequence[StockRow]) -> tuple[StockRow, ...]:
    """The pieces of these ``tubes`` as stock, beside a job's own ``stock``.

    Raises JobError where a piece stands in ``stock`` too, so that it would be counted twice; and where two pieces alike
    in tube and length differ in their ends and have no label to tell them apart.
    """
    names = {squash(tube): tube for tube in tubes}
    lying = [row for row in stock if row.source is Source.RACK and row.available != 0]
    listed = {_known_by(row.tube, row.length, row.label): row.place for row in lying if row.label}
    ends = {(row.tube, row.length): (row.end_trim or 0, row.sawn) for row in lying if not row.label}
    rows, faults = [], []
    for rest in rack.rests:
        if squash(rest.tube) not in names:
            continue
        tube = names[squash(rest.tube)]
        place = rest.place.at("label")
        if not rest.label:
            if ends.setdefault((tube, rest.length), (rest.end_trim, rest.sawn)) != (rest.end_trim, rest.sawn):
                rule = "lies there twice with other ends"
                faults.append(Fault(place, rule, cure="give each piece a label of its own"))
        elif (other := listed.get(_known_by(tube, rest.length, rest.label))) is not None:
            rule = f"the same piece stands in {other}, and would be counted twice"
            faults.append(Fault(place, rule, rest.label, "take it out of one of the two"))
        rows.append(replace(rest.stock, tube=tube))
    if faults:
        raise JobError(faults)
    return tuple(rows)


def _known_by(tube: str, length: Fraction, label: str) -> tuple[str, Fraction, str]:
    """What tells one piece from another, however it is spelled."""
    return squash(tube), length, squash(label)


def _twice(rests: Iterable[Rest]) -> Iterator[Fault]:
    """The faults of labels that stand on two rows for pieces of one tube and length."""
    seen: dict[tuple[str, Fraction, str], int | None] = {}
    for rest in rests:
        if rest.label:
            key = _known_by(rest.tube, rest.length, rest.label)
            if key in seen:
                rule = f"a piece of this tube, length and label stands in row {seen[key]} already"
                cure = "one piece: delete a row; two: give each a label of its own, or one row with count 2"
                yield Fault(rest.place.at("label"), rule, rest.label, cure)
            seen.setdefault(key, rest.place.row)


def shown_exactly(mm: Fraction, units: Units) -> str:
    """A length with its unit that reads back as exactly itself, in ``units`` where that can be."""
    for unit in (units, Units.MM, Units.IN):
        text = f"{show_length(mm, unit, step=None)} {unit.value}"
        if parse_length(text, unit) == mm:
            return text
    # Finer than a tape: rounded down to a hundredth of a millimetre, so that the rack promises nothing it has not.
    return f"{float(Fraction(int(mm * 100), 100)):.2f} mm"


def _rest(row: Cells) -> Rest | None:
    tube = row.name("tube") if row.need("tube") else None
    length = _length(row, "length") if row.need("length") else None
    end_trim = _length(row, "end trim") or Fraction(0)
    sawn = row.yes("sawn") or False
    count = row.whole("count")
    label, job = row.text("label") or "", row.text("job") or ""
    if length is not None and length <= 0:
        row.fault("length", "is not longer than 0", "delete the row of a piece that is gone")
    if not row.sound or tube is None or length is None or count == 0:
        return None
    units = Units.MM if "m" in str(row.row.cells["length"]).lower() else Units.IN
    return Rest(tube, length, label, end_trim, sawn, 1 if count is None else count, job, units, row.place)


def _length(row: Cells, head: str) -> Fraction | None:
    """A length that says its unit, in mm."""
    if not row.given(head):
        return None
    cell = row.row.cells[head]
    value = cell if isinstance(cell, str | int | float) else str(cell)
    try:
        lengths = {parse_length(value, units) for units in Units}
    except LengthError as error:
        row.fault(head, error.rule, error.cure, got=error.got)
        return None
    if len(lengths) > 1:
        row.fault(head, "has no unit", f"write {value} mm or {value} in")
        return None
    (length,) = lengths
    if length < 0:
        row.fault(head, "is negative")
        return None
    return length


def _heads(sheet: str, cells: Sequence[Cell | None], faults: list[Fault]) -> list[str]:
    known = {squash(head): head for head in HEADS}
    heads: list[str] = []
    for cell in cells:
        text = "" if cell is None else str(cell).strip()
        head = known.get(squash(text), "")
        if text and not head:
            cure = likely(text, HEADS) or f"the heads are {', '.join(HEADS)}"
            faults.append(Fault(Place(sheet, 1), "is not a head of a rack", text, cure))
        elif head and head in heads:
            faults.append(Fault(Place(sheet, 1), "the head is there twice", text, "keep one of the two columns"))
        heads.append(head)
    for head in _NEEDED:
        if head not in heads:
            faults.append(Fault(Place(sheet, 1), f"the head {head} is missing", cure="row 1 must hold the heads"))
    return heads


def _rows(path: Path) -> list[tuple[int, list[Cell | None]]]:
    """The rows that hold anything, with their numbers. Raises JobError where the file cannot be read."""
    try:
        if path.suffix.lower() == ".csv":
            text = path.read_bytes().decode("utf-8-sig")
            table: Iterable[Sequence[object]] = csv.reader(io.StringIO(text, newline=""), strict=True)
            return _filled(table)
        if path.suffix.lower() != ".xlsx":
            raise JobError([Fault(Place(path.name), "is neither .xlsx nor .csv", cure="give the rack such a name")])
        from openpyxl import load_workbook

        return _filled(load_workbook(io.BytesIO(path.read_bytes()), data_only=True).worksheets[0].values)
    except JobError:
        raise
    except FileNotFoundError:
        cure = "check the name and the folder"
        raise JobError([Fault(Place(path.name), "there is no such file", cure=cure)]) from None
    except Exception as error:  # a damaged workbook raises whatever the reader trips over
        kind = f"{type(error).__name__}: {error}".splitlines()[0][:120]
        raise JobError([Fault(Place(path.name), f"cannot be read ({kind})", cure="save it again")]) from error


def _filled(table: Iterable[Sequence[object]]) -> list[tuple[int, list[Cell | None]]]:
    rows: list[tuple[int, list[Cell | None]]] = []
    for number, cells in enumerate(table, 1):
        row = [_cell(cell) for cell in cells]
        if any(cell is not None for cell in row):
            rows.append((number, row))
    return rows


def _cell(value: object) -> Cell | None:
    if value is None or isinstance(value, bool | int | float):
        return value
    return str(value).strip() or None
