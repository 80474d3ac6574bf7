"""Fitted one at a time: hand-computed courses, the cost and every way out of small jobs held against brute force, and
the check of the new layouts."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from small_jobs import bars, blank, job, packs, rack
from wording import Worded

from cutplan.geometry.model import BendMark, Blank
from cutplan.job.model import Fitted, Settings, Source, StockRow
from cutplan.plan import StockError, complaints, make_plan
from cutplan.plan.model import SPOILT_PIECE, Plan, Recovery
from cutplan.plan.options import buying_options

F = Fraction
ONE = Settings(kerf=F(0), spares=1, fitted=Fitted.ONE_AT_A_TIME, salvage=F(50))
BEND = BendMark(1, 100.0, 100.0, 100.0, 50.0, 45.0, 60.0, 0.0)
STOCK = [bars(1300, "12"), bars(600, "7")]


def recoveries(plan: Plan) -> dict[str, Recovery | None]:
    """By mark, what is to be done if it is spoilt."""
    return {cut.mark: cut.if_spoilt for tube in plan.tubes for bar in tube.bars for cut in bar.cuts}


def test_a_spoilt_long_blank_serves_for_a_short_one() -> None:
    """1300 holds 600 and 300 and leaves 400, too short for another 600. But 600 spoilt at once leaves 700 to cut it
    again and 550 for the 300: the second bar of 7 that room after all cuts needs is saved."""
    wanted = [blank("SHORT", 300), blank("LONG", 600)]
    plan = make_plan(job(STOCK, wanted, ONE), wanted)
    assert (plan.cost, plan.bound, plan.proven) == (Decimal(12), Decimal(12), True)
    (bar,) = plan.tubes[0].bars
    assert [(cut.number, cut.mark) for cut in bar.cuts] == [(1, "LONG"), (2, "SHORT")]
    assert recoveries(plan) == {
        "LONG": Recovery(
            "1", "from bar 1; then move SHORT to the spoilt piece", (("1", ("LONG",)), (SPOILT_PIECE, ("SHORT",)))
        ),
        "SHORT": Recovery("1", "from what is left of bar 1", (("1", ("SHORT",)),)),
    }
    assert plan.tubes[0].spares.fitted is Fitted.ONE_AT_A_TIME
    assert complaints(plan) == ()


@pytest.mark.parametrize(
    ("change", "settings"),
    [
        ({"bends": (BEND,)}, ONE),
        ({}, replace(ONE, salvage=F(301))),
        ({}, replace(ONE, spares=1, fitted=Fitted.AFTER_ALL)),
    ],
    ids=["bent", "too much lost", "after all cuts"],
)
def test_without_the_spoilt_piece_the_second_bar_is_bought(change: dict[str, object], settings: Settings) -> None:
    """A bent blank yields nothing, nor one of which too much is lost, nor one that shows to be spoilt too late."""
    wanted = [replace(blank("LONG", 600), **change), blank("SHORT", 300)]  # type: ignore[arg-type]
    plan = make_plan(job(STOCK, wanted, settings), wanted)
    assert (plan.cost, plan.proven) == (Decimal(19), True)
    assert plan.tubes[0].spares.fitted is Fitted.AFTER_ALL
    assert complaints(plan) == ()


def test_two_spares_keep_the_room_after_all_cuts() -> None:
    """Of two mistakes nothing less is promised than room for both when everything is cut."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    plan = make_plan(job(STOCK, wanted, replace(ONE, spares=2)), wanted)
    assert plan.cost == Decimal(24)
    assert (plan.tubes[0].spares.fitted, plan.tubes[0].spares.wanted) == (Fitted.AFTER_ALL, 2)


