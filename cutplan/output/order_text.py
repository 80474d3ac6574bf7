"""The order as plain text, to be mailed to a shop: the same figures as on the order of the printed pack."""

from __future__ import annotations

from collections.abc import Iterator

from rich.cells import cell_len

from cutplan.plan.tables.order import Order, OrderLine, OrderPart


def order_text(name: str, order: Order, *, prices: bool = False) -> str:
    """The text for the job called ``name``, one below the other where there are several shops, each whole by itself;
    ``prices``: with what each bar costs, and all together."""
    if not order.parts:
        return f"Round tube for: {name}\n\nNothing to buy: the tube you have is enough.\n"
    alone = len(order.parts) == 1
    texts = (
        "\n".join([f"Round tube for: {name}", "", *_lines(order, part, prices, alone), ""]) for part in order.parts
    )
    return f"\n{_CUT_HERE}\n\n".join(texts)


_CUT_HERE = "-" * 60
"""Between the texts for two shops."""


def _lines(order: Order, part: OrderPart, prices: bool, alone: bool) -> Iterator[str]:
    if part.heading:
        yield part.heading
        yield ""
    for row in part.rows:
        yield f"{row.tube}: {row.asked}"
        cells = [_cells(line, prices) for line in row.lines]
        wide = [max(cell_len(line[number]) for line in cells) for number in range(len(cells[0]))]
        for line, (first, *more) in zip(row.lines, cells, strict=True):
            texts = [first + " " * (wide[0] - cell_len(first))]
            texts += [" " * (room - cell_len(text)) + text for text, room in zip(more, wide[1:], strict=True)]
            yield f"  {'   '.join(texts)}"
            if line.cut:
                yield f"    {line.cut}"
        yield ""
    yield f"All together {part.mass}."
    if prices:
        yield order.cost if alone else part.cost


def _cells(line: OrderLine, prices: bool) -> tuple[str, ...]:
    return (line.bars, line.mass, f"{line.price} each", line.cost) if prices else (line.bars, line.mass)
