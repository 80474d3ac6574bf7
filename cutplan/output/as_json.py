"""The JSON of a plan, of its lengths and of the buying options: a promise to other programs.

What it holds of a plan is in :mod:`cutplan.output.wire`.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import TypedDict

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job, Source, Units
from cutplan.output.codec import encode
from cutplan.output.wire import BarJson, CutJson, Json, LayoutJson, OrderJson, PlanJson, RecoveryJson, TubeJson
from cutplan.plan.compared import WayCost
from cutplan.plan.measuring import Measuring, Price
from cutplan.plan.model import Option, Plan, Recovery, Spares
from cutplan.plan.tables import BarRow, MemberRow, SawRow, SpareRow, StandingRow, Tables, members_of
from cutplan.plan.tables.shops import ShopRow, shop_rows
from cutplan.plan.wording import number


class _Sum(TypedDict):
    """A cost and its bound: money, or else the length bought and the bound of that, never one for the other."""

    cost: Decimal | None
    bound: Decimal | None
    bought: Decimal | None
    bought_bound: Decimal | None


def dump(data: Json) -> str:
    """``data`` as text, the same for the same data, with a line end."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def plan_json(plan: Plan) -> Json:
    """A whole plan."""
    tables = Tables(plan)
    cuts: dict[str, list[SawRow]] = {bar.bar: [] for bar in tables.bars}
    for cut in tables.saw_list:
        cuts[cut.bar].append(cut)
    whole = PlanJson(
        job=tables.settings.name,
        units=tables.settings.units,
        **_sum(plan.cost, plan.bound, plan.priced),
        proven=plan.proven,
        buy=plan.buy,
        orders=tuple(_orders(tables.orders)),
        tubes=tuple(_tube(tube, tables.bars, cuts) for tube in tables.spares),
        early=plan.early,
        members=tuple(members(tables.members, tables.settings.units)),
        made=tuple(made(tables.standing)),
    )
    return _encoded(whole, tables.settings.units)


def lengths_json(job: Job, blanks: Iterable[Blank], standing: Iterable[StandingRow] = ()) -> Json:
    """Every blank with the parts it is made up of, and what is ``standing`` already."""
    units = job.settings.units
    rows = {"members": [*members(members_of(job, blanks), units)], "made": [*made(standing)]}
    return _encoded({name: found for name, found in rows.items() if found or name == "members"}, units)


def options_json(
    job: Job, options: Iterable[Option], measuring: Iterable[Measuring] = (), ways: Iterable[WayCost] = ()
) -> Json:
    """The buying options, cheapest first as they were given; what ``measuring`` first could save, where there are
    estimates; and what each of several ``ways`` of buying costs, where there is a choice of shops."""
    rows = {
        "options": [_option(job, option) for option in options],
        "measuring": [_measuring(one) for one in measuring],
        "ways": [_way(one) for one in ways],
    }
    return _encoded({name: found for name, found in rows.items() if found or name == "options"}, job.settings.units)


def members(rows: Iterable[MemberRow], units: Units) -> Iterator[Json]:
    """Every blank with its parts, and what an estimated one may come out as."""
    for row in rows:
        # Parts are worked out in floats: to the millionth.
        parts = [{"what": part.what, "length": number(part.length, units)} for part in row.parts]
        found = {"mark": row.mark, "tube": row.tube, "blank": row.room, "parts": parts}
        if row.estimate:
            found["estimate"] = {"least": row.least, "likely": row.likely, "greatest": row.greatest}
        yield _encoded(found, units)


def made(rows: Iterable[StandingRow]) -> Iterator[Json]:
    """What is made already."""
    for row in rows:
        yield {"mark": row.mark, "tube": row.tube, "count": row.pieces}


def _encoded(value: object, units: Units) -> Json:
    data: Json = encode(value, units.mm)
    return data


