"""The cards of the printed pack, two a page: a piece to scale, and the steps to make it, as boxes in their order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from cutplan.output.pack.leaf import MARGIN, Leaf, Point, Text, empty_leaf, width_of, wrapped
from cutplan.output.pack.picture import put_picture
from cutplan.output.pdf import POINT_MM, Paper
from cutplan.plan.tables import Tables
from cutplan.plan.tables.cards import Card, CardEnd
from cutplan.plan.tables.pictures import Label, Picture
from cutplan.plan.tables.steps import Step

PART = "Cards"
_GAP = 8.0
_HEAD = 17.0
_SHARES = (0.5, 0.45, 0.41, 0.37, 0.33)
"""Of a card's width, what the pictures may take; the steps take the rest."""
_CROWDED, _USUAL = 9.5, 0.41
"""Pictures take less than the usual share only with letters as small as that, in points."""
_BOX = 6.0
_LEAST_STEP = 8.0
_SIZES = (12.0, 11.5, 11.0, 10.5, 10.0, 9.75, 9.5, 9.25, 9.0, 8.75, 8.5)
"""Points: the largest at which a card takes half a page, or a page."""
_SMALLER = 1.0
"""By how many points the letters of a table may be smaller than those round it."""
_CARE_SIZE = 9.5
_LARGEST = 1.3
"""The largest scale that an end is drawn to."""
_ASIDE = 5.0
"""Kept beside a picture for the names of its ends, in mm."""
_AHEAD = 4
"""How many of the cards that follow are tried beside one."""
_CELL = 3.0
"""Between the columns of a step's table, in mm."""


@dataclass(frozen=True, slots=True)
class _Grid:
    """A step's table: its rows, how wide each column is, how high a row, in mm; the size of its letters in points."""

    rows: tuple[tuple[str, ...], ...]
    wide: tuple[float, ...]
    row: float
    size: float

    @property
    def height(self) -> float:
        """In mm, with room below."""
        return self.row * len(self.rows) + 1.0


@dataclass(frozen=True, slots=True)
class _Step:
    """A step in lines, its heading at the start of the first, ``indent`` mm long, with its tables below."""

    heading: Text
    indent: float
    says: Text
    grids: tuple[_Grid, ...]

    @property
    def height(self) -> float:
        """In mm."""
        return max(self.says.height + sum(grid.height for grid in self.grids) + 2.5, _LEAST_STEP)


@dataclass(frozen=True, slots=True)
class _Laid:
    """A card's texts in lines: its steps, what it joins, what to take care of; and how high it is with them, in mm.
    ``share``: of its ``width``, what the pictures take."""

    card: Card
    width: float
    share: float
    steps: tuple[_Step, ...]
    joins: tuple[Text, ...]
    care: tuple[Text, ...]

    @property
    def height(self) -> float:
        """With its heading and frame."""
        steps = sum(step.height for step in self.steps)
        return _HEAD + max(steps, sum(self.rows)) + self.below + 3.0

    @property
    def rows(self) -> tuple[float, float, float, float]:
        """The least heights of the pictures: the bent piece, the blank, the blank from above, the ends."""
        card, room = self.card, self.width * self.share - 6.0
        shape = 0.0 if card.shape is None else 46.0
        above = 13.0 if card.above is not None and card.shape is None else 0.0
        scale = (room - 2.0 * _ASIDE) / card.flat.width
        marks = 1 + max((row for *_, row, _ in _dims(card, room, scale)), default=-1)
        ends = len({end.name for end in card.ends})
        return shape, 24.0 + 4.0 * max(marks - 1, 0), above, max(_LEAST_END * ends, 32.0) if ends else 0.0

    @property
    def below(self) -> float:
        """What is below pictures and steps."""
        texts = (*self.joins, *self.care)
        return sum(text.height + 0.8 for text in texts) + (6.0 if self.care else 2.0)


