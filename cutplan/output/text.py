"""Headings, sentences and aligned columns on a terminal: no rules, no boxes, and never a number or a mark cut short.

On a terminal, lines fit its width and headings are bold; in a pipe every row is one line, without colour.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

_GAP = "  "
_LEAST = 10
"""Flexible columns are not squeezed below this, but for a shorter content."""


@dataclass(frozen=True, slots=True)
class TextColumn:
    """A heading; ``right``: numbers, set to the right; ``wraps``: words that may go on in a second line."""

    heading: str
    right: bool = False
    wraps: bool = False


def heading(console: Console, title: str, aside: str = "") -> None:
    """An empty line, then a bold heading; ``aside``: in brackets after it, or below it where there is no room."""
    line(console, "")
    if aside and len(title) + len(aside) + 4 > _width(console):
        say(console, title, style="bold")
        say(console, aside)
    else:
        text = Text(title, style="bold")
        if aside:
            text.append(f"   ({aside})", style="not bold")
        line(console, text)


def say(console: Console, text: str, *, style: str = "", hang: int = 0) -> None:
    """A sentence, its first line indented as it is, the others by ``hang``."""
    width, lead = _width(console), " " * (len(text) - len(text.lstrip()))
    first, *rest = _wrap(text, width - len(lead))
    line(console, lead + first.lstrip(), style)
    for more in _wrap(" ".join(rest), width - hang) if rest else ():
        line(console, " " * hang + more, style)


def table(
    console: Console,
    columns: Sequence[TextColumn],
    rows: Sequence[Sequence[str]],
    above: Mapping[int, str] | None = None,
) -> None:
    """Headings and rows, without columns that are empty in every row. ``above``: what to say above a row, by its
    number."""
    filled = [i for i in range(len(columns)) if not rows or any(row[i] for row in rows)]
    kept = [columns[i] for i in filled]
    cells = [[column.heading for column in kept], *([row[i] for i in filled] for row in rows)]
    widths = _widths(kept, cells, _width(console))
    for number, row in enumerate(cells, -1):
        if above and number in above:
            say(console, above[number], style="bold", hang=2)
        for text in _lines(kept, row, widths):
            line(console, text, "bold" if number < 0 else "")


def line(console: Console, text: str | Text, style: str = "") -> None:
    """``text`` in one line, however long it is."""
    text = Text(text, style=style) if isinstance(text, str) else text
    console.print(text, soft_wrap=True, highlight=False, markup=False, emoji=False)


def _width(console: Console) -> int:
    return console.width if console.is_terminal else sys.maxsize


def _widths(columns: Sequence[TextColumn], cells: Sequence[Sequence[str]], across: int) -> list[int]:
    """How wide each column is: those that may wrap share what the others leave of ``across`` characters. A word is
    never broken: where even that is too wide, lines are longer."""
    widths = [max(map(cell_len, column)) for column in zip(*cells, strict=True)]
    least = {
        i: min(widths[i], max(_LEAST, max(cell_len(word) for row in cells for word in (row[i].split() or [""]))))
        for i, column in enumerate(columns)
        if column.wraps
    }
    while sum(widths) + len(_GAP) * (len(widths) - 1) > across:
        widest = max((i for i in least if widths[i] > least[i]), key=lambda i: widths[i], default=None)
        if widest is None:
            break
        widths[widest] -= 1
    return widths


def _lines(columns: Sequence[TextColumn], row: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    """A row in lines; some letters take two characters of a terminal."""
    cells = (_wrap(text, width) for text, width in zip(row, widths, strict=True))
    for texts in zip_longest(*cells, fillvalue=""):
        aligned = []
        for text, width, column in zip(texts, widths, columns, strict=True):
            fill = " " * (width - cell_len(text))
            aligned.append(fill + text if column.right else text + fill)
        yield _GAP.join(aligned).rstrip()


def _wrap(text: str, width: int) -> list[str]:
    """``text`` in lines of at most ``width`` characters, broken at spaces only."""
    if cell_len(text) <= width:
        return [text]
    lines: list[str] = []
    for word in text.split():
        if lines and cell_len(lines[-1]) + 1 + cell_len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
