"""The saw-list workbook: what its cells hold, what may be written into it, and how it prints."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
from collections.abc import Callable, Iterable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock
from openpyxl import load_workbook
from openpyxl.workbook import Workbook
from pypdf import PdfReader
from wording import Worded

from cutplan.geometry import Blank, end_line, lay_out
from cutplan.geometry.ends import cope as cope_of
from cutplan.geometry.ends import square
from cutplan.job.model import INCH, Cut, End, Fitted, Job, Member, Onto, Saddle, Settings, Source, Tube
from cutplan.output.files import OutputError
from cutplan.output.opened import read_saw_list
from cutplan.output.sheets import bars_in_hand, making, members
from cutplan.output.ticks import SawListError
from cutplan.output.workbook import saw_list_bytes, write_saw_list
from cutplan.plan import make_plan, prepare, wording
from cutplan.plan.model import Plan, Recovery
from cutplan.plan.recut.ticks import Tick
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables

Converted = dict[str, tuple[Plan, Path, Path, Path]]


@pytest.fixture
def book(mm_plan: Plan, tmp_path: Path) -> Workbook:
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    return load_workbook(path)


def rows(book: Workbook, title: str) -> list[tuple[object, ...]]:
    return list(book[title].iter_rows(values_only=True))


def below_heading(book: Workbook, title: str) -> list[tuple[object, ...]]:
    return rows(book, title)[4:]


def test_the_same_plan_gives_the_same_bytes(mm_plan: Plan, inch_plan: Plan) -> None:
    """Guards reproducibility: no date, no order that changes."""
    assert saw_list_bytes(mm_plan) == saw_list_bytes(mm_plan)
    assert saw_list_bytes(mm_plan) != saw_list_bytes(inch_plan)


def test_cuts_stand_in_order_with_numbers_as_numbers(book: Workbook, as_worded: Worded) -> None:
    """Guards the saw list: cut by cut, what must be left, where a replacement comes from."""
    cuts = [row for row in below_heading(book, "Saw list") if isinstance(row[0], int)]
    assert [row[0] for row in cuts] == [1, 2, 3, 4, 5]
    assert (cuts[1][4:7], cuts[1][9]) == (("2", "BS-L", 1509.5), 4483.5)
    as_worded(*cuts[1][7:9], cuts[1][10], cuts[0][10])


def test_the_list_at_the_saw_tells_bends_hands_and_what_is_left(book: Workbook) -> None:
    """Guards what the ends do not tell, and a good bar taken for a wrong one because less was trimmed."""
    cuts = [row for row in below_heading(book, "Saw list") if isinstance(row[0], int)]
    notes = ["2 bends", "left hand", "right hand", None, None]
    assert [row[11] or None for row in cuts] == notes
    said = "Left of the bar: what the tape shows after the cut, or up to 5 mm more where less was trimmed."
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
        row = next(row for row in book["Making"].iter_rows(min_row=5) if row[0].value == "b")
        assert row[10].value == pytest.approx(inches)
        assert row[10].number_format == style
    assert book["Members"]["B6"].number_format == "0.0000"


def test_pages_are_set_up_for_print(book: Workbook) -> None:
    """Guards paper: A4, one page wide, upright where rows are many and short, headings frozen and repeated, page x of
    y."""
    for sheet in book.worksheets:
        if sheet.sheet_state == "visible":
            way = "portrait" if sheet.title in ("Members", "Notes") else "landscape"
            assert (sheet.page_setup.orientation, sheet.page_setup.paperSize) == (way, 9)
            assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
            assert sheet.sheet_properties.pageSetUpPr.fitToPage
            assert sheet.freeze_panes == "A5"
            assert sheet.print_title_rows == "$4:$4"
            assert sheet.oddFooter.right.text == "page &P of &N"


def test_only_ticks_can_be_typed_over(book: Workbook) -> None:
    """Guards a slip of the hand: the sheet is locked but for done, spoilt, still good and fitted, and these are
    checked."""
    sheet = book["Saw list"]
    assert sheet.protection.sheet
    free = {cell.coordinate for row in sheet.iter_rows() for cell in row if not cell.protection.locked}
    assert free == {f"{column}{row}" for column in "BCDM" for row in (6, 8, 9, 10, 12)}
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
    found = read_saw_list(path)
    assert found.plan == mm_plan
    assert found.ticks[:3] == (
        Tick(1, True, False),
        Tick(2, False, True, mm_plan.blanks[1].length - 309),
        Tick(3, False, False),
    )


def test_a_left_of_it_that_is_no_length_is_refused(mm_plan: Plan, tmp_path: Path, as_worded: Worded) -> None:
    """Guards planning on a slip: the place, the value and the cure are named."""
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    book = load_workbook(path)
    book["Saw list"]["D8"] = "12OO"
    book.save(path)
    with pytest.raises(SawListError) as caught:
        read_saw_list(path)
    as_worded(caught.value)


def test_a_ticked_saw_list_is_not_written_over(mm_plan: Plan, tmp_path: Path) -> None:
    """Guards an afternoon's ticks; one without ticks gives way, and so does any with force."""
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    write_saw_list(mm_plan, path)
    book = load_workbook(path)
    book["Saw list"]["B6"] = "x"
    book.save(path)
    before = path.read_bytes()
    with pytest.raises(OutputError, match="has a tick"):
        write_saw_list(mm_plan, path)
    assert path.read_bytes() == before
    write_saw_list(mm_plan, path, force=True)
    assert path.read_bytes() == saw_list_bytes(mm_plan)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda book: book["Saw list"].__setitem__("B6", "half"), 'Saw list row 6, done: "half": is not a tick'),
        (lambda book: book["Saw list"].__setitem__("D6", "cut, ok"), "Saw list row 6, still good (mm): "),
        (lambda book: book["Bars in hand"].__setitem__("A4", "which"), "Bars in hand: is missing headings (bar)"),
        (lambda book: setattr(book["Saw list"], "title", "Monday"), "is missing its sheet Saw list"),
    ],
    ids=["no tick", "no length", "a heading lost", "a sheet renamed"],
)
def test_a_saw_list_that_cannot_be_read_is_not_said_to_be_none(
    mm_plan: Plan, tmp_path: Path, change: Callable[[Workbook], None], says: str, as_worded: Worded
) -> None:
    """Guards the ticks beside a slip of the pen: what cannot be read is named with its place, and ``--force`` by what
    it costs, not as the way on."""
    path = tmp_path / "list.xlsx"
    write_saw_list(mm_plan, path)
    book = load_workbook(path)
    book["Saw list"]["B8"] = "x"
    change(book)
    book.save(path)
    before = path.read_bytes()
    with pytest.raises(OutputError) as reported:
        write_saw_list(mm_plan, path)
    assert says in reported.value.rule
    as_worded(reported.value)
    assert path.read_bytes() == before


