"""The order of the printed pack: what to ask for, tube by tube, to be handed over the counter."""

from __future__ import annotations

from cutplan.output.pack.leaf import MARGIN, Leaf, pages
from cutplan.output.wraps import Paper
from cutplan.plan.tables import Tables
from cutplan.plan.tables.order import OrderLine, OrderRow

PART = "Order"
_ROW = 9.0
_TUBE = 13.0


def leaves(tables: Tables, paper: Paper, *, prices: bool) -> list[Leaf]:
    """Its pages; ``prices``: with what each bar costs, and all together."""
    leaf = pages(paper, PART)
    made = [leaf]
    wide = leaf.right - MARGIN
    leaf.text(MARGIN, MARGIN, wide, 10.0, f"{PART}: {tables.settings.name}", 18.0, bold=True)
    y = MARGIN + 14.0
    order = tables.order
    for row in order.rows:
        if y + _TUBE + _ROW * len(row.lines) > leaf.bottom and y > MARGIN + 14.0:
            leaf, y = pages(paper, PART), MARGIN
            made.append(leaf)
        y = _tube(leaf, y, row)
        for line in row.lines:
            if y + _ROW > leaf.bottom:
                leaf, y = pages(paper, PART), MARGIN
                made.append(leaf)
            y = _line(leaf, y, line, prices=prices)
        y += 4.0
    said = [f"All together {order.mass}."] if order.rows else ["Nothing to buy: the tube you have is enough."]
    said += [*(row.asks for row in tables.orders), order.cost] if prices and order.rows else []
    said += ["Tube you already have:", *order.in_hand] if order.in_hand else []
    for text in said:
        if y + _ROW > leaf.bottom:
            leaf, y = pages(paper, PART), MARGIN
            made.append(leaf)
        y += max(leaf.text(MARGIN, y, wide, 20.0, text, 11.0, bold=text is said[0], middle=False) + 1.5, 6.0)
    return made


def _tube(leaf: Leaf, y: float, row: OrderRow) -> float:
    wide = leaf.right - MARGIN
    leaf.text(MARGIN, y, wide * 0.42, _TUBE - 3.0, row.tube, 15.0, bold=True)
    asked = ", ".join(filter(None, (row.asked, row.shop and f"from {row.shop}", row.how)))
    leaf.text(MARGIN + wide * 0.44, y, wide * 0.56, _TUBE - 3.0, asked, 13.0)
    leaf.line(((MARGIN, y + _TUBE - 2.0), (leaf.right, y + _TUBE - 2.0)), 0.5)
    return y + _TUBE - 2.0


def _line(leaf: Leaf, y: float, line: OrderLine, *, prices: bool) -> float:
    wide = leaf.right - MARGIN
    leaf.tick(MARGIN, y + 2.0, 5.0)
    leaf.text(MARGIN + 8.0, y, wide * 0.4, _ROW, line.bars, 14.0, bold=True)
    leaf.text(MARGIN + wide * 0.46, y, wide * 0.16, _ROW, line.mass, 11.0, align="right")
    if prices:
        leaf.text(MARGIN + wide * 0.63, y, wide * 0.18, _ROW, f"{line.price} each", 10.0, align="right")
        leaf.text(MARGIN + wide * 0.82, y, wide * 0.18, _ROW, line.cost, 11.0, align="right")
    leaf.line(((MARGIN, y + _ROW), (leaf.right, y + _ROW)), 0.15)
    return y + _ROW