def test_a_given_spare_is_for_the_way_of_fitting_that_the_job_names_unless_another_is_given() -> None:
    """A buying option was priced for the job's way of fitting, and its plan keeps that."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    given = {"T": (1, F(600))}
    assert make_plan(job(STOCK, wanted, ONE), wanted, kept=given).cost == Decimal(12)
    assert make_plan(job(STOCK, wanted, replace(ONE, fitted=Fitted.AFTER_ALL)), wanted, kept=given).cost == Decimal(19)


def test_the_options_are_priced_for_the_way_of_fitting(as_worded: Worded) -> None:
    """One spare for the 600 costs no second bar here; two are kept as after all cuts, and need two bars more."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    options = buying_options(job(STOCK, wanted, ONE), wanted)
    assert [(o.cost, o.spares, o.fitted) for o in options] == [
        (Decimal(12), 1, Fitted.ONE_AT_A_TIME),
        (Decimal(24), 2, Fitted.AFTER_ALL),
    ]
    as_worded(*(option.covers for option in options))


def test_the_options_of_small_jobs_are_the_best_there_are() -> None:
    """25 seeded jobs: for each length that may be insured, one mistake costs the least of any bars, layout and order
    that survive it; an option is shown just where no other is as cheap and covers as much; and it can be followed."""
    seen: Counter[Fitted] = Counter()
    for seed in range(1000, 1025):
        stock, blanks, settings = small(seed)
        lengths = sorted({one.length for one in blanks if one.insured})
        want: dict[Decimal, int] = {}
        for length in (F(0), *lengths):
            held = [replace(one, insured=one.insured and one.length <= length) for one in blanks]
            cost = least(stock, held, settings)
            if cost is not None:
                want[cost] = max(want.get(cost, 0), sum(one.count for one in held if one.insured))
        small_job = job(stock, blanks, settings)
        if not want:
            with pytest.raises(StockError):
                buying_options(small_job, blanks)
            continue
        pieces = {one.mark: one.count for one in blanks if one.insured}
        best = 0
        expected = []
        for cost, cover in sorted(want.items()):
            if cover > best or not expected:
                expected.append((cost, cover))
            best = max(best, cover)
        reported: dict[int, Decimal] = {}
        for option in buying_options(small_job, blanks, most=1):
            reported.setdefault(sum(pieces.get(mark, 0) for mark in option.insured), option.cost)
            plan = make_plan(small_job, blanks, kept={tube: (count, length) for tube, count, length in option.kept})
            assert (plan.cost, plan.buy, complaints(plan)) == (option.cost, option.buy, ()), seed
            seen[option.fitted] += 1
        assert [(cost, cover) for cover, cost in reported.items()] == expected, seed
    assert min(seen.values()) > 4, seen


def test_what_nothing_could_replace_is_cut_first_and_named() -> None:
    """The uninsured hoop cannot be made good, so it is cut before anything else is spent; the stays can."""
    wanted = [blank("STAY", 400), blank("HOOP", 900, insured=False), blank("TAB", 100)]
    plan = make_plan(job([bars(1750, "10", 1), bars(400, "9")], wanted, ONE), wanted)
    assert plan.cost == Decimal(10)
    first = min((cut for bar in plan.tubes[0].bars for cut in bar.cuts), key=lambda cut: cut.number)
    assert (first.mark, first.if_spoilt) == ("HOOP", None)
    assert (plan.tubes[0].spares.insured, plan.tubes[0].spares.not_insured) == (("STAY", "TAB"), ("HOOP",))
    assert complaints(plan) == ()


def test_a_rack_too_short_for_room_after_all_cuts_may_serve_one_at_a_time() -> None:
    """Only one bar of 1300 is to be had: after all cuts it cannot keep room for the 600, one at a time it does."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    stock = [bars(1300, "12", 1)]
    with pytest.raises(StockError):
        make_plan(job(stock, wanted, replace(ONE, fitted=Fitted.AFTER_ALL)), wanted)
    assert make_plan(job(stock, wanted, ONE), wanted).cost == Decimal(12)
    with pytest.raises(StockError):
        make_plan(job([bars(1000, "12", 1)], wanted, ONE), wanted)


def with_way_out(plan: Plan, **change: object) -> Plan:
    """The plan with the way out of its first cut altered."""
    tube = plan.tubes[0]
    bar = tube.bars[0]
    first = bar.cuts[0]
    assert first.if_spoilt is not None
    altered = replace(first, if_spoilt=replace(first.if_spoilt, **change))  # type: ignore[arg-type]
    bar = replace(bar, cuts=(altered, *bar.cuts[1:]))
    return replace(plan, tubes=(replace(tube, bars=(bar, *tube.bars[1:])),))


@pytest.mark.parametrize(
    ("layout", "says"),
    [
        ((("1", ("LONG", "SHORT")),), "900 mm laid on 1, which gives 700"),
        (((SPOILT_PIECE, ("LONG",)), ("1", ("SHORT",))), "bar 1 is named, but LONG is not laid on it"),
        ((("1", ("LONG",)),), "the new layout is not what is left to cut"),
        ((("1", ("LONG",)), ("7", ("SHORT",))), "there is no such bar"),
        ((), "the new layout is not what is left to cut"),
    ],
)
def test_the_check_adds_up_every_new_layout(layout: tuple[tuple[str, tuple[str, ...]], ...], says: str) -> None:
    """A way out that does not fit, that forgets a piece or names no such bar is refused, whoever made it."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    plan = make_plan(job(STOCK, wanted, ONE), wanted)
    assert any(says in complaint for complaint in complaints(with_way_out(plan, layout=layout)))


