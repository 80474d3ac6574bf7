"""The front: pieces and bars in, a packing out."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence

from cutplan.nesting.model import PackedBar, Packing, Piece, Progress, Spare, Status, Stock


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
    """The cheapest bars that hold all ``pieces`` and the ``spare`` pieces."""
    status, bars, cost, bound, seconds, _ = _assign(pieces, stocks, kerf, spare, None, time_limit, most=False)
    return _finish(status, bars, cost, bound, seconds, stocks)


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
    """A packing of the most length the stock can serve, and how many of each piece are left out."""
    status, bars, cost, bound, seconds, left = _assign(pieces, stocks, kerf, spare, None, time_limit, most=True)
    return _finish(status, bars, cost, bound, seconds, stocks), left


def _finish(status, bars, cost, bound, seconds, stocks):  # type: ignore[no-untyped-def]
    rests = [bar.rest for bar in bars]
    for index, stock in enumerate(stocks):
        if stock.owned and (stock.count is None or stock.count > sum(bar.stock == index for bar in bars)):
            rests.append(stock.length)
    return Packing(status, tuple(bars), cost, bound, seconds, max(rests, default=0))


def _assign(pieces, stocks, kerf, spare, joints, time_limit, *, most):  # type: ignore[no-untyped-def]
    from ortools.sat.python import cp_model

    started = time.perf_counter()
    model = cp_model.CpModel()
    kept = spare.count if spare is not None and spare.length > 0 else 0
    total = sum(piece.count for piece in pieces) + kept
    bars = []
    for index, stock in enumerate(stocks):
        fit = sum(p.count for p in pieces if p.length <= stock.length)
        fit += kept if kept and spare.length <= stock.length else 0
        for copy in range(fit if stock.count is None else min(fit, stock.count)):
            used = model.new_bool_var("")
            cut = [model.new_int_var(0, min(p.count, (stock.length + kerf) // (p.length + kerf)), "") for p in pieces]
            spares = model.new_int_var(0, kept, "")
            load = sum(x * (p.length + kerf) for x, p in zip(cut, pieces, strict=True))
            load += spares * ((spare.length if kept else 0) + kerf)
            model.add(load <= (stock.length + kerf) * used)
            if copy:
                model.add_implication(used, bars[-1][1])
            bars.append((index, used, cut, spares))
    left = []
    for i, piece in enumerate(pieces):
        missing = model.new_int_var(0, piece.count if most else 0, "")
        left.append(missing)
        model.add(sum(bar[2][i] for bar in bars) + missing == piece.count)
    model.add(sum(bar[3] for bar in bars) == kept)
    cost = sum(stocks[index].price * used for index, used, _, _ in bars)
    if most:
        model.minimize(sum(m * (p.length * (total + 1) + 1) for m, p in zip(left, pieces, strict=True)))
    else:
        model.minimize(cost)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if time_limit is not None:
        solver.parameters.max_time_in_seconds = time_limit
    answer = solver.solve(model)
    seconds = time.perf_counter() - started
    if answer == cp_model.INFEASIBLE:
        return Status.IMPOSSIBLE, [], None, 0, seconds, ()
    if answer not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Status.UNKNOWN, [], None, 0, seconds, ()
    packed = []
    for index, used, cut, spares in bars:
        if solver.value(used):
            chosen = tuple(i for i, x in enumerate(cut) for _ in range(solver.value(x)))
            load = sum(pieces[i].length + kerf for i in chosen)
            packed.append(PackedBar(index, chosen, solver.value(spares), max(0, stocks[index].length - load)))
    value = sum(stocks[bar.stock].price for bar in packed)
    bound = value if answer == cp_model.OPTIMAL or most else int(-(-solver.best_objective_bound // 1))
    status = Status.PROVEN if answer == cp_model.OPTIMAL else Status.FOUND
    return status, packed, value, bound, seconds, tuple(solver.value(m) for m in left)
