"""The form to fill in by hand: every column of the workbook in its order and words, nothing over anything else."""

from __future__ import annotations

import pytest
from pdf_back import overlaps, read_page, strays
from pypdf import PdfReader

from cutplan.job.model import Units
from cutplan.job.schema import MEMBERS, SETTING_WORDS, SHEETS
from cutplan.output.form import write_form
from cutplan.output.pdf import Paper


@pytest.mark.parametrize("units", Units)
def test_the_form_has_every_setting_and_column_in_order(tmp_path, units):
    """Settings on the first page; each other sheet's columns in a ruled table, or on each member's card; tick boxes for
    every word that a column takes."""
    path = tmp_path / "form.pdf"
    count = write_form(path, units)
    pages = [[one.text for one in read_page(page)[1]] for page in PdfReader(path).pages]
    assert len(pages) == count
    assert [text for text in pages[0] if text in SETTING_WORDS] == list(SETTING_WORDS)
    for sheet in SHEETS[1:]:
        headings = list(sheet.headings)
        shown = next(texts for texts in pages if sheet.name in texts)
        begin = shown.index(sheet.name) + 1
        found = [text for text in shown[begin:] if text in headings][: len(headings)]
        assert found == headings
        for column in sheet.columns:
            words = " ".join(shown)
            assert all(word.value in words for word in column.words or ())


@pytest.mark.parametrize("units", Units)
def test_members_have_two_cards_a_page(tmp_path, units):
    """Six cards of an empty form on three pages, each with its sketch clear of the fields."""
    path = tmp_path / "form.pdf"
    write_form(path, units)
    pages = [read_page(page) for page in PdfReader(path).pages]
    cards = [page for page in pages if any(one.text.startswith("One card a member") for one in page[1])]
    assert len(cards) == 3
    for paths, words in cards:
        assert [one.text for one in words].count("mark") == 2
        names = [one for one in words if one.text in ("centre", "face", "long", "short", "tip")]
        sketch = [one.box for one in names if one.box[0] > 140]
        assert len(sketch) >= 10
        fields = [path.points for path in paths if len(path.points) == 5 and abs(path.width - 0.25) < 1e-3]
        boxes = [(min(x), min(y), max(x), max(y)) for x, y in (zip(*points, strict=True) for points in fields)]
        tall = [box for box in boxes if 7.0 < box[3] - box[1] < 9.0]
        for left, top, right, low in sketch:
            assert not any(left < box[2] and box[0] < right and top < box[3] and box[1] < low for box in tall)


@pytest.mark.parametrize("units", Units)
def test_no_text_overlaps_or_leaves_its_page(tmp_path, units):
    """But for the sketches, whose names lie on lines: every text has its own place, with the longest marks."""
    path = tmp_path / "form.pdf"
    write_form(path, units, members=[{"mark": "W" * 40, "tube": "W" * 40, "qty": "1000", "pair": "yes"}])
    for number, page in enumerate(PdfReader(path).pages, 1):
        paths, words = read_page(page)
        assert (number, overlaps(words)) == (number, [])
        assert (number, strays(words, *Paper.of(None, units).value)) == (number, [])
        # Room to write: no box lower than 8 mm but those to tick.
        boxes = [path for path in paths if len(path.points) == 5 and abs(path.width - 0.25) < 1e-3]
        heights = {round(abs(path.points[2][1] - path.points[0][1]), 1) for path in boxes}
        assert all(height >= 8.0 for height in heights if height > 2.0)


def test_there_is_room_for_the_readings_of_a_whole_frame(tmp_path):
    """A page of nodes, and two of readings in two blocks each."""
    path = tmp_path / "form.pdf"
    write_form(path)
    room = {"Nodes": 0, "Distances": 0}
    for page in PdfReader(path).pages:
        paths, words = read_page(page)
        texts = [one.text for one in words]
        for name in room:
            if texts[0] == name:
                columns = texts.count("note") * (5 if name == "Nodes" else 4)
                boxes = [one for one in paths if len(one.points) == 5 and abs(one.width - 0.25) < 1e-3]
                room[name] += (len(boxes) - columns) // (5 if name == "Nodes" else 4)
    assert room["Nodes"] >= 20
    assert room["Distances"] >= 80


def test_a_member_that_is_known_is_filled_in(tmp_path):
    """Its mark, tube and number and what it lands on are on its card, its pair and end ticked, and nothing else is."""
    path = tmp_path / "form.pdf"
    write_form(
        path, members=[{"mark": "LEG", "tube": "38x2", "qty": "4", "pair": "yes", "end a": "cope", "onto a": "SIDE"}]
    )
    pages = [read_page(page) for page in PdfReader(path).pages]
    paths, words = next((paths, words) for paths, words in pages if any(one.text == "LEG" for one in words))
    texts = [one.text for one in words]
    assert {"LEG", "38x2", "4", "SIDE"} <= set(texts)
    crosses = [one for one in paths if abs(one.width - 0.6) < 1e-3]
    assert len(crosses) == 4
    yes = next(one for one in words if one.text == "yes")
    assert 0 < yes.box[0] - crosses[0].points[1][0] < 3
    # Its own card and two empty ones; each table of a member's rows names the column too.
    others = sum(MEMBERS.headings[0] in sheet.headings for sheet in SHEETS if sheet is not MEMBERS)
    assert [one.text for _, words in pages for one in words].count(MEMBERS.headings[0]) == 3 + others
