"""Drawings of pieces by themselves: how they are shared out on sheets."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from cutplan.plan import prepare
from cutplan.plan.tables.piece_sheets import _TOP, piece_sheets, pieces_of
from cutplan.plan.tables.sheet import MARGIN

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_a_pair_goes_on_one_sheet_where_one_holds_both() -> None:
    """Sheets with room for two and a half: left and right go on the next together, and no other piece counts with
    them; where a sheet holds but one and a half they part."""
    prepared = prepare(EXAMPLES / "sand-rail-bay.xlsx")
    left = next(blank for blank in prepared.blanks if blank.mark == "BS-L")
    right = next(blank for blank in prepared.blanks if blank.mark == "BS-R")
    single = next(blank for blank in prepared.blanks if blank.mark == blank.member and not blank.bends)
    before, after = (replace(single, mark=mark) for mark in ("BEFORE", "AFTER"))
    pieces = pieces_of(prepared.job, [before, left, right, after])
    (high,) = {piece.height for piece in pieces}
    marks = [piece.blank.mark for piece in pieces]

    def shared_out(room: float) -> list[list[str]]:
        sheets = piece_sheets(prepared.job, pieces, (297.0, 2 * MARGIN + _TOP + room * high))
        return [[words.text for words in sheet.words if words.text in marks] for sheet in sheets]

    assert shared_out(2.5) == [["BEFORE"], ["BS-L", "BS-R"], ["AFTER"]]
    assert shared_out(3.5) == [["BEFORE", "BS-L", "BS-R"], ["AFTER"]]
    assert shared_out(1.5) == [["BEFORE"], ["BS-L"], ["BS-R"], ["AFTER"]]
