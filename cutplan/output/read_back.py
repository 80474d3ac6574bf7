"""Plans read back from their JSON, to be checked (for saw lists see :mod:`cutplan.output.compare`).

Only what was written is believed to have been written; whether it holds is for :mod:`cutplan.plan.verify.proof`.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from cutplan.errors import FaultError
from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job, Source, StockRow
from cutplan.plan.grid import near_trim, usable
from cutplan.plan.model import Bar, Cut, Plan, Purchase, Recovery, ShopOrder, Spares, TubePlan

_T = TypeVar("_T")
_E = TypeVar("_E", bound=Enum)

_KINDS = {Decimal: "a number", str: "a text", bool: "true or false", list: "a list", dict: "an object"}
_DIGITS, _PLACES = 12, 40
"""Before the point and behind it: more is no length and no money."""


class PlanFileError(FaultError):
    """A file that is not the JSON of a plan."""

    def __init__(self, where: object, rule: str) -> None:
        super().__init__(rule, cure="give the file that cutplan plan --json wrote", where=where)


def plan_of_json(path: Path, job: Job, blanks: Sequence[Blank]) -> Plan:
    """The plan in the JSON file ``path``, for ``job`` and its ``blanks``. Raises PlanFileError."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"), parse_float=Decimal, parse_int=Decimal)
    except (OSError, ValueError) as error:
        raise PlanFileError(path, f"cannot be read: {error}") from error
    except RecursionError:
        raise PlanFileError(path, "cannot be read: lists are nested too deeply") from None
    return _Reader(job, tuple(blanks)).plan(data)


