"""A plan fitted one at a time as it is shown: in words, in the order of the saw, and in JSON that can be checked."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from openpyxl import Workbook

from cutplan.job.model import Fitted
from cutplan.output.as_json import plan_json
from cutplan.output.read_back import plan_of_json
from cutplan.output.sheets import saw_list
from cutplan.output.state import freeze, thaw
from cutplan.plan import Plan, complaints, make_plan, prepare, wording
from cutplan.plan.tables import Tables

EXAMPLE = Path(__file__).parents[2] / "examples" / "sand-rail-bay.xlsx"


def planned() -> Plan:
    """The sand-rail bay, which one at a time needs a bar less."""
    prepared = prepare(EXAMPLE)
    settings = replace(prepared.job.settings, fitted=Fitted.ONE_AT_A_TIME, spares=1)
    return make_plan(replace(prepared.job, settings=settings), prepared.blanks)


def test_an_example_saves_a_bar_and_says_how() -> None:
    """The bay's thin tube needs 37.90 one at a time and 59.50 after all cuts; the one risky cut says what moves."""
    plan = planned()
    thin = plan.tubes[1]
    assert (thin.spares.fitted, float(thin.cost), thin.proven) == (Fitted.ONE_AT_A_TIME, 37.9, True)
    said = " ".join(wording.spares(thin.spares, plan.job.settings))
    assert said.startswith("One mistake, at any cut, can be made good in any of: BX, SB")
    hows = [cut.if_spoilt.how for bar in thin.bars for cut in bar.cuts if cut.if_spoilt]
    assert "from bar 4; then move LS-L to the spoilt piece" in hows


def test_json_carries_the_new_layouts(tmp_path: Path) -> None:
    """A program, or the check, can follow every way out from the JSON alone; the saw list carries them too."""
    plan = planned()
    file = tmp_path / "plan.json"
    file.write_text(json.dumps(plan_json(plan)), encoding="utf-8")
    again = plan_of_json(file, plan.job, plan.blanks)
    assert complaints(again) == ()
    assert again.tubes[1].bars == plan.tubes[1].bars
    assert thaw(freeze(plan)).tubes == plan.tubes


def test_the_saw_list_runs_in_the_order_of_cuts() -> None:
    """Where the saw goes back to a bar, the sheet does too: its rows are numbered as they stand."""
    plan = planned()
    thin = plan.tubes[1]
    first, second = thin.bars[0], thin.bars[1]
    last = max(cut.number for cut in first.cuts)
    swapped = (
        replace(first, cuts=(*first.cuts[:-1], replace(first.cuts[-1], number=last + 1))),
        replace(second, cuts=(replace(second.cuts[0], number=last), *second.cuts[1:])),
    )
    mixed = replace(plan, tubes=(plan.tubes[0], replace(thin, bars=(*swapped, *thin.bars[2:]))))
    sheet = Workbook().active
    assert sheet is not None
    saw_list.fill(sheet, Tables(mixed))
    numbers = [row[0] for row in sheet.iter_rows(values_only=True) if isinstance(row[0], int)]
    assert numbers == sorted(numbers)
    assert len(numbers) == last + 1
    titles = [str(row[0]) for row in sheet.iter_rows(min_row=5, values_only=True) if str(row[0]).startswith("Bar ")]
    assert len(titles) == len([bar for tube in plan.tubes for bar in tube.bars if bar.cuts]) + 1
