"""The steps on a card: in the order a person can do them, with ways round what the saw cannot do."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from math import radians, tan

import numpy as np
import pytest

from cutplan.geometry.ends import cope, end_line, mitre
from cutplan.geometry.layout import lay_out
from cutplan.geometry.roughcut import flatter_start, left_to_grind, steepest_cut
from cutplan.job.model import Bend, Cut, End, Job, Member, Onto, Point, Saddle, Settings, StockRow, Tube
from cutplan.plan import make_plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables
from cutplan.plan.tables.card_words import meaning, other_half, pieces
from cutplan.plan.tables.cards import Card
from cutplan.plan.tables.hole_saws import hole_sawn

TUBE = Tube("T", Fraction(38), Fraction(2), clr=Fraction(114))
COPE = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(45)), 60.0),))
LONG = Fraction(500)


def tables(member: Member, settings: Settings | None = None) -> Tables:
    """The tables of a job of one member."""
    job = Job(settings or Settings(), (TUBE,), (StockRow("T", Fraction(6000)),), (member,))
    return Tables(with_rough_ends(make_plan(job, lay_out(job).blanks)))


def card(member: Member, settings: Settings | None = None) -> Card:
    """Its card."""
    (made,) = tables(member, settings).cards
    return made


def headings(made: Card) -> list[str]:
    """The headings of its steps."""
    return [step.heading for step in made.steps]


@pytest.mark.parametrize(
    ("end_a", "end_b", "second"),
    [(End(Cut.MITRE, 45.0), End(Cut.MITRE, 30.0), "b"), (COPE, End(Cut.MITRE, 30.0), "a"), (COPE, COPE, "b")],
)
def test_an_end_whose_turn_was_not_given_is_shaped_last(end_a, end_b, second, as_worded):
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
        as_worded(made.steps[0].says)
    shown = headings(card(replace(member, turn_given=True)))
    assert not [text for text in shown if text.startswith("Find")]


def test_mitres_that_share_their_cuts_are_marked_before_the_saw(as_worded):
    """Both ends are sawn on the bar, so that their turn must be found first."""
    end = End(Cut.MITRE, 45.0)
    member = Member("M", "T", count=4, length=LONG, end_a=end, end_b=end)
    made = card(member, Settings(share_mitres=True))
    assert headings(made)[0] in ("Find end b's 0", "Saw")
    shared = [step.says for step in made.steps if step.heading == "Find end b's 0"]
    as_worded(*shared)


def test_an_end_that_is_not_known_to_its_bend_is_shaped_after_bending():
    """Where it goes round the tube shows only once the bent piece is held in its place."""
    bends = (Bend(Fraction(200), angle_deg=60.0), Bend(Fraction(400)))
    order = headings(card(Member("M", "T", end_a=COPE, bends=bends)))
    assert order == ["Saw", "Bend 1", "Find end a's 0", "Rough cuts, end a", "Cope, end a", "Fit"]


@pytest.mark.parametrize("die_mark", [0, 25])
def test_the_first_bend_says_what_the_mark_is(die_mark, as_worded):
    """The start of the bend, or the job's own distance past it."""
    bends = (Bend(Fraction(200), angle_deg=60.0), Bend(Fraction(400)))
    made = card(Member("M", "T", bends=bends), Settings(die_mark=Fraction(die_mark)))
    text = made.steps[1].says
    assert re.findall(r"[\d.]+ mm", text)[0] == f"{200 + die_mark} mm"
    as_worded(text)


def test_a_mitre_steeper_than_the_saw_swings_has_two_other_ways(as_worded):
    """A wedge that adds what the saw lacks; or the saw's own steepest cut from the tip, 38 x tan 45 = 38 mm deep at 0
    by hand, and 38 x (tan 60 - tan 45) = 27.8 left to grind."""
    made = card(Member("M", "T", length=LONG, end_a=End(Cut.MITRE, 60.0)), Settings(saw_swing=45.0))
    says = next(step for step in made.steps if step.heading == "Mitre, end a").says
    assert {"15°", "45°", "38 mm", "28 mm"} <= set(re.findall(r"\d+(?:°| mm)", says))
    as_worded(says)


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


