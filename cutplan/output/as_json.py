"""The JSON of a plan, of its lengths and of the buying options: a promise to other programs.

Lengths are numbers in the job's units, money is a number, absent values are null. What is bought without a price has no
cost: it is ``bought``, a length, with the bound of that.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job, Units
from cutplan.plan.compared import WayCost
from cutplan.plan.measuring import Measuring, Price, Saving
from cutplan.plan.model import Option, Plan, Recovery
from cutplan.plan.tables import BarRow, BuyRow, MemberRow, SawRow, SpareRow, StandingRow, Tables, buy_rows, members_of
from cutplan.plan.tables.shops import ShopRow, shop_rows
from cutplan.plan.wording import amount, number

Json = dict[str, Any]


def plan_json(plan: Plan) -> Json:
    """A whole plan."""
    tables = Tables(plan)
    units = tables.settings.units
    cuts: dict[str, list[SawRow]] = {bar.bar: [] for bar in tables.bars}
    for cut in tables.saw_list:
        cuts[cut.bar].append(cut)
    return {
        "job": tables.settings.name,
        "units": units.value,
        **_sum(plan.cost, plan.bound, plan.priced),
        "proven": plan.proven,
        "buy": _buy(tables.buy, units),
        **_orders(tables.orders),
        "tubes": [
            {
                "tube": tube.tube,
                **_sum(tube.cost, tube.bound, tube.priced),
                "proven": tube.proven,
                "bars": [_bar(bar, cuts[bar.bar], units) for bar in tables.bars if bar.tube == tube.tube],
                "spares": _spares(tube, units),
            }
            for tube in tables.spares
        ],
        "members": _members(tables.members, units),
        **_standing(tables.standing),
    }


def lengths_json(job: Job, blanks: Iterable[Blank], standing: Iterable[StandingRow] = ()) -> Json:
    """Every blank with the parts it is made up of, and what is ``standing`` already."""
    return {"members": _members(members_of(job, blanks), job.settings.units), **_standing(standing)}


def options_json(
    job: Job, options: Iterable[Option], measuring: Iterable[Measuring] = (), ways: Iterable[WayCost] = ()
) -> Json:
    """The buying options, cheapest first as they were given; what ``measuring`` first could save, where there are
    estimates; and what each of several ``ways`` of buying costs, where there is a choice of shops."""
    units = job.settings.units
    return (
        {
            "options": [
                {
                    "spares": option.spares,
                    "insured": list(option.insured),
                    **_sum(option.cost, option.bound, option.priced),
                    "proven": option.proven,
                    "buy": _buy(buy_rows(job, option.buy), units),
                    **_orders(shop_rows(job, option.orders)),
                    "leftover": number(option.leftover, units),
                    **({"fitted": option.fitted.value} if option.fitted is Fitted.ONE_AT_A_TIME else {}),
                }
                for option in options
            ]
        }
        | _measuring(measuring)
        | _ways(ways)
    )


def _ways(found: Iterable[WayCost]) -> Json:
    rows = [
        {
            "orders": [{"shop": shop, "carried": carried} for shop, carried in one.orders],
            "bars": amount(one.bars),
            "charges": amount(one.charges),
            "cost": amount(one.cost),
            "proven": one.proven,
        }
        for one in found
    ]
    return {"ways": rows} if rows else {}


def _measuring(found: Iterable[Measuring]) -> Json:
    tubes = [
        {
            "tube": one.tube,
            "spares": one.spares,
            "priced": one.priced,
            "greatest": _price(one.greatest, one.priced),
            "likely": _price(one.likely, one.priced),
            "measured": [_saving(saving) for saving in one.each],
            "fewest": one.fewest and _saving(one.fewest),
        }
        for one in found
    ]
    return {"measuring": tubes} if tubes else {}


def _price(price: Price, priced: bool) -> Json:
    return {**_sum(price.cost, price.bound, priced), "proven": price.proven}


def _saving(saving: Saving) -> Json:
    return {"members": list(saving.members), "least": amount(saving.least), "most": amount(saving.most)}


def dump(data: Json) -> str:
    """``data`` as text, the same for the same data, with a line end."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def _sum(cost: Decimal | None, bound: Decimal | None, priced: bool) -> Json:
    """A cost and its bound: money, or else the length bought and the bound of that, never one for the other. Where
    nothing is bought, no price is missing."""
    if priced or not cost:
        return {"cost": _amount(cost), "bound": _amount(bound)}
    return {"cost": None, "bound": None, "bought": _amount(cost), "bought_bound": _amount(bound)}


