"""The saw-list workbook: what its cells hold, what may be written into it, and how it prints."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.workbook import Workbook
from pypdf import PdfReader

from cutplan.output.files import OutputError
from cutplan.output.workbook import SawListError, Tick, read_saw_list, saw_list_bytes, write_saw_list
from cutplan.plan.model import Plan


@pytest.fixture
def book(mm_plan: Plan, tmp_path: Path) -> Workbook:
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    return load_workbook(path)


def rows(book: Workbook, title: str) -> list[tuple[object, ...]]:
    return list(book[title].iter_rows(values_only=True))


def below_head(book: Workbook, title: str) -> list[tuple[object, ...]]:
    return rows(book, title)[4:]


def test_the_same_plan_gives_the_same_bytes(mm_plan: Plan, inch_plan: Plan) -> None:
    """Guards reproducibility: no date, no order that changes."""
    assert saw_list_bytes(mm_plan) == saw_list_bytes(mm_plan)
    assert saw_list_bytes(mm_plan) != saw_list_bytes(inch_plan)


def test_cuts_stand_in_order_with_numbers_as_numbers(book: Workbook) -> None:
    """Guards the saw list: cut by cut, what must be left, where a replacement comes from."""
    cuts = [row for row in below_head(book, "Saw list") if isinstance(row[0], int)]
    assert [row[0] for row in cuts] == [1, 2, 3, 4, 5]
    assert cuts[1][4:11] == (
        "2",
        "BS-L",
        1509.5,
        "cope 60 onto HOOP",
        "mitre 45",
        4483.5,
        "from what is left of bar 4",
    )
    assert cuts[0][10] == "nothing in hand: buy"


def test_the_list_at_the_saw_tells_bends_hands_and_what_is_left(book: Workbook) -> None:
    """Guards what the ends do not tell, and a good bar taken for a wrong one because less was trimmed."""
    cuts = [row for row in below_head(book, "Saw list") if isinstance(row[0], int)]
    notes = ["2 bends: see Bending", "left hand: see Marks", "right hand: see Marks", None, None]
    assert [row[11] or None for row in cuts] == notes
    said = "Left of the bar: what the tape finds after the cut, or up to 5 mm more where less was trimmed."
    assert str(book["Saw list"]["A2"].value).endswith(said)


def test_only_our_own_sums_are_formulas(mm_plan: Plan, book: Workbook) -> None:
    """Guards against a name that begins like a formula: text stays text, quoted, in every sheet."""
    ours = re.compile(r"=(SUM\([A-Z0-9:,]+\)|[A-Z]\d+\*[A-Z]\d+)")
    texts = set()
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert ours.fullmatch(str(cell.value)), cell.coordinate
                elif isinstance(cell.value, str) and cell.value[0] in "=+-@":
                    assert cell.quotePrefix, cell.coordinate
                    texts.add(cell.value)
    assert {"=rear bay", "+shed 4", "@DG"} <= texts


def test_inches_are_decimals_shown_as_fractions(inch_plan: Plan, tmp_path: Path) -> None:
    """Guards arithmetic in the sheet: the cell holds 59.78125, the eye reads 59 25/32."""
    write_saw_list(inch_plan, tmp_path / "in.xlsx")
    sheet = load_workbook(tmp_path / "in.xlsx")["Saw list"]
    assert sheet["G4"].value == "blank (in)"
    assert (sheet["G6"].value, sheet["G6"].number_format) == (59.78125, "# ??/??")
    assert sheet.page_setup.paperSize == 1


def test_what_a_tape_marks_shows_as_a_fraction(inch_plan: Plan, tmp_path: Path) -> None:
    """Guards 0.6213 read off a tape: the cell holds it, the eye reads 5/8; a part of a sum stays a decimal."""
    rail = inch_plan.blanks[0]
    throats = {0.6213: "# ?/8", 1.4703: "# ??/32", 2.01: "0", 0.0: "0"}
    for inches, style in throats.items():
        end = replace(rail.end_b, throat=inches * 25.4)
        blanks = (replace(rail, end_b=end), *inch_plan.blanks[1:])
        write_saw_list(replace(inch_plan, blanks=blanks), tmp_path / "in.xlsx", force=True)
        book = load_workbook(tmp_path / "in.xlsx")
        assert book["Marks"]["I5"].value == pytest.approx(inches)
        assert book["Marks"]["I5"].number_format == style
    assert book["Members"]["C6"].number_format == "0.0000"


def test_pages_are_set_up_for_print(book: Workbook) -> None:
    """Guards paper: landscape A4, one page wide, heads frozen and repeated, page x of y."""
    for sheet in book.worksheets:
        if sheet.sheet_state == "visible":
            assert (sheet.page_setup.orientation, sheet.page_setup.paperSize) == ("landscape", 9)
            assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
            assert sheet.sheet_properties.pageSetUpPr.fitToPage
            assert sheet.freeze_panes == "A5"
            assert sheet.print_title_rows == "$4:$4"
            assert sheet.oddFooter.right.text == "page &P of &N"


def test_only_ticks_can_be_typed_over(book: Workbook) -> None:
    """Guards a slip of the hand: the sheet is locked but for done, spoilt and left of it, and these are checked."""
    sheet = book["Saw list"]
    assert sheet.protection.sheet
    free = {cell.coordinate for row in sheet.iter_rows() for cell in row if not cell.protection.locked}
    assert free == {f"{column}{row}" for column in "BCD" for row in (6, 8, 9, 10, 12)}
    kinds = {check.type: check for check in sheet.data_validations.dataValidation}
    assert kinds["list"].formula1 == '"x"'
    assert kinds["decimal"].formula1 == "0"


def test_ticks_are_read_back_with_the_plan(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards what planning afresh starts from."""
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    book = load_workbook(path)
    sheet = book["Saw list"]
    sheet["B6"], sheet["C8"], sheet["D8"] = "x", "X ", 1200.5
    book.save(path)
    plan, ticks = read_saw_list(path)
    assert plan == mm_plan
    assert ticks[:3] == (
        Tick(1, True, False),
        Tick(2, False, True, mm_plan.blanks[1].length - 309),
        Tick(3, False, False),
    )


