"""The ``Tubes`` and ``Stock`` sheets."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

from cutplan.job.cells import Cells, remark_length
from cutplan.job.faults import Remark
from cutplan.job.model import MOST_ALIKE, Settings, Source, StockRow, Tube, Units
from cutplan.job.schema import STOCK
from cutplan.job.shops import Shops
from cutplan.job.tables import Tables, squash

_SOURCES = frozenset(source.value for source in Source)

STEEL = 7850.0
"""Density of steel, kg/m3 (EN 1991-1-1, table A.4: 77 to 78.5 kN/m3)."""

KG_PER_LB = 0.45359237
KG_M3_PER_LB_IN3 = KG_PER_LB / 0.0254**3
KG_M_PER_LB_FT = KG_PER_LB / 0.3048
"""All exact by definition of the pound and the inch (1959)."""


def mass_per_m(od_mm: float, wall_mm: float, density: float = STEEL) -> float:
    """Mass of one metre of round tube in kg: pi (D - t) t, in mm, by ``density`` in kg/m3.

    For steel that is the 0.0246615 (D - t) t of the section tables (EN 10210-2, EN 10220).
    """
    return math.pi * (od_mm - wall_mm) * wall_mm * density * 1e-6


@dataclass(frozen=True, slots=True)
class Tubes:
    """The sound tubes by squashed name, the names of all that are given, and whether those are all there are."""

    sound: Mapping[str, Tube]
    named: frozenset[str]
    known: bool

    def faulty(self, key: str) -> bool:
        """Whether ``key`` is, or may be, a tube with a fault that was reported in its own row."""
        return not self.known or (key in self.named and key not in self.sound)


def read_tubes(tables: Tables, units: Units) -> Tubes:
    """The tubes; faults go to ``tables``."""
    tubes: dict[str, Tube] = {}
    seen: dict[str, int | None] = {}
    for row in tables.rows("Tubes"):
        cells = Cells(row, units, tables.faults)
        name = cells.once("tube", seen, "give each tube a name of its own")
        tube = _tube(cells, name or "")
        if cells.sound and tube is not None:
            tubes[squash(tube.name)] = tube
    return Tubes(tubes, frozenset(seen), tables.known("Tubes") and bool(tables.rows("Tubes")))


def _tube(cells: Cells, name: str) -> Tube | None:
    values = cells.by_field(Tube)
    od, wall, clr = (values.get(heading) for heading in ("od", "wall", "clr"))
    density, mass = cells.value("density"), cells.value("mass")
    for heading, value in (("density", density), ("mass", mass)):
        if value is not None and not value:
            cells.fault(heading, "must be more than 0", "leave it blank for steel")
    if od is None or wall is None:
        return None
    if clr is not None and clr * 2 <= od:
        cells.fault("clr", f"is half the outside diameter {cells.show(od)} or less", "give the centreline radius")
    if wall * 2 >= od:
        cells.fault("wall", f"is half the outside diameter {cells.show(od)} or more", "are od and wall swapped?")
        return None
    inches = cells.units is Units.IN
    if mass is not None:
        per_m = float(mass) * (KG_M_PER_LB_FT if inches else 1.0)
    else:
        kg_m3 = STEEL if density is None else float(density) * (KG_M3_PER_LB_IN3 if inches else 1.0)
        per_m = mass_per_m(float(od), float(wall), kg_m3)
    return Tube(name, mass_per_m=per_m, place=cells.place, **values)


def read_stock(tables: Tables, settings: Settings, tubes: Tubes, shops: Shops) -> list[StockRow]:
    """The sound rows of ``Stock``. Bars to buy of one tube all have a price, or none has; those of a shop that charges
    for an order all have one."""
    stock: list[StockRow] = []
    unpriced: defaultdict[str, list[Cells]] = defaultdict(list)
    priced: set[str] = set()
    for row in tables.rows("Stock"):
        cells = Cells(row, settings.units, tables.faults)
        tube = find_tube(cells, "tube", tubes)
        source = cells.word("from", Source) if cells.given("from") else Source.BUY
        bar = _bar(cells, tube, source, settings, tables.remarks)
        shop = shops.named_in(cells, source)
        if shop is not None and shop.charges and source is Source.BUY and not cells.given("price"):
            cure = f"give it a price, or leave {shop.name}'s delivery and minimum blank"
            cells.fault("price", f"is blank, but {shop.name} charges for an order", cure)
        if tube is not None and source is Source.BUY:
            if cells.given("price"):
                priced.add(tube.name)
            else:
                unpriced[tube.name].append(cells)
        if cells.sound and bar is not None:
            stock.append(bar if shop is None else replace(bar, shop=shop.name))
            if shop is not None and not shop.sells(bar.length):
                text = f"{cells.show(bar.length)} is too long to be carried home from {shop.name}: not bought"
                text += " (fill in its delivery, if it delivers)"
                tables.remarks.append(Remark(cells.place.at("length"), text))
    for name in priced:
        for cells in unpriced[name]:
            rule = f"is blank, while other bars of {name} have one"
            cells.fault("price", rule, "give every bar to buy a price, or none")
    return stock


def _bar(
    cells: Cells, tube: Tube | None, source: Source | None, settings: Settings, remarks: list[Remark]
) -> StockRow | None:
    values = cells.by_field(StockRow, "tube", "available", "shop")
    length, price = values.get("length"), values.get("price")
    remark_length(cells, length, remarks, member=False)
    many = STOCK.column("available")
    available = cells.typed(replace(many, most=MOST_ALIKE) if source is Source.RACK else many, "available")
    if squash(values.get("label", "")) in _SOURCES:
        cure = "write decimals with a point, or choose another label"
        cells.fault("label", "is a word that belongs under from", cure)
    note = str(cells.row.cells.get("note", ""))
    if squash(note) in _SOURCES:
        text = f'"{note}" is read as a note, and is a word that belongs under from (write decimals with a point)'
        remarks.append(Remark(cells.place.at("note"), text))
    if price is not None and not price and source is Source.BUY:
        cure = "for a bar you have already write rack under from; for no prices leave all blank"
        cells.fault("price", "is zero", cure)
    if length is None or tube is None or source is None:
        return None
    trim = values.get("end_trim", settings.end_trim)
    if source is Source.BUY and length <= 2 * trim + settings.saw_hold:
        cells.fault("length", "leaves nothing after both end trims and the saw hold")
    if available is None and source is Source.RACK:
        available = 1
    return StockRow(tube.name, available=available, source=source, place=cells.place, **values)


def find_tube(cells: Cells, heading: str, tubes: Tubes) -> Tube | None:
    """The tube named under ``heading``; None where it is unknown (a fault) or itself faulty (reported there)."""
    text = cells.text(heading) if cells.need(heading) else None
    if text is None:
        return None
    tube = tubes.sound.get(squash(text))
    if tube is not None:
        return tube
    if tubes.faulty(squash(text)):
        cells.sound = False
        return None
    cells.fault(heading, "is not a tube in Tubes", cells.guess(text, [each.name for each in tubes.sound.values()]))
    return None
