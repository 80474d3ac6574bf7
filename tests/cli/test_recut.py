"""Guards ``cutplan recut``: ticks in, the rest planned, the old list untouched."""

from __future__ import annotations

import json
import os
from functools import partial

import pytest
from openpyxl import load_workbook
from saw_lists import tick


@pytest.fixture
def worked(job, small_list, tmp_path):
    """The saw list of the small job, and how to tick cuts of it by mark."""
    path = tmp_path / "saw.xlsx"
    path.write_bytes(small_list)
    return path, partial(tick, path)


def test_what_is_done_is_not_cut_again_and_what_is_spoilt_is(run, worked):
    """The rest of the small job after its long blank was spoilt: that one again, and what was not yet cut."""
    path, tick = worked
    tick("spoilt", "LONG")
    before = path.read_bytes()
    result = run("recut", path, "--json", "-")
    assert result.exit_code == 0
    plan = json.loads(result.stdout)
    cuts = [cut["mark"] for tube in plan["tubes"] for bar in tube["bars"] for cut in bar["cuts"]]
    assert sorted(cuts) == ["LEG-L", "LEG-R", "LONG", "TAB", "TAB", "TAB"]
    assert plan["cost"] == 0
    assert path.read_bytes() == before
    assert run("check", path.with_name("saw 2.xlsx")).exit_code == 0


def test_the_new_list_is_beside_the_old_one(run, worked, tmp_path):
    """Without ``--output`` the next free number is taken, and the text says what changed."""
    path, tick = worked
    tick("done", "LONG")
    result = run("recut", path)
    assert result.exit_code == 0
    assert f"written: {tmp_path / 'saw 2.xlsx'}" in result.stderr
    assert "Saw list" in result.stdout
    assert run("recut", path, "--output", path).exit_code == 2


def test_everything_cut_needs_no_new_list(run, worked, tmp_path):
    """The last tick ends the job."""
    path, tick = worked
    tick("done", "LONG", "LEG-L", "LEG-R", "TAB", "TAB", "TAB")
    result = run("recut", path)
    assert result.exit_code == 0
    assert "Everything is cut" in result.stdout
    assert not (tmp_path / "saw 2.xlsx").exists()


def test_a_list_without_ticks_is_wrong_use(run, worked, tmp_path):
    """Where nothing is ticked there is nothing to plan again."""
    result = run("recut", worked[0])
    assert result.exit_code == 2
    assert "nothing is ticked" in result.stderr
    assert not (tmp_path / "saw 2.xlsx").exists()


def test_a_workbook_that_is_no_saw_list_leaves_with_1(run, job, tmp_path):
    """Only a saw list carries a plan to go on from."""
    path = tmp_path / "notes.xlsx"
    path.write_text("no workbook")
    result = run("recut", path)
    assert result.exit_code == 1
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("write", "said"),
    [
        (lambda sheet: sheet.__setitem__("B7", "=TRUE()"), 'Saw list row 7, done: "=TRUE()": was never calculated'),
        (lambda sheet: sheet.__setitem__("D7", "=600-20"), 'Saw list row 7, still good: "=600-20": was never'),
        (lambda sheet: sheet.merge_cells("B7:B9"), "Saw list rows 7 to 9: contain merged cells"),
    ],
)
def test_an_entry_that_would_be_taken_for_none_is_reported(run, worked, write, said):
    """A formula without a result and one x joined over several cuts read as empty cells: neither is passed over."""
    path, tick = worked
    tick("done", "LONG")
    book = load_workbook(path)
    write(book["Saw list"])
    book.save(path)
    result = run("recut", path)
    assert result.exit_code == 1
    assert said in result.stderr


def test_a_name_that_is_taken_is_reported_before_anything_is_planned(run, worked):
    """The changes are not reported as if they were made."""
    path, tick = worked
    tick("spoilt", "LONG")
    there = path.with_name("there.xlsx")
    there.write_bytes(path.read_bytes())
    result = run("recut", path, "--output", there)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "there.xlsx already exists and may have ticks" in result.stderr


def test_the_new_list_is_written_whoever_reads_on(worked, start):
    """A reader that takes a line and goes, as ``| head`` does, leaves the list whole."""
    path, tick = worked
    tick("spoilt", "LONG")
    near, far = os.pipe()
    os.close(near)
    with start("recut", path, stdout=far) as process:
        process.communicate(60)
    os.close(far)
    assert process.returncode == 141
    assert load_workbook(path.with_name("saw 2.xlsx")).sheetnames[1] == "Saw list"
