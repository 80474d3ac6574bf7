"""What measuring before ordering could save, against brute force over every choice of what to measure."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import chain, combinations

from small_jobs import bars, least_cost, rack

from cutplan.geometry import lay_out
from cutplan.job.model import Fitted, Job, Member, Settings, Shop, Tube
from cutplan.plan.measuring import measuring_first
from cutplan.plan.problem import Limits
from cutplan.plan.tables.measuring import measuring_blocks

F = Fraction
TUBE = Tube("T", F(38), F(2))


def found(members, stock, settings, limits=None):
    job = Job(settings, (TUBE,), tuple(stock), tuple(members))
    return measuring_first(job, lay_out(job).blanks, limits=limits)


def test_every_figure_is_what_brute_force_finds():
    """Both prices, what each member saves by itself, and that the fewest members save all that can be saved, none of
    them for nothing: by trying every place of every piece, for every choice of members that are known."""
    rng = random.Random(11)
    saved = 0
    for _ in range(10):
        spares = rng.choice([0, 1])
        members = [
            Member(f"M{i}", "T", length=F(rng.randrange(250, 800)), tolerance=F(rng.choice([0, 50, 120])))
            for i in range(rng.randrange(2, 5))
        ]
        stock = [bars(1000, "11"), bars(1600, "17"), rack(700)]
        guessed = [one.mark for one in members if one.tolerance]
        shown = found(members, stock, Settings(kerf=F(2), spares=spares, step=F(1)))
        if not guessed:
            assert shown == ()
            continue
        cost = {}
        for known in chain.from_iterable(combinations(guessed, n) for n in range(len(guessed) + 1)):
            lengths = [one.length + (one.tolerance if one.mark not in known else 0) for one in members]
            cost[known] = least_cost(stock, lengths + [max(lengths)] * spares, F(2))
        (one,) = shown
        assert one.greatest.proven
        assert one.likely.proven
        assert (one.greatest.cost, one.likely.cost) == (cost[()], cost[tuple(guessed)])
        assert [(each.members, each.least, each.most) for each in one.each] == [
            ((mark,), cost[()] - cost[(mark,)], cost[()] - cost[(mark,)]) for mark in guessed
        ]
        best = cost[()] - min(cost.values())
        assert (one.fewest is None) == (best == 0)
        if one.fewest is not None:
            saved += 1
            kept = tuple(mark for mark in guessed if mark in one.fewest.members)
            assert one.fewest.least == one.fewest.most == best == cost[()] - cost[kept]
            assert all(cost[tuple(m for m in kept if m != mark)] > cost[kept] for mark in kept)
    assert saved >= 3


def test_the_words_name_what_to_measure():
    """Two members that save only together, and a sentence for a tube where there is nothing to save."""
    members = [Member(mark, "T", length=F(480), tolerance=F(20)) for mark in ("LEFT", "RIGHT")]
    rules = Settings(kerf=F(2), spares=0, currency="EUR")
    shown = found([*members, Member("MID", "T", length=F(480))], [bars(1450, "15"), bars(1600, "17")], rules)
    (block,) = measuring_blocks(shown, rules)
    assert block == (
        "T, with no spare: 17.00 EUR for the greatest lengths, 15.00 EUR if every length turns out to be the likely "
        "one.",
        "If you measure before you order, and find the likely length: LEFT alone saves nothing; RIGHT alone saves "
        "nothing.",
        "To save 2.00 EUR, measure LEFT, RIGHT.",
    )
    ((only,),) = measuring_blocks(found(members, [bars(1600, "17")], rules), rules)
    assert only == "T, with no spare: 17.00 EUR, and the same if every length turns out to be the likely one."


def test_spares_that_the_stock_cannot_serve_are_left_out_and_reported():
    """Where the stock has no room for the spare the job asks for, the figures are for as many as it has room for."""
    (shown,) = found([Member("ONE", "T", length=F(700), tolerance=F(100))], [bars(1000, "10", 1)], Settings(spares=2))
    assert shown.spares == 0


def test_fitted_one_at_a_time_it_is_priced_so():
    """A course that saves tube is what is priced, as in the plan: one bar serves, as a spoilt LONG yields a SHORT."""
    members = [Member("LONG", "T", length=F(800), tolerance=F(100)), Member("SHORT", "T", 2, length=F(600))]
    rules = Settings(spares=1, fitted=Fitted.ONE_AT_A_TIME)
    (shown,) = found(members, [bars(1000, "10"), bars(3000, "28")], rules, Limits(20.0))
    after_all = found(members, [bars(1000, "10"), bars(3000, "28")], Settings(spares=1))[0]
    assert shown.greatest.cost == Decimal(28) < after_all.greatest.cost


def test_no_fewer_members_would_save_it():
    """One of 60 and one of 30 save the 90 that are too much, though without that of 60 the three of 30 would too."""
    members = [Member(f"M{i}", "T", length=F(300), tolerance=F(doubt)) for i, doubt in enumerate((30, 30, 30, 60))]
    (shown,) = found(members, [bars(1266, "11"), bars(1400, "17")], Settings(kerf=F(2), spares=0))
    assert shown.fewest is not None
    assert len(shown.fewest.members) == 2
    assert "M3" in shown.fewest.members


def test_what_shops_charge_is_counted():
    """Tubes from one shop are priced together: measured, everything comes free of delivery no more, so nothing is
    saved by one of them; and where the delivery stays, what is saved is the bars' alone."""
    yard = Shop("Yard", Decimal(20), Decimal(60))
    stock = [replace(bars(1000, "25"), shop="Yard"), replace(bars(1600, "32", tube="S"), shop="Yard")]
    stock += [replace(bars(1200, "30", tube="S"), shop="Yard")]
    tubes = (TUBE, Tube("S", F(30), F(2)))
    members = (Member("A", "T", length=F(900)), Member("B", "S", length=F(1300), tolerance=F(200)))
    job = Job(Settings(kerf=F(2), spares=0), tubes, tuple(stock), members, shops=(yard,))
    (shown,) = measuring_first(job, lay_out(job).blanks)
    assert (shown.tube, shown.greatest.cost, shown.likely.cost) == ("T, S", Decimal(77), Decimal(77))
    shorter = replace(members[1], length=F(1150), tolerance=F(300))
    job = replace(job, members=(members[0], shorter))
    (shown,) = measuring_first(job, lay_out(job).blanks)
    assert (shown.greatest.cost, shown.likely.cost) == (Decimal(77), Decimal(75))
    assert shown.fewest is not None
    assert (shown.fewest.members, shown.fewest.least) == (("B",), Decimal(2))