def test_a_hole_saw_is_named_only_where_it_cuts_the_line(as_worded):
    """One straight tube: its own diameter, the angle, the offset to its side. A bend, or two tubes, are none for it."""
    offset = Saddle(Onto(Fraction(45)), 60.0, Fraction(-3))
    made = card(Member("M", "T", length=LONG, end_a=End(Cut.COPE, saddles=(offset,))))
    says = next(step for step in made.steps if step.heading == "Cope, end a").says
    as_worded(says)
    plain = Saddle(Onto(Fraction(45)), 60.0)
    assert hole_sawn(cope(38.0, (plain,)))
    assert not hole_sawn(cope(38.0, (plain, Saddle(Onto(Fraction(45)), 90.0, turn_deg=90.0))))
    assert not hole_sawn(cope(38.0, (Saddle(Onto(Fraction(45), clr=Fraction(90)), 60.0),)))


def plane_depth(turns, od: float, start: float, saw_deg: float, turn_deg: float):
    """Where a plane cut lies on the outside, by its own rule: deepest on its line, by the tangent of its angle out."""
    return start - tan(radians(saw_deg)) * od / 2.0 * (1.0 - np.cos(np.radians(turns - turn_deg)))


@pytest.mark.parametrize("angle", [32.0, 38.0, 62.0])
@pytest.mark.parametrize("offset", [0, 4])
@pytest.mark.parametrize("wide", [50, 60])
def test_no_rough_cut_takes_the_mark_of_a_later_one(angle, offset, wide):
    """Each mark is still on the tube when its turn comes, on the side that is kept of every cut before."""
    end = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(wide)), angle, Fraction(offset)),))
    (made,) = tables(Member("M", "T", length=LONG, end_a=end)).making
    rows = made.rough_cuts
    assert rows
    for number, later in enumerate(rows):
        for before in rows[:number]:
            depth = plane_depth(later.turn, 38.0, before.start, before.saw_angle, before.turn)
            assert depth < later.start


@pytest.mark.parametrize("angle", [32.0, 38.0, 52.0])
@pytest.mark.parametrize("turn", [0.0, 20.0])
def test_a_flatter_rough_cut_spares_the_cope_and_no_deeper_one_does(angle, turn):
    """Judged on both surfaces of the wall at every degree: as given it leaves the cope whole, half a millimetre deeper
    it does not."""
    shape = cope(38.0, (Saddle(Onto(Fraction(45)), angle),))
    start, turns = flatter_start(shape, 2.0, turn, 45.0), np.arange(0.0, 360.0)
    gaps = []
    for radius in (19.0, 17.0):
        plane = start - (19.0 - radius * np.cos(np.radians(turns - turn)))
        gaps.append(float((end_line(shape, turns, radius_mm=radius) - plane).min()))
    assert -1e-9 < min(gaps) < 0.05


def test_a_saw_that_stops_at_45_has_a_column_of_its_own_until_the_job_says_more(as_worded):
    """For the cuts that are steeper, while the job leaves open how far its saw swings."""
    member = Member("M", "T", length=LONG, end_a=End(Cut.COPE, saddles=(Saddle(Onto(Fraction(45)), 38.0),)))
    rough = next(step for step in card(member).steps if step.heading == "Rough cuts, end a")
    as_worded(rough.says, rough.tables[0][0][-1])
    flat, steep = rough.tables[0][1:]
    assert float(steep[-2].split("°")[0]) > 45.0 > float(flat[-2].split("°")[0])
    assert (flat[0], steep[0], flat[-1]) == ("A", "B", "same")
    # Its own start, a shallower one: by the other the tip would be gone.
    assert steep[-1].startswith("45° at ")
    assert float(steep[-1].split()[-1]) < float(steep[-2].split()[-1]) - 5.0
    known = next(step for step in card(member, Settings(saw_swing=50.0)).steps if step.heading == "Rough cuts, end a")
    assert "45" not in known.says
    as_worded(known.tables[0][0][-1])