def test_a_job_is_never_written_over_by_its_saw_list(mm_plan: Plan, tmp_path: Path, as_worded: Worded) -> None:
    """Guards the job's own workbook from a mistyped --output."""
    path = tmp_path / "job.xlsx"
    Workbook().save(path)
    before = path.read_bytes()
    with pytest.raises(OutputError) as caught:
        write_saw_list(mm_plan, path)
    as_worded(caught.value)
    assert path.read_bytes() == before


def test_marks_are_the_shape_s_own_figures(mm_plan: Plan, book: Workbook, as_worded: Worded) -> None:
    """Guards what is marked by hand: in from the end and round the tube, by the end's line itself; where bends go."""
    made = below_heading(book, "Making")
    start = next(number for number, row in enumerate(made) if str(row[0]).startswith("BS-L, BS-R ("))
    mitre = next(row for row in made[start:] if row[0] == "b")
    # A mitre of 45 on 38 mm: 38 in at the short side, nothing at the long, half of it at the quarters.
    assert mitre[2:6] == tuple(pytest.approx(mm, abs=1e-6) for mm in (38, 19, 0, 19))
    as_worded(mitre[11], book["Making"]["A2"].value)
    start = next(number for number, row in enumerate(made) if str(row[0]).startswith("HOOP ("))
    assert [row[1] for row in made[start + 1 :] if row[0] in ("bend", 1, 2)][:1] == ["bender's mark"]
    second = next(row for row in made[start:] if row[0] == 2)
    assert second[1] == pytest.approx(2097.558)


def test_every_cut_says_what_to_do_if_it_is_spoilt(book: Workbook, as_worded: Worded) -> None:
    """Guards the way out: a bar for each cut, or plainly none; and what the spares cover."""
    cuts = [row for row in below_heading(book, "Saw list") if isinstance(row[0], int)]
    as_worded(*(row[10] for row in cuts))
    as_worded(*(row[0] for row in rows(book, "Notes") if "HOOP" in str(row[0])))


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


MARK = "gate post by the garden shed, hinge side"