def _option(job: Job, option: Option) -> Json:
    orders = tuple(_orders(shop_rows(job, option.orders)))
    return {
        "spares": option.spares,
        "insured": option.insured,
        **_costs(option.cost, option.bound, option.priced),
        "proven": option.proven,
        "buy": option.buy,
        **({"orders": orders} if orders else {}),
        "leftover": option.leftover,
        **({"fitted": option.fitted} if option.fitted is Fitted.ONE_AT_A_TIME else {}),
    }


def _way(one: WayCost) -> Json:
    orders = [{"shop": shop, "carried": carried} for shop, carried in one.orders]
    costs = {"bars": one.bars, "cuts": one.cuts, "charges": one.charges, "cost": one.cost}
    return {"orders": orders, **costs, "proven": one.proven}


def _measuring(one: Measuring) -> Json:
    return {
        "tube": one.tube,
        "spares": one.spares,
        "priced": one.priced,
        "greatest": _price(one.greatest, one.priced),
        "likely": _price(one.likely, one.priced),
        "measured": one.each,
        "fewest": one.fewest,
    }


def _price(price: Price, priced: bool) -> Json:
    return {**_costs(price.cost, price.bound, priced), "proven": price.proven}


def _sum(cost: Decimal | None, bound: Decimal | None, priced: bool) -> _Sum:
    """Where nothing is bought, no price is missing."""
    if priced or not cost:
        return _Sum(cost=cost, bound=bound, bought=None, bought_bound=None)
    return _Sum(cost=None, bound=None, bought=cost, bought_bound=bound)


def _costs(cost: Decimal | None, bound: Decimal | None, priced: bool) -> Json:
    """The same, without what does not apply."""
    said = _sum(cost, bound, priced)
    return {name: value for name, value in said.items() if value is not None or name in ("cost", "bound")}


def _orders(rows: Iterable[ShopRow]) -> Iterator[OrderJson]:
    for row in rows:
        yield OrderJson(
            shop=row.shop,
            bars=row.bars or Decimal(0),
            below_minimum=row.below_minimum or Decimal(0),
            cuts=row.cuts or Decimal(0),
            delivery=row.delivery or Decimal(0),
            carried=row.carried,
            cost=row.cost or Decimal(0),
        )


def _tube(tube: SpareRow, bars: Iterable[BarRow], cuts: dict[str, list[SawRow]]) -> TubeJson:
    fitted = Fitted.ONE_AT_A_TIME if tube.one_at_a_time else Fitted.AFTER_ALL
    return TubeJson(
        tube=tube.tube,
        **_sum(tube.cost, tube.bound, tube.priced),
        proven=tube.proven,
        bars=tuple(_bar(bar, cuts[bar.bar]) for bar in bars if bar.tube == tube.tube),
        spares=Spares(tube.kept, tube.length, tube.marks, tube.other_marks, fitted),
    )


def _bar(bar: BarRow, cuts: Iterable[SawRow]) -> BarJson:
    return BarJson(
        bar=bar.bar,
        from_=Source(bar.source),
        label=bar.label,
        length=bar.length,
        price=bar.price,
        shop=bar.shop,
        cut_from=bar.cut_from,
        parts=bar.parts,
        cuts=tuple(_cut(cut) for cut in cuts),
        offcut=bar.left,
    )


def _cut(cut: SawRow) -> CutJson:
    return CutJson(
        cut=cut.cut,
        mark=cut.mark,
        blank=cut.room,
        start=cut.start,
        end=cut.end,
        left=cut.at_least,
        if_spoilt=None if cut.recovery is None else _recovery(cut.recovery),
        shared=cut.shared,
        flipped=cut.flipped,
        stage=cut.stage,
        measure_first=bool(cut.measure_first),
    )


def _recovery(recovery: Recovery) -> RecoveryJson:
    layout = tuple(LayoutJson(bar=bar, marks=marks) for bar, marks in recovery.layout)
    return RecoveryJson(bar=recovery.bar, how=recovery.how, layout=layout, following=recovery.following)
