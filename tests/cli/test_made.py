"""Guards members that are made already: landed on and measured from, but not cut, not bought and of no stock."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from openpyxl import load_workbook
from saw_lists import tick
from wording import about

import cutplan
from cutplan.geometry import lay_out
from cutplan.job import read
from cutplan.plan import length_complaints

MEMBERS = (
    "mark,tube,qty,pair,length,end a,angle a,onto a,end b,angle b,onto b,turn,made\n"
    "MAIN,V,,,,,,,,,,,yes\n"
    "LONG,T,,,1500,cope,90,MAIN,,,,,\n"
    "LEG,T,,yes,600,cope,90,LONG,cope,60,MAIN,0,\n"
)
TUBES = "tube,od,wall\nT,38,2.5\nV,60.3,4\n"


@pytest.fixture
def begun(job):
    """A job that lands on a tube of the vehicle, of which nobody has a bar or a length."""
    (job / "Tubes.csv").write_text(TUBES, encoding="utf-8")
    (job / "Members.csv").write_text(MEMBERS, encoding="utf-8")
    return job


def test_what_is_made_is_landed_on_but_neither_cut_nor_bought(begun):
    """Blanks are those of the same job with the diameter in place of the mark; the tube needs no bars."""
    prepared = cutplan.read_job(begun)
    plan = cutplan.make_plan(prepared)
    assert {tube.tube for tube in plan.tubes} == {"T"}
    text = MEMBERS.replace("MAIN,V,,,,,,,,,,,yes\n", "").replace("90,MAIN", "90,60.3").replace("60,MAIN", "60,60.3")
    (begun / "Members.csv").write_text(text, encoding="utf-8")
    plain = cutplan.read_job(begun)
    assert [(one.mark, one.length) for one in prepared.blanks] == [(one.mark, one.length) for one in plain.blanks]
    assert plan.cost == cutplan.make_plan(plain).cost


def test_it_is_shown_wherever_members_are(run, begun, tmp_path, as_worded):
    """Terminal, workbook, CSV and JSON each name what is made already, and what they write passes the check."""
    book, data, table = tmp_path / "saw.xlsx", tmp_path / "plan.json", tmp_path / "made.csv"
    reported = run("plan", begun, "--output", book, "--json", data, "--csv", table, "--table", "made already")
    as_worded(about(reported.stdout, "MAIN."))
    cells = [str(cell.value) for row in load_workbook(book)["Members"].iter_rows() for cell in row if cell.value]
    as_worded(*(cell for cell in cells if cell.startswith("MAIN (V)")))
    assert json.loads(data.read_text(encoding="utf-8"))["made"] == [{"mark": "MAIN", "tube": "V", "count": 1}]
    assert table.read_text(encoding="utf-8-sig").splitlines()[1].startswith("MAIN,MAIN,V,1")
    assert run("lengths", begun).stdout.splitlines()[-1].endswith("made already, not cut")
    for check in ((book, "--job", begun), (data, "--job", begun)):
        assert run("check", *check).exit_code == 0
    as_worded(run("lengths", begun, "--member", "main").stderr)
    as_worded(run("wrap", begun, "MAIN", "--output", tmp_path / "w.pdf").stderr)


def test_the_check_fails_where_a_plan_cuts_what_is_made(run, begun, tmp_path, as_worded):
    """A plan made before the job said so cuts it still: the check says that it is there already."""
    prepared = cutplan.read_job(begun)
    plan = cutplan.make_plan(prepared)
    assert length_complaints(plan) == ()
    made = tuple(replace(one, made=one.mark in ("MAIN", "LONG")) for one in prepared.job.members)
    changed = replace(plan, job=replace(prepared.job, members=made))
    assert any("LONG: is made already" in text for text in length_complaints(changed))
    data = tmp_path / "plan.json"
    run("plan", begun, "--json", data)
    text = MEMBERS.replace("LONG,T,,,1500,cope,90,MAIN,,,,,", "LONG,T,,,1500,,,,,,,,yes")
    (begun / "Members.csv").write_text(text, encoding="utf-8")
    result = run("check", data, "--job", begun)
    assert result.exit_code == 1
    as_worded(about(result.stderr, "LONG"))


def test_a_bent_one_needs_no_grip_and_gives_its_bends(begun):
    """A hoop from the shop may have straights that no bender here could hold; its bend is landed on all the same."""
    (begun / "Tubes.csv").write_text("tube,od,wall,clr,grip\nT,38,2.5,,\nV,60.3,4,180,300\n", encoding="utf-8")
    (begun / "Bends.csv").write_text("mark,straight,to,angle\nMAIN,400,tangent,90\nMAIN,100,,\n", encoding="utf-8")
    text = MEMBERS.replace("90,MAIN", "90,MAIN bend 1 at 45 side 0")
    (begun / "Members.csv").write_text(text, encoding="utf-8")
    reading = read(begun)
    assert reading.faults == ()
    layout = lay_out(reading.job)
    assert layout.faults == ()
    (hoop,) = layout.standing
    assert (hoop.mark, hoop.cut_off_a, hoop.cut_off_b, len(hoop.bends)) == ("MAIN", 0.0, 0.0, 1)
    assert not any(remark.place.row == 2 for remark in layout.remarks)


def test_a_job_must_leave_something_to_cut(run, begun, as_worded):
    """Where everything is made already, that is said; what is made must still have a tube that is known."""
    (begun / "Members.csv").write_text("mark,tube,made\nMAIN,V,yes\n", encoding="utf-8")
    result = run("plan", begun)
    assert result.exit_code == 1
    as_worded(result.stdout, result.stderr)
    (begun / "Members.csv").write_text(MEMBERS.replace("MAIN,V", "MAIN,W"), encoding="utf-8")
    result = run("plan", begun)
    as_worded(result.stdout, result.stderr)


def test_the_rest_after_cuts_leaves_it_alone(run, begun, tmp_path, as_worded):
    """A list that is gone on with still knows what is made, and holds."""
    book, after = tmp_path / "saw.xlsx", tmp_path / "rest.xlsx"
    run("plan", begun, "--output", book)
    tick(book, "done", 1)
    assert run("recut", book, "--output", after).exit_code == 0
    assert run("check", after, "--job", begun).exit_code == 0
    cells = [str(cell.value) for row in load_workbook(after)["Members"].iter_rows() for cell in row if cell.value]
    as_worded(*(cell for cell in cells if cell.startswith("MAIN (V)")))


def test_it_is_drawn_in_the_frame(run, begun, tmp_path):
    """Given by points, what is made already stands in the drawings of the frame, and it can be drawn by itself."""
    members = "mark,tube,length,end a,angle a,onto a,made\nPOST,V,,,,,yes\nARM,T,,cope,,POST,\n"
    points = "mark,x,y,z\nPOST,0,0,0\nPOST,0,0,900\nARM,0,0,500\nARM,800,0,500\n"
    (begun / "Members.csv").write_text(members, encoding="utf-8")
    (begun / "Points.csv").write_text(points, encoding="utf-8")
    for marks in ((), ("POST",)):
        drawn = tmp_path / f"drawn{len(marks)}.svg"
        assert run("draw", begun, *marks, "--output", drawn).exit_code == 0
        assert "POST" in drawn.read_text(encoding="utf-8")
    plan = cutplan.make_plan(cutplan.read_job(begun))
    assert [blank.mark for blank in plan.blanks] == ["ARM"]
