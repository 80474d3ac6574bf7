"""Plain aligned columns for a terminal: no rules, no boxes, and never a number or a mark cut short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len

GAP = "  "
_LEAST = 10
"""Flexible columns are not squeezed below this, but for a shorter content."""


@dataclass(frozen=True, slots=True)
class TextColumn:
    """A heading; ``right``: numbers, set to the right; ``wraps``: words that may go on in a second line."""

    heading: str
    right: bool = False
    wraps: bool = False


def lay_out(columns: Sequence[TextColumn], rows: Sequence[Sequence[str]], width: int | None) -> list[list[str]]:
    """Headings and rows as lines of text, a list of lines for the headings and for each row.

    ``width``: characters across; columns that may wrap share what the others leave. None: nothing wraps, a row is a
    line (for pipes). A word is never broken: where even that is too wide, lines are longer than ``width``.
    """
    table = [[column.heading for column in columns], *rows]
    widths = [max(cell_len(row[i]) for row in table) for i in range(len(columns))]
    if width is not None:
        _squeeze(columns, table, widths, width)
    return [_lines(columns, row, widths) for row in table]


def _squeeze(columns: Sequence[TextColumn], table: Sequence[Sequence[str]], widths: list[int], width: int) -> None:
    least = {
        i: min(widths[i], max(_LEAST, max(cell_len(word) for row in table for word in (row[i].split() or [""]))))
        for i, column in enumerate(columns)
        if column.wraps
    }
    while sum(widths) + len(GAP) * (len(widths) - 1) > width:
        widest = max((i for i in least if widths[i] > least[i]), key=lambda i: widths[i], default=None)
        if widest is None:
            return
        widths[widest] -= 1


def _lines(columns: Sequence[TextColumn], row: Sequence[str], widths: Sequence[int]) -> list[str]:
    cells = [wrap(text, width) for text, width in zip(row, widths, strict=True)]
    lines = []
    for i in range(max(len(cell) for cell in cells)):
        texts = [cell[i] if i < len(cell) else "" for cell in cells]
        aligned = [
            _pad(text, width, right=column.right) for text, width, column in zip(texts, widths, columns, strict=True)
        ]
        lines.append(GAP.join(aligned).rstrip())
    return lines


def _pad(text: str, width: int, *, right: bool) -> str:
    """``text`` filled up to ``width`` columns of the terminal: some letters take two."""
    fill = " " * (width - cell_len(text))
    return fill + text if right else text + fill


def wrap(text: str, width: int | None) -> list[str]:
    """``text`` in lines of at most ``width`` characters, broken at spaces only."""
    if width is None or cell_len(text) <= width:
        return [text]
    lines: list[str] = []
    for word in text.split():
        if lines and cell_len(lines[-1]) + 1 + cell_len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
