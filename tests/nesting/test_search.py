"""The search where only a plan of less cost is asked for: it ends with the first, and not before there is one."""

from __future__ import annotations

from collections import Counter
from random import Random

from cutplan.nesting import Piece, Stock
from cutplan.nesting.clock import Clock
from cutplan.nesting.instance import make
from cutplan.nesting.search import Search


def search_below(below: int) -> Search:
    """162 pieces, three of which fill one of 54 bars of 1000 to its end; searched for a plan of fewer than ``below``
    bars."""
    draw = Random(1)
    lengths: Counter[int] = Counter()
    for _ in range(54):
        one = draw.randint(260, 480)
        two = draw.randint(260, max(260, 750 - one))
        lengths.update((one, two, 1000 - one - two))
    pieces = [Piece(length, count) for length, count in lengths.items()]
    search = Search(make(pieces, [Stock(1000, 1)], 0, None, None), Clock(60), below=below)
    search.run()
    return search


def test_any_plan_of_less_cost_ends_the_search() -> None:
    """With bars to spare one is found by filling bars to their ends: no linear program is begun for a better one."""
    search = search_below(60)
    assert search.plan is not None
    assert 54 <= search.cost < 60
    assert search.lp_bound is None


def test_where_filling_bars_finds_none_the_search_goes_on() -> None:
    """The one plan of 54 bars has no room at all, and is found all the same; of fewer there is none, and that is
    known."""
    search = search_below(55)
    assert search.plan is not None
    assert (search.cost, search.bound) == (54, 54)
    filled = Counter(item for _, counts in search.plan for item, count in counts for _ in range(count))
    assert tuple(filled[item] for item in range(len(search.instance.demand))) == search.instance.demand
    fewer = search_below(54)
    assert (fewer.plan, fewer.bound) == (None, 54)
