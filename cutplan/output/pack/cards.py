"""The cards of the printed pack, two a page: a piece to scale, and the steps to make it, as boxes in their order."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.output.pack.leaf import MARGIN, Leaf, Point, Text, long, pages, wrapped
from cutplan.output.wraps import Paper
from cutplan.plan.tables import Tables
from cutplan.plan.tables.cards import Card, CardEnd
from cutplan.plan.tables.pictures import Picture

PART = "Cards"
_GAP = 8.0
_HEAD = 17.0
_SHARE = 0.41
"""Of a card's width, what the pictures take; the steps take the rest."""
_BOX = 6.0
_LEAST_STEP = 8.0
_STEP_SIZES = (9.5, 9.0, 8.5)
"""Points: the largest at which a card takes half a page."""
_CARE_SIZE = 9.5
_TALLEST_END = 48.0
_ASIDE = 5.0
"""Kept beside a picture for the names of its ends, in mm."""


@dataclass(frozen=True, slots=True)
class _Laid:
    """A card's texts in lines: its steps, what it joins, what to take care of; and how high it is with them, in mm."""

    card: Card
    steps: tuple[tuple[Text, Text], ...]
    joins: tuple[Text, ...]
    care: tuple[Text, ...]
    pictures: float

    @property
    def height(self) -> float:
        """With its heading and frame."""
        steps = sum(_step_height(step) for step in self.steps)
        return _HEAD + max(steps, self.pictures) + self.below + 3.0

    @property
    def below(self) -> float:
        """What stands below pictures and steps."""
        texts = (*self.joins, *self.care)
        return sum(text.height + 0.8 for text in texts) + (6.0 if self.care else 2.0)


def leaves(tables: Tables, paper: Paper) -> list[Leaf]:
    """Its pages: two cards each, or one that has more to say on a page of its own; the next smaller one then goes
    below the last that stood alone."""
    blank = pages(paper, PART)
    width, room = blank.right - MARGIN, blank.bottom - MARGIN
    half = (room - _GAP) / 2.0
    made: list[Leaf] = []
    spare: Leaf | None = None
    for card in tables.cards:
        laid = next((laid for size in _STEP_SIZES if (laid := _lay(card, width, size)).height <= half), None)
        if laid is not None and spare is not None:
            _card(spare, spare.bottom - half, width, half, laid, False)
            spare = None
            continue
        made.append(pages(paper, PART))
        if laid is not None:
            spare = made[-1]
            _card(spare, MARGIN, width, half, laid, False)
        else:
            _card(made[-1], MARGIN, width, room, _lay(card, width, _STEP_SIZES[0]), True)
    return made


def _step_height(step: tuple[Text, Text]) -> float:
    return max(step[0].height + step[1].height + 2.0, _LEAST_STEP)


def _lay(card: Card, width: float, size: float) -> _Laid:
    room = width * (1.0 - _SHARE) - _BOX - 6.0
    steps = tuple((wrapped(step.heading, room, size, bold=True), wrapped(step.says, room, size)) for step in card.steps)
    joins = tuple(wrapped(text, width - 6.0, _CARE_SIZE) for text in card.joins)
    care = tuple(wrapped(text, width - 10.0, _CARE_SIZE, bold=True) for text in card.care)
    return _Laid(card, steps, joins, care, sum(_rows(card)))


def _rows(card: Card, tall: bool = False) -> tuple[float, float, float, float]:
    """How high the pictures are: the bent piece, the blank, the blank from above, the ends. ``tall``: on a page of its
    own."""
    shape = 0.0 if card.shape is None else 76.0 if tall else 46.0
    above = 13.0 if card.above is not None and card.shape is None else 0.0
    return shape, 24.0 + 4.0 * bool(card.dims), above, 32.0 if card.ends else 0.0


