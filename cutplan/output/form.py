"""The form for the garage: a job on paper, to be filled in by hand at the frame and typed in afterwards.

It has the sheets of the workbook in their order, with the same words: settings as a list, members as cards with a
sketch of where the tape goes, every other sheet as a ruled table. All of it follows from :mod:`cutplan.job.schema`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import cos, radians, sin
from pathlib import Path

from cutplan.job.column import Column, Kind, Sheet
from cutplan.job.model import Units
from cutplan.job.schema import BENDS, DISTANCES, MEMBERS, NODES, SETTINGS, SHEETS
from cutplan.job.settings import defaults
from cutplan.output.files import write_beside
from cutplan.output.pack import foot, print_leaves
from cutplan.output.pack.leaf import MARGIN, Leaf, Point, empty_leaf, width_of
from cutplan.output.pdf import Paper
from cutplan.output.template import usual_value
from cutplan.output.template_drawing import joint_lines, joint_names
from cutplan.output.template_words import MEASURED, SIDES
from cutplan.plan import wording

_TITLE = 14.0
_BOX = 8.0
_LABEL = 4.0
_ROW = 9.0
_GAP = 2.0
_SKETCH, _BESIDE = 40.0, 28.0
_APART = 4.0
_BLANK_CARDS = 6
_RULED = 10
_FEWER = {"Tubes": 5, "Stock": 9, "Shops": 3}
"""Millimetres: a page's heading; how high a box is, the word above it, a row of a table; between fields; a card's
sketch, and how far down fields make room for it; between cards. Then how many cards an empty form has, and how many
ruled rows a table, so that those of a kind go on one page."""

_WIDTHS = {
    Kind.NAME: 32.0,
    Kind.REFERENCE: 32.0,
    Kind.TEXT: 44.0,
    Kind.LENGTH: 26.0,
    Kind.DEGREES: 22.0,
    Kind.WHOLE: 18.0,
    Kind.NUMBER: 20.0,
}
"""How wide a box is for what it takes; words are boxes to tick."""
_WHOLE_PAGES = {NODES: (1, 1), DISTANCES: (2, 2)}
"""Tables that have pages of their own: how many, and how many blocks side by side."""

Filled = Mapping[str, str]
"""What is known of a member already, by column."""


def write_form(path: Path, units: Units = Units.MM, *, members: Sequence[Filled] = ()) -> int:
    """Write the form to ``path``; gives its pages. ``members``: of a job that exists, a card for each with what is
    known of it, and two empty ones. Raises OutputError."""
    paper = Paper.of(None, units)
    cards = [*members, {}, {}] if members else [{}] * _BLANK_CARDS
    leaves: list[Leaf] = []
    tables: list[Sheet] = []
    for sheet in SHEETS:
        if sheet.name == "Job":
            leaves += _settings(sheet, units, paper)
        elif sheet is MEMBERS:
            leaves += [*_tables(tables, paper), _where(paper), *_cards(cards, paper)]
            tables = []
        else:
            tables.append(sheet)
    leaves += _tables(tables, paper)
    for number, leaf in enumerate(leaves, 1):
        foot(leaf, f"Job form, lengths in {wording.unit_name(defaults(units))}", f"page {number} of {len(leaves)}")
    write_beside(path, lambda beside: print_leaves(leaves, beside, "Job form"))
    return len(leaves)


def _page(paper: Paper, heading: str, says: str) -> Leaf:
    leaf = empty_leaf(paper, heading)
    leaf.text(MARGIN, MARGIN, 60.0, 9.0, heading, 16.0, bold=True)
    leaf.text(MARGIN + 62.0, MARGIN, leaf.right - MARGIN - 62.0, 9.0, says, 9.0)
    return leaf


def _settings(sheet: Sheet, units: Units, paper: Paper) -> list[Leaf]:
    """A line a setting: its word, what it is, a box for its value, and what holds where that stays empty."""
    says = (
        "Fill this in at the frame and type it into the workbook that cutplan new writes. "
        "What is left empty keeps its default."
    )
    leaf, y = _page(paper, sheet.name, says), MARGIN + _TITLE
    made = [leaf]
    usual = defaults(units)
    for setting in SETTINGS:
        if y + _ROW > leaf.bottom:
            leaf, y = _page(paper, sheet.name, says), MARGIN + _TITLE
            made.append(leaf)
        wide = leaf.right - MARGIN
        leaf.text(MARGIN, y, 30.0, _ROW, setting.heading, 11.0, bold=True)
        leaf.text(MARGIN + 31.0, y, wide - 31.0 - 52.0, _ROW, setting.says, 9.0)
        leaf.box(leaf.right - 50.0, y + 0.5, 50.0, _ROW - 1.0)
        value = "" if setting.heading == "name" else usual_value(usual, setting.heading)
        given = "" if value in (None, "") else f"{value:g}" if isinstance(value, float) else str(value)
        leaf.text(leaf.right - 20.0, y + 0.5, 19.0, _ROW - 1.0, f"({given})" if given else "", 8.0, align="right")
        y += _ROW
    return made


def _tables(sheets: Sequence[Sheet], paper: Paper) -> list[Leaf]:
    """Ruled tables, as many a page as there is room for."""
    made: list[Leaf] = []
    y = 0.0
    for sheet in sheets:
        if sheet in _WHOLE_PAGES:
            made += _whole_pages(sheet, paper)
            y = made[-1].bottom
            continue
        rows = _FEWER.get(sheet.name, _RULED)
        height = 8.0 + 11.0 + rows * _ROW + 4.0
        if not made or y + height > made[-1].bottom:
            names = ", ".join(each.name for each in sheets if each not in _WHOLE_PAGES)
            made.append(_page(paper, names, "A line each; columns as in the workbook."))
            y = MARGIN + _TITLE
        _table(made[-1], MARGIN, y, made[-1].right - MARGIN, sheet, rows)
        y += height
    return made


def _whole_pages(sheet: Sheet, paper: Paper) -> Iterator[Leaf]:
    """A frame measured with a tape has a few dozen points, and two or three readings for each."""
    says, (count, blocks) = "A line each; columns as in the workbook.", _WHOLE_PAGES[sheet]
    for _ in range(count):
        leaf = _page(paper, sheet.name, says)
        y = MARGIN + _TITLE
        rows = int((leaf.bottom - y - 8.0 - 11.0) / _ROW)
        wide = (leaf.right - MARGIN - (blocks - 1) * _APART) / blocks
        for block in range(blocks):
            _table(leaf, MARGIN + block * (wide + _APART), y, wide, sheet, rows)
        yield leaf


def _table(leaf: Leaf, x: float, y: float, wide: float, sheet: Sheet, rows: int) -> None:
    """A ruled table with so many empty ``rows``."""
    leaf.text(x, y, 60.0, 7.0, sheet.name, 12.0, bold=True)
    y += 8.0
    widths = [_WIDTHS.get(column.kind, 18.0) for column in sheet.columns]
    scale = wide / sum(widths)
    for column, width in zip(sheet.columns, widths, strict=True):
        leaf.box(x, y, width * scale, 11.0, fill=0.9)
        words = column.heading + (f"\n({', '.join(word.value for word in column.words)})" if column.words else "")
        leaf.text(
            x + 0.7,
            y + 0.5,
            width * scale - 1.4,
            10.0,
            words,
            9.0,
            bold=column.needed,
            align="centre",
        )
        for row in range(rows):
            leaf.box(x, y + 11.0 + row * _ROW, width * scale, _ROW)
        x += width * scale


def _where(paper: Paper) -> Leaf:
    """Where the tape goes, and how turns are counted: the sketches with a line for each word."""
    leaf = _page(paper, "Where the tape goes", "The words under measured, and what turns and sides are counted from.")
    wide = leaf.right - MARGIN
    _joint(leaf, MARGIN, MARGIN + _TITLE, wide * 0.62, 11.0)
    y = MARGIN + _TITLE + 88.0
    y = _meanings(leaf, y, MEASURED)
    y += 4.0
    third = wide / 3.0
    _clock(leaf, MARGIN + third / 2.0, y + 24.0)
    _side(leaf, MARGIN + third * 1.5, y + 24.0)
    _rotation(leaf, MARGIN + third * 2.5, y + 24.0)
    for number, text in enumerate(
        ("turns: an end, seen from end a looking to end b", "at and side: a bend, seen square to it", _ROTATION_SAYS)
    ):
        leaf.text(MARGIN + third * number + 1.0, y + 43.0, third - 2.0, 6.0, text, 8.5, align="centre")
    rotation = ("rotation", f"{BENDS.column('rotation').says}; a bend's inside is the side its centre is on")
    _meanings(leaf, y + 50.0, (*SIDES[:-1], _BEND, SIDES[-1], _LEAN, rotation))
    return leaf


def _meanings(leaf: Leaf, y: float, words: Sequence[tuple[str, str]]) -> float:
    for word, means in words:
        leaf.text(MARGIN, y, 22.0, 5.0, word, 10.0, bold=True, middle=False)
        y += max(leaf.text(MARGIN + 24.0, y, leaf.right - MARGIN - 24.0, 10.0, means, 10.0, middle=False) + 1.5, 7.0)
    return y


def _joint(leaf: Leaf, x: float, y: float, width: float, size: float) -> None:
    """A coped end on its tube, with the points that a tape may run to."""
    lines, names = joint_lines(), joint_names()
    every = [point for points, _ in lines for point in points]
    left, top = min(across for across, _ in every) - 28.0, max(up for _, up in every)
    scale = width / (max(across for across, _ in every) - left)
    for points, axis in lines:
        leaf.line(
            [(x + (u - left) * scale, y + (top - v) * scale) for u, v in points], 0.2 if axis else 0.4, 1.5 * axis
        )
    for name, (u, v), side in names:
        at = (x + (u - left) * scale, y + (top - v) * scale)
        leaf.box(at[0] - 0.8, at[1] - 0.8, 1.6, 1.6, fill=0.0)
        room = width_of(name, size, bold=True) + 1.0
        start = at[0] - 1.6 - room if side == "l" else at[0] + 1.6
        leaf.box(start, at[1] - 2.3, room, 4.6, line=0.0, fill=1.0)
        leaf.text(start + 0.3, at[1] - 2.3, room, 4.6, name, size, bold=True, whole=True)


def _clock(leaf: Leaf, x: float, y: float) -> None:
    """The four quarters round a tube."""
    _arc(leaf, (x, y), 13.0, 0, 360, 0.4)
    for turn, name in ((0, "0 short side"), (90, "90"), (180, "180 long side"), (270, "270")):
        out = 16.0 if turn % 180 == 0 else 14.5 + width_of(name, 10.0) / 2.0
        _named(leaf, *_round((x, y), out, turn), name, 10.0)


_BEND = ("bend 1 at", "after a tube under onto: that bend of it, and how many degrees round it from where it begins")
_LEAN = ("angle", "how the member leans to the tube that it lands on, there where it lands: 90 is square to it")
_ROTATION_SAYS = "rotation: the tube from its end, looking to end b"


def _round(middle: Point, radius: float, turn: float) -> Point:
    """The point ``turn`` degrees clockwise from upright, ``radius`` mm from ``middle``."""
    return middle[0] + radius * sin(radians(turn)), middle[1] - radius * cos(radians(turn))


def _arc(leaf: Leaf, middle: Point, radius: float, start: int, stop: int, width: float) -> None:
    leaf.line([_round(middle, radius, turn) for turn in range(start, stop + 1, 5)], width)


def _named(leaf: Leaf, x: float, y: float, text: str, size: float) -> None:
    """``text`` in the middle of a point."""
    room = width_of(text, size) + 1.0
    leaf.text(x - room / 2.0, y - 2.2, room, 4.4, text, size, align="centre", whole=True)


def _side(leaf: Leaf, x: float, y: float) -> None:
    """A quarter bend with its centre, and from where a member that lands on it comes."""
    centre = (x - 8.0, y + 12.0)
    for radius in (15.0, 21.0):
        _arc(leaf, centre, radius, 0, 90, 0.4)
    leaf.line(((centre[0] - 1.2, centre[1]), (centre[0] + 1.2, centre[1])), 0.2)
    leaf.line(((centre[0], centre[1] - 1.2), (centre[0], centre[1] + 1.2)), 0.2)
    _named(leaf, centre[0] - 8.0, centre[1], "its centre", 8.5)
    leaf.line(((centre[0], centre[1] - 13.5), (centre[0], centre[1] - 25.0)), 0.4)
    _named(leaf, centre[0] - 8.0, centre[1] - 22.0, "it begins", 8.5)
    _arc(leaf, centre, 23.5, 0, 45, 0.2)
    _named(leaf, centre[0] + 9.5, centre[1] - 25.0, "at", 8.5)
    for near, far, text, right, down in ((22.0, 34.0, "0", 3.0, -1.0), (14.0, 3.0, "180", 4.5, 2.0)):
        x, y = _round(centre, far, 45.0)
        leaf.line((_round(centre, near, 45.0), (x, y)), 0.7)
        _named(leaf, x + right, y + down, text, 10.0)


def _rotation(leaf: Leaf, x: float, y: float) -> None:
    """The insides of two bends round a tube, and the rotation from the one to the other."""
    _arc(leaf, (x, y), 8.0, 0, 360, 0.4)
    for turn, text, right, up in ((0, "inside of the bend before", 0.0, 3.0), (60, "of this bend", 11.0, 1.0)):
        tip = _round((x, y), 15.0, turn)
        leaf.line((_round((x, y), 8.0, turn), tip), 0.7)
        _named(leaf, tip[0] + right, tip[1] - up, text, 8.5)
    _arc(leaf, (x, y), 12.0, 0, 60, 0.2)
    _named(leaf, x, y, "60", 10.0)


def _cards(cards: Sequence[Filled], paper: Paper) -> list[Leaf]:
    made: list[Leaf] = []
    y, height = 0.0, 0.0
    for number, card in enumerate(cards, 1):
        if not made or y + height - _APART > made[-1].bottom:
            made.append(_page(paper, MEMBERS.name, "One card a member, in the order and the words of the sheet."))
            y = MARGIN + _TITLE
        height = _card(made[-1], y, card, number) + _APART
        y += height
    return made


def _card(leaf: Leaf, y: float, card: Filled, number: int) -> float:
    """A card; gives its height. Its fields flow in rows; those of each end begin one."""
    left, top = MARGIN + 3.0, y + 3.0
    x, at = left, top
    for column in MEMBERS.columns:
        beside = leaf.right - 3.0 - (_SKETCH + 2.0 if at < top + _BESIDE else 0.0)
        width = _field_width(column)
        begins = column.heading in ("past a", "end a", "end b", "turn")
        if x > left and (begins or x + width > beside):
            x, at = left, at + _LABEL + _BOX + _GAP
            beside = leaf.right - 3.0 - (_SKETCH + 2.0 if at < top + _BESIDE else 0.0)
        if column.heading == "note":
            width = beside - x
        _field(leaf, x, at, width, column, card.get(column.heading, ""))
        x += width + _GAP
    bottom = at + _LABEL + _BOX + 3.0
    leaf.box(MARGIN, y, leaf.right - MARGIN, bottom - y, line=0.5)
    _joint(leaf, leaf.right - _SKETCH - 2.0, y + 3.0, _SKETCH, 7.0)
    return bottom - y


def _ticks(column: Column) -> tuple[str, ...]:
    if column.kind is Kind.YES:
        return ("yes", "no")
    return tuple(word.value for word in column.words) if column.words is not None else ()


def _field_width(column: Column) -> float:
    words = _ticks(column)
    if words:
        return max(
            sum(6.5 + width_of(word, 9.0) + 1.5 for word in words), width_of(column.heading, 8.5, bold=True) + 1.0
        )
    return _WIDTHS[column.kind]


def _field(leaf: Leaf, x: float, y: float, width: float, column: Column, given: str) -> None:
    leaf.text(x, y, width, _LABEL, column.heading, 8.5, bold=column.needed, whole=True)
    words = _ticks(column)
    if not words:
        leaf.box(x, y + _LABEL, width, _BOX)
        leaf.text(x + 1.0, y + _LABEL, width - 2.0, _BOX, given, 11.0, bold=True)
        return
    for word in words:
        leaf.tick(x, y + _LABEL + 1.5, 5.0, ticked=given.strip().casefold() == word)
        leaf.text(x + 6.2, y + _LABEL + 1.0, width_of(word, 9.0) + 0.5, 6.0, word, 9.0, whole=True)
        x += 6.5 + width_of(word, 9.0) + 1.5
