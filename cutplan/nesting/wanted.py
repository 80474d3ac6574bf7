"""One of several packing problems whose bars are ordered together: the rules that its bars obey, and whether given bars
are enough (see `orders`)."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from cutplan.nesting.bars import Mix
from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.cut_bars import CutMaster, Loads, Parts, held_in_parts
from cutplan.nesting.instance import Instance, loosened, make
from cutplan.nesting.master import Duals
from cutplan.nesting.model import Packing, Piece, Spare, Status, Stock
from cutplan.nesting.packing import pack

_ROUNDS = 2000
"""Rounds of pricing a linear program may take."""

Layout = tuple[tuple[int, Loads], ...]
"""For each bar that comes in parts its stock and what is put into each part."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One packing problem. ``sellers``: of each stock the seller by number, None where it has none (a bar in hand, or
    one sold without charges). ``survives``: asked of bars (so many of each stock) that hold the pieces without the
    spare, and of the bars in parts what each part takes, whether they are enough all the same; None: then they must
    hold the spare too.

    ``parts``: of each stock how its bars are cut before they come (None: not; empty: none are). ``fees``: of each what
    a bar costs more, which is no part of the goods (empty: nothing). ``sources``: of each a number that stocks share
    which are the same bars: together there are no more of them than each has (empty: none are)."""

    pieces: Sequence[Piece]
    stocks: Sequence[Stock]
    sellers: Sequence[int | None]
    kerf: int = 0
    spare: Spare | None = None
    joints: Any = None
    survives: Callable[[Mix, Layout], bool | None] | None = None
    parts: Sequence[Parts | None] = ()
    fees: Sequence[int] = ()
    sources: Sequence[int] = ()


class Need:
    """One problem: the rules on its bars, and what was learnt of them."""

    def __init__(self, wanted: Wanted, clock: Clock) -> None:
        self.wanted, self.clock = wanted, clock
        self.parts = tuple(wanted.parts) or (None,) * len(wanted.stocks)
        self.fees = tuple(wanted.fees) or (0,) * len(wanted.stocks)
        self.cut = tuple(dict.fromkeys(one for one in self.parts if one is not None))
        whole = {stock.length for stock, one in zip(wanted.stocks, self.parts, strict=True) if one is None}
        self.lengths = sorted(whole, reverse=True)
        self.rules: list[Duals] = []
        self.too_small: list[Mix] = []
        """How many bars of each of ``lengths`` or longer, and of each kind ``cut`` into parts, in purchases that will
        not do, or may not."""
        self.known: dict[Mix, bool | None] = {}
        self.layouts: dict[Mix, Layout] = {}

    @cached_property
    def instance(self) -> Instance:
        """What any purchase must hold, as the linear programs see it; loosened where not all mitres can be shared."""
        one = self.wanted
        spare = None if one.survives else one.spare
        found = make(one.pieces, one.stocks, one.kerf, spare, one.joints)
        return found if found.exact else loosened(one.pieces, one.stocks, one.kerf, spare, one.joints or {})

    @cached_property
    def no_less(self) -> tuple[tuple[int, ...], ...]:
        """Sets of stocks: those not in parts of each of ``lengths`` or longer, and those of each kind ``cut``."""
        kinds = list(enumerate(zip(self.wanted.stocks, self.parts, strict=True)))
        return (
            *(tuple(at for at, (stock, one) in kinds if not one and stock.length >= long) for long in self.lengths),
            *(tuple(at for at, (_, one) in kinds if one == cut) for cut in self.cut),
        )

    @property
    def priced_parts(self) -> tuple[Parts | None, ...]:
        """How bars are cut, where the linear program may count on it: where cuts are shared, weights are not those of
        the pieces, and a bar in one part, which holds no less, makes the rules."""
        return () if self.wanted.joints else self.parts

    def reach(self, mix: Mix) -> Mix:
        """How many bars of ``mix`` are of each of the sets ``no_less``."""
        return tuple(sum(mix[at] for at in some) for some in self.no_less)

    def relax(self, sellers: Iterable[int]) -> None:
        """Take up the rule of the linear program with bars of these ``sellers`` alone."""
        instance, allowed = self.instance, {*sellers, None}
        total = sum(instance.demand)
        limits = [
            0 if seller not in allowed else None if count >= total else count
            for count, seller in zip(instance.limits, self.wanted.sellers, strict=True)
        ]
        prices = [price + fee for price, fee in zip(instance.prices, self.fees, strict=True)]
        master = CutMaster(instance, instance.demand, limits, prices)
        master.parts = self.priced_parts
        self._rule(master.generate(_ROUNDS, self.clock).duals)

    def _rule(self, duals: Duals) -> None:
        if duals not in self.rules:
            self.rules.append(duals)

    def serves(self, mix: Mix) -> bool | None:
        """Whether all that is wanted can be cut from these bars; where not, or where it stays open, that is noted."""
        if mix not in self.known:
            self.known[mix] = self._judged(mix)
            if not self.known[mix] and not (self.known[mix] is False and self._ruled_out(mix)):
                self.too_small.append(self.reach(mix))
        return self.known[mix]

    def _judged(self, mix: Mix) -> bool | None:
        one = self.wanted
        held = self._held(mix, one.spare)
        if held or one.survives is None:
            return held
        bare = self._held(mix, None)
        if not bare:
            return bare
        layout = self.layouts.get(mix, ())
        survives = one.survives(mix, layout)
        # With other places of the cuts it might.
        return None if layout and not survives else survives

    def _held(self, mix: Mix, spare: Spare | None) -> bool | None:
        """Whether these bars hold the pieces, and the ``spare``; how, where some come in parts, is noted."""
        if any(n and one is not None for n, one in zip(mix, self.parts, strict=True)):
            return self._held_in_parts(mix, spare)
        stocks = [
            replace(stock, price=0, count=n, owned=True) for stock, n in zip(self.wanted.stocks, mix, strict=True)
        ]
        found = self._packed(stocks, spare, self.clock.left)
        return None if found.status is Status.UNKNOWN else found.cost is not None

    def _held_in_parts(self, mix: Mix, spare: Spare | None) -> bool | None:
        one = self.wanted
        bare = [Piece(piece.length, piece.count) for piece in one.pieces]
        found = held_in_parts(make(bare, one.stocks, one.kerf, spare, None), self.parts, mix, self.clock)
        if found is None or isinstance(found, bool):
            # Cuts that are shared might make the room.
            return None if one.joints else found
        self.layouts[mix] = found
        return True

    def _packed(self, stocks: Sequence[Stock], spare: Spare | None, seconds: float) -> Packing:
        """The cheapest of these bars that hold the pieces, and the ``spare``, in at most so many ``seconds``."""
        one = self.wanted
        return pack(
            one.pieces,
            stocks,
            kerf=one.kerf,
            spare=spare,
            joints=one.joints,
            second_aims=False,
            time_limit=None if math.isinf(seconds) else max(seconds, 0.001),
            stop=lambda: self.clock.up,
        )

    def _ruled_out(self, mix: Mix) -> bool:
        """Whether the linear program shows that these bars are too little; then there is a rule that says so."""
        instance = self.instance
        limits = [min(n, sum(instance.demand)) for n in mix]
        program = CutMaster(instance, instance.demand, limits, [0] * len(mix), instance.weights)
        program.parts = self.priced_parts
        try:
            duals = program.generate(_ROUNDS, self.clock).duals
        except TimeUpError:
            return False
        if duals.slack(mix, instance.demand) >= 0:
            return False
        self._rule(duals)
        return True

    def alone(self, seconds: Collection[int]) -> tuple[Mix | None, int, bool]:
        """The cheapest bars by their goods alone (None: none found), their bound, and whether no bars are enough.
        ``seconds``: the sellers that are another way of buying what a first one sells too, at the same price."""
        one = self.wanted
        # What can be bought in either of two ways can be bought in the first.
        stocks = [
            replace(stock, count=0) if seller in seconds else stock
            for stock, seller in zip(one.stocks, one.sellers, strict=True)
        ]
        found = self._packed(stocks, one.spare, self.clock.left / 2)
        if found.cost is None:
            return None, found.bound, found.status is Status.IMPOSSIBLE and one.survives is None
        counts = [0 if stock.count is None or not stock.owned else stock.count for stock in one.stocks]
        for bar in found.bars:
            counts[bar.stock] += not one.stocks[bar.stock].owned
        mix = tuple(counts)
        if any(n and cut is not None for n, cut in zip(mix, self.parts, strict=True)):
            return None, 0 if one.survives else found.bound, False
        return mix, 0 if one.survives else found.bound, False
