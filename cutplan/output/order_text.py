"""The order as plain text, to be mailed to a shop: the same figures as on the order of the printed pack."""

from __future__ import annotations

from collections.abc import Iterator

from rich.cells import cell_len

from cutplan.plan.tables.order import Order, OrderLine


def order_text(name: str, order: Order, *, prices: bool = False) -> str:
    """The text for the job called ``name``; ``prices``: with what each bar costs, and all together."""
    return "\n".join([f"Round tube for: {name}", "", *_lines(order, prices), ""])


def _lines(order: Order, prices: bool) -> Iterator[str]:
    if not order.rows:
        yield "Nothing to buy: the tube you have is enough."
        return
    before = ""
    for row in order.rows:
        if row.shop != before:
            yield ", ".join(filter(None, (f"From {row.shop or 'any shop'}", row.how)))
            yield ""
        before = row.shop
        yield f"{row.tube}: {row.asked}"
        cells = [_cells(line, prices) for line in row.lines]
        wide = [max(cell_len(line[number]) for line in cells) for number in range(len(cells[0]))]
        for first, *more in cells:
            texts = [first + " " * (wide[0] - cell_len(first))]
            texts += [" " * (room - cell_len(text)) + text for text, room in zip(more, wide[1:], strict=True)]
            yield f"  {'   '.join(texts)}"
        yield ""
    yield f"All together {order.mass}."
    if prices:
        yield order.cost


def _cells(line: OrderLine, prices: bool) -> tuple[str, ...]:
    return (line.bars, line.mass, f"{line.price} each", line.cost) if prices else (line.bars, line.mass)
