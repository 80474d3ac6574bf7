"""The tables of a plan: exact values, and the same figures wherever they are shown."""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path

import pytest
from openpyxl import Workbook
from rich.console import Console

import cutplan
from cutplan.job.model import Units
from cutplan.output.as_json import plan_json
from cutplan.output.terminal import show_plan
from cutplan.output.workbook import saw_list_book
from cutplan.plan.model import Plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import TABLES, Tables, tables
from cutplan.plan.tables.columns import Kind, columns_of

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module", params=["sand-rail-bay", "ladder-frame", "hand-rail"])
def plan(request: pytest.FixtureRequest) -> Plan:
    """Millimetres with bends, inches, and shared mitres."""
    return with_rough_ends(cutplan.make_plan(cutplan.read_job(EXAMPLES / f"{request.param}.xlsx")))


def below(book: Workbook, title: str) -> list[dict[str, object]]:
    """The rows of a sheet under its headings, by heading without unit."""
    rows = [list(row) for row in book[title].iter_rows(values_only=True)]
    headings = [str(cell).split(" (")[0] for cell in rows[3]]
    return [dict(zip(headings, row, strict=True)) for row in rows[4:]]


def test_every_figure_is_that_of_the_table(plan: Plan) -> None:
    """Saw list, buy list and offcuts: sheet, JSON, terminal and data frame against the rows, in plain arithmetic."""
    rows, mm = Tables(plan), plan.job.settings.units.mm
    book, reported, frames = saw_list_book(plan), plan_json(plan), tables(plan)
    lengths = {row.cut: (float(row.blank / mm), float(row.left / mm)) for row in rows.saw_list}
    sheet = {row["cut"]: row for row in below(book, "Saw list") if isinstance(row["cut"], int)}
    assert {cut: (row["blank"], row["left of the bar"]) for cut, row in sheet.items()} == lengths
    cuts = [cut for tube in reported["tubes"] for bar in tube["bars"] for cut in bar["cuts"]]
    assert {cut["cut"]: (cut["blank"], cut["left"]) for cut in cuts} == lengths
    frame = frames["saw list"]
    assert dict(zip(frame["cut"], zip(frame["blank"], frame["left"], strict=True), strict=True)) == lengths
    bought = [(row.tube, float(row.length / mm), row.bars) for row in rows.buy]
    assert [(one["tube"], one["length"], one["count"]) for one in reported["buy"]] == bought
    shown = [row for row in below(book, "Buy") if isinstance(row["length of bar"], int | float)]
    assert [(row["tube"], row["length of bar"], row["bars"]) for row in shown] == bought
    offcuts = {row.bar: (float(row.left / mm), float(row.usable / mm), row.then) for row in rows.offcuts}
    shown = [row for row in below(book, "Bars in hand") if row["bar"]]
    assert {row["bar"]: (row["left at the end"], row["of it usable"], row["then"]) for row in shown} == offcuts
    if plan.job.settings.units is Units.MM:
        out = io.StringIO()
        show_plan(plan, Console(file=out, width=200))
        saw_list = out.getvalue().partition("\nSaw list")[2].partition("\nSpares")[0]
        lines = [line.split() for line in saw_list.splitlines() if line.strip()[:1].isdigit()]
        seen = {int(line[0]): float(line[3]) for line in lines}
        assert seen == {cut: blank for cut, (blank, _) in lengths.items()}


def test_parts_add_up_and_bars_are_used_up(plan: Plan) -> None:
    """By plain sums: the parts of a blank make its length, the stretches of a bar the bar, without a gap."""
    rows = Tables(plan)
    for member in rows.members:
        parts = [row.length for row in rows.parts if row.mark == member.mark]
        assert sum(parts) == pytest.approx(float(member.blank), abs=1e-6)
    for bar in rows.bars:
        assert (bar.stretches[0].start, bar.stretches[-1].end) == (0, bar.length)
        assert all(one.end == other.start for one, other in zip(bar.stretches, bar.stretches[1:], strict=False))
        assert sum(run.last - run.first + 1 for run in bar.runs) == bar.cuts


def test_making_holds_all_that_is_done_to_a_blank(plan: Plan) -> None:
    """Every shaped end has its marks, every cope its rough cuts, every bend its place; the flat tables are the same."""
    rows = Tables(plan)
    assert [one.mark for one in rows.making] == [blank.mark for blank in plan.blanks]
    for made, blank in zip(rows.making, plan.blanks, strict=True):
        shaped = {name for name, end in (("a", blank.end_a), ("b", blank.end_b)) if end.cut.value != "square"}
        assert {row.end for row in made.marks} == shaped
        assert [row.bend for row in made.bends] == [bend.number for bend in blank.bends]
        rough = {(one.mark, one.end): len(one.cuts) for one in plan.rough_ends}
        for end in "ab":
            assert len([row for row in made.rough_cuts if row.end == end]) == rough.get((blank.mark, end), 0)
        assert all(made.mark in row.alike for row in (*made.marks, *made.rough_cuts, *made.bends))
    assert rows.marks == tuple(row for made in rows.making for row in made.marks)


@pytest.mark.parametrize("name", TABLES)
def test_columns_are_typed(name: str, plan: Plan) -> None:
    """A length is an exact fraction or comes out of a curve; the data frame has the same columns in the same order."""
    row_class, rows = TABLES[name]
    columns = columns_of(row_class)
    frame = tables(plan)[name]
    assert list(frame.columns) == [column.name for column in columns]
    assert len(frame) == len(rows(Tables(plan)))
    kinds = {Kind.LENGTH: (Fraction, float), Kind.COUNT: (int,), Kind.TEXT: (str,), Kind.FLAG: (bool,)}
    for row in rows(Tables(plan)):
        for column in columns:
            value = getattr(row, column.field)
            assert value is None or isinstance(value, kinds.get(column.kind, (object,))), column
