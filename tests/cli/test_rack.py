"""``cutplan rack`` and ``plan --rack``: offcuts out and back, once, whoever runs it how often at a time."""

from __future__ import annotations

import re
import signal
import zipfile
from collections import Counter
from contextlib import ExitStack
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart
from openpyxl.comments import Comment
from openpyxl.styles import PatternFill
from saw_lists import tick

from cutplan.job.rack import Rack, Rest, read_rack
from cutplan.output.opened import read_saw_list
from cutplan.output.rack_file import change_rack

RACK = "label,tube,length,count\nA,T,2400 mm,\nB,T,40 mm,2\nC,other,2000 mm,\n"


@pytest.fixture(params=["rack.csv", "rack.xlsx"])
def rack(request, tmp_path) -> Path:
    """A rack of three kinds of piece."""
    path = tmp_path / "rack.csv"
    path.write_text(RACK, encoding="utf-8")
    if request.param == "rack.csv":
        return path
    book = Workbook()
    for line in RACK.splitlines():
        book.worksheets[0].append(line.split(","))
    book.save(tmp_path / "rack.xlsx")
    return tmp_path / "rack.xlsx"


def pieces(path: Path) -> Counter[tuple[str, str, float]]:
    """What lies there: tube, label, length in mm."""
    return Counter({(rest.tube, rest.label, float(rest.length)): rest.count for rest in read_rack(path).rests})


def measure(path: Path, bar: str, length: float) -> None:
    """Write what the tape finds of a bar."""
    book = load_workbook(path)
    sheet = book["Bars in hand"]
    headings = next(row for row in sheet.iter_rows() if row[0].value == "bar")
    column = next(cell.column for cell in headings if str(cell.value).startswith("measured now"))
    sheet.cell(next(row for row in sheet.iter_rows() if row[0].value == bar)[0].row, column, length)
    book.save(path)


def test_show_lists_what_is_there(run, rack):
    """Every piece with its count and label."""
    result = run("rack", "show", rack)
    assert result.exit_code == 0
    assert [line.split() for line in result.stdout.splitlines()[1:]] == [
        ["T", "2400", "mm", "1", "A"],
        ["T", "40", "mm", "2", "B"],
        ["other", "2000", "mm", "1", "C"],
    ]


@pytest.mark.parametrize("heads_only", [True, False], ids=["no rows", "no sheet"])
def test_a_rack_is_all_the_stock_that_a_job_needs(run, job, tmp_path, heads_only, as_worded):
    """With nothing for sale the rack serves alone: the best cover it allows at no cost, a plan that checks, and the
    least to buy where it is too little."""
    stock = job / "Stock.csv"
    if heads_only:
        stock.write_text("tube,length\n", encoding="utf-8")
    else:
        stock.unlink()
    lying = tmp_path / "rack.csv"
    lying.write_text("tube,length,label\nT,3000 mm,A\nT,1300 mm,B\nT,500 mm,C\n", encoding="utf-8")
    bought = run("buy", job, "--rack", lying, "--budget", "0")
    assert bought.exit_code == 0, bought.output
    as_worded(bought.stdout, bought.stderr)
    plan = tmp_path / "plan.json"
    made = run("plan", job, "--rack", lying, "--option", "1", "--json", plan)
    assert made.exit_code == 0, made.output
    assert run("check", plan, "--job", job, "--rack", lying).exit_code == 0
    assert run("check", plan, "--job", job).exit_code == 1
    lying.write_text("tube,length,label\nT,1300 mm,B\n", encoding="utf-8")
    assert run("plan", job, "--rack", lying).exit_code == 3
    lying.write_text("tube,length,label\nother,1300 mm,B\n", encoding="utf-8")
    other = run("plan", job, "--rack", lying)
    assert (other.exit_code, "T:" in other.stdout) == (3, True)
    assert run("plan", job).exit_code == 1