def test_the_check_refuses_an_insured_cut_without_a_way_out(as_worded: Worded) -> None:
    """A plan may not call a mark insured, nor leave out one it was to insure, where a cut of it has no way out."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    plan = make_plan(job(STOCK, wanted, ONE), wanted)
    tube = plan.tubes[0]
    cuts = tuple(replace(cut, if_spoilt=None) for cut in tube.bars[0].cuts)
    bad = replace(plan, tubes=(replace(tube, bars=(replace(tube.bars[0], cuts=cuts),)),))
    said = complaints(bad)
    as_worded(*said)


# Brute force: every purchase by cost, every order of cuts on every bar, and for every mistake every packing.

Rooms = tuple[int, ...]
"""In tenths of a millimetre, as all here: whole numbers are added and compared many times faster than fractions."""
Item = tuple[int, int, int, bool]
"""A blank's stage, weight (its length and a kerf), what it yields when spoilt (0: nothing), whether it is insured."""


def tenths(mm: Fraction) -> int:
    """An exact length as a whole number."""
    assert (10 * mm).denominator == 1
    return int(10 * mm)


def survives(items: tuple[Item, ...], rooms: Rooms, known: dict[tuple[Rooms, Rooms], bool], dead: set[object]) -> bool:
    """Whether some order of cuts, stage by stage, survives one mistake at every insured cut, by trying them all."""
    if not items:
        return True
    key = (items, tuple(sorted(rooms)))
    if key in dead:
        return False
    for item in dict.fromkeys(one for one in items if one[0] == min(items)[0]):
        _, weight, salvage, insured = item
        at = items.index(item)
        rest = (*items[:at], *items[at + 1 :])
        need = [other[1] for other in rest]
        for place, room in enumerate(rooms):
            if room >= weight and room not in rooms[:place]:
                after = (*rooms[:place], room - weight, *rooms[place + 1 :])
                lives = packs([*need, weight], (*after, salvage), known) if insured else packs(need, after, known)
                if lives and survives(rest, after, known, dead):
                    return True
    dead.add(key)
    return False


def item_of(one: Blank, settings: Settings) -> Item:
    left = one.length - max(settings.salvage, settings.kerf + F(1, 10))
    spoilt = 0 if one.bends or left <= 0 else tenths(left + settings.kerf)
    return (one.stage, tenths(one.length + settings.kerf), spoilt, one.insured)


def least(stock: Sequence[StockRow], blanks: Sequence[Blank], settings: Settings) -> Decimal | None:
    """The least cost of bars on which some order of cuts survives; None: there are none. No end trim, no saw hold."""
    items = tuple(sorted(item_of(one, settings) for one in blanks for _ in range(one.count)))
    known: dict[tuple[Rooms, Rooms], bool] = {}
    needed = sum(item[1] for item in items)
    return cheapest(stock, settings.kerf, len(items), needed, lambda rooms: survives(items, rooms, known, set()))


