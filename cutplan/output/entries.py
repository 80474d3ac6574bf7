"""What a person wrote on a saw list that no one can read: formulas without a result, cells joined over several rows."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from openpyxl import load_workbook

from cutplan.output.sheets import bars_in_hand, saw_list
from cutplan.output.ticks import Row, SawListError, below_heads

_JOINED = re.compile(rb'<mergeCell ref="[A-Z]+(\d+):[A-Z]+(\d+)"')

Sheets = Mapping[str, Sequence[Row]]


ENTRIES = {
    saw_list.TITLE: (saw_list.DONE, saw_list.SPOILT, saw_list.STILL_GOOD),
    bars_in_hand.TITLE: (bars_in_hand.STRUCK_OUT, bars_in_hand.MEASURED),
}
"""Heads under which a person writes."""


def refuse_unreadable(path: Path, results: Sheets, written: Sheets) -> None:
    """Refuse the worked list at ``path`` where an entry is a formula that was never worked out, or a cell is joined
    with one in another row: either would be taken for empty. ``results``: the cells' values; ``written``: as they were
    written, formulas as text. Raises SawListError."""
    for title, heads in ENTRIES.items():
        if title not in results:
            continue
        both = zip(below_heads(title, results[title], heads), below_heads(title, written[title], heads), strict=False)
        for (place, values), (_, texts) in both:
            for head in heads:
                text = texts[head]
                if values[head] is None and isinstance(text, str) and text.startswith("="):
                    raise SawListError(
                        str(place.at(head)),
                        f"{text} was never calculated",
                        "open and save the list in a spreadsheet program, or type its result",
                    )
    for title, first, last in _joined(path, set(ENTRIES)):
        raise SawListError(
            f"{title} rows {first} to {last}", "contain merged cells", "unmerge them and fill in every one"
        )


def raw_sheets(path: Path) -> list[tuple[str, bool, bytes]]:
    """Each sheet of a workbook: its name, whether it can be seen, and its part as it lies in the file, which tells what
    a reader of values passes over. Raises SawListError."""
    try:
        book = load_workbook(path, read_only=True)
        with zipfile.ZipFile(path) as parts:
            # The library keeps the part's name to itself.
            found = [(sheet, parts.read(sheet._worksheet_path)) for sheet in book.worksheets]  # type: ignore[attr-defined]
        book.close()
    except Exception as error:  # a damaged part raises whatever the library meets first
        raise damaged(path, error) from error
    return [(sheet.title, sheet.sheet_state == "visible", part) for sheet, part in found]


def damaged(path: Path, error: Exception) -> SawListError:
    """The refusal of a workbook of which some part cannot be read."""
    about = f" ({error})" if isinstance(error, zipfile.BadZipFile) else ""
    return SawListError(
        str(path), f"is damaged or is not a workbook{about}", "use a backup copy, or write the list again"
    )


def _joined(path: Path, titles: set[str]) -> Iterator[tuple[str, int, int]]:
    for title, _, part in raw_sheets(path):
        for first, last in _JOINED.findall(part) if title in titles else ():
            if first != last:
                yield title, int(first), int(last)
