"""Guards ``cutplan new``: a workbook that can be filled in and planned, and no filled one lost to it."""

from __future__ import annotations

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from cutplan.job.schema import SHEETS


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_new_job_has_every_sheet_and_heading(run, tmp_path, units):
    """Every sheet is there with its headings in row 1, and the job is in the units asked for."""
    path = tmp_path / "frame.xlsx"
    result = run("new", path, "--units", units)
    assert result.exit_code == 0
    assert f"cutplan plan {path}" in result.stdout
    book = load_workbook(path)
    for sheet in SHEETS:
        assert tuple(cell.value for cell in book[sheet.name][1]) == sheet.headings
    assert units in [row[1] for row in book["Job"].iter_rows(values_only=True)]


def test_what_is_filled_in_is_planned(run, tmp_path):
    """The worked lines are passed over, so rows added below them make a job."""
    path = tmp_path / "frame.xlsx"
    run("new", path)
    assert run("plan", path).exit_code == 1
    book = load_workbook(path)
    for sheet, row in (
        ("Tubes", {"tube": "T", "od": 38, "wall": 2.5}),
        ("Stock", {"tube": "T", "length": 6000, "price": 40}),
        ("Members", {"mark": "A", "tube": "T", "qty": 2, "length": 900}),
    ):
        page = book[sheet]
        headings = [cell.value for cell in page[1]]
        free = next(r for r in range(2, page.max_row + 2) if page.cell(r, 1).value is None)
        for heading, value in row.items():
            page.cell(free, headings.index(heading) + 1, value)
    book.save(path)
    result = run("plan", path)
    assert result.exit_code == 0
    assert "Proven" in result.stdout


def test_a_file_that_is_there_is_kept_unless_forced(run, tmp_path, as_worded):
    """A filled job is not lost to a second ``new``."""
    path = tmp_path / "frame.xlsx"
    path.write_bytes(b"measurements")
    result = run("new", path)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert path.read_bytes() == b"measurements"
    assert run("new", path, "--force").exit_code == 0
    assert load_workbook(path).sheetnames


def test_a_folder_that_is_not_there_leaves_with_2(run, tmp_path, as_worded):
    """Nothing is written where nothing can be."""
    result = run("new", tmp_path / "none" / "frame.xlsx")
    assert result.exit_code == 2
    as_worded(result.stderr)


def form_of(run, *arguments):
    """The text of the form that ``new`` writes with these arguments."""
    result = run("new", *arguments)
    assert result.exit_code == 0, result.stderr
    return "\n".join(page.extract_text() for page in PdfReader(arguments[-1]).pages)


def test_a_form_needs_no_workbook(run, tmp_path):
    """Empty, on its own; and no workbook is written."""
    text = form_of(run, "--units", "in", "--form", tmp_path / "form.pdf")
    assert "lengths in inches" in text
    assert [path.name for path in tmp_path.iterdir()] == ["form.pdf"]


def test_a_form_for_a_job_has_its_marks_even_where_the_job_is_not_finished(run, job, change, tmp_path):
    """A length that is still to be measured is what the form is for; the job stays as it is."""
    change("Members", "LONG,T,1,,1500", "LONG,T,1,,")
    before = {path.name: path.read_bytes() for path in job.iterdir()}
    text = form_of(run, job, "--form", tmp_path / "form.pdf")
    assert all(f"\n{mark}\n" in text for mark in ("LONG", "LEG", "TAB"))
    assert {path.name: path.read_bytes() for path in job.iterdir()} == before


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        ([], 2, "name the workbook to write"),
        (["--form", "form.xlsx"], 2, "does not end in .pdf"),
        (["none.xlsx", "--form", "form.pdf"], 1, "there is no such file"),
    ],
)
def test_a_form_that_cannot_be_written_is_reported(run, tmp_path, monkeypatch, arguments, code, says):
    """Wrong use, or a job that is not there."""
    monkeypatch.chdir(tmp_path)
    result = run("new", *arguments)
    assert result.exit_code == code
    assert says in result.stderr + result.stdout
    assert not list(tmp_path.iterdir())
