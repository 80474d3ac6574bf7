"""The saw-list workbook: what to buy, what to cut, and room to tick off what was done.

The same plan gives the same file, byte for byte. The plan itself travels along in a hidden sheet, so that the rest
can be planned again after a mistake.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.utils.indexed_list import IndexedList

from cutplan import __version__
from cutplan.errors import report
from cutplan.output.files import OutputError, write_beside
from cutplan.output.opened import PLAN_DATA, opened, parsed
from cutplan.output.sheets import bars_in_hand, buy, making, members, notes, saw_list
from cutplan.output.sheets.page import PLAIN
from cutplan.output.state import freeze
from cutplan.output.ticks import SawListError
from cutplan.plan.model import Plan
from cutplan.plan.tables import Tables

_SHEETS = (
    ("Buy", buy.fill),
    (saw_list.TITLE, saw_list.fill),
    (bars_in_hand.TITLE, bars_in_hand.fill),
    ("Members", members.fill),
    (making.TITLE, making.fill),
    ("Notes", notes.fill),
)
SHEETS = tuple(title for title, _ in _SHEETS)
"""All that a saw list may show."""

_MOST = 200_000_000
"""Bytes of a workbook unpacked beyond which it is not looked into at once."""

_CELL = 30_000
"""Characters of JSON a cell: a spreadsheet takes 32 767."""

_CORE = "docProps/core.xml"
_SEAL = re.compile(rb"<dc:identifier>cutplan:([0-9a-f]{64})</dc:identifier>")

_THEN = datetime(2000, 1, 1)
"""In place of every date in the file: a plan has none of its own."""


def write_saw_list(plan: Plan, path: Path, *, force: bool = False) -> None:
    """Write the saw list of ``plan`` to ``path``, in one step.

    ``force`` False: a file there is replaced only if it is a saw list with nothing ticked, by the last look at it.
    Raises OutputError.
    """
    write_beside(
        path,
        # Made inside, as it takes temporary files, for which the disk may be full too.
        lambda beside: beside.write_bytes(saw_list_bytes(plan)),
        agreed=None if force else lambda: protect_ticked(path),
    )


def saw_list_bytes(plan: Plan) -> bytes:
    """The workbook as the bytes of its file."""
    return settled(saw_list_book(plan), sealed=True)


def saw_list_book(plan: Plan) -> Workbook:
    """The workbook with all its sheets."""
    book = Workbook()
    book.remove(book.worksheets[0])
    set_face(book)
    tables = Tables(plan)
    for title, fill in _SHEETS:
        if title != making.TITLE or any(made.marks or made.bends for made in tables.making):
            fill(book.create_sheet(title), tables)
    data = book.create_sheet(PLAN_DATA)
    data.sheet_state = "veryHidden"
    text = freeze(plan)
    for row, start in enumerate(range(0, len(text), _CELL), 1):
        data.cell(row, 1, text[start : start + _CELL]).data_type = "s"
    data.cell(1, 2, __version__)
    book.active = 1
    return book


def set_face(book: Workbook) -> None:
    """Make the sheets' face the workbook's own, by which columns are measured and in which new cells are typed."""
    # The library has no public name for either, so the stubs have none.
    book._fonts = IndexedList([PLAIN])  # type: ignore[attr-defined]
    book._named_styles["Normal"].font = PLAIN  # type: ignore[attr-defined]


def settled(book: Workbook, *, sealed: bool = False) -> bytes:
    """``book`` saved without any trace of when: the same content gives the same bytes.

    ``sealed``: with a digest of all its other parts among its properties, by which ``untouched`` knows it again.
    """
    book.properties.creator = "cutplan"
    book.properties.created = _THEN
    raw, out = io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        seal = _digest(source) if sealed else b""
        for name in source.namelist():
            content = source.read(name)
            if name == _CORE:
                content = re.sub(
                    rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + _THEN.isoformat().encode() + b"Z", content
                )
                if sealed:
                    identifier = b"<dc:identifier>cutplan:" + seal + b"</dc:identifier>"
                    content = content.replace(b"</cp:coreProperties>", identifier + b"</cp:coreProperties>")
            entry = zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            target.writestr(entry, content)
    return out.getvalue()


def untouched(path: Path) -> bool:
    """Whether the file is a saw list just as it was written: nobody has saved it since. A hundred times quicker to tell
    than what is ticked on it."""
    try:
        with zipfile.ZipFile(path) as book:
            seal = _SEAL.search(book.read(_CORE)) if sum(part.file_size for part in book.infolist()) < _MOST else None
            return seal is not None and seal[1] == _digest(book)
    except Exception:  # zipfile may raise anything on a damaged part
        return False


def _digest(book: zipfile.ZipFile) -> bytes:
    """A digest of the names and contents of all parts but the one that holds it."""
    digest = hashlib.sha256()
    for name in book.namelist():
        if name != _CORE:
            digest.update(f"{name} {len(content := book.read(name))}\n".encode() + content)
    return digest.hexdigest().encode()


def protect_ticked(path: Path) -> None:
    """Refuse to write over a workbook that is not ours, or that someone has worked with. Raises OutputError."""
    if not path.is_file() or untouched(path):
        return
    book = None
    try:
        book = opened(path)
        found = parsed(book)
    except SawListError as error:
        if book is None or not book.carries_plan:
            rule, cure = "already exists and is not a saw list", "choose another name with --output, or add --force"
            raise OutputError(path, rule, cure) from None
        rule = f"is a saw list with something that cannot be read ({report(error.where, error.rule, error.got)})"
        cure = "correct that and use cutplan recut, or choose another name with --output; --force loses all its ticks"
        raise OutputError(path, rule, cure) from error
    ticked = [tick.cut for tick in found.ticks if tick.done or tick.spoilt or tick.left is not None]
    noted = [note.bar for note in found.notes if note.gone or note.measured is not None]
    if ticked:
        rule = (
            f"has ticks (cut {ticked[0]} and {len(ticked) - 1} more)" if ticked[1:] else f"has a tick (cut {ticked[0]})"
        )
    elif noted:
        rule = f"has an entry for bar {noted[0]}"
    else:
        return
    raise OutputError(path, rule, "use cutplan recut, choose another name with --output, or add --force")
