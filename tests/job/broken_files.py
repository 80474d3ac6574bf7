"""Broken jobs whose fault lies in the file itself or in what only a workbook can hold."""

from __future__ import annotations

import datetime
import io
import os
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

from broken_base import BASE, Edit, Sheets, add, as_folder, as_workbook, broken_sheets, put
from openpyxl import Workbook
from openpyxl.cell import MergedCell
from openpyxl.styles import PatternFill

Write = Callable[[Path], Path]


def _book(finish: Callable[[Workbook], None] | None = None, *edits: Edit) -> Write:
    return lambda where: as_workbook(broken_sheets(*edits), where, finish)


def _cell(value: object, *, sheet: str = "Members", at: str = "E3") -> Write:
    """A workbook with ``value`` in one cell, by default where a length belongs."""

    def finish(book: Workbook) -> None:
        book[sheet][at] = value

    return _book(finish)


def _part(change: Callable[[bytes], bytes], part: str = "xl/worksheets/sheet4.xml", value: object = 4711) -> Write:
    """A workbook one of whose parts is changed by hand; ``value`` is in a cell for it to find."""

    def write(where: Path) -> Path:
        target = _cell(value)(where)
        held = {each.filename: each for each in zipfile.ZipFile(target).infolist()}
        with zipfile.ZipFile(io.BytesIO(target.read_bytes())) as old, zipfile.ZipFile(target, "w") as new:
            for name in held:
                content = old.read(name)
                changed = change(content) if name == part else content
                assert name != part or changed != content, "the part must change"
                new.writestr(name, changed)
        return target

    return write


def _number(text: str) -> Write:
    """A workbook with a number written into its file as ``text``."""
    return _part(lambda content: content.replace(b">4711<", f">{text}<".encode()))


def _file(name: str, content: bytes) -> Write:
    def write(where: Path) -> Path:
        target = where / name
        target.write_bytes(content)
        return target

    return write


def _csv(name: str, change: Callable[[bytes], bytes]) -> Write:
    """A folder one of whose files is changed by hand."""

    def write(where: Path) -> Path:
        folder = as_folder(broken_sheets(), where)
        file = folder / f"{name}.csv"
        file.write_bytes(change(file.read_bytes()))
        return folder

    return write


def _twice(where: Path) -> Path:
    folder = as_folder(broken_sheets(), where)
    (folder / "TUBES.csv").write_bytes((folder / "Tubes.csv").read_bytes())
    return folder


def _empty_folder(where: Path) -> Path:
    (where / "job").mkdir()
    return where / "job"


def _zip(where: Path) -> Path:
    target = where / "job.xlsx"
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("readme.txt", "not a workbook")
    return target


def _torn(where: Path) -> Path:
    target = _book()(where)
    target.write_bytes(target.read_bytes()[:4000])
    return target


def _old(marker: str) -> bytes:
    """A compound file as old workbooks and locked new ones are, with the name of one stream in it."""
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + marker.encode("utf-16-le") + bytes(512)


def _merged(book: Workbook) -> None:
    book["Members"].merge_cells("F3:F4")
    assert isinstance(book["Members"]["F4"], MergedCell)


def _merged_blank(book: Workbook) -> None:
    book["Members"].merge_cells("J12:K13")


def _merged_down(content: bytes) -> bytes:
    merged = b'<mergeCells count="1"><mergeCell ref="A20:XFD1048576"/></mergeCells>'
    return content.replace(b"</sheetData>", b"</sheetData>" + merged)


def _stray(book: Workbook) -> None:
    book["Members"]["XFD3"] = "x"


def _formula_head(book: Workbook) -> None:
    book["Members"]["S1"] = "=1+1"


def _many_rows(sheet: str, count: int = 100_000) -> Write:
    line = ["KB", "30x2", "1"] if sheet == "Members" else [""]
    rows = [*BASE["Members"], *([line] * count)]
    return lambda where: as_folder({**broken_sheets(), "Members": rows}, where)


def _many_sheet_rows(where: Path) -> Path:
    """100,000 rows in a workbook, written straight into its part, as building the cells would take long."""
    row = b'<row r="%d"><c r="A%d" t="inlineStr"><is><t>KB</t></is></c></row>'
    rows = b"".join(row % (number, number) for number in range(9, 100_009))
    return _part(lambda content: content.replace(b"</sheetData>", rows + b"</sheetData>"))(where)


def _instead(name: str, put_there: Callable[[Path], None]) -> Write:
    """A folder with something else in place of one of its files."""

    def write(where: Path) -> Path:
        folder = as_folder(broken_sheets(), where)
        (folder / name).unlink()
        put_there(folder / name)
        return folder

    return write