def test_a_left_of_it_that_is_no_length_is_refused(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards planning on a slip: the place, the value and the cure are named."""
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    book = load_workbook(path)
    book["Saw list"]["D8"] = "12OO"
    book.save(path)
    with pytest.raises(SawListError, match=r'Saw list row 8, left of it \(mm\): "12OO"'):
        read_saw_list(path)


def test_a_ticked_saw_list_is_not_written_over(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards an afternoon's ticks; one without ticks gives way, and so does any with force."""
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    write_saw_list(mm_plan, path)
    book = load_workbook(path)
    book["Saw list"]["B6"] = "x"
    book.save(path)
    before = path.read_bytes()
    with pytest.raises(OutputError, match="carries a tick"):
        write_saw_list(mm_plan, path)
    assert path.read_bytes() == before
    write_saw_list(mm_plan, path, force=True)
    assert path.read_bytes() == saw_list_bytes(mm_plan)


def test_a_job_is_never_written_over_by_its_saw_list(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards the job's own workbook from a mistyped --output."""
    path = tmp_path / "job.xlsx"
    Workbook().save(path)
    before = path.read_bytes()
    with pytest.raises(OutputError, match="is not a saw list"):
        write_saw_list(mm_plan, path)
    assert path.read_bytes() == before


def test_every_bar_is_drawn_with_its_marks_in_words(mm_plan: Plan, inch_plan: Plan, tmp_path: Path) -> None:
    """Guards black-and-white print: each stretch is named in the drawing or below it, spare and rest in words."""
    for plan in (mm_plan, inch_plan):
        write_saw_list(plan, tmp_path / "list.xlsx", force=True)
        texts = [str(v) for row in rows(load_workbook(tmp_path / "list.xlsx"), "Bars") for v in row if v is not None]
        for bar in (bar for tube in plan.tubes for bar in tube.bars):
            assert any(text.startswith(f"Bar {bar.name}: ") for text in texts)
            for cut in bar.cuts:
                assert any(f": {cut.mark} " in text for text in texts)
        assert any("cuts 3 to 8: RUNG 14 1/4 each" in text for text in texts) == (plan is inch_plan)
    write_saw_list(mm_plan, tmp_path / "list.xlsx", force=True)
    drawn = next(row for row in rows(load_workbook(tmp_path / "list.xlsx"), "Bars")[4:] if "SPARE 1511.5" in row)
    assert [text for text in drawn if text] == ["@DG", "SPARE 1511.5", "LEFT 3236.5"]


def test_marks_are_the_shape_s_own_figures(mm_plan: Plan, book: Workbook) -> None:
    """Guards what is marked by hand: in from the end and round the tube, by the end's line itself."""
    lines = {(row[0], row[1]): row for row in below_head(book, "Marks")}
    mitre = lines["BS-L, BS-R", "b"]
    # A mitre of 45 on 38 mm: 38 in at the short side, nothing at the long, half of it at the quarters.
    assert mitre[3:7] == tuple(pytest.approx(mm, abs=1e-6) for mm in (38, 19, 0, 19))
    assert mitre[10] == "saw at 45°; its 0 lies 90° from end a's"
    bends = {(row[0], row[1]): row for row in below_head(book, "Bending")}
    assert bends["HOOP", 2][2] == pytest.approx(2097.558)


def test_every_cut_says_what_to_do_if_it_is_spoilt(book: Workbook) -> None:
    """Guards the way out: a bar for each cut, or plainly none."""
    cuts = [row for row in below_head(book, "If spoilt") if isinstance(row[0], int)]
    assert [(row[0], row[5]) for row in cuts] == [(1, "-"), (2, "4"), (3, "4"), (4, "4"), (5, "4")]
    assert "another bar must be bought" in str(cuts[0][6])


def test_a_bar_is_not_split_over_two_pages(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards the list at the saw: a page ends with a bar, and nothing breaks where all fits on one page."""
    write_saw_list(mm_plan, tmp_path / "list.xlsx")
    assert not load_workbook(tmp_path / "list.xlsx")["Saw list"].row_breaks.brk
    [tube_1, tube_2] = mm_plan.tubes
    bars = tuple(
        replace(bar, name=f"{bar.name}-{n}", cuts=tuple(replace(cut, number=cut.number + 9 * n) for cut in bar.cuts))
        for n in range(8)
        for bar in tube_2.bars[:1]
    )
    write_saw_list(replace(mm_plan, tubes=(tube_1, replace(tube_2, bars=bars))), tmp_path / "list.xlsx")
    sheet = load_workbook(tmp_path / "list.xlsx")["Saw list"]
    breaks = [one.id for one in sheet.row_breaks.brk]
    assert breaks
    for last in breaks:
        assert str(sheet.cell(last + 1, 1).value).startswith("Bar ")


def converted(plan: Plan, tmp_path: Path, to: str) -> Path:
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice is not installed here")
    path = tmp_path / "list.xlsx"
    write_saw_list(plan, path)
    home = f"-env:UserInstallation=file://{tmp_path}/home"
    command = [office, home, "--headless", "--convert-to", to, "--outdir", str(tmp_path / "out"), str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return tmp_path / "out" / f"list.{to}"


def test_sums_agree_when_a_spreadsheet_works_them_out(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards live formulas: LibreOffice finds the plan's cost and every blank, and no error."""
    book = load_workbook(converted(mm_plan, tmp_path, "xlsx"), data_only=True)
    values = [str(value) for sheet in book.worksheets for row in sheet.iter_rows(values_only=True) for value in row]
    assert not [value for value in values if value.startswith(("#", "Err:"))]
    total = next(row for row in book["Buy"].iter_rows(values_only=True) if row[0] == "all tubes")
    assert (total[3], total[5]) == (3, pytest.approx(141.30))
    sums = {row[0]: row[2] for row in book["Members"].iter_rows(values_only=True) if row[1] == "blank, tip to tip"}
    assert sums == {
        "HOOP": pytest.approx(3210, abs=1e-6),
        "BS-L, BS-R": pytest.approx(1509.5, abs=1e-6),
        "@DG": pytest.approx(1180, abs=1e-6),
    }


def test_it_prints_one_page_wide(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards paper: as many pages as expected, all A4 landscape, numbered."""
    pdf = PdfReader(converted(mm_plan, tmp_path, "pdf"))
    pages = len(pdf.pages)
    assert pages == PAGES
    for number, page in enumerate(pdf.pages, 1):
        assert round(page.mediabox.width / 72 * 25.4) == 297
        assert f"page {number} of {pages}" in page.extract_text()


PAGES = 11
