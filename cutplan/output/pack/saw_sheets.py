"""The saw sheets of the printed pack: each bar to scale, and right below it its cuts, with boxes to tick."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from fractions import Fraction
from itertools import groupby

from cutplan.output.pack.leaf import MARGIN, Leaf, empty_leaf, width_of
from cutplan.output.pack.picture import put_picture
from cutplan.output.pdf import Paper
from cutplan.plan import wording
from cutplan.plan.recut.ticks import Tick
from cutplan.plan.tables import BarRow, SawRow, Tables
from cutplan.plan.tables.bars import Stretch
from cutplan.plan.tables.bars import StretchKind as Kind
from cutplan.plan.tables.pictures import Picture
from cutplan.plan.tables.saw_list import after_mitres, left_by_saw

PART = "Saw sheets"
ROW = 10.0
"""How high a row of the saw sheets is, in mm: to be ticked with a thick pencil."""

_TITLE = 6.0
_SQUARE = 5.0
_BAR = 12.0
_GAP = 6.0
_STAGE = 12.0
_HEADS = 7.0
_TOP = 19.0
_COLUMNS = (
    ("cut", 10.0),
    ("done", 9.0),
    ("mark", 26.0),
    ("blank", 23.0),
    ("first end on the bar", 29.5),
    ("last end on the bar", 29.5),
    ("left of the bar", 15.5),
    ("if spoilt, cut it again", 19.5),
    ("spoilt", 9.0),
    ("still good", 10.0),
    ("fitted", 9.0),
)
_READ = 8.0
"""Points: words on a bar are not set smaller."""

_WHOLE = sum(width for _, width in _COLUMNS)
_GREYS = {Kind.BLANK: None, Kind.DOUBT: 0.85, Kind.SPARE: None, Kind.OFFCUT: 0.93, Kind.TRIM: 0.55, Kind.LOST: 0.55}


def leaves(tables: Tables, paper: Paper, ticks: Sequence[Tick] = ()) -> list[Leaf]:
    """Its pages. A bar stays on one page, unless it alone takes more; ``ticks``: what was ticked already."""
    bars = {row.bar: row for row in tables.bars}
    longest = max((bar.length for bar in bars.values()), default=Fraction(1))
    stages = {row.stage: row.title for row in tables.stages}
    # In the order of sawing, which may come to a bar again; then the bars that are only kept.
    visits = [(*key, list(rows)) for key, rows in groupby(tables.saw_list, key=lambda row: (row.stage, row.bar))]
    sawn = {name for _, name, _ in visits}
    visits += [(None, name, []) for name in bars if name not in sawn]
    begun: set[str] = set()
    last = None
    made: list[Leaf] = []
    y = 0.0
    for stage, name, rows in visits:
        bar, again = bars[name], name in begun
        begun.add(name)
        title = stages[stage] if stage is not None and stage != last else ""
        leaf = made[-1] if made else None
        high = (_STAGE if title else 0.0) + (_TITLE + 1.0 if again else _heading(bar))
        if leaf is None or y + high + ROW * len(rows) > leaf.bottom:
            leaf, y = _page(tables, paper), MARGIN + _TOP
            made.append(leaf)
            if stage is not None and stage == last and y + _STAGE + high + ROW * len(rows) <= leaf.bottom:
                title = f"Stage {stage}, continued."
        last = stage
        if title:
            leaf.text(MARGIN, y, leaf.right - MARGIN, _STAGE - 2.0, title, 12.0, bold=True)
            y += _STAGE
        if again:
            leaf.text(MARGIN, y, leaf.right - MARGIN, _TITLE, bar.back, 12.0, bold=True)
            y += _TITLE + 1.0
        else:
            y = _bar(leaf, y, bar, longest, tables)
        for row in rows:
            if y + ROW > leaf.bottom:
                leaf, y = _page(tables, paper), MARGIN + _TOP
                made.append(leaf)
                leaf.text(
                    MARGIN, y, leaf.right - MARGIN, _TITLE, f"Bar {bar.bar}, the rest of its cuts", 12.0, bold=True
                )
                y += _TITLE
            _row(leaf, y, row, tables, ticks)
            y += ROW
        y += _GAP
    return made


def _heading(bar: BarRow) -> float:
    return _TITLE + _SQUARE + _BAR + 2.0


def _page(tables: Tables, paper: Paper) -> Leaf:
    leaf = empty_leaf(paper, PART)
    wide = leaf.right - MARGIN
    leaf.text(MARGIN, MARGIN, wide * 0.31, 9.0, f"{PART}, in {tables.unit_name}", 16.0, bold=True)
    says = (
        f"Left of the bar: {tables.left_rule}; the dark end, for the vice, counts. Usable: what can be cut. Tick done "
        "after each cut, fitted once it is tacked in and good, spoilt if it is: then write how much is still good."
    )
    leaf.text(MARGIN + wide * 0.32, MARGIN + 0.1, wide * 0.68, 10.2, says, 9.0)
    for (name, width), x in zip(_COLUMNS, _edges(leaf), strict=False):
        leaf.text(x + 0.5, MARGIN + 10.4, width * _scale(leaf) - 1.0, _HEADS, name, 8.5, align="centre")
    leaf.line(((MARGIN, MARGIN + _TOP - 1.5), (leaf.right, MARGIN + _TOP - 1.5)), 0.5)
    return leaf


def _scale(leaf: Leaf) -> float:
    return (leaf.right - MARGIN) / _WHOLE


def _edges(leaf: Leaf) -> list[float]:
    edges = [MARGIN]
    for _, width in _COLUMNS:
        edges.append(edges[-1] + width * _scale(leaf))
    return edges


def _bar(leaf: Leaf, y: float, bar: BarRow, longest: Fraction, tables: Tables) -> float:
    rows = [row for row in tables.saw_list if row.bar == bar.bar]
    wide = leaf.right - MARGIN
    leaf.text(MARGIN, y, wide, _TITLE, bar.title, 12.0, bold=True)
    y += _TITLE
    # The title is the first part of that sentence.
    first = bar.square.removeprefix(f"{bar.title}. ") if bar.runs else "No cut: " + bar.use + "."
    leaf.text(MARGIN, y, wide, _SQUARE, first + after_mitres(rows, tables.square_for_now), 10.0)
    y += _SQUARE
    scale = wide / float(longest)
    for part in bar.stretches:
        _stretch(leaf, y, part, scale, tables)
    end = MARGIN + float(bar.stretches[-1].end) * scale
    leaf.box(MARGIN, y, end - MARGIN, _BAR, line=0.5)
    return y + _BAR + 2.0


def _stretch(leaf: Leaf, y: float, part: Stretch, scale: float, tables: Tables) -> None:
    x, width = MARGIN + float(part.start) * scale, float(part.length) * scale
    grey = _GREYS[part.kind]
    if grey is not None:
        leaf.box(x, y, width, _BAR, line=0.1, fill=grey)
    if part.kind is Kind.SPARE:
        leaf.hatch(x, y, width, _BAR)
        leaf.box(x, y, width, _BAR, line=0.25)
    if part.kind is Kind.BLANK:
        _label(leaf, x, y, width, f"{part.cut}", part.text)
    elif part.kind is Kind.DOUBT and width > 3.0:
        leaf.text(x, y + 3.0, width, 6.0, part.text, 10.0, align="centre")
    elif part.kind in (Kind.SPARE, Kind.OFFCUT):
        name = "SPARE" if part.kind is Kind.SPARE else "USABLE"
        _room(leaf, x, y, width, (name, wording.found(part.length, tables.settings.units)))
    if part.sawn:
        leaf.line(((x + width, y), (x + width, y + _BAR)), 0.9)


def _room(leaf: Leaf, x: float, y: float, width: float, words: tuple[str, str]) -> None:
    """What a stretch is and how long, on a light ground: in one line, in two, the length alone or upright, as there is
    room for letters that can be read; else nothing."""
    for text, high in ((" ".join(words), 6.0), ("\n".join(words), 9.0), (words[1], 6.0)):
        wide = max(width_of(line, _READ) for line in text.split("\n")) + 3.0
        if wide <= width:
            room = min(width - 1.0, wide * 10.0 / _READ)
            top = y + (_BAR - high) / 2.0
            leaf.box(x + (width - room) / 2.0, top, room, high, line=0.0, fill=1.0)
            leaf.text(x + (width - room) / 2.0 + 0.5, top, room - 1.0, high, text, 10.0, align="centre")
            return
    if width > 4.0:
        leaf.upright(x, y, width, _BAR, words[1], 10.0, least=_READ)


def _label(leaf: Leaf, x: float, y: float, width: float, number: str, mark: str) -> None:
    """A blank's number over its mark; from the bottom up, the number alone at need, where it is too short for that."""
    room = width - 1.6
    if room >= max(width_of(number, 12.0, bold=True), width_of(mark, _READ)):
        leaf.text(x + 0.8, y + 0.5, room, 5.0, number, 12.0, bold=True, align="centre", whole=True)
        leaf.text(x + 0.8, y + 5.7, room, 5.6, mark, 10.0, align="centre", whole=True)
        return
    for text in (f"{number} {mark}", number):
        if leaf.upright(x, y, width, _BAR, text, 10.0, bold=True, least=7.0):
            return


