"""The nodes of a job on the terminal: where each is and with which ±, and each reading against the others."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from cutplan.job.model import Settings
from cutplan.output.columns import TextColumn, lay_out
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
    _heading(f"Nodes: {settings.name}   (in {unit})", console)
    _table([*columns, TextColumn("tubes at it", wraps=True)], rows, console)
    if not readings:
        return
    _heading(f"Readings   (in {unit})", console)
    headings = ("read", "±", "calculated", "miss", "the others say", "± of that")
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
    _table(
        [
            TextColumn("between"),
            *(TextColumn(heading, right=True) for heading in headings),
            TextColumn("note", wraps=True),
        ],
        lines,
        console,
    )
    console.print(Text(needed), soft_wrap=True, highlight=False)


def _mm(value: float, settings: Settings) -> str:
    """To a tenth of a millimetre, or a hundredth of an inch."""
    in_units = value / float(settings.units.mm)
    text = f"{in_units:.1f}" if settings.units.mm == 1 else f"{in_units:.2f}"
    return text.removeprefix("-") if not float(text) else text


def _doubt(value: float | None, settings: Settings) -> str:
    if value is None:
        return "open"
    return _mm(value, settings) if value else ""


def _heading(title: str, console: Console) -> None:
    console.print(Text("\n" + title, style="bold"), soft_wrap=True, highlight=False)


def _table(columns: Sequence[TextColumn], rows: Sequence[Sequence[str]], console: Console) -> None:
    shown = [i for i in range(len(columns)) if any(row[i] for row in rows)]
    width = console.width if console.is_terminal else None
    heading, *body = lay_out([columns[i] for i in shown], [[row[i] for i in shown] for row in rows], width)
    for number, lines in enumerate((heading, *body)):
        for line in lines:
            console.print(Text(line, style="" if number else "bold"), soft_wrap=True, highlight=False)
