"""A fault of the program's own: no plan, no traceback, a report with the job in it that another person can use."""

from __future__ import annotations

import json
import os
import re
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from zipfile import ZipFile

import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

import cutplan
from cutplan.cli.main import main
from cutplan.job import read
from cutplan.plan import make_plan
from cutplan.plan.model import Plan


def ran(*arguments: object) -> Result:
    """The command, whatever it ends with."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def reported(result: Result) -> tuple[Path, dict[str, bytes]]:
    """The report that the block on standard error names, and what is in it."""
    assert result.exit_code == 4, result.output
    assert isinstance(result.exception, SystemExit)
    lines = result.stderr.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("cutplan: this is a bug in cutplan"))
    block = "\n".join(lines[start:])
    assert "Traceback" not in result.output
    assert "Nothing was sent." in block
    found = re.search(
        r"^Nothing was written except this report, which contains the job's files: (.*)$", block, re.MULTILINE
    )
    assert found
    return Path(found[1]), contents(Path(found[1]))


def contents(report: Path) -> dict[str, bytes]:
    """What is in a report, by name."""
    with ZipFile(report) as book:
        return {name: book.read(name) for name in book.namelist()}


def text_of(held: dict[str, bytes]) -> str:
    """What the report says."""
    return held["report.txt"].decode()


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
    path, held = reported(result)
    text = text_of(held)
    assert result.stdout == ""
    assert path == out / "rack bug report.zip"
    assert os.listdir(out) == [path.name]
    assert "the plan failed its own check" in result.stderr
    assert "its length is not that of the blank" in result.stderr
    assert "its length is not that of the blank" in text
    for named in (f"cutplan {cutplan.__version__}", f"python {sys.version.split()[0]}", "ortools 9.", "spares = 1"):
        assert named in text
    data = json.loads(held["plan.json"])
    assert data["plan"]["job"]["settings"]["name"] == "Rack"
    assert data["plan"]["tubes"][0]["bars"][0]["cuts"]


@pytest.mark.usefixtures("wrong_plans")
def test_a_saw_list_that_was_there_stays(job: Path, tmp_path: Path) -> None:
    """A fault leaves what was there before, and a second report does not write over the first."""
    saw = tmp_path / "saw.xlsx"
    saw.write_bytes(b"")
    (tmp_path / "rack bug report.zip").write_text("mine")
    path, _ = reported(ran("plan", job, "--output", saw, "--force"))
    assert path.name == "rack bug report 2.zip"
    assert (tmp_path / "rack bug report.zip").read_text() == "mine"
    assert saw.read_bytes() == b""


@pytest.mark.usefixtures("wrong_plans")
def test_the_buying_options_are_proved_too(job: Path) -> None:
    """What to buy is acted on as much as a saw list is."""
    path, _ = reported(ran("buy", job))
    assert path == job.parent / "rack bug report.zip"


def test_the_rest_after_a_mistake_is_proved_too(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong plan after a mistake is reported with the list as it is, its ticks in it."""
    saw = tmp_path / "saw.xlsx"
    assert ran("plan", job, "--output", saw).exit_code == 0
    book = load_workbook(saw)
    sheet = book["Saw list"]
    row = next(row for row in sheet.iter_rows() if row[0].value == 1)
    row[2].value = "x"
    book.save(saw)
    monkeypatch.setattr("cutplan.plan.recut.rest.make_plan", shortened)
    path, held = reported(ran("recut", saw))
    assert path == tmp_path / "saw bug report.zip"
    assert sorted(os.listdir(tmp_path)) == ["rack", "saw bug report.zip", "saw.xlsx"]
    assert held["sawlist/saw.xlsx"] == saw.read_bytes()


def broken(*_: object, **__: object) -> Plan:
    """A fault within."""
    raise IndexError("tuple index out of range")


def test_any_fault_within_is_reported_without_a_traceback_on_the_screen(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An exception that nobody meant: one block on the screen, the traceback in the report, without folders."""
    monkeypatch.setattr("cutplan.plan.make_plan", broken)
    result = ran("plan", job, "--output", tmp_path / "saw.xlsx")
    _, held = reported(result)
    text = text_of(held)
    assert "IndexError: tuple index out of range" in result.stderr
    assert "Traceback" in text
    assert "in planned" in text
    assert str(Path(cutplan.__file__).parents[1]) not in text
    assert not (tmp_path / "saw.xlsx").exists()


def test_a_job_can_be_made_again_from_its_report(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever gets the report gets the job: its tables, taken out of it, are read as the same job."""
    monkeypatch.setattr("cutplan.plan.make_plan", broken)
    path, _ = reported(ran("plan", job))
    with ZipFile(path) as book:
        book.extractall(tmp_path / "again")
    assert read(tmp_path / "again" / "job" / "rack").job == read(job).job


def test_a_file_that_cannot_be_read_again_is_named(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is gone by then is asked for in its place, and the rest of the report is there."""
    real = Path.read_bytes

    def read_bytes(path: Path) -> bytes:
        if path.name == "Stock.csv":
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    def gone(*_: object, **__: object) -> Plan:
        monkeypatch.setattr(Path, "read_bytes", read_bytes)
        raise IndexError

    monkeypatch.setattr("cutplan.plan.make_plan", gone)
    _, held = reported(ran("plan", job))
    assert "please send it too" in held["job/Stock.csv is missing.txt"].decode()
    assert "job/rack/Members.csv" in held


def test_a_report_that_can_be_written_nowhere_is_reported(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk on top of a fault: still one block, and it says so."""
    from cutplan.output.files import OutputError

    def full(path: Path, writer: object, *, force: bool) -> None:
        raise OutputError(path, "does not fit: the disk is full", "free some space")

    monkeypatch.setattr("cutplan.plan.make_plan", broken)
    monkeypatch.setattr("cutplan.output.files.write_beside", full)
    result = ran("plan", job)
    assert result.exit_code == 4
    assert "Nothing was written, not even a bug report" in result.stderr
    assert "the disk is full" in result.stderr


def test_a_fault_after_writing_reports_what_was_written(job: Path, tmp_path: Path, monkeypatch) -> None:
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
    assert "# Command\n\n  cutplan plan\n" in text_of(contents(job.parent / "rack bug report.zip"))
