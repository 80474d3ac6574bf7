"""Plans read back from their JSON, to be checked (for saw lists see :mod:`cutplan.output.compare`).

Only what was written is believed to have been written; whether it holds is for :mod:`cutplan.plan.verify.proof`. What
the JSON says of the job (its members with their parts, stages, what is made already) must be what the job gives.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from cutplan.errors import FaultError
from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job, Source, StockRow
from cutplan.output.as_json import made, members
from cutplan.output.codec import UnreadableError, decode, read
from cutplan.output.wire import BarJson, CutJson, Json, OrderJson, PlanJson, RecoveryJson, TubeJson
from cutplan.plan.grid import near_trim, usable
from cutplan.plan.model import Bar, Plan, Recovery, SawCut, ShopOrder, TubePlan
from cutplan.plan.parts import part_of
from cutplan.plan.tables import members_of
from cutplan.plan.tables.members import standing_rows
from cutplan.plan.wording import measured

_SAME = Fraction(1, 10**5)
"""Lengths this close (mm) are one: sums of decimals of inches are written to the millionth."""


class PlanFileError(FaultError):
    """A file that is not the JSON of a plan."""

    def __init__(self, where: object, rule: str) -> None:
        super().__init__(rule, cure="give the file that cutplan plan --json wrote", where=where)


def plan_of_json(path: Path, job: Job, blanks: Sequence[Blank]) -> Plan:
    """The plan in the JSON file ``path``, for ``job`` and its ``blanks``. Raises PlanFileError."""
    try:
        written = decode(PlanJson, read(path.read_text(encoding="utf-8")), job.settings.units.mm)
    except UnreadableError as error:
        raise PlanFileError(error.where or "the plan", error.rule) from None
    except (OSError, ValueError) as error:
        raise PlanFileError(path, f"cannot be read: {error}") from error
    except RecursionError:
        raise PlanFileError(path, "cannot be read: lists are nested too deeply") from None
    if written.units is not job.settings.units:
        raise PlanFileError("the plan", f'"units" is {written.units.value}, the job says {job.settings.units.value}')
    _hold(written.made, made(standing_rows(job)), "made")
    _hold(written.members, members(members_of(job, blanks), job.settings.units), "members")
    return _Reader(job, tuple(blanks)).plan(written)


class _Reader:
    def __init__(self, job: Job, blanks: tuple[Blank, ...]) -> None:
        self.job, self.blanks = job, blanks
        self.used: Counter[StockRow] = Counter()
        self.by_mark = {blank.mark: blank for blank in blanks}

    def plan(self, written: PlanJson) -> Plan:
        tubes = tuple(self._tube(one, f"tubes[{i}]") for i, one in enumerate(written.tubes))
        cost, bound = _sum(written, any(tube.priced for tube in tubes), "the plan")
        return Plan(
            job=self.job,
            blanks=self.blanks,
            tubes=tubes,
            buy=written.buy,
            cost=cost,
            bound=bound,
            proven=written.proven,
            early=written.early,
            orders=tuple(_order(one, f"orders[{i}]") for i, one in enumerate(written.orders)),
        )

    def _tube(self, written: TubeJson, where: str) -> TubePlan:
        spares = written.spares
        kept = spares.wanted if spares.fitted is Fitted.AFTER_ALL else 0
        bars = [self._bar(one, written.tube, f"{where}.bars[{i}]") for i, one in enumerate(written.bars)]
        stock = self.job.stock
        priced = any(row.price is not None for row in stock if row.tube == written.tube and row.source is Source.BUY)
        cost, bound = _sum(written, priced, where)
        if cost is None or bound is None:
            raise PlanFileError(where, '"cost" and "bound" must be numbers where the tube has a price')
        held = tuple(_with_spares(bars, kept, spares.length, self.job.settings.kerf))
        return TubePlan(written.tube, priced, cost, bound, written.proven, held, spares)

    def _bar(self, written: BarJson, tube: str, where: str) -> Bar:
        cuts = tuple(self._cut(one, f"{where}.cuts[{i}]") for i, one in enumerate(written.cuts))
        known, parts = (tube, written.from_, written.label, written.shop), written.parts
        long = written.length if written.cut_from is None else written.cut_from
        alike = [
            row
            for row in self.job.stock
            if (row.tube, row.source, row.label, row.shop) == known and abs(row.length - long) < _SAME
        ]
        if not alike:
            bar = f"{measured(long, self.job.settings)} bar of {tube}"
            marked = f" marked {written.label}" if written.label else ""
            rule = f"no {bar}{marked} in the Stock sheet or on a rack given with --rack"
            raise PlanFileError(where, f"{rule}; what recut planned is checked by its saw list")
        row = min(alike, key=lambda row: self._unfit(row, row.price if parts else written.price, cuts))
        self.used[row] += written.bar in parts[:1] or not parts
        if parts:
            row = part_of(row, self.job.settings, written.length, mill_end=written.bar in (parts[0], parts[-1]))
        used = cuts[-1].end + self.job.settings.kerf if cuts else Fraction(0)
        return Bar(
            name=written.bar,
            tube=tube,
            source=written.from_,
            label=written.label,
            length=row.length,
            price=written.price,
            end_trim=near_trim(row, self.job.settings),
            cuts=cuts,
            spares=0,
            offcut=written.offcut,
            usable=max(usable(row, self.job.settings) - used, Fraction(0)),
            shop=written.shop,
            bought=row.bought,
            cut_from=written.cut_from,
            parts=parts,
        )

    def _unfit(self, row: StockRow, price: Decimal | None, cuts: Sequence[SawCut]) -> tuple[bool, bool, bool]:
        """How badly a bar of this price with these cuts goes with ``row``, one of several that differ in price or end
        trims only: by price, by what is left, by how many there are."""
        left = row.length - near_trim(row, self.job.settings) - cuts[-1].end - self.job.settings.kerf if cuts else None
        return (
            row.source is Source.BUY and row.price != price,
            left is not None and abs(max(left, Fraction(0)) - cuts[-1].left) >= _SAME,
            row.available is not None and self.used[row] >= row.available,
        )

    def _cut(self, written: CutJson, where: str) -> SawCut:
        blank = self.by_mark.get(written.mark)
        if blank is not None and (written.stage or 0) != blank.stage:
            raise PlanFileError(where, f"{blank.mark} is of stage {written.stage or 0}, the job says {blank.stage}")
        if blank is not None and written.measure_first != blank.estimated:
            raise PlanFileError(where, f"the job says {blank.mark} is {'' if blank.estimated else 'not '}an estimate")
        return SawCut(
            number=written.cut,
            mark=written.mark,
            blank=written.blank,
            start=written.start,
            end=written.end,
            left=written.left,
            if_spoilt=None if written.if_spoilt is None else _recovery(written.if_spoilt),
            shared=written.shared,
            flipped=written.flipped,
        )


def _order(written: OrderJson, where: str) -> ShopOrder:
    costs = (written.bars, written.below_minimum, written.delivery, written.carried, written.cuts)
    order = ShopOrder(written.shop, *costs)
    if written.cost != order.cost:
        raise PlanFileError(where, f'"cost" is {written.cost}, but bars and charges come to {order.cost}')
    return order


def _recovery(written: RecoveryJson) -> Recovery:
    layout = tuple((one.bar, one.marks) for one in written.layout)
    return Recovery(written.bar, written.how, layout, written.following)


def _sum(written: PlanJson | TubeJson, priced: bool, where: str) -> tuple[Decimal | None, Decimal | None]:
    """Cost and bound: money or null, or, where what is bought has no price, the length bought and its bound."""
    if priced or written.cost == 0:
        return written.cost, written.bound
    for key, value in (("cost", written.cost), ("bound", written.bound)):
        if value is not None:
            raise PlanFileError(where, f'"{key}" is {value}, but nothing there has a price: it must be null')
    for key, value in (("bought", written.bought), ("bought_bound", written.bought_bound)):
        if value is None:
            raise PlanFileError(where, f'"{key}" must be a length, as nothing there has a price')
    return written.bought, written.bought_bound


def _with_spares(bars: Sequence[Bar], wanted: int, length: Fraction, kerf: Fraction) -> Iterator[Bar]:
    """The spares put on the bars that hold them: the JSON gives only how many there are."""
    for bar in bars:
        here = min(wanted, int((bar.usable + kerf) // (length + kerf))) if length else 0
        wanted -= here
        yield replace(bar, spares=here)


def _hold(written: Sequence[Json], due: Iterable[Json], name: str) -> None:
    """What is written of the job, mark by mark, must be what the job gives. Raises PlanFileError."""
    given = {one["mark"]: one for one in due}
    found: dict[str, Json] = {}
    for i, one in enumerate(written):
        mark = one.get("mark", "")
        if mark in found:
            raise PlanFileError(name, f"{mark} is listed twice")
        if mark not in given:
            raise PlanFileError(f"{name}[{i}]", f'"mark" is {mark!r}, which is not a member of the job')
        found[mark] = one
    if missing := [mark for mark in given if mark not in found]:
        raise PlanFileError(name, f"{missing[0]} is missing")
    for mark, one in found.items():
        for where, rule in _unlike(one, given[mark], f"{name}, {mark}"):
            raise PlanFileError(where, rule)


def _unlike(written: Any, due: Any, where: str) -> Iterator[tuple[str, str]]:
    """Where two of a kind differ, and how."""
    if isinstance(written, dict) and isinstance(due, dict):
        for key in [*due, *(key for key in written if key not in due)]:
            if key not in written or key not in due:
                yield where, f'"{key}" is missing' if key in due else f'"{key}" is not given by the job'
            else:
                yield from _unlike(written[key], due[key], f"{where}, {key}")
    elif isinstance(written, list) and isinstance(due, list) and len(written) == len(due):
        for i, (one, other) in enumerate(zip(written, due, strict=True)):
            yield from _unlike(one, other, f"{where}[{i}]")
    elif isinstance(written, list) and isinstance(due, list):
        yield where, f"has {len(written)} entries, the job gives {len(due)}"
    elif isinstance(written, Decimal) and isinstance(due, int | float):
        if abs(Fraction(written) - Fraction(due)) >= _SAME:
            yield where, f"is {written}, the job gives {due}"
    elif type(written) is not type(due) or written != due:
        yield where, f"is {written!r:.40}, the job gives {due!r:.40}"
