"""The nodes of a job on the terminal: where each is and with which ±, and each reading against the others."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from cutplan.job.model import Settings
from cutplan.output.text import TextColumn, heading, say, table
from cutplan.plan import wording
from cutplan.plan.tables.nodes import NodeRow, ReadingRow


def show_nodes(
    settings: Settings, nodes: Sequence[NodeRow], readings: Sequence[ReadingRow], needed: str, console: Console
) -> None:
    """Nodes, then readings where there are any."""
    unit = wording.unit_name(settings)
    columns = [TextColumn("node")]
    for axis in "xyz":
        columns += [TextColumn(axis, right=True), TextColumn("±", right=True)]
    rows = [
        (
            row.name,
            *(
                text
                for value, doubt in ((row.x, row.x_doubt), (row.y, row.y_doubt), (row.z, row.z_doubt))
                for text in (_mm(value, settings), _doubt(doubt, settings))
            ),
            row.meeting,
        )
        for row in nodes
    ]
    heading(console, f"Nodes: {settings.name}", f"in {unit}")
    table(console, [*columns, TextColumn("tubes at it", wraps=True)], rows)
    if not readings:
        return
    heading(console, "Readings", f"in {unit}")
    figures = ("read", "±", "calculated", "miss", "the others say", "± of that")
    columns = [TextColumn("between"), *(TextColumn(name, right=True) for name in figures)]
    lines = [
        (
            row.between,
            _mm(row.read, settings),
            _doubt(row.doubt, settings),
            _mm(row.calculated, settings),
            _mm(row.miss, settings),
            "" if row.others is None else _mm(row.others, settings),
            "" if row.others is None else _doubt(row.others_doubt, settings),
            row.note,
        )
        for row in readings
    ]
    table(console, [*columns, TextColumn("note", wraps=True)], lines)
    say(console, needed)


def _mm(value: float, settings: Settings) -> str:
    """To a tenth of a millimetre, or a hundredth of an inch."""
    in_units = value / float(settings.units.mm)
    text = f"{in_units:.1f}" if settings.units.mm == 1 else f"{in_units:.2f}"
    return text.removeprefix("-") if not float(text) else text


def _doubt(value: float | None, settings: Settings) -> str:
    if value is None:
        return "open"
    return _mm(value, settings) if value else ""
