"""What a saw list shows, compared with the plan it carries.

First what tube is bought and sawn by, worked out here from the plan itself; then every other cell, against the sheets
that the plan gives. What a person may write (ticks, what is left of a blank, bars struck out or measured) is left
alone, but reported where it contradicts itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from fractions import Fraction
from typing import Any

from openpyxl.worksheet.worksheet import Worksheet

from cutplan import __version__
from cutplan.geometry.model import Blank
from cutplan.output.opened import PLAN_DATA, Opened, SawList
from cutplan.output.sheets import bars_in_hand, saw_list
from cutplan.output.sheets.page import FIRST_ROW
from cutplan.output.ticks import ENTRIES, Row
from cutplan.output.workbook import SHEETS, saw_list_book
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.recut.ticks import faults_of
from cutplan.plan.rough import with_rough_ends

Facts = Mapping[object, Mapping[str, object]]
"""By cut, bar or line what must be under which heading; lengths as fractions of mm."""

_BUY = "Buy"
NUMBERS = (_BUY, saw_list.TITLE, bars_in_hand.TITLE)
"""Sheets whose figures are compared with the plan itself; another version has them too."""

_IS_HIDDEN = re.compile(rb'\bhidden="(?:1|true)"')

_MOST = 5
"""Differences of one sheet that are reported one by one: beyond them it is another sheet."""


def shown_complaints(found: SawList) -> tuple[str, ...]:
    """Where a saw list, read whole, shows something else than the plan it carries, or ticks that cannot be."""
    wrong = [*_entries(found)]
    try:
        wrong += _facts(found)
    except (LookupError, ValueError, TypeError, AttributeError, ArithmeticError, RuntimeError) as error:
        # A plan from a file may be anything.
        wrong.append(f"the plan stored in the saw list cannot be shown: {type(error).__name__} {error}")
    return tuple(wrong)


def shown_remarks(book: Opened) -> tuple[str, ...]:
    """What a check of a saw list cannot or need not compare, but its reader should know: that another version wrote
    it; sheets, rows and columns that are hidden."""
    said = []
    version = book.version
    if version not in ("", __version__):
        said.append(
            f"written by version {version}, this is {__version__}, which may word things differently: only the "
            f"figures on {', '.join(NUMBERS)} were compared; plan the job again to be sure of the other sheets"
        )
    return (*said, *_hidden(book))


def _hidden(book: Opened) -> Iterator[str]:
    for title, part in book.parts.items():
        if title == PLAN_DATA:
            continue
        if title not in book.seen:
            yield f"{title}: the sheet is hidden"
        for what, tag in (("column", rb"<col "), ("row", rb"<row ")):
            hidden = [found for found in re.findall(tag + rb"[^>]*>", part) if _IS_HIDDEN.search(found)]
            if hidden:
                yield f"{title}: {wording.counted(len(hidden), f'hidden {what}')}"


def altered(found: SawList) -> tuple[str, ...]:
    """Where the cells of a saw list by which a person saws and measures are not those of its plan."""
    sheets, plan = found.book.written, found.plan
    wrong = list(_unlike(saw_list.TITLE, sheets[saw_list.TITLE], saw_list.CUT, _saw_list(plan), plan))
    if bars_in_hand.TITLE not in sheets:
        return (*wrong, f"{bars_in_hand.TITLE}: the sheet is missing")
    return (*wrong, *_unlike(bars_in_hand.TITLE, sheets[bars_in_hand.TITLE], bars_in_hand.BAR, _bars(plan), plan))


def _entries(found: SawList) -> Iterator[str]:
    """Ticks and notes that cannot be. A cut that is missing or listed twice is reported with what else is shown."""
    yield from (
        str(fault)
        for fault in faults_of(found.plan, found.ticks, found.notes, ())
        if "missing" not in fault.rule and "twice" not in fault.rule and "is no " not in fault.rule
    )


def _facts(found: SawList) -> Iterator[str]:
    sheets, plan = found.book.written, found.plan
    same_words = found.book.version in ("", __version__)
    facts = {
        _BUY: ("line", _buy(plan)),
        saw_list.TITLE: (saw_list.CUT, _saw_list(plan, whole=same_words)),
        bars_in_hand.TITLE: (bars_in_hand.BAR, _bars(plan, whole=same_words)),
    }
    made = saw_list_book(plan)
    yield from (
        f"{title}: the plan has nothing for this sheet"
        for title in SHEETS
        if same_words and title in sheets and title not in made.sheetnames
    )
    if with_rough_ends(replace(plan, rough_ends=())).rough_ends != plan.rough_ends:
        yield "Making: the plan's rough cuts do not match its blanks"
    for sheet in made.worksheets:
        if sheet.title == PLAN_DATA or not (same_words or sheet.title in facts):
            continue
        if sheet.title not in sheets:
            yield f"{sheet.title}: the sheet is missing"
            continue
        rows = sheets[sheet.title]
        wrong = list(_unlike(sheet.title, rows, *facts[sheet.title], plan)) if sheet.title in facts else []
        # Another version may say the same in other words.
        if not wrong and same_words:
            wrong = list(_changed(sheet, rows))
        yield from wrong[:_MOST]
        if len(wrong) > _MOST:
            yield f"{sheet.title}: and {len(wrong) - _MOST} more"


def _saw_list(plan: Plan, *, whole: bool = False) -> Facts:
    """``whole``: with what is said where a cut is spoilt, which another version may word differently."""
    blanks = plan.by_mark()
    cuts: dict[object, Mapping[str, object]] = {}
    for tube in plan.tubes:
        for bar in tube.bars:
            known = True
            for cut in bar.cuts:
                blank = blanks[cut.mark]
                known = known and blank.estimate is None
                again = cut.if_spoilt.how if cut.if_spoilt else "no tube left: buy"
                cuts[cut.number] = {
                    "bar": bar.name,
                    "mark": cut.mark,
                    "blank": cut.blank if blank.estimate is None else _measure_first(blank, plan),
                    "left of the bar": cut.left if known else f"at least {_figure(cut.left, plan)}",
                    **({"if spoilt, cut it again": again} if whole else {}),
                }
    return cuts | {made.number: {"mark": made.blank.mark, "blank": made.length} for made in plan.made}


def _measure_first(blank: Blank, plan: Plan) -> str:
    """No length, where one would be sawn at it."""
    assert blank.estimate is not None
    return f"measure first, {_figure(blank.estimate.least, plan)} to {_figure(blank.length, plan)}"


def _figure(mm: Fraction, plan: Plan) -> str:
    return wording.blank(mm, plan.job.settings)


def _buy(plan: Plan) -> Facts:
    return {
        number: {
            "tube": line.tube,
            "length of bar": line.length,
            "bars": line.count,
            "price of a bar": "no price" if line.price is None else float(line.price),
        }
        for number, line in enumerate(plan.buy, 1)
    }


def _bars(plan: Plan, *, whole: bool = False) -> Facts:
    """``whole``: with what is left of each."""
    bars: dict[object, Mapping[str, object]] = {}
    for bar in (bar for tube in plan.tubes for bar in tube.bars):
        left = {"left at the end": bar.offcut, "of it usable": bar.usable, "spares on it": bar.spares or None}
        bars[bar.name] = {"tube": bar.tube, "label": bar.label, "length": bar.length, **(left if whole else {})}
    return bars


def _unlike(title: str, rows: Sequence[Row], key: str, facts: Facts, plan: Plan) -> Iterator[str]:
    """Where a table shows other lines than ``facts``, or other values in them."""
    shown: dict[object, Mapping[str, Any]] = {}
    wanted = next(iter(facts.values()), {})
    headings: Sequence[str] | None = None
    for row in rows:
        if headings is None:
            found = [_heading(cell) for cell in row]
            headings = found if wanted and {*wanted, key} - {"line"} <= set(found) else None
            continue
        cells = dict(zip(headings, row, strict=True))
        if key == "line":
            name: object = len(shown) + 1 if _is_number(cells["length of bar"]) else None
        else:
            name = cells[key] if key == saw_list.CUT else None if cells[key] is None else str(cells[key])
        if name is None or name == "" or (key == saw_list.CUT and not _is_number(name)):
            continue
        if name in shown:
            yield f"{title}: {key} {name} is listed twice"
        shown.setdefault(name, cells)
    if headings is None and facts:
        yield f"{title}: its column headings are missing"
        return
    yield from (f"{title}: {key} {name} is missing" for name in facts if name not in shown)
    yield from (f"{title}: {key} {name} is not in the plan" for name in shown if name not in facts)
    for name, values in facts.items():
        for heading, value in values.items() if name in shown else ():
            seen = shown[name][heading]
            if not _shows(seen, value, plan):
                yield f"{title}, {key} {name}, {heading}: shows {_said(seen)}, the plan says {_said(value, plan)}"


def _shows(seen: object, value: object, plan: Plan) -> bool:
    if isinstance(value, Fraction):
        return _is_number(seen) and abs(Fraction(str(seen)) * plan.job.settings.units.mm - value) < Fraction(1, 10**6)
    if isinstance(value, float):
        return _is_number(seen) and abs(Fraction(str(seen)) - Fraction(str(value))) < Fraction(1, 10**6)
    return _plain(seen) == _plain(str(value) if isinstance(value, str) else value)


def _changed(made: Worksheet, rows: Sequence[Row]) -> Iterator[str]:
    """Where ``rows`` are not the sheet that was ``made``: rows put in, left out or altered.

    Words beside and below the tables are a person's own notes."""
    width = made.max_column
    headings, old = _rows(made.title, list(made.iter_rows(values_only=True)), width)
    _, new = _rows(made.title, rows, width)
    while len(new) > len(old) and not any(_is_number(cell) for cell in new[-1]):
        new.pop()
    for what, first, last, start, end in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if what != "equal":
            here, there = range(first, last), range(start, end)
            for i, j in zip(here, there, strict=False):
                yield from _cells(made.title, headings, j + 1, old[i], new[j])
            for i in here[len(there) :]:
                yield f"{made.title}: a row is missing below row {end}: {_row(old[i])}"
            for j in there[len(here) :]:
                yield f"{made.title} row {j + 1}: is not in the plan: {_row(new[j])}"