def _amount(value: Decimal | None) -> Any:
    return None if value is None else amount(value)


def _buy(lines: Iterable[BuyRow], units: Units) -> list[Json]:
    return [
        {
            "tube": line.tube,
            "length": number(line.length, units),
            "count": line.bars,
            "price": _amount(line.price),
            "cost": _amount(line.cost),
        }
        | ({"shop": line.shop} if line.shop else {})
        for line in lines
    ]


def _orders(orders: Iterable[ShopRow]) -> Json:
    """What is ordered from each shop, where the job describes any."""
    rows = [
        {
            "shop": order.shop,
            "bars": _amount(order.bars),
            "below_minimum": _amount(order.below_minimum),
            "delivery": _amount(order.delivery),
            "carried": order.carried,
            "cost": _amount(order.cost),
        }
        for order in orders
    ]
    return {"orders": rows} if rows else {}


def _spares(tube: SpareRow, units: Units) -> Json:
    told: Json = {
        "wanted": tube.kept,
        "length": number(tube.length, units),
        "insured": list(tube.marks),
        "not_insured": list(tube.other_marks),
    }
    return told | {"fitted": Fitted.ONE_AT_A_TIME.value} if tube.one_at_a_time else told


def _bar(bar: BarRow, cuts: Iterable[SawRow], units: Units) -> Json:
    return {
        "bar": bar.bar,
        "from": bar.source,
        "label": bar.label,
        "length": number(bar.length, units),
        "price": _amount(bar.price),
        **({"shop": bar.shop} if bar.shop else {}),
        "cuts": [
            {
                "cut": cut.cut,
                "mark": cut.mark,
                "blank": number(cut.room, units),
                "start": number(cut.start, units),
                "end": number(cut.end, units),
                "left": number(cut.at_least, units),
                "if_spoilt": cut.recovery and _recovery(cut.recovery),
            }
            | {what: True for what in ("shared", "flipped") if getattr(cut, what)}
            | ({} if cut.stage is None else {"stage": cut.stage})
            | ({"measure_first": True} if cut.measure_first else {})
            for cut in cuts
        ],
        "offcut": number(bar.left, units),
    }


def _recovery(recovery: Recovery) -> Json:
    told: Json = {"bar": recovery.bar, "how": recovery.how}
    if recovery.layout:
        told["layout"] = [{"bar": bar, "marks": list(marks)} for bar, marks in recovery.layout]
    if recovery.following:
        told["following"] = list(recovery.following)
    return told


def _standing(standing: Iterable[StandingRow]) -> Json:
    """What is made already, where anything is."""
    rows = [{"mark": row.mark, "tube": row.tube, "count": row.pieces} for row in standing]
    return {"made": rows} if rows else {}


def _estimate(row: MemberRow, units: Units) -> Json:
    """What an estimated blank may come out as; nothing for one that is known."""
    if row.least is None or row.likely is None or row.greatest is None:
        return {}
    named = (("least", row.least), ("likely", row.likely), ("greatest", row.greatest))
    return {"estimate": {name: number(length, units) for name, length in named}}


def _members(members: Iterable[MemberRow], units: Units) -> list[Json]:
    return [
        {
            "mark": row.mark,
            "tube": row.tube,
            "blank": number(row.room, units),
            "parts": [{"what": part.what, "length": number(part.length, units)} for part in row.parts],
        }
        | _estimate(row, units)
        for row in members
    ]
