"""Writing beside and moving into place: on any failure the old file stays and no half of a new one is left."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from cutplan.output.files import OutputError, write_beside, write_text


def test_a_new_file_replaces_the_old_in_one_step(tmp_path: Path) -> None:
    """Guards that the writer never sees or touches the file in place."""
    path = tmp_path / "list.csv"
    path.write_text("old")

    def writer(beside: Path) -> None:
        assert beside.parent == tmp_path
        assert path.read_text() == "old"
        beside.write_text("new")

    write_beside(path, writer)
    assert path.read_text() == "new"
    assert os.listdir(tmp_path) == ["list.csv"]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EACCES, "close it in the spreadsheet"),
        (errno.EROFS, "cannot be written to"),
        (errno.EIO, "cannot be written"),
    ],
)
def test_a_failing_write_leaves_the_old_file_alone(tmp_path: Path, number: int, words: str) -> None:
    """Guards a full disk, a lock and a bad disk: old content kept, nothing left beside it, the cure named."""
    path = tmp_path / "list.csv"
    path.write_text("old")

    def writer(beside: Path) -> None:
        beside.write_text("half")
        raise OSError(number, os.strerror(number), str(beside))

    with pytest.raises(OutputError, match=words) as caught:
        write_beside(path, writer)
    assert str(path) in str(caught.value)
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["list.csv"]


def test_an_error_without_a_number_says_what_it_says(tmp_path: Path) -> None:
    """Guards what libraries raise on their own: their words, and no cure that belongs to another error."""

    def writer(beside: Path) -> None:
        raise OSError("the archive broke off")

    with pytest.raises(
        OutputError, match=r"cannot be written: the archive broke off; nothing was changed \(write to another file\)"
    ):
        write_beside(tmp_path / "list.csv", writer)
    assert os.listdir(tmp_path) == []


def test_any_other_error_cleans_up_too(tmp_path: Path) -> None:
    """Guards that a fault of ours leaves no stray file either."""

    def writer(beside: Path) -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_beside(tmp_path / "list.csv", writer)
    assert os.listdir(tmp_path) == []


def test_a_missing_folder_is_named_with_its_cure(tmp_path: Path) -> None:
    """Guards the message for a folder that is not there."""
    with pytest.raises(OutputError, match="make the folder first"):
        write_text(tmp_path / "none" / "list.csv", "x")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    """Guards that a folder is not replaced."""
    with pytest.raises(OutputError, match="is a folder"):
        write_text(tmp_path, "x")


def test_without_force_nothing_is_replaced(tmp_path: Path) -> None:
    """Guards what is there already."""
    path = tmp_path / "job.xlsx"
    path.write_text("old")
    with pytest.raises(OutputError, match="already exists"):
        write_text(path, "new", force=False)
    assert path.read_text() == "old"


def test_a_file_open_in_a_spreadsheet_is_not_replaced(tmp_path: Path) -> None:
    """Guards ticks not yet saved: the lock file of LibreOffice or of Excel shows it."""
    path = tmp_path / "list.xlsx"
    path.write_text("old")
    for lock in (".~lock.list.xlsx#", "~$list.xlsx"):
        (tmp_path / lock).write_text("someone")
        with pytest.raises(OutputError, match="close it in the spreadsheet"):
            write_text(path, "new")
        (tmp_path / lock).unlink()
    assert path.read_text() == "old"
