"""Guards ``cutplan wrap``: a file that can be printed, and no other file harmed."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize(("name", "begins"), [("w.pdf", b"%PDF"), ("w.svg", b"<"), ("W.PDF", b"%PDF")])
def test_the_ending_says_what_is_written(run, job, tmp_path, name, begins, as_worded):
    """A PDF or an SVG, as the file is called."""
    path = tmp_path / name
    result = run("wrap", job, "LEG-L", "--output", path)
    assert result.exit_code == 0
    as_worded(result.stdout)
    assert path.read_bytes().startswith(begins)


def test_the_mark_is_the_name_and_is_not_written_over(run, job, tmp_path, monkeypatch, as_worded):
    """Without ``--output`` the file is called after the mark, and one that is there stays."""
    monkeypatch.chdir(tmp_path)
    assert run("wrap", job, "leg-r").exit_code == 0
    before = (tmp_path / "LEG-R.pdf").read_bytes()
    result = run("wrap", job, "LEG-R")
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert (tmp_path / "LEG-R.pdf").read_bytes() == before


def test_a_mark_that_is_no_file_name_is_written_all_the_same(run, job, change, tmp_path, monkeypatch):
    """A slash in a mark leads into no other folder; and without a mark the whole frame goes into one file."""
    monkeypatch.chdir(tmp_path)
    change("Members", "LEG,T,1,yes", "LEG 1/2,T,1,")
    assert run("wrap", job, "leg 1/2").exit_code == 0
    assert (tmp_path / "LEG 1-2.pdf").is_file()
    assert run("wrap", job).exit_code == 0
    assert (tmp_path / "wraps.pdf").is_file()


def test_another_ending_is_wrong_use(run, job, tmp_path):
    """A slip of the ending does not turn a workbook into a drawing."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(b"measurements")
    result = run("wrap", job, "LEG-L", "--output", path)
    assert result.exit_code == 2
    assert path.read_bytes() == b"measurements"


def test_square_ends_need_no_wrap(run, job, tmp_path, as_worded):
    """A member with nothing to mark is said to be so, and no empty drawing is left."""
    result = run("wrap", job, "LONG", "--output", tmp_path / "w.pdf")
    assert result.exit_code == 1
    as_worded(result.stderr)
    assert not (tmp_path / "w.pdf").exists()


def test_an_unknown_mark_is_wrong_use(run, job, as_worded):
    """The marks there are stand in the message."""
    result = run("wrap", job, "LAG")
    assert result.exit_code == 2
    as_worded(result.stderr)
