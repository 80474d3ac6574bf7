"""The tick *fitted*, and a job that is given up, at the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook
from saw_lists import tick
from wording import about

from cutplan.output.opened import read_saw_list


@pytest.fixture
def saw_list(run, job, tmp_path) -> Path:
    """The saw list of the small job: 1500, twice 601, three times 100."""
    path = tmp_path / "saw.xlsx"
    assert run("plan", job, "--output", path).exit_code == 0
    return path


def test_fitted_is_read_shown_and_carried_on(run, saw_list, tmp_path, as_worded):
    """From list to list a fitted piece stays fitted; until then it is on the sheets for making it."""
    tick(saw_list, "fitted", "LONG")
    tick(saw_list, "done", "LEG-L")
    result = run("recut", saw_list)
    assert result.exit_code == 0, result.output
    as_worded(about(result.stdout, "of the 6"))
    second = tmp_path / "saw 2.xlsx"
    assert run("check", second).exit_code == 0
    plan = read_saw_list(second).plan
    assert [(made.blank.mark, made.fitted) for made in plan.made] == [("LEG-L", False), ("LONG", True)]
    book = load_workbook(second)
    marks = [row[0] for row in book["Making"].iter_rows(values_only=True)]
    assert any("LEG-L" in str(mark) for mark in marks)
    firsts = [str(row[0]) for row in book["Saw list"].iter_rows(values_only=True)]
    already, fitted = (
        next(i for i, text in enumerate(firsts) if text.startswith(word)) for word in ("Already", "Fitted")
    )
    assert already < fitted
    tick(second, "fitted", "LEG-L")
    assert run("recut", second).exit_code == 0
    plan = read_saw_list(tmp_path / "saw 3.xlsx").plan
    assert all(made.fitted for made in plan.made)
    assert run("check", tmp_path / "saw 3.xlsx").exit_code == 0


def test_when_all_is_cut_it_says_what_is_not_fitted(run, saw_list, as_worded):
    """The last list goes on serving until everything is in the frame."""
    tick(saw_list, "done", "LONG", "LEG-L", "LEG-R", "TAB", "TAB", "TAB")
    as_worded(run("recut", saw_list).stdout)
    tick(saw_list, "fitted", "LONG", "LEG-L", "LEG-R", "TAB", "TAB", "TAB")
    result = run("recut", saw_list)
    as_worded(result.stdout)


def test_a_tick_under_fitted_that_is_none(run, saw_list, as_worded):
    """What is not a tick is reported with its place."""
    book = load_workbook(saw_list)
    sheet = book["Saw list"]
    row = next(cell.row for cell in sheet["A"] if cell.value == 1)
    sheet.cell(row, 13).value = "maybe"
    book.save(saw_list)
    result = run("recut", saw_list)
    assert result.exit_code == 1
    assert f" row {row}," in result.stderr
    as_worded(result.stderr)


def test_a_list_from_before_there_was_the_column(run, saw_list):
    """It goes on without it."""
    book = load_workbook(saw_list)
    book["Saw list"].delete_cols(13)
    book.save(saw_list)
    tick(saw_list, "done", "LONG")
    assert run("recut", saw_list).exit_code == 0
    plan = read_saw_list(saw_list.with_name("saw 2.xlsx")).plan
    assert [(made.blank.mark, made.fitted) for made in plan.made] == [("LONG", False)]


def test_a_job_given_up(run, job, saw_list, tmp_path):
    """Unticked cuts stop an ordinary finish; broken off, their tube goes on the rack."""
    tick(saw_list, "done", "LONG")
    rack = tmp_path / "rack.csv"
    result = run("rack", "finish", saw_list, rack)
    assert result.exit_code == 1
    assert "--broken-off" in result.stderr
    result = run("rack", "finish", saw_list, rack, "--broken-off")
    assert result.exit_code == 0, result.output
    assert "1488 mm" in rack.read_text(encoding="utf-8")
    assert "3000 mm" in rack.read_text(encoding="utf-8")
