"""Ways to alter a good saw-list workbook so that it lies, and what the check says of each.

What must be said is in ``lies_say.txt``; after a message was changed on purpose, ``renew_says.py`` writes it again.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from click.testing import CliRunner
from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.cli.main import main
from cutplan.output.opened import PLAN_DATA, read_saw_list
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


def planned(folder: Path) -> Plan:
    """The plan that the job's saw list carries; written in ``folder``."""
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
    return said_by_check(path)


def said_by_check(path: Path) -> tuple[int, str]:
    """Exit code and words of the check of the workbook at ``path``."""
    result = CliRunner().invoke(main, ["check", str(path)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


def said_of(good: Plan, name: str, path: Path) -> str:
    """What the check says of this lie, written at ``path``, on one line."""
    code, said = checked(good, LIES[name], path)
    assert code == 1, said
    return " ".join(said.replace(str(path), path.name).split())


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
        cell.value = value  # type: ignore[assignment]  # anything may be typed into a cell

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
    """Replace a text wherever it is in a sheet, at least once."""

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


def bar_of(plan: Any, name: str) -> Any:
    return next(bar for tube in plan["tubes"] for bar in tube["bars"] if bar["name"] == name)


def both(*changes: Change) -> Change:
    def change(book: Workbook) -> None:
        for each in changes:
            each(book)

    return change


LIES: dict[str, Change] = {
    # The saw list.
    "two marks swapped": swapped("Saw list", 5, 6, "mark"),
    "a mark misspelt": to("Saw list", 1, "mark", "L0NG"),
    "a blank shaved": to("Saw list", 7, "blank", 941),
    "a blank in another unit": to("Saw list", 1, "blank", 59.055118),
    "a blank as text": to("Saw list", 2, "blank", "100 mm"),
    "a blank as a formula": to("Saw list", 2, "blank", "=50+50"),
    "a blank cleared": to("Saw list", 2, "blank", None),
    "a blank that is an error": to("Saw list", 2, "blank", "#REF!"),
    "a kerf dropped from what is left": to("Saw list", 1, "left of the bar", 1490),
    "remains more than the bar": to("Saw list", 9, "left of the bar", 2500),
    "another bar's number": to("Saw list", 5, "bar", "4"),
    "a cut's number changed": to("Saw list", 6, "cut", 16),
    "two cuts' numbers swapped": swapped("Saw list", 1, 7, "cut"),
    "a cut's row dropped": dropped("Saw list", 4),
    "a cut's row twice": doubled("Saw list", 4),
    "a cut put in": lambda book: book["Saw list"].append([10, "", "", "", "3", "LONG", 1500]),
    "an end's angle": to("Saw list", 8, "end a", "mitre 40"),
    "the ends swapped": both(to("Saw list", 5, "end a", "square"), to("Saw list", 5, "end b", "cope 90 onto LONG")),
    "another way out": to("Saw list", 1, "if spoilt, cut it again", "from what is left of bar 1"),
    "a bar's line of another length": replaced("Saw list", "Bar 4: U, 2000 mm", "Bar 4: U, 2500 mm"),
    "the headings of the saw list lost": lambda book: book["Saw list"].delete_rows(4),
    # Ticks that cannot be.
    "more left than the blank": both(to("Saw list", 2, "spoilt", "x"), to("Saw list", 2, "still good", 150)),
    "left of a blank that is not spoilt": to("Saw list", 2, "still good", 50),
    "a tick that is none": to("Saw list", 3, "done", "perhaps"),
    "text where a length belongs": both(to("Saw list", 2, "spoilt", "x"), to("Saw list", 2, "still good", "half")),
    "a bar struck out and measured": both(
        to("Bars in hand", "3", "struck out", "x"), to("Bars in hand", "3", "measured now", 2990)
    ),
    "a bar measured below nothing": to("Bars in hand", "3", "measured now", -5),
    # What is bought and what it costs.
    "a price changed": to("Buy", "U", "price of a bar", 10.5),
    "a price as text": to("Buy", "U", "price of a bar", "11.50"),
    "a quantity changed": to("Buy", "T", "bars", 1),
    "a bar of another length bought": to("Buy", "T", "length of bar", 2900),
    "another tube bought": to("Buy", "T", "tube", "U"),
    "a line of the buy list dropped": dropped("Buy", "U"),
    "a line of the buy list twice": doubled("Buy", "U"),
    "a total typed over": to("Buy", "all tubes", "cost", 60),
    "a total that leaves one out": to("Buy", "all tubes", "cost", "=SUM(F6)"),
    "the cost in words": replaced("Buy", "Cost: 63.00", "Cost: 36.00"),
    "a proof denied": replaced("Buy", "EUR. Proven", "EUR. Not proven"),
    "the section of a tube": to("Buy", "T", "OD x wall", "38 x 2 mm"),
    # Bars, offcuts, ways out.
    "a bar in hand of another length": to("Bars in hand", "2", "length", 1400),
    "a rack piece under another label": to("Bars in hand", "2", "label", "R2"),
    "a bar in hand twice": doubled("Bars in hand", "3"),
    "a bar in hand dropped": dropped("Bars in hand", "3"),
    "a bar in hand renamed": to("Bars in hand", "3", "bar", "33"),
    "a longer offcut": to("Bars in hand", "1", "left at the end", 1282),
    "the saw hold counted as usable": to("Bars in hand", "4", "of it usable", 412.5),
    "a spare that is not kept": to("Bars in hand", "1", "spares on it", 1),
    "a way out from another bar": to("Saw list", 5, "if spoilt, cut it again", "from what is left of bar 2"),
    "a way out missing": to("Saw list", 9, "if spoilt, cut it again", None),
    "two marks insured that are not": replaced("Notes", "LEG-R, TAB.", "TAB."),
    # How the blanks came about, and what is marked on them.
    "a measured length changed": written("B6", "Members", 1490),
    "a part left out of the sum": written("B14", "Members", "=SUM(B10:B12)"),
    "a quantity of a member changed": written("D18", "Members", 2),
    "a part's row dropped": lambda book: book["Members"].delete_rows(12),
    "a part put in": lambda book: book["Members"].insert_rows(12) or written("B12", "Members", 5)(book),
    "a bend begun elsewhere": written("C10", "Making", 390),
    "a bend of another angle": written("F10", "Making", 80),
    "a depth to mark": written("D12", "Making", 12),
    "a saw angle": written("N6", "Making", 30),
    "a mark on the sheet for making": replaced("Making", "HOOP", "HOPO"),
    "another kerf in the notes": replaced("Notes", "2 mm", "3 mm"),
    "a caution left out": dropped("Notes", "Caution"),
    **{f"the sheet {name} deleted": gone(name) for name in SHEETS if name != "Saw list"},
    "the saw list itself deleted": gone("Saw list"),
    # The plan that is carried along.
    "the carried plan deleted": gone(PLAN_DATA),
    "the carried plan cut short": lambda book: written("A1", PLAN_DATA, str(book[PLAN_DATA]["A1"].value)[:-500])(book),
    "the carried plan of another kind": written("A1", PLAN_DATA, '{"format": 1, "plan": []}'),
    "a blank altered in the carried plan": carried(lambda plan: bar_of(plan, "1")["cuts"][0].update(blank="1490")),
    "a start moved in the carried plan": carried(lambda plan: bar_of(plan, "1")["cuts"][1].update(start="1500")),
    "a bar's length altered in the carried plan": carried(lambda plan: bar_of(plan, "4").update(length="2500")),
    "a price altered in the carried plan": carried(lambda plan: bar_of(plan, "4").update(price="10")),
    "a measurement altered in the carried job": carried(lambda plan: plan["job"]["members"][0].update(length="1490")),
    "a rack piece doubled in the carried plan": carried(
        lambda plan: plan["tubes"][0]["bars"].append(bar_of(plan, "2") | {"name": "6", "cuts": []})
    ),
    "a note altered in the carried plan": carried(lambda plan: plan["blanks"][1].update(note="right one first")),
}
"""How a workbook is altered, by the name of the lie."""

_LINES = Path(__file__).with_name("lies_say.txt").read_text(encoding="utf-8").split("\n")
SAYS = dict(line.split("\t") for line in _LINES if line)
"""What the check must say of each, on one line."""
