"""What can be cut from too little stock, against a judge that assigns piece by piece."""

import pytest
from shortage_judge import Short, most_served, short_job

from cutplan.nesting import Piece, Spare, Status, Stock, pack_most
from cutplan.nesting.check import complaints
from cutplan.nesting.clock import Clock
from cutplan.nesting.instance import make
from cutplan.nesting.knapsack import Table, whole_values


def judged(job: Short, seconds: float) -> bool:
    """Hold one answer against the judge; whether both are certain of theirs."""
    packing, left = pack_most(job.pieces, job.stocks, kerf=job.kerf, spare=job.spare, time_limit=20)
    truth = most_served(job, seconds)
    if truth is None:
        assert packing.status is Status.IMPOSSIBLE
        return True
    assert packing.status in (Status.PROVEN, Status.FOUND)
    assert complaints(packing, job.pieces, job.stocks, kerf=job.kerf, spare=job.spare, left_out=left) == []
    served = [piece.count - n for piece, n in zip(job.pieces, left, strict=True)]
    ours = (sum(n * piece.length for n, piece in zip(served, job.pieces, strict=True)), sum(served))
    *best, certain = truth
    if packing.proven:
        assert ours >= tuple(best)
    if certain:
        assert ours <= tuple(best)
    return packing.proven and certain


@pytest.mark.parametrize("batch", range(4))
def test_small_jobs_short_of_stock(batch: int) -> None:
    """Guards length and count of what is left out, on 40 jobs of 5 to 14 pieces, some with spares. More by
    tests/benchmarks/shortage_versus_model.py."""
    settled = [judged(short_job(seed, 5, 14), 5) for seed in range(30 * batch, 30 * batch + 10)]
    assert sum(settled) >= 9


def test_larger_jobs_short_of_stock() -> None:
    """Guards the same on 9 jobs of 15 to 100 pieces; the judge is not always certain of those. More by
    tests/benchmarks/shortage_versus_model.py."""
    settled = [judged(short_job(seed, 15, 100), 0.05) for seed in range(1000, 1009)]
    assert sum(settled) >= 3


@pytest.mark.parametrize(("count", "served"), [(12, 11), (18, 11), (40, 11), (5000, 11)])
def test_one_bar_for_many_of_a_kind(count: int, served: int) -> None:
    """Guards the simplest shortage of all: 11 of 500 and their kerfs of 2 go into 6000, however many are wanted."""
    packing, left = pack_most([Piece(5000, count)], [Stock(60_000, 0, 1)], kerf=20)
    assert packing.proven
    assert left == (count - served,)


def test_as_long_and_fewer_left_out() -> None:
    """Guards the second aim: 100 of 50 + 50 + 100 are served by two pieces rather than one."""
    packing, left = pack_most([Piece(50, 2), Piece(100, 1)], [Stock(100, 0, 1)])
    assert packing.proven
    assert left == (0, 1)


def test_spares_that_find_no_room_are_proven_impossible() -> None:
    """Guards that spares are never bargained away: two of 60 do not go into one bar of 100, whatever else is cut."""
    packing, left = pack_most([Piece(30, 2)], [Stock(100, 0, 1)], spare=Spare(60, 2))
    assert packing.status is Status.IMPOSSIBLE
    assert left == (2,)


@pytest.mark.parametrize("size", [1e-9, 1.0, 1e6, 1e12, 1e15, 1e30])
def test_no_sum_of_values_passes_64_bits(size: float) -> None:
    """Guards the one place where values become whole numbers: their sum fits, whatever they are and however many."""
    values, scale = whole_values([size, size / 3], 1 << 44, [10_000, 7])
    assert 0 < values[0] * 10_000 + values[1] * 7 < 1 << 59
    assert scale >= 1
    assert values[0] <= size * scale * (1 + 1e-9)


def test_no_value_passes_its_ceiling() -> None:
    """Guards the bound where pieces may be left out: a piece is worth no more than leaving it out costs."""
    assert whole_values([5.4, -1.0, 2.0], 100, [1, 1, 1], [5, 5, 5]) == ((500, 0, 200), 100)


def test_a_sum_that_does_not_fit_is_refused() -> None:
    """Guards against wrapping without a word: values too large for the table are an error, never a wrong answer."""
    instance = make([Piece(10, 100)], [Stock(1000, 1)], 0, None, None)
    with pytest.raises(OverflowError):
        Table(instance.grid, [1 << 58], instance.copies(instance.demand), Clock(None))
