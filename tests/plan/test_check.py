"""The check of a plan: a good plan altered in many ways, one at a time, each caught in words that say what is wrong."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache

import pytest
from small_jobs import SQUARE, bars, blank, job, rack

from cutplan.geometry import lay_out
from cutplan.geometry.model import EndShape
from cutplan.job.model import INCH, Cut, Settings, Source, StockRow, Units
from cutplan.plan import complaints, make_plan
from cutplan.plan.model import Bar, Made, Plan, Recovery, SawCut, TubePlan
from cutplan.plan.verify.proof import length_complaints

F = Fraction
Change = Callable[[Plan], Plan]


@cache
def good() -> Plan:
    """Two tubes, one with a rack piece and a pair of shared mitres; one spare of each.

    T: bar 1 is STAY-L 1400, STAY-R 1400 (3 m at 30.50), bar 2 is TIE 900 (3 m); bar 3 is the rack's 300.
    U: bar 4 is two of BRACE 600 that share a mitre (1.5 m at 9.25), bar 5 another for the spare.
    """
    mitre = EndShape(Cut.MITRE, 40.0, 45.0)
    wanted = [
        blank("STAY-L", 1400),
        blank("STAY-R", 1400),
        blank("TIE", 900),
        blank("BRACE", 600, 2, tube="U", ends=(SQUARE, mitre)),
    ]
    stock = [bars(3000, "30.50", 2), rack(300, 1, "R7"), bars(1500, "9.25", tube="U")]
    rules = Settings(kerf=F(2), end_trim=F(5), saw_hold=F(60), spares=1, share_mitres=True)
    return make_plan(job(stock, wanted, rules), wanted)


def test_the_good_plan_is_good() -> None:
    """What the mutations start from is as described, and has nothing wrong with it."""
    plan = good()
    laid = [[(bar.name, [cut.mark for cut in bar.cuts], bar.spares) for bar in tube.bars] for tube in plan.tubes]
    assert laid == [
        [("1", ["STAY-L", "STAY-R"], 0), ("2", ["TIE"], 1), ("3", [], 0)],
        [("4", ["BRACE", "BRACE"], 0), ("5", [], 1)],
    ]
    assert [cut.shared for cut in plan.tubes[1].bars[0].cuts] == [False, True]
    assert complaints(plan) == ()


def tube(number: int, /, **changes: object) -> Change:
    """Alter one tube's plan."""

    def change(plan: Plan) -> Plan:
        tubes = list(plan.tubes)
        tubes[number] = replace(tubes[number], **changes)  # type: ignore[arg-type]
        return replace(plan, tubes=tuple(tubes))

    return change


def on_tube(number: int, alter: Callable[[TubePlan], TubePlan]) -> Change:
    """Alter one tube's plan by what it holds."""
    return lambda plan: replace(plan, tubes=tuple(alter(t) if i == number else t for i, t in enumerate(plan.tubes)))


def on_bar(name: int, alter: Callable[[Bar], Bar]) -> Change:
    """Alter one bar."""
    return lambda plan: replace(
        plan,
        tubes=tuple(replace(t, bars=tuple(alter(b) if b.name == str(name) else b for b in t.bars)) for t in plan.tubes),
    )


def bar(name: int, /, **changes: object) -> Change:
    """Alter one bar's fields."""
    return on_bar(name, lambda old: replace(old, **changes))  # type: ignore[arg-type]


def on_cut(number: int, alter: Callable[[SawCut], SawCut]) -> Change:
    """Alter one cut."""

    def change(plan: Plan) -> Plan:
        for name in range(1, 6):
            plan = on_bar(
                name, lambda old: replace(old, cuts=tuple(alter(c) if c.number == number else c for c in old.cuts))
            )(plan)
        return plan

    return change


def cut(number: int, /, **changes: object) -> Change:
    """Alter one cut's fields."""
    return on_cut(number, lambda old: replace(old, **changes))  # type: ignore[arg-type]


def shifted(number: int, by: Fraction) -> Change:
    """Move one cut along its bar."""
    return on_cut(number, lambda old: replace(old, start=old.start + by, end=old.end + by, left=old.left - by))


def spares(number: int, /, **changes: object) -> Change:
    """Alter what one tube's spares promise."""
    return on_tube(number, lambda old: replace(old, spares=replace(old.spares, **changes)))  # type: ignore[arg-type]


