"""From a job to a plan: hand-computed bars, published priced stock, and every plan of random jobs held to the check."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_jobs import SQUARE, bars, blank, job, rack

from cutplan.geometry.model import Blank, EndShape
from cutplan.job.model import INCH, Cut, Job, Settings, Source, StockRow, Units
from cutplan.nesting import Packing, Status
from cutplan.plan import Limits, NoPlanInTimeError, StockError, complaints, make_plan
from cutplan.plan.model import Purchase
from cutplan.plan.planner import kept_by_default

F = Fraction


def test_a_bar_laid_out_by_hand() -> None:
    """Trim 5, kerf 2, hold 60: 3000, 2000 and 500 from a 6 m bar, long before short, each from where the blade left
    off; 6000 - 5 - 5506 is left, of which the far trim and the hold cannot be cut."""
    wanted = [blank("SHORT", 500), blank("LONG", 3000), blank("MID", 2000)]
    rules = Settings(kerf=F(2), end_trim=F(5), saw_hold=F(60), spares=0)
    plan = make_plan(job([bars(6000, "58.20")], wanted, rules), wanted)
    (bar,) = plan.tubes[0].bars
    assert [(cut.number, cut.mark, cut.start, cut.end, cut.left) for cut in bar.cuts] == [
        (1, "LONG", F(0), F(3000), F(2993)),
        (2, "MID", F(3002), F(5002), F(991)),
        (3, "SHORT", F(5004), F(5504), F(489)),
    ]
    assert (bar.offcut, bar.usable, bar.spares) == (F(489), F(424), 0)
    assert (plan.cost, plan.bound, plan.proven, plan.priced) == (Decimal("58.20"), Decimal("58.20"), True, True)
    assert plan.buy == (Purchase("T", F(6000), 1, Decimal("58.20"), Decimal("58.20")),)
    assert complaints(plan) == ()


def test_a_blank_that_fills_its_bar_to_the_end() -> None:
    """The last blank needs no cut behind it: 600 + 2 + 398 fill 1000, and nothing is left, not less than nothing."""
    wanted = [blank("A", 600), blank("B", 398)]
    plan = make_plan(job([bars(1000, "5")], wanted), wanted)
    (bar,) = plan.tubes[0].bars
    assert [cut.left for cut in bar.cuts] == [F(398), F(0)]
    assert (bar.offcut, bar.usable, plan.cost) == (0, 0, 5)


def test_bars_and_cuts_are_numbered_through_the_job() -> None:
    """Tubes in the order of their sheet, bars with the longest blanks first, kept rack pieces last in each tube."""
    wanted = [blank("B", 900, tube="B"), blank("A1", 600, tube="A"), blank("A2", 700, tube="A")]
    stock = [bars(1000, "5", tube="A"), rack(300, 1, "R1", tube="A"), bars(1000, "7", tube="B")]
    plan = make_plan(job(stock, wanted, Settings(spares=0)), wanted)
    laid = [[(bar.name, bar.label, [(cut.number, cut.mark) for cut in bar.cuts]) for bar in t.bars] for t in plan.tubes]
    assert laid == [
        [("1", "", [(1, "A2")]), ("2", "", [(2, "A1")]), ("3", "R1", [])],
        [("4", "", [(3, "B")])],
    ]
    assert [line.cost for line in plan.buy] == [Decimal(10), Decimal(7)]
    assert plan.cost == 17


def test_the_rack_goes_first_and_what_is_not_needed_of_it_is_named() -> None:
    """A rack piece that serves saves the money for a bar; the other one stands by to replace what is spoilt."""
    wanted = [blank("A", 600)]
    plan = make_plan(job([bars(1000, "5"), rack(700), rack(650)], wanted, Settings(spares=0)), wanted)
    used, kept = plan.tubes[0].bars
    assert (used.source, used.length, kept.length) == (Source.RACK, F(650), F(700))
    assert (plan.cost, plan.buy, kept.offcut, kept.usable) == (0, (), F(700), F(700))
    recovery = used.cuts[0].if_spoilt
    assert recovery is not None
    assert (recovery.bar, recovery.how) == (kept.name, f"from bar {kept.name}, kept whole")


def test_the_spare_kept_by_default() -> None:
    """As many of the longest insured blank as the job asks for; none where no member is insured."""
    wanted = [
        blank("HOOP", 900, insured=False),
        blank("STAY", 400),
        blank("TIE", 300),
        blank("U", 500, tube="U", insured=False),
    ]
    asked = job([bars(1000, "5"), bars(1000, "5", tube="U")], wanted, Settings(spares=2))
    assert kept_by_default(asked, wanted) == {"T": (2, F(400)), "U": (0, F(0))}
    spares = {tube.tube: tube.spares for tube in make_plan(asked, wanted).tubes}
    assert (spares["T"].wanted, spares["T"].length) == (2, F(400))
    assert (spares["T"].insured, spares["T"].not_insured) == (("STAY", "TIE"), ("HOOP",))
    assert (spares["U"].wanted, spares["U"].insured, spares["U"].not_insured) == (0, (), ("U",))


def test_more_spares_never_cost_less() -> None:
    """With one 600 a bar, each spare of it is a bar more."""
    wanted = [blank("A", 600)]
    asked = job([bars(1000, "5")], wanted)
    assert [make_plan(asked, wanted, kept={"T": (k, F(600))}).cost for k in range(4)] == [5, 10, 15, 20]


def test_stock_that_cannot_serve() -> None:
    """No plan is made, and what lacks is reported for each tube."""
    wanted = [blank("A", 600, 2)]
    with pytest.raises(StockError, match="the stock is not enough for this job: T: "):
        make_plan(job([bars(1000, "5", 1)], wanted), wanted)


def test_no_plan_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Time that runs out with nothing in hand is an error with a cure, not an empty plan."""
    monkeypatch.setattr("cutplan.plan.problem.pack", lambda *_, **__: Packing(Status.UNKNOWN))
    wanted = [blank("A", 600)]
    with pytest.raises(NoPlanInTimeError, match="--time-limit"):
        make_plan(job([bars(1000, "5")], wanted), wanted)


