"""``cutplan recut`` on workbooks ticked as a person ticks them, through a whole job."""

from __future__ import annotations

import datetime
import json
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import load_workbook
from wording import about

from cutplan.output.opened import read_saw_list

EXAMPLE = Path(__file__).parents[2] / "examples" / "sand-rail-bay.xlsx"


@pytest.fixture
def saw_list(job, small_list, tmp_path) -> Path:
    """The saw list of the small job: 1500, twice 582, three times 100."""
    path = tmp_path / "list.xlsx"
    path.write_bytes(small_list)
    return path


def write(path: Path, sheet: str, marks: dict[tuple[int | str, str], object]) -> None:
    """Write into the row whose first cell is this cut or bar, under the heading that begins so."""
    book = load_workbook(path)
    rows = list(book[sheet].iter_rows())
    headings = next(row for row in rows if row[0].value in ("cut", "bar"))
    for (name, heading), value in marks.items():
        row = next(row for row in rows if row[0].value == name)
        cell = next(cell for cell, top in zip(row, headings, strict=True) if str(top.value).startswith(heading))
        cell.value = value
    book.save(path)


def marks(path: Path) -> Counter[str]:
    """The marks still to cut on a saw list, and those cut before."""
    plan = read_saw_list(path).plan
    cuts = Counter(cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    return cuts + Counter(made.blank.mark for made in plan.made)


def test_a_walk_through_the_example(run, tmp_path, as_worded):
    """Plan, five done, one spoilt, recut; one of the old ones spoilt in fitting and a bar struck out, recut; to the
    end: every list holds when checked again, none is overwritten, and every member is there on each."""
    path = tmp_path / "bay.xlsx"
    assert run("plan", EXAMPLE, "--output", path).exit_code == 0
    all_marks = marks(path)
    write(path, "Saw list", {**{(cut, "done"): "x" for cut in range(1, 6)}, (6, "spoilt"): "x"})
    before = path.read_bytes()
    first = run("recut", path)
    assert first.exit_code == 0, first.output
    as_worded(about(first.stdout, "5 of the 16", "328 mm"))
    second = tmp_path / "bay 2.xlsx"
    assert marks(second) == all_marks
    assert run("check", second).exit_code == 0
    plan = read_saw_list(second).plan
    struck = next(bar.name for tube in plan.tubes for bar in tube.bars if not bar.cuts)
    write(second, "Saw list", {(1, "done"): "✓", (plan.made[-1].number, "spoilt"): "yes"})
    write(second, "Bars in hand", {(struck, "struck out"): 1})
    again = run("recut", second)
    assert again.exit_code == 0, again.output
    as_worded(about(again.stdout, "BX, ", f"Bar {struck} is "))
    third = tmp_path / "bay 3.xlsx"
    assert marks(third) == all_marks
    assert run("check", third).exit_code == 0
    assert path.read_bytes() == before
    plan = read_saw_list(third).plan
    cuts = [cut.number for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    write(third, "Saw list", {(cut, "done"): datetime.date(2020, 5, 4) for cut in cuts})
    last = run("recut", third)
    assert last.exit_code == 0
    as_worded(last.stdout)
    assert not (tmp_path / "bay 4.xlsx").exists()


def test_what_changed_is_in_the_new_list(saw_list, run):
    """The new workbook says what became of the old one, and lists what is cut, to be ticked should it be spoilt."""
    write(saw_list, "Saw list", {(2, "done"): "X", (1, "spoilt"): "x", (1, "still good"): 400})
    result = run("recut", saw_list)
    assert result.exit_code == 0, result.output
    book = load_workbook(saw_list.with_name("list 2.xlsx"))
    notes = [row[0] for row in book["Notes"].iter_rows(values_only=True)]
    assert "What changed since the last list" in notes
    assert any("rough cut" in str(cell.value) for cell in book["Making"][4])
    assert any(str(note).startswith("Cut 1, ") and "400 mm" in str(note) for note in notes)
    assert any(str(row[0]).startswith("Already cut.") for row in book["Saw list"].iter_rows(values_only=True))


@pytest.mark.parametrize(
    ("tick", "done"),
    [
        *((tick, 1) for tick in (" x ", "✓", 1, datetime.date(2020, 1, 2), True)),
        *((empty, 0) for empty in ("no", 0, False)),
    ],
)
def test_a_tick_is_what_people_put(saw_list, run, tick, done):
    """Guards the shop floor: no tick is refused or overlooked, and no empty cell taken for one. Here one of each kind
    that a workbook can hold; all that people put, in ``tests/output/test_ticks.py``."""
    write(saw_list, "Saw list", {(1, "done"): tick, (2, "done"): "x"})
    result = run("recut", saw_list)
    assert f" {1 + done} of the 6" in result.stdout, result.output


def test_what_is_neither_is_asked_about(saw_list, run, as_worded):
    """A remark in the wrong cell is not a tick: its place and value are reported."""
    write(saw_list, "Saw list", {(1, "done"): "half"})
    result = run("recut", saw_list)
    assert result.exit_code == 1
    as_worded(result.stderr)


def test_done_and_spoilt_is_a_mistake_found_later(saw_list, run, as_worded):
    """Both ticks stand, as they were put in this order: the blank is taken as spoilt, and that is said."""
    write(saw_list, "Saw list", {(1, "done"): "x", (1, "spoilt"): "x"})
    result = run("recut", saw_list)
    assert result.exit_code == 0, result.output
    as_worded(about(result.stdout, "Cut 1 "))
    assert run("check", saw_list).exit_code == 0


@pytest.mark.parametrize(
    ("sheet", "heading", "value"),
    [
        ("Saw list", "done", "x"),
        ("Saw list", "spoilt", "✓"),
        ("Saw list", "still good", 250),
        ("Bars in hand", "struck out", "yes"),
        ("Bars in hand", "measured now", 900),
    ],
)
@pytest.mark.parametrize("where", ["between", "below"])
def test_a_tick_beside_no_cut_is_reported(saw_list, run, sheet, heading, value, where):
    """A tick that slipped to another row would be lost in silence: its place is reported, and nothing is written."""
    write(saw_list, "Saw list", {(2, "done"): "x"})
    book = load_workbook(saw_list)
    rows = list(book[sheet].iter_rows())
    headings = next(row for row in rows if row[0].value in ("cut", "bar"))
    column = next(cell.column for cell in headings if str(cell.value).startswith(heading))
    number = headings[0].row + 1 if where == "between" else len(rows) + 2
    if where == "between":
        book[sheet].insert_rows(number)
    book[sheet].cell(number, column).value = value
    book.save(saw_list)
    for command in ("recut", "check"):
        result = run(command, saw_list)
        assert result.exit_code == 1, result.output
        said = " ".join((result.stderr + result.stdout).split())
        assert f"{sheet} row {number}, {heading}" in said
        assert "is in a row with no" in said
    assert not saw_list.with_name("list 2.xlsx").exists()


def test_contradictions_are_reported_together(saw_list, run, as_worded):
    """More left of a blank than it was, and a rest of a sound blank: both are reported, nothing is written."""
    write(saw_list, "Saw list", {(1, "spoilt"): "x", (1, "still good"): 5000, (2, "still good"): 10})
    result = run("recut", saw_list)
    assert result.exit_code == 1
    as_worded(result.stderr)
    assert not saw_list.with_name("list 2.xlsx").exists()


@pytest.mark.parametrize(
    ("sheet", "row", "heading", "value", "says"),
    [
        ("Saw list", 1, "left of the bar", 1400, "Saw list, cut 1, left of the bar: shows 1400, the plan says"),
        ("Saw list", 2, "blank", 500, "Saw list, cut 2, blank: shows 500"),
        ("Saw list", 2, "bar", "9", "Saw list, cut 2, bar: shows 9"),
        ("Bars in hand", "1", "length", 2900, "Bars in hand, bar 1, length: shows 2900, the plan says 3000"),
        ("Saw list", "cut", "still good", "good", "Saw list: is missing headings (still good)"),
    ],
)
def test_what_is_written_over_is_never_passed_over(saw_list, run, sheet, row, heading, value, says):
    """A length put where none belongs, or a heading changed, would be lost in silence: nothing is written."""
    write(saw_list, "Saw list", {(1, "done"): "x"})
    write(saw_list, sheet, {(row, heading): value})
    result = run("recut", saw_list)
    assert result.exit_code == 1
    assert says in result.stderr.replace("\n", " ")
    assert not saw_list.with_name("list 2.xlsx").exists()


def test_a_sheet_of_bars_thrown_away_is_missed(saw_list, run, as_worded):
    """Without it nobody could tell whether a bar was struck out."""
    write(saw_list, "Saw list", {(1, "done"): "x"})
    book = load_workbook(saw_list)
    del book["Bars in hand"]
    book.save(saw_list)
    result = run("recut", saw_list)
    assert result.exit_code == 1
    as_worded(result.stderr)


def test_a_bar_longer_than_it_can_be_is_not_believed(saw_list, run, as_worded):
    """The whole bar's length, put under measured now after it was cut into, would count tube that is not there."""
    plan = read_saw_list(saw_list).plan
    bar = next(bar for tube in plan.tubes for bar in tube.bars if len(bar.cuts) > 1)
    first = bar.cuts[0]
    write(saw_list, "Saw list", {(first.number, "done"): "x"})
    write(saw_list, "Bars in hand", {(bar.name, "measured now"): float(bar.length)})
    result = run("recut", saw_list)
    assert result.exit_code == 1
    assert f" {float(bar.length - first.blank):g} mm " in result.stderr
    as_worded(result.stderr)
    write(saw_list, "Bars in hand", {(bar.name, "measured now"): float(bar.length - first.blank) + 60})
    assert run("recut", saw_list).exit_code == 0  # a mill does not cut short


def test_a_saw_list_is_no_job(saw_list, run, as_worded):
    """Whoever plans from the saw list reads what it is and what to do."""
    result = run("plan", saw_list)
    assert result.exit_code == 1
    as_worded(result.stderr)


def test_a_measured_bar_is_put_right(saw_list, run, as_worded):
    """The tape found 20 mm less: the new list goes by what it found."""
    plan = read_saw_list(saw_list).plan
    bar = next(bar for tube in plan.tubes for bar in tube.bars if len(bar.cuts) > 1)
    cut = bar.cuts[0]
    write(saw_list, "Saw list", {(cut.number, "done"): "x"})
    write(saw_list, "Bars in hand", {(bar.name, "measured now"): float(cut.left) - 20})
    result = run("recut", saw_list)
    assert f" {float(cut.left) - 20:g} mm " in result.stdout
    as_worded(about(result.stdout, f"Bar {bar.name} "))
    after = read_saw_list(saw_list.with_name("list 2.xlsx")).plan
    assert next(one for tube in after.tubes for one in tube.bars if one.name == bar.name).length == cut.left - 20


def test_a_list_recut_twice_warns_and_overwrites_nothing(saw_list, run, as_worded):
    """Guards against ticking one list and planning from another."""
    write(saw_list, "Saw list", {(1, "done"): "x"})
    run("recut", saw_list)
    second = saw_list.with_name("list 2.xlsx").read_bytes()
    result = run("recut", saw_list)
    as_worded(result.stderr)
    assert saw_list.with_name("list 2.xlsx").read_bytes() == second
    assert saw_list.with_name("list 3.xlsx").exists()
    assert run("recut", saw_list, "--output", saw_list).exit_code != 0


def test_when_nothing_serves_the_least_to_buy_is_reported(job, change, run, tmp_path, as_worded):
    """No bar is for sale any more: exit code 3, what to buy, and how to go on once it is there."""
    change("Stock", "T,3000,20,,buy,", "T,3000,20,1,buy,")
    path = tmp_path / "list.xlsx"
    assert run("plan", job, "--spares", 0, "--output", path).exit_code == 0
    plan = read_saw_list(path).plan
    cuts = [(bar.name, cut) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    bar, long = next((name, cut.number) for name, cut in cuts if cut.mark == "LONG")
    write(path, "Saw list", {(long, "spoilt"): "x", (long, "still good"): 0})
    write(path, "Bars in hand", {(bar, "struck out"): "x"})
    result = run("recut", path)
    assert result.exit_code == 3, result.output
    as_worded(result.stderr)
    assert not path.with_name("list 2.xlsx").exists()
    result = run("recut", path, "--bar", "T", "2.9 m", "--json", "-")
    assert result.exit_code == 0, result.output
    lengths = [one["length"] for tube in json.loads(result.stdout)["tubes"] for one in tube["bars"]]
    assert 2900 in lengths