def cheapest(
    stock: Sequence[StockRow], kerf: Fraction, most: int, needed: int, serves: Callable[[Rooms], bool]
) -> Decimal | None:
    """The least that can be paid for bars which, with those of the rack, serve; None: none do.

    Every choice of bars is tried, the cheapest first: of each kind up to one more than the ``most`` pieces. ``needed``:
    tenths of a mm that they must have in all, each bar a kerf more than its length.
    """
    racked = [
        tenths(row.length + kerf) for row in stock if row.source is Source.RACK for _ in range(row.available or 0)
    ]
    sold = [row for row in stock if row.source is Source.BUY]
    limits = [most + 1 if row.available is None else row.available for row in sold]
    bought = sorted(
        (sum((row.price or Decimal(0)) * n for row, n in zip(sold, counts, strict=True)), counts)
        for counts in itertools.product(*[range(n + 1) for n in limits])
    )
    for cost, counts in bought:
        new = [tenths(row.length + kerf) for row, n in zip(sold, counts, strict=True) for _ in range(n)]
        if sum(racked + new) >= needed and serves((*racked, *new)):
            return Decimal(cost)
    return None


def small(seed: int) -> tuple[list[StockRow], list[Blank], Settings]:
    """A job of up to six blanks, some bent, some not insured, some bars few."""
    dice = random.Random(seed)
    blanks = []
    for number in range(dice.randint(2, 4)):
        one = blank(f"P{number}", 10 * dice.randint(8, 60), dice.choice([1, 1, 2]), insured=dice.random() < 0.85)
        blanks.append(replace(one, bends=(BEND,)) if dice.random() < 0.15 else one)
    top = int(max(one.length for one in blanks))
    few = dice.choice([None, None, None, 2])
    stock = [bars(top + 10 * dice.randint(0, 60), str(dice.randint(8, 20)), few)]
    if dice.random() < 0.6:
        stock.append(bars(10 * dice.randint(20, 100), str(dice.randint(4, 14)), few))
    if dice.random() < 0.4:
        stock.append(rack(10 * dice.randint(10, 70), dice.choice([1, 2])))
    kerf, salvage = F(dice.choice([0, 2, 5])), F(dice.choice([0, 10, 50, 100]))
    return stock, blanks, replace(ONE, kerf=kerf, salvage=salvage)


def test_small_jobs_cost_the_least_there_is_and_every_case_survives() -> None:
    """60 seeded jobs: the cost is the least of any bars, layout and order that survive (proven, every time), and each
    insured cut of each plan survives by exhaustive packing, whatever its own new layout says."""
    seen: Counter[str] = Counter()
    for seed in range(60):
        stock, blanks, settings = small(seed)
        if not any(one.insured for one in blanks):
            continue
        want = least(stock, blanks, settings)
        try:
            plan = make_plan(job(stock, blanks, settings), blanks)
        except StockError:
            assert want is None, seed
            seen["cannot"] += 1
            continue
        assert (plan.cost, plan.bound, plan.proven) == (want, want, True), seed
        assert complaints(plan) == (), seed
        every_cut_survives(plan, stock)
        seen[plan.tubes[0].spares.fitted.value] += 1
    assert min(seen[Fitted.ONE_AT_A_TIME.value], seen[Fitted.AFTER_ALL.value]) > 10, seen
    assert seen["cannot"] > 0, seen


def every_cut_survives(plan: Plan, stock: Sequence[StockRow]) -> None:
    settings = plan.job.settings
    blanks = {one.mark: one for one in plan.blanks}
    rooms = {bar.name: tenths(bar.length + settings.kerf) for tube in plan.tubes for bar in tube.bars}
    cuts = sorted(
        ((cut, bar.name) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts),
        key=lambda pair: pair[0].number,
    )
    known: dict[tuple[Rooms, Rooms], bool] = {}
    for at, (cut, name) in enumerate(cuts):
        _, weight, salvage, insured = item_of(blanks[cut.mark], settings)
        rooms[name] -= weight
        need = [tenths(later.blank + settings.kerf) for later, _ in cuts[at:]]
        assert not insured or packs(need, (*rooms.values(), salvage), known), cut


def test_same_job_same_course() -> None:
    """The search counts its tries, not seconds: the same job has the same plan every time."""
    stock, blanks, settings = small(7)
    first = make_plan(job(stock, blanks, settings), blanks)
    assert make_plan(job(stock, blanks, settings), blanks) == first
