"""The judge of packings must see every kind of fault."""

from dataclasses import replace

import pytest

from cutplan.nesting import PackedBar, Packing, Piece, Spare, Status, Stock
from cutplan.nesting.check import complaints

PIECES = [Piece(40, 2, (1, 0)), Piece(30, 1)]
STOCKS = [Stock(100, 9, 2), Stock(80, 0, 1, owned=True)]
SPARE = Spare(20, 1)
GOOD = Packing(
    Status.PROVEN,
    (PackedBar(0, (0, 0), 1, 22, (True, False), (False, False)), PackedBar(1, (1,), 0, 49)),
    9,
    9,
    longest=49,
)
KERF = 1


def with_bars(*bars: PackedBar) -> Packing:
    """The good packing with other bars."""
    return replace(GOOD, bars=bars)


FIRST, SECOND = replace(GOOD.bars[0], rest=18), GOOD.bars[1]


def judged(packing: Packing) -> str:
    """All complaints as one text."""
    return "; ".join(complaints(packing, PIECES, STOCKS, kerf=KERF, spare=Spare(17, 1)))


def test_a_good_packing_passes() -> None:
    """Guards against a judge that complains of everything."""
    assert judged(with_bars(FIRST, SECOND)) == ""


@pytest.mark.parametrize(
    ("packing", "words"),
    [
        (with_bars(FIRST), "piece 1 is cut 0 times, wanted 1 times"),
        (with_bars(replace(FIRST, spares=2), SECOND), "bar 1 holds more than its length 100"),
        (with_bars(replace(FIRST, spares=0), SECOND), "0 spares are kept, wanted 1"),
        (with_bars(replace(FIRST, rest=19), SECOND), "bar 1 has 18 left, not 19"),
        (with_bars(FIRST, SECOND, PackedBar(1, (), 0, 80)), "bar 3 is opened but holds nothing"),
        (with_bars(FIRST, SECOND, PackedBar(1, (), 0, 80)), "2 bars of stock 1 are opened; there are 1"),
        (with_bars(FIRST, replace(SECOND, stock=7)), "is of stock 7, which does not exist"),
        (replace(with_bars(FIRST, SECOND), cost=8, bound=8), "the bars cost 9, not 8"),
        (replace(with_bars(FIRST, SECOND), longest=50), "the longest piece left is 49, not 50"),
        (replace(with_bars(FIRST, SECOND), bound=8), "a bound of 8 does not go with a cost of 9"),
        (with_bars(replace(FIRST, shared=(False, True)), SECOND), "piece 2 cannot share the cut before it"),
        (with_bars(replace(FIRST, shared=(True,)), SECOND), "it does not say which way round each piece is"),
        (replace(GOOD, cost=None), "there are bars but no cost"),
    ],
)
def test_a_fault_is_named(packing: Packing, words: str) -> None:
    """Guards each complaint in turn."""
    assert words in judged(packing)
