"""Guards where words go on drawings: off each other's leaders and the piece they do not name, alike on both sides."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from cutplan.plan import prepare
from cutplan.plan.tables.labels import Box, Labels
from cutplan.plan.tables.piece_ends import CLOSE
from cutplan.plan.tables.piece_sheets import piece_sheets, pieces_of
from cutplan.plan.tables.rulers import Spot, _levels
from cutplan.plan.tables.sheet import MARGIN

EXAMPLES = Path(__file__).parents[2] / "examples"
A4 = (297.0, 210.0)


@pytest.mark.parametrize("seed", range(6))
def test_no_leader_goes_through_a_word(seed: int) -> None:
    """Where there is room on all sides a word is put so that its line passes beside those that are there already."""
    dice = Random(seed)
    labels = Labels(Box(0.0, 0.0, 120.0, 80.0))
    for number in range(14):
        at = (dice.uniform(45.0, 75.0), dice.uniform(25.0, 55.0))
        assert labels.place(f"TUBE-{number}", 2.3, [at], on=False, worth=1e9)
    lines = [stroke.points for stroke in labels.leaders if stroke.width < 0.5]
    assert len(lines) == 14
    for (x, y), (to_x, to_y) in lines:
        if any(_inside(box, (to_x, to_y)) for box in labels.patches):
            continue  # the point itself was covered by a word before it was named
        for part in range(1, 40):
            at = x + (to_x - x) * part / 40, y + (to_y - y) * part / 40
            through = [box for box in labels.patches if _inside(box, at)]
            assert not through, (at, through)


def _inside(box: Box, at: tuple[float, float]) -> bool:
    within = 0.05
    return box.x + within < at[0] < box.x + box.width - within and box.y + within < at[1] < box.y + box.height - within


@pytest.mark.parametrize(("name", "mark"), [("ladder-frame", "BR-L"), ("yard-gate", "BRACE")])
def test_what_an_end_lands_on_is_named_off_the_piece(name: str, mark: str) -> None:
    """Close up, the name of the tube behind stands where that tube is seen, not on the piece that hides it."""
    prepared = prepare(EXAMPLES / name)
    (blank,) = (blank for blank in prepared.blanks if blank.mark == mark)
    (sheet,) = piece_sheets(prepared.job, pieces_of(prepared.job, [blank]), A4)
    for end, left in ((blank.end_a, MARGIN), (blank.end_b, A4[0] - MARGIN - CLOSE[0])):
        (name_on_it,) = {saddle.onto.name or saddle.onto.spec for saddle in end.saddles}
        shown = [word for word in sheet.words if word.text == name_on_it and left <= word.x <= left + CLOSE[0]]
        assert len(shown) == 2
        above = max(shown, key=lambda word: word.y)
        piece = [
            x
            for stroke in sheet.strokes
            if not stroke.dash
            for x, y in stroke.points
            if left <= x <= left + CLOSE[0] and abs(y - above.y) < 8.0
        ]
        middle = above.x + 2.0
        assert middle < min(piece) if end is blank.end_a else middle > max(piece)


def test_coordinates_of_both_sides_are_alike() -> None:
    """A half frame's and its mirror image's are written with the same figures, those a little apart as their mean."""
    half = {"A": 220.0, "B": 311.9, "C": 312.1, "D": 400.0, "E": 400.0, "F": 400.2}
    spots = [Spot(name, "", (0.0, side * y, 0.0)) for name, y in half.items() for side in (1.0, -1.0)]
    values = [level.value for level in _levels([(spot, (0.0, spot.at[1])) for spot in spots], 1, 1, 0.5)]
    assert values == [-400.0, pytest.approx(-312.0), -220.0, 220.0, pytest.approx(312.0), 400.0]
    assert all(low < high for low, high in pairwise(values))
