"""Guards ``cutplan check``: what holds is said to hold, and what was tampered with is reported cut by cut."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from openpyxl import load_workbook
from wording import about

from cutplan.output.opened import read_saw_list


@pytest.fixture
def written(job, small_plan, tmp_path):
    """The saw list and the JSON of the small job's plan, beside it."""
    book, data = tmp_path / "saw.xlsx", tmp_path / "plan.json"
    for path, content in zip((book, data), small_plan, strict=True):
        path.write_bytes(content)
    return book, data


def test_what_was_just_planned_holds(run, job, written, as_worded):
    """Saw list and JSON agree with the job they came from."""
    book, data = written
    for arguments in ((book,), (data, "--job", job)):
        result = run("check", *arguments)
        assert result.exit_code == 0
        as_worded(result.stdout)


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
    assert "is not correct" in result.stdout


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
    assert "is not correct" in result.stdout


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("units",), "in", r'the plan: "units" is in, the job says mm'),
        (("cost",), "40", r'the plan: "cost" is \'40\', not a number'),
        (("cost",), 1e300, r"plan: 1e\+300 is out of range"),
        (("proven",), "yes", r'"proven" is \'yes\', not true or false'),
        (("tubes",), {}, r'"tubes" is {}, not a list'),
        (("tubes", 0, "bars", 0, "from"), "shop", r'tubes\[0\].bars\[0\]: "from" is \'shop\', not one of buy, rack'),
        (("tubes", 0, "bars", 0, "length"), 2999, r"tubes\[0\].bars\[0\]: no 2999 mm bar of T in the Stock sheet"),
        (
            ("tubes", 0, "spares", "fitted"),
            "at once",
            r'tubes\[0\].spares: "fitted" is \'at once\', not one of after all cuts',
        ),
        (("tubes", 0, "spares", "insured"), ["GHOST"], r"GHOST: is listed as insured or not, but is not a blank of T"),
        (
            ("tubes", 0, "spares", "insured"),
            [["LONG"]],
            r"tubes\[0\].spares: \"insured\[0\]\" is \['LONG'\], not a text",
        ),
        (("tubes", 0, "bars", 0, "cuts", 0, "shared"), True, r"cut 1: said to share its leading mitre"),
        (("members", 0, "tube"), "U", r"members, LONG, tube: is 'U', the job gives 'T'"),
        (("members", 0, "blank"), 1499, r"members, LONG, blank: is 1499, the job gives 1500"),
        (("members", 0, "parts"), [], r"members, LONG, parts: has 0 entries, the job gives \d"),
        (("members", 0, "mark"), "GHOST", r"members\[0\]: \"mark\" is 'GHOST', which is not a member of the job"),
        (("buy", 0, "count"), 3, r"the buy list does not match the bars"),
        (("buy", 0, "cost"), 1, r"the buy list: 2 × 20 is not 1"),
    ],
)
def test_json_with_one_value_altered_is_reported(run, job, written, path, value, said):
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


def test_json_that_names_a_member_more_is_reported(run, job, written, as_worded):
    """A member that the job does not know is no part of its plan."""
    _, file = written
    plan = json.loads(file.read_text(encoding="utf-8"))
    plan["members"].append(plan["members"][0] | {"mark": "GHOST"})
    file.write_text(json.dumps(plan), encoding="utf-8")
    result = run("check", file, "--job", job)
    assert result.exit_code == 1
    as_worded(result.stderr)


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


def test_a_workbook_that_is_no_saw_list_leaves_with_1(run, tmp_path, as_worded):
    """A wrong file is distinguished from a wrong plan."""
    path = tmp_path / "notes.xlsx"
    path.write_text("no workbook")
    result = run("check", path)
    assert result.exit_code == 1
    as_worded(result.stderr)


def test_a_saw_list_is_held_against_its_job_too(run, job, change, written, as_worded):
    """With its own job it holds; with one whose measurement, kerf or bars are others it does not, each reported."""
    book, _ = written
    result = run("check", book, "--job", job)
    assert result.exit_code == 0, result.output
    assert f", from {job}." in result.stdout
    change("Members", "LONG,T,1,,1500", "LONG,T,1,,1510")
    change("Job", "kerf,2", "kerf,3")
    change("Stock", "T,3000,20", "T,3000,25")
    result = run("check", book, "--job", job)
    assert result.exit_code == 1
    as_worded(about(result.stdout, "kerf", "LONG:", "bar 1:"))
    # A line a member, and the way on.
    (reported,) = [line for line in result.stdout.splitlines() if line.strip().startswith("LONG:")]
    assert re.findall(r"\d+", reported) == ["1500", "1510"]
    assert f'cutplan recut "{book}" --job "{job}"' in result.stdout
    assert run("check", book, "--job", job / "nowhere").exit_code == 1
    assert run("check", book, "--rack", job / "Stock.csv").exit_code == 2