def _card(leaf: Leaf, y: float, width: float, height: float, laid: _Laid, tall: bool) -> None:
    card = laid.card
    leaf.box(MARGIN, y, width, height, line=0.5)
    _heading(leaf, y, width, card)
    top = y + _HEAD
    across = width * _SHARE
    at = top
    shape, flat, above, ends = _rows(card, tall)
    left, room = MARGIN + 3.0, across - 6.0
    if card.shape is not None:
        aside = 0.0 if card.above is None else room * 0.4
        _bent(leaf, left, at, room - aside, shape, card)
        if card.above is not None:
            leaf.text(left + room - aside, at + 1.0, aside, 4.0, "from above", 8.0)
            _fit(leaf, card.above, left + room - aside, at + 4.0, aside, shape - 16.0)
        at += shape
    scale = _flat(leaf, left, at, room, flat, card)
    at += flat
    if above and card.above is not None:
        leaf.text(left, at, room, 4.0, "from above", 8.0)
        _picture(leaf, card.above, left + _ASIDE, at + 5.0, scale)
        at += above
    ends = min(max(y + height - laid.below - 3.0 - at, ends), _TALLEST_END)
    for number, end in enumerate(card.ends):
        _end(leaf, left + number * room / 2.0, at, room / 2.0 - 2.0, ends, end)
    _steps(leaf, MARGIN + across, top, laid)
    _below(leaf, y + height - laid.below - 1.0, width, laid)


def _heading(leaf: Leaf, y: float, width: float, card: Card) -> None:
    leaf.text(MARGIN + 3.0, y + 1.5, width * 0.56, 10.0, ", ".join(card.marks), 22.0, bold=True)
    leaf.text(
        MARGIN + width * 0.6, y + 1.5, width * 0.4 - 3.0, 10.0, f"blank {card.blank}", 18.0, bold=True, align="right"
    )
    leaf.text(MARGIN + 3.0, y + 11.0, width - 6.0, 4.5, f"{card.pieces} of {card.tube}", 10.0)
    leaf.line(((MARGIN, y + _HEAD - 1.0), (MARGIN + width, y + _HEAD - 1.0)), 0.3)


def _steps(leaf: Leaf, x: float, y: float, laid: _Laid) -> None:
    for heading, says in laid.steps:
        leaf.tick(x, y + 1.0, _BOX)
        _lines(leaf, x + _BOX + 3.0, y + 0.8, heading)
        _lines(leaf, x + _BOX + 3.0, y + 0.8 + heading.height, says)
        y += _step_height((heading, says))


def _below(leaf: Leaf, y: float, width: float, laid: _Laid) -> None:
    for text in laid.joins:
        _lines(leaf, MARGIN + 3.0, y, text)
        y += text.height + 0.8
    if laid.care:
        height = sum(text.height + 0.8 for text in laid.care) + 2.4
        leaf.box(MARGIN + 1.5, y, width - 3.0, height, line=0.2, fill=0.9)
        y += 1.6
        for text in laid.care:
            _lines(leaf, MARGIN + 4.0, y, text)
            y += text.height + 0.8


def _lines(leaf: Leaf, x: float, y: float, text: Text) -> None:
    """Lines that were laid already, as they are."""
    for line in text.lines:
        wide = long(line, text.size, bold=text.bold)
        step = text.height / len(text.lines)
        leaf.text(x, y, wide + 1.0, step, line, text.size, bold=text.bold, whole=True)
        y += step


def _bent(leaf: Leaf, x: float, y: float, width: float, height: float, card: Card) -> None:
    """The finished piece, with how large it is over its outsides."""
    assert card.shape is not None
    beside, under = 17.0, 12.0
    left, top, scale = _fit(leaf, card.shape, x, y + 2.0, width - beside, height - under - 2.0)
    right, bottom = left + card.shape.width * scale, top + card.shape.height * scale
    across, down = card.outside
    _arrow(leaf, (left, bottom + 9.5), (right, bottom + 9.5))
    leaf.text(left, bottom + 5.6, right - left, 3.6, across, 8.5, align="centre", whole=True)
    _arrow(leaf, (right + 6.0, top), (right + 6.0, bottom))
    leaf.text(right + 7.0, (top + bottom) / 2.0 - 2.5, x + width - right - 7.0, 5.0, down, 8.5, whole=True)