def reversed_cuts(old: Bar) -> Bar:
    return replace(old, cuts=old.cuts[::-1])


def without_kerf(old: Bar) -> Bar:
    """The second cut starts where the first ends, and all that follows is reported accordingly."""
    first, second = old.cuts
    second = replace(second, start=first.end, end=first.end + second.blank, left=second.left + 2)
    return replace(old, cuts=(first, second), offcut=old.offcut + 2, usable=old.usable + 2)


def renumbered(plan: Plan) -> Plan:
    """The numbers of bar 1's two cuts change places: the saw would cut the far one first."""
    return on_bar(1, lambda old: replace(old, cuts=(replace(old.cuts[0], number=2), replace(old.cuts[1], number=1))))(
        plan
    )


def swapped_marks(plan: Plan) -> Plan:
    """STAY-R and TIE, of unlike lengths, change marks."""
    return cut(3, mark="STAY-R")(cut(2, mark="TIE")(plan))


def shaved(plan: Plan) -> Plan:
    """TIE is cut 1 mm short, and its bar altered to match."""
    plan = on_cut(3, lambda old: replace(old, blank=old.blank - 1, end=old.end - 1, left=old.left + 1))(plan)
    return on_bar(2, lambda old: replace(old, offcut=old.offcut + 1, usable=old.usable + 1))(plan)


def moved_tube(plan: Plan) -> Plan:
    """A BRACE of tube U is cut from a bar of tube T instead."""
    brace = replace(plan.tubes[1].bars[0].cuts[0], if_spoilt=None)
    plan = on_bar(4, lambda old: replace(old, cuts=old.cuts[1:]))(plan)
    return on_bar(3, lambda old: replace(old, cuts=(brace,)))(plan)


def blanks(change: Callable[[tuple[object, ...]], tuple[object, ...]]) -> Change:
    """Alter the blanks that are wanted."""
    return lambda plan: replace(plan, blanks=change(plan.blanks))  # type: ignore[arg-type]


def stock(alter: Callable[[StockRow], StockRow]) -> Change:
    """Alter the job's stock under the plan."""
    return lambda plan: replace(plan, job=replace(plan.job, stock=tuple(alter(row) for row in plan.job.stock)))


def rules(**changes: object) -> Change:
    """Alter the job's settings under the plan."""
    return lambda plan: replace(
        plan,
        job=replace(plan.job, settings=replace(plan.job.settings, **changes)),  # type: ignore[arg-type]
    )


def plan_of(**changes: object) -> Change:
    """Alter the plan itself."""
    return lambda plan: replace(plan, **changes)  # type: ignore[arg-type]


def line(number: int, /, **changes: object) -> Change:
    """Alter a line of the buy list."""
    return lambda plan: replace(
        plan,
        buy=tuple(replace(one, **changes) if i == number else one for i, one in enumerate(plan.buy)),  # type: ignore[arg-type]
    )


