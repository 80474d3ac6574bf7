"""Fitted one at a time: a tube is sawn before what lands on it wherever its spare allows that, and the plan says where
not; held against every order there is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from landing_jobs import fewest, job_of, landing_job, marks_in_order, out_of_order
from small_jobs import bars, blank

from cutplan.geometry.model import EndShape
from cutplan.job.model import Cut, End, Fitted, Job, Member, Onto, Saddle, Settings, Tube
from cutplan.job.stages import pieces_landed_on
from cutplan.plan import Plan, StockError, complaints, make_plan
from cutplan.plan.model import Early
from cutplan.plan.recut.rest import recut
from cutplan.plan.recut.ticks import Tick
from cutplan.plan.tables import Tables

F = Fraction
ONE = Settings(kerf=F(0), spares=1, fitted=Fitted.ONE_AT_A_TIME, salvage=F(50))
ROOMY = [bars(3000, "20")]


def onto(*marks: str) -> End:
    return End(Cut.COPE, saddles=tuple(Saddle(Onto(F(40), mark, mark)) for mark in marks))


def test_a_tube_comes_before_what_lands_on_it_and_the_plan_says_where_not() -> None:
    """30 seeded jobs: no order of the cuts on their bars in which each mistake can be made good breaks fewer landings,
    by trying them all; where the spare has room after all cuts, all is in order; and what is not is listed, and in the
    saw list beside the cut. (Where several tubes need their order of cuts, each is settled by itself.)"""
    listed = in_order = best = 0
    for seed in range(30):
        wanted, blanks, lands = landing_job(seed)
        try:
            plan = make_plan(wanted, blanks)
        except StockError:
            continue
        assert complaints(plan) == (), seed
        early = out_of_order(marks_in_order(plan), lands)
        assert sorted((one.mark, one.onto) for one in plan.early) == sorted(early), seed
        ordered = sum(tube.spares.fitted is Fitted.ONE_AT_A_TIME for tube in plan.tubes)
        assert ordered > 1 or len(early) == fewest(plan, lands), seed
        best += ordered == 1 and len(early) < len(set.union(*lands.values()))
        if not ordered:
            assert not early, seed
            in_order += any(lands.values())
        shown = Tables(plan)
        assert {row.mark for row in shown.saw_list if "lands on" in row.hints} == {mark for mark, _ in early}, seed
        assert bool(shown.early) == bool(early)
        listed += bool(early)
    assert min(listed, in_order, best) > 3, (listed, in_order, best)


def test_fitted_after_all_cuts_the_order_is_as_it_was() -> None:
    """Only one at a time asks for it: else long comes before short, and nothing is said."""
    stay, hoop = blank("STAY", 900), blank("HOOP", 800)
    lands = {"STAY": {"HOOP"}}
    for settings, marks in ((ONE, ["HOOP", "STAY"]), (replace(ONE, fitted=Fitted.AFTER_ALL), ["STAY", "HOOP"])):
        plan = make_plan(job_of([stay, hoop], lands, ROOMY, settings), [stay, hoop])
        assert (marks_in_order(plan), plan.early) == (marks, ())


def test_only_what_must_wait_is_moved_and_the_bar_is_laid_again() -> None:
    """NECK waits for SHIN, which is on the next bar; the rest stays on its bar, long before short."""
    blanks = [blank("NECK", 900), blank("SEAT", 800), blank("TAIL", 700), blank("SHIN", 600)]
    plan = make_plan(job_of(blanks, {"NECK": {"SHIN"}}, [bars(2400, "20")], replace(ONE, kerf=F(2), spares=0)), blanks)
    assert complaints(plan) == ()
    order = sorted((cut.number, bar.name, cut.mark) for bar in plan.tubes[0].bars for cut in bar.cuts)
    here = next(name for _, name, mark in order if mark == "NECK")
    assert marks_in_order(plan).index("NECK") == marks_in_order(plan).index("SHIN") + 1
    first = next(bar for bar in plan.tubes[0].bars if bar.name == here).cuts[0]
    assert (first.mark != "NECK", first.start, first.left) == (True, F(0), F(2398) - first.blank)


def test_blanks_that_share_a_mitre_stay_together() -> None:
    """One of the two lands on a post of another tube, which so comes first; they still share their cut."""
    mitre = EndShape(Cut.MITRE, 40.0, 45.0)
    square = EndShape(Cut.SQUARE, 40.0)
    blanks = [
        blank("RAIL", 900, ends=(mitre, square)),
        blank("STAY", 900, ends=(square, mitre)),
        blank("POST", 700, tube="S"),
    ]
    stock = [bars(2000, "20"), bars(3000, "9", tube="S")]
    plan = make_plan(job_of(blanks, {"STAY": {"POST"}}, stock, replace(ONE, spares=0, share_mitres=True)), blanks)
    assert complaints(plan) == ()
    cuts = sorted((cut.number, cut.mark, cut.shared) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    assert (cuts[0][1], [shared for _, _, shared in cuts]) == ("POST", [False, False, True])


def test_the_rest_keeps_to_it() -> None:
    """After any first cuts, each good, what is left is in order too; and what is cut is waited for no more."""
    blanks = [blank("NECK", 900), blank("SEAT", 800), blank("TAIL", 700), blank("SHIN", 600)]
    lands = {"NECK": {"SHIN"}, "SEAT": {"NECK"}, "TAIL": set[str](), "SHIN": set[str]()}
    plan = make_plan(job_of(blanks, lands, [bars(1600, "20")], replace(ONE, spares=0)), blanks)
    for cuts in range(4):
        rest = recut(plan, [Tick(number, number <= cuts, False) for number in range(1, 5)]).plan
        assert rest is not None
        assert complaints(rest) == ()
        assert out_of_order(marks_in_order(rest), lands) == []
        assert rest.early == ()
    spoilt = recut(plan, [Tick(number, number == 2, number == 1) for number in range(1, 5)]).plan
    assert spoilt is not None
    assert (complaints(spoilt), out_of_order(marks_in_order(spoilt), lands)) == ((), [])


@pytest.fixture
def early() -> Plan:
    """A spoilt 600 serves for the 300 that it lands on, so it must be cut first."""
    blanks = [blank("LONG", 600), blank("SHORT", 300)]
    stock = [bars(1300, "12"), bars(600, "7")]
    return make_plan(job_of(blanks, {"LONG": {"SHORT"}}, stock, ONE), blanks)


def test_an_order_that_the_spare_needs_is_kept_and_said(early: Plan) -> None:
    """The cost stays that of the free order; the sentence names the pair and both cures."""
    assert (early.cost, early.proven, early.early) == (12, True, (Early(1, "LONG", "SHORT", 2),))
    assert complaints(early) == ()
    said = Tables(early).early
    assert said.startswith("Sawn before what it lands on: LONG, cut 1, before SHORT, cut 2. ")
    assert "(SHORT an earlier one than LONG)" in said
    assert [row.hints for row in Tables(early).saw_list] == ["lands on SHORT, cut 2", ""]
    staged = [replace(one, stage=1 + (one.mark == "LONG")) for one in early.blanks]
    paid = make_plan(job_of(staged, {"LONG": {"SHORT"}}, early.job.stock, ONE), staged)
    assert (paid.cost, paid.early, marks_in_order(paid)) == (19, (), ["SHORT", "LONG"])


def test_the_check_finds_what_is_not_said_and_what_is_said_wrongly(early: Plan) -> None:
    """From the job's rows: a pair left out, one that is none, one listed twice."""
    assert complaints(replace(early, early=())) == (
        "cut 1: LONG lands on SHORT, which is cut 2, but the plan does not say so",
    )
    for wrong in ((Early(2, "SHORT", "LONG", 1), *early.early), early.early * 2, (Early(1, "LONG", "SHORT", 1),)):
        assert any("is listed as sawn before" in text for text in complaints(replace(early, early=wrong)))
    after_all = replace(early.job, settings=replace(ONE, fitted=Fitted.AFTER_ALL))
    assert any("is listed as sawn" in text for text in complaints(replace(early, job=after_all)))