def _far_down(value: object) -> Callable[[Workbook], None]:
    """A cell in the last row there is, blue, with or without a value."""

    def finish(book: Workbook) -> None:
        cell = book["Members"]["A1048576"]
        cell.value, cell.fill = value, PatternFill("solid", fgColor="3399FF")

    return finish


def _far_right(book: Workbook) -> None:
    book["Members"]["XFD3"].fill = PatternFill("solid", fgColor="3399FF")


def _strict(content: bytes) -> bytes:
    return content.replace(
        b"http://schemas.openxmlformats.org/spreadsheetml/2006/main", b"http://purl.oclc.org/ooxml/spreadsheetml/main"
    )


def _undeclared(content: bytes) -> bytes:
    return content.replace(b"</row>", b"</rov>", 1)


def _below(raw: bytes, end: bytes) -> bytes:
    """A file whose rows below the headings end in ``end``."""
    headings, rows = raw.split(b"\r\n", 1)
    return headings + b"\r\n" + rows.replace(b"\r\n", end)


def _accents(sheets: Sheets) -> None:
    sheets["Tubes"][2][0] = "\u00e9tai"
    for sheet, rows in (("Stock", (3, 4)), ("Members", (4, 6))):
        for row in rows:
            sheets[sheet][row][sheets[sheet][0].index("tube")] = "e\u0301tai"


FILES: dict[str, Write] = {
    # Files that cannot be read at all
    "no-such-file": lambda where: where / "nothing.xlsx",
    "no-such-folder": lambda where: where / "nothing",
    "empty-file": _file("job.xlsx", b""),
    "strict-open-xml": _part(_strict, "xl/workbook.xml"),
    "text-renamed-xlsx": _file("job.xlsx", b"mark,tube\n"),
    "csv-file-alone": _file("Members.csv", b"mark,tube\n"),
    "zip-renamed-xlsx": _zip,
    "torn-xlsx": _torn,
    "xls-of-old": _file("job.xls", _old("Workbook")),
    "xls-renamed-xlsx": _file("job.xlsx", _old("Workbook")),
    "locked-with-a-password": _file("job.xlsx", _old("EncryptedPackage")),
    "sheet-part-damaged": _part(_undeclared),
    "sheet-part-no-number": _number("NaN"),
    "folder-without-csv": _empty_folder,
    "csv-utf-16": _csv("Members", lambda raw: raw.decode().encode("utf-16")),
    "csv-cp1252": _csv("Members", lambda raw: raw.replace(b"main hoop", "Überrollbügel".encode("cp1252"))),
    "csv-nul": _csv("Members", lambda raw: raw.replace(b"main hoop", b"main\0hoop")),
    "csv-is-a-pipe": _instead("Members.csv", os.mkfifo),
    "csv-is-a-link-to-a-device": _instead("Members.csv", lambda path: path.symlink_to("/dev/zero")),
    "csv-is-a-link-to-nothing": _instead("Members.csv", lambda path: path.symlink_to("nowhere")),
    "csv-is-a-link-to-itself": _instead("Members.csv", lambda path: path.symlink_to("Members.csv")),
    "csv-is-a-folder": _instead("Members.csv", Path.mkdir),
    "workbook-renamed-csv": _csv("Members", lambda raw: b"PK\x03\x04" + raw),
    # Folders
    "csv-semicolons": _csv("Members", lambda raw: raw.replace(b",", b";")),
    "csv-tabs": _csv("Members", lambda raw: raw.replace(b",", b"\t")),
    "csv-empty": _csv("Stock", lambda raw: b""),
    "csv-quote-open": _csv("Points", lambda raw: raw + b'"FR,1,2,3,\n'),
    "csv-quote-inside": _csv("Points", lambda raw: raw.replace(b"FR,0,0,0,", b'"FR"x,0,0,0,')),
    "csv-sheet-twice": _twice,
    "csv-100000-rows": _many_rows("Members"),
    "csv-one-huge-cell": _csv("Members", lambda raw: raw.replace(b"main hoop", b"m" * 200_000)),
    # Workbooks
    "date-for-length": _cell(datetime.datetime(2026, 3, 4)),
    "time-for-length": _cell(datetime.time(12, 30)),
    "date-for-mark": _cell(datetime.datetime(2026, 3, 4), at="A5"),
    "duration-for-length": _cell(datetime.timedelta(days=2, hours=3)),
    "boolean-for-length": _cell(True),
    "boolean-for-tube": _cell(True, at="B5"),
    "error-ref": _cell("#REF!"),
    "error-div": _cell("#DIV/0!"),
    "error-name-for-tube": _cell("#NAME?", at="B5"),
    "error-na-for-onto": _cell("#N/A", at="I3"),
    "error-in-a-head": _cell("#REF!", at="S1"),
    "error-in-a-setting": _cell("#VALUE!", sheet="Job", at="B4"),
    "formula-never-worked-out": _cell("=1000+186"),
    "formula-for-mark": _cell('="K"&"B"', at="A5"),
    "formula-in-a-head": _book(_formula_head),
    "text-for-length-in-a-workbook": _cell("1,186.5"),
    "float-1e308": _cell(1e308),
    "float-negative": _cell(-1186.5),
    "float-tiny-negative": _cell(-1e-9),
    "float-for-qty": _cell(2.5, at="C5"),
    "float-1e308-for-angle": _cell(1e308, at="H3"),
    "float-1e308-for-price": _cell(1e308, sheet="Stock", at="C2"),
    "merged-cells": _book(_merged),
    "merged-to-the-last-row": _part(_merged_down),
    "stray-cell-far-right": _book(_stray),
    "stray-cell-far-down": _book(_far_down("x")),
    "xlsx-100000-rows": _many_sheet_rows,
    "sheet-name-spelt-wrong": _book(lambda book: setattr(book["Tubes"], "title", "Tube")),
    "number-for-a-yes": _cell(3, at="D5"),
    "number-for-a-word": _cell(45, at="G5"),
    "hidden-row-with-a-fault": _book(
        lambda book: setattr(book["Members"].row_dimensions[5], "hidden", True), put("Members", 5, "angle a", "4S")
    ),
    "mixed-units-without-sign": _cell("46 11/16", at="E5"),
    "fullwidth-quote-alone": _cell("＂", at="E5"),
    "onto-number-negative": _cell(-38, at="I3"),
}
"""How to write each; files that cannot be opened make :func:`cutplan.job.read` raise."""


