"""The text of an order: for several shops one below the other, each whole by itself and with nothing of another's."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from pdf_back import read_page
from pypdf import PdfReader

from cutplan import read_job
from cutplan.output.order_text import order_text
from cutplan.output.pack import write_pack
from cutplan.plan.model import Purchase, ShopOrder
from cutplan.plan.tables import Tables
from cutplan.plan.tables.order import Order, bought

GATE = Path(__file__).parents[2] / "examples" / "yard-gate"
WIDE = Purchase("42.4x2.6", Fraction(6000), 2, Decimal("39.80"), Decimal("79.60"), "Canal Yard")
THIN = Purchase("26.9x2.3", Fraction(3000), 1, Decimal("13.90"), Decimal("13.90"), "Hill Stores")
ORDERS = (
    ShopOrder("Canal Yard", Decimal("79.60"), Decimal(0), Decimal(24)),
    ShopOrder("Hill Stores", Decimal("13.90"), Decimal("36.10"), Decimal(0), carried=True),
)


@pytest.fixture(scope="module")
def order() -> Order:
    """Two bars from one shop, one from another."""
    return bought(read_job(GATE).job, (WIDE, THIN), ORDERS, "Cost: 153.60 EUR.")


def test_each_shop_has_a_text_of_its_own(order):
    """Cut where the line is, each text begins with the job and its shop, weighs and costs what it asks for, and names
    no other shop, no tube of it and no sum of both."""
    texts = order_text("Gate", order, prices=True).split(f"\n{'-' * 60}\n\n")
    assert len(texts) == 2
    for text, mine, other, mass in (
        (texts[0], ("Canal Yard", "42.4x2.6", "24.00 EUR"), ("Hill Stores", "26.9x2.3", "13.90"), "30.6 kg"),
        (texts[1], ("Hill Stores", "26.9x2.3", "36.10 EUR"), ("Canal Yard", "42.4x2.6", "39.80"), "4.2 kg"),
    ):
        assert text.startswith(f"Round tube for: Gate\n\nFrom {mine[0]}, to be ")
        assert all(one in text for one in mine)
        # By hand: 12 m at 2.552 kg/m, 3 m at 1.395 kg/m.
        assert f"All together {mass}." in text
        assert not any(one in text for one in (*other, "153.60"))
    assert "EUR" not in order_text("Gate", order)


def test_each_shop_has_a_page_of_its_own(order, tmp_path):
    """The same on paper."""

    class Shown(Tables):
        """A plan's tables with that order."""

        @property
        def order(self) -> Order:
            return order

    from cutplan import make_plan

    write_pack(Shown(make_plan(read_job(GATE))), tmp_path / "pack.pdf", parts=("order",))
    _, *pages = (read_page(page)[1] for page in PdfReader(tmp_path / "pack.pdf").pages)
    texts = [" ".join(word.text for word in page) for page in pages]
    assert len(texts) == 2
    for text, mine, other in zip(texts, ("Canal Yard", "Hill Stores"), ("Hill Stores", "Canal Yard"), strict=True):
        assert mine in text
        assert other not in text