MUTATIONS: dict[str, tuple[Change, str]] = {
    # The cuts.
    "two marks swapped": (swapped_marks, r"cut 2: its length is not that of the blank TIE"),
    "a mark cut twice, another not at all": (cut(2, mark="STAY-L"), r"STAY-R: 1 wanted, 0 cut"),
    "a mark that is in no member": (cut(3, mark="GHOST"), r"GHOST: is cut, but is not in any member"),
    "a cut left out": (on_bar(2, lambda old: replace(old, cuts=())), r"TIE: 1 wanted, 0 cut"),
    "a cut made twice": (on_bar(2, lambda old: replace(old, cuts=old.cuts * 2)), r"TIE: 1 wanted, 2 cut"),
    "a blank shaved": (shaved, r"cut 3: its length is not that of the blank TIE"),
    "a blank's end moved": (
        on_cut(3, lambda old: replace(old, end=old.end - 1)),
        r"cut 3: its end minus its start is not the length of its blank",
    ),
    "a kerf dropped": (on_bar(1, without_kerf), r"cut 2: starts at 1400 mm, not at 1402"),
    "a gap left": (shifted(2, F(1)), r"cut 2: starts at 1403 mm, not at 1402"),
    "a cut past the bar's end": (shifted(3, F(2100)), r"bar 2: its cuts need 3000 mm, but only 2930"),
    "a cut before the bar's start": (shifted(1, F(-3)), r"cut 1: starts at -3 mm, not at 0"),
    "what is left, misread": (cut(1, left=F(1594)), r"cut 1: 1593 mm must be left, not 1594"),
    "cuts in the wrong order on the bar": (on_bar(1, reversed_cuts), r"cut 2: starts at 1402 mm, not at 0"),
    "numbers swapped along a bar": (renumbered, r"bar 1: its cuts are not numbered in the order they are made"),
    "one number twice along a bar": (cut(2, number=1), r"bar 1: its cuts are not numbered in the order they are made"),
    "a number used twice": (cut(2, number=1), r"the cuts are not numbered 1 to the last"),
    "a number skipped": (cut(5, number=9), r"the cuts are not numbered 1 to the last"),
    "a blank cut from another tube": (moved_tube, r"cut 4: BRACE is of U, bar 3 of T"),
    # Shared mitres.
    "a shared mitre denied": (cut(5, shared=False), r"cut 5: starts at 562.9 mm, not at 602"),
    "a blank turned end for end": (cut(5, flipped=False), r"cut 5: starts at 562.9 mm, not at 602"),
    "square ends said to share a cut": (
        lambda plan: cut(2, shared=True)(shifted(2, F("-39.1"))(plan)),
        r"cut 2: starts at 1362.9 mm, not at 1402",
    ),
    "a first blank that shares with none": (cut(4, shared=True), r"cut 4: said to share its leading mitre"),
    "a mitre shared with a square end": (cut(2, shared=True), r"cut 2: said to share its leading mitre"),
    "a mitre shared in a job that does not share": (rules(share_mitres=False), r"cut 5: starts at 562.9"),
    # The bars.
    "a bar named twice": (bar(2, name="1"), r"bar 1 is listed 2 times"),
    "a bar that is not in the stock": (bar(2, length=F(3500)), r"bar 2: no such bar in the Stock sheet"),
    "a bar bought under its price": (bar(2, price=Decimal("29.50")), r"bar 2: no such bar in the Stock sheet"),
    "a bar passed off as the rack's": (bar(2, source=Source.RACK), r"bar 2: no such bar in the Stock sheet"),
    "a rack piece under another label": (bar(3, label="R8"), r"bar 3: no such bar in the Stock sheet"),
    "a rack piece counted twice": (
        on_tube(0, lambda old: replace(old, bars=(*old.bars, replace(old.bars[2], name="6")))),
        r"T: 2 bars of one kind \(.*\) used, 1 available",
    ),
    "a bar of another tube": (bar(2, tube="U"), r"bar 2: no such bar in the Stock sheet"),
    "an end trim forgotten": (bar(2, end_trim=F(0)), r"bar 2: its end trim is not that of its stock"),
    "a longer offcut": (bar(2, offcut=F(2100)), r"bar 2: its offcut is 2093 mm, not 2100"),
    "the saw hold counted as tube to cut": (bar(2, usable=F(2093)), r"bar 2: 2028 mm can still be cut, not 2093"),
    "fewer bars to be had": (
        stock(lambda row: replace(row, available=1)),
        r"T: 2 bars of one kind \(.*\) used, 1 available",
    ),
    "a thicker blade": (rules(kerf=F(3)), r"cut 2: starts at 1402 mm, not at 1403"),
    # The spares.
    "a spare that has no room": (
        lambda plan: bar(1, spares=1)(bar(2, spares=0)(plan)),
        r"bar 1: 1 spares promised, but they do not fit",
    ),
    "more spares than there is room for": (
        spares(0, wanted=3),
        r"T: 3 spares of 1400 mm promised, but there is room for 1",
    ),
    "a longer spare than there is room for": (
        spares(0, length=F(2500)),
        r"T: 1 spares of 2500 mm promised, but there is room for 0",
    ),
    "a spare on no bar": (bar(2, spares=0), r"T: the spares on its bars are not 1"),
    "a spare on a bar where none is promised": (
        spares(0, wanted=0, length=F(0), insured=(), not_insured=("STAY-L", "STAY-R", "TIE")),
        r"T: the spares on its bars are not 0",
    ),
    "a member said to be insured": (
        lambda plan: spares(0, length=F(900))(plan),
        r"STAY-L: is said to be insured, but is not",
    ),
    "an insured member denied": (spares(0, insured=("STAY-L", "TIE")), r"STAY-R: is said to be not insured"),
    "a member in both lists": (spares(0, not_insured=("TIE",)), r"TIE: is in the wrong list of the spares"),
    "a member insured that is none": (
        spares(0, insured=("STAY-L", "STAY-R", "TIE", "GHOST")),
        r"GHOST: is listed as insured or not, but is not a blank of T",
    ),
    "a member insured twice": (
        spares(0, insured=("STAY-L", "STAY-R", "TIE", "TIE")),
        r"TIE: .* is listed twice",
    ),
    # If a cut is spoilt.
    "a replacement denied": (cut(1, if_spoilt=None), r"cut 1: an offcut could replace it, but none is named"),
    "a replacement from a bar too short": (cut(1, if_spoilt=Recovery("3", "")), r"cut 1: bar 3 cannot replace it"),
    "a replacement from no bar": (cut(1, if_spoilt=Recovery("8", "")), r"cut 1: bar 8 cannot replace it"),
    "a replacement from another tube": (cut(4, if_spoilt=Recovery("2", "")), r"cut 4: bar 2 cannot replace it"),
    "a longer offcut than need be": (
        lambda plan: bar(3, length=F(1200), offcut=F(1200), usable=F(1138))(
            stock(lambda row: replace(row, length=F(1200)) if row.label == "R7" else row)(plan)
        ),
        r"cut 3: a shorter offcut than bar 2's would replace it",
    ),
    "another bar named in the words": (
        cut(1, if_spoilt=Recovery("2", "from what is left of bar 1")),
        r"cut 1: its text, 'from what is left of bar 1', does not name bar 2",
    ),
    "no bar named in the words": (
        cut(1, if_spoilt=Recovery("2", "buy")),
        r"cut 1: its text, 'buy', does not name bar 2",
    ),
    "a bar to turn to that is none": (
        cut(1, if_spoilt=Recovery("2", "from bar 2, then bar 9", following=("9",))),
        r"cut 1: bar 9 cannot replace it",
    ),
    "a bar to turn to twice": (
        cut(1, if_spoilt=Recovery("2", "from bar 2, then bar 2", following=("2",))),
        r"cut 1: a bar is listed twice",
    ),
    # The money.
    "a tube too cheap": (tube(0, cost=Decimal(60), bound=Decimal(60)), r"T: costs 61.00, not 60"),
    "a tube said to have no prices": (tube(0, priced=False), r"T: said to have no prices"),
    "a length passed off as money": (
        tube(0, priced=False, cost=Decimal(6000), bound=Decimal(6000)),
        r"T: said to have no prices",
    ),
    "a bound below zero": (tube(0, bound=Decimal(-1), proven=False), r"T: a bound of -1 is below zero"),
    "a bound above the cost": (tube(0, bound=Decimal(62)), r"T: a bound of 62 is above its cost 61"),
    "a proof that is none": (tube(0, bound=Decimal(60)), r"T: said to be proven, but its bound 60"),
    "a plan too cheap": (plan_of(cost=Decimal(70)), r"the plan's cost 70 is not the sum"),
    "a bound out of the air": (plan_of(bound=Decimal(70)), r"the plan's bound 70 is not the sum"),
    "a proof denied": (plan_of(proven=False), r"the plan is marked as proven but not every tube is"),
    "a bar not on the buy list": (line(0, count=1, cost=Decimal("30.50")), r"the buy list does not match the bars"),
    "a line twice on the buy list": (
        lambda plan: replace(plan, buy=plan.buy + plan.buy[:1]),
        r"the buy list does not match the bars",
    ),
    "a line of nothing on the buy list": (
        lambda plan: replace(plan, buy=(*plan.buy, replace(plan.buy[0], length=F(9), count=0, cost=Decimal(0)))),
        r"the buy list does not match the bars",
    ),
    "a line added up wrong": (line(0, cost=Decimal(60)), r"the buy list: 2 × 30.50 is not 60"),
    # The whole.
    "a tube forgotten": (lambda plan: replace(plan, tubes=plan.tubes[:1]), r"BRACE: 2 wanted, 0 cut"),
    "a bar without a name": (bar(3, name=" "), r"T: a bar has no name"),
    "a tube in two halves": (
        lambda plan: replace(
            plan,
            tubes=(
                replace(plan.tubes[0], bars=plan.tubes[0].bars[:1]),
                replace(plan.tubes[0], bars=plan.tubes[0].bars[1:]),
                *plan.tubes[1:],
            ),
        ),
        r"T is listed 2 times among the tubes",
    ),
    "a tube twice": (lambda plan: replace(plan, tubes=plan.tubes + plan.tubes[1:]), r"BRACE: 2 wanted, 4 cut"),
    "a member forgotten": (blanks(lambda old: old[1:]), r"STAY-L: is cut, but is not in any member"),
    "a blank wanted twice over": (blanks(lambda old: old + old[:1]), r"STAY-L: is listed 2 times among the blanks"),
    "one more of a member wanted": (
        blanks(lambda old: (replace(old[0], count=2), *old[1:])),  # type: ignore[type-var]
        r"STAY-L: 2 wanted, 1 cut",
    ),
}