def _row(leaf: Leaf, y: float, row: SawRow, tables: Tables, ticks: Sequence[Tick]) -> None:
    settings = tables.settings
    edges, scale = _edges(leaf), _scale(leaf)
    ends = tuple(zip("ab", left_by_saw(row, tables.square_for_now.get(row.mark, ())), strict=True))
    first, last = ends if row.first_end == "a" else ends[::-1]
    done, spoilt, good, fitted = _ticked(row.cut, ticks, tables)
    blank = f"measure first, {row.measure_first}" if row.blank is None else wording.blank(row.blank, settings)
    rest = row.at_least if row.left is None else row.left
    left = f"{'at least ' if row.left is None else ''}{wording.found(rest, settings.units)}"
    broken = ("blank",) * (row.blank is None) + ("left of the bar",) * (row.left is None)
    cells: Sequence[tuple[str, float, bool]] = (
        (str(row.cut), 15.0, True),
        ("", 0.0, False),
        ("", 0.0, False),
        (blank, 9.0 if row.blank is None else 15.0, True),
        ("", 0.0, False),
        ("", 0.0, False),
        (left, 9.0 if row.left is None else 11.0, False),
        (row.if_spoilt or wording.NO_TUBE, 9.0, False),
        ("", 0.0, False),
        (good, 11.0, False),
        ("", 0.0, False),
    )
    for (text, size, bold), x, (name, width) in zip(cells, edges, _COLUMNS, strict=False):
        if text:
            room = width * scale - 1.4
            whole = not (name in broken or name == "if spoilt, cut it again")
            leaf.text(x + 0.7, y + 0.4, room, ROW - 0.8, text, size, bold=bold, align="centre", whole=whole)
    # Bends and hand are easy to forget once the blank is off the bar.
    room = edges[3] - edges[2] - 1.4
    tall = ROW - 4.2 if row.hints else ROW - 0.8
    leaf.text(edges[2] + 0.7, y + 0.4, room, tall, row.mark, 15.0, bold=True, align="centre")
    if row.hints:
        leaf.text(edges[2] + 0.7, y + ROW - 3.8, room, 3.4, row.hints, 8.0, align="centre")
    # What must be measured first cannot be ticked on this list.
    for number, ticked in ((1, done), (8, spoilt), (10, fitted)) if row.blank is not None else ():
        middle = (edges[number] + edges[number + 1]) / 2.0
        leaf.tick(middle - 3.0, y + ROW / 2.0 - 3.0, 6.0, ticked=ticked)
    if row.blank is not None:
        leaf.line(((edges[9] + 1.0, y + ROW - 2.0), (edges[10] - 1.0, y + ROW - 2.0)), 0.2, 0.6)
    for number, (name, text), about in ((4, first, False), (5, last, True)):
        _end(
            leaf,
            edges[number],
            y,
            edges[number + 1] - edges[number],
            (name, text),
            tables.end_pictures[row.mark, name],
            about,
        )
    leaf.line(((MARGIN, y + ROW), (leaf.right, y + ROW)), 0.15)


