"""Guards ``cutplan plan``: its codes, its text, its files, and the JSON that it promises to other programs."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner
from saw_lists import tick
from wording import Worded, about

from cutplan.cli.main import main
from cutplan.output.opened import read_saw_list
from cutplan.plan import complaints, prepare

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("sand-rail-bay", "ladder-frame", "hand-rail", "buggy-rear", "dinghy-trolley")

PLAN = {"job", "units", "cost", "bound", "proven", "buy", "tubes", "members"}
KEYS = {
    "buy": {"tube", "length", "count", "price", "cost"},
    "tubes": {"tube", "cost", "bound", "proven", "bars", "spares"},
    "bars": {"bar", "from", "label", "length", "price", "cuts", "offcut"},
    "cuts": {"cut", "mark", "blank", "start", "end", "left", "if_spoilt"},
    "spares": {"wanted", "length", "insured", "not_insured"},
    "members": {"mark", "tube", "blank", "parts"},
    "parts": {"what", "length"},
    "if_spoilt": {"bar", "how"},
    "layout": {"bar", "marks"},
    "made": {"mark", "tube", "count"},
    "early": {"cut", "mark", "onto", "onto_cut"},
}
"""The promised keys of every object, by the name it is under."""
AT_TIMES = {
    "plan": {"made", "early"},
    "cuts": {"shared", "flipped", "stage"},
    "spares": {"fitted"},
    "if_spoilt": {"layout", "following"},
}
"""Keys that are there where there is something to report, as the README says."""


def odd_keys(data: dict, promised: set[str], where: str) -> list[str]:
    """Where the keys of ``data``, or of anything in it, are not the promised ones."""
    keys = set(data) - AT_TIMES.get(where.rpartition(".")[2], set())
    odd = [] if keys == promised else [f"{where}: {sorted(keys ^ promised)}"]
    for name, value in data.items():
        for item in value if isinstance(value, list) else [value]:
            if isinstance(item, dict):
                odd += odd_keys(item, KEYS[name], f"{where}.{name}")
    return odd


@pytest.mark.parametrize("name", NAMES)
def test_an_example_is_planned_and_proven(run, tmp_path, name, as_worded):
    """Each example ends with a proven plan that holds when checked again, in text, JSON and workbook."""
    book, data = tmp_path / "saw.xlsx", tmp_path / "plan.json"
    result = run("plan", EXAMPLES / f"{name}.xlsx", "--output", book, "--json", data)
    assert result.exit_code == 0
    as_worded(about(result.stdout, "Cost", "Proven"), result.stderr)
    plan = json.loads(data.read_text(encoding="utf-8"))
    assert odd_keys(plan, PLAN, "plan") == []
    assert plan["proven"] is True
    assert plan["bound"] == plan["cost"] == pytest.approx(sum(line["cost"] for line in plan["buy"]))
    written = read_saw_list(book)
    assert {"Buy", "Saw list", "Bars in hand", "Members", "Making", "Notes"} <= written.book.seen
    assert complaints(written.plan) == ()


@pytest.mark.parametrize("name", ["sand-rail-bay", "ladder-frame"])
def test_the_json_alone_proves_its_cuts(run, name):
    """A reader of the JSON can redo every length with a pocket calculator: kerfs, trims, what is left."""
    result = run("plan", EXAMPLES / name, "--json", "-")
    plan = json.loads(result.stdout)
    settings = prepare(EXAMPLES / name).job.settings
    unit = settings.units.mm
    blanks = {member["mark"]: member for member in plan["members"]}
    numbers = []
    for bar in [bar for tube in plan["tubes"] for bar in tube["bars"]]:
        trim = settings.end_trim if bar["from"] == "buy" else Fraction(0)
        at = Fraction(0)
        for cut in bar["cuts"]:
            start, end, left = (Fraction(cut[key]) * unit for key in ("start", "end", "left"))
            assert start == at
            assert end - start == Fraction(cut["blank"]) * unit
            assert cut["blank"] == blanks[cut["mark"]]["blank"]
            at = end + settings.kerf
            assert left == Fraction(bar["length"]) * unit - trim - at
            assert left >= trim + settings.saw_hold
            numbers.append(cut["cut"])
        assert bar["offcut"] == (bar["cuts"][-1]["left"] if bar["cuts"] else bar["length"])
    assert sorted(numbers) == list(range(1, len(numbers) + 1))
    for member in plan["members"]:
        assert sum(part["length"] for part in member["parts"]) == pytest.approx(member["blank"], abs=1e-5)


def test_json_on_standard_output_is_nothing_but_json(run, job):
    """``--json -`` can be piped into another program; remarks do not get in its way."""
    result = run("plan", job, "--json", "-")
    assert result.exit_code == 0
    plan = json.loads(result.stdout)
    assert (plan["job"], plan["units"], plan["cost"]) == ("Rack", "mm", 40)
    assert plan["buy"] == [{"tube": "T", "length": 3000, "count": 2, "price": 20, "cost": 40}]


def test_unpriced_json_counts_length(run, job, change):
    """Without prices no cost is given but the length bought, in the job's units."""
    change("Stock", "3000,20", "3000,")
    plan = json.loads(run("plan", job, "--json", "-").stdout)
    assert plan["cost"] is plan["bound"] is None
    assert plan["bought"] == plan["bought_bound"] == 6000
    assert plan["buy"] == [{"tube": "T", "length": 3000, "count": 2, "price": None, "cost": None}]


