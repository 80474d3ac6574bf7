"""A job with estimates through the commands: what is shown of them, and that no list gives a length to saw."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from openpyxl import load_workbook
from saw_lists import tick
from wording import about

from cutplan.output.opened import read_saw_list

EXAMPLE = Path(__file__).parents[2] / "examples" / "roll-bar-in-place"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The example's saw list, JSON and CSV."""
    from click.testing import CliRunner

    from cutplan.cli.main import main

    folder = tmp_path_factory.mktemp("made")
    files = [str(folder / name) for name in ("list.xlsx", "plan.json", "list.csv")]
    asked = ["plan", str(EXAMPLE), "--output", files[0], "--json", files[1], "--csv", files[2]]
    return CliRunner().invoke(main, asked), [Path(file) for file in files]


def test_every_output_says_measure_first(made, as_worded):
    """Terminal, saw list, CSV and JSON name the range, and none of them the greatest length as one to saw."""
    result, (book, plan, table) = made
    assert result.exit_code == 0
    assert "????" in result.stdout
    as_worded(about(result.stdout, "STAY-L, STAY-R, DIAG, TIE"))
    sheet = load_workbook(book)["Saw list"]
    shown = {row[5]: row[6] for row in sheet.iter_rows(values_only=True) if isinstance(row[0], int)}
    as_worded(shown["DIAG"])
    assert shown["HOOP"] == 2821
    (line,) = [line for line in table.read_text(encoding="utf-8").splitlines() if ",DIAG," in line]
    assert ",DIAG,,cope" in line
    assert "1243.0 to 1333.0" in line
    data = json.loads(plan.read_text(encoding="utf-8"))
    (diag,) = [one for one in data["members"] if one["mark"] == "DIAG"]
    assert diag["estimate"] == {"least": 1243, "likely": 1288, "greatest": 1333}
    cuts = {cut["mark"]: cut for tube in data["tubes"] for bar in tube["bars"] for cut in bar["cuts"]}
    assert cuts["DIAG"]["measure_first"] is True
    assert "measure_first" not in cuts["HOOP"]


def test_nothing_shows_how_to_make_what_is_not_measured(made):
    """Marks, rough cuts and bends are those of the known members alone."""
    _, (book, *_) = made
    sheets = load_workbook(book)
    reported = {str(row[0]) for row in sheets["Making"].iter_rows(values_only=True)}
    assert any("HB" in text for text in reported)
    assert not any(mark in text for text in reported for mark in ("STAY", "DIAG", "TIE"))


def test_both_files_pass_the_check_and_a_changed_one_does_not(made, run, tmp_path, as_worded):
    """A saw list whose cell names a length after all, or a JSON with a smaller range, is refused."""
    _, (book, plan, _) = made
    assert run("check", book, "--job", EXAMPLE).exit_code == 0
    assert run("check", plan, "--job", EXAMPLE).exit_code == 0
    changed = load_workbook(book)
    for row in changed["Saw list"].iter_rows():
        if row[5].value == "DIAG":
            row[6].value = 1333
    changed.save(tmp_path / "changed.xlsx")
    as_worded(run("check", tmp_path / "changed.xlsx").stdout)
    data = json.loads(plan.read_text(encoding="utf-8"))
    next(one for one in data["members"] if one["mark"] == "DIAG")["estimate"]["least"] = 1300
    (tmp_path / "changed.json").write_text(json.dumps(data), encoding="utf-8")
    result = run("check", tmp_path / "changed.json", "--job", EXAMPLE)
    assert result.exit_code == 1
    as_worded(about(result.stderr, "DIAG"))


def test_a_tick_on_an_estimate_stops_recut(made, run, tmp_path, as_worded):
    """The reason is given, and nothing is written."""
    _, (book, *_) = made
    ticked = Path(shutil.copy(book, tmp_path / "ticked.xlsx"))
    tick(ticked, "done", "DIAG")
    result = run("recut", ticked, "--output", tmp_path / "rest.xlsx")
    assert result.exit_code == 1
    as_worded(result.stderr)
    assert not (tmp_path / "rest.xlsx").exists()


def test_lengths_and_wraps_of_an_estimate(run, tmp_path, as_worded):
    """Its range is where the length would be, its sum ends in the room kept, and a wrap waits for the measurement."""
    shown = run("lengths", EXAMPLE).stdout
    assert "1243.0 to 1333.0" in shown
    one = run("lengths", EXAMPLE, "--member", "DIAG").stdout
    as_worded(one)
    refused = run("wrap", EXAMPLE, "DIAG", "--output", tmp_path / "diag.pdf")
    assert refused.exit_code == 2
    as_worded(refused.stderr)
    whole = run("wrap", EXAMPLE, "--output", tmp_path / "all.svg")
    assert whole.exit_code == 0
    as_worded(about(whole.stderr, "DIAG"))


def test_buy_says_what_not_knowing_costs(run, as_worded):
    """The price at the greatest and at the likely lengths, and which members to measure before ordering."""
    text = run("buy", EXAMPLE).stdout
    as_worded(about(text, "38x2.5 with", "24.80 EUR."))
    tubes = json.loads(run("buy", EXAMPLE, "--json", "-").stdout)["measuring"]
    assert [one["tube"] for one in tubes] == ["38x2.5", "30x2"]
    assert tubes[0]["fewest"] == {"members": ["STAY"], "least": 24.8, "most": 24.8}
    assert tubes[1]["fewest"] is None


def test_without_time_it_says_that_it_does_not_know(run, monkeypatch, as_worded):
    """Where the search for savings is cut short before there is a price, the options are shown all the same."""
    from cutplan.plan import measuring
    from cutplan.plan.model import NoPlanInTimeError

    def late(*_, **__):
        raise NoPlanInTimeError

    monkeypatch.setattr(measuring, "measuring_first", late)
    result = run("buy", EXAMPLE)
    assert result.exit_code == 0
    assert "Option 1" in result.stdout
    as_worded(result.stderr)


def test_once_measured_the_rest_is_planned_with_its_length(made, run, tmp_path, as_worded):
    """The hoop cut, the stays measured: the new list has their length, also where it is just the greatest that was
    allowed for, and nothing needs to be bought."""
    _, (book, *_) = made
    ticked = Path(shutil.copy(book, tmp_path / "ticked.xlsx"))
    tick(ticked, "done", "HOOP")
    job = tmp_path / "job"
    shutil.copytree(EXAMPLE, job)
    text = (job / "Members.csv").read_text(encoding="utf-8")
    for old, new in (
        ("850 ± 40", "861 ± 1"),
        ("52 to 60", "57"),
        ("1240 to 1330", "1330"),
        ("48 ± 4", "48"),
        ("42 ± 4", "42"),
    ):
        assert old in text
        text = text.replace(old, new)
    (job / "Members.csv").write_text(text, encoding="utf-8")
    result = run("recut", ticked, "--job", job, "--output", tmp_path / "rest.xlsx")
    assert result.exit_code == 0
    assert read_saw_list(tmp_path / "rest.xlsx").plan.buy == ()
    as_worded(about(result.stdout, "STAY-L: ", ": TIE"))
    sheet = load_workbook(tmp_path / "rest.xlsx")["Saw list"]
    shown = {row[5]: row[6] for row in sheet.iter_rows(values_only=True) if isinstance(row[0], int)}
    assert (shown["STAY-L"], shown["DIAG"]) == (885.5, 1333)
    assert run("check", tmp_path / "rest.xlsx", "--job", job).exit_code == 0