def leaves(tables: Tables, paper: Paper) -> list[Leaf]:
    """Its pages: two cards each, in the largest letters that both have room for: the next one, and the first of those
    after it that goes with it; or one that has more to say, alone."""
    blank = empty_leaf(paper, PART)
    width, room = blank.right - MARGIN, blank.bottom - MARGIN
    made: list[Leaf] = []
    left = list(tables.cards)
    while left:
        pairs = (_together((left[0], other), width, room - _GAP) for other in left[1 : 1 + _AHEAD])
        together = next((laid for laid in pairs if laid is not None), None)
        made.append(empty_leaf(paper, PART))
        if together is not None:
            # What is left of the page goes to both alike.
            more = (room - _GAP - sum(laid.height for laid in together)) / 2.0
            y = MARGIN
            for laid in together:
                _card(made[-1], y, width, laid.height + more, laid)
                y += laid.height + more + _GAP
            left = [card for card in left if not any(card is laid.card for laid in together)]
            continue
        half = (room - _GAP) / 2.0
        alone = _together(left[:1], width, half, _SIZES[:1]) or _together(left[:1], width, room)
        [laid] = alone or (_lay(left[0], width, _SIZES[-1], _SHARES[-1]),)
        _card(made[-1], MARGIN, width, half if laid.height <= half and alone else room, laid)
        left = left[1:]
    return made


def _together(
    cards: Sequence[Card], width: float, height: float, sizes: Sequence[float] = _SIZES
) -> tuple[_Laid, ...] | None:
    """``cards`` below each other in the largest letters that they have room for, and with the largest pictures beside
    them; None where even the smallest letters are too large."""
    # Most that do not go together do not even in the smallest letters.
    if sum(_lay(card, width, sizes[-1], _SHARES[-1]).height for card in cards) > height:
        return None
    for size in sizes:
        shares = [share for share in _SHARES if share >= (_SHARES[-1] if size <= _CROWDED else _USUAL)]
        laid = [_lay(card, width, size, shares[-1]) for card in cards]
        if sum(one.height for one in laid) > height or (size != _SIZES[-1] and any(_small(one, size) for one in laid)):
            continue
        for number, card in enumerate(cards):
            rest = height - sum(one.height for one in laid) + laid[number].height
            wider = (_lay(card, width, size, share) for share in shares[:-1])
            fits = (one for one in wider if one.height <= rest and not _small(one, size))
            laid[number] = next(fits, laid[number])
        return tuple(laid)
    return None


def _small(laid: _Laid, size: float) -> bool:
    """Whether the letters of a table are much smaller than those round it."""
    return any(grid.size < size - _SMALLER for step in laid.steps for grid in step.grids)


def _lay(card: Card, width: float, size: float, share: float) -> _Laid:
    room = width * (1.0 - share) - _BOX - 6.0
    steps = tuple(_step(step, room, size) for step in card.steps)
    joins = tuple(wrapped(text, width - 6.0, _CARE_SIZE) for text in card.joins)
    care = tuple(wrapped(text, width - 10.0, _CARE_SIZE, bold=True) for text in card.care)
    return _Laid(card, width, share, steps, joins, care)


def _step(step: Step, room: float, size: float) -> _Step:
    indent = width_of(f"{step.heading}  ", size, bold=True)
    # Hard spaces keep the heading's room on the first line; they are taken off again once the lines are known.
    hard = "\xa0" * ceil(indent / width_of("\xa0", size))
    says = wrapped(f"{hard}{step.says}", room, size)
    first, *more = says.lines
    kept = first.lstrip("\xa0")
    return _Step(
        Text((step.heading,), size, True),
        indent if kept else 0.0,
        replace(says, lines=(kept, *more)),
        tuple(_grid(table, room, size) for table in step.tables),
    )


def _grid(rows: Sequence[tuple[str, ...]], room: float, size: float) -> _Grid:
    """A table as narrow as its words let it be, in letters of at most ``size`` points that fit ``room`` mm."""
    while True:
        wide = tuple(
            max(width_of(row[number], size, bold=not at) for at, row in enumerate(rows)) + _CELL
            for number in range(len(rows[0]))
        )
        if sum(wide) <= room or size <= 6.0:
            return _Grid(tuple(rows), wide, size * 1.3 * POINT_MM, size)
        size -= 0.25