_HASHES = """
import hashlib, pathlib, sys
from cutplan.output.as_json import dump, plan_json
from cutplan.output.workbook import saw_list_bytes
from cutplan.plan import make_plan, prepare
for path in sys.argv[1:]:
    prepared = prepare(pathlib.Path(path))
    plan = make_plan(prepared.job, prepared.blanks)
    print(hashlib.sha256(dump(plan_json(plan)).encode()).hexdigest())
    print(hashlib.sha256(saw_list_bytes(plan)).hexdigest())
"""


def test_the_same_job_gives_the_same_bytes():
    """Neither JSON nor workbook depends on the process or its hash seed."""
    paths = [str(EXAMPLES / name) for name in NAMES[:2]]
    runs = [
        subprocess.check_output(
            [sys.executable, "-c", _HASHES, *paths], env={**os.environ, "PYTHONHASHSEED": seed}, text=True
        )
        for seed in ("1", "271828")
    ]
    assert runs[0] == runs[1]
    assert len(runs[0].split()) == 2 * len(paths)


def test_the_text_shows_what_is_asked_first(run, job, as_worded):
    """Buy list, bars, saw list, spares and the caution stand in this order."""
    text = run("plan", job).stdout
    headings = ["Plan: Rack", "Buy", "Cost: 40.00 EUR.", "Bars", "Saw list", "Spares", "Caution"]
    places = [text.index(f"\n{heading}") for heading in headings]
    assert places == sorted(places)
    as_worded(text)


def test_spares_and_fitted_override_the_job(run, job, as_worded):
    """``--spares 0`` needs a bar less, ``--spares 2`` a bar more; ``--fitted`` changes what is said of them."""
    costs = [json.loads(run("plan", job, "--spares", spares, "--json", "-").stdout)["cost"] for spares in (0, 1, 2)]
    assert costs == [20, 40, 60]
    for way in ("after all cuts", "one at a time"):
        as_worded(about(run("plan", job, "--fitted", way).stdout, way))


def test_the_saw_list_as_csv(run, job, tmp_path):
    """``--csv`` writes a row for each cut, in the order of sawing."""
    path = tmp_path / "saw.csv"
    assert run("plan", job, "--csv", path).exit_code == 0
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert [row["cut"] for row in rows] == [str(number) for number in range(1, 7)]


def test_faults_leave_with_1_and_write_nothing(run, job, change, tmp_path, as_worded):
    """Every fault is reported at once, on standard error; no plan, no file."""
    change("Members", "LEG,T,1,yes,600,cope,90", "LEG,T,1,yes,6OO,cope,0")
    change("Stock", "T,3000", "X,3000")
    before = sorted(tmp_path.rglob("*"))
    result = run("plan", job, "--output", tmp_path / "o.xlsx", "--json", tmp_path / "o.json", "--csv", tmp_path / "o")
    assert result.exit_code == 1
    assert result.stdout == ""
    as_worded(result.stderr)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_job_that_is_not_there_leaves_with_1(run, tmp_path, as_worded):
    """A missing job is named, with a cure."""
    result = run("plan", tmp_path / "none.xlsx")
    assert result.exit_code == 1
    as_worded(result.stderr)


def test_stock_that_cannot_serve_leaves_with_3(run, job, change, tmp_path, as_worded):
    """What can be cut, what cannot and the least to buy; nothing is written."""
    change("Stock", "T,3000,20,,buy,", "T,3000,20,1,buy,")
    change("Members", "LONG,T,1", "LONG,T,3")
    path = tmp_path / "saw.xlsx"
    result = run("plan", job, "--output", path)
    assert result.exit_code == 3
    as_worded(result.stdout)
    assert not path.exists()


def test_only_the_spare_that_finds_no_room_is_reported(run, job, change):
    """Where every member can be cut but no spare kept, the way to do without is shown, and it works."""
    change("Stock", "T,3000,20,,buy,", "T,3000,20,1,buy,")
    result = run("plan", job)
    assert result.exit_code == 3
    assert "--spares 0" in result.stdout
    assert run("plan", job, "--spares", "0").exit_code == 0


def test_a_blank_longer_than_any_bar_leaves_with_3(run, job, change, as_worded):
    """No purchase helps then; the text says why."""
    change("Members", "LONG,T,1,,1500", "LONG,T,1,,3500")
    result = run("plan", job)
    assert result.exit_code == 3
    as_worded(result.stdout)