def long_marks(inch_plan: Plan) -> Plan:
    """A mark of forty letters, and the longest of inches."""
    rail, rung = inch_plan.blanks
    long = replace(rail, mark=MARK, length=INCH * Fraction(7679, 32))
    [tube] = inch_plan.tubes
    [bar] = tube.bars
    cuts = tuple(
        replace(cut, mark=MARK, blank=long.length, left=INCH * Fraction(7677, 32)) if cut.mark == "RAIL" else cut
        for cut in bar.cuts
    )
    return replace(inch_plan, blanks=(long, rung), tubes=(replace(tube, bars=(replace(bar, cuts=cuts),)),))


@pytest.fixture(scope="module")
def converted(mm_plan: Plan, inch_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Converted:
    """Plans, and their saw lists as written, as LibreOffice saves them and as it prints them: started once for all."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice is not installed here")
    plans = {"by hand": mm_plan, "long marks": long_marks(inch_plan)}
    for name in EXAMPLES:
        prepared = prepare(Path(__file__).parents[2] / "examples" / f"{name}.xlsx")
        plans[name] = with_rough_ends(make_plan(prepared.job, prepared.blanks))
    # Where tests run side by side, whoever comes first converts for all.
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "office"
    with FileLock(f"{folder}.lock"):
        if not folder.exists():
            folder.mkdir()
            for name, plan in plans.items():
                write_saw_list(plan, folder / f"{name}.xlsx")
            for to in ("xlsx", "pdf"):
                command = [office, f"-env:UserInstallation=file://{folder}/home", "--headless", "--convert-to", to]
                command += ["--outdir", str(folder / to), *(str(folder / f"{name}.xlsx") for name in plans)]
                subprocess.run(command, check=True, capture_output=True, timeout=240)
    return {
        name: (plan, folder / f"{name}.xlsx", folder / "xlsx" / f"{name}.xlsx", folder / "pdf" / f"{name}.pdf")
        for name, plan in plans.items()
    }


def errors_among(values: Iterable[str]) -> list[str]:
    """Texts that a spreadsheet shows in place of a value: #REF!, #NAME?, #N/A, #DIV/0!, Err:502."""
    return [value for value in values if re.match(r"#[A-Z]|Err:", value)]


def test_sums_agree_when_a_spreadsheet_works_them_out(converted: Converted) -> None:
    """Guards live formulas: LibreOffice finds the plan's cost and every blank, and no error."""
    book = load_workbook(converted["by hand"][2], data_only=True)
    values = [str(value) for sheet in book.worksheets for row in sheet.iter_rows(values_only=True) for value in row]
    assert not errors_among(values)
    total = next(row for row in book["Buy"].iter_rows(values_only=True) if row[0] == "all tubes")
    assert (total[3], total[5]) == (3, pytest.approx(141.30))
    sums, named = {}, ""
    for row in book["Members"].iter_rows(values_only=True):
        named = str(row[0]).partition(" (")[0] if row[1] is None else named
        if row[0] == "blank, tip to tip":
            sums[named] = row[1]
    assert sums == {
        "HOOP": pytest.approx(3210, abs=1e-6),
        "BS-L, BS-R": pytest.approx(1509.5, abs=1e-6),
        "@DG": pytest.approx(1180, abs=1e-6),
    }


def test_it_prints_one_page_wide(converted: Converted) -> None:
    """Guards paper: as many pages as expected, all A4, numbered."""
    pdf = PdfReader(converted["by hand"][3])
    pages = len(pdf.pages)
    assert pages == PAGES
    for number, page in enumerate(pdf.pages, 1):
        assert round(page.mediabox.width / 72 * 25.4) in (210, 297)
        assert f"page {number} of {pages}" in page.extract_text()


PAGES = 6


def test_both_ears_are_marked(tmp_path: Path) -> None:
    """Guards the second ear: of a saddle offset by 4 it lies elsewhere than the first, and shorter; found here by
    looking along the finished line; a member that is cut to one point only has none."""
    end = cope_of(30.0, [Saddle(Onto(Fraction(45)), 75.0, Fraction(4))])
    slim = cope_of(12.0, [Saddle(Onto(Fraction(60)), 40.0)])
    job = Job(Settings(), (Tube("t", Fraction(30), Fraction(2)),), (), (Member("M", "t", length=Fraction(900)),))
    blank = Blank("M", "M", "t", 1, Fraction(900), (), end, slim)
    plan = Plan(job, (blank,), (), (), Decimal(0), Decimal(0), True)
    sheet = Workbook().active
    assert sheet is not None
    making.fill(sheet, Tables(plan))
    rows = [tuple(cell.value for cell in row) for row in sheet.iter_rows(min_row=5)]
    a, b = (next(row for row in rows if row[0] == side and row[1] != "inside of the wall") for side in "ab")
    per_degree = math.pi * 30 / 360
    turns = np.arange(0.0, 360.0, 0.01)
    line = end_line(end, turns)
    tip = turns[np.argmin(line)]
    assert tip > 180
    other = (turns > 60) & (turns < 150)
    assert a[6] == pytest.approx(tip * per_degree, abs=0.1)
    assert a[7] == pytest.approx(turns[other][np.argmin(line[other])] * per_degree, abs=0.1)
    assert a[8] == pytest.approx(line[other].min(), abs=0.01)
    assert a[8] > 1
    assert (b[7], b[8]) == ("", "")
    assert b[6] == pytest.approx(math.pi * 12 / 2, abs=0.1)


def test_the_inside_of_the_wall_and_further_ears_are_marked() -> None:
    """A thick wall has a second line with the depths inside, a thin one has not; an end on two tubes has four ears."""
    cross = [Saddle(Onto(Fraction(45)), 80.0), Saddle(Onto(Fraction(45)), 70.0, Fraction(0), 100.0)]
    for wall, second in ((Fraction(4), True), (Fraction(1, 10), False)):
        shape = cope_of(42.0, cross)
        job = Job(Settings(), (Tube("t", Fraction(42), wall),), (), (Member("M", "t", length=Fraction(900)),))
        blank = Blank("M", "M", "t", 1, Fraction(900), (), shape, square(42.0))
        sheet = Workbook().active
        assert sheet is not None
        making.fill(sheet, Tables(Plan(job, (blank,), (), (), Decimal(0), Decimal(0), True)))
        rows = [tuple(cell.value for cell in row) for row in sheet.iter_rows(min_row=5) if row[0].value == "a"]
        assert len(rows) == 1 + second
        assert "further ear" in rows[0][11]
        assert "further throat" in rows[0][11]
        if second:
            quarters = end_line(shape, [0.0, 90.0, 180.0, 270.0], radius_mm=17.0)
            outside = end_line(shape, [0.0, 90.0, 180.0, 270.0])
            assert rows[1][2:6] == pytest.approx(tuple(np.maximum(quarters, outside)), abs=1e-6)
            assert rows[1][1] == "inside of the wall"
            assert re.fullmatch(r"at the tip [\d.]+", rows[1][11])


def test_the_rule_of_a_third_is_shown_where_it_does_not_serve(as_worded: Worded) -> None:
    """Guards a saddle sawn into by rule of thumb: for a tee of equal tubes the sheet says that it is too deep, as its
    sides are the tip itself; and that it is common practice. Where it would do, not a word."""
    prepared = prepare(Path(__file__).parents[2] / "examples" / "ladder-frame.xlsx")
    plan = with_rough_ends(Plan(prepared.job, prepared.blanks, (), (), Decimal(0), Decimal(0), True))
    sheet = Workbook().active
    assert sheet is not None
    making.fill(sheet, Tables(plan))
    (said,) = (str(row[0]) for row in sheet.iter_rows(values_only=True) if "common practice" in str(row[0]))
    as_worded(said)
    # At 20 degrees the sides are deep.
    shape = cope_of(30.0, [Saddle(Onto(Fraction(60)), 20.0)])
    job = Job(Settings(), (Tube("t", Fraction(30), Fraction(2)),), (), (Member("M", "t", length=Fraction(900)),))
    blank = Blank("M", "M", "t", 1, Fraction(900), (), shape, square(30.0))
    plan = with_rough_ends(Plan(job, (blank,), (), (), Decimal(0), Decimal(0), True))
    assert min(end_line(shape, [90.0, 270.0])) > 10.0
    assert plan.rough_ends
    assert Tables(plan).third_said == ()


def test_an_offcut_that_a_replacement_needs_is_kept(mm_plan: Plan, as_worded: Worded) -> None:
    """Guards tube given away too soon: kept while a cut may still be made again from it. One at a time, what is left
    of a bar that no later cut asks for is free."""
    sheet = Workbook().active
    assert sheet is not None
    bars_in_hand.fill(sheet, Tables(mm_plan))
    then = {row[0]: row[11] for row in sheet.iter_rows(values_only=True) if row[0]}
    as_worded(*(then[bar] for bar in "423"))
    tube = mm_plan.tubes[1]
    spares = replace(tube.spares, fitted=Fitted.ONE_AT_A_TIME)
    moved = Recovery("3", "from bar 3", (("3", ("BS-L", "@DG")),))
    bars = tuple(
        replace(
            bar, spares=0, cuts=tuple(replace(cut, if_spoilt=moved if cut.number == 2 else None) for cut in bar.cuts)
        )
        for bar in tube.bars
    )
    sheet = Workbook().active
    assert sheet is not None
    bars_in_hand.fill(
        sheet, Tables(replace(mm_plan, tubes=(mm_plan.tubes[0], replace(tube, spares=spares, bars=bars))))
    )
    then = {row[0]: row[11] for row in sheet.iter_rows(values_only=True) if row[0]}
    as_worded(then["3"])


def test_what_the_rack_gives_is_for_these_cuts_alone(mm_plan: Plan, as_worded: Worded) -> None:
    """Guards a rack piece taken to the saw for cuts that lie on other bars: that it goes back to it is said."""
    as_worded(*(wording.cuts_among(cuts) for cuts in ([7], [3, 1, 2], [1, 2, 5, 8, 9])))
    tube = mm_plan.tubes[1]
    cuts = tuple(replace(cut, number=cut.number * 2) for cut in tube.bars[0].cuts)
    bars = (replace(tube.bars[0], cuts=cuts, source=Source.RACK), *tube.bars[1:])
    sheet = Workbook().active
    assert sheet is not None
    bars_in_hand.fill(sheet, Tables(replace(mm_plan, tubes=(mm_plan.tubes[0], replace(tube, bars=bars)))))
    as_worded(*(row[7] for row in sheet.iter_rows(values_only=True) if row[0] == tube.bars[0].name))


def test_long_marks_and_lengths_are_not_cut_short(converted: Converted) -> None:
    """Guards ### at the saw: the longest of inches and a mark of forty letters print in full."""
    pages = [page.extract_text() for page in PdfReader(converted["long marks"][3]).pages]
    assert not any("###" in text for text in pages)
    listed = " ".join(pages[1].split())
    assert listed.count("239 31/32") == 2
    assert all(word in listed for word in MARK.split())


def test_each_hand_says_what_it_lands_on(as_worded: Worded) -> None:
    """Guards a right-hand brace fitted to the left leg: where the two hands land on others, each is named."""
    end = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(38), "LEG-L", "LEG"), 60.0),))
    members_of = (
        Member("LEG", "t", pair=True, length=Fraction(900)),
        Member("BR", "t", pair=True, length=Fraction(700), end_a=end),
    )
    job = Job(Settings(), (Tube("t", Fraction(38), Fraction(2)),), (), members_of)
    blanks = lay_out(job).blanks
    plan = with_rough_ends(Plan(job, blanks, (), (), Decimal(0), Decimal(0), True))
    book = Workbook()
    members.fill(book.create_sheet("Members"), Tables(plan))
    making.fill(book.create_sheet("Making"), Tables(plan))
    headings = [row[0] for row in rows(book, "Members")]
    as_worded(*(heading for heading in headings if str(heading).startswith("BR-L")))
    made = [str(row[0] if row[1] is None else row[1]) for row in rows(book, "Making")[4:]]
    for mark, onto in (("BR-L (t)", "LEG-L"), ("BR-R (t)", "LEG-R")):
        assert made[made.index(mark) + 1] == f"cope 60 onto {onto}"


