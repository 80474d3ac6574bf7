"""Guards jobs that are built in stages: how stages are read, and every view of the plan in their order."""

from __future__ import annotations

import csv
import json
import re

import pytest
from openpyxl import load_workbook
from wording import about

import cutplan
from cutplan.job.stages import stages_of

MEMBERS = (
    "mark,tube,qty,pair,length,end a,angle a,onto a,end b,angle b,onto b,turn,stage,made\n"
    "DIAG,T,,,700,cope,45,STAY-L,cope,45,STAY-R,180,,\n"
    "STAY,T,,yes,900,cope,60,HOOP,,,,,,\n"
    "HOOP,U,,,1500,cope,90,MAIN,,,,,1,\n"
    "MAIN,V,,,,,,,,,,,,yes\n"
    "TAB,U,3,,100,,,,,,,,3,\n"
    "FOOT,U,,,200,,,,,,,,,\n"
)
"""HOOP lands on what is there, the stays on it, DIAG on them; TAB has a stage of its own, FOOT lands on nothing."""


@pytest.fixture
def frame(job):
    """A frame of two tubes in three stages, beginning at a tube of the vehicle."""
    (job / "Tubes.csv").write_text("tube,od,wall\nT,30,2\nU,38,2.5\nV,60.3,4\n", encoding="utf-8")
    stock = "tube,length,price,available,from\nT,3000,20,,\nU,3000,24,,\nU,1800,16,,\n"
    (job / "Stock.csv").write_text(stock, encoding="utf-8")
    (job / "Members.csv").write_text(MEMBERS, encoding="utf-8")
    return job


def restaged(frame, mark, stage):
    """The frame with another stage for a member."""
    rows = list(csv.reader(MEMBERS.splitlines()))
    for row in rows:
        row[12] = stage if row[0] == mark else row[12]
    (frame / "Members.csv").write_text("\n".join(map(",".join, rows)) + "\n", encoding="utf-8")


def test_blank_is_one_after_all_that_it_lands_on(frame):
    """Given stages stay; the rest follow what they land on; what is made already is there before all."""
    members = cutplan.read_job(frame).job.members
    assert stages_of(members) == {"MAIN": 0, "HOOP": 1, "FOOT": 1, "STAY": 2, "DIAG": 3, "TAB": 3}
    restaged(frame, "HOOP", "4")
    stages = stages_of(cutplan.read_job(frame).job.members)
    assert (stages["STAY"], stages["DIAG"], stages["TAB"]) == (5, 6, 3)


@pytest.mark.parametrize(
    ("mark", "stage", "says"),
    [
        ("DIAG", "1", "is earlier than that of STAY, which it lands on (stage 2)"),
        ("STAY", "0", "must be 1 or more"),
        ("STAY", "1.5", "must be a whole number"),
        ("MAIN", "1", "is given for a member that is made already"),
    ],
)
def test_a_stage_that_cannot_be_is_reported_in_its_cell(run, frame, mark, stage, says):
    """A member made before what it lands on, a stage that is none, and one for what is there already."""
    restaged(frame, mark, stage)
    result = run("plan", frame)
    assert result.exit_code == 1
    reported = next(line for line in (result.stdout + result.stderr).splitlines() if ", stage:" in line)
    assert says in reported