@pytest.mark.parametrize(("option", "name"), [("--output", "a.xlsx"), ("--json", "a.json"), ("--csv", "a.csv")])
def test_a_file_that_cannot_be_written_leaves_with_2(run, job, tmp_path, option, name, as_worded):
    """A folder that is not there is reported, and nothing is left behind."""
    before = sorted(tmp_path.rglob("*"))
    result = run("plan", job, option, tmp_path / "none" / name)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_saw_list_that_is_open_stays_as_it_was(run, job, tmp_path, as_worded):
    """A spreadsheet's lock file beside it is heeded: the old list keeps every byte."""
    path = tmp_path / "saw.xlsx"
    assert run("plan", job, "--output", path).exit_code == 0
    before = hashlib.sha256(path.read_bytes()).digest()
    (tmp_path / ".~lock.saw.xlsx#").write_text("open")
    result = run("plan", job, "--spares", "0", "--output", path)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert hashlib.sha256(path.read_bytes()).digest() == before


def test_a_saw_list_with_ticks_is_kept_unless_forced(run, job, tmp_path, as_worded):
    """What was ticked at the saw is not lost to a second run; ``--force`` is."""
    path = tmp_path / "saw.xlsx"
    assert run("plan", job, "--output", path).exit_code == 0
    assert run("plan", job, "--output", path).exit_code == 0
    tick(path, "done", 1)
    before = path.read_bytes()
    result = run("plan", job, "--output", path)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert path.read_bytes() == before
    assert run("plan", job, "--output", path, "--force").exit_code == 0
    assert path.read_bytes() != before


def test_another_workbook_is_not_taken_for_a_saw_list(run, tmp_path, as_worded):
    """Writing over a workbook that is no saw list needs ``--force``."""
    path = tmp_path / "mine.xlsx"
    path.write_bytes((EXAMPLES / "hand-rail.xlsx").read_bytes())
    result = run("plan", EXAMPLES / "ladder-frame", "--output", path)
    assert result.exit_code == 2
    as_worded(result.stderr)


@pytest.mark.parametrize(("option", "file"), [("--json", "Job.csv"), ("--csv", "Stock.csv"), ("--json", ".")])
def test_the_job_is_never_written_over(run, job, option, file):
    """A slip of the target does not cost the measurements."""
    before = {path.name: path.read_bytes() for path in job.iterdir()}
    result = run("plan", job, option, job / file)
    assert result.exit_code == 2
    assert {path.name: path.read_bytes() for path in job.iterdir()} == before


def test_not_even_with_force(run, tmp_path, as_worded):
    """``--force`` writes over a saw list, not over the job."""
    path = tmp_path / "job.xlsx"
    path.write_bytes((EXAMPLES / "ladder-frame.xlsx").read_bytes())
    result = run("plan", path, "--output", path, "--force")
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert path.read_bytes() == (EXAMPLES / "ladder-frame.xlsx").read_bytes()


@pytest.mark.parametrize(
    ("option", "name"), [("--csv", "sheet.xlsx"), ("--json", "wrap.pdf"), ("--output", "list.ods")]
)
def test_one_kind_of_file_is_not_written_over_another(
    tmp_path: Path, option: str, name: str, as_worded: Worded
) -> None:
    """Guards a ticked saw list or a wrap against a slip of the hand between two options."""
    other = tmp_path / name
    other.write_bytes(b"somebody's work")
    result = CliRunner().invoke(main, ["plan", str(EXAMPLES / "sand-rail-bay"), option, str(other)])
    assert result.exit_code == 2
    as_worded(result.output)
    assert other.read_bytes() == b"somebody's work"


def test_csv_goes_to_standard_output_for_a_dash() -> None:
    """Guards one meaning of "-" in every option that writes a table."""
    result = CliRunner().invoke(main, ["plan", str(EXAMPLES / "sand-rail-bay"), "--csv", "-"])
    assert result.exit_code == 0
    rows = list(csv.DictReader(result.stdout.splitlines()))
    assert [row["cut"] for row in rows] == [str(number) for number in range(1, len(rows) + 1)]


@pytest.mark.parametrize("limit", ["nan", "inf", "1e99", "0", "-1"])
def test_a_time_limit_that_is_none_is_wrong_use(run, job, limit, as_worded):
    """What no clock can count is reported before anything is read."""
    result = run("plan", job, "--time-limit", limit)
    assert result.exit_code == 2
    as_worded(result.stderr)


def test_two_things_do_not_go_to_one_place(run, job, tmp_path, as_worded):
    """Neither both to standard output, nor to one file by two of its names."""
    result = run("plan", job, "--csv", "-", "--json", "-")
    assert (result.exit_code, result.stdout) == (2, "")
    (tmp_path / "sub").mkdir()
    result = run("plan", job, "--csv", tmp_path / "o.txt", "--json", tmp_path / "sub" / ".." / "o.txt")
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert not (tmp_path / "o.txt").exists()


def test_a_plan_is_shown_with_standard_error_closed(job, start):
    """Started where nobody hears what is said on the side, as some schedulers do, the plan is the same."""
    with start("plan", job) as heard, start("plan", job, closed=(2,)) as ended:
        assert heard.communicate(60)[0] == ended.communicate(60)[0]
    assert (heard.returncode, ended.returncode) == (0, 0)
