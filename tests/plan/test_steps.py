"""The steps on a card: in the order a person can do them, with ways round what the saw cannot do."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import radians, tan

import numpy as np
import pytest

from cutplan.geometry.ends import cope, end_line, mitre
from cutplan.geometry.layout import lay_out
from cutplan.geometry.roughcut import left_to_grind, steepest_cut
from cutplan.job.model import Bend, Cut, End, Job, Member, Onto, Saddle, Settings, StockRow, Tube
from cutplan.plan import make_plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables
from cutplan.plan.tables.cards import Card
from cutplan.plan.tables.steps import hole_sawn

TUBE = Tube("T", Fraction(38), Fraction(2), clr=Fraction(114))
COPE = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(45)), 60.0),))
LONG = Fraction(500)


def card(member: Member, settings: Settings | None = None) -> Card:
    """The card of a job's one member."""
    job = Job(settings or Settings(), (TUBE,), (StockRow("T", Fraction(6000)),), (member,))
    (made,) = Tables(with_rough_ends(make_plan(job, lay_out(job).blanks))).cards
    return made


def headings(made: Card) -> list[str]:
    """The headings of its steps."""
    return [step.heading for step in made.steps]


@pytest.mark.parametrize(
    ("end_a", "end_b", "second"),
    [(End(Cut.MITRE, 45.0), End(Cut.MITRE, 30.0), "b"), (COPE, End(Cut.MITRE, 30.0), "a"), (COPE, COPE, "b")],
)
def test_an_end_whose_turn_was_not_given_is_shaped_last(end_a, end_b, second):
    """The saw leaves it square, and it is marked against what it meets before it is shaped; given the turn, both ends
    are sawn at once."""
    member = Member("M", "T", length=LONG, end_a=end_a, end_b=end_b)
    made = card(member)
    order = headings(made)
    found = order.index(f"Find end {second}'s 0")
    first = "a" if second == "b" else "b"
    shaping = [number for number, text in enumerate(order) if text.endswith(f", end {second}")]
    assert shaping
    assert min(shaping) > found > max([0, *(n for n, text in enumerate(order) if text.endswith(f", end {first}"))])
    if (end_b if second == "b" else end_a).cut is Cut.MITRE:
        assert f"end {second} square for now" in made.steps[0].says
    shown = headings(card(replace(member, turn_given=True)))
    assert not [text for text in shown if text.startswith("Find")]


def test_mitres_that_share_their_cuts_are_marked_before_the_saw():
    """Both ends are sawn on the bar, so that their turn must be found first."""
    end = End(Cut.MITRE, 45.0)
    member = Member("M", "T", count=4, length=LONG, end_a=end, end_b=end)
    made = card(member, Settings(share_mitres=True))
    assert headings(made)[0] in ("Find end b's 0", "Saw")
    shared = [step.says for step in made.steps if step.heading == "Find end b's 0"]
    assert all("before you saw" in says for says in shared)
    assert shared


def test_an_end_that_is_not_known_to_its_bend_is_shaped_after_bending():
    """Where it goes round the tube shows only once the bent piece is held in its place."""
    bends = (Bend(Fraction(200), angle_deg=60.0), Bend(Fraction(400)))
    order = headings(card(Member("M", "T", end_a=COPE, bends=bends)))
    assert order == ["Saw", "Bend 1", "Find end a's 0", "Rough cuts, end a", "Cope, end a", "Fit"]


@pytest.mark.parametrize(("die_mark", "says"), [(0, "(the start of the bend)"), (25, "(25 mm past the start of")])
def test_the_first_bend_says_what_the_mark_is(die_mark, says):
    """The start of the bend, or the job's own distance past it."""
    bends = (Bend(Fraction(200), angle_deg=60.0), Bend(Fraction(400)))
    made = card(Member("M", "T", bends=bends), Settings(die_mark=Fraction(die_mark)))
    text = made.steps[1].says
    assert text.startswith(f"bender's mark {200 + die_mark} mm from the sawn end a {says}")


def test_a_mitre_steeper_than_the_saw_swings_has_two_other_ways():
    """A wedge that adds what the saw lacks; or the saw's own steepest cut from the tip, 38 x tan 45 = 38 mm deep at 0
    by hand, and 38 x (tan 60 - tan 45) = 27.8 left to grind."""
    made = card(Member("M", "T", length=LONG, end_a=End(Cut.MITRE, 60.0)), Settings(saw_swing=45.0))
    says = next(step for step in made.steps if step.heading == "Mitre, end a").says
    assert "a wedge of 15° that turns it further, and saw at 45°" in says
    assert "which takes 38 mm off at 0, and grind at most ~28 mm" in says


@pytest.mark.parametrize("angle", [50.0, 62.5, 75.0])
@pytest.mark.parametrize("swing", [30.0, 45.0])
def test_the_steepest_cut_spares_the_mitre_and_leaves_least(angle, swing):
    """Tried against every plane of a grid no steeper than the saw swings: none that stays outside the mitre's line
    leaves less to grind."""
    shape, radius = mitre(38.0, angle), 19.0
    cut = steepest_cut(shape, swing)
    turns = np.arange(0.0, 360.0, 2.0)
    line = end_line(shape, turns)
    depth = cut.start - tan(radians(cut.saw_deg)) * radius * (1.0 - np.cos(np.radians(turns)))
    assert float((depth - line).max()) < 1e-9
    least = np.inf
    for lean in np.linspace(0.0, tan(radians(swing)), 12):
        for way in np.radians(np.arange(0.0, 360.0, 15.0)):
            plane = lean * radius * np.cos(np.radians(turns) - way)
            plane += float((line - plane).min())
            least = min(least, float((line - np.maximum(plane, 0.0)).max()))
    assert left_to_grind(shape, [cut]) == pytest.approx(38.0 * (tan(radians(angle)) - tan(radians(swing))))
    assert left_to_grind(shape, [cut]) <= least + 1e-6


def test_a_hole_saw_is_named_only_where_it_cuts_the_line():
    """One straight tube: its own diameter, the angle, the offset to its side. A bend, or two tubes, are none for it."""
    offset = Saddle(Onto(Fraction(45)), 60.0, Fraction(-3))
    made = card(Member("M", "T", length=LONG, end_a=End(Cut.COPE, saddles=(offset,))))
    says = next(step for step in made.steps if step.heading == "Cope, end a").says
    assert "a 45 mm hole saw at 60° to the tube, 0 on the acute side, 3 mm off centre towards 270" in says
    plain = Saddle(Onto(Fraction(45)), 60.0)
    assert hole_sawn(cope(38.0, (plain,)))
    assert not hole_sawn(cope(38.0, (plain, Saddle(Onto(Fraction(45)), 90.0, turn_deg=90.0))))
    assert not hole_sawn(cope(38.0, (Saddle(Onto(Fraction(45), clr=Fraction(90)), 60.0),)))
