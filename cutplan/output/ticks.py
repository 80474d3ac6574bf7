"""What a person wrote on a saw list, read back: ticks against cuts, and what was found wrong with bars."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from cutplan.errors import FaultError
from cutplan.job.faults import Place
from cutplan.job.model import Settings
from cutplan.job.units import LengthError, parse_length
from cutplan.output.sheets import bars_in_hand, saw_list
from cutplan.plan.recut.ticks import BarNote, Tick

Row = tuple[object, ...]
"""The values of a row of cells."""

Sheets = Mapping[str, Sequence[Row]]
"""Sheets by name, row by row, all rows of a sheet equally long."""

_TICKED = frozenset(("x", "1", "✓", "✔", "✅", "✗", "✘", "☑", "☒", "yes", "y", "true", "ok", "done", "spoilt"))
_EMPTY = frozenset(("", "-", "–", "—", "no", "n", "false", "0", "☐"))
_DAY = r"(?:0?[1-9]|[12]\d|3[01])"
_DATE = re.compile(rf"(?:\d{{4}}[-./])?{_DAY}[-./]{_DAY}(?:[-./](?:\d\d|\d{{4}}))?\.?")
_TAPE = "give the length the tape shows, or leave it empty"
_UNSEEN = dict.fromkeys(map(ord, "\ufe0e\ufe0f\u200b\u200c\u200d\ufeff"))
"""Characters that only choose how the one before them is drawn, or that have no width."""

ENTRIES = {
    saw_list.TITLE: (saw_list.DONE, saw_list.SPOILT, saw_list.STILL_GOOD, saw_list.FITTED),
    bars_in_hand.TITLE: (bars_in_hand.STRUCK_OUT, bars_in_hand.MEASURED),
}
"""Headings under which a person writes."""


class SawListError(FaultError):
    """A workbook that is not a saw list, or whose ticks cannot be read."""

    def __init__(self, where: object, rule: str, cure: str, got: object = None) -> None:
        super().__init__(rule, None if got is None else str(got), cure, where)


def ticks_on(rows: Sequence[Row], settings: Settings) -> tuple[Tick, ...]:
    """The ticks of a saw list's sheet for the saw, given row by row. Raises SawListError."""
    unit = settings.units.value
    ticks = []
    headings = (saw_list.CUT, saw_list.DONE, saw_list.SPOILT, saw_list.STILL_GOOD)
    for place, cells in below_headings(saw_list.TITLE, rows, headings):
        cut = cells[saw_list.CUT]
        if not isinstance(cut, int | float) or isinstance(cut, bool):
            _refuse_stray(place, cells, (*headings[1:], saw_list.FITTED), "cut")
        else:
            done = _ticked(cells[saw_list.DONE], place.at(saw_list.DONE))
            fitted = _ticked(cells.get(saw_list.FITTED), place.at(saw_list.FITTED))
            spoilt = _ticked(cells[saw_list.SPOILT], place.at(saw_list.SPOILT))
            left = _length(cells[saw_list.STILL_GOOD], place.at(f"{saw_list.STILL_GOOD} ({unit})"), settings)
            ticks.append(Tick(int(cut), done, spoilt, left, place, fitted))
    return tuple(ticks)


def notes_on(rows: Sequence[Row], settings: Settings) -> tuple[BarNote, ...]:
    """What a saw list's sheet of bars in hand, given row by row, says of them. Raises SawListError."""
    headings = (bars_in_hand.BAR, bars_in_hand.STRUCK_OUT, bars_in_hand.MEASURED)
    unit = settings.units.value
    notes = []
    for place, cells in below_headings(bars_in_hand.TITLE, rows, headings):
        bar = cells[bars_in_hand.BAR]
        if bar is None:
            _refuse_stray(place, cells, (bars_in_hand.STRUCK_OUT, bars_in_hand.MEASURED), "bar")
        else:
            gone = _ticked(cells[bars_in_hand.STRUCK_OUT], place.at(bars_in_hand.STRUCK_OUT))
            where = place.at(f"{bars_in_hand.MEASURED} ({unit})")
            notes.append(BarNote(str(bar), gone, _length(cells[bars_in_hand.MEASURED], where, settings), place))
    return tuple(notes)


def below_headings(
    title: str, rows: Sequence[Row], needed: Sequence[str]
) -> Iterator[tuple[Place, Mapping[str, object]]]:
    """The rows below the headings, by heading; a unit in brackets after a heading is not part of it."""
    named = [[str(cell).split(" (")[0] if cell is not None else "" for cell in row] for row in rows]
    start = next((i for i, headings in enumerate(named) if set(needed) <= set(headings)), None)
    if start is None:
        lost = min(
            ([heading for heading in needed if heading not in headings] for headings in named),
            key=len,
            default=[*needed],
        )
        raise SawListError(title, f"is missing headings ({', '.join(lost)})", "put them back, or plan the job again")
    for number, row in enumerate(rows[start + 1 :], start + 2):
        yield Place(title, number), dict(zip(named[start], row, strict=True))


def refuse_uncalculated(results: Sheets, written: Sheets) -> None:
    """Refuse a saw list on which an entry is a formula that was never calculated, which would be taken for empty.

    ``results``: the cells' values; ``written``: as they were written, formulas as text. Raises SawListError."""
    for title, headings in ENTRIES.items():
        if title not in results:
            continue
        needed = [
            heading for heading in headings if heading != saw_list.FITTED
        ]  # lists from before have no such column
        both = zip(
            below_headings(title, results[title], needed), below_headings(title, written[title], needed), strict=False
        )
        for (place, values), (_, texts) in both:
            for heading in headings:
                text = texts.get(heading)
                if values.get(heading) is None and isinstance(text, str) and text.startswith("="):
                    raise SawListError(
                        place.at(heading),
                        "was never calculated",
                        "open and save the list in a spreadsheet program, or type its result",
                        text,
                    )


def _refuse_stray(place: Place, cells: Mapping[str, object], headings: Sequence[str], what: str) -> None:
    """Refuse a tick, or a length, in a row that has no cut or no bar: it was meant for another row. Other words there
    are a person's own notes. Raises SawListError."""
    for heading in headings:
        value = cells.get(heading)
        if (isinstance(value, int | float) and value) or _tick(value):
            raise SawListError(
                place.at(heading), f"is in a row with no {what}", f"put it in the row of its {what}", value
            )


def _ticked(value: object, place: Place) -> bool:
    """Whether a cell is ticked; what is neither yes nor no is a fault. Raises SawListError."""
    if (ticked := _tick(value)) is None:
        raise SawListError(place, "is not a tick", "put an x, or leave it empty", value)
    return ticked


def _tick(value: object) -> bool | None:
    """Whether a cell is ticked, as people do it: an x, a tick, yes, 1, a date; None: it is neither yes nor no."""
    if isinstance(value, datetime.date | datetime.time):
        return True
    text = f"{value:g}" if isinstance(value, float) else str("" if value is None else value)
    text = text.translate(_UNSEEN).strip().lower()
    if text in _EMPTY:
        return False
    # A number is no date: it is a length in the wrong column, or a slip.
    return True if text in _TICKED or (isinstance(value, str) and _DATE.fullmatch(text)) else None


def _length(value: object, place: Place, settings: Settings) -> Fraction | None:
    if value is None or not str(value).strip():
        return None
    try:
        length = parse_length(value if isinstance(value, int | float) else str(value), settings.units)
    except LengthError as error:
        raise SawListError(place, error.rule, _TAPE, error.got) from error
    if length < 0:
        raise SawListError(place, "is negative", _TAPE, value)
    return length