def _end(leaf: Leaf, x: float, y: float, width: float, named: tuple[str, str], picture: Picture, about: bool) -> None:
    """A small picture of an end as it is on the bar, its letter on it, and its words beside it."""
    across = 9.5
    scale = min((ROW - 3.0) / picture.height, across / picture.width)
    left = x + 0.8 if not about else x + width - 0.8 - across
    top = y + (ROW - picture.height * scale) / 2.0
    begin = left + across - picture.width * scale if about else left
    put_picture(leaf, picture, begin, top, scale, turned=about, small=True)
    words = x + 0.8 if about else x + across + 1.6
    letter, text = named
    at = left + 0.3 if about else left + across - 3.8
    leaf.text(at, y + 0.4, 3.5, ROW - 0.8, letter, 11.0, bold=True, align="centre")
    leaf.text(words, y + 0.4, width - across - 2.4, ROW - 0.8, text, 10.0, align="right" if about else "left")


def _ticked(number: int, ticks: Collection[Tick], tables: Tables) -> tuple[bool, bool, str, bool]:
    """What a person has ticked already: done, spoilt, how much of it is still good, and fitted."""
    for tick in ticks:
        if tick.cut == number:
            good = "" if tick.left is None else wording.found(tick.left, tables.settings.units)
            return tick.done, tick.spoilt, good, tick.fitted
    return False, False, "", False