def test_a_job_draws_on_the_rack_and_puts_back_what_is_left_once(run, job, rack, tmp_path, as_worded):
    """The 2400 is cut into and leaves the rack, what nobody touched stays, offcuts worth keeping come back; a second
    run changes nothing, and no piece of another tube is touched."""
    saw = tmp_path / "saw.xlsx"
    assert run("plan", job, "--rack", rack, "--output", saw).exit_code == 0
    plan = read_saw_list(saw).plan
    bars = [bar for tube in plan.tubes for bar in tube.bars]
    used = {bar.label for bar in bars if bar.cuts}
    assert "A" in used
    assert run("check", saw).exit_code == 0
    before = pieces(rack)
    result = run("rack", "finish", saw, rack)
    assert result.exit_code == 0, result.output
    after = pieces(rack)
    as_worded(result.stderr, result.stdout)
    assert ("T", "A", 2400.0) not in after
    ours = [bar for bar in bars if (bar.cuts or bar.price is not None) and bar.offcut >= 300]
    kept = Counter(("T", bar.label or f"Rack {bar.name}", float(bar.offcut)) for bar in ours)
    assert kept
    untouched = Counter({piece: count for piece, count in before.items() if piece[1] not in used})
    assert after == untouched + kept
    content = rack.read_bytes()
    again = run("rack", "finish", saw, rack)
    as_worded(again.stdout)
    assert rack.read_bytes() == content


def test_an_offcut_put_back_yields_all_of_itself(run, job, saw, tmp_path):
    """A new bar's offcut has one sawn end and one mill end: planned with again, it loses one end trim, not two."""
    rack = tmp_path / "rack.csv"
    run("rack", "finish", saw, rack)
    plan = read_saw_list(saw).plan
    cut = [bar for tube in plan.tubes for bar in tube.bars if bar.cuts and bar.price is not None and bar.offcut >= 300]
    rests = {rest.label: rest for rest in read_rack(rack).rests}
    for bar in cut:
        rest = rests[f"Rack {bar.name}"]
        assert (rest.length, rest.end_trim, rest.sawn) == (bar.offcut, 10, True)
        assert rest.length - rest.end_trim - 50 == bar.usable
    assert cut


def test_after_a_recut_the_whole_job_is_finished_once(run, job, rack, tmp_path, as_worded):
    """Through a mistake the job stays one: its last list finishes it, and its first then changes nothing."""
    saw = tmp_path / "saw.xlsx"
    run("plan", job, "--rack", rack, "--output", saw)
    tick(saw, "spoilt", 1)
    tick(saw, "done", 2)
    assert run("recut", saw).exit_code == 0
    second = saw.with_name("saw 2.xlsx")
    assert run("rack", "finish", saw, rack).exit_code == 1
    assert run("rack", "finish", second, rack).exit_code == 0
    after = pieces(rack)
    assert ("other", "C", 2000.0) in after
    assert after["T", "B", 40.0] == 2
    tick(saw, "done", *range(3, 7))
    as_worded(run("rack", "finish", saw, rack).stdout)
    assert pieces(rack) == after


def test_half_a_list_is_not_finished(run, job, saw, tmp_path, as_worded):
    """Some cuts ticked and others not: which are made is not guessed, and nothing is written."""
    tick(saw, "done", 1)
    result = run("rack", "finish", saw, tmp_path / "rack.csv")
    assert result.exit_code == 1
    as_worded(result.stderr)
    assert not (tmp_path / "rack.csv").exists()


@pytest.mark.parametrize("ticked", [False, True], ids=["nothing ticked", "all ticked"])
@pytest.mark.parametrize("measured", [2995, 4450])
def test_a_bar_measured_before_it_was_cut_is_not_racked_whole(run, job, saw, tmp_path, measured, ticked):
    """Guards against tube that is not there: its cuts are made, ticked one by one or not, so the tape was put to it
    before, or to another bar."""
    bars = [bar for tube in read_saw_list(saw).plan.tubes for bar in tube.bars]
    bar = next(bar for bar in bars if bar.length == 3000 and bar.cuts)
    if ticked:
        tick(saw, "done", *(cut.number for one in bars for cut in one.cuts))
    measure(saw, bar.name, measured)
    result = run("rack", "finish", saw, tmp_path / "rack.csv")
    assert result.exit_code == 1
    rest = float(bar.length - sum(cut.blank for cut in bar.cuts))
    assert f"bar {bar.name} can have at most {rest:g} mm left after the cuts made" in " ".join(result.stderr.split())
    assert not (tmp_path / "rack.csv").exists()


