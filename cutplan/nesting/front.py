"""The front: pieces and bars in, a packing out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from cutplan.nesting.aims import improve
from cutplan.nesting.check import complaints
from cutplan.nesting.clock import Clock
from cutplan.nesting.model import Packing, Piece, Progress, Spare, Status, Stock
from cutplan.nesting.most import serve_most
from cutplan.nesting.realise import longest_left, realise
from cutplan.nesting.search import Search
from cutplan.nesting.task import Task, make


def pack(
    pieces: Sequence[Piece],
    stocks: Sequence[Stock],
    *,
    kerf: int = 0,
    spare: Spare | None = None,
    joints: Mapping[int, int] | None = None,
    second_aims: bool = True,
    time_limit: float | None = None,
    workers: int = 2,
    progress: Callable[[Progress], None] | None = None,
) -> Packing:
    """The cheapest bars that hold all ``pieces`` and the ``spare`` pieces.

    All lengths are whole numbers of one unit. ``joints``: what two facing ends of a mitre class save; a piece
    not longer than what its own two ends save shares no cut. With ``second_aims``, among the plans of this
    cost: the longest single piece left, then few bars opened, then few stop settings; these are given up
    where the time runs out, and never change the cost. ``time_limit`` in seconds; without one, and with one
    that does not bite, the same input gives the same answer whatever the ``workers``.

    Raises ValueError for a length, count, price or kerf that makes no sense.
    """
    clock = Clock(time_limit, progress)
    task = make(pieces, stocks, kerf, spare, joints)
    if not task.demand:
        return Packing(Status.PROVEN, (), 0, 0, clock.gone, longest_left((), stocks))
    if not _fits(task):
        return Packing(Status.IMPOSSIBLE, seconds=clock.gone)
    search = Search(task, clock)
    search.run()
    if search.plan is None or search.cost is None:
        status = Status.IMPOSSIBLE if search.proven else Status.UNKNOWN
        return Packing(status, bound=search.bound, seconds=clock.gone, lp_bound=search.lp_bound)
    if second_aims:
        bars = improve(search, pieces, stocks, kerf, spare, joints)
    else:
        bars = realise(task, search.plan, pieces, stocks, kerf)
    cost = sum(stocks[bar.stock].price for bar in bars)
    bound = min(search.bound, cost)
    packing = Packing(
        Status.PROVEN if bound == cost else Status.FOUND,
        bars,
        cost,
        bound,
        clock.gone,
        longest_left(bars, stocks),
        search.lp_bound,
    )
    _refuse(complaints(packing, pieces, stocks, kerf=kerf, spare=spare, joints=joints))
    return packing


def pack_most(
    pieces: Sequence[Piece],
    stocks: Sequence[Stock],
    *,
    kerf: int = 0,
    spare: Spare | None = None,
    joints: Mapping[int, int] | None = None,
    time_limit: float | None = None,
    workers: int = 2,
) -> tuple[Packing, tuple[int, ...]]:
    """A packing of the greatest total length that the stock can serve, then of the most pieces, and how many
    of each piece are left out. The spares come before all pieces: where they cannot be kept, IMPOSSIBLE.
    The packing's cost is not at its least; its ``bound`` is 0 unless nothing is cheaper.

    Raises ValueError as `pack` does.
    """
    clock = Clock(time_limit)
    task = make(pieces, stocks, kerf, spare, joints)
    if not stocks or not task.demand:
        empty = Packing(Status.PROVEN, (), 0, 0, clock.gone, longest_left((), stocks))
        return empty, tuple(piece.count for piece in pieces)
    served = serve_most(task, [weight - kerf for weight in task.weights], clock)
    if served is None:
        return Packing(Status.UNKNOWN, seconds=clock.gone), tuple(piece.count for piece in pieces)
    bars = realise(served.task, served.plan, pieces, stocks, kerf)
    kept = sum(bar.spares for bar in bars)
    left = tuple(piece.count - sum(bar.pieces.count(i) for bar in bars) for i, piece in enumerate(pieces))
    if spare is not None and spare.length > 0 and kept < spare.count:
        return Packing(Status.IMPOSSIBLE if served.proven else Status.UNKNOWN, seconds=clock.gone), left
    cost = sum(stocks[bar.stock].price for bar in bars)
    status = Status.PROVEN if served.proven else Status.FOUND
    packing = Packing(status, bars, cost, cost if served.proven else 0, clock.gone, longest_left(bars, stocks))
    _refuse(complaints(packing, pieces, stocks, kerf=kerf, spare=spare, joints=joints, left_out=left))
    return packing, left


def _fits(task: Task) -> bool:
    """Whether every kind of piece fits some bar on its own."""
    top = max((c for c, n in zip(task.capacities, task.limits, strict=True) if n), default=-1)
    return all(weight <= top for weight in task.weights)


def _refuse(faults: Sequence[str]) -> None:
    if faults:
        raise AssertionError(f"the packing is wrong, please report it: {'; '.join(faults)}")
