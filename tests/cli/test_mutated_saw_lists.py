"""A good saw-list workbook altered as a person or a fault would, one way at a time: what is false is reported with its
place and both values, and what a person may write is taken as written."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.cli.main import main
from cutplan.output.opened import PLAN_DATA, read_saw_list
from cutplan.output.state import freeze
from cutplan.output.workbook import saw_list_book
from cutplan.plan.model import Plan

TABLES = {
    "Job": "setting,value\nname,Rack\nkerf,2\nend trim,10\nsaw hold,50\nfit cope,1\ncurrency,EUR\n",
    "Tubes": "tube,od,wall,clr\nT,38,2.5,\nU,30,2,90\n",
    "Stock": "tube,length,price,available,from,label\nT,3000,20,,,\nT,1300,,1,rack,R1\nU,2000,11.5,,,\n",
    "Members": (
        "mark,tube,qty,pair,length,end a,angle a,onto a,insured,note\nLONG,T,,,1500,,,,,\n"
        "LEG,T,,yes,600,cope,90,LONG,,left one first\nTAB,T,3,,100,,,,no,\nHOOP,U,,,,,,,,\nBR,U,2,,300,mitre,45,,,\n"
    ),
    "Bends": "mark,straight,angle\nHOOP,400,90\nHOOP,400,\n",
}
"""T: bar 1 (3 m) is LONG 1500 and three TAB 100, bar 2 (rack, R1) LEG-L and LEG-R 601, bar 3 is kept whole.
U: bar 4 (2 m) is HOOP 941.5 and two BR 315, bar 5 is kept whole. Cuts 1 to 9 in this order."""

SHEETS = ("Buy", "Saw list", "Bars in hand", "Members", "Making", "Notes")
Change = Callable[[Workbook], None]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """The plan that the job's saw list carries."""
    folder = tmp_path_factory.mktemp("good")
    for name, text in TABLES.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    path = folder / "saw-list.xlsx"
    result = CliRunner().invoke(main, ["plan", str(folder), "--output", str(path)])
    assert result.exit_code == 0, result.output
    return read_saw_list(path).plan