def _card(leaf: Leaf, y: float, width: float, height: float, laid: _Laid) -> None:
    card = laid.card
    leaf.box(MARGIN, y, width, height, line=0.5)
    _heading(leaf, y, width, card)
    top = y + _HEAD
    across = width * laid.share
    at = top
    shape, flat, above, ends = laid.rows
    left, room = MARGIN + 3.0, across - 6.0
    extra = max(height - _HEAD - laid.below - 3.0 - shape - flat - above - ends, 0.0)
    if card.shape is not None:
        taken = _bent(leaf, left, at, room, shape + extra * (0.6 if ends else 1.0), card)
        at, extra = at + taken, extra + shape - taken
    scale = _flat(leaf, left, at, room, card)
    at += flat
    if above and card.above is not None:
        leaf.text(left, at, room, 4.0, "from above", 8.0)
        put_picture(leaf, card.above, left + _ASIDE, at + 5.0, scale)
        at += above
    _ends(leaf, left, at, room, min(ends + extra, y + height - laid.below - 3.0 - at), card.ends)
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
    for step in laid.steps:
        leaf.tick(x, y + 1.0, _BOX)
        left, at = x + _BOX + 3.0, y + 1.0
        _lines(leaf, left, at, step.heading)
        _lines(leaf, left, at, step.says, step.indent)
        at += step.says.height + 0.5
        for grid in step.grids:
            _figures(leaf, left, at, grid)
            at += grid.height
        y += step.height


def _figures(leaf: Leaf, x: float, y: float, grid: _Grid) -> None:
    for number, row in enumerate(grid.rows):
        left = x
        for at, (text, wide) in enumerate(zip(row, grid.wide, strict=True)):
            if text:
                align = "left" if at == 0 else "centre"
                leaf.text(left, y, wide, grid.row, text, grid.size, bold=not number, align=align, whole=True)
            left += wide
        y += grid.row
        leaf.line(((x, y), (left, y)), 0.25 if not number else 0.1)


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


def _lines(leaf: Leaf, x: float, y: float, text: Text, indent: float = 0.0) -> None:
    """Lines that were laid already, as they are, the first of them ``indent`` mm further right."""
    for number, line in enumerate(text.lines):
        wide = width_of(line, text.size, bold=text.bold)
        step = text.height / len(text.lines)
        if line:
            start = x if number else x + indent
            leaf.text(start, y, wide + 1.0, step, line, text.size, bold=text.bold, whole=True)
        y += step


def _bent(leaf: Leaf, x: float, y: float, width: float, height: float, card: Card) -> float:
    """The finished piece, with how large it is over its outsides, and from above where that shows more: beside or
    below, whichever shows both larger. Gives the height that it takes."""
    side, above = card.shape, card.above
    assert side is not None
    across, down = card.outside
    beside = width_of(down, 8.5) + 8.0
    wide, high = width - beside - 2.0 * _ASIDE, height - _UNDER - 2.0 * _ASIDE
    scale, below = min(wide / side.width, high / side.height), False
    if above is not None:
        along = min((wide - 2.0 * _ASIDE) / (side.width + above.width), scale, (high - 2.0) / above.height)
        under = min(wide / max(side.width, above.width), (high - _LABEL - 2.0 * _ASIDE) / (side.height + above.height))
        scale, below = max(along, under), under > along
    left, top = x + _ASIDE, y + 2.0 + _ASIDE
    right, bottom = left + side.width * scale, top + side.height * scale
    put_picture(leaf, side, left, top, scale)
    _arrow(leaf, (left, bottom + 9.5), (right, bottom + 9.5))
    room = width_of(across, 8.5) + 1.0
    leaf.text((left + right - room) / 2.0, bottom + 5.6, room, 3.6, across, 8.5, align="centre", whole=True)
    _arrow(leaf, (right + 6.0, top), (right + 6.0, bottom))
    leaf.text(right + 7.0, (top + bottom) / 2.0 - 2.5, beside - 7.0, 5.0, down, 8.5, whole=True)
    bottom += _UNDER
    if above is not None:
        start = (left, bottom + _LABEL + 2.0) if below else (right + beside + _ASIDE, y + _LABEL + _ASIDE)
        leaf.text(start[0] - _ASIDE, start[1] - _ASIDE - _LABEL, width * 0.35, _LABEL, "from above", 8.0)
        put_picture(leaf, above, *start, scale)
        bottom = max(bottom, start[1] + above.height * scale + _ASIDE)
    return bottom - y


_UNDER, _LABEL = 14.0, 4.0
"""Kept for how large a bent piece is below it, and for the words over a picture, in mm."""


