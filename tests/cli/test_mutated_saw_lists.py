"""A good saw-list workbook altered as a person or a fault would, one way at a time: what is false is reported with its
place and both values, and what a person may write is taken as written."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from altered_lists import LIES, SAYS, Change, both, checked, planned, replaced, said_by_check, said_of, to, written
from click.testing import CliRunner
from openpyxl import Workbook
from saw_lists import carrying

from cutplan.cli.main import main
from cutplan.output.opened import PLAN_DATA, read_saw_list
from cutplan.output.state import freeze
from cutplan.output.workbook import saw_list_book
from cutplan.plan.model import Plan


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """The plan that the job's saw list carries."""
    return planned(tmp_path_factory.mktemp("good"))


@pytest.mark.parametrize("name", LIES)
def test_every_false_entry_is_reported(name: str, good: Plan, tmp_path: Path) -> None:
    """The altered workbook does not hold, and the words say where and what: all that is said, and nothing else."""
    assert said_of(good, name, tmp_path / "altered.xlsx") == SAYS[name]


def test_the_list_of_messages_is_whole() -> None:
    """Every lie has its message, and no message has lost its lie."""
    assert SAYS.keys() == LIES.keys()
    assert len(SAYS) > 70


LEGAL: dict[str, Change] = {
    "nothing": lambda book: None,
    "a tick": to("Saw list", 1, "done", "x"),
    "a date for a tick": to("Saw list", 1, "done", "3.5.24"),
    "a spoilt blank and what is left of it": both(
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
    """Ticks, measured and struck-out bars, and notes where nothing is are not untruths."""
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
    assert checked(good, both(*(to(*entry) for entry in entries)), path)[0] == 0
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
    code, said = checked(good, both(older, to("Saw list", 1, "blank", 1490)), tmp_path / "older.xlsx")
    assert (code, "cut 1, blank: shows 1490" in said) == (1, True)
    ticked = both(older, to("Saw list", 1, "done", "x"), to("Bars in hand", "2", "measured now", 1290))
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
    path = tmp_path / "altered.xlsx"
    saw_list_book(good).save(path)
    sound = path.read_bytes()
    for place in places[shift :: max(1, len(places) // 6)]:
        data = json.loads(text)
        inner = data
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = value
        path.write_bytes(carrying(sound, data))
        code, said = said_by_check(path)
        # What the job held when it was planned serves recut alone, to tell what has changed in it since.
        assert code == 1 or "source" in place, (place, said)
        assert "altered.xlsx" in said