def test_two_facing_mitres_share_a_cut() -> None:
    """OD 40, two blanks of 500 with a 45° end each: mouth to mouth the second starts 2 - 39.1 after the first's end,
    so that both come out of 965 where 1002 would be needed; what is left is given from the second's tip."""
    mitre = EndShape(Cut.MITRE, 40.0, 45.0)
    wanted = [blank("A", 500, 2, ends=(SQUARE, mitre))]
    rules = Settings(kerf=F(2), spares=0, share_mitres=True)
    plan = make_plan(job([bars(965, "5", 1)], wanted, rules), wanted)
    (bar,) = plan.tubes[0].bars
    assert [(cut.start, cut.end, cut.shared, cut.flipped) for cut in bar.cuts] == [
        (F(0), F(500), False, False),
        (F("462.9"), F("962.9"), True, True),
    ]
    assert [cut.left for cut in bar.cuts] == [F("502.1"), F("0.1")]
    assert complaints(plan) == ()


def test_published_priced_stock() -> None:
    """Gilmore & Gomory (1961), as printed in an open optimisation notebook: stock 5 at 6, 6 at 7, 9 at 10 for 20 of
    2, 10 of 3, 20 of 4 costs 170; priced by length, 150."""
    wanted = [blank("A", 2, 20), blank("B", 3, 10), blank("C", 4, 20)]
    rules = Settings(kerf=F(0), spares=0)
    priced = make_plan(job([bars(5, "6"), bars(6, "7"), bars(9, "10")], wanted, rules), wanted)
    assert (priced.cost, priced.bound, priced.proven) == (170, 170, True)
    by_length = make_plan(job([bars(5), bars(6), bars(9)], wanted, rules), wanted)
    assert (by_length.cost, by_length.bound, by_length.proven) == (150, 150, True)
    assert complaints(priced) == complaints(by_length) == ()


