"""``cutplan recut --job``: a job that changed after cutting began, at the command line, through written workbooks."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from openpyxl import load_workbook
from saw_lists import tick
from wording import about

from cutplan.output.opened import read_saw_list


@pytest.fixture
def worked(job, small_list, tmp_path) -> Path:
    """The saw list of the small job, its longest blank cut."""
    path = tmp_path / "saw.xlsx"
    path.write_bytes(small_list)
    tick(path, "done", "LONG")
    return path


def test_a_changed_job_stops_recut_and_names_two_ways_on(run, job, change, worked, tmp_path, as_worded):
    """Nothing goes on by a length that the job no longer has without a word; each of the ways named works."""
    change("Members", "LEG,T,1,yes,600", "LEG,T,1,yes,613")
    result = run("recut", worked)
    assert result.exit_code == 1
    as_worded(result.stderr)
    assert f'--job "{job}"' in result.stderr
    assert "--as-planned" in result.stderr
    assert not (tmp_path / "saw 2.xlsx").exists()
    old = run("recut", worked, "--as-planned")
    assert old.exit_code == 0, old.output
    assert read_saw_list(tmp_path / "saw 2.xlsx").plan.by_mark()["LEG-L"].length == 601
    # What was seen once is not asked again.
    tick(tmp_path / "saw 2.xlsx", "done", "LEG-L")
    assert run("recut", tmp_path / "saw 2.xlsx").exit_code == 0
    new = run("recut", worked, "--job", job)
    assert new.exit_code == 0, new.output
    last = tmp_path / "saw 4.xlsx"
    assert read_saw_list(last).plan.by_mark()["LEG-L"].length == 614
    assert run("check", last, "--job", job).exit_code == 0
    tick(last, "done", "LEG-L")
    assert run("recut", last).exit_code == 0


def test_a_list_and_its_job_may_be_moved_together(run, job, change, worked, tmp_path):
    """The list knows the way from its own folder; alone elsewhere it goes on as it was planned."""
    change("Members", "LEG,T,1,yes,600", "LEG,T,1,yes,613")
    there = tmp_path / "elsewhere"
    shutil.copytree(job, there / job.name)
    shutil.copy(worked, there / "saw.xlsx")
    stopped = run("recut", there / "saw.xlsx")
    assert (stopped.exit_code, "601" in stopped.stderr, "614" in stopped.stderr) == (1, True, True)
    shutil.rmtree(there / job.name)
    assert run("recut", there / "saw.xlsx").exit_code == 0
    assert read_saw_list(there / "saw 2.xlsx").plan.by_mark()["LEG-L"].length == 601


def test_a_job_with_a_fault_stops_recut_too(run, job, change, worked, as_worded):
    """A job half changed is not passed over."""
    change("Members", "LEG,T,1,yes,600", "LEG,T,1,yes,six")
    result = run("recut", worked)
    assert result.exit_code == 1
    as_worded(result.stderr)
    assert run("recut", worked, "--job", job).exit_code == 1
    assert run("recut", worked, "--as-planned").exit_code == 0


def test_what_counts_for_nothing_does_not_stop_recut(run, change, worked):
    """A note, or rows in another order, change no piece."""
    change("Job", "currency,EUR\n", "")
    change("Job", "kerf,2\n", "currency,EUR\nkerf,2\n")
    assert run("recut", worked).exit_code == 0
    assert [made.blank.mark for made in read_saw_list(worked.with_name("saw 2.xlsx")).plan.made] == ["LONG"]


def test_spares_asked_for_are_no_change_to_the_job(run, job, tmp_path):
    """What the command line said stays in the list, and is not taken for a change."""
    path = tmp_path / "saw.xlsx"
    assert run("plan", job, "--spares", "2", "--output", path).exit_code == 0
    tick(path, "done", "LONG")
    assert run("recut", path).exit_code == 0
    assert run("recut", path, "--job", job).exit_code == 0
    assert read_saw_list(tmp_path / "saw 3.xlsx").plan.job.settings.spares == 2


def test_the_note_says_what_is_to_be_done(run, job, change, worked, tmp_path, as_worded):
    """What to take off a sawn blank is on the list and on the next."""
    change("Members", "LONG,T,1,,1500", "LONG,T,1,,1488")
    result = run("recut", worked, "--job", job)
    as_worded(about(result.stdout, "LONG: ", "LONG, ", "LONG is "))
    second = tmp_path / "saw 2.xlsx"
    tick(second, "done", "LEG-L")
    assert run("recut", second).exit_code == 0
    for path in (second, tmp_path / "saw 3.xlsx"):
        assert run("check", path).exit_code == 0
        rows = load_workbook(path)["Saw list"].iter_rows(values_only=True)
        assert any("LONG" in row and "take 12 mm off at either end" in str(row) for row in rows)


def test_wrong_use(run, job, worked, tmp_path, as_worded):
    """Both ways at once, and a list with nothing to do."""
    assert run("recut", worked, "--job", job, "--as-planned").exit_code == 2
    fresh = tmp_path / "fresh.xlsx"
    assert run("plan", job, "--output", fresh).exit_code == 0
    result = run("recut", fresh, "--job", job)
    assert result.exit_code == 2
    as_worded(result.stderr)


def test_before_the_first_cut_bars_count_as_bought(run, job, change, tmp_path):
    """A changed job with nothing ticked is planned on the bars of its list."""
    fresh = tmp_path / "fresh.xlsx"
    assert run("plan", job, "--output", fresh).exit_code == 0
    change("Members", "LEG,T,1,yes,600", "LEG,T,1,yes,560")
    result = run("recut", fresh, "--job", job)
    assert result.exit_code == 0, result.output
    assert "Nothing needs to be bought." in result.stdout


def test_from_python(job, change, worked, run):
    """The front door has both ways."""
    import cutplan
    from cutplan.plan.recut.job_file import JobChangedError

    change("Members", "LEG,T,1,yes,600", "LEG,T,1,yes,613")
    with pytest.raises(JobChangedError, match="LEG-L: was 601 mm, is now 614 mm"):
        cutplan.recut(worked)
    assert cutplan.recut(worked, as_planned=True).plan.by_mark()["LEG-L"].length == 601
    assert cutplan.recut(worked, job=cutplan.read_job(job)).plan.by_mark()["LEG-L"].length == 614


def test_what_is_to_be_done_to_a_piece_when_all_is_cut_is_on_a_list(run, job, change, worked, tmp_path, as_worded):
    """All is cut, and then LONG is to be shorter: a list without a cut says what to take off until it is fitted."""
    tick(worked, "done", "LEG-L", "LEG-R", "TAB", "TAB", "TAB")
    change("Members", "LONG,T,1,,1500", "LONG,T,1,,1480")
    result = run("recut", worked, "--job", job)
    assert result.exit_code == 0, result.output
    as_worded(about(result.stdout, "Everything", "LONG"))
    after = tmp_path / "saw 2.xlsx"
    rows = [[cell.value for cell in row] for row in load_workbook(after)["Saw list"].iter_rows()]
    assert any("LONG" in row and any("take 20 mm off" in str(cell) for cell in row) for row in rows)
    assert run("check", after, "--job", job).exit_code == 0
    as_worded(about(run("next", after).stdout, "LONG"))
    assert run("print", after, "--output", tmp_path / "pack.pdf").exit_code == 0
    tick(after, "fitted", "LONG")
    as_worded(run("recut", after).stdout)
    assert not (tmp_path / "saw 3.xlsx").exists()
    assert run("rack", "finish", after, tmp_path / "rack.csv").exit_code == 0


def test_a_list_goes_on_where_a_fitted_piece_is_now_longer_in_the_job(run, job, change, worked, tmp_path, as_worded):
    """It is listed as long as it is; every command takes that list, and the next list too."""
    tick(worked, "fitted", "LONG")
    change("Members", "LONG,T,1,,1500", "LONG,T,1,,1520")
    result = run("recut", worked, "--job", job)
    assert result.exit_code == 0, result.output
    as_worded(about(result.stdout, "LONG: ", "LONG, ", "LONG is "))
    after = tmp_path / "saw 2.xlsx"
    for command in (["next", after], ["check", after], ["check", after, "--job", job]):
        assert run(*command).exit_code == 0, run(*command).output
    tick(after, "done", "LEG-L")
    result = run("recut", after)
    assert result.exit_code == 0, result.output
    for command in (["next", tmp_path / "saw 3.xlsx"], ["check", tmp_path / "saw 3.xlsx", "--job", job]):
        assert run(*command).exit_code == 0, run(*command).output
