"""Too little stock, as a person meets it: by ``plan``, ``buy`` and ``recut``."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook
from wording import Worded

from cutplan.nesting import partial


def tables(folder: Path, stock: str, members: str, settings: str = "") -> Path:
    """A job of one tube as a folder."""
    folder.mkdir()
    (folder / "Job.csv").write_text(f"setting,value\nname,Gate\nkerf,2\nstep,0.5\n{settings}")
    (folder / "Tubes.csv").write_text("tube,od,wall\nT,38,2\n")
    (folder / "Stock.csv").write_text(f"tube,length,price,available,from\n{stock}")
    (folder / "Members.csv").write_text(f"mark,tube,qty,length\n{members}")
    return folder


@pytest.mark.parametrize("count", [12, 18, 40, 400])
@pytest.mark.parametrize("command", ["plan", "buy"])
def test_one_bar_for_many_of_a_kind(tmp_path: Path, run, command: str, count: int) -> None:
    """11 of 500 and their kerfs fill a bar of 6000, however many are asked for; each further bar takes 11 more."""
    job = tables(tmp_path / "gate", "T,6000,,1,rack\nT,6000,50,0,buy\n", f"P,T,{count},500\n", "spares,0\n")
    result = run(command, job)
    assert result.exit_code == 3
    for figure in ("11 x P", f"{count - 11} x P", f"{-(-(count - 11) // 11)} x 6000 mm of T"):
        assert f": {figure}" in result.stdout


def test_a_recut_that_is_stuck(tmp_path: Path, run, as_worded: Worded) -> None:
    """Two bars of 6000 for 18 of 600; one is done and three are spoilt with nothing good: from what is left, 14 more
    can be cut (by hand: 3590 and 6000 less nothing; 5 and 9), the fifteenth and the rest not."""
    job = tables(tmp_path / "gate", "T,6000,,2,rack\n", "P,T,18,600\n", "spares,0\n")
    made = tmp_path / "list.xlsx"
    assert run("plan", job, "--output", made).exit_code == 0
    book = load_workbook(made)
    rows = list(book["Saw list"].iter_rows())
    headings = next(row for row in rows if row[0].value == "cut")
    at = {str(cell.value).split(" (")[0]: cell.column for cell in headings}
    for row in rows:
        if row[0].value == 1:
            book["Saw list"].cell(row[0].row, at["done"]).value = "x"
        elif row[0].value in (2, 3, 4):
            book["Saw list"].cell(row[0].row, at["spoilt"]).value = "x"
            book["Saw list"].cell(row[0].row, at["still good"]).value = 0
    book.save(made)
    result = run("recut", made)
    assert result.exit_code == 3
    as_worded(result.stdout)


def test_what_to_buy_is_reported_even_if_the_rest_fails(
    tmp_path: Path, run, monkeypatch: pytest.MonkeyPatch, as_worded: Worded
) -> None:
    """A fault in working out what can be cut costs no more than that line."""

    def broken(*_: object) -> None:
        raise OverflowError("too large")

    monkeypatch.setattr(partial._Least, "run", broken)
    job = tables(tmp_path / "gate", "T,6000,,1,rack\nT,6000,50,0,buy\n", "P,T,18,500\n", "spares,0\n")
    result = run("plan", job)
    assert result.exit_code == 3
    as_worded(result.stdout)


def test_what_is_not_proven_is_not_called_proven(tmp_path: Path, run) -> None:
    """With hardly any time: found, and said so."""
    members = "".join(f"M{k},T,2,{1203 + 37 * k % 800}\n" for k in range(60))
    job = tables(tmp_path / "gate", "T,6000,,18,rack\nT,6000,50,0,buy\n", members, "spares,0\n")
    result = run("plan", job, "--time-limit", "0.01")
    said = " ".join(result.stdout.split())
    if result.exit_code == 3:
        assert "Can be cut (more may be possible)" in said or "Can be cut:" in said
    else:
        assert result.exit_code == 2
        assert "no plan was found in the time given" in result.stderr
