"""Whole builds of ``staged_builds`` played to their end, and judged by exhaustive packing.

The pieces of tube are kept account of here as on the floor of a workshop, and what they must hold is packed by trying
every place: nothing is shared with what planned the lists. Judged are each list as it is handed over (in order, each
piece once, on tube that is there, its promises kept), what is bought on the way, and that no millimetre is lost.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from small_jobs import packs
from staged_builds import (
    HALF,
    MOST,
    Build,
    Event,
    F,
    JudgedError,
    Known,
    Piece,
    drawn,
    followed,
    in_order,
    pieces_landed_on,
    prepared,
    stage_of,
)

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Settings, Source
from cutplan.plan import Plan, Prepared, StockError, complaints, length_complaints, make_plan
from cutplan.plan.model import TubePlan
from cutplan.plan.recut.rest import recut
from cutplan.plan.recut.ticks import Tick


def least_to_buy(
    needs: Sequence[Fraction], rooms: Sequence[Fraction], sold: Sequence[tuple[Fraction, Decimal, int]], known: Known
) -> Decimal | None:
    """The least cost of bars (room with a kerf, price, how many) that hold with ``rooms`` what is needed."""
    bought = sorted(
        (sum((price * n for (_, price, _), n in zip(sold, counts, strict=True)), Decimal(0)), counts)
        for counts in itertools.product(*[range(min(most, len(needs)) + 1) for _, _, most in sold])
    )
    for cost, counts in bought:
        new = [room for (room, _, _), n in zip(sold, counts, strict=True) for _ in range(n)]
        if sum(rooms) + sum(new) >= sum(needs) and packs(needs, (*rooms, *new), known):
            return cost
    return None


def play(seed: int, most: int = MOST) -> Counter[str]:
    """One build of up to ``most`` blanks to its end; what was met on the way. Raises JudgedError where something is
    wrong."""
    build = drawn(seed, most)
    now = prepared(build.job)
    try:
        plan = make_plan(now.job, now.blanks)
    except StockError:
        return Counter({"not enough stock": 1})
    plan = replace(plan, source=now.source)
    _note_ranges(build, now)
    _first_floor(build, plan)
    _judge_first_cost(build, plan, now)
    for _ in range(60):
        judge_list(build, plan, now)
        after = _go_on(build, plan)
        if after is None:
            build.seen["built to the end"] += 1
            return build.seen
        plan, now = after
    raise JudgedError("it never ends")


def judge_list(build: Build, plan: Plan, now: Prepared) -> None:
    """A list as it is handed over: in order, on tube that is there, each piece once, and what it promises is so."""
    if said := (*complaints(plan), *length_complaints(plan)):
        raise JudgedError(f"the check says: {said}")
    cuts = in_order(plan)
    wanted = Counter({blank.mark: blank.count for blank in now.blanks})
    if Counter(cut.mark for _, cut in cuts) + Counter(made.blank.mark for made in plan.made) != wanted:
        raise JudgedError("it is not each piece once")
    judge_order(build, plan)
    bars = {bar.name: bar for tube in plan.tubes for bar in tube.bars}
    there = {name: (piece.tube, piece.length) for name, piece in build.floor.items()}
    if {name: (bar.tube, bar.length) for name, bar in bars.items()} != there:
        raise JudgedError(f"its bars are not those on the floor: {bars.keys() ^ there.keys()} {there}")
    for tube in plan.tubes:
        _judge_promise(build, plan, tube)


def judge_order(build: Build, plan: Plan, *, soft: bool = True) -> None:
    """No cut before its stage, and nothing estimated before what it is to be measured against; ``soft``: nor, where
    that costs nothing, any other before what it lands on."""
    members = build.job.members
    of_piece = {mark: one for one in members for mark in one.marks}
    guessed = {blank.mark for blank in plan.blanks if blank.estimated}
    any_order = any(tube.spares.fitted is Fitted.ONE_AT_A_TIME for tube in plan.tubes)
    if not guessed and all(one.stage is None for one in members):
        return
    reached = 0
    to_come = Counter(cut.mark for _, cut in in_order(plan))
    for _, cut in in_order(plan):
        one = of_piece[cut.mark]
        to_come[cut.mark] -= 1
        if stage_of(one, members) < reached:
            raise JudgedError(f"{cut.mark} is cut after its stage")
        reached = stage_of(one, members)
        onto = pieces_landed_on(one, members)
        if cut.mark in guessed and any(to_come[mark] for mark in onto):
            raise JudgedError(f"{cut.mark} is to be measured against what is not cut yet")
        if soft and not any_order and any(to_come[mark] for mark in onto - guessed):
            raise JudgedError(f"{cut.mark} comes before what it lands on, and need not")


def _judge_promise(build: Build, plan: Plan, tube: TubePlan) -> None:
    """Whatever is promised of mistakes is there, by trying every place."""
    settings, kerf = build.job.settings, build.job.settings.kerf
    blanks = plan.by_mark()
    rooms = {bar.name: build.floor[bar.name].room(settings) + kerf for bar in tube.bars}
    cuts = [(name, cut) for name, cut in in_order(plan) if name in rooms]
    if any(sum(c.blank + kerf for n, c in cuts if n == name) > room for name, room in rooms.items()):
        raise JudgedError(f"more on a bar of {tube.tube} than it yields")
    insured = [blanks[mark].length + kerf for mark in tube.spares.insured]
    if tube.spares.fitted is Fitted.AFTER_ALL:
        for name, cut in cuts:
            rooms[name] -= cut.blank + kerf
        if insured and not packs([max(insured)] * tube.spares.wanted, [*rooms.values()], build.known):
            raise JudgedError(f"{tube.tube}: no room for {tube.spares.wanted} spares")
        build.seen["lists with spares after all"] += bool(tube.spares.wanted)
        return
    for at, (name, cut) in enumerate(cuts):
        rooms[name] -= cut.blank + kerf
        if cut.mark not in tube.spares.insured:
            continue
        blank = blanks[cut.mark]
        good = F(0) if blank.bends else max(blank.least - max(settings.salvage, kerf + F(1, 10)), F(0))
        spoilt = Piece(tube.tube, good, F(0), F(0)).room(settings)
        need = [later.blank + kerf for _, later in cuts[at:]]
        if not packs(need, [*rooms.values(), spoilt + kerf], build.known):
            raise JudgedError(f"{tube.tube}: cut {cut.number} spoilt cannot be made good")
    build.seen["lists one at a time"] += 1


def _note_ranges(build: Build, now: Prepared) -> None:
    build.ranges = {blank.mark: (blank.least, blank.length) for blank in now.blanks if blank.estimated}
    build.seen["estimates"] += len(build.ranges)


def _first_floor(build: Build, plan: Plan) -> None:
    trim = build.job.settings.end_trim
    for bar in (bar for tube in plan.tubes for bar in tube.bars):
        own = trim if bar.source is Source.BUY else F(0)
        build.floor[bar.name] = Piece(bar.tube, bar.length, own, own)
    lying: Counter[tuple[str, Fraction]] = Counter()
    for row in (row for row in build.job.stock if row.source is Source.RACK):
        lying[row.tube, row.length] += row.available or 0
    used = {tube.tube for tube in plan.tubes}
    here = Counter((bar.tube, bar.length) for tube in plan.tubes for bar in tube.bars if bar.source is Source.RACK)
    if here != Counter({key: n for key, n in lying.items() if key[0] in used}):
        raise JudgedError("the rack is not what it was")
    build.promised = {tube.tube: _promise(tube) for tube in plan.tubes}


def _promise(tube: TubePlan) -> tuple[int, Fraction]:
    return (tube.spares.wanted, tube.spares.length)


def _rows(build: Build, plan: Plan, tube: str) -> list[tuple[Fraction, Decimal, int]]:
    """What is for sale: room with a kerf, price (length where there is none), how many."""
    settings = plan.job.settings
    rows = []
    for row in (row for row in plan.job.stock if row.tube == tube and row.source is Source.BUY):
        room = Piece(tube, row.length, settings.end_trim, settings.end_trim).room(settings)
        price = Decimal(float(row.length)) if row.price is None else row.price
        if room:
            rows.append((room + settings.kerf, price, 99 if row.available is None else row.available))
    return rows


def _judge_first_cost(build: Build, plan: Plan, now: Prepared) -> None:
    """After all cuts, the order costs the least that holds every greatest length and the spares."""
    settings = build.job.settings
    for tube in plan.tubes:
        longest = max((b.length for b in now.blanks if b.tube == tube.tube and b.insured), default=F(0))
        spares = [longest] * settings.spares if longest else []
        needs = [b.length for b in now.blanks if b.tube == tube.tube for _ in range(b.count)]
        rooms = [build.floor[bar.name].room(settings) + settings.kerf for bar in tube.bars if bar.source is Source.RACK]
        sold = _rows(build, plan, tube.tube)
        with_spares = [length + settings.kerf for length in (*needs, *spares)]
        most = least_to_buy(with_spares, rooms, sold, build.known)
        if settings.fitted is Fitted.AFTER_ALL and tube.cost != most:
            raise JudgedError(f"{tube.tube} costs {tube.cost}, the least is {most}")
        if most is not None and tube.cost > most:
            raise JudgedError(f"{tube.tube} one at a time costs {tube.cost}, after all cuts {most}")


def _go_on(build: Build, plan: Plan) -> tuple[Plan, Prepared] | None:
    event = followed(build, plan)
    now = prepared(event.job)
    _judge_measured(build, now)
    changed = event.job != build.job
    build.job = event.job
    ticks = [*event.ticks.values()]
    expected, new = _floor_after(build, plan, ticks, now if changed else None)
    due = _still_due(plan, ticks, now)
    try:
        result = recut(plan, ticks, now=now if changed else None)
    except StockError:
        if not event.grown:
            raise JudgedError("tube is short, and nothing was asked for beyond the plan") from None
        _judge_short(build, plan, expected, new, due)
        build.seen["short after growth"] += 1
        return None
    if any(not account.balanced for account in result.accounts):
        raise JudgedError("millimetres are missing")
    after = result.plan
    if after is None:
        if due:
            raise JudgedError("said to be all cut, and is not")
        return None
    _take_up(build, after, expected, new)
    _judge_cost(build, after, due, event)
    return after, now


def _judge_measured(build: Build, now: Prepared) -> None:
    """What was measured is within what was said of it."""
    for blank in now.blanks:
        least, most = build.ranges.get(blank.mark, (blank.least, blank.length))
        if not least <= blank.least <= blank.length <= most:
            raise JudgedError(f"{blank.mark} came out {float(blank.length)}, said {float(least)} to {float(most)}")


def _kept(piece: Piece, settings: Settings) -> bool:
    return piece.length > 0 and (piece.room(settings) > 0 or piece.length >= settings.keep)


def _floor_after(
    build: Build, plan: Plan, ticks: Sequence[Tick], now: Prepared | None
) -> tuple[dict[str, Piece], list[Piece]]:
    """What is on the floor after what was ticked: pieces that have a name, and new ones."""
    old = plan.job.settings
    shown = {tick.cut: tick for tick in ticks}
    floor = dict(build.floor)
    new: list[Piece] = []
    good: list[tuple[bool, bool, Blank, Fraction]] = []
    for made in plan.made:
        long = made.blank.length if made.sawn is None else made.sawn
        if shown[made.number].spoilt:
            new.append(Piece(made.blank.tube, _salvaged(made.blank, long, old), F(0), F(0)))
        else:
            good.append((made.fitted or shown[made.number].fitted, True, made.blank, long))
    blanks = plan.by_mark()
    for bar in (bar for tube in plan.tubes for bar in tube.bars):
        for cut in bar.cuts:
            tick, blank = shown[cut.number], blanks[cut.mark]
            if not (tick.done or tick.spoilt):
                continue
            piece = floor[bar.name]
            rest = piece.length - piece.near - blank.length
            floor[bar.name] = replace(piece, length=max(rest - old.kerf, F(0)), near=F(0), whole=False)
            if tick.spoilt:
                new.append(Piece(blank.tube, _salvaged(blank, blank.length, old), F(0), F(0)))
            else:
                good.append((tick.fitted, False, blank, blank.length))
    floor = {name: piece for name, piece in floor.items() if piece.whole or _kept(piece, old)}
    if now is not None:
        new += _sorted_out(build, good, now)
    return floor, [piece for piece in new if _kept(piece, old)]


def _salvaged(blank: Blank, long: Fraction, settings: Settings) -> Fraction:
    return F(0) if blank.bends else max(long - settings.salvage, F(0))


def _sorted_out(build: Build, good: list[tuple[bool, bool, Blank, Fraction]], now: Prepared) -> list[Piece]:
    """The pieces that become of sawn blanks which the job, as it is now, does not want as they are."""
    wanted = {blank.mark: blank for blank in now.blanks}
    due = Counter({blank.mark: blank.count for blank in now.blanks})
    settings, pieces, stay = now.job.settings, [], []
    for fitted, _, blank, long in sorted(good, key=lambda one: (not one[0], not one[1])):
        new = wanted.get(blank.mark)
        if new is not None and due[blank.mark] and (fitted or new.length <= long):
            due[blank.mark] -= 1
            stay.append((fitted, blank, long, new))
        elif not blank.bends and not fitted:
            sound = long - F(blank.end_a.throat) - F(blank.end_b.throat)
            pieces.append(Piece(blank.tube, sound // HALF * HALF, F(0), F(0)))
    for fitted, blank, long, new in stay:
        if fitted or new.estimated or long == new.length:
            continue
        off = (long - new.length - settings.kerf - F(blank.end_a.throat) - F(blank.end_b.throat)) // HALF * HALF
        least = min((wanted[m].length for m in +due if wanted[m].tube == blank.tube), default=settings.keep)
        if off >= min(least, settings.keep):
            pieces.append(Piece(blank.tube, off, F(0), F(0)))
    return pieces


def _still_due(plan: Plan, ticks: Sequence[Tick], now: Prepared) -> list[Blank]:
    """The pieces still to cut, one by one."""
    shown = {tick.cut: tick for tick in ticks}
    had: Counter[str] = Counter()
    wanted = {blank.mark: blank for blank in now.blanks}
    for number, blank, long, is_fitted in (
        *((m.number, m.blank, m.blank.length if m.sawn is None else m.sawn, m.fitted) for m in plan.made),
        *((c.number, plan.by_mark()[c.mark], c.blank, False) for _, c in in_order(plan)),
    ):
        tick = shown[number]
        good = not tick.spoilt and (tick.done or number in {m.number for m in plan.made})
        if good and blank.mark in wanted and (is_fitted or tick.fitted or wanted[blank.mark].length <= long):
            had[blank.mark] += 1
    return [blank for blank in now.blanks for _ in range(blank.count - min(had[blank.mark], blank.count))]


def _take_up(build: Build, after: Plan, expected: dict[str, Piece], new: Sequence[Piece]) -> None:
    """The new list's bars are those expected, the new pieces under new names, and what is to be bought."""
    floor = dict(expected)
    unnamed = Counter((piece.tube, piece.length) for piece in new)
    trim = build.job.settings.end_trim
    for bar in (bar for tube in after.tubes for bar in tube.bars):
        if bar.name in floor:
            continue
        if bar.source is Source.BUY:
            floor[bar.name] = Piece(bar.tube, bar.length, trim, trim)
        elif unnamed[bar.tube, bar.length]:
            unnamed[bar.tube, bar.length] -= 1
            floor[bar.name] = Piece(bar.tube, bar.length, F(0), F(0), whole=False)
        else:
            raise JudgedError(f"bar {bar.name}, {float(bar.length)} of {bar.tube}, comes from nowhere")
    if +unnamed:
        raise JudgedError(f"lost: {+unnamed}")
    build.floor = floor