class _Reader:
    def __init__(self, job: Job, blanks: tuple[Blank, ...]) -> None:
        self.job, self.blanks = job, blanks
        self.used: Counter[StockRow] = Counter()
        self.stages = {blank.mark: blank.stage for blank in blanks}

    def plan(self, data: Any) -> Plan:
        units = self.job.settings.units.value
        if (told := _get(data, "units", str, "the plan")) != units:
            raise PlanFileError("the plan", f'"units" is {told}, the job says {units}')
        self._standing(_get(data, "made", list, "the plan") if "made" in data else ())
        tubes = [self._tube(one, f"tubes[{i}]") for i, one in enumerate(_get(data, "tubes", list, "the plan"))]
        cost, bound = _sum(data, any(tube.priced for tube in tubes), "the plan")
        return Plan(
            job=self.job,
            blanks=self._blanks(_get(data, "members", list, "the plan")),
            tubes=tuple(tubes),
            buy=tuple(self._line(one, f"buy[{i}]") for i, one in enumerate(_get(data, "buy", list, "the plan"))),
            cost=cost,
            bound=bound,
            proven=_get(data, "proven", bool, "the plan"),
            orders=tuple(
                self._order(one, f"orders[{i}]")
                for i, one in enumerate(_get(data, "orders", list, "the plan") if "orders" in data else ())
            ),
        )

    def _order(self, data: Any, where: str) -> ShopOrder:
        order = ShopOrder(
            shop=_get(data, "shop", str, where),
            bars=_get(data, "bars", Decimal, where),
            below_minimum=_get(data, "below_minimum", Decimal, where),
            delivery=_get(data, "delivery", Decimal, where),
            carried=_get(data, "carried", bool, where),
        )
        if (told := _get(data, "cost", Decimal, where)) != order.cost:
            raise PlanFileError(where, f'"cost" is {told}, but bars and charges come to {order.cost}')
        return order

    def _blanks(self, members: Sequence[Any]) -> tuple[Blank, ...]:
        """The job's blanks, after the file's were found to be the same."""
        told: dict[str, Any] = {}
        for i, one in enumerate(members):
            if (mark := _get(one, "mark", str, f"members[{i}]")) in told:
                raise PlanFileError("members", f"{mark} is listed twice")
            told[mark] = one
        for blank in self.blanks:
            if blank.mark not in told:
                raise PlanFileError("members", f"{blank.mark} is missing")
            if (tube := _get(told[blank.mark], "tube", str, blank.mark)) != blank.tube:
                raise PlanFileError(f"members, {blank.mark}", f"of {tube}, the job says {blank.tube}")
            parts = _get(told[blank.mark], "parts", list, blank.mark)
            if not same(sum((self._mm(part, "length", blank.mark) for part in parts), Fraction(0)), blank.length, 10):
                raise PlanFileError(f"members, {blank.mark}", f"its parts do not add up to {self._said(blank.length)}")
            length = self._mm(told[blank.mark], "blank", blank.mark)
            if not same(length, blank.length):
                raise PlanFileError(
                    f"members, {blank.mark}", f"{self._said(length)}, the job says {self._said(blank.length)}"
                )
            self._parts(blank, parts)
            self._estimate(blank, told[blank.mark])
        if strange := [mark for mark in told if mark not in {blank.mark for blank in self.blanks}]:
            raise PlanFileError(f"members, {strange[0]}", "is not a member of the job")
        return self.blanks

    def _standing(self, told: Sequence[Any]) -> None:
        """What is made already must be so in the job."""
        marks = {_get(one, "mark", str, f"made[{i}]") for i, one in enumerate(told)}
        known = {mark for member in self.job.members if member.made for mark in member.marks}
        if unlike := sorted(marks ^ known):
            says = "the plan, not by the job" if unlike[0] in marks else "the job, not by the plan"
            raise PlanFileError(f"made, {unlike[0]}", f"is made already by {says}")

    def _estimate(self, blank: Blank, told: Any) -> None:
        """What it may come out as must be what the job says, and only an estimated one has it."""
        where = f"members, {blank.mark}"
        if blank.estimated != ("estimate" in told):
            raise PlanFileError(where, f"the job says it is {'' if blank.estimated else 'not '}an estimate")
        if not blank.estimated:
            return
        said = _get(told, "estimate", dict, where)
        for name, length in (("least", blank.least), ("likely", blank.likely), ("greatest", blank.length)):
            mine = self._mm(said, name, where)
            if not same(mine, length):
                raise PlanFileError(where, f"{name} is {self._said(mine)}, the job says {self._said(length)}")

    def _parts(self, blank: Blank, parts: Sequence[Any]) -> None:
        """The parts must be the job's too, one by one."""
        for one, part in zip(parts, blank.parts, strict=False):
            what, length = _get(one, "what", str, blank.mark), self._mm(one, "length", blank.mark)
            if what != part.what or not same(length, Fraction(part.length), 100):
                raise PlanFileError(
                    f"members, {blank.mark}",
                    f"its part {what}, {self._said(length)}: the job says {part.what}, {self._said(part.length)}",
                )
        if len(parts) != len(blank.parts):
            raise PlanFileError(f"members, {blank.mark}", f"{len(parts)} parts, the job says {len(blank.parts)}")

    def _tube(self, data: Any, where: str) -> TubePlan:
        name = _get(data, "tube", str, where)
        spares = _get(data, "spares", dict, where)
        wanted, length = _whole(spares, "wanted", where), self._mm(spares, "length", where)
        kept = wanted if self._fitted(spares, where) is Fitted.AFTER_ALL else 0
        bars = [self._bar(one, name, f"{where}.bars[{i}]") for i, one in enumerate(_get(data, "bars", list, where))]
        priced = any(row.price is not None for row in self.job.stock if row.tube == name and row.source is Source.BUY)
        cost, bound = _sum(data, priced, where)
        if cost is None or bound is None:
            raise PlanFileError(where, '"cost" and "bound" must be numbers where the tube has a price')
        return TubePlan(
            tube=name,
            priced=priced,
            cost=cost,
            bound=bound,
            proven=_get(data, "proven", bool, where),
            bars=tuple(_with_spares(bars, kept, length, self.job.settings.kerf)),
            spares=Spares(
                wanted,
                length,
                _texts(spares, "insured", where),
                _texts(spares, "not_insured", where),
                self._fitted(spares, where),
            ),
        )

    def _bar(self, data: Any, tube: str, where: str) -> Bar:
        source = _one_of(Source, data, "from", where)
        length, label = self._mm(data, "length", where), _get(data, "label", str, where)
        price, shop = _optional(data, "price", where), _shop(data, where)
        cuts = tuple(self._cut(one, f"{where}.cuts[{i}]") for i, one in enumerate(_get(data, "cuts", list, where)))
        alike = [
            row
            for row in self.job.stock
            if (row.tube, row.source, row.label, row.shop) == (tube, source, label, shop) and same(row.length, length)
        ]
        if not alike:
            raise PlanFileError(
                where,
                f"no {self._said(length)} bar of {tube}{f' marked {label}' * bool(label)} in the Stock sheet or on a "
                "rack given with --rack; what recut planned is checked by its saw list",
            )
        row = min(alike, key=lambda row: self._unfit(row, price, cuts))
        self.used[row] += 1
        used = cuts[-1].end + self.job.settings.kerf if cuts else Fraction(0)
        return Bar(
            name=_get(data, "bar", str, where),
            tube=tube,
            source=source,
            label=label,
            length=row.length,
            price=price,
            end_trim=near_trim(row, self.job.settings),
            cuts=cuts,
            spares=0,
            offcut=self._mm(data, "offcut", where),
            usable=max(usable(row, self.job.settings) - used, Fraction(0)),
            shop=shop,
            bought=row.bought,
        )

    def _unfit(self, row: StockRow, price: Decimal | None, cuts: Sequence[Cut]) -> tuple[bool, bool, bool]:
        """How badly a bar of this price with these cuts goes with ``row``, one of several that differ in price or end
        trims only: by price, by what is left, by how many there are."""
        left = row.length - near_trim(row, self.job.settings) - cuts[-1].end - self.job.settings.kerf if cuts else None
        return (
            row.source is Source.BUY and row.price != price,
            left is not None and not same(max(left, Fraction(0)), cuts[-1].left),
            row.available is not None and self.used[row] >= row.available,
        )

    def _cut(self, data: Any, where: str) -> Cut:
        spoilt = data.get("if_spoilt") if isinstance(data, dict) else None
        self._stage(data, where)
        return Cut(
            number=_whole(data, "cut", where),
            mark=_get(data, "mark", str, where),
            blank=self._mm(data, "blank", where),
            start=self._mm(data, "start", where),
            end=self._mm(data, "end", where),
            left=self._mm(data, "left", where),
            if_spoilt=None if spoilt is None else self._recovery(spoilt, where),
            shared=_get(data, "shared", bool, where) if "shared" in data else False,
            flipped=_get(data, "flipped", bool, where) if "flipped" in data else False,
        )

    def _stage(self, data: Any, where: str) -> None:
        """A cut's stage, where there is one, must be its blank's."""
        mark = _get(data, "mark", str, where)
        stage = self.stages.get(mark, 0)
        told = _whole(data, "stage", where) if "stage" in data else 0
        if told != stage:
            raise PlanFileError(where, f"{mark} is of stage {told}, the job says {stage}")

    def _recovery(self, data: Any, where: str) -> Recovery:
        layout = _get(data, "layout", list, where) if "layout" in data else []
        return Recovery(
            _get(data, "bar", str, where),
            _get(data, "how", str, where),
            tuple((_get(one, "bar", str, where), _texts(one, "marks", where)) for one in layout),
            _texts(data, "following", where) if "following" in data else (),
        )

    def _fitted(self, data: Any, where: str) -> Fitted:
        return _one_of(Fitted, data, "fitted", where) if "fitted" in data else Fitted.AFTER_ALL

    def _line(self, data: Any, where: str) -> Purchase:
        return Purchase(
            tube=_get(data, "tube", str, where),
            length=self._mm(data, "length", where),
            count=_whole(data, "count", where),
            price=_optional(data, "price", where),
            cost=_optional(data, "cost", where),
            shop=_shop(data, where),
        )

    def _said(self, mm: Fraction | float) -> str:
        return f"{float(mm) / float(self.job.settings.units.mm):g} {self.job.settings.units.value}"

    def _mm(self, data: Any, key: str, where: str) -> Fraction:
        return Fraction(_get(data, key, Decimal, where)) * self.job.settings.units.mm