@pytest.mark.parametrize("whole", [False, True], ids=["cut", "not cut at all"])
def test_a_bar_measured_after_all_cuts_is_racked_as_the_tape_finds_it(run, job, saw, tmp_path, whole):
    """Nothing is ticked, and the tape finds 5 mm less than expected, of an offcut or of a bar kept whole: that length
    goes on the rack."""
    bars = [bar for tube in read_saw_list(saw).plan.tubes for bar in tube.bars]
    bar = next(bar for bar in bars if bar.length == 3000 and bool(bar.cuts) is not whole)
    measure(saw, bar.name, float(bar.offcut) - 5)
    result = run("rack", "finish", saw, tmp_path / "rack.csv")
    assert result.exit_code == 0, result.output
    assert pieces(tmp_path / "rack.csv")["T", f"Rack {bar.name}", float(bar.offcut) - 5] == 1


def test_a_piece_taken_by_another_job_is_reported(run, job, change, rack, tmp_path, as_worded):
    """Two jobs planned with one piece: the second says that it is gone, and nothing else goes wrong. The first job
    once more is refused: what it would be cut from is not known."""
    saw = tmp_path / "saw.xlsx"
    run("plan", job, "--rack", rack, "--output", saw)
    change("Job", "name,Rack", "name,Other")
    other = tmp_path / "other.xlsx"
    run("plan", job, "--rack", rack, "--taken", "--output", other)
    run("rack", "finish", saw, rack)
    before = rack.read_bytes()
    once_more = run("rack", "finish", saw, rack, "--again")
    assert (once_more.exit_code, rack.read_bytes()) == (1, before)
    as_worded(once_more.stderr)
    result = run("rack", "finish", other, rack)
    assert result.exit_code == 0
    as_worded(result.stdout)
    labels = [rest.label for rest in read_rack(rack).rests]
    assert len(labels) == len(set(labels))


def test_faults_of_a_rack_are_reported(run, job, tmp_path, as_worded):
    """A rack with a fault plans nothing."""
    (tmp_path / "rack.csv").write_text("tube,length\nT,1460\n", encoding="utf-8")
    for command in (("plan", job, "--rack"), ("rack", "show")):
        result = run(*command, tmp_path / "rack.csv")
        assert result.exit_code == 1
        as_worded(result.stderr)


def test_a_piece_in_stock_and_on_the_rack_is_refused(run, job, tmp_path, as_worded):
    """The stock's R1 of 1300 is on the rack as well: too little tube would be bought, so nothing is planned."""
    (tmp_path / "rack.csv").write_text("tube,length,label\nT,1300 mm,R1\n", encoding="utf-8")
    for command in (("plan", job), ("buy", job)):
        result = run(*command, "--rack", tmp_path / "rack.csv")
        assert result.exit_code == 1
        as_worded(result.stderr)


def test_finishing_writes_no_file_that_could_not_be_read(run, job, saw, tmp_path, as_worded):
    """A rack of another ending is refused before anything is written, its lock included."""
    before = sorted(tmp_path.iterdir())
    for name in ("x.txt", "x", "x.ods"):
        result = run("rack", "finish", saw, tmp_path / name)
        assert (result.exit_code, sorted(tmp_path.iterdir())) == (1, before)
        as_worded(result.stderr)


def test_no_folder_is_made_for_a_rack(run, job, saw, tmp_path, as_worded):
    """A folder that is not there is a slip of the hand: the lock would make it."""
    result = run("rack", "finish", saw, tmp_path / "slip" / "rack.csv")
    assert (result.exit_code, (tmp_path / "slip").exists()) == (2, False)
    as_worded(result.stderr)


