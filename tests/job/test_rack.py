"""The rack's table: read as a person writes it, every fault reported with its place, written so that it reads back."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.styles import PatternFill

from cutplan.job.faults import JobError, Place
from cutplan.job.model import INCH, Source, StockRow, Units
from cutplan.job.rack import HEADINGS, Rack, RackError, Rest, pieces_for, read_rack, shown_exactly, table_of

F = Fraction


def test_a_rack_typed_by_hand_is_read(tmp_path: Path) -> None:
    """Any order of headings, blank cells and rows, mm and inches side by side."""
    path = tmp_path / "rack.csv"
    path.write_text('Length,tube,LABEL,count\n1460 mm,38x2.5,R7,\n\n"57 1/2""",rail,,2\n', encoding="utf-8")
    assert read_rack(path) == Rack(
        (
            Rest("38x2.5", F(1460), "R7"),
            Rest("rail", INCH * F(115, 2), count=2, units=Units.IN),
        )
    )


def test_a_workbook_is_read_like_a_csv(tmp_path: Path) -> None:
    """The same table in .xlsx, with a job that was finished."""
    rack = Rack((Rest("T", F(1460), "R7", F(10), True, 1, "bay"), Rest("U", F(300), count=3)), ("bay 0123456789",))
    book = Workbook()
    for row in table_of(rack):
        book.worksheets[0].append(row)
    book.save(tmp_path / "rack.xlsx")
    assert read_rack(tmp_path / "rack.xlsx") == rack


def test_an_empty_rack_has_nothing(tmp_path: Path) -> None:
    """A file just begun."""
    (tmp_path / "rack.csv").write_text("", encoding="utf-8")
    assert read_rack(tmp_path / "rack.csv") == Rack()
    (tmp_path / "rack.csv").write_text(",".join(HEADINGS) + "\n", encoding="utf-8")
    assert read_rack(tmp_path / "rack.csv") == Rack()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("tube,length\nT,1460\n", 'rack.csv row 2, length: "1460": has no unit (write 1460 mm or 1460 in)'),
        ("tube,length\nT,14OO mm\n", "rack.csv row 2, length"),
        ("tube,length\nT,\n", "rack.csv row 2, length: must be filled in"),
        ("tube,length\n,1460 mm\n", "rack.csv row 2, tube: must be filled in"),
        ("tube,length\nT,0 mm\n", "must be more than 0"),
        ("tube,length\nT,-5 mm\n", "must be 0 or more"),
        ("tube,length,count\nT,5 mm,1.5\n", "rack.csv row 2, count"),
        ("tube,length,sawn\nT,5 mm,half\n", "must be yes or no"),
        ("tube,length,lable\nT,5 mm,R\n", '"lable": is not a heading of this sheet (did you mean label?)'),
        ("tube,length,tube\nT,5 mm,R\n", "the heading appears twice"),
        ("tube,label\nT,R\n", "the heading length is missing"),
        ("tube,length,count\nT,5 mm,1001\n", '"1001": must be 1000 or less'),
        ("tube,length,label\nT,5 mm,R\x1b[31m\n", "rack.csv row 2, label"),
        ("tube,length,label\nT,5 mm,R\x01\n", "contains a character that cannot be printed"),
        ("tube,length,label\nT,5 mm,R\ufffe\n", "contains a character that cannot be printed"),
        (f"tube,length,label\nT,5 mm,{'R' * 201}\n", "is longer than 200 characters"),
        (f"tube,length,job\n,,{'R' * 201}\n", "is longer than 200 characters"),
        ("tube,length\nT,5 mm,R7\n", 'rack.csv row 2: "R7": column 3'),
        ("tube,length,\nT,5 mm,R7\n", 'rack.csv row 2: "R7": column 3'),
        ('tube,length\nT,"5\n', "rack.csv row 2: the quotes do not match"),
        ("tube;length\nT;5 mm\n", "rack.csv row 1: the cells are separated by semicolons (save it with commas"),
    ],
)
def test_every_fault_has_its_place(tmp_path: Path, text: str, says: str) -> None:
    """Nothing is guessed at, and nothing passed over."""
    path = tmp_path / "rack.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError) as caught:
        read_rack(path)
    assert says in str(caught.value)