def same(one: Fraction, other: Fraction, times: int = 1) -> bool:
    """Whether two lengths are one but for a millionth of a millimetre (or some ``times`` that, for sums), as decimals
    of inches are written."""
    return abs(one - other) < Fraction(times, 10**6)


def _with_spares(bars: Sequence[Bar], wanted: int, length: Fraction, kerf: Fraction) -> Iterator[Bar]:
    """The spares put on the bars that hold them: the JSON gives only how many there are."""
    for bar in bars:
        here = min(wanted, int((bar.usable + kerf) // (length + kerf))) if length else 0
        wanted -= here
        yield replace(bar, spares=here)


def _get(data: Any, key: str, kind: type[_T], where: str) -> _T:
    if not isinstance(data, dict) or key not in data:
        raise PlanFileError(where, f'"{key}" is missing')
    value = data[key]
    if not isinstance(value, kind):
        raise PlanFileError(where, f'"{key}" is {value!r}, not {_KINDS.get(kind, kind.__name__)}')
    if isinstance(value, Decimal) and not (-_PLACES <= value.adjusted() <= _DIGITS and len(str(value)) <= 2 * _PLACES):
        raise PlanFileError(where, f'"{key}" is {str(value)[:_PLACES]}, which is out of range')
    return value


def _sum(data: Any, priced: bool, where: str) -> tuple[Decimal | None, Decimal | None]:
    """Cost and bound: money or null, or, where what is bought has no price, the length bought and its bound."""
    if priced or (isinstance(data, dict) and data.get("cost") == 0):
        return _optional(data, "cost", where), _optional(data, "bound", where)
    for key in ("cost", "bound"):
        if _optional(data, key, where) is not None:
            raise PlanFileError(where, f'"{key}" is {data[key]}, but nothing there has a price: it must be null')
    return _get(data, "bought", Decimal, where), _get(data, "bought_bound", Decimal, where)


def _shop(data: Any, where: str) -> str:
    """The shop of a bar, where it has one."""
    return _get(data, "shop", str, where) if isinstance(data, dict) and "shop" in data else ""


def _whole(data: Any, key: str, where: str) -> int:
    value = _get(data, key, Decimal, where)
    if value != int(value):
        raise PlanFileError(where, f'"{key}" is {value}, not a whole number')
    return int(value)


def _texts(data: Any, key: str, where: str) -> tuple[str, ...]:
    values = _get(data, key, list, where)
    if strange := [value for value in values if not isinstance(value, str)]:
        raise PlanFileError(where, f'"{key}" contains {strange[0]!r}, which is not text')
    return tuple(values)


def _one_of(kind: type[_E], data: Any, key: str, where: str) -> _E:
    value = _get(data, key, str, where)
    try:
        return kind(value)
    except ValueError:
        raise PlanFileError(where, f'"{key}" is {value!r}, not one of {", ".join(one.value for one in kind)}') from None


def _optional(data: Any, key: str, where: str) -> Decimal | None:
    return None if isinstance(data, dict) and data.get(key, "") is None else _get(data, key, Decimal, where)
