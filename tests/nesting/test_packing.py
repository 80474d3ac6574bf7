"""The front: what goes in, what comes out, at the edges."""

import os
import subprocess
import sys

import pytest

from cutplan.nesting import Packing, Piece, Progress, Spare, Status, Stock, pack, pack_most
from cutplan.nesting.check import complaints

JOB = "pack([Piece(1509, 4), Piece(822, 7), Piece(417, 9)], [Stock(6000, 49), Stock(3000, 28)], kerf=2)"


def test_nothing_to_cut_costs_nothing_and_leaves_the_rack_whole() -> None:
    """Guards the empty job, with and without bars on the rack."""
    assert pack([], [Stock(10, 5)]) == Packing(Status.PROVEN, (), 0, 0, pytest.approx(0, abs=9), 0)
    assert pack([Piece(4, 0)], [Stock(10, 0, 1, owned=True)]).longest == 10


@pytest.mark.parametrize("stocks", [[], [Stock(9, 1)], [Stock(12, 1, 0)], [Stock(12, 1, 1)]])
def test_what_cannot_be_served_is_impossible(stocks: list[Stock]) -> None:
    """Guards that IMPOSSIBLE is said where no bar is long enough, or too few are left."""
    packing = pack([Piece(10, 2)], stocks)
    assert packing.status is Status.IMPOSSIBLE
    assert packing.cost is None


def test_a_spare_can_be_what_makes_it_impossible() -> None:
    """Guards that spares count as fully as pieces."""
    assert pack([Piece(10, 1)], [Stock(20, 1, 1)], spare=Spare(10, 1)).proven
    assert pack([Piece(10, 1)], [Stock(20, 1, 1)], kerf=1, spare=Spare(10, 1)).status is Status.IMPOSSIBLE
    assert pack([Piece(10, 1)], [Stock(20, 1, 1)], spare=Spare(0, 3)).proven


def test_the_last_kerf_may_be_missing() -> None:
    """Guards the definition of what fits: three pieces of 10 and two kerfs fill a bar of 32 to the end."""
    packing = pack([Piece(10, 3)], [Stock(32, 1)], kerf=1)
    assert (packing.cost, packing.bars[0].rest) == (1, 0)
    assert pack([Piece(10, 3)], [Stock(31, 1)], kerf=1).cost == 2


@pytest.mark.parametrize(
    ("pieces", "stocks", "kerf", "words"),
    [
        ([Piece(0, 1)], [Stock(9, 1)], 0, "a piece needs a length above 0"),
        ([Piece(5, -1)], [Stock(9, 1)], 0, "a piece needs a length above 0"),
        ([Piece(5, 1)], [Stock(-9, 1)], 0, "a bar needs a length, price and count"),
        ([Piece(5, 1)], [Stock(9, -1)], 0, "a bar needs a length, price and count"),
        ([Piece(5, 1)], [Stock(9, 1)], -1, "the kerf must not be negative, not -1"),
    ],
)
def test_senseless_numbers_are_refused(pieces: list[Piece], stocks: list[Stock], kerf: int, words: str) -> None:
    """Guards that nonsense raises ValueError instead of a plan."""
    with pytest.raises(ValueError, match=words):
        pack(pieces, stocks, kerf=kerf)


def test_same_input_same_answer_in_another_process() -> None:
    """Guards against an order that hangs on hashing, or on how many cores there are."""
    answers = set()
    for seed in ("0", "1", "77"):
        job = JOB.replace("kerf=2", "kerf=2, spare=Spare(1509, 1)")
        code = f"from cutplan.nesting import *; print({job}.bars)"
        env = {**os.environ, "PYTHONHASHSEED": seed}
        answers.add(subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, check=True).stdout)
    assert len(answers) == 1
    assert b"PackedBar" in answers.pop()


def test_the_package_is_light_until_it_is_used() -> None:
    """Guards the start of the command: no solver is loaded by the import alone."""
    code = "import sys, cutplan.nesting; print('ortools' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "False"


def test_no_time_still_gives_a_checked_plan_and_its_gap() -> None:
    """Guards that a time limit is never called proven: a plan in hand, a bound, the gap in words."""
    pieces = [Piece(length, 3) for length in range(2501, 23_000, 517)]
    stocks = [Stock(60_000, 4_917), Stock(30_000, 2_803)]
    packing = pack(pieces, stocks, kerf=20, time_limit=0.0)
    assert packing.status is Status.FOUND
    assert packing.cost is not None
    assert packing.bound < packing.cost
    assert packing.gap.startswith("within ")
    assert packing.gap.endswith(" % of the best possible")
    assert complaints(packing, pieces, stocks, kerf=20) == []


def test_progress_is_reported() -> None:
    """Guards the callback: it hears a bound that no plan is below."""
    heard: list[Progress] = []
    packing = pack([Piece(7, 9), Piece(5, 4)], [Stock(20, 3)], progress=heard.append)
    assert heard
    assert all(news.bound <= packing.bound for news in heard)


def test_the_most_is_served_and_the_rest_named() -> None:
    """Guards the hand-computed case: of 60 60 50 40, bars of 100 and 60 take 60 + 40 and 60."""
    packing, left = pack_most([Piece(60, 2), Piece(50, 1), Piece(40, 1)], [Stock(100, 0, 1), Stock(60, 0, 1)])
    assert packing.proven
    assert left == (0, 1, 0)


def test_shared_cuts_are_shown_on_the_bar() -> None:
    """Guards a hand-computed case: 2 x 50 with one facing pair that saves 4 fit a bar of 96."""
    pieces = [Piece(50, 2, (0, 3))]
    packing = pack(pieces, [Stock(96, 1)], joints={3: 4})
    assert packing.cost == 1
    assert packing.bars[0].shared == (False, True)
    assert sorted(packing.bars[0].flipped) == [False, True]
    assert pack(pieces, [Stock(95, 1)], joints={3: 4}).cost == 2
    assert pack(pieces, [Stock(96, 1)]).cost == 2


def test_the_longest_piece_left_comes_before_few_bars() -> None:
    """Guards the order of the objectives: three short owned bars are opened to keep the long one whole."""
    stocks = [Stock(100, 0, 1, owned=True), Stock(30, 0, 3, owned=True)]
    packing = pack([Piece(30, 3)], stocks)
    assert packing.longest == 100
    assert len(packing.bars) == 3
