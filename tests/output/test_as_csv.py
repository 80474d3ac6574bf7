"""Tables as CSV."""

from __future__ import annotations

import csv
import io

from cutplan.output.as_csv import table_csv
from cutplan.plan.model import Plan


def test_a_cut_a_row_in_order_units_in_the_headings(mm_plan: Plan) -> None:
    """Guards other programs, and a spreadsheet from a mark that begins like a formula."""
    rows = list(csv.DictReader(io.StringIO(table_csv(mm_plan, "saw list"))))
    assert [row["cut"] for row in rows] == ["1", "2", "3", "4", "5"]
    assert rows[1]["blank (mm)"] == "1509.5"
    assert rows[1]["left (mm)"] == "4483.5"
    assert rows[3]["mark"] == "'@DG"
    assert [row["note"] for row in rows] == ["2 bends", "left hand; left and right", "right hand", "", ""]
