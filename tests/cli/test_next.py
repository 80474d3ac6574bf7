"""``cutplan next``: where a job stands, by the ticks on its list."""

from __future__ import annotations

from pathlib import Path

import pytest
from saw_lists import tick


@pytest.fixture
def saw_list(run, job, tmp_path) -> Path:
    """The saw list of the small job: LONG, the legs, three tabs; cuts 1 to 6."""
    path = tmp_path / "saw.xlsx"
    assert run("plan", job, "--output", path).exit_code == 0
    return path


def test_before_the_first_cut(run, saw_list, as_worded):
    """All is to be bought and cut; what a mistake at the next cut means is shown below it."""
    said = run("next", saw_list).stdout
    assert "Fitted" not in said
    as_worded(said)
    assert said.count("3000 mm of T") == 2


def test_half_way(run, saw_list, job, change, as_worded):
    """Fitted, sawn, spoilt, what is next, and that the job has changed."""
    tick(saw_list, "fitted", 1)
    tick(saw_list, "done", 2, 3)
    tick(saw_list, "spoilt", 4)
    change("Members", "LEG,T,1,yes,600", "LEG,T,1,yes,613")
    said = run("next", saw_list).stdout
    as_worded(said)
    assert said.count("3000 mm of T") == 1


def test_what_is_estimated_is_to_be_measured(run, saw_list, job, change, tmp_path, as_worded):
    """It is no next cut: it has no length."""
    change("Members", "LONG,T,1,,1500", "LONG,T,1,,1500 ± 20")
    path = tmp_path / "doubt.xlsx"
    assert run("plan", job, "--output", path).exit_code == 0
    said = run("next", path).stdout
    as_worded(said)
    assert "LONG, 1" not in said


def test_all_cut(run, saw_list, as_worded):
    """Nothing is next."""
    tick(saw_list, "done", *range(1, 7))
    said = run("next", saw_list).stdout
    as_worded(said)
    assert "TAB (3)" in said


def test_what_to_measure_against_and_that_nothing_comes_before_it(run, saw_list, job, change, tmp_path, as_worded):
    """A leg that lands on LONG is measured against that once it is cut; with nothing else left, no cut is next."""
    change("Members", "LEG,T,1,yes,600,", "LEG,T,1,yes,600 ± 20,")
    path = tmp_path / "doubt.xlsx"
    assert run("plan", job, "--output", path).exit_code == 0
    assert "Measure now" not in run("next", path).stdout
    tick(path, "done", *range(1, 5))
    said = run("next", path).stdout
    as_worded(said)
