"""Where a job stands, in the terminal: bold headings, and lines that go on under themselves where they are too long."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.text import Text

from cutplan.output.columns import wrap

_STEP = "  "


def show_standing(title: str, blocks: Iterable[tuple[str, Sequence[str]]], console: Console) -> None:
    """``blocks``: headings, each with its lines."""
    _print(title, console, bold=True)
    for heading, lines in blocks:
        _print("", console)
        _print(heading, console, bold=True)
        for line in lines:
            lead = _STEP + " " * (len(line) - len(line.lstrip()))
            room = max(console.width - len(lead + _STEP), 1) if console.is_terminal else None
            first, *rest = wrap(line.lstrip(), room)
            _print(lead + first, console)
            for more in rest:
                _print(lead + _STEP + more, console)


def _print(line: str, console: Console, *, bold: bool = False) -> None:
    console.print(Text(line, style="bold" if bold else ""), soft_wrap=True, highlight=False, markup=False, emoji=False)