def test_a_file_that_is_no_rack_is_reported(tmp_path: Path) -> None:
    """Missing, of another kind, or damaged."""
    (tmp_path / "rack.txt").write_text("", encoding="utf-8")
    (tmp_path / "rack.xlsx").write_text("no", encoding="utf-8")
    for name, says in (("none.csv", "no such file"), ("rack.txt", "neither"), ("rack.xlsx", "not a workbook")):
        with pytest.raises(JobError, match=says):
            read_rack(tmp_path / name)


def test_text_of_another_kind_is_reported_as_in_a_job(tmp_path: Path) -> None:
    """UTF-16 and Latin-1, as old spreadsheets save them: reported in words, with the cure."""
    path = tmp_path / "rack.csv"
    for coding, says in (("utf-16", "is UTF-16 text"), ("latin-1", 'row 2: "byte fc": is not UTF-8 text')):
        path.write_text("tube,length,label\nT,5 mm,für\n", encoding=coding)
        with pytest.raises(RackError) as caught:
            read_rack(path)
        assert says in str(caught.value)
        assert "save it again as CSV UTF-8" in str(caught.value)


@pytest.mark.parametrize(
    ("cell", "value", "says"),
    [
        ("D2", '=100&" mm"', "rack.xlsx row 2, end trim: contains a formula that was never calculated"),
        ("C2", "=1+2", "rack.xlsx row 2, count: contains a formula that was never calculated"),
        ("B2", "#REF!", "is a spreadsheet error"),
        ("E2", datetime(2026, 3, 4), '"2026-03-04": is a date or a time'),
        ("E1", datetime(2026, 3, 4), 'rack.xlsx row 1: "2026-03-04": a heading is a date or a time'),
        ("A1048576", "x", "has a cell beyond row 30,000"),
        ("XFD1048576", "x", "has cells beyond column 200"),
    ],
)
def test_cells_of_a_workbook_are_read_as_a_jobs(tmp_path: Path, cell: str, value: object, says: str) -> None:
    """Nothing that a spreadsheet leaves in a cell is taken for blank, and a stray cell far off is reported at once."""
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.append(("tube", "length", "count", "end trim", "label"))
    sheet.append(("T", "900 mm", 2, None, "R1"))
    sheet[cell] = value
    book.save(tmp_path / "rack.xlsx")
    begun = time.monotonic()
    with pytest.raises(RackError) as caught:
        read_rack(tmp_path / "rack.xlsx")
    assert says in str(caught.value)
    assert time.monotonic() - begun < 5


def test_merged_cells_are_reported(tmp_path: Path) -> None:
    """One tube's name over two rows: which pieces it means is not guessed."""
    book = Workbook()
    for row in (("tube", "length"), ("T", "900 mm"), (None, "800 mm")):
        book.worksheets[0].append(row)
    book.worksheets[0].merge_cells("A2:A3")
    book.save(tmp_path / "rack.xlsx")
    with pytest.raises(RackError, match=r"rack\.xlsx row 2: the cells A2:A3 are merged"):
        read_rack(tmp_path / "rack.xlsx")


def test_a_fill_far_down_costs_no_time(tmp_path: Path) -> None:
    """A fill alone is no cell of the table: passed over, and not by walking a million rows."""
    book = Workbook()
    for row in (("tube", "length"), ("T", "900 mm")):
        book.worksheets[0].append(row)
    book.worksheets[0]["XFD1048576"].fill = PatternFill("solid", "FFFF00")
    book.save(tmp_path / "rack.xlsx")
    begun = time.monotonic()
    assert read_rack(tmp_path / "rack.xlsx").rests == (Rest("T", F(900)),)
    assert time.monotonic() - begun < 5


