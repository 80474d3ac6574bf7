"""Ticking a written saw list, as a person at the saw does; and altering the plan that it carries."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, unescape

from openpyxl import load_workbook

SHEET = "Saw list"
CARRIED = re.compile(rb"(?<=>)\{\"format\".*?(?=</t>)", re.DOTALL)
"""The plan in the part of a workbook that holds the text of its cell."""


def tick(path: Path, column: str, *cuts: int | str, word: str = "x") -> None:
    """Write ``word`` in ``column`` for these cuts of a saw list, by number, or by mark, which ticks the first of that
    mark."""
    book = load_workbook(path)
    rows = list(book[SHEET].iter_rows())
    headings = [str(cell.value) for cell in next(row for row in rows if row[0].value == "cut")]
    left = Counter(cuts)
    for row in rows:
        number, mark = row[0].value, row[headings.index("mark")].value
        for name in (number, mark):
            if name is not None and left[name]:
                left[name] -= 1
                row[headings.index(column)].value = word
    assert not +left, f"not on the list: {left}"
    book.save(path)


def carried(book: bytes) -> Any:
    """What a small saw list carries, as JSON."""
    return json.loads(unescape(_found(book)[1][0].decode()))


def carrying(book: bytes, data: object) -> bytes:
    """That saw list with ``data`` in its hidden sheet, and all else as it was: many times quicker than by way of its
    cells."""
    name, found, parts = _found(book)
    parts[name] = found.string[: found.start()] + escape(json.dumps(data)).encode() + found.string[found.end() :]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for each, content in parts.items():
            archive.writestr(each, content)
    return out.getvalue()


def carry(path: Path, alter: Callable[[Any], object]) -> None:
    """Alter the plan that a list carries, and nothing that it shows."""
    data = carried(path.read_bytes())
    before = json.dumps(data)
    alter(data["plan"])
    assert json.dumps(data) != before
    path.write_bytes(carrying(path.read_bytes(), data))


def _found(book: bytes) -> tuple[str, re.Match[bytes], dict[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(book)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    ((name, found),) = ((name, found) for name, part in parts.items() if (found := CARRIED.search(part)))
    return name, found, parts
