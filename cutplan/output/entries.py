"""What a person wrote on a saw list that no one can read: formulas without a result, cells joined over several rows."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from openpyxl import load_workbook

from cutplan.output.ticks import Row, SawListError

_JOINED = re.compile(rb'<mergeCell ref="[A-Z]+(\d+):[A-Z]+(\d+)"')

Sheets = Mapping[str, Sequence[Row]]


def refuse_unreadable(path: Path, results: Sheets, written: Sheets, sheets: Iterable[str]) -> None:
    """Refuse the worked list at ``path`` where a cell of ``sheets`` holds a formula that was never worked out, or is
    joined with one in another row: either would be taken for empty. ``results``: the cells' values; ``written``: as
    they were written, formulas as text. Raises SawListError."""
    for title in sheets:
        for number, (row, raw) in enumerate(zip(results.get(title, ()), written.get(title, ()), strict=False), 1):
            for value, text in zip(row, raw, strict=False):
                if value is None and isinstance(text, str) and text.startswith("="):
                    raise SawListError(
                        f"{title} row {number}",
                        f"{text} was never worked out",
                        "open and save the list in a spreadsheet program, or type what it gives",
                    )
    for title, first, last in _joined(path, set(sheets)):
        raise SawListError(
            f"{title} rows {first} to {last}", "hold cells that are joined", "split them and fill in every one"
        )


def _joined(path: Path, titles: set[str]) -> Iterator[tuple[str, int, int]]:
    book = load_workbook(path, read_only=True)
    with zipfile.ZipFile(path) as parts:
        for sheet in book.worksheets:
            if sheet.title not in titles:
                continue
            for first, last in _JOINED.findall(parts.read(sheet._worksheet_path)):  # type: ignore[attr-defined]
                if first != last:
                    yield sheet.title, int(first), int(last)
    book.close()
