"""A fault of the program's own: no plan, no traceback, a report with the job in it that another person can use."""

from __future__ import annotations

import csv
import json
import os
import re
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

import cutplan
from cutplan.cli.bug import inert
from cutplan.cli.main import main
from cutplan.job import read
from cutplan.plan import make_plan
from cutplan.plan.model import Plan

FORMULA = re.compile(r"(?:^|[\",;|\t])[=+\-@]", re.MULTILINE)


def ran(*arguments: object) -> Result:
    """The command, whatever it ends with."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def reported(result: Result) -> tuple[Path, str]:
    """The report that the block on standard error names, and its text."""
    assert result.exit_code == 4, result.output
    assert isinstance(result.exception, SystemExit)
    lines = result.stderr.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("cutplan: this is a bug in cutplan"))
    block = "\n".join(lines[start:])
    assert "Traceback" not in result.output
    assert "Nothing was sent." in block
    found = re.search(
        r"^Nothing was written except this report, which contains the job's tables: (.*)$", block, re.MULTILINE
    )
    assert found
    return Path(found[1]), Path(found[1]).read_text(encoding="utf-8")


def shortened(*arguments: object, **options: object) -> Plan:
    """A plan as a broken solver would make it: its first blank is 1 mm too short."""
    plan = make_plan(*arguments, **options)
    tube = plan.tubes[0]
    bar = tube.bars[0]
    cut = replace(bar.cuts[0], blank=bar.cuts[0].blank - Fraction(1))
    bar = replace(bar, cuts=(cut, *bar.cuts[1:]))
    return replace(plan, tubes=(replace(tube, bars=(bar, *tube.bars[1:])), *plan.tubes[1:]))


@pytest.fixture
def wrong_plans(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every plan comes out wrong."""
    for module in ("cutplan.plan", "cutplan.plan.options", "cutplan.plan.recut.rest"):
        monkeypatch.setattr(f"{module}.make_plan", shortened)


@pytest.mark.usefixtures("wrong_plans")
def test_a_wrong_plan_is_reported_and_never_written(job: Path, tmp_path: Path) -> None:
    """The whole of it: nothing of the plan on the screen or on the disk, and all that is needed in the report."""
    out = tmp_path / "out"
    out.mkdir()
    targets = [out / f"saw.{end}" for end in ("xlsx", "csv", "json")]
    result = ran("plan", job, "--output", targets[0], "--csv", targets[1], "--json", targets[2], "--spares", 1)
    path, text = reported(result)
    assert result.stdout == ""
    assert path == out / "rack bug report.txt"
    assert os.listdir(out) == [path.name]
    assert "the plan failed its own check" in result.stderr
    assert "is not the length of its blank" in result.stderr
    assert "is not the length of its blank" in text
    for named in (f"cutplan {cutplan.__version__}", f"python {sys.version.split()[0]}", "ortools 9.", "spares = 1"):
        assert named in text
    data = json.loads(text.split("# The job as read, and the plan\n\n")[1].split("\n\n# ")[0])
    assert data["plan"]["job"]["settings"]["name"] == "Rack"
    assert data["plan"]["tubes"][0]["bars"][0]["cuts"]


@pytest.mark.usefixtures("wrong_plans")
def test_a_saw_list_that_was_there_stays(job: Path, tmp_path: Path) -> None:
    """A fault leaves what was there before, and a second report does not write over the first."""
    saw = tmp_path / "saw.xlsx"
    saw.write_bytes(b"")
    (tmp_path / "rack bug report.txt").write_text("mine")
    path, _ = reported(ran("plan", job, "--output", saw, "--force"))
    assert path.name == "rack bug report 2.txt"
    assert (tmp_path / "rack bug report.txt").read_text() == "mine"
    assert saw.read_bytes() == b""


@pytest.mark.usefixtures("wrong_plans")
def test_the_buying_options_are_proved_too(job: Path) -> None:
    """What to buy is acted on as much as a saw list is."""
    path, _ = reported(ran("buy", job))
    assert path == job.parent / "rack bug report.txt"