def test_sheets_set_aside_and_saw_lists_are_no_rack(tmp_path: Path) -> None:
    """The table is on the first sheet that is not for notes; without one there is a fault, not an empty rack."""
    path = tmp_path / "rack.xlsx"
    book = Workbook()
    book.worksheets[0].title = "Notes"
    book.save(path)
    with pytest.raises(RackError, match="has no sheet except notes"):
        read_rack(path)
    for row in (("tube", "length"), ("T", "900 mm")):
        sheet = book["Tubes"] if "Tubes" in book.sheetnames else book.create_sheet("Tubes")
        sheet.append(row)
    book.save(path)
    assert (read_rack(path).rests, read_rack(path).sheet) == ((Rest("T", F(900)),), "Tubes")
    book.create_sheet("Saw list")
    book.create_sheet("Plan data")
    book.save(path)
    with pytest.raises(RackError, match="is a saw list, not a rack"):
        read_rack(path)


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (F(2919, 2), Units.MM, "1459.5 mm"),
        (INCH * F(115, 2), Units.IN, "57 1/2 in"),
        (INCH * F(115, 256), Units.IN, "11.41 mm"),
        (F(1000, 3), Units.MM, "333.33 mm"),
    ],
)
def test_a_length_is_written_so_that_it_reads_back(mm: Fraction, units: Units, text: str) -> None:
    """Exact wherever a tape could read it, else rounded down: a rack promises nothing it has not."""
    assert shown_exactly(mm, units) == text


def test_pieces_of_a_jobs_tubes_become_its_stock() -> None:
    """Other tubes stay where they are; the tube takes the job's spelling."""
    rack = Rack((Rest("38 X 2.5", F(900), "A", F(10), True, 2), Rest("other", F(900))))
    assert pieces_for(rack, ["38x2.5"], ()) == (
        StockRow("38x2.5", F(900), None, 2, Source.RACK, "A", F(10), sawn=True),
    )


def test_pieces_that_no_label_distinguishes_are_reported() -> None:
    """Alike but for their ends: which is which could not be said on the saw list."""
    rack = Rack((Rest("T", F(900)), Rest("T", F(900), "", F(10), True)))
    with pytest.raises(JobError, match="give each piece a label of its own"):
        pieces_for(rack, ["T"], ())
    stock = StockRow("T", F(900), None, 1, Source.RACK, "", F(10))
    with pytest.raises(JobError, match="give each piece a label of its own"):
        pieces_for(Rack((Rest("T", F(900)),)), ["T"], (stock,))


def test_a_label_on_two_rows_is_reported(tmp_path: Path) -> None:
    """One piece written down twice would be counted twice; another length or tube is another piece, and pieces without
    a label may be many."""
    path = tmp_path / "rack.csv"
    heading = "tube,length,label\n"
    path.write_text(f"{heading}T,900 mm,R1\nT,800 mm,R1\nU,900 mm,R1\nT,900 mm,\nT,900 mm,\n", encoding="utf-8")
    assert len(read_rack(path).rests) == 5
    path.write_text(f"{heading}T,900 mm,R1\nt,90 cm,r1\n", encoding="utf-8")
    with pytest.raises(JobError) as caught:
        read_rack(path)
    (fault,) = str(caught.value).splitlines()
    assert fault.startswith('rack.csv row 3, label: "r1": a piece of this tube, length and label is already in row 2')
    assert "count 2" in fault


def test_more_pieces_than_a_rack_holds_are_reported() -> None:
    """Guards against a search without end: 5,000 pieces's tubes serve, one more is a fault; others do not
    count."""
    rests = [Rest("T", F(900 + number), count=1000) for number in range(5)]
    assert len(pieces_for(Rack((*rests, Rest("U", F(900), count=1000))), ["T"], ())) == 5
    with pytest.raises(RackError, match="gives 5,001 pieces of this job's tubes, more than 5,000"):
        pieces_for(Rack((*rests, Rest("T", F(800)))), ["T"], ())


def test_a_piece_in_stock_and_on_the_rack_is_reported() -> None:
    """Guards against a piece that lies there once and is planned with twice: both places are named. One to buy, one
    used up, and one of another length are other pieces."""
    rack = Rack((Rest("T", F(900), "R1", F(10), True, place=Place("rack.csv", 2)),))
    there = StockRow("t", F(900), None, 1, Source.RACK, "r1", place=Place("Stock", 5))
    with pytest.raises(JobError) as caught:
        pieces_for(rack, ["T"], (there,))
    assert str(caught.value) == (
        'rack.csv row 2, label: "R1": the same piece is also in Stock row 5 and would be counted twice '
        "(take it out of one of the two)"
    )
    others = (
        replace(there, available=0),
        replace(there, source=Source.BUY),
        replace(there, length=F(901)),
        replace(there, label=""),
    )
    assert len(pieces_for(rack, ["T"], others)) == 1
