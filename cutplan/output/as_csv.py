"""Any table of a plan as CSV for other programs; units in the headings."""

from __future__ import annotations

import csv
import io
from typing import Any

from cutplan.plan.model import Plan
from cutplan.plan.tables import TABLES, Tables
from cutplan.plan.tables.columns import columns_of


def table_csv(plan: Plan, name: str) -> str:
    """The table ``name`` of a plan (see `cutplan.plan.tables`) as CSV text. Text that a spreadsheet would take for a
    formula gets a ' in front."""
    row, rows = TABLES[name]
    columns, units = columns_of(row), plan.job.settings.units
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([column.heading(units) for column in columns])
    for each in rows(Tables(plan)):
        writer.writerow([_cell(column.value(each, units)) for column in columns])
    return out.getvalue()


def _cell(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
