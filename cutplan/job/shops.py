"""The ``Shops`` sheet: what each shop charges for an order on top of its bars."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cutplan.job.cells import Cells
from cutplan.job.model import Shop, Source, Units
from cutplan.job.tables import Tables, squash


@dataclass(frozen=True, slots=True)
class Shops:
    """The sound shops by squashed name; ``known``: whether those are all there are; ``given``: whether the sheet has
    any rows."""

    by_name: Mapping[str, Shop]
    named: frozenset[str]
    known: bool
    given: bool

    @property
    def sound(self) -> tuple[Shop, ...]:
        """In the order of the sheet."""
        return tuple(self.by_name.values())

    def named_in(self, cells: Cells, source: Source | None) -> Shop | None:
        """The shop that a row of ``Stock`` names; None where it names none, or none that is sound (a fault, here or
        where the shop is)."""
        name = cells.value("shop")
        if name is None:
            return None
        if source is Source.RACK:
            cells.fault("shop", "is given for a piece from the rack", "leave it blank: the piece is yours already")
            return None
        if not self.given and self.known:
            return Shop(name)
        shop = self.by_name.get(squash(name))
        if shop is None and self.known and squash(name) not in self.named:
            names = [each.name for each in self.by_name.values()]
            cells.fault("shop", "is not a shop in Shops", cells.guess(name, names) or "add it there")
        return shop


def read_shops(tables: Tables, units: Units) -> Shops:
    """The shops; faults go to ``tables``."""
    shops: dict[str, Shop] = {}
    seen: dict[str, int | None] = {}
    for row in tables.rows("Shops"):
        cells = Cells(row, units, tables.faults)
        name = cells.once("shop", seen, "give each shop one row")
        values = cells.by_field(Shop)
        if "free_from" in values and not values.get("delivery"):
            cells.fault("free from", "is given, but no delivery is charged", "fill in delivery, or leave this blank")
        if "cut" in values and not cells.given("carry"):
            cells.fault("cut", "is given, but not what can be carried", "fill in carry, or leave this blank")
        if "kerf" in values and not cells.given("cut"):
            cells.fault("kerf", "is given, but the shop cuts nothing", "fill in cut, or leave this blank")
        if cells.sound and name is not None:
            shops[squash(name)] = Shop(name, place=cells.place, **values)
    return Shops(shops, frozenset(seen), tables.known("Shops"), bool(tables.rows("Shops")))
