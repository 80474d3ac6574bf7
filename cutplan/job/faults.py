"""Places, faults and remarks: what is wrong with a job, where, and the likely cure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Self

from cutplan.errors import CutplanError, report

_MOST, _SHOWN = 60, 40
"""So many names are reported in full; of more only the first few."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a job something was read: a sheet, its row as the spreadsheet counts (headings: 1), a column."""

    sheet: str
    row: int | None = None
    column: str | None = None

    def at(self, column: str) -> Place:
        """The same row, at ``column``."""
        return Place(self.sheet, self.row, column)

    def __str__(self) -> str:
        text = self.sheet
        if self.row is not None:
            text += f" row {self.row}"
        if self.column is not None:
            text += f", {self.column}"
        return text


NOWHERE = Place("job")
"""Of what was made by a program, not read."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that stops a job: where, the rule it breaks, the value received, the cure.

    ``rule`` is a whole phrase that reads after the place (``"is not a number"``-like phrases quote
    the value themselves through ``got``); ``cure`` is empty where none can be guessed.
    """

    place: Place
    rule: str
    got: str | None = None
    cure: str = ""

    def __str__(self) -> str:
        return report(self.place, self.rule, self.got, self.cure)


@dataclass(frozen=True, slots=True)
class Remark:
    """Something a person should know that stops nothing (a tight bend radius, say)."""

    place: Place
    text: str

    def __str__(self) -> str:
        return report(self.place, self.text)


class JobError(CutplanError, ValueError):
    """A job with faults; carries every one of them (never empty)."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(dict.fromkeys(faults))
        super().__init__(self.faults)

    @classmethod
    def of(cls, place: Place | str, rule: str, got: str | None = None, cure: str = "") -> Self:
        """With one fault, of a file or a sheet where ``place`` is its name."""
        return cls([Fault(Place(place) if isinstance(place, str) else place, rule, got, cure)])

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


def listed(names: Sequence[str]) -> str:
    """``names`` with commas between them; of a long list the first and how many more there are."""
    if len(names) <= _MOST:
        return ", ".join(names)
    return f"{', '.join(names[:_SHOWN])} and {len(names) - _SHOWN:,} more"