@pytest.fixture
def furnished(tmp_path) -> Path:
    """A rack on the second sheet of a workbook that holds more: notes, a sheet of the person's own, fills, a comment,
    a width, a formula that was worked out, and no columns that a person can do without."""
    book = Workbook()
    book.worksheets[0].title = "Notes"
    book["Notes"]["A1"] = "Ring the mill"
    sheet = book.create_sheet("Pieces")
    for line in ("Length,tube,label", "2400 mm,T,A", "2000 mm,other,C"):
        sheet.append(line.split(","))
    sheet["C3"].fill = PatternFill("solid", "FFFF00")
    sheet["A2"].comment = Comment("bent", "me")
    sheet["C3"].comment = Comment("by the door", "me")
    sheet.column_dimensions["B"].width = 33
    mine = book.create_sheet("Mine")
    mine["B2"] = "=Pieces!A3"
    mine["B2"].fill = PatternFill("solid", "00FF00")
    path = tmp_path / "rack.xlsx"
    book.save(path)
    # A spreadsheet program would store the result beside the formula; openpyxl cannot.
    with zipfile.ZipFile(path) as parts:
        content = {name: parts.read(name) for name in parts.namelist()}
    text = content["xl/worksheets/sheet2.xml"]
    cell = re.search(rb'<c r="A3"[^>]*>.*?</c>', text)[0]
    worked = b'<c r="A3" t="str"><f>1000*2&amp;" mm"</f><v>2000 mm</v></c>'
    content["xl/worksheets/sheet2.xml"] = text.replace(cell, worked)
    with zipfile.ZipFile(path, "w") as parts:
        for name, each in content.items():
            parts.writestr(name, each)
    assert load_workbook(path)["Pieces"]["A3"].data_type == "f"
    return path


def test_finishing_keeps_what_is_not_the_racks(run, job, furnished, tmp_path):
    """Other sheets, fills, widths, comments and the order of columns stay; a piece that stays keeps its row, and what
    a formula gave is still there. The same files give the same bytes."""
    saw, twin = tmp_path / "saw.xlsx", tmp_path / "twin.xlsx"
    run("plan", job, "--rack", furnished, "--output", saw)
    twin.write_bytes(furnished.read_bytes())
    result = run("rack", "finish", saw, furnished)
    assert result.exit_code == 0, result.output
    book = load_workbook(furnished)
    assert book.sheetnames == ["Notes", "Pieces", "Mine"]
    assert book["Notes"]["A1"].value == "Ring the mill"
    assert (book["Mine"]["B2"].value, book["Mine"]["B2"].fill.fgColor.rgb) == ("=Pieces!A3", "0000FF00")
    sheet = book["Pieces"]
    headings = [cell.value for cell in sheet[1]]
    assert headings[:3] == ["Length", "tube", "label"]
    assert set(headings[3:]) <= {"end trim", "sawn", "count", "job", "taken by"}
    assert [sheet.cell(3, column).value for column in (1, 2, 3)] == ["2000 mm", "other", "C"]
    assert (sheet["C3"].fill.fgColor.rgb, sheet["C3"].comment.text) == ("00FFFF00", "by the door")
    assert (sheet.column_dimensions["B"].width, sheet["A2"].comment) == (33, None)
    assert ("other", "C", 2000.0) in pieces(furnished)
    assert ("T", "A", 2400.0) not in pieces(furnished)
    plain = tmp_path / "plain.csv"
    plain.write_text("length,tube,label\n2400 mm,T,A\n2000 mm,other,C\n", encoding="utf-8")
    run("rack", "finish", saw, plain)
    assert pieces(furnished) == pieces(plain)
    assert read_rack(furnished).jobs == read_rack(plain).jobs
    run("rack", "finish", saw, twin)
    assert twin.read_bytes() == furnished.read_bytes()


def test_of_several_pieces_alike_the_row_stays_with_one_less(tmp_path):
    """Only the count is written again: the length stays as the person wrote it, and rows that say 0 stay too."""
    book = Workbook()
    for row in (("tube", "length", "count"), ("T", "90 cm", 3), ("T", "1 m", 0)):
        book.worksheets[0].append(row)
    path = tmp_path / "rack.xlsx"
    book.save(path)
    change_rack(path, lambda rack: Rack((replace(rack.rests[0], count=2), Rest("U", Fraction(500))), ("bay 1",)))
    assert [[cell.value for cell in row] for row in load_workbook(path).worksheets[0]] == [
        ["tube", "length", "count", "job"],
        ["T", "90 cm", 2, None],
        ["T", "1 m", 0, None],
        ["U", "500 mm", 1, None],
        [None, None, None, "bay 1"],
    ]


