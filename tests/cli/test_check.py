"""Guards ``cutplan check``: what holds is said to hold, and what was tampered with is told cut by cut."""

from __future__ import annotations

import json

import pytest
from openpyxl import load_workbook


@pytest.fixture
def written(run, job, tmp_path):
    """The saw list and the JSON of the small job's plan."""
    book, data = tmp_path / "saw.xlsx", tmp_path / "plan.json"
    assert run("plan", job, "--output", book, "--json", data).exit_code == 0
    return book, data


def test_what_was_just_planned_holds(run, job, written):
    """Saw list and JSON agree with the job they came from."""
    book, data = written
    for arguments in ((book,), (data, "--job", job)):
        result = run("check", *arguments)
        assert result.exit_code == 0
        assert "holds: every member" in result.stdout


@pytest.mark.parametrize("change", ["shift", "lose", "free"])
def test_json_that_was_tampered_with_does_not_hold(run, job, written, change):
    """A cut moved, a cut lost, a bar made cheaper: each is found."""
    _, path = written
    plan = json.loads(path.read_text(encoding="utf-8"))
    bar = next(bar for bar in plan["tubes"][0]["bars"] if bar["cuts"])
    if change == "shift":
        bar["cuts"][0]["end"] -= 1
    elif change == "lose":
        bar["cuts"].pop()
    else:
        plan["tubes"][0]["cost"] -= 5
    path.write_text(json.dumps(plan), encoding="utf-8")
    result = run("check", path, "--job", job)
    assert result.exit_code == 1
    assert "does not hold" in result.stdout


def test_a_saw_list_with_another_length_typed_in_does_not_hold(run, written):
    """The list that is taken to the saw is what is checked, not what it was made from."""
    path, _ = written
    book = load_workbook(path)
    sheet = book["Saw list"]
    (cell,) = [cell for row in sheet.iter_rows() for cell in row if cell.value == 1500]
    cell.value = 1490
    book.save(path)
    result = run("check", path)
    assert result.exit_code == 1
    assert "does not hold" in result.stdout


def test_json_needs_its_job(run, written):
    """The JSON carries no measurements, so its job must be named."""
    result = run("check", written[1])
    assert result.exit_code == 2
    assert "--job" in result.stderr


def test_a_workbook_that_is_no_saw_list_leaves_with_1(run, tmp_path):
    """A wrong file is told apart from a wrong plan."""
    path = tmp_path / "notes.xlsx"
    path.write_text("no workbook")
    result = run("check", path)
    assert result.exit_code == 1
    assert "is no workbook that can be read" in result.stderr