def sound_variants() -> dict[str, Write]:
    """Jobs that look odd and read without a fault."""

    def bom(where: Path) -> Path:
        return _csv("Members", lambda raw: b"\xef\xbb\xbf" + raw)(where)

    def sheets(change: Callable[[Sheets], None]) -> Write:
        return lambda where: as_folder(broken_sheets(change), where)

    return {
        "as-it-is": lambda where: as_folder(broken_sheets(), where),
        "workbook": _book(),
        "bom": bom,
        "carriage-returns-alone": _csv("Members", lambda raw: raw.replace(b"\r\n", b"\r")),
        "line-feeds-alone": _csv("Members", lambda raw: raw.replace(b"\r\n", b"\n")),
        "trailing-blank-rows": _csv("Members", lambda raw: raw + b",,,\r\n\r\n , ,\r\n"),
        "heads-in-other-case-and-spacing": _csv("Members", lambda raw: re.sub(b"end a", b"END  A", raw)),
        "file-names-in-other-case": sheets(lambda all_: all_.update(MEMBERS=all_.pop("Members"))),
        "notes-beside": sheets(lambda all_: all_.update(Notes=[["anything", "at all"]], _mine=[["x"]])),
        "merged-blank-cells": _book(_merged_blank),
        "fill-far-down": _book(_far_down(None)),
        "fill-far-right": _book(_far_right),
        "commas-at-every-end": _csv("Members", lambda raw: raw.replace(b"\r\n", b",,,\r\n")),
        "commas-at-every-end-below": _csv("Stock", lambda raw: _below(raw, b",\r\n")),
        "line-break-and-tab-in-a-note": sheets(put("Members", 2, "note", "main\n\thoop")),
        "joined-emoji-in-a-note": sheets(
            put("Members", 2, "note", "\U0001f469\u200d\U0001f680 \u05e9\u05dc\u05d5\u05dd")
        ),
        "accents-in-two-spellings": sheets(_accents),
        "hidden-row": _book(lambda book: setattr(book["Members"].row_dimensions[5], "hidden", True)),
        "hidden-column": _book(lambda book: setattr(book["Members"].column_dimensions["S"], "hidden", True)),
        "hidden-sheet": _book(lambda book: setattr(book["Points"], "sheet_state", "hidden")),
        "example-row": lambda where: as_folder(broken_sheets(add("Stock", tube="EXAMPLE 38x2.5", length="9O")), where),
        "primes-and-curly-quotes": _cell("3′ 10 11⁄16″"),
        "date-in-a-note-as-text": _cell("2026-03-04", at="S3"),
    }
