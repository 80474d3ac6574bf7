"""Writes the tables of columns and settings in the manual from the schema: ``python tests/make_manual.py``.

A table is found by its sheet's heading and its own first line, and may be empty. The rest of the page is by hand.
"""

from __future__ import annotations

import re
from enum import Enum
from fractions import Fraction
from itertools import groupby
from pathlib import Path

from cutplan.job.column import Column, Kind, Sheet
from cutplan.job.model import Units
from cutplan.job.schema import SETTINGS, SHEETS
from cutplan.job.settings import defaults
from cutplan.plan import wording

PAGE = Path(__file__).parents[1] / "cutplan" / "manual" / "job.md"
COLUMNS = "| column | holds |\n|---|---|\n"
DEFAULTS = "| setting | holds | if left out |\n|---|---|---|\n"


def with_tables(text: str) -> str:
    """The page ``text`` with every table as the schema has it now."""
    for sheet in SHEETS:
        text = _renewed(text, f"`{sheet.name}`", COLUMNS, _columns(sheet))
    return _renewed(text, "The settings", DEFAULTS, "".join(_setting(setting) for setting in SETTINGS))


def _renewed(text: str, title: str, opening: str, rows: str) -> str:
    found = re.search(
        rf"^## {re.escape(title)}\n(?:(?!## ).*\n)*?{re.escape(opening)}(?P<rows>(?:\|.*\n)*)", text, re.M
    )
    if found is None:
        raise ValueError(f"the page has no table {opening.splitlines()[0]} under the heading {title}")
    return text[: found.start("rows")] + rows + text[found.end("rows") :]


def _columns(sheet: Sheet) -> str:
    """A row for each column; those that hold the same share one."""
    words = {column.heading: _holds(column) for column in sheet.columns}
    order = sorted(words, key=lambda heading: list(words.values()).index(words[heading]))
    rows = ""
    for holds, headings in groupby(order, key=words.__getitem__):
        names = [f"**`{heading}`**" if sheet.column(heading).needed else f"`{heading}`" for heading in headings]
        rows += f"| {', '.join(names)} | {holds} |\n"
    return rows


def _setting(setting: Column) -> str:
    usual = dict.fromkeys(_usual(setting, units) for units in Units)
    return f"| `{setting.heading}` | {_holds(setting)} | {'; '.join(usual)} |\n"


def _usual(setting: Column, units: Units) -> str:
    value = getattr(defaults(units), setting.heading.replace(" ", "_"))
    if setting.words is Units:
        return Units.MM.value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, Fraction):
        return f"{wording.length(value, units)} {units.value}" if value else "0"
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _holds(column: Column) -> str:
    """What the column says, with the words that may be typed and the names of sheets set as code, and more."""
    says = re.sub(rf"\b({'|'.join(sheet.name for sheet in SHEETS)})\b", r"`\1`", column.says)
    typed = [word.value for word in column.words] if column.words else ["yes", "no"] if column.kind is Kind.YES else []
    for word in typed:
        says = re.sub(rf"(?<!`)\b{word}\b", f"`{word}`", says)
    return f"{says}. {column.more.removesuffix('.')}" if column.more else says


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