@pytest.mark.parametrize("name", MUTATIONS)
def test_every_alteration_is_caught(name: str) -> None:
    """A plan altered in one way is not believed, and the words name what was altered."""
    change, words = MUTATIONS[name]
    altered = change(good())
    assert altered != good()
    said = complaints(altered)
    assert any(re.search(words, text) for text in said), said


def test_bars_alike_but_for_their_trim() -> None:
    """Two rack pieces of one length without labels, one with its ends spoilt: neither is taken for the other."""
    stock = [rack(1000), replace(rack(1000), end_trim=F(20))]
    wanted = [blank("A", 980), blank("B", 950)]
    plan = make_plan(job(stock, wanted, Settings(kerf=F(2), spares=0)), wanted)
    assert complaints(plan) == ()
    swapped = replace(plan, job=replace(plan.job, stock=(stock[1], stock[1])))
    assert any("end trim" in text for text in complaints(swapped))


def test_lengths_in_inches_that_went_through_decimals() -> None:
    """A third of a millionth of a millimetre, as decimals of an inch lose it, is no complaint; a hundredth is."""
    wanted = [blank("A", INCH * F(1913, 32), 2)]
    plan = make_plan(job([bars(INCH * 240)], wanted, Settings(units=Units.IN, kerf=INCH / 16, spares=0)), wanted)

    def stretched(by: Fraction) -> Plan:
        return on_cut(1, lambda old: replace(old, blank=old.blank + by, end=old.end + by))(plan)

    assert complaints(stretched(F(1, 3 * 10**6))) == ()
    assert complaints(stretched(F(1, 100))) != ()