def test_what_a_saw_that_stops_at_45_leaves_to_grind_is_given():
    """By planes at every degree: the cope's own line less the deeper of the two cuts as they are given for that saw."""
    member = Member("M", "T", length=LONG, end_a=End(Cut.COPE, saddles=(Saddle(Onto(Fraction(45)), 38.0),)))
    rough = next(step for step in card(member).steps if step.heading == "Rough cuts, end a")
    turns, sawn = np.arange(0.0, 360.0), np.zeros(360)
    for row in rough.tables[0][1:]:
        angle, start = (float(text) for text in (row[-2] if row[-1] == "same" else row[-1]).split("° at "))
        sawn = np.maximum(sawn, plane_depth(turns, 38.0, start, angle, float(row[1].split("°")[0])))
    left = float((end_line(cope(38.0, (Saddle(Onto(Fraction(45)), 38.0),)), turns) - sawn).max())
    assert float(re.search(r"\(([\d.]+) mm if the saw stops", rough.says)[1]) == pytest.approx(left, abs=0.6)


@pytest.mark.parametrize(("onto", "angle", "offset"), [(38, 90, 0), (38, 48, 0), (60, 90, 0), (45, 62, 3), (50, 50, 4)])
def test_a_hole_saw_is_centred_where_its_cylinder_leaves_the_tip(onto, angle, offset):
    """Each line of the tube is shot at the cylinder of the hole saw, its axis through 0: the one that goes furthest
    before it is cut is the tip, and 0 is beyond that by the figure on the card."""
    end = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(onto)), float(angle), Fraction(offset)),))
    made = card(Member("M", "T", length=LONG, end_a=end))
    says = next(step for step in made.steps if step.heading == "Cope, end a").says
    axis = np.array([np.cos(radians(angle)), np.sin(radians(angle)), 0.0])
    reach = np.inf
    for turn in np.radians(np.arange(0.0, 360.0, 0.5)):
        off = np.array([0.0, 19.0 * np.cos(turn), 19.0 * np.sin(turn) - offset])
        along, aside = np.array([1.0, 0.0, 0.0]) - axis[0] * axis, off - np.dot(off, axis) * axis
        two, one, none = along @ along, 2.0 * along @ aside, aside @ aside - (onto / 2.0) ** 2
        reach = min(reach, (-one + np.sqrt(max(one**2 - 4.0 * two * none, 0.0))) / (2.0 * two))
    found = re.search(r"centred (?:(level)|([\d.]+) mm (beyond|in from)) (?:with )?the tip", says)
    said = 0.0 if found[1] else float(found[2]) * (1.0 if found[3] == "beyond" else -1.0)
    assert said == pytest.approx(reach, abs=0.26)
    assert hole_sawn(cope(38.0, end.saddles))


@pytest.mark.parametrize(
    ("turn", "lines", "short"),
    [
        (0.0, ["the 180", "the 0"], [0.0, 60.0]),
        (180.0, ["end a's 180", "end a's 0"], [22.0, 38.0]),
        (90.0, ["end a's 180", "end a's 0", "end b's 180", "end b's 0"], [11.0, 49.0, 19.0, 41.0]),
    ],
)
def test_a_mitred_blank_says_how_long_it_is_along_its_lines(turn, lines, short):
    """By hand for 38 mm: 38 x tan 45 = 38 and 38 x tan 30.07 = 22 in on the short sides, half of it a quarter round."""
    ends = {"end_a": End(Cut.MITRE, 45.0), "end_b": End(Cut.MITRE, 30.07)}
    made = card(Member("M", "T", length=LONG, turn_deg=turn, turn_given=True, **ends))
    says = next(step for step in made.steps if step.heading == "Saw").says
    found = re.findall(r"([\d.]+) mm on (the|end [ab]'s) (\d+) line", says)
    assert [f"{whose} {line}" for _, whose, line in found] == lines
    blank = float(made.blank.split()[0])
    assert [blank - float(mm) for mm, _, _ in found] == pytest.approx(short, abs=0.51)
    alone = card(Member("M", "T", length=LONG, end_a=End(Cut.MITRE, 45.0)))
    [long, less] = re.findall(r"([\d.]+) mm on the (?:180|0) line", alone.steps[0].says)
    assert (float(long), float(less)) == (float(alone.blank.split()[0]), float(long) - 38.0)


