"""What a card says of joints: what a piece lands on and what lands on it, each with its place, or how that is found."""

from __future__ import annotations

import re
from fractions import Fraction

from cutplan.geometry.layout import lay_out
from cutplan.job.model import Cut, End, Job, Member, Onto, Point, Saddle, Settings, StockRow, Tube
from cutplan.plan import make_plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables
from cutplan.plan.tables.cards import Card

WIDE, THIN = Tube("wide", Fraction(40), Fraction(2), clr=Fraction(100)), Tube("thin", Fraction(30), Fraction(2))


def cards(*members: Member) -> dict[str, Card]:
    """The cards of a job of these members, by their first marks."""
    job = Job(Settings(), (WIDE, THIN), tuple(StockRow(tube, Fraction(6000)) for tube in ("wide", "thin")), members)
    plan = with_rough_ends(make_plan(job, lay_out(job).blanks))
    return {card.marks[0]: card for card in Tables(plan).cards}


def onto(mark: str, *, points: bool) -> End:
    """An end coped square onto a member."""
    return End(Cut.COPE, saddles=(Saddle(Onto(Fraction(40), name=mark, member=mark), 90.0),), from_points=points)


def test_without_points_the_frame_gives_the_place(as_worded):
    """Both cards say so, in words that tell what to do."""
    base = Member("BASE", "wide", length=Fraction(1000))
    one, two = (
        Member(mark, "thin", length=Fraction(500), end_a=onto("BASE", points=False), end_b=onto("BASE", points=False))
        for mark in ("ONE", "TWO")
    )
    made = cards(base, one)
    as_worded(*made["BASE"].joins, *made["ONE"].joins, *cards(base, one, two)["BASE"].joins)


def test_by_points_both_cards_give_the_same_place(as_worded):
    """By hand: 30 mm tube, square on at 300, covers 15 each side; from the end that is sawn square at 0."""
    points = (Point(Fraction(0), Fraction(0), Fraction(0)), Point(Fraction(1000), Fraction(0), Fraction(0)))
    base = Member("BASE", "wide", points=points)
    foot, top = (Point(Fraction(300), Fraction(0), Fraction(z)) for z in (0, 500))
    made = cards(base, Member("UP", "thin", points=(foot, top), end_a=onto("BASE", points=True)))
    # By tape they may be rounded, which a ~ says.
    [said] = made["UP"].joins
    assert [float(figure) for figure in re.findall(r"[\d.]+\d", said)] == [285.0, 315.0]
    as_worded(said)
    marked = next(step for step in made["BASE"].steps if step.heading == "Mark where others land")
    assert "285 to" in marked.says
    assert made["BASE"].joins == ()


def test_a_place_after_a_bend_is_from_the_end_of_it(as_worded):
    """By hand: between two square bends of radius 100 the straight begins 100 from the corner, and 30 mm tube square on
    at 300 covers 185 to 215 from there."""
    corners = [(0, 0, 0), (500, 0, 0), (500, 500, 0), (0, 500, 0)]
    base = Member("BASE", "wide", points=tuple(Point(*map(Fraction, row)) for row in corners))
    away = tuple(Point(*map(Fraction, row)) for row in ((500, 300, 0), (900, 300, 0)))
    [said] = cards(base, Member("UP", "thin", points=away, end_a=onto("BASE", points=True)))["UP"].joins
    assert [float(figure) for figure in re.findall(r"\d+", said)] == [185.0, 215.0, 1.0]
    as_worded(said)