def measured() -> Plan:
    """Two square members whose blanks follow from their measured lengths, one of them made already."""
    measurements = job([bars(1000, "5")], [blank("A", 600, 2), blank("B", 300)], Settings(kerf=F(2), spares=0))
    wanted = lay_out(measurements).blanks
    one = replace(wanted[0], count=1)
    return replace(make_plan(measurements, wanted), blanks=(one, wanted[1]), made=(Made(4, one),))


def altered(number: int, /, **changes: object) -> Change:
    """Alter one blank that is wanted."""
    return blanks(lambda old: (*old[:number], replace(old[number], **changes), *old[number + 1 :]))  # type: ignore[type-var]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda plan: plan, ()),
        (blanks(lambda old: old[:1]), ("B: is a member of the job, but has no blank",)),
        (blanks(lambda old: (*old, blank("GHOST", 300))), ("GHOST: is not a member of the job",)),
        (
            altered(1, length=F(299)),
            ("B: a blank of 299 mm, but the job gives 300 mm",),
        ),
        (
            altered(0, count=2),
            ("A: 3 in the plan, 2 in the job",),
        ),
        (altered(1, note="other"), ("B: note: the plan does not match the job",)),
        (altered(1, end_b=replace(SQUARE, od=50.0)), ("B: end b: the plan does not match the job",)),
        (altered(1, parts=()), ("B: parts: the plan does not match the job",)),
        (altered(1, tube="U"), ("B: of U in the plan, of T in the job",)),
        (plan_of(made=()), ("A: 1 in the plan, 2 in the job",)),
    ],
)
def test_blanks_follow_from_the_measurements(change: Change, said: tuple[str, ...]) -> None:
    """A blank that the job's measurements do not give is reported, by mark, with both figures."""
    assert length_complaints(change(measured())) == said
