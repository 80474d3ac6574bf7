"""The way in: pieces and bars in, a packing out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from cutplan.nesting.check import complaints
from cutplan.nesting.clock import Clock
from cutplan.nesting.extract import extract, longest_left
from cutplan.nesting.instance import Instance, loosened, make
from cutplan.nesting.model import Packing, Piece, Progress, Spare, Status, Stock
from cutplan.nesting.partial import room_for_spares, serve_most
from cutplan.nesting.search import Search
from cutplan.nesting.secondary_objectives import Asked, improve


def pack(
    pieces: Sequence[Piece],
    stocks: Sequence[Stock],
    *,
    kerf: int = 0,
    spare: Spare | None = None,
    joints: Mapping[int, int] | None = None,
    second_aims: bool = True,
    time_limit: float | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Packing:
    """The cheapest bars that hold all ``pieces`` and the ``spare`` pieces.

    All lengths are whole numbers of one unit. ``joints``: what two facing ends of a mitre class save; a piece
    not longer than what its own two ends save shares no cut. With ``second_aims``, among the plans of this
    cost: the longest single piece left, then few bars opened, then few stop settings; these are given up
    where the time runs out, and never change the cost. ``time_limit`` in seconds; without one, and with one
    that does not bite, the same input gives the same answer. Once ``stop`` says so, the time is up.

    Where the classes of mitre on one tube are too many to be shared all at once (commonly from five on), those
    that save the least are cut singly; the bound is then of plans that share more than can be, and PROVEN is
    only said where it meets the cost.

    Raises ValueError for a length, count, price or kerf that makes no sense.
    """
    clock = Clock(time_limit, progress, stop)
    instance = make(pieces, stocks, kerf, spare, joints)
    if not instance.demand:
        return Packing(Status.PROVEN, (), 0, 0, clock.elapsed, longest_left((), stocks))
    if not _fits(instance):
        return Packing(Status.IMPOSSIBLE, seconds=clock.elapsed)
    search = Search(instance, clock)
    search.run()
    judge = search
    if not instance.exact:
        judge = Search(loosened(pieces, stocks, kerf, spare, joints or {}), clock, search.cost)
        judge.run()
    if search.plan is None or search.cost is None:
        status = Status.IMPOSSIBLE if judge.proven and judge.plan is None else Status.UNKNOWN
        return Packing(status, bound=judge.bound, seconds=clock.elapsed, lp_bound=judge.lp_bound)
    if second_aims:
        bars = improve(search, Asked(pieces, stocks, kerf, spare, joints))
    else:
        bars = extract(instance, search.plan, pieces, stocks, kerf)
    cost = sum(stocks[bar.stock].price for bar in bars)
    bound = cost if judge.proven else min(judge.bound, cost)
    packing = Packing(
        Status.PROVEN if bound == cost else Status.FOUND,
        bars,
        cost,
        bound,
        clock.elapsed,
        longest_left(bars, stocks),
        judge.lp_bound,
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
    stop: Callable[[], bool] | None = None,
) -> tuple[Packing, tuple[int, ...]]:
    """A packing of the greatest total length that the stock can serve, then of the most pieces, and how many
    of each piece are left out. The spares come before all pieces: where they cannot be kept, IMPOSSIBLE.

    PROVEN says that no more can be served. The ``cost`` is that of these bars, not the least for what they
    serve; ``bound`` repeats it where PROVEN and is 0 otherwise, and bounds nothing. ``joints``, ``time_limit``
    and ``stop`` as for `pack`; where not all classes of mitre can be shared, FOUND or UNKNOWN.

    Raises ValueError as `pack` does.
    """
    clock = Clock(time_limit, stop=stop)
    instance = make(pieces, stocks, kerf, spare, joints)
    nothing = tuple(piece.count for piece in pieces)
    if not stocks or not instance.demand:
        return Packing(Status.PROVEN, (), 0, 0, clock.elapsed, longest_left((), stocks)), nothing
    if not room_for_spares(instance):
        return Packing(Status.IMPOSSIBLE, seconds=clock.elapsed), nothing
    served = serve_most(instance, [weight - kerf for weight in instance.weights], clock)
    if served is None:
        return Packing(Status.UNKNOWN, seconds=clock.elapsed), nothing
    proven = served.proven and instance.exact
    bars = extract(served.instance, served.plan, pieces, stocks, kerf)
    left = tuple(piece.count - sum(bar.pieces.count(i) for bar in bars) for i, piece in enumerate(pieces))
    cost = sum(stocks[bar.stock].price for bar in bars)
    status = Status.PROVEN if proven else Status.FOUND
    packing = Packing(status, bars, cost, cost if proven else 0, clock.elapsed, longest_left(bars, stocks))
    _refuse(complaints(packing, pieces, stocks, kerf=kerf, spare=spare, joints=joints, left_out=left))
    return packing, left


def _fits(instance: Instance) -> bool:
    """Whether every kind of piece fits some bar on its own."""
    top = max((c for c, n in zip(instance.capacities, instance.limits, strict=True) if n), default=-1)
    return all(weight <= top for weight in instance.weights)


def _refuse(faults: Sequence[str]) -> None:
    if faults:
        raise AssertionError(f"the packing is wrong, please report it: {'; '.join(faults)}")
