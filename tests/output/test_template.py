"""The empty job workbook: it teaches, it checks what is typed, its worked lines never end up in a job."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from io import BytesIO
from math import atan2, degrees, hypot
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.workbook import Workbook

from cutplan.job import read
from cutplan.job.model import Cut, Measured, Units
from cutplan.job.schema import SETTING_WORDS, SETTINGS, SHEETS
from cutplan.job.settings import defaults
from cutplan.output.template import template_bytes, write_template
from cutplan.output.template_drawing import clock
from cutplan.output.template_words import EXAMPLES, MEASURED


@pytest.fixture(params=list(Units))
def units(request: pytest.FixtureRequest) -> Units:
    return request.param


def opened(units: Units) -> Workbook:
    return load_workbook(BytesIO(written(units)))


@cache
def looked_at(units: Units) -> Workbook:
    """The same, for tests that change nothing in it."""
    return opened(units)


@cache
def written(units: Units) -> bytes:
    return template_bytes(units)


def test_every_sheet_and_heading_is_there_with_a_note(units: Units) -> None:
    """Guards the lesson: no heading without a word on it, and no sheet or heading that the reader does not know."""
    book = looked_at(units)
    assert [name for name in book.sheetnames if not name.startswith(("Notes", "_"))] == [s.name for s in SHEETS]
    for sheet in SHEETS:
        headings = list(book[sheet.name][1])
        assert tuple(cell.value for cell in headings) == sheet.headings
        for cell, column in zip(headings, sheet.columns, strict=True):
            assert column.says in cell.comment.text
            assert ("*" in cell.comment.text) == column.needed


def test_every_setting_is_there_with_its_default_and_a_word_on_it(units: Units, tmp_path: Path) -> None:
    """Guards the Job sheet: as written it reads as the defaults, but for the name."""
    assert all(setting.says for setting in SETTINGS)
    book = opened(units)
    given = [row[0].value for row in book["Job"].iter_rows(min_row=3)]
    assert tuple(given[: len(SETTING_WORDS)]) == SETTING_WORDS
    filled(book, units).save(tmp_path / "new.xlsx")
    reading = read(tmp_path / "new.xlsx")
    assert not reading.faults
    assert reading.job is not None
    usual = defaults(units)
    assert reading.job.settings.name == "my frame"
    for name in SETTING_WORDS:
        field = name.replace(" ", "_")
        if name != "name":
            assert getattr(reading.job.settings, field) == getattr(usual, field), name


def filled(book: Workbook, units: Units) -> Workbook:
    """The least that a person would type below the worked lines."""
    for name, values in (
        ("Tubes", {"tube": "T", "od": 38, "wall": 2}),
        ("Stock", {"tube": "T", "length": 6000}),
        ("Members", {"mark": "M1", "tube": "T", "length": 900}),
    ):
        headings = next(sheet.headings for sheet in SHEETS if sheet.name == name)
        row = 2 + len(EXAMPLES[units][name])
        for heading, value in values.items():
            book[name].cell(row, headings.index(heading) + 1, value)
    return book


def test_the_worked_lines_are_left_out_and_said_so(units: Units, tmp_path: Path) -> None:
    """Guards a job from a worked line left in: nothing of it is planned, and one remark counts them."""
    path = tmp_path / "new.xlsx"
    filled(opened(units), units).save(path)
    reading = read(path)
    assert reading.job is not None
    assert [member.mark for member in reading.job.members] == ["M1"]
    count = sum(len(lines) for lines in EXAMPLES[units].values())
    said = [remark.text for remark in reading.remarks if "EXAMPLE" in remark.text]
    assert said == [f"{count} lines that begin with EXAMPLE were not read: delete them, or leave them there"]


def test_the_worked_lines_are_right(units: Units, tmp_path: Path) -> None:
    """Guards the lesson itself: with EXAMPLE taken off, and what they refer to, the worked lines are a sound job."""
    book = opened(units)
    for name in ("Tubes", "Stock", "Members", "Bends", "Points"):
        for row in range(2, 2 + len(EXAMPLES[units][name])):
            cell = book[name].cell(row, 1)
            cell.value = str(cell.value).removeprefix("EXAMPLE ")
    tube = book["Tubes"]["A2"].value
    book["Members"].append(["HOOP", tube])
    book["Members"].append(["DG", tube])
    for row in book["Members"].iter_rows(min_row=400):
        if row[0].value:
            book["Members"].cell(3 if row[0].value == "HOOP" else 4, 1, row[0].value)
            book["Members"].cell(3 if row[0].value == "HOOP" else 4, 2, tube)
            row[0].value = row[1].value = None
    path = tmp_path / "worked.xlsx"
    book.save(path)
    reading = read(path)
    assert [str(fault) for fault in reading.faults] == []
    assert reading.job is not None
    assert {member.mark for member in reading.job.members} == {"BS", "HOOP", "DG"}


def test_empty_rows_are_ruled_for_a_pencil(units: Units) -> None:
    """Guards the sheets on paper: as many ruled rows as a page has room for, each high enough to write in, and the
    members on two pages side by side, whose columns are as wide on either."""
    wide, high = (841.9, 595.3) if units is Units.MM else (792.0, 612.0)
    book = opened(units)
    for schema in SHEETS:
        sheet = book[schema.name]
        widths = [sheet.column_dimensions[get_column_letter(n)].width for n in range(1, len(schema.columns) + 1)]
        folded = schema.name == "Members"
        assert sheet.page_setup.fitToWidth == (2 if folded else 1)
        if folded:
            assert sheet.print_title_cols == "$A:$A"
            at = schema.headings.index("end b")
            assert abs(sum(widths[:at]) - sum(widths[at:]) - widths[0]) <= 12
        scale = min(1.0, (wide - 57.6) * (2 if folded else 1) / (sum(widths) * 5.25))
        row = sheet.sheet_format.defaultRowHeight
        ruled = [n for n in range(2, 60) if all(cell.border.bottom.style for cell in sheet[n])]
        assert row * scale >= 20
        assert ruled == list(range(2, 2 + len(ruled)))
        assert len(ruled) >= 15
        assert (30 + row * len(ruled)) * scale <= high - 86.4


def test_words_from_a_fixed_set_are_chosen_from_a_list(units: Units) -> None:
    """Guards against typing what the reader refuses."""
    lists = {
        (sheet.title, str(area)): check.formula1
        for sheet in looked_at(units).worksheets
        for check in sheet.data_validations.dataValidation
        if check.type == "list"
        for area in check.sqref.ranges
    }
    headings = next(sheet.headings for sheet in SHEETS if sheet.name == "Members")

    def under(heading: str) -> str:
        letter = get_column_letter(headings.index(heading) + 1)
        return lists["Members", f"{letter}2:{letter}400"]

    assert under("end a") == under("end b") == f'"{",".join(cut.value for cut in Cut)}"'
    assert under("measured") == under("measured b") == f'"{",".join(m.value for m in Measured)}"'
    assert under("pair") == '"yes,no"'
    assert under("tube") == "Tubes!$A$3:$A$400"


def test_lengths_are_checked_as_they_are_typed(units: Units) -> None:
    """Guards a comma for a point, and less than nothing: every length of every sheet and every setting that is one has
    a check that says so; what must be filled in stands out without colour."""
    book = looked_at(units)
    checks = {
        (sheet.title, str(area)): check
        for sheet in book.worksheets
        for check in sheet.data_validations.dataValidation
        if check.type == "custom" and 'FIND(","' in check.formula1
        for area in check.sqref.ranges
    }
    headings = next(sheet.headings for sheet in SHEETS if sheet.name == "Members")
    letter = get_column_letter(headings.index("length") + 1)
    members = ("Members", f"{letter}2:{letter}400")
    for where in (("Tubes", "B2:B400"), ("Stock", "B2:B400"), members, ("Bends", "B2:B400")):
        assert checks[where].formula1.endswith(f"AND(ISNUMBER({where[1].split(':')[0]}),{where[1].split(':')[0]}>=0))")
        assert "decimals take a point" in checks[where].error
    assert "TRUE" in checks["Points", "B2:B400"].formula1
    rows = {row[0].value: row[0].row for row in book["Job"].iter_rows(min_row=3)}
    lengths = [name for name in SETTING_WORDS if isinstance(getattr(defaults(units), name.replace(" ", "_")), Fraction)]
    assert all(("Job", f"B{rows[name]}") in checks for name in lengths)
    for sheet in SHEETS:
        for cell, column in zip(book[sheet.name][1], sheet.columns, strict=True):
            assert (cell.fill.fgColor.rgb == "00404040") == column.needed


def test_the_drawing_names_what_the_tape_can_run_to(units: Units) -> None:
    """Guards the diagrams: a chart with a point for each word, and a sentence for each beside it; and one with the
    quarters of a turn."""
    book = looked_at(units)
    chart, turns = book["Notes"]._charts
    assert {series.tx.v for series in turns.series if series.tx} == {"0, short side", "90", "180, long side", "270"}
    assert {series.tx.v for series in chart.series if series.tx} == {measured.value for measured in Measured}
    assert [name for name, _ in MEASURED] == [measured.value for measured in Measured]
    assert book["_drawing"].sheet_state == "hidden"


def test_inch_lengths_stay_as_typed() -> None:
    """Guards 1-3/4 and 3/4 from becoming dates: these columns are text in an inch job."""
    sheet = looked_at(Units.IN)["Members"]
    assert sheet["E3"].number_format == "@"
    assert sheet["A3"].number_format == "@"
    # Below the ruled rows, cells take the style of their column.
    assert not sheet["E300"].has_style
    assert [sheet.column_dimensions[letter].number_format for letter in "AE"] == ["@", "@"]


def test_the_same_template_every_time(units: Units, tmp_path: Path) -> None:
    """Guards reproducibility: the same bytes."""
    write_template(tmp_path / "new.xlsx", units)
    assert (tmp_path / "new.xlsx").read_bytes() == written(units)


def test_the_arrow_of_the_clock_points_the_way_turns_are_counted() -> None:
    """Guards the picture of the turn against an arrow the other way round: both barbs are behind the tip, one inside
    the arc and one outside."""
    data = Workbook().active
    clock(data)
    columns = [[cell.value for cell in column if cell.value is not None] for column in data.iter_cols()]
    _, way, (inner, tip, outer), *_ = [
        list(zip(*columns[at : at + 2], strict=True)) for at in range(0, len(columns), 2)
    ]
    turns = [degrees(atan2(x, y)) for x, y in way]
    assert turns == sorted(turns)
    assert tip == way[-1]
    assert all(20 < degrees(atan2(x, y)) < turns[-1] - 5 for x, y in (inner, outer))
    assert hypot(*inner) < hypot(*tip) - 1 < hypot(*tip) + 1 < hypot(*outer)