def test_an_empty_workbook_becomes_a_rack(tmp_path):
    """A workbook just begun, without headings."""
    path = tmp_path / "rack.xlsx"
    Workbook().save(path)
    change_rack(path, lambda rack: Rack((Rest("U", Fraction(500), "=1"),)))
    assert read_rack(path) == Rack((Rest("U", Fraction(500), "=1"),))


def test_a_workbook_that_cannot_be_kept_is_left_alone(run, job, saw, furnished, tmp_path, as_worded):
    """A chart and a later kind of rule would be lost: refused, nothing written, and the cure given."""
    plain = furnished.read_bytes()
    book = load_workbook(furnished, data_only=True)
    book["Mine"].add_chart(BarChart(), "D4")
    book.save(furnished)
    charted = furnished.read_bytes()
    furnished.write_bytes(plain)
    with zipfile.ZipFile(furnished) as parts:
        content = {name: parts.read(name) for name in parts.namelist()}
    rule = b'<extLst><ext uri="{CCE6A557-97BC-4B89-ADB6-D9C93CAAB3DF}"/></extLst></worksheet>'
    content["xl/worksheets/sheet3.xml"] = content["xl/worksheets/sheet3.xml"].replace(b"</worksheet>", rule)
    with zipfile.ZipFile(furnished, "w") as parts:
        for name, each in content.items():
            parts.writestr(name, each)
    for lost in (charted, furnished.read_bytes()):
        furnished.write_bytes(lost)
        result = run("rack", "finish", saw, furnished)
        assert (result.exit_code, furnished.read_bytes()) == (2, lost)
        as_worded(result.stderr)


CHANGE = """
import sys
from fractions import Fraction
from pathlib import Path
from cutplan.job.rack import Rack, Rest
from cutplan.output.rack_file import change_rack
for i in range(10):
    change_rack(
        Path(sys.argv[1]), lambda rack: Rack((*rack.rests, Rest("T", Fraction(500), f"{sys.argv[2]} {i}")), rack.jobs)
    )
"""


def test_runs_at_once_lose_nothing(rack, start):
    """Four processes put ten pieces each on one rack: all forty are there, and no lock is left behind."""
    with ExitStack() as at_once:
        running = [at_once.enter_context(start(rack, i, code=CHANGE)) for i in range(4)]
        for one in running:
            one.communicate(100)
    assert [one.returncode for one in running] == [0] * 4
    labels = {rest.label for rest in read_rack(rack).rests}
    assert labels == {"A", "B", "C"} | {f"{run} {i}" for run in range(4) for i in range(10)}
    assert [path.name for path in rack.parent.iterdir() if path.name.startswith(".")] == []


def test_a_lock_left_behind_is_no_hindrance(rack, run, job, saw, tmp_path):
    """A run that was killed has left its lock's file: nobody holds it, so the next run goes ahead and clears it."""
    lock = rack.parent / f".{rack.name}.lock"
    lock.touch()
    assert run("rack", "finish", saw, rack).exit_code == 0
    assert not lock.exists()


def test_a_run_that_holds_the_rack_is_waited_for_and_reported(rack, run, job, saw, monkeypatch, start, as_worded):
    """Another run has the rack for too long: that is said, and the rack is left alone."""
    monkeypatch.setattr("cutplan.output.rack_file._PATIENCE", 0.05)
    content = rack.read_bytes()
    hold = "import sys, time\nfrom pathlib import Path\nfrom cutplan.output.rack_file import change_rack\n"
    hold += "change_rack(Path(sys.argv[1]), lambda rack: print('held', flush=True) or time.sleep(60))"
    with start(rack, code=hold) as other:
        assert other.stdout.readline() == "held\n"
        result = run("rack", "finish", saw, rack)
        other.send_signal(signal.SIGKILL)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert rack.read_bytes() == content
    assert run("rack", "finish", saw, rack).exit_code == 0