def test_a_member_of_one_piece_may_name_the_side_that_it_lands_on() -> None:
    """A pair lands on both sides of a pair, as which is which is not written; a cross tube on the one it names."""
    rail = Member("RAIL", "T", length=F(900), pair=True)
    members = [
        rail,
        Member("XR", "T", length=F(500), end_a=End(Cut.COPE, saddles=(Saddle(Onto(F(40), "RAIL-L", "RAIL")),))),
        Member("BS", "T", length=F(700), pair=True, end_a=onto("RAIL")),
        Member("BX", "T", length=F(600), end_a=onto("BS"), end_b=onto("BX")),
    ]
    both = ("RAIL-L", "RAIL-R")
    assert pieces_landed_on(members) == {
        "RAIL-L": (),
        "RAIL-R": (),
        "XR": ("RAIL-L",),
        "BS-L": both,
        "BS-R": both,
        "BX": ("BS-L", "BS-R"),
    }
    blanks = [blank("RAIL-L", 900), blank("RAIL-R", 900), blank("XR", 500), blank("BS-L", 700), blank("BS-R", 700)]
    settings = replace(ONE, spares=0)
    made = Job(settings, (Tube("T", F(40), F(2)),), (bars(9000, "20"),), tuple(members[:3]))
    plan = make_plan(made, blanks)
    assert plan.early == ()
    assert not [text for text in complaints(plan) if "lands on" in text]