def checked(good: Plan, change: Change, path: Path) -> tuple[int, str]:
    """Exit code and words of the check of the altered workbook."""
    book = saw_list_book(good)
    change(book)
    book.save(path)
    result = CliRunner().invoke(main, ["check", str(path)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


def at(sheet: Worksheet, key: object, heading: str) -> Cell:
    """The cell under ``heading`` in the row that begins with ``key``."""
    headings = {str(cell.value).split(" (")[0]: cell.column for cell in sheet[4]}
    (row,) = [cell.row for cell in sheet["A"] if cell.value == key and cell.row > 4][:1]
    cell = sheet.cell(row, headings[heading])
    assert isinstance(cell, Cell)
    return cell


def to(sheet: str, key: object, heading: str, value: object) -> Change:
    """Write over one cell."""

    def change(book: Workbook) -> None:
        cell = at(book[sheet], key, heading)
        assert cell.value != value
        cell.value = value  # type: ignore[assignment]

    return change


def swapped(sheet: str, one: object, other: object, heading: str) -> Change:
    """Exchange two cells of a column."""

    def change(book: Workbook) -> None:
        first, second = at(book[sheet], one, heading), at(book[sheet], other, heading)
        assert first.value != second.value
        first.value, second.value = second.value, first.value

    return change


def dropped(sheet: str, key: object) -> Change:
    """Delete a row."""
    return lambda book: book[sheet].delete_rows(at(book[sheet], key, _first(book[sheet])).row)


def doubled(sheet: str, key: object) -> Change:
    """Copy a row below the last one."""

    def change(book: Workbook) -> None:
        row = at(book[sheet], key, _first(book[sheet])).row
        book[sheet].append([cell.value for cell in book[sheet][row]])

    return change


def _first(sheet: Worksheet) -> str:
    return str(sheet["A4"].value).split(" (")[0]


def gone(sheet: str) -> Change:
    """Delete a sheet."""
    return lambda book: book.remove(book[sheet])


def written(coordinate: str, sheet: str, value: object) -> Change:
    """Write over a cell by its place."""

    def change(book: Workbook) -> None:
        assert book[sheet][coordinate].value != value
        book[sheet][coordinate].value = value

    return change


def replaced(sheet: str, old: str, new: str) -> Change:
    """Replace a text wherever it stands in a sheet, at least once."""

    def change(book: Workbook) -> None:
        cells = [cell for row in book[sheet].iter_rows() for cell in row if old in str(cell.value)]
        assert cells
        for cell in cells:
            cell.value = str(cell.value).replace(old, new)

    return change


def carried(alter: Callable[[Any], None]) -> Change:
    """Alter the plan that the workbook carries in its hidden sheet."""

    def change(book: Workbook) -> None:
        data = json.loads(str(book[PLAN_DATA]["A1"].value))
        alter(data["plan"])
        book[PLAN_DATA]["A1"].value = json.dumps(data)

    return change


def _bar(plan: Any, name: str) -> Any:
    return next(bar for tube in plan["tubes"] for bar in tube["bars"] if bar["name"] == name)


def _both(*changes: Change) -> Change:
    def change(book: Workbook) -> None:
        for each in changes:
            each(book)

    return change


LIES: dict[str, tuple[Change, str]] = {
    # The saw list.
    "two marks swapped": (
        swapped("Saw list", 5, 6, "mark"),
        r"Saw list, cut 5, mark: shows LEG-R, the plan says LEG-L",
    ),
    "a mark misspelt": (to("Saw list", 1, "mark", "L0NG"), r"Saw list, cut 1, mark: shows L0NG, the plan says LONG"),
    "a blank shaved": (to("Saw list", 7, "blank", 941), r"Saw list, cut 7, blank: shows 941, the plan says 941.5"),
    "a blank in another unit": (
        to("Saw list", 1, "blank", 59.055118),
        r"cut 1, blank: shows 59.0551, the plan says 1500",
    ),
    "a blank as text": (to("Saw list", 2, "blank", "100 mm"), r"cut 2, blank: shows 100 mm, the plan says 100"),
    "a blank as a formula": (to("Saw list", 2, "blank", "=50+50"), r"cut 2, blank: shows =50\+50, the plan says 100"),
    "a blank cleared": (to("Saw list", 2, "blank", None), r"cut 2, blank: shows nothing, the plan says 100"),
    "a blank that is an error": (to("Saw list", 2, "blank", "#REF!"), r"cut 2, blank: shows #REF!, the plan says 100"),
    "a kerf dropped from what is left": (
        to("Saw list", 1, "left of the bar", 1490),
        r"cut 1, left of the bar: shows 1490, the plan says 1488",
    ),
    "remains more than the bar": (
        to("Saw list", 9, "left of the bar", 2500),
        r"cut 9, left of the bar: shows 2500, the plan says 412.5",
    ),
    "another bar's number": (to("Saw list", 5, "bar", "4"), r"Saw list, cut 5, bar: shows 4, the plan says 2"),
    "a cut's number changed": (to("Saw list", 6, "cut", 16), r"Saw list: cut 6 is missing(.|\n)*cut 16 is not in the"),
    "two cuts' numbers swapped": (swapped("Saw list", 1, 7, "cut"), r"Saw list, cut 1, bar: shows 4, the plan says 1"),
    "a cut's row dropped": (dropped("Saw list", 4), r"Saw list: cut 4 is missing"),
    "a cut's row twice": (doubled("Saw list", 4), r"Saw list: cut 4 is listed twice"),
    "a cut put in": (
        lambda book: book["Saw list"].append([10, "", "", "", "3", "LONG", 1500]),
        r"cut 10 is not in the",
    ),
    "an end's angle": (
        to("Saw list", 8, "end a", "mitre 40"),
        r"Saw list row 15, end a: shows mitre 40, the plan says mitre 45",
    ),
    "the ends swapped": (
        _both(to("Saw list", 5, "end a", "square"), to("Saw list", 5, "end b", "cope 90 onto LONG")),
        r"Saw list row 11, end a: shows square, the plan says cope 90 onto LONG",
    ),
    "another way out": (
        to("Saw list", 1, "if spoilt, cut it again", "from what is left of bar 1"),
        r"Saw list, cut 1, if spoilt, cut it again: shows from what is left of bar 1, the plan says from bar 3, kept",
    ),
    "a bar's line of another length": (
        replaced("Saw list", "Bar 4: U, 2000 mm", "Bar 4: U, 2500 mm"),
        r"Saw list row 13.*shows Bar 4: U, 2500 mm",
    ),
    "the headings of the saw list lost": (
        lambda book: book["Saw list"].delete_rows(4),
        r"Saw list: is missing headings",
    ),
    # Ticks that cannot be.
    "more left than the blank": (
        _both(to("Saw list", 2, "spoilt", "x"), to("Saw list", 2, "still good", 150)),
        r'Saw list row 7: "150 mm": still good for cut 2 is more than its blank, 100 mm',
    ),
    "left of a blank that is not spoilt": (
        to("Saw list", 2, "still good", 50),
        r"Saw list row 7: cut 2 has a length under still good but is not ticked spoilt",
    ),
    "a tick that is none": (to("Saw list", 3, "done", "perhaps"), r'Saw list row 8, done: "perhaps": is not a tick'),
    "text where a length belongs": (
        _both(to("Saw list", 2, "spoilt", "x"), to("Saw list", 2, "still good", "half")),
        r'Saw list row 7, still good \(mm\): "half": is not a length',
    ),
    "a bar struck out and measured": (
        _both(to("Bars in hand", "3", "struck out", "x"), to("Bars in hand", "3", "measured now", 2990)),
        r"Bars in hand row 7: bar 3 is both struck out and measured",
    ),
    "a bar measured below nothing": (
        to("Bars in hand", "3", "measured now", -5),
        r'Bars in hand row 7, measured now \(mm\): "-5": is negative',
    ),
    # What is bought and what it costs.
    "a price changed": (
        to("Buy", "U", "price of a bar", 10.5),
        r"Buy, line 2, price of a bar: shows 10.5, the plan says",
    ),
    "a price as text": (to("Buy", "U", "price of a bar", "11.50"), r"Buy, line 2, price of a bar: shows 11.50, the pl"),
    "a quantity changed": (to("Buy", "T", "bars", 1), r"Buy, line 1, bars: shows 1, the plan says 2"),
    "a bar of another length bought": (
        to("Buy", "T", "length of bar", 2900),
        r"line 1, length of bar: shows 2900, the pl",
    ),
    "another tube bought": (to("Buy", "T", "tube", "U"), r"Buy, line 1, tube: shows U, the plan says T"),
    "a line of the buy list dropped": (dropped("Buy", "U"), r"Buy: line 2 is missing"),
    "a line of the buy list twice": (doubled("Buy", "U"), r"Buy: line 3 is not in the plan"),
    "a total typed over": (
        to("Buy", "all tubes", "cost", 60),
        r"Buy row 9, cost: shows 60, the plan says =SUM\(F6,F8\)",
    ),
    "a total that leaves one out": (to("Buy", "all tubes", "cost", "=SUM(F6)"), r"Buy row 9, cost: shows =SUM\(F6\)"),
    "the cost in words": (replaced("Buy", "Cost: 63.00", "Cost: 36.00"), r"Buy row 11, tube: shows Cost: 36.00 EUR"),
    "a proof denied": (
        replaced("Buy", "EUR. Proven", "EUR. Not proven"),
        r"Buy row 11, tube: shows Cost: 63.00 EUR. Not",
    ),
    "the section of a tube": (
        to("Buy", "T", "OD x wall", "38 x 2 mm"),
        r"Buy row 5, OD x wall: shows 38 x 2 mm, the pl",
    ),
    # Bars, offcuts, ways out.
    "a bar in hand of another length": (
        to("Bars in hand", "2", "length", 1400),
        r"Bars in hand, bar 2, length: shows 1400",
    ),
    "a rack piece under another label": (
        to("Bars in hand", "2", "label", "R2"),
        r"bar 2, label: shows R2, the plan says R1",
    ),
    "a bar in hand twice": (doubled("Bars in hand", "3"), r"Bars in hand: bar 3 is listed twice"),
    "a bar in hand dropped": (dropped("Bars in hand", "3"), r"Bars in hand: bar 3 is missing"),
    "a bar in hand renamed": (to("Bars in hand", "3", "bar", "33"), r"Bars in hand: bar 33 is not in the plan"),
    "a longer offcut": (
        to("Bars in hand", "1", "left at the end", 1282),
        r"Bars in hand, bar 1, left at the end: shows 1282, the plan says 1182",
    ),
    "the saw hold counted as usable": (
        to("Bars in hand", "4", "of it usable", 412.5),
        r"bar 4, of it usable: shows 412.5, the",
    ),
    "a spare that is not kept": (
        to("Bars in hand", "1", "spares on it", 1),
        r"Bars in hand, bar 1, spares on it: shows 1, the plan",
    ),
    "a way out from another bar": (
        to("Saw list", 5, "if spoilt, cut it again", "from what is left of bar 2"),
        r"Saw list, cut 5, if spoilt, cut it again: shows from what is left of bar 2",
    ),
    "a way out missing": (
        to("Saw list", 9, "if spoilt, cut it again", None),
        r"cut 9, if spoilt, cut it again: shows nothing, the plan says from what is left of bar 4",
    ),
    "two marks insured that are not": (
        replaced("Notes", "LEG-R, TAB.", "TAB."),
        r"Notes row 25, setting: shows T: After all cuts",
    ),
    # How the blanks came about, and what is marked on them.
    "a measured length changed": (
        written("B6", "Members", 1490),
        r"Members row 6, length: shows 1490, the plan says 1500",
    ),
    "a part left out of the sum": (
        written("B14", "Members", "=SUM(B10:B12)"),
        r"Members row 14, length: shows =SUM\(B10:B12\)",
    ),
    "a quantity of a member changed": (written("D18", "Members", 2), r"Members row 18, qty: shows 2, the plan says 3"),
    "a part's row dropped": (
        lambda book: book["Members"].delete_rows(12),
        r"Members: a row is missing below row 11: end a: fit",
    ),
    "a part put in": (
        lambda book: book["Members"].insert_rows(12) or written("B12", "Members", 5)(book),
        r"Members row 12: is not in the plan: 5",
    ),
    "a bend begun elsewhere": (
        written("C10", "Making", 390),
        r"Making row 10, 0, short side: shows 390, the plan says 400",
    ),
    "a bend of another angle": (written("F10", "Making", 80), r"Making row 10, 270: shows 80, the plan says 90"),
    "a depth to mark": (written("D12", "Making", 12), r"Making row 12, 90: shows 12, the plan says 15"),
    "a saw angle": (written("N6", "Making", 30), r"Making row 6, saw angle: shows 30, the plan says 45"),
    "a mark on the sheet for making": (
        replaced("Making", "HOOP", "HOPO"),
        r"Making row 8, end: shows HOPO \(U\), the plan says HOOP \(U\)",
    ),
    "another kerf in the notes": (
        replaced("Notes", "2 mm", "3 mm"),
        r"Notes row 7, value: shows 3 mm, the plan says 2 mm",
    ),
    "a caution left out": (dropped("Notes", "Caution"), r"Notes: a row is missing below row 16: Caution"),
    **{
        f"the sheet {name} deleted": (gone(name), rf"{name}: the sheet is missing")
        for name in SHEETS
        if name != "Saw list"
    },
    "the saw list itself deleted": (gone("Saw list"), r"is missing its sheet Saw list"),
    # The plan that is carried along.
    "the carried plan deleted": (gone(PLAN_DATA), r"is not a saw list"),
    "the carried plan cut short": (
        lambda book: written("A1", PLAN_DATA, str(book[PLAN_DATA]["A1"].value)[:-500])(book),
        r"Plan data: cannot be read",
    ),
    "the carried plan of another kind": (
        written("A1", PLAN_DATA, '{"format": 1, "plan": []}'),
        r"Plan data: cannot be read",
    ),
    "a blank altered in the carried plan": (
        carried(lambda plan: _bar(plan, "1")["cuts"][0].update(blank="1490")),
        r"cut 1: LONG is not the length of its blank",
    ),
    "a start moved in the carried plan": (
        carried(lambda plan: _bar(plan, "1")["cuts"][1].update(start="1500")),
        r"cut 2: starts at 1500 mm, not at 1502",
    ),
    "a bar's length altered in the carried plan": (
        carried(lambda plan: _bar(plan, "4").update(length="2500")),
        r"bar 4: no such bar in the Stock sheet",
    ),
    "a price altered in the carried plan": (
        carried(lambda plan: _bar(plan, "4").update(price="10")),
        r"bar 4: no such bar in the Stock sheet",
    ),
    "a measurement altered in the carried job": (
        carried(lambda plan: plan["job"]["members"][0].update(length="1490")),
        r"LONG: a blank of 1500 mm, but the job gives 1490 mm",
    ),
    "a rack piece doubled in the carried plan": (
        carried(lambda plan: plan["tubes"][0]["bars"].append(_bar(plan, "2") | {"name": "6", "cuts": []})),
        r"T: 2 bars of one kind \(.*\) used, 1 available",
    ),
    "a note altered in the carried plan": (
        carried(lambda plan: plan["blanks"][1].update(note="right one first")),
        r"Members row 9, part: shows LEG-L, LEG-R .*: left one first, the plan says .*: right one first",
    ),
}


@pytest.mark.parametrize("name", LIES)
def test_every_false_entry_is_reported(name: str, good: Plan, tmp_path: Path) -> None:
    """The altered workbook does not hold, and the words say where and what."""
    change, words = LIES[name]
    code, said = checked(good, change, tmp_path / "altered.xlsx")
    assert code == 1, said
    assert re.search(words, said), said


LEGAL: dict[str, Change] = {
    "nothing": lambda book: None,
    "a tick": to("Saw list", 1, "done", "x"),
    "a date for a tick": to("Saw list", 1, "done", "3.5.24"),
    "a spoilt blank and what is left of it": _both(
        to("Saw list", 2, "spoilt", "x"), to("Saw list", 2, "still good", 60)
    ),
    "a bar measured": to("Bars in hand", "3", "measured now", 2995),
    "a bar struck out that has cuts": to("Bars in hand", "4", "struck out", "x"),
    "a sheet of one's own": lambda book: book.create_sheet("shopping").append(["paint", 2]),
    "words below a table": lambda book: book["Buy"].append(["ask for the offcut bin"]),
    "a number beside a table": written("N6", "Saw list", 12),
    "whole numbers saved as decimals": to("Saw list", 1, "blank", 1500.0000000001),
    "a wider column": lambda book: book["Buy"].column_dimensions.__getitem__("A").__setattr__("width", 40),
}


@pytest.mark.parametrize("name", LEGAL)
def test_what_a_person_may_write_holds(name: str, good: Plan, tmp_path: Path) -> None:
    """Ticks, measured and struck-out bars, and notes where nothing stands are no lies."""
    code, said = checked(good, LEGAL[name], tmp_path / "worked.xlsx")
    assert code == 0, said


@pytest.mark.parametrize(
    ("entries", "words", "without"),
    [
        ([("Saw list", 1, "done", "x")], r"cut 1 \(LONG\)|LONG", None),
        ([("Saw list", 1, "spoilt", "x")], r"LONG", None),
        ([("Bars in hand", "2", "struck out", "x")], r"bar 2", "R1"),
        ([("Bars in hand", "2", "measured now", 1000)], r"1000 mm", None),
    ],
)
def test_recut_follows_what_was_written(
    entries: list[tuple[str, object, str, object]], words: str, without: str | None, good: Plan, tmp_path: Path
) -> None:
    """A tick, a spoilt blank, a bar struck out or measured: the new list is planned from that, and holds itself."""
    path, fresh = tmp_path / "worked.xlsx", tmp_path / "fresh.xlsx"
    assert checked(good, _both(*(to(*entry) for entry in entries)), path)[0] == 0
    result = CliRunner().invoke(main, ["recut", str(path), "--output", str(fresh)])
    assert result.exit_code == 0, result.output
    assert re.search(words, result.output)
    plan = read_saw_list(fresh).plan
    bars = [bar for tube in plan.tubes for bar in tube.bars]
    if without is not None:
        assert without not in [bar.label for bar in bars]
    if entries[0][2] == "measured now":
        assert Fraction(1000) in [bar.length for bar in bars]
    if entries[0][2] == "done":
        assert [made.blank.mark for made in plan.made] == ["LONG"]
    assert CliRunner().invoke(main, ["check", str(fresh)]).exit_code == 0


def test_a_list_of_another_version_is_held_by_its_figures(good: Plan, tmp_path: Path) -> None:
    """Another version may word its notes otherwise; what is sawn by is proved all the same."""

    def older(book: Workbook) -> None:
        book[PLAN_DATA]["B1"].value = "0.1.0"
        replaced("Notes", "Measure again", "Measure once more")(book)
        # What version 0.1.0 had otherwise: more sheets, and less on one of them.
        book.remove(book["Making"])
        for title in ("Bars", "Marks", "Rough cuts", "Bending", "If spoilt", "Offcuts"):
            book.create_sheet(title)["A1"] = f"Rack: {title}"
        headings = {cell.value: cell.column for cell in book["Bars in hand"][4]}
        for heading in ("then", "spares on it", "of it usable (mm)", "left at the end (mm)", "what for", "from"):
            book["Bars in hand"].delete_cols(headings[heading])

    assert checked(good, older, tmp_path / "older.xlsx")[0] == 0
    code, said = checked(good, _both(older, to("Saw list", 1, "blank", 1490)), tmp_path / "older.xlsx")
    assert (code, "cut 1, blank: shows 1490" in said) == (1, True)
    ticked = _both(older, to("Saw list", 1, "done", "x"), to("Bars in hand", "2", "measured now", 1290))
    assert checked(good, ticked, tmp_path / "older.xlsx")[0] == 0
    result = CliRunner().invoke(main, ["recut", str(tmp_path / "older.xlsx"), "--output", str(tmp_path / "new.xlsx")])
    assert result.exit_code == 0, result.output
    assert [made.blank.mark for made in read_saw_list(tmp_path / "new.xlsx").plan.made] == ["LONG"]


def leaves(data: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The place of every value of a JSON tree."""
    children = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, child in children:
        yield (*path, key)
        yield from leaves(child, (*path, key))


@pytest.mark.parametrize(("shift", "value"), list(enumerate([None, -1, "x", [], {}])))
def test_whatever_is_written_into_the_carried_plan_ends_in_words(
    shift: int, value: object, good: Plan, tmp_path: Path
) -> None:
    """Any value of the carried plan made another: a located message or a proof, never an error of another kind."""
    text = freeze(good)
    # Where a row stood in the job is for messages alone.
    places = [place for place in leaves(json.loads(text)) if "place" not in place]
    for place in places[shift :: max(1, len(places) // 8)]:

        def alter(book: Workbook, place: tuple[str | int, ...] = place) -> None:
            data = json.loads(text)
            inner = data
            for key in place[:-1]:
                inner = inner[key]
            inner[place[-1]] = value
            book[PLAN_DATA]["A1"].value = json.dumps(data)

        code, said = checked(good, alter, tmp_path / "altered.xlsx")
        # What the job held when it was planned serves recut alone, to tell what has changed in it since.
        assert code == 1 or "source" in place, (place, said)
        assert "altered.xlsx" in said