def _flat(leaf: Leaf, x: float, y: float, width: float, card: Card) -> float:
    """The straight blank to scale, its length above it, the bender's marks below it; gives the scale."""
    scale = min((width - 2.0 * _ASIDE) / card.flat.width, 9.0 / card.flat.height)
    left, top = x + _ASIDE, y + 8.0
    right = left + card.flat.width * scale
    _arrow(leaf, (left, top - 2.0), (right, top - 2.0))
    leaf.text(x, top - 7.0, width, 4.5, f"blank {card.blank}", 9.5, bold=True, align="centre", whole=True)
    put_picture(leaf, card.flat, left, top, scale)
    bottom = top + card.flat.height * scale
    for middle, start, wide, row, text in _dims(card, width, scale):
        leaf.line(((left + middle, top - 1.0), (left + middle, bottom + 1.5 + 4.0 * row)), 0.4)
        leaf.text(x + start, bottom + 1.5 + 4.0 * row, wide, 4.0, text, 8.5, bold=True, align="centre", whole=True)
    return scale


def _dims(card: Card, width: float, scale: float) -> Iterator[tuple[float, float, float, int, str]]:
    """The bender's marks below the blank: where each is, in mm from the blank's left; where its text starts, in mm from
    the picture's left, and how wide it is; in which row, so that none runs into another."""
    taken: list[float] = []
    for at, text in card.dims:
        middle, wide = at * scale, width_of(text, 8.5, bold=True) + 1.0
        start = min(max(_ASIDE + middle - wide / 2.0, 0.0), width - wide)
        row = next((number for number, end in enumerate(taken) if start > end), len(taken))
        taken[row : row + 1] = [start + wide]
        yield middle, start, wide, row, text


def _ends(leaf: Leaf, x: float, y: float, width: float, height: float, ends: Sequence[CardEnd]) -> None:
    """The ends beside or below each other, whichever shows them larger, all to one scale; the two sides of an end
    beside or below each other too."""
    if not ends:
        return
    named = [[end for end in ends if end.name == name] for name in sorted({end.name for end in ends})]
    ways = [[list(ends)], named, [[end] for end in ends]]

    def scale(rows: Sequence[Sequence[CardEnd]]) -> float:
        high = height / len(rows) - _WORDS
        return min(
            *(high / end.picture.height for end in ends),
            *((width / len(row) - _BESIDE) / end.picture.width for row in rows for end in row),
            _LARGEST,
        )

    rows = max(ways, key=scale)
    for number, row in enumerate(rows):
        for at, end in enumerate(row):
            left = x + at * width / len(row)
            _end(leaf, left, y + number * height / len(rows), width / len(row) - 2.0, scale(rows), end)


_WORDS, _BESIDE = 15.5, 9.0
"""Above and below the picture of an end, and beside it, in mm."""
_LINES = 3.4
"""The least distance between the names of lines beside an end, in mm."""
_LEAST_END = 26.0
"""The least height of a row of ends, in mm."""


def _end(leaf: Leaf, x: float, y: float, width: float, scale: float, end: CardEnd) -> None:
    leaf.text(x, y + 0.5, width, 7.5, end.words, 9.0, bold=True, middle=False)
    # The names of its lines are beside it.
    picture = replace(end.picture, labels=tuple(_apart(end.picture, _LINES / scale)))
    put_picture(leaf, picture, x + (_BESIDE - 3.0 if end.about else 0.0), y + 9.5, scale, turned=end.about)
    leaf.text(x, y + 11.0 + end.picture.height * scale, width, 4.0, end.seen, 8.0, whole=True)


def _apart(picture: Picture, least: float) -> Iterator[Label]:
    """The labels of ``picture`` that have room, those of its edges first; ``least``: how far from each other."""
    kept: list[float] = []
    for label in sorted(picture.labels, key=lambda label: -abs(label.at[1] - picture.height / 2.0)):
        if all(abs(label.at[1] - other) >= least for other in kept):
            kept.append(label.at[1])
            yield label


def _arrow(leaf: Leaf, start: Point, end: Point) -> None:
    """A line of measurement, with a bar across each end."""
    leaf.line((start, end), 0.2)
    level = start[1] == end[1]
    for x, y in (start, end):
        leaf.line(((x, y - 1.2), (x, y + 1.2)) if level else ((x - 1.2, y), (x + 1.2, y)), 0.2)