def test_published_priced_stock_with_kerf() -> None:
    """Eleven stock lengths, kerf 0.25 for every part (open optimisation notebook on cutting lumber): 32.28, where the
    source prints 32.44. Half a kerf of end trim at each end makes the last part of a bar pay its kerf too."""
    prices = {36: "1.68", 48: "1.86", 72: "2.57", 84: "2.65", 96: "2.92", 120: "3.67", 144: "4.40", 168: "5.14"}
    prices |= {192: "6.92", 216: "8.62", 240: "10.40"}
    parts = {"70.5": 3, "25.5": 10, "12.5": 1, "72": 6, "70.75": 1, "28.5": 1}
    wanted = [blank(length, INCH * F(length), count) for length, count in parts.items()]
    rules = Settings(units=Units.IN, kerf=INCH / 4, end_trim=INCH / 8, spares=0)
    plan = make_plan(job([bars(INCH * length, price) for length, price in prices.items()], wanted, rules), wanted)
    assert (plan.cost, plan.bound, plan.proven) == (Decimal("32.28"), Decimal("32.28"), True)
    assert complaints(plan) == ()


def test_published_limited_stock() -> None:
    """Three of 15 and three of 10 in hand for 3 of 7, 2 of 6, 6 of 4, 1 of 3 (university course notebook): 60 without
    waste."""
    wanted = [blank("A", 7, 3), blank("B", 6, 2), blank("C", 4, 6), blank("D", 3, 1)]
    plan = make_plan(job([bars(15, None, 3), bars(10, None, 3)], wanted, Settings(kerf=F(0), spares=0)), wanted)
    assert (plan.cost, plan.proven, plan.priced) == (60, True, False)
    assert sum(bar.offcut for bar in plan.tubes[0].bars) == 0
    assert complaints(plan) == ()


END = st.sampled_from([SQUARE, EndShape(Cut.MITRE, 40.0, 45.0), EndShape(Cut.MITRE, 40.0, 22.5)])


@st.composite
def jobs(draw: st.DrawFn) -> tuple[Job, list[Blank]]:
    """Jobs of one or two tubes with trims, holds, racks, sawn bars and shared mitres, in either unit."""
    units = draw(st.sampled_from(Units))
    unit = F(1) if units is Units.MM else INCH / 25
    tenths = st.integers(0, 60).map(lambda n: n * unit / 10)
    wanted: list[Blank] = []
    stock: list[StockRow] = []
    for tube in ("A", "B")[: draw(st.integers(1, 2))]:
        for number in range(draw(st.integers(1, 4))):
            length = draw(st.integers(400, 8000)) * unit / 7
            ends = (draw(END), draw(END))
            wanted.append(
                blank(
                    f"{tube}{number}",
                    length,
                    draw(st.integers(1, 4)),
                    tube=tube,
                    insured=draw(st.booleans()),
                    ends=ends,
                )
            )
        priced = draw(st.booleans())
        for length in draw(st.lists(st.integers(1100, 3000), min_size=1, max_size=3, unique=True)):
            price = str(draw(st.integers(100, 9999)) / Decimal(100)) if priced else None
            stock.append(StockRow(tube, length * unit, Decimal(price) if price else None, sawn=draw(st.booleans())))
        for length in draw(st.lists(st.integers(50, 1500), max_size=2, unique=True)):
            stock.append(StockRow(tube, length * unit, None, draw(st.integers(0, 2)), Source.RACK, f"R{length}"))
    rules = Settings(
        units=units,
        kerf=draw(tenths),
        end_trim=draw(tenths) / 4,
        saw_hold=draw(st.sampled_from([F(0), 60 * unit])),
        spares=draw(st.integers(0, 2)),
        share_mitres=draw(st.booleans()),
    )
    return job(stock, wanted, rules), wanted


@settings(max_examples=50, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(jobs())
def test_every_plan_passes_the_check(drawn: tuple[Job, list[Blank]]) -> None:
    """Whatever the job, what comes out adds up from scratch; what cannot be served is only what does not fit a bar."""
    asked, wanted = drawn
    try:
        plan = make_plan(asked, wanted, limits=Limits(seconds=2))
    except StockError as error:
        shortages = error.shortages
    else:
        assert complaints(plan) == ()
        assert (plan.cost is None) == (plan.bound is None) == bool(plan.unpriced)
        assert plan.cost is None or plan.bound is None or plan.bound <= plan.cost
        return
    assert all("one piece of" in short.why for short in shortages)
