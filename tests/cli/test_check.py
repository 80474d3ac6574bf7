"""Guards ``cutplan check``: what holds is said to hold, and what was tampered with is told cut by cut."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from openpyxl import load_workbook


@pytest.fixture
def written(run, job, tmp_path):
    """The saw list and the JSON of the small job's plan."""
    book, data = tmp_path / "saw.xlsx", tmp_path / "plan.json"
    assert run("plan", job, "--output", book, "--json", data).exit_code == 0
    return book, data


def test_what_was_just_planned_holds(run, job, written):
    """Saw list and JSON agree with the job they came from."""
    book, data = written
    for arguments in ((book,), (data, "--job", job)):
        result = run("check", *arguments)
        assert result.exit_code == 0
        assert "holds: every member" in result.stdout


@pytest.mark.parametrize("change", ["shift", "lose", "free"])
def test_json_that_was_tampered_with_does_not_hold(run, job, written, change):
    """A cut moved, a cut lost, a bar made cheaper: each is found."""
    _, path = written
    plan = json.loads(path.read_text(encoding="utf-8"))
    bar = next(bar for bar in plan["tubes"][0]["bars"] if bar["cuts"])
    if change == "shift":
        bar["cuts"][0]["end"] -= 1
    elif change == "lose":
        bar["cuts"].pop()
    else:
        plan["tubes"][0]["cost"] -= 5
    path.write_text(json.dumps(plan), encoding="utf-8")
    result = run("check", path, "--job", job)
    assert result.exit_code == 1
    assert "does not hold" in result.stdout


def test_a_saw_list_with_another_length_typed_in_does_not_hold(run, written):
    """The list that is taken to the saw is what is checked, not what it was made from."""
    path, _ = written
    book = load_workbook(path)
    sheet = book["Saw list"]
    (cell,) = [cell for row in sheet.iter_rows() for cell in row if cell.value == 1500]
    cell.value = 1490
    book.save(path)
    result = run("check", path)
    assert result.exit_code == 1
    assert "does not hold" in result.stdout


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("units",), "in", r'the plan: "units" is in, the job says mm'),
        (("cost",), "40", r'the plan: "cost" is \'40\', not a number'),
        (("cost",), 1e300, r'"cost" is 1E\+300, beyond all measure'),
        (("proven",), "yes", r'"proven" is \'yes\', not true or false'),
        (("tubes",), {}, r'"tubes" is {}, not a list'),
        (("tubes", 0, "bars", 0, "from"), "shop", r'tubes\[0\].bars\[0\]: "from" is \'shop\', none of buy, rack'),
        (("tubes", 0, "bars", 0, "length"), 2999, r"tubes\[0\].bars\[0\]: no 2999 mm bar of T in the Stock sheet"),
        (("tubes", 0, "spares", "fitted"), "at once", r'tubes\[0\]: "fitted" is \'at once\', none of after all cuts'),
        (("tubes", 0, "spares", "insured"), ["GHOST"], r"GHOST: is said to be insured or not, and is no blank of T"),
        (("tubes", 0, "spares", "insured"), [["LONG"]], r"the plan cannot be reckoned again"),
        (("tubes", 0, "bars", 0, "cuts", 0, "shared"), True, r"cut 1: said to share its leading mitre"),
        (("members", 0, "tube"), "U", r"members, LONG: of U, the job says T"),
        (("members", 0, "blank"), 1499, r"members, LONG: 1499 mm, the job says 1500"),
        (("members", 0, "parts"), [], r"members, LONG: its parts do not add up to 1500 mm"),
        (("members", 0, "mark"), "GHOST", r"members: LONG is missing"),
        (("buy", 0, "count"), 3, r"the buy list is not what the bars need"),
        (("buy", 0, "cost"), 1, r"the buy list: 2 × 20 is not 1"),
    ],
)
def test_json_with_one_value_altered_is_told(run, job, written, path, value, said):
    """Each value of the JSON is held against the job and against the others; the message names it."""
    _, file = written
    plan = json.loads(file.read_text(encoding="utf-8"))
    inner = plan
    for key in path[:-1]:
        inner = inner[key]
    assert inner.get(path[-1]) != value
    inner[path[-1]] = value
    file.write_text(json.dumps(plan), encoding="utf-8")
    result = run("check", file, "--job", job)
    assert result.exit_code == 1
    assert re.search(said, result.output)


def test_json_that_names_a_member_more_is_told(run, job, written):
    """A member that the job does not know is no part of its plan."""
    _, file = written
    plan = json.loads(file.read_text(encoding="utf-8"))
    plan["members"].append(plan["members"][0] | {"mark": "GHOST"})
    file.write_text(json.dumps(plan), encoding="utf-8")
    result = run("check", file, "--job", job)
    assert result.exit_code == 1
    assert "members, GHOST: is no member of the job" in result.stderr


def test_json_of_shared_mitres_is_checked(run, tmp_path):
    """The JSON says which mitres share a cut and which blanks are turned end for end; denied, nothing fits."""
    example = Path(__file__).parents[2] / "examples" / "hand-rail"
    file = tmp_path / "plan.json"
    assert run("plan", example, "--json", file).exit_code == 0
    assert run("check", file, "--job", example).exit_code == 0
    text = file.read_text(encoding="utf-8")
    assert '"shared": true' in text
    file.write_text(text.replace('"shared": true', '"shared": false'), encoding="utf-8")
    result = run("check", file, "--job", example)
    assert result.exit_code == 1
    assert re.search(r"cut \d+: starts at [\d.]+ mm, not at", result.stdout)


def test_json_needs_its_job(run, written):
    """The JSON carries no measurements, so its job must be named."""
    result = run("check", written[1])
    assert result.exit_code == 2
    assert "--job" in result.stderr


def test_a_workbook_that_is_no_saw_list_leaves_with_1(run, tmp_path):
    """A wrong file is told apart from a wrong plan."""
    path = tmp_path / "notes.xlsx"
    path.write_text("no workbook")
    result = run("check", path)
    assert result.exit_code == 1
    assert "is no workbook that can be read" in result.stderr