def test_end_b_is_marked_from_its_own_0_where_that_is_elsewhere(as_worded):
    """Where both ends share a table; nothing where both are on one line."""
    member = Member("M", "T", length=LONG, end_a=COPE, end_b=COPE, turn_deg=180.0, turn_given=True)
    both = [step.says for step in card(member).steps if step.heading.endswith(", both ends")]
    assert len(both) == 2
    as_worded(*both)
    assert not any("own 0" in step.says for step in card(replace(member, turn_deg=0.0)).steps)


def test_a_mitre_says_how_far_its_short_side_is_in(as_worded):
    """38 x tan 30 = 21.94 by hand, so 22; beyond 45 degrees a saw that stops there is put on a wedge."""
    says = card(Member("M", "T", length=LONG, end_a=End(Cut.MITRE, 30.0))).steps[0].says
    assert "22 mm" in says
    as_worded(says)
    says = card(Member("M", "T", length=LONG, end_a=End(Cut.MITRE, 52.0))).steps[0].says
    assert {"45°", "7°"} <= set(re.findall(r"\d+°", says))
    as_worded(says)


def test_the_other_half_of_a_mitre_is_named_where_members_have_places():
    """By the corner that both run to; a corner of which only one end is mitred names none."""
    corner, mitred = Point(Fraction(0), Fraction(0), Fraction(0)), End(Cut.MITRE, 45.0)
    far = [Point(Fraction(900), Fraction(0), Fraction(0)), Point(Fraction(0), Fraction(700), Fraction(0))]
    one = Member("SILL", "T", end_a=mitred, points=(corner, far[0]))
    two = Member("POST", "T", end_b=mitred, points=(far[1], corner))
    job = Job(Settings(), (TUBE,), (StockRow("T", Fraction(6000)),), (one, two))
    assert other_half(job, "SILL", "a") == "end b of POST"
    assert other_half(job, "POST", "b") == "end a of SILL"
    assert other_half(job, "POST", "a") == ""
    alone = replace(job, members=(one, replace(two, end_b=End(Cut.COPE))))
    assert other_half(alone, "SILL", "a") == ""


def test_a_bend_says_its_lengths_and_which_way_it_goes(as_worded):
    """By hand: 114 x pi x 60 / 180 = 119.4 in the bend; a third of the tube's round, 38 x pi / 3 = 39.8."""
    bends = (
        Bend(Fraction(200), angle_deg=60.0),
        Bend(Fraction(300), angle_deg=30.0, rotation_deg=120.0),
        Bend(Fraction(400)),
    )
    made = card(Member("M", "T", bends=bends), Settings(die_mark=Fraction(25)))
    first, second = (step.says for step in made.steps if step.heading.startswith("Bend "))
    assert re.findall(r"[\d.]+ mm", first)[-2:] == ["200 mm", "119.5 mm"]
    assert {"120°", "40 mm"} <= set(re.findall(r"[\d.]+(?:°| mm)", second))
    assert re.findall(r"[\d.]+ mm", second)[-3:] == ["300 mm", "59.5 mm", "400.5 mm"]
    as_worded(first, second)


def test_pieces_that_share_a_card_are_counted_by_mark(as_worded):
    """Two of each hand are not four of one."""
    as_worded(pieces(("KB-L", "KB-R"), 2), pieces(("KB",), 4))


def test_the_words_of_the_cards_are_those_of_the_job(as_worded):
    """Nothing is explained that no card uses."""
    as_worded(*meaning(Settings(), copes=False, mitres=False, bends=False, stages=True))
    as_worded(*meaning(Settings(), copes=False, mitres=False, bends=False))
    every = list(meaning(Settings(), copes=True, mitres=True, bends=True))
    starts = ["Lengths", "Angles", "Saw angles", "On the bar", "Tip", "Inside", "Bender's mark"]
    assert [text.startswith(start) for text, start in zip(every, starts, strict=True)] == [True] * len(starts)