def _judge_cost(build: Build, after: Plan, due: Sequence[Blank], event: Event) -> None:
    """Nothing is bought that need not be, nothing at all where nothing was asked for beyond the plan; and what was
    promised and not used up is promised still."""
    settings = build.job.settings
    if after.buy and not event.grown:
        raise JudgedError(f"to buy: {after.buy}")
    cost = Decimal(0)
    for tube in after.tubes:
        needs = [blank.length + settings.kerf for blank in due if blank.tube == tube.tube]
        rooms = [build.floor[bar.name].room(settings) + settings.kerf for bar in tube.bars if bar.source is Source.RACK]
        least = least_to_buy(needs, rooms, _rows(build, after, tube.tube), build.known)
        if tube.cost != least:
            raise JudgedError(f"{tube.tube}: {tube.cost} more is bought, the least is {least}")
        cost += tube.cost
        owed = [b.length for b in due if b.tube == tube.tube and b.insured]
        if settings.fitted is Fitted.AFTER_ALL:
            owed += [
                m.blank.length for m in after.made if m.blank.tube == tube.tube and m.blank.insured and not m.fitted
            ]
        _judge_spares(build, tube, sorted(owed), needs, rooms, after, event)
    build.seen["bought after growth"] += bool(cost)


def _judge_spares(
    build: Build,
    tube: TubePlan,
    owed: Sequence[Fraction],
    needs: Sequence[Fraction],
    rooms: Sequence[Fraction],
    after: Plan,
    event: Event,
) -> None:
    settings, kerf = build.job.settings, build.job.settings.kerf
    wanted, length = build.promised.get(tube.tube, (0, F(0)))
    wanted -= event.spoilt[tube.tube]
    covered = [one for one in owed if one <= length]
    if covered and wanted > 0 and not event.grown:
        least = covered[-1]
        if tube.spares.wanted < wanted or tube.spares.length < least:
            raise JudgedError(
                f"{tube.tube}: {wanted} of {float(least)} promised, "
                f"now {tube.spares.wanted} of {float(tube.spares.length)}"
            )
    build.promised[tube.tube] = _promise(tube)
    if tube.spares.fitted is Fitted.AFTER_ALL and owed:
        sold = _rows(build, after, tube.tube)
        free = [
            count
            for count in range(settings.spares + 1)
            if least_to_buy([*needs, *[owed[-1] + kerf] * count], rooms, sold, build.known) == tube.cost
        ]
        if settings.fitted is Fitted.AFTER_ALL and max(free) and tube.spares.wanted != max(free):
            raise JudgedError(f"{tube.tube}: {tube.spares.wanted} spares kept, {max(free)} cost no more")


def _judge_short(
    build: Build, plan: Plan, floor: Mapping[str, Piece], new: Sequence[Piece], due: Sequence[Blank]
) -> None:
    """Tube is said to be short: no bars for sale and in hand hold what is still due."""
    settings = build.job.settings
    bought = Counter((bar.tube, bar.length) for tube in plan.tubes for bar in tube.bars if bar.source is Source.BUY)
    for tube in {blank.tube for blank in due}:
        needs = [blank.length + settings.kerf for blank in due if blank.tube == tube]
        rooms = [p.room(settings) + settings.kerf for p in (*floor.values(), *new) if p.tube == tube]
        sold = [
            (room, price, most if most == 99 else max(most - bought[tube, row.length], 0))
            for (room, price, most), row in zip(
                _rows(build, plan, tube),
                [row for row in plan.job.stock if row.tube == tube and row.source is Source.BUY],
                strict=False,
            )
        ]
        if least_to_buy(needs, rooms, sold, build.known) is None:
            return
    raise JudgedError("said to be short, but it can be had")
