"""The printed pack: order, saw sheets, cards, wraps and the frame in one PDF, in the order they are used, with a page
in front that says what is in it. It lays out the tables of :mod:`cutplan.plan.tables` and works nothing out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from cutplan.output import CAUTION
from cutplan.output.files import write_beside
from cutplan.output.pack import cards, frame, order, saw_sheets, wraps
from cutplan.output.pack.leaf import MARGIN, Leaf, empty_leaf, fitted
from cutplan.output.pdf import Paper, new_canvas
from cutplan.plan.recut.ticks import Tick
from cutplan.plan.tables import Tables


@dataclass(frozen=True, slots=True)
class _Part:
    """A part of the pack: its heading, what it is for, and its pages."""

    heading: str
    says: str
    leaves: Sequence[Leaf]


PARTS: tuple[str, ...] = ("order", "saw", "cards", "wraps", "frame")
"""The words for the parts, in the order they are used."""

_SAYS = {
    "order": "what to ask for at the shop",
    "saw": "each bar with its cuts in order, to be ticked at the saw",
    "cards": "what each piece looks like, and what is done to it",
    "wraps": "paper at true size, to mark copes and mitres by",
    "frame": "the finished frame with its marks: as a whole, and stage by stage",
}


_WAITING = "What must be measured first has no card and no wrap in this pack."


def write_pack(
    tables: Tables,
    path: Path,
    *,
    parts: Sequence[str] = PARTS,
    paper: Paper = Paper.A4,
    prices: bool = False,
    ticks: Sequence[Tick] = (),
) -> int:
    """Write the pack to ``path``, with these of its parts; gives the pages it takes. ``prices``: on the order;
    ``ticks``: what was ticked on the list already. Raises OutputError."""
    makers: dict[str, tuple[str, Callable[[], list[Leaf]]]] = {
        "order": (order.PART, lambda: order.leaves(tables, paper, prices=prices)),
        "saw": (saw_sheets.PART, lambda: saw_sheets.leaves(tables, paper, ticks)),
        "cards": (cards.PART, lambda: cards.leaves(tables, paper)),
        "wraps": (wraps.PART, lambda: wraps.leaves(tables, paper)),
        "frame": (frame.PART, lambda: frame.leaves(tables, paper)),
    }
    made = [_Part(makers[word][0], _SAYS[word], makers[word][1]()) for word in PARTS if word in parts]
    front = _front(tables, [part for part in made if part.leaves], paper)
    every = [*front, *(leaf for part in made for leaf in part.leaves)]
    for number, leaf in enumerate(every, 1):
        foot(leaf, f"{tables.settings.name}: {leaf.part}", f"page {number} of {len(every)}")
    write_beside(path, lambda beside: print_leaves(every, beside, tables.settings.name))
    return len(every)


def print_leaves(leaves: Sequence[Leaf], path: Path, name: str) -> None:
    """Write ``leaves`` to ``path`` as a PDF called ``name``."""
    canvas = new_canvas(path, name, compressed=True)
    for leaf in leaves:
        leaf.print(canvas)
    canvas.save()


def foot(leaf: Leaf, left: str, right: str) -> None:
    """What a page belongs to, and its number."""
    y = leaf.height - MARGIN - 4.0
    leaf.text(MARGIN, y, (leaf.right - MARGIN) * 0.75, 4.0, left, 8.0)
    leaf.text(leaf.right - 40.0, y, 40.0, 4.0, right, 8.0, align="right")


def _front(tables: Tables, parts: Sequence[_Part], paper: Paper) -> list[Leaf]:
    """What is in the pack, what should be known before beginning, and the caution."""
    leaf = empty_leaf(paper, "contents")
    made = [leaf]
    wide = leaf.right - MARGIN
    leaf.text(MARGIN, MARGIN, wide, 14.0, tables.settings.name, 24.0, bold=True)
    leaf.text(MARGIN, MARGIN + 15.0, wide, 6.0, f"All lengths are in {tables.unit_name}.", 12.0)
    y = MARGIN + 26.0
    rows = [(part, leaf) for part in parts]
    waiting = (f"{tables.waiting} {_WAITING}",) if tables.waiting else ()
    early = (tables.early,) if tables.early else ()
    said = [("Before you begin", (*tables.changes, *early, *waiting)), ("Take care", CAUTION)]
    if any(part.heading == cards.PART for part in parts):
        said += [("Words on the cards", tables.card_words)]
    said += [("Spares", tables.spares_said)]
    # Last, as nobody at the bench can do anything about them.
    said += [("Remarks for the person who keeps the job's file", tuple(str(remark) for remark in tables.remarks))]
    at = y + 10.0 * len(rows) + 8.0
    made += _sentences(leaf, at, [(heading, texts) for heading, texts in said if texts], paper)
    page = len(made) + 1
    for part, _ in rows:
        count = len(part.leaves)
        numbers = f"page {page}" if count == 1 else f"pages {page} to {page + count - 1}"
        leaf.text(MARGIN, y, 36.0, 9.0, part.heading, 14.0, bold=True)
        leaf.text(MARGIN + 38.0, y, wide - 38.0 - 34.0, 9.0, part.says, 11.0)
        leaf.text(leaf.right - 32.0, y, 32.0, 9.0, numbers, 11.0, align="right")
        leaf.line(((MARGIN, y + 9.5), (leaf.right, y + 9.5)), 0.15)
        y += 10.0
        page += count
    return made


def _sentences(leaf: Leaf, y: float, said: Sequence[tuple[str, Sequence[str]]], paper: Paper) -> list[Leaf]:
    """Sentences under headings from ``y`` on; the further pages that they take."""
    more: list[Leaf] = []
    for heading, texts in said:
        for number, text in enumerate(texts):
            needed = fitted(text, leaf.right - MARGIN, 18.0, 10.5).height + (0.0 if number else 8.0)
            if y + needed > leaf.bottom:
                leaf, y = empty_leaf(paper, "contents"), MARGIN
                more.append(leaf)
            if not number:
                leaf.text(MARGIN, y, leaf.right - MARGIN, 7.0, heading, 13.0, bold=True)
                y += 8.0
            y += leaf.text(MARGIN, y, leaf.right - MARGIN, 18.0, text, 10.5, middle=False) + 1.5
        y += 4.0
    return more
