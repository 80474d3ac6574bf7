"""Published and recomputed cases of cutting stock, each with its source; all must be proven at their optimum.

Where a bound misleads, the true optimum lies above the rounded-up linear bound, and a search that takes the
rounded bound for the optimum is wrong.
"""

from collections.abc import Sequence
from fractions import Fraction

import pytest

from cutplan.nesting import Piece, Stock, pack
from cutplan.nesting.check import complaints


def pieces_of(text: str, unit: str = "1") -> list[Piece]:
    """Pieces from "LENGTHxCOUNT LENGTH ...", lengths in parts of ``unit``."""
    made = []
    for word in text.split():
        length, _, count = word.partition("x")
        whole = Fraction(length) / Fraction(unit)
        assert whole.denominator == 1
        made.append(Piece(int(whole), int(count or 1)))
    return made


def proven_cost(pieces: Sequence[Piece], stocks: Sequence[Stock], kerf: int = 0) -> int | None:
    """The cost, after the judge has passed the plan and its proof."""
    packing = pack(pieces, stocks, kerf=kerf)
    assert complaints(packing, pieces, stocks, kerf=kerf) == []
    assert packing.proven
    return packing.cost


GILMORE_GOMORY = "2x20 3x10 4x20"


def test_three_priced_stocks() -> None:
    """Gilmore & Gomory (1961), as printed in an open optimisation notebook: cost 170."""
    stocks = [Stock(5, 6), Stock(6, 7), Stock(9, 10)]
    assert proven_cost(pieces_of(GILMORE_GOMORY), stocks) == 170


def test_price_by_length() -> None:
    """The same with price equal to length; recomputed: 150."""
    assert proven_cost(pieces_of(GILMORE_GOMORY), [Stock(5, 5), Stock(6, 6), Stock(9, 9)]) == 150


def test_eleven_priced_stocks_with_kerf() -> None:
    """Open optimisation notebook on cutting lumber (inches, kerf 1/4): 32.28; the 32.44 it prints is not
    optimal."""
    prices = {36: 168, 48: 186, 72: 257, 84: 265, 96: 292, 120: 367, 144: 440, 168: 514, 192: 692, 216: 862, 240: 1040}
    # The source counts a kerf for every part: a bar of S holds parts with sum (l + kerf) <= S.
    stocks = [Stock(4 * length - 1, price) for length, price in prices.items()]
    pieces = pieces_of("70.5x3 25.5x10 12.5x1 72x6 70.75x1 28.5x1", "1/4")
    assert proven_cost(pieces, stocks, 1) == 3228


def test_limited_stock_without_waste() -> None:
    """University course notebook: three bars of 15 and three of 10 in hand, of which 60 are needed."""
    assert proven_cost(pieces_of("7x3 6x2 4x6 3x1"), [Stock(15, 15, 3), Stock(10, 10, 3)]) == 60


PAPER = "1380x22 1520x25 1560x12 1710x14 1820x18 1880x18 1930x20 2000x10 2050x12 2100x14 2140x16 2150x18 2200x20"
SIXTEEN = (
    "75x189 53.8x33 53x36 51x41 50.2x35 32.2x37 30.8x44 29.8x49 20.1x37 16.2x36 14.5x42 11x33 8.6x47 8.2x35 "
    "6.6x49 5.1x42"
)
RIETZ_1500 = (
    "1214x2 1210x2 1208x2 910x2 906x2 904x2 774x2 770x2 768x2 504x2 503x3 500x5 498x3 494x2 368 366x3 365x3 364 "
    "363x3 362 300x5 298x3 297x3 296 295x3 294 148 146x3 145x3 144 143x3 142"
)
TWENTY = "697 679 667 643 569 520 496 492 484 442 368 351 339 335 332 331 310 213 197 190"


@pytest.mark.parametrize(
    ("capacity", "text", "best"),
    [
        pytest.param("100", "45x97 36x610 31x395 14x211", 453, id="Chvatal (1983) ch. 13"),
        pytest.param("110", "20x48 45x35 50x24 55x10 75x8", 47, id="Fourer, Gay & Kernighan, AMPL, cut.dat"),
        pytest.param("5600", PAPER, 73, id="Wikipedia, Cutting stock problem"),
        pytest.param("100", SIXTEEN, 334, id="column-generation tutorial of an open modelling language"),
        pytest.param("30", "15x3 10x5 6x9", 6, id="after Fieldhouse; bound 4.967"),
        pytest.param("10000", "5000 3750 3250 3001 2000x2", 3, id="Gau & Waescher; bound 1.933, proper 2.2"),
        pytest.param("387", "177x3 145x2 133x2 130 129x5 127x2 121x2 113 105 97", 8, id="Rietz; proper 7.007"),
        pytest.param("160", "65 65 63 54 47 46 34x3 12 10 8 6", 4, id="augmented non-round-up class; proper 3.0"),
        pytest.param("1000", TWENTY, 10, id="published non-round-up set; proper 9.0"),
        pytest.param("1500", RIETZ_1500, 25, id="Rietz; proper 23.8"),
        pytest.param("45", "27x3 23x3 15x6 11x6 9x10", 9, id="Rietz, a control; bound 8.8"),
    ],
)
def test_one_stock(capacity: str, text: str, best: int) -> None:
    """Guards the number of bars, proven, on each published case of one stock length."""
    unit = "1/10" if "." in text else "1"
    assert proven_cost(pieces_of(text, unit), [Stock(int(Fraction(capacity) / Fraction(unit)), 1)]) == best


@pytest.mark.parametrize(
    ("capacity", "text", "bound"),
    [
        pytest.param("100", "45x97 36x610 31x395 14x211", "452.25", id="Chvatal"),
        pytest.param("110", "20x48 45x35 50x24 55x10 75x8", "46.25", id="AMPL"),
        pytest.param("10000", "5000 3750 3250 3001 2000x2", "2.2", id="Gau & Waescher, proper"),
        pytest.param("1500", RIETZ_1500, "23.8", id="Rietz, proper"),
    ],
)
def test_the_linear_bound_is_the_published_one_and_never_above_it(capacity: str, text: str, bound: str) -> None:
    """Guards the safety of the bound: exact arithmetic may fall a hair short of it, never pass it."""
    packing = pack(pieces_of(text), [Stock(int(capacity), 1)], time_limit=0.5)
    assert packing.lp_bound is not None
    assert Fraction(bound) - Fraction(1, 10**6) <= packing.lp_bound <= Fraction(bound)
