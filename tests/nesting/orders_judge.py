"""Two judges of what bars to buy from sellers who charge for an order, neither of which knows anything of the search:
every purchase tried, each piece in every place; and one integer program of the whole, pieces to bars."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise, product
from operator import le

from cutplan.nesting.orders import Seller, Wanted


def charged(seller: Seller, goods: int) -> int:
    """What an order of ``goods`` costs in all."""
    if goods == 0:
        return 0
    cost = max(goods, seller.minimum)
    return cost if seller.free_from is not None and goods >= seller.free_from else cost + seller.delivery


@cache
def holds(rooms: tuple[int, ...], pieces: tuple[int, ...], kerf: int) -> bool:
    """Whether bars with these ``rooms`` (their length and a kerf) take all ``pieces``, longest first."""
    if not pieces:
        return True
    if sum(pieces) + kerf * len(pieces) > sum(rooms):
        return False
    need = pieces[0] + kerf
    for room in set(rooms):
        if room >= need:
            at = rooms.index(room)
            rest = tuple(sorted((*rooms[:at], room - need, *rooms[at + 1 :])))
            if holds(rest, pieces[1:], kerf):
                return True
    return False


def lengths(one: Wanted) -> tuple[int, ...]:
    """All pieces of a problem and its spares, longest first."""
    every = [piece.length for piece in one.pieces for _ in range(piece.count)]
    every += [one.spare.length] * one.spare.count if one.spare else []
    return tuple(sorted(every, reverse=True))


def purchases(one: Wanted) -> Iterator[tuple[int, ...]]:
    """Every number of bars of each stock on which the problem can be cut; each stock says how many there are."""
    ranges = [[stock.count] if stock.owned else range(stock.count + 1) for stock in one.stocks]
    enough: list[tuple[int, ...]] = []
    for mix in sorted(product(*ranges), key=sum):
        rooms = tuple(sorted(s.length + one.kerf for s, n in zip(one.stocks, mix, strict=True) for _ in range(n)))
        if any(all(map(le, less, mix)) for less in enough):
            yield mix
        elif holds(rooms, lengths(one), one.kerf):
            enough.append(mix)
            yield mix


def least_by_trying(wanted: Sequence[Wanted], sellers: Sequence[Seller]) -> int | None:
    """The least total of every purchase there is; None: none serves."""
    sums: set[tuple[int, ...]] = {(0,) * (len(sellers) + 1)}
    for one in wanted:
        mine = {_goods(one, mix, len(sellers)) for mix in purchases(one)}
        sums = {tuple(a + b for a, b in zip(done, more, strict=True)) for done in sums for more in mine}
    totals = [goods[-1] + sum(map(charged, sellers, goods)) for goods in sums]
    return min(totals, default=None)


def _goods(one: Wanted, mix: Sequence[int], sellers: int) -> tuple[int, ...]:
    """What the goods of each seller come to, and of none."""
    goods = [0] * (sellers + 1)
    for stock, seller, count in zip(one.stocks, one.sellers, mix, strict=True):
        goods[sellers if seller is None else seller] += 0 if stock.owned else stock.price * count
    return tuple(goods)


def least_by_model(wanted: Sequence[Wanted], sellers: Sequence[Seller], seconds: float) -> tuple[int | None, int]:
    """The least total by one program, each piece to a bar: the best it found and its bound."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    goods: list[list] = [[] for _ in range(len(sellers) + 1)]
    for one in wanted:
        bars = []
        for stock, seller in zip(one.stocks, one.sellers, strict=True):
            mine = [model.new_bool_var("") for _ in range(stock.count)]
            for first, second in pairwise(mine):
                model.add(first >= second)
            bars += [(stock.length + one.kerf, bar) for bar in mine]
            if stock.owned:
                model.add(sum(mine) == stock.count)
            else:
                goods[len(sellers) if seller is None else seller] += [stock.price * bar for bar in mine]
        kinds: dict[int, int] = {}
        for length in lengths(one):
            kinds[length] = kinds.get(length, 0) + 1
        cut = {
            (at, length): model.new_int_var(0, min(count, room // (length + one.kerf)), "")
            for at, (room, _) in enumerate(bars)
            for length, count in kinds.items()
        }
        for at, (room, bar) in enumerate(bars):
            model.add(sum((length + one.kerf) * cut[at, length] for length in kinds) <= room * bar)
        for length, count in kinds.items():
            model.add(sum(cut[at, length] for at in range(len(bars))) == count)
    total = sum(goods[-1])
    for seller, mine in zip(sellers, goods, strict=False):
        most, spent = 1 << 40, model.new_int_var(0, 1 << 40, "")
        ordered, delivered = model.new_bool_var(""), model.new_bool_var("")
        model.add(sum(mine) == 0).only_enforce_if(~ordered)
        model.add(spent >= sum(mine))
        model.add(spent >= seller.minimum).only_enforce_if(ordered)
        least = most if seller.free_from is None else seller.free_from
        model.add(sum(mine) >= least).only_enforce_if([ordered, ~delivered])
        total += spent + seller.delivery * delivered
    model.minimize(total)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    answer = solver.solve(model)
    found = round(solver.objective_value) if answer in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None
    return found, round(solver.best_objective_bound)
