"""The JSON of a plan as types, a promise to other programs; written and read by :mod:`cutplan.output.codec`.

Fractions are lengths, which go as numbers in the job's units; decimals are money. What has a default is left out where
it does not apply. What is bought without a price has no cost: it is ``bought``, a length in the job's units, with the
bound of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from cutplan.job.model import Source, Units
from cutplan.plan.model import Early, Purchase, Spares

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderJson:
    """What is ordered from a shop; ``cuts``: what it charges for cutting bars."""

    shop: str
    bars: Decimal
    below_minimum: Decimal
    cuts: Decimal = Decimal(0)
    delivery: Decimal
    carried: bool
    cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutJson:
    """What is still to be cut from a bar after a mistake."""

    bar: str
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecoveryJson:
    """Where the replacement of a spoilt cut comes from."""

    bar: str
    how: str
    layout: tuple[LayoutJson, ...] = ()
    following: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CutJson:
    """A cut; ``left``: of its bar after it."""

    cut: int
    mark: str
    blank: Fraction
    start: Fraction
    end: Fraction
    left: Fraction
    if_spoilt: RecoveryJson | None
    shared: bool = False
    flipped: bool = False
    stage: int | None = None
    measure_first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BarJson:
    """A bar with its cuts. ``cut_from``, ``parts``: of a part, how long the bar is that the shop cuts, and the names of
    all its parts from end to end."""

    bar: str
    from_: Source
    label: str
    length: Fraction
    price: Decimal | None
    shop: str = ""
    cut_from: Fraction | None = None
    parts: tuple[str, ...] = ()
    cuts: tuple[CutJson, ...]
    offcut: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeJson:
    """The plan of a tube."""

    tube: str
    cost: Decimal | None
    bound: Decimal | None
    bought: Decimal | None = None
    bought_bound: Decimal | None = None
    proven: bool
    bars: tuple[BarJson, ...]
    spares: Spares


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanJson:
    """A whole plan. ``members``: every blank with its parts; ``made``: what is made already. Both only repeat what the
    job gives, by ``mark``, and are written and compared as they are."""

    job: str
    units: Units
    cost: Decimal | None
    bound: Decimal | None
    bought: Decimal | None = None
    bought_bound: Decimal | None = None
    proven: bool
    buy: tuple[Purchase, ...]
    orders: tuple[OrderJson, ...] = ()
    tubes: tuple[TubeJson, ...]
    early: tuple[Early, ...] = ()
    members: tuple[Json, ...]
    made: tuple[Json, ...] = ()
