"""The bin-packing instances of E. Falkenauer, Journal of Heuristics 2 (1996) 5-30, from the OR-Library."""

import os
from pathlib import Path

import pytest

from cutplan.nesting import Piece, Stock, pack
from cutplan.nesting.check import complaints

FOLDER = os.environ.get("CUTPLAN_LITERATURE", "")


def test_a_spread_of_the_instances_is_proven_at_its_optimum() -> None:
    """Guards strength on a published set: every ninth instance, at the proven optimum that is printed with it.
    The whole set is run by benchmarks/nesting_literature.py."""
    if not FOLDER:
        pytest.skip("CUTPLAN_LITERATURE does not name the folder of the published instances")
    lines = (Path(FOLDER) / "falkenauer.txt").read_text(encoding="utf-8").splitlines()
    instances = [line.split() for line in lines if line.strip() and not line.startswith("#")]
    assert len(instances) == 80
    for name, optimum, capacity, *words in instances[::9]:
        pieces = [Piece(*map(int, word.split("x"))) for word in words]
        stocks = [Stock(int(capacity), 1)]
        packing = pack(pieces, stocks, second_aims=False)
        assert packing.proven, name
        assert packing.cost == int(optimum), name
        assert complaints(packing, pieces, stocks) == [], name