def _flat(leaf: Leaf, x: float, y: float, width: float, height: float, card: Card) -> float:
    """The straight blank to scale, its length above it, the bender's marks below it; gives the scale."""
    scale = min((width - 2.0 * _ASIDE) / card.flat.width, 9.0 / card.flat.height)
    left, top = x + _ASIDE, y + 8.0
    right = left + card.flat.width * scale
    _arrow(leaf, (left, top - 2.0), (right, top - 2.0))
    leaf.text(x, top - 7.0, width, 4.5, f"blank {card.blank}", 9.5, bold=True, align="centre", whole=True)
    _picture(leaf, card.flat, left, top, scale)
    bottom = top + card.flat.height * scale
    taken = [left - 99.0, left - 99.0]
    for at, text in card.dims:
        middle = left + at * scale
        wide = long(text, 8.5, bold=True) + 1.0
        start = min(max(middle - wide / 2.0, x), x + width - wide)
        row = 0 if start > taken[0] else 1
        leaf.line(((middle, top - 1.0), (middle, bottom + 1.5 + 4.0 * row)), 0.4)
        leaf.text(start, bottom + 1.5 + 4.0 * row, wide, 4.0, text, 8.5, bold=True, align="centre", whole=True)
        taken[row] = start + wide
    return scale


def _end(leaf: Leaf, x: float, y: float, width: float, height: float, end: CardEnd) -> None:
    leaf.text(x, y, width, 8.0, end.words, 9.0, bold=True, middle=False)
    room = height - 8.0 - 5.0
    scale = min((width - 2.0) / end.picture.width, room / end.picture.height)
    _picture(leaf, end.picture, x, y + 8.0, scale, about=end.about)
    leaf.text(x, y + 8.5 + end.picture.height * scale, width, 4.0, end.seen, 8.0)


def _fit(leaf: Leaf, picture: Picture, x: float, y: float, width: float, height: float) -> tuple[float, float, float]:
    """``picture`` as large as it goes, with room for its labels; gives its left, its top and the scale."""
    scale = min((width - 2.0 * _ASIDE) / picture.width, (height - 2.0 * _ASIDE) / picture.height)
    left, top = x + _ASIDE, y + _ASIDE
    _picture(leaf, picture, left, top, scale)
    return left, top, scale


def _picture(leaf: Leaf, picture: Picture, x: float, y: float, scale: float, *, about: bool = False) -> None:
    """``picture`` with its upper left corner at ``x``, ``y``; ``about``: turned about, left to right."""

    def to(point: Point) -> Point:
        along = picture.width - point[0] if about else point[0]
        return x + along * scale, y + point[1] * scale

    for body in picture.bodies:
        leaf.shape([to(point) for point in body], 0.93)
    for line in picture.lines:
        width = 0.12 if line.fine else 0.18 if line.behind else 0.35
        leaf.line([to(point) for point in line.points], width, grey=0.45 if line.behind else 0.0)
    for label in picture.labels:
        at = to(label.at)
        middle = (at[0] + 2.6 * label.away[0], at[1] + 2.6 * label.away[1])
        leaf.text(middle[0] - 2.0, middle[1] - 2.0, 4.0, 4.0, label.text, 9.0, bold=True, align="centre", whole=True)


def _arrow(leaf: Leaf, start: Point, end: Point) -> None:
    """A line of measurement, with a bar across each end."""
    leaf.line((start, end), 0.2)
    level = start[1] == end[1]
    for x, y in (start, end):
        leaf.line(((x, y - 1.2), (x, y + 1.2)) if level else ((x - 1.2, y), (x + 1.2, y)), 0.2)