def test_a_saw_list_of_a_job_in_the_other_units_is_reported(run, job, change, written, as_worded):
    """Figures in mm and in inches are not compared one with the other."""
    change("Job", "units,mm", "units,in")
    change("Job", "kerf,2", "kerf,0.1")
    result = run("check", written[0], "--job", job)
    assert result.exit_code == 1
    as_worded(result.stdout)


def test_a_saw_list_after_a_recut_is_held_against_the_measurements(run, job, change, written, as_worded):
    """Its bars are what was left of others, so that only its lengths can be the job's."""
    book, _ = written
    sheets = load_workbook(book)
    sheets["Saw list"]["B6"] = "x"
    sheets.save(book)
    again = book.with_name("again.xlsx")
    assert run("recut", book, "--output", again).exit_code == 0
    assert run("check", again, "--job", job).exit_code == 0
    change("Members", "TAB,T,3,,100", "TAB,T,3,,101")
    result = run("check", again, "--job", job)
    assert result.exit_code == 1
    as_worded(about(result.stdout, "TAB"))


def test_what_another_version_wrote_is_compared_by_its_figures_only(run, written):
    """The remark names what was compared; without any version every word is."""
    book, _ = written
    for version, held in (("0.0.1", True), (None, False)):
        sheets = load_workbook(book)
        sheets["Plan data"]["B1"] = version
        (cell,) = [cell for row in sheets["Saw list"].iter_rows() for cell in row if cell.value == "end a"]
        cell.offset(2).value = "mitre 10"
        sheets.save(book)
        result = run("check", book)
        assert (result.exit_code == 0) is held
        assert ("remark: written by version 0.0.1" in result.stderr) is held


def test_what_is_hidden_on_a_saw_list_is_remarked(run, written):
    """A hidden row, column or sheet is still right, and is not seen."""
    book, _ = written
    sheets = load_workbook(book)
    sheets["Saw list"].row_dimensions[6].hidden = True
    sheets["Saw list"].column_dimensions["G"].hidden = True
    sheets["Making"].sheet_state = "hidden"
    sheets.save(book)
    result = run("check", book)
    assert result.exit_code == 0
    for said in ("Saw list: 1 hidden row", "Saw list: 1 hidden column", "Making: the sheet is hidden"):
        assert f"remark: {said}" in result.stderr


def test_a_sheet_that_the_plan_has_nothing_for_is_reported(run, job, change, tmp_path, as_worded):
    """How to make what is straight and square is no one's notes; sheets of other names are."""
    change("Members", "600,cope,90,LONG", "600,,,")
    book = tmp_path / "square.xlsx"
    assert run("plan", job, "--output", book).exit_code == 0
    sheets = load_workbook(book)
    sheets.create_sheet("My notes")["A1"] = "ask for the long ones"
    sheets.save(book)
    assert run("check", book).exit_code == 0
    sheets.create_sheet("Making")["A1"] = 90
    sheets.save(book)
    result = run("check", book)
    assert result.exit_code == 1
    as_worded(result.stdout)


def test_json_nested_without_end_is_refused(run, job, tmp_path, as_worded):
    """What no reader can follow is reported in a line."""
    path = tmp_path / "plan.json"
    path.write_text("[" * 100_000, encoding="utf-8")
    result = run("check", path, "--job", job)
    assert result.exit_code == 1
    as_worded(result.stderr)


@pytest.mark.parametrize("number", ["1e-99999999", "1e99999999", "0." + "1" * 10_000])
def test_a_number_in_json_that_no_one_can_mean_is_refused_at_once(run, job, written, number):
    """A number of millions of figures is refused before anything is calculated with it."""
    _, path = written
    text, times = re.subn(r'"left": [\d.]+', f'"left": {number}', path.read_text(encoding="utf-8"), count=1)
    assert times == 1
    path.write_text(text, encoding="utf-8")
    result = run("check", path, "--job", job)
    assert result.exit_code == 1
    assert f"{number[:40]} is out of range" in result.stderr
    assert len(result.stderr) < 200


