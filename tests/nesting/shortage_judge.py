"""What most can be cut from too little stock, found another way: every piece is assigned to a bar by CP-SAT. Shares
nothing with the engine but the words for pieces and bars."""

import random
from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from cutplan.nesting import Piece, Spare, Stock


@dataclass(frozen=True)
class Short:
    """A job for which the stock is probably not enough."""

    pieces: tuple[Piece, ...]
    stocks: tuple[Stock, ...]
    kerf: int
    spare: Spare | None


def short_job(seed: int, fewest: int, most: int) -> Short:
    """A seeded job as people have them: blanks on a grid of tenths of a millimetre, a few bars of usual lengths and
    remnants, room for some three quarters of what is wanted."""
    dice = random.Random(seed)
    grid = dice.choice([1, 5, 10, 100])
    wanted = dice.randint(fewest, most)
    pieces: list[Piece] = []
    while (have := sum(piece.count for piece in pieces)) < wanted:
        count = min(wanted - have, dice.choice([1, 1, 2, 2, 4, 8, wanted]))
        pieces.append(Piece(dice.randint(1500 // grid, 24_000 // grid) * grid, count))
    need = sum(piece.length * piece.count for piece in pieces)
    stocks: list[Stock] = []
    room = 0
    share = dice.choice([0.3, 0.6, 0.8, 0.95])
    while room < share * need:
        length = dice.choice([60_000, 60_000, 30_000, dice.randint(4_000, 25_000)])
        stocks.append(Stock(length, length, dice.choice([1, 1, 2]), owned=dice.random() < 0.5))
        room += length * (stocks[-1].count or 0)
    spare = Spare(dice.choice(pieces).length, dice.randint(1, 2)) if dice.random() < 0.4 else None
    return Short(tuple(pieces), tuple(stocks), dice.choice([0, 15, 20, 30]), spare)


def most_served(job: Short, seconds: float) -> tuple[int, int, bool] | None:
    """The greatest length that can be cut, then the most pieces, and whether CP-SAT is certain of both; None where the
    spares find no room."""
    bars = [stock for stock in job.stocks for _ in range(stock.count or 0)]
    length, certain = _solve(job, bars, seconds, None)
    if length is None:
        return None
    count, sure = _solve(job, bars, seconds, length)
    return length, count or 0, certain and sure


def _solve(job: Short, bars: Sequence[Stock], seconds: float, length: int | None) -> tuple[int | None, bool]:
    model = cp_model.CpModel()
    wanted = [*job.pieces, *([Piece(job.spare.length, job.spare.count)] if job.spare else [])]
    held = [[model.new_int_var(0, piece.count, "") for _ in bars] for piece in wanted]
    for at, piece in enumerate(wanted):
        if at < len(job.pieces):
            model.add(sum(held[at]) <= piece.count)
        else:
            model.add(sum(held[at]) == piece.count)
    for place, bar in enumerate(bars):
        load = sum((piece.length + job.kerf) * held[at][place] for at, piece in enumerate(wanted))
        model.add(load <= bar.length + job.kerf)
    cut = sum(piece.length * sum(held[at]) for at, piece in enumerate(job.pieces))
    if length is None:
        model.maximize(cut)
    else:
        model.add(cut >= length)
        model.maximize(sum(sum(held[at]) for at, _ in enumerate(job.pieces)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    # Of work, not of the clock: the same judgement on a machine that is busy.
    solver.parameters.max_deterministic_time = seconds
    answer = solver.solve(model)
    if answer == cp_model.INFEASIBLE:
        return None, True
    found = answer in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (round(solver.objective_value) if found else 0), answer == cp_model.OPTIMAL