def test_every_view_follows_the_stages_and_says_what_to_measure(run, frame, tmp_path, as_worded):
    """Terminal, CSV, JSON and workbook list the cuts stage by stage over both tubes, and the check holds."""
    book, data, table = tmp_path / "saw.xlsx", tmp_path / "plan.json", tmp_path / "stages.csv"
    reported = run("plan", frame, "--output", book, "--json", data, "--csv", table, "--table", "stages").stdout
    listed = reported[reported.index("Saw list") : reported.index("Made already")].splitlines()[2:]
    marks = [line if line.startswith("Stage") else line.split()[2] for line in listed]
    assert [mark for mark in marks if not mark.startswith("Stage")] == [
        *("HOOP", "FOOT", "STAY-L", "STAY-R", "DIAG", "TAB", "TAB", "TAB")
    ]
    as_worded(*marks)
    cuts = [cut for tube in json.loads(data.read_text())["tubes"] for bar in tube["bars"] for cut in bar["cuts"]]
    assert [cut["stage"] for cut in sorted(cuts, key=lambda cut: cut["cut"])] == [1, 1, 2, 2, 3, 3, 3, 3]
    stages = list(csv.DictReader(table.read_text(encoding="utf-8-sig").splitlines()))
    assert [(row["stage"], row["first cut"], row["last cut"]) for row in stages] == [
        ("1", "1", "2"),
        ("2", "3", "4"),
        ("3", "5", "8"),
    ]
    cells = [str(row[0].value) for row in load_workbook(book)["Saw list"].iter_rows() if row[0].value is not None]
    assert [cell for cell in cells if re.match(r"Stage|\d+$", cell)] == [
        *(marks[0], "1", "2", marks[3], "3", "4", marks[6], "5", "6", "7", "8"),
    ]
    assert any(re.match(r"Bar \d+ again", cell) for cell in cells)
    for check in ((book, "--job", frame), (data, "--job", frame)):
        assert run("check", *check).exit_code == 0, run("check", *check).stdout


def test_nothing_is_measured_against_what_is_made_in_the_same_stage(run, frame, as_worded):
    """A stay of the hoop's own stage is not to be measured against a hoop that does not stand yet."""
    restaged(frame, "STAY", "1")
    reported = run("plan", frame).stdout
    as_worded(about(reported, "HOOP onto MAIN", "DIAG onto STAY-L"))


def test_what_is_estimated_makes_stages_by_itself(run, frame, as_worded):
    """No stage is written: one estimated stay is enough, as it is measured once the hoop stands."""
    text = (frame / "Members.csv").read_text(encoding="utf-8")
    for mark in ("HOOP,U,,,1500,cope,90,MAIN,,,,,1,", "TAB,U,3,,100,,,,,,,,3,"):
        text = text.replace(mark, f"{mark[:-2]},")
    (frame / "Members.csv").write_text(text, encoding="utf-8")
    assert "Stage" not in run("plan", frame).stdout
    (frame / "Members.csv").write_text(text.replace(",yes,900,", ",yes,900 ± 40,"), encoding="utf-8")
    book = frame.parent / "saw.xlsx"
    reported = run("plan", frame, "--output", book).stdout
    as_worded(about(reported, "STAY-L, STAY-R against HOOP"))
    assert run("check", book, "--job", frame).exit_code == 0


def test_the_rest_after_a_mistake_is_listed_by_stages_too(run, frame, tmp_path, as_worded):
    """The spoilt stay comes before the diagonal that lands on it, and TAB stays last."""
    book, after = tmp_path / "saw.xlsx", tmp_path / "rest.xlsx"
    run("plan", frame, "--output", book)
    sheets = load_workbook(book)
    for row in sheets["Saw list"].iter_rows():
        if row[0].value in (1, 2, 3, 4):
            row[2 if row[0].value == 3 else 1].value = "x"
    sheets.save(book)
    result = run("recut", book, "--output", after, "--json", tmp_path / "rest.json")
    assert result.exit_code == 0
    cuts = json.loads((tmp_path / "rest.json").read_text())["tubes"]
    order = sorted((cut["cut"], cut["mark"]) for tube in cuts for bar in tube["bars"] for cut in bar["cuts"])
    assert [mark for _, mark in order] == ["STAY-L", "DIAG", "TAB", "TAB", "TAB"]
    as_worded(about(run("recut", book, "--output", tmp_path / "x.xlsx").stdout, "STAY-L onto HOOP."))
    assert run("check", after, "--job", frame).exit_code == 0


def test_an_altered_stage_in_the_json_is_found(run, frame, tmp_path, as_worded):
    """The JSON of a plan is held against the stages of its job."""
    data = tmp_path / "plan.json"
    run("plan", frame, "--json", data)
    plan = json.loads(data.read_text())
    plan["tubes"][0]["bars"][0]["cuts"][0]["stage"] = 7
    data.write_text(json.dumps(plan))
    result = run("check", data, "--job", frame)
    assert result.exit_code == 1
    as_worded(result.stderr)