def test_the_rest_after_a_mistake_is_proved_too(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong plan after a mistake is reported with the list, its ticks and what was read of it."""
    saw = tmp_path / "saw.xlsx"
    assert ran("plan", job, "--output", saw).exit_code == 0
    book = load_workbook(saw)
    sheet = book["Saw list"]
    row = next(row for row in sheet.iter_rows() if row[0].value == 1)
    row[2].value = "x"
    book.save(saw)
    monkeypatch.setattr("cutplan.plan.recut.rest.make_plan", shortened)
    path, text = reported(ran("recut", saw))
    assert path == tmp_path / "saw bug report.txt"
    assert sorted(os.listdir(tmp_path)) == ["rack", "saw bug report.txt", "saw.xlsx"]
    ticked = json.loads(text.split("# Saw list saw.xlsx\n\n")[1].split("\n\n")[0])
    assert [(tick["cut"], tick["spoilt"]) for tick in ticked["ticked"]] == [(1, True)]


def broken(*_: object, **__: object) -> Plan:
    """A fault within."""
    raise IndexError("tuple index out of range")


def test_any_fault_within_is_reported_without_a_traceback_on_the_screen(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An exception that nobody meant: one block on the screen, the traceback in the report, without folders."""
    monkeypatch.setattr("cutplan.plan.make_plan", broken)
    result = ran("plan", job, "--output", tmp_path / "saw.xlsx")
    _, text = reported(result)
    assert "IndexError: tuple index out of range" in result.stderr
    assert "Traceback" in text
    assert "in planned" in text
    assert str(Path(cutplan.__file__).parents[1]) not in text
    assert not (tmp_path / "saw.xlsx").exists()


def test_a_job_can_be_made_again_from_its_report(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever gets the report gets the job: its tables, written out again, are read as the same job."""
    monkeypatch.setattr("cutplan.plan.make_plan", broken)
    _, text = reported(ran("plan", job))
    again = tmp_path / "again"
    again.mkdir()
    for name, rows in json.loads(text.split("# Tables of the job rack\n\n")[1]).items():
        with (again / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(row[1:] for row in rows)
    assert read(again).job == read(job).job


def test_marks_that_look_like_formulas_are_dead_in_the_report(job: Path, change, monkeypatch) -> None:
    """No spreadsheet that is made to open the report finds a formula in it, at the beginning of a line or of a cell."""
    change("Members", "insured\n", "insured,note\n")
    change("Members", "no\n", 'no,"=HYPERLINK(""x"",""y"")"\n')
    change("Stock", ",R1", ",+1")
    for patched in (broken, shortened):
        monkeypatch.setattr("cutplan.plan.make_plan", patched)
        path, text = reported(ran("plan", job, "--output", job.parent / "saw.xlsx"))
        assert not FORMULA.search(text), FORMULA.search(text)
        assert "HYPERLINK" in text
        path.unlink()


@pytest.mark.parametrize("text", ["=1", "a;=1", 'b"=1', "+,-1", "@x|=2", "\t=1", "line\n=1", "Ø=1", "plain"])
def test_what_is_made_inert_says_the_same(text: str) -> None:
    """The spelling that takes the life out of a text does not change it."""
    written = inert({text: [[text, 1, None, 1.5], [True, text]], "nested": {"a": text}})
    assert json.loads(written) == {text: [[text, 1, None, 1.5], [True, text]], "nested": {"a": text}}
    assert not FORMULA.search(written)


def test_a_report_that_can_be_written_nowhere_is_reported(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk on top of a fault: still one block, and it says so."""
    from cutplan.output.files import OutputError

    def full(path: Path, text: str, *, force: bool) -> None:
        raise OutputError(path, "does not fit: the disk is full", "free some space")

    monkeypatch.setattr("cutplan.plan.make_plan", broken)
    monkeypatch.setattr("cutplan.output.files.write_text", full)
    result = ran("plan", job)
    assert result.exit_code == 4
    assert "Nothing was written, not even a bug report" in result.stderr
    assert "the disk is full" in result.stderr


def test_a_fault_after_writing_tells_what_was_written(job: Path, tmp_path: Path, monkeypatch) -> None:
    """The saw list is whole and there; only showing it failed, and both are said."""
    monkeypatch.setattr("cutplan.output.terminal.show_plan", broken)
    saw = tmp_path / "saw.xlsx"
    result = ran("plan", job, "--output", saw)
    assert result.exit_code == 4
    assert "Nothing more was written except this report" in result.stderr
    assert result.stderr.splitlines()[-1] == f"written: {saw}"
    assert ran("check", saw).exit_code == 0


def test_the_block_comes_from_a_process_of_its_own_too(job: Path, start) -> None:
    """Without the test's runner around it: exit code 4, no traceback, and Python adds nothing."""
    script = "import sys, cutplan.plan\ndef broken(*a, **k): raise KeyError('x')\ncutplan.plan.make_plan = broken\n"
    script += "from cutplan.cli.main import main\nmain(['plan', sys.argv[1]], prog_name='cutplan')"
    with start(job, code=script) as process:
        _, err = process.communicate(60)
    assert process.returncode == 4
    assert len(err.splitlines()) == 3
    assert "KeyError: 'x'" in err
    assert "# Command\n\n  cutplan plan\n" in (job.parent / "rack bug report.txt").read_text(encoding="utf-8")
