"""Typed values out of a row's raw cells; every cell that breaks a rule becomes a fault with its place."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import fields
from enum import Enum
from fractions import Fraction
from typing import Any, TypeVar

from cutplan.job.angles import Angle, parse_doubtful
from cutplan.job.column import Column, Kind
from cutplan.job.faults import Fault, Place, Remark
from cutplan.job.letters import composed, hidden, unprintable
from cutplan.job.model import MOST_MITRE_DEG, Plane, Units
from cutplan.job.plates import parse_plane
from cutplan.job.schema import COLUMNS
from cutplan.job.tables import Cell, Row, Spoilt, likely, nearest, squash
from cutplan.job.units import LengthError, Measure, parse_length, parse_measure, parse_number, with_unit

LONGEST_NAME = 40
_MOST_GUESSES = 10_000
"""Names compared in all while faults are reported: a second or two of work."""
_ALSO = {"notch": "cope", "miter": "mitre"}
"""Other words of the trade for the same."""
_UNPRINTABLE = "contains a character that cannot be printed"
_YES = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}

PLUS_MINUS = re.compile(r"\+\s*/\s*-")
"""A ± as typed, which joins nothing."""

Word = TypeVar("Word", bound=Enum)
Read = TypeVar("Read")

_SHORTEST = Fraction(5)
"""mm; no member of a frame is as short as that."""
_POINT = re.compile(r"(\d{1,3})\.(\d{3})", re.ASCII)


class Cells:
    """A row being read. Every reader returns None for a blank cell and for a faulty one; ``sound`` says
    whether any fault was found so far. ``taped``: the angles that were measured with a tape, by heading."""

    def __init__(self, row: Row, units: Units, faults: list[Fault]) -> None:
        self.row = row
        self.units = units
        self.sound = True
        self.taped: list[tuple[str, Angle]] = []
        self._faults = faults

    @property
    def place(self) -> Place:
        """The row's place."""
        return self.row.place

    def given(self, heading: str) -> bool:
        """Whether the cell holds anything."""
        return heading in self.row.cells

    def fault(self, heading: str, rule: str, cure: str = "", *, got: str | None = "") -> None:
        """Note a fault of the cell under ``heading``; ``got`` is its own text unless given."""
        self.sound = False
        if got == "":
            got = _text(self.row.cells[heading]) if heading in self.row.cells else None
        self._faults.append(Fault(self.place.at(heading), rule, got, cure))

    def sheet_fault(self, sheet: str, rule: str, cure: str) -> None:
        """Note a fault of a whole sheet, for which this row cannot be read."""
        self.sound = False
        self._faults.append(Fault(Place(sheet), rule, None, cure))

    def read(self, heading: str, parse: Callable[[], Read]) -> Read | None:
        """What ``parse`` makes of the cell under ``heading``, or None and a fault where it raises LengthError."""
        try:
            return parse()
        except LengthError as error:
            self.fault(heading, error.rule, error.cure, got=error.got)
            return None

    def need(self, heading: str) -> bool:
        """Whether the cell holds anything; a fault where it does not."""
        if not self.given(heading):
            self.sound = False
            # Where the heading itself is missing, that is the one fault to report.
            if heading in self.row.headings:
                self.fault(heading, "must be filled in")
        return self.given(heading)

    def text(self, heading: str, *, most: int | None = None) -> str | None:
        """The cell as text of at most so many characters, a number without its needless decimals; a line break or a tab
        counts as a space."""
        cell = self._cell(heading)
        if isinstance(cell, bool):
            cure = "format the cell as text and type it again"
            self.fault(heading, "is a yes-or-no value where text is expected", cure)
            return None
        if cell is None:
            return None
        text = composed(" ".join(_text(cell).split()))
        if unprintable(text):
            self.fault(heading, _UNPRINTABLE, "type it again")
            return None
        if most is not None and len(text) > most:
            self.fault(heading, f"is longer than {most:,} characters", "shorten it")
            return None
        return text

    def name(self, heading: str) -> str | None:
        """A mark or the name of a tube: begins with a letter or a figure, and can be named in ``onto``."""
        text = self.text(heading)
        if text is None:
            return None
        if not text[0].isalnum():
            cure = hidden(text[0]) or f"leave out the {text[0]}"
            self.fault(heading, "does not begin with a letter or a digit", cure)
        elif len(text) > LONGEST_NAME:
            self.fault(heading, f"is longer than {LONGEST_NAME} characters", "shorten it")
        elif not text.isprintable():
            self.fault(heading, _UNPRINTABLE, "type it again")
        elif "+" in text:
            self.fault(heading, "contains a +, which joins names under onto", "leave out the +")
        else:
            return text
        return None

    def yes(self, heading: str) -> bool | None:
        """Yes or no."""
        cell = self._cell(heading)
        if cell is None or isinstance(cell, bool):
            return cell
        answer = _YES.get(squash(_text(cell)))
        if answer is None:
            self.fault(heading, "must be yes or no", hidden(_text(cell)))
        return answer

    def word(self, heading: str, words: type[Word]) -> Word | None:
        """One of the words of an enumeration."""
        cell = self._cell(heading)
        if cell is None:
            return None
        text = _text(cell)
        for word in words:
            if squash(word.value) == _ALSO.get(squash(text), squash(text)):
                return word
        known = [str(word.value) for word in words]
        meant = nearest(text, known)
        cure = hidden(text) or (f"did you mean {meant}?" if meant else "")
        self.fault(heading, f"must be {', '.join(known[:-1])} or {known[-1]}", cure)
        return None

    def measure(self, heading: str, *, positive: bool = False) -> Measure | None:
        """A length with an optional ±."""
        measure = self._parsed(heading, lambda value: parse_measure(value, self.units))
        if measure is None:
            return None
        if rule := Column(heading, "", Kind.LENGTH, positive=positive).broken_by(measure.length, self.show):
            self.fault(heading, rule)
            return None
        if measure.tolerance and measure.tolerance >= measure.length:
            self.fault(heading, "may be 0: its ± is as large as the length", "give a smaller ±")
            return None
        return measure

    def coordinate(self, heading: str) -> Measure | None:
        """A length that must be there, of either sign, with an optional ±."""
        return self._parsed(heading, lambda value: parse_measure(value, self.units)) if self.need(heading) else None

    def plane(self, heading: str) -> Plane | None:
        """A plane square to an axis, such as y=0."""
        text = self.text(heading)
        if text is None:
            return None

        def parse() -> Plane:
            plane = parse_plane(text, self.units)
            if plane is None:
                raise LengthError(text, "is not a plane", "write an axis and where it is, such as y=0")
            return plane

        return self.read(heading, parse)

    def value(self, column: Column | str) -> Any:
        """The cell of a column of this sheet, or the one under its heading, by its kind and within its limits (see
        :meth:`typed`). A fault where it is needed and blank."""
        if isinstance(column, str):
            column = COLUMNS[self.place.sheet][column]
        return None if column.needed and not self.need(column.heading) else self.typed(column, column.heading)

    def by_field(self, made: type, *besides: str) -> dict[str, Any]:
        """The values of all columns of this sheet that are fields of ``made`` by the same name, except ``besides``;
        blank cells are left out, so that the field's own default applies."""
        own = {field.name for field in fields(made)}
        columns = [column for column in COLUMNS[self.place.sheet].values() if column.field in own]
        found = {column.field: self.value(column) for column in columns if column.heading not in besides}
        return {name: value for name, value in found.items() if value is not None}

    def typed(self, column: Column, heading: str) -> Any:
        """The cell under ``heading`` as one of ``column``: text, a length in mm as a Fraction, degrees as a float, a
        whole number, a Decimal, True or False, or a word of its enumeration."""
        match column.kind:
            case Kind.NAME:
                return self.name(heading)
            case Kind.PLANE:
                return self.plane(heading)
            case Kind.YES:
                return self.yes(heading)
            case Kind.WORD:
                assert column.words is not None
                return self.word(heading, column.words)
            case Kind.TEXT | Kind.REFERENCE:
                return self.text(heading, most=None if column.most is None else int(column.most))
            case Kind.LENGTH:
                value: Any = self._parsed(heading, lambda cell: parse_length(cell, self.units))
            case Kind.DEGREES:
                value = self._parsed(heading, self._exact_angle(heading))
            case Kind.WHOLE | Kind.NUMBER:
                value = self._parsed(heading, parse_number)
        if value is None:
            return None
        rule = column.broken_by(value, self.show)
        if not rule and column.kind is Kind.WHOLE and value != int(value):
            rule = "must be a whole number"
        if rule:
            self.fault(heading, rule, "check the unit and the decimal point" if rule.startswith("is longer") else "")
            return None
        return int(value) if column.kind is Kind.WHOLE else value

    def once(self, heading: str, seen: dict[str, int | None], cure: str) -> str | None:
        """A name that no other row may have; ``seen``: the row of each name so far, without case or spacing."""
        name = self.value(heading)
        if name is None:
            return None
        if squash(name) in seen:
            self.fault(heading, f"is in row {seen[squash(name)]} already", cure)
        seen.setdefault(squash(name), self.place.row)
        return str(name)

    def taped_remarks(self) -> list[Remark]:
        """What each angle measured with a tape comes to, and how far it can be trusted."""
        return [
            Remark(
                self.place.at(heading),
                f"{one.taped} is {one.degrees:.2f} degrees; 1 mm more or less on the tape makes {one.per_mm:.2f}",
            )
            for heading, one in self.taped
        ]

    def doubtful(self, heading: str, *, most: float) -> tuple[float, float] | None:
        """An angle in degrees, from 0 to ``most``, and its ±."""
        found = self._parsed(heading, lambda value: self.angle(heading, value, (0.0, most)))
        if found is None:
            return None
        if not 0.0 <= found[0] <= most:
            self.fault(heading, f"must be between 0 and {most:g} degrees")
            return None
        return found

    def mitre(self, heading: str, od: Fraction | None) -> tuple[float, float] | None:
        """A mitre's angle in degrees from square, on a tube of outside diameter ``od`` (None: not known), and its ±."""
        return self._parsed(heading, lambda value: self.angle(heading, value, (0.0, MOST_MITRE_DEG), od))

    def angle(
        self, heading: str, value: str | int | float, within: tuple[float, float] | None, od: Fraction | None = None
    ) -> tuple[float, float]:
        """An angle in degrees, however it was measured (``od``: of the tube whose mitre it may be), and its ±. Where a
        tape did, that is noted in ``taped``, and its ± is what 1 mm makes, but for what is not ``within`` what an angle
        can be here (None: it has no ±). Raises LengthError."""
        angle, tolerance = parse_doubtful(value, self.units, od)
        if angle.taped:
            self.taped.append((heading, angle))
            least, most = within or (angle.degrees, angle.degrees)
            tolerance = max(0.0, min(round(angle.per_mm, 4), angle.degrees - least, most - angle.degrees))
        return angle.degrees, tolerance

    def several(self, heading: str, parse: Callable[[str | int | float], Read]) -> list[Read] | None:
        """The values of a cell that may hold several, joined by +; an empty list where it is blank."""
        cell = self._cell(heading)
        if cell is None:
            return None if self.given(heading) else []
        parts = [part.strip() for part in PLUS_MINUS.sub("±", cell).split("+")] if isinstance(cell, str) else [cell]
        return self.read(heading, lambda: [parse(part) for part in parts])

    def guess(self, word: str, known: Sequence[str]) -> str:
        """The likely cure of a name that is not one of ``known``; nothing where guessing would take long."""
        return likely(word, known) if len(known) * (len(self._faults) + 1) <= _MOST_GUESSES else ""

    def show(self, length: Fraction) -> str:
        """A length as the person would read it, with its unit."""
        return with_unit(length, self.units)

    def _cell(self, heading: str) -> str | int | float | bool | None:
        cell = self.row.cells.get(heading)
        if isinstance(cell, Spoilt):
            self.fault(heading, cell.rule, cell.cure, got=cell.got)
            return None
        return cell

    def _exact_angle(self, heading: str) -> Callable[[str | int | float], float]:
        def read(value: str | int | float) -> float:
            angle, tolerance = parse_doubtful(value, self.units)
            if tolerance:
                raise LengthError(str(value), "cannot have a ± here", "give the angle alone")
            if angle.taped:
                self.taped.append((heading, angle))
            return angle.degrees

        return read

    def _parsed(self, heading: str, parse: Callable[[str | int | float], Read]) -> Read | None:
        cell = self._cell(heading)
        if cell is None:
            return None
        return self.read(heading, lambda: parse(cell))


def _text(cell: Cell) -> str:
    if isinstance(cell, Spoilt):
        return cell.got or ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.15g}"
    return str(cell)


def remark_length(cells: Cells, length: Fraction | None, remarks: list[Remark], *, member: bool) -> None:
    """A length in mm with a point before its last three figures may mean thousands; a ``member`` under 5 mm may be
    meant in another unit."""
    if length is None:
        return
    cell = cells.row.cells["length"]
    point = _POINT.fullmatch(cell) if isinstance(cell, str) and cells.units is Units.MM else None
    if point is not None:
        whole = f"{point[1]}{point[2]}".lstrip("0")
        text = f'"{cell}" is read as {cells.show(length)} (if the point is for thousands, leave it out: {whole})'
    elif member and length < _SHORTEST:
        text = f"is only {cells.show(length)} (check the unit and the decimal point)"
    else:
        return
    remarks.append(Remark(cells.place.at("length"), text))