EXAMPLES = {"sand-rail-bay": (8, (210, 297)), "ladder-frame": (6, (216, 279)), "hand-rail": (13, (210, 297))}
"""The pages that each example's saw list prints on, and the sides of the paper in mm."""


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_opens_and_prints(name: str, converted: Converted) -> None:
    """Guards what a person prints: each example's workbook opens, all its sheets have their page, LibreOffice finds no
    error in any formula, and it prints one page wide, as many pages as it did when last looked at."""
    plan, written, saved, printed = converted[name]
    book = load_workbook(written)
    shown = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    assert len(shown) == 6
    for sheet in shown:
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.print_area.startswith(f"'{sheet.title}'!$A$1:")
    worked = load_workbook(saved, data_only=True)
    values = [str(value) for sheet in worked.worksheets for row in sheet.iter_rows(values_only=True) for value in row]
    assert not errors_among(values)
    total = [row for row in worked["Buy"].iter_rows(values_only=True) if row[0] == "all tubes"]
    assert total[0][5] == pytest.approx(float(plan.cost))
    pages, sides = EXAMPLES[name]
    pdf = PdfReader(printed)
    assert len(pdf.pages) == pages
    texts = [page.extract_text() for page in pdf.pages]
    for number, (page, text) in enumerate(zip(pdf.pages, texts, strict=True), 1):
        assert round(page.mediabox.width / 72 * 25.4) in sides
        assert f"page {number} of {pages}" in text
        assert "###" not in text
    # One wide: each sheet's title is on one page only, and its headings on all of its pages.
    titles = [sheet.title for sheet in shown]
    firsts = [title for text in texts for title in titles if f"{plan.job.settings.name}: {title}\n" in text]
    assert firsts == titles