def _rows(title: str, given: Sequence[Row], width: int) -> tuple[Sequence[str], list[tuple[object, ...]]]:
    """The headings, and all rows, without what a person writes."""
    rows = [tuple(_plain(cell) for cell in (*row, *[None] * width)[:width]) for row in given]
    entries = set(ENTRIES.get(title, ()))
    # Where a person writes, the headings may have moved with what is above them.
    found = (i for i, row in enumerate(rows) if entries and entries <= {_heading(cell) for cell in row})
    at = next(found, min(FIRST_ROW, len(rows)) - 1)
    headings = [_heading(cell) for cell in rows[at]]
    free = {i for i, heading in enumerate(headings) if heading in entries}
    below = [tuple(None if i in free else cell for i, cell in enumerate(row)) for row in rows[at + 1 :]]
    return headings, rows[: at + 1] + below


def _cells(
    title: str, headings: Sequence[str], number: int, old: Sequence[object], new: Sequence[object]
) -> Iterator[str]:
    for heading, was, now in zip(headings, old, new, strict=True):
        if was != now:
            where = f"{title} row {number}, {heading}" if heading else f"{title} row {number}"
            yield f"{where}: shows {_said(now)}, the plan says {_said(was)}"


def _heading(cell: object) -> str:
    """A heading without the unit in brackets."""
    return str(cell).split(" (")[0] if cell is not None else ""


def _plain(value: object) -> object:
    """A cell's value however it was saved: text without blanks round it, numbers to nine figures, empty as None."""
    if isinstance(value, str):
        return value.strip() or None
    if _is_number(value):
        return float(f"{value:.9g}")
    return value


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _said(value: object, plan: Plan | None = None) -> str:
    if isinstance(value, Fraction) and plan is not None:
        return f"{float(value / plan.job.settings.units.mm):g}"
    return "nothing" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _row(cells: Sequence[object]) -> str:
    return ", ".join(_said(cell) for cell in cells if cell is not None)