@pytest.mark.parametrize(
    ("alter", "said"),
    [
        (lambda plan: plan["members"].insert(0, dict(plan["members"][0], blank=1400)), "LONG is listed twice"),
        (lambda plan: plan["members"].pop(0), "members: LONG is missing"),
        (lambda plan: plan["members"][0].update(colour="red"), '"colour" is not given by the job'),
        (lambda plan: plan["tubes"][0].update(colour="red"), 'tubes[0]: "colour" is not known here'),
        (
            lambda plan: plan.update(made=[{"mark": "LONG", "tube": "T", "count": 1}]),
            "\"mark\" is 'LONG', which is not",
        ),
        (lambda plan: plan["tubes"][0]["bars"][0]["cuts"][0].update(stage=2), "LONG is of stage 2, the job says 0"),
        (lambda plan: plan["tubes"][0]["bars"][0]["cuts"][0].update(measure_first=True), "LONG is not an estimate"),
        (lambda plan: plan["members"][1]["parts"].reverse(), "members, LEG-L, parts[0], what: is "),
        (lambda plan: plan["buy"][0].update(count=1.9), r'"count" is 1.9, not a whole number'),
        (lambda plan: plan["tubes"][0]["bars"][0]["cuts"][0].update(if_spoilt={}), r'"bar" is missing'),
        (lambda plan: plan["tubes"][0]["bars"][0]["cuts"][0]["if_spoilt"].update(following=[{}]), "is {}, not a text"),
    ],
)
def test_json_that_says_two_things_or_none_is_reported(run, job, written, alter, said):
    """A member twice, its parts in another order, parts of a bar: none is passed over."""
    _, path = written
    plan = json.loads(path.read_text(encoding="utf-8"))
    alter(plan)
    path.write_text(json.dumps(plan), encoding="utf-8")
    result = run("check", path, "--job", job)
    assert result.exit_code == 1
    assert said in result.stderr


@pytest.mark.parametrize(
    "stock",
    [
        "T,1000,,1,rack,,0\nT,1000,,1,rack,,20\nT,3000,,1,rack,,0\n",
        "T,1000,10,1,buy,,0\nT,1000,9,1,buy,,20\nT,3000,30,1,buy,,0\n",
    ],
)
def test_bars_alike_but_for_trim_and_price_are_distinguished(run, job, tmp_path, stock):
    """JSON names a bar by tube, length and label: which row of Stock it is of follows from its price and its cuts."""
    (job / "Stock.csv").write_text("tube,length,price,available,from,label,end trim\n" + stock)
    (job / "Members.csv").write_text("mark,tube,length\nA,T,945\nB,T,905\n")
    path = tmp_path / "plan.json"
    assert run("plan", job, "--spares", "0", "--json", path).exit_code == 0
    plan = json.loads(path.read_text(encoding="utf-8"))
    cut = [bar for bar in plan["tubes"][0]["bars"] if bar["cuts"]]
    # Only the bar without an end trim is long enough for A.
    assert [(bar["length"], bar["cuts"][0]["mark"]) for bar in cut] == [(1000, "A"), (1000, "B")]
    result = run("check", path, "--job", job)
    assert result.exit_code == 0, result.output
    if cut[0]["price"]:
        cut[0]["price"], cut[1]["price"] = cut[1]["price"], cut[0]["price"]
        path.write_text(json.dumps(plan), encoding="utf-8")
        result = run("check", path, "--job", job)
        assert result.exit_code == 1
        # 1000 less a trim of 20 at either end and the 50 that the vice holds.
        assert {"945", "910"} <= set(re.findall(r"\d+", result.stdout))


def test_a_cell_at_the_far_edge_of_a_sheet_is_passed_over(run, written):
    """A slip of the hand with Ctrl and an arrow: the million rows between are not read."""
    book, _ = written
    sheets = load_workbook(book)
    sheets["Saw list"]["A1048576"] = sheets["Bars in hand"]["XFD9"] = "x"
    sheets.save(book)
    assert run("check", book).exit_code == 0
    sheets["Saw list"]["B6"] = "x"
    sheets.save(book)
    assert run("recut", book).exit_code == 0
    assert [made.blank.mark for made in read_saw_list(book.with_name("saw 2.xlsx")).plan.made] == ["LONG"]
