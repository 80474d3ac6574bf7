"""The order of the printed pack: what to ask for, tube by tube, to be handed over the counter."""

from __future__ import annotations

from cutplan.output.pack.leaf import MARGIN, Leaf, empty_leaf
from cutplan.output.pdf import Paper
from cutplan.plan.tables import Tables
from cutplan.plan.tables.order import OrderLine, OrderRow

PART = "Order"
_ROW = 9.0
_TUBE = 13.0
_CUT = 7.0


def leaves(tables: Tables, paper: Paper, *, prices: bool) -> list[Leaf]:
    """Its pages, each shop's from a new one on; ``prices``: with what each bar costs, and all together."""
    order = tables.order
    page = _Page(paper, f"{PART}: {tables.settings.name}")
    for part in order.parts:
        page.begin(part.heading)
        for row in part.rows:
            page.keep(_TUBE + _ROW * len(row.lines))
            page.y = _tube(page.leaf, page.y, row)
            for line in row.lines:
                page.keep(_ROW + _CUT * bool(line.cut))
                page.y = _line(page.leaf, page.y, line, prices=prices)
            page.y += 4.0
        page.say(f"All together {part.mass}.", bold=True)
        if prices and len(order.parts) > 1:
            page.say(part.cost)
    if not order.parts:
        page.begin("")
        page.say("Nothing to buy: the tube you have is enough.", bold=True)
    elif prices:
        asked = [row.asks for row in tables.orders] if len(order.parts) == 1 else [""]
        for text in (*asked, order.cost):
            page.say(text)
    if order.in_hand:
        page.y += 4.0
        for text in ("Tube you already have:", *order.in_hand):
            page.say(text)
    return page.made


class _Page:
    """The page that is being filled, and those before it."""

    def __init__(self, paper: Paper, title: str) -> None:
        self.paper, self.title, self.y = paper, title, 0.0
        self.made: list[Leaf] = []

    @property
    def leaf(self) -> Leaf:
        return self.made[-1]

    def begin(self, heading: str) -> None:
        """A new page with the title, and ``heading`` below it where there is one."""
        self.made.append(empty_leaf(self.paper, PART))
        wide = self.leaf.right - MARGIN
        self.leaf.text(MARGIN, MARGIN, wide, 10.0, self.title, 18.0, bold=True)
        self.y = MARGIN + 14.0
        if heading:
            self.leaf.text(MARGIN, self.y - 3.0, wide, 7.0, heading, 14.0)
            self.y += 7.0

    def keep(self, height: float) -> None:
        """Go on to a new page where ``height`` mm do not go on this one."""
        if self.y + height > self.leaf.bottom and self.y > MARGIN + 14.0:
            self.made.append(empty_leaf(self.paper, PART))
            self.y = MARGIN

    def say(self, text: str, *, bold: bool = False) -> None:
        """A paragraph."""
        if text:
            self.keep(_ROW)
            wide = self.leaf.right - MARGIN
            self.y += max(self.leaf.text(MARGIN, self.y, wide, 20.0, text, 11.0, bold=bold, middle=False) + 1.5, 6.0)


def _tube(leaf: Leaf, y: float, row: OrderRow) -> float:
    wide = leaf.right - MARGIN
    leaf.text(MARGIN, y, wide * 0.42, _TUBE - 3.0, row.tube, 15.0, bold=True)
    leaf.text(MARGIN + wide * 0.44, y, wide * 0.56, _TUBE - 3.0, row.asked, 13.0)
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
    y += _ROW
    if line.cut:
        leaf.text(MARGIN + 8.0, y, wide - 8.0, _CUT, line.cut, 12.0)
        y += _CUT
    leaf.line(((MARGIN, y), (leaf.right, y)), 0.15)
    return y
