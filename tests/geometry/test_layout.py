"""Whole members: what they come to, and what is refused, where, and why."""

import math
import re
from dataclasses import replace
from fractions import Fraction

import pytest
from members import (
    HOOP,
    STAY,
    F,
    blank,
    cope,
    laid,
    member,
    net,
    only_fault,
    points,
    rows,
)
from wording import Worded

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.rounding import round_up
from cutplan.job.model import (
    INCH,
    Cut,
    End,
    Measured,
    Member,
    Onto,
    Saddle,
    Settings,
    To,
    Tube,
    Units,
)

# --- straight members, by hand ---


@pytest.mark.parametrize(
    ("measured", "gain"),
    [
        # Equal tubes at 60 degrees: tip at the centre; face R/sin, long r·tan 30, short r·cot 30 (by hand).
        (Measured.CENTRE, 0.0),
        (Measured.FACE, 19 / math.sin(math.radians(60))),
        (Measured.LONG, 19 * math.tan(math.radians(30))),
        (Measured.SHORT, 19 / math.tan(math.radians(30))),
        (Measured.TIP, 0.0),
    ],
)
def test_what_was_measured_to_at_a_cope(measured: Measured, gain: float) -> None:
    """Each word for what the tape ran to gives the same tip from its own distance."""
    assert net(blank(member(end_a=cope(38, 60, measured=measured)))) == pytest.approx(1000 + gain)


@pytest.mark.parametrize(
    ("measured", "gain"),
    [(Measured.CENTRE, 19.0), (Measured.FACE, 19.0), (Measured.LONG, 0.0), (Measured.SHORT, 38.0), (Measured.TIP, 0.0)],
)
def test_what_was_measured_to_at_a_mitre(measured: Measured, gain: float) -> None:
    """At 45 degrees the tip lies r beyond the axis and the short side as much before it; centre and face agree."""
    assert net(blank(member(end_b=End(Cut.MITRE, 45.0, measured=measured)))) == pytest.approx(1000 + gain)


def test_allowances_are_shown_each_on_its_own(as_worded: Worded) -> None:
    """Fitting is added per cope and per mitre, shrinkage per end, and the whole is rounded up to the step."""
    made = blank(
        member(end_a=cope(38), end_b=End(Cut.MITRE, 45.0), tolerance=F(2), note="top", count=3),
        settings=Settings(fit_cope=F(3), fit_mitre=F(1), shrink=F(7, 10)),
    )
    assert [round(part.length, 6) for part in made.parts] == [1000.0, 0.0, 3.0, 0.7, 19.0, 1.0, 0.7, 0.1]
    as_worded(*(part.what for part in made.parts))
    assert (made.length, made.spread, made.note, made.count) == (F(2049, 2), 2.0, "top", 3)


def test_rounding_is_exact_and_shows_a_tape_fraction(as_worded: Worded) -> None:
    """In inches the blank is an exact multiple of the step, and the step is named as a tape shows it."""
    settings = Settings(units=Units.IN, step=INCH / 32)
    made = blank(member(length=F(1000)), settings=settings)
    assert made.length == F(1260, 32) * INCH
    as_worded(made.parts[-1].what)


@pytest.mark.parametrize(
    ("length", "step", "expected"),
    [
        (100.0, F(1, 2), F(100)),
        (100.0 + 9e-7, F(1, 2), F(100)),
        (100.0 + 2e-6, F(1, 2), F(201, 2)),
        (99.9999999, F(1, 2), F(100)),
        (F(1, 3), F(1, 3), F(1, 3)),
        (0.0, F(1, 2), F(0)),
        (-0.7, F(1, 2), F(-1, 2)),
    ],
)
def test_round_up(length: float, step: Fraction, expected: Fraction) -> None:
    """Up to the step, but noise of a millionth does not push a blank up a whole step."""
    assert round_up(length, step) == expected


def test_a_step_is_positive() -> None:
    """A step of nothing is refused rather than divided by."""
    with pytest.raises(ValueError, match="marking step"):
        round_up(1.0, F(0))


# --- every sum can be redone ---


def redone(how: str) -> float:
    """What a pocket calculator makes of a derivation's sum."""
    text = how.replace("×", "*").replace("²", "**2").replace("pi", "math.pi").replace("sqrt", "math.sqrt")
    text = re.sub(r"(sin|cos|tan) \(([\d.]+)° / 2\)", r"math.\1(math.radians(\2 / 2))", text)
    text = re.sub(r"(sin|cos|tan) ([\d.]+)°", r"math.\1(math.radians(\2))", text)
    return float(eval(text))


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("measured", list(Measured))
@pytest.mark.parametrize(("angle", "offset"), [(90, 0), (90, 3), (60, 0), (35, -2), (20, 0), (20, F(7, 2)), (16, -1)])
def test_every_sum_gives_its_part(units: Units, measured: Measured, angle: float, offset: Fraction | int) -> None:
    """Redoing each printed sum gives the part beside it, in the job's units, to what a tape shows."""
    second = Saddle(Onto(F(30)), 70.0, F(1), 80.0)
    node = End(Cut.COPE, saddles=(Saddle(Onto(F(45)), angle, F(offset)), second), measured=measured)
    made = laid(
        member("A", end_a=cope(45, angle, offset, measured), end_b=End(Cut.MITRE, 30.0, measured=measured)),
        member("B", end_a=node),
        member("C", "H45", bends=rows((900, To.OUTSIDE, 75.0, F(180)), (900, To.APEX, 40.0), (600,))),
        member("D", "H45", points=points((0, 0, 0), (1000, 20, 3), (1000, 1000, 40))),
        settings=Settings(units=units),
        tubes=(replace(HOOP, stretch=F(3)), STAY),
    )
    assert made.faults == ()
    sums = [part for each in made.blanks for part in each.parts if part.how]
    assert sums
    for part in sums:
        assert redone(part.how) * float(units.mm) == pytest.approx(part.length, abs=0.02), part


# --- bends ---


def test_bent_member_of_mixed_measures() -> None:
    """Tangent, apex and outside in one member; arcs less stretch; marks where a tape would read them."""
    tube = Tube("T", F(40), F(2), clr=F(120), stretch=F(3))
    bends = rows((300, To.OUTSIDE, 90.0), (700, To.APEX, 45.0, F(200), 30.0), (400,))
    made = blank(member("B", "T", bends=bends), settings=Settings(die_mark=F(25)), tubes=(tube,))
    first = 300 - 140.0
    middle = 700 - 120.0 - 200 * math.tan(math.radians(22.5))
    arcs = (120 * math.pi / 2 - 3.0, 200 * math.pi / 4 - 1.5)
    assert net(made) == pytest.approx(first + arcs[0] + middle + arcs[1] + 400)
    one, two = made.bends
    assert (one.start, one.mark, one.straight) == (
        pytest.approx(first),
        pytest.approx(first + 25),
        pytest.approx(first),
    )
    assert (one.arc, two.arc) == (pytest.approx(arcs[0]), pytest.approx(arcs[1]))
    assert two.start == pytest.approx(first + arcs[0] + middle)
    assert (two.number, two.radius, two.angle_deg, two.rotation_deg) == (2, 200.0, 45.0, 30.0)


def test_short_ends_are_lengthened_to_the_grip() -> None:
    """Each end straight shorter than the grip is lengthened, and the list says what to cut off after bending."""
    tube = Tube("T", F(40), F(2), clr=F(120), grip=F(200))
    made = blank(member("B", "T", bends=rows((80, To.TANGENT, 90.0), (300,))), tubes=(tube,))
    assert (made.cut_off_a, made.cut_off_b) == (120.0, 0.0)
    assert made.bends[0].start == pytest.approx(200.0)
    assert net(made) == pytest.approx(200 + 60 * math.pi + 300)


def test_tight_bends_and_short_straights_are_remarked_with_their_source(as_worded: Worded) -> None:
    """Rule-of-thumb limits are remarks with a source, and the blank is made all the same."""
    bends = rows((300, To.TANGENT, 30.0, F(100)), (60, To.TANGENT, 30.0, F(150)), (300,))
    layout = laid(member("B", "H45", bends=bends))
    texts = [str(remark) for remark in layout.remarks]
    assert len(layout.blanks) == 1
    assert [(remark.place.row, remark.place.column) for remark in layout.remarks] == [(3, "radius"), (4, "straight")]
    as_worded(*texts)


@pytest.mark.parametrize(
    ("bends", "said"),
    [
        (
            ((100, To.OUTSIDE, 90.0), (300,)),
            'Bends row 3, straight: "100": straight 1 is 72.5 mm shorter than its bends need',
        ),
        (((300, To.TANGENT, 90.0), (300, To.TANGENT, 20.0)), 'Bends row 4, angle: "20": the last row'),
        (((300,), (300,)), "Bends row 3, angle: is empty, though more straights follow"),
        (((300, To.TANGENT, 190.0), (300,)), 'Bends row 3, angle: "190": a bend turns by'),
        (((300, To.TANGENT, 180.0), (300, To.APEX)), 'Bends row 3, to: "tangent": a bend of 180 degrees has no apex'),
        (((300, To.TANGENT, 90.0, F(20)), (300,)), 'Bends row 3, radius: "20 mm": a centreline radius is more than'),
    ],
)
def test_bends_that_cannot_be(bends: tuple[tuple[object, ...], ...], said: str) -> None:
    """Each impossible row is refused at its own place."""
    assert only_fault(laid(member("B", "H45", bends=rows(*bends)))).startswith(said)


def test_a_bend_needs_a_radius(as_worded: Worded) -> None:
    """Without a radius in the row or for the tube there is nothing to bend round."""
    said = only_fault(laid(member("B", bends=rows((300, To.TANGENT, 90.0), (300,)))))
    as_worded(said)


def test_a_hairpin_to_its_tangent_points() -> None:
    """A half turn is fine where no apex is asked for."""
    made = blank(member("B", "H45", bends=rows((300, To.TANGENT, 180.0), (300,))))
    assert net(made) == pytest.approx(600 + 150 * math.pi)


def test_length_beside_bends_or_points_is_refused(as_worded: Worded) -> None:
    """Two sources for one length could disagree, so there may be only one."""
    bent = member("B", "H45", length=F(5), bends=rows((300, To.TANGENT, 90.0), (300,)))
    as_worded(only_fault(laid(bent)))
    as_worded(only_fault(laid(member(length=F(5), points=points((0, 0, 0), (9, 0, 0))))))


def test_end_that_runs_out_inside_its_bend(as_worded: Worded) -> None:
    """A tip that would lie in the bend is refused."""
    bent = member("B", bends=rows((5, To.TANGENT, 90.0, F(150)), (300,)), end_a=cope(60))
    said = only_fault(laid(bent))
    assert "18.216 mm" in said
    as_worded(said)


# --- what cannot be saddled, and other refusals ---


@pytest.mark.parametrize(
    ("end", "said"),
    [
        (cope(30), "Members row 2, onto a: a member of OD 38 mm is wider than the tube of 30 mm it lands on"),
        (cope(45, 90, 4), 'Members row 2, offset a: "4 mm": so far off centre that part of the member misses'),
        (cope(45, 9), 'Members row 2, angle a: "9": a cope\'s angle must be between 10 and 90 degrees'),
        (cope(45, 120), "(give the acute angle, 60, and turn the end by 180)"),
        (cope(45, 170), 'Members row 2, angle a: "170": a cope\'s angle must be'),
        (End(Cut.MITRE, 80.0), "(from the tube's axis it would be 10)"),
        (End(Cut.MITRE, -1.0), 'Members row 2, angle a: "-1": a mitre must be between 0 (square) and 75 degrees'),
        (End(Cut.COPE), "Members row 2, onto a: a cope needs a tube to land on"),
        (cope(Onto(F(45), clr=F(20))), "the bend it lands on has a centreline radius of 20 mm"),
        (cope(Onto(F(45), clr=F(600), side_deg=180.0), 20), "the member runs into the same bend again"),
        (cope(Onto(F(45), "H", None, bend=1)), "has no radius, and neither does its tube"),
        (cope(Onto(F(30), clr=F(100))), "is wider than the tube of 30 mm"),
        (cope(Onto(F(45), clr=F(100)), 9), "a cope's angle must be between 10 and 90"),
        (End(Cut.COPE, saddles=(Saddle(Onto(F(30))), Saddle(Onto(F(25))))), "misses every tube it lands on"),
    ],
)
def test_ends_that_cannot_be_cut(end: End, said: str) -> None:
    """Each impossible end is refused in its column with the reason, and the member has no blank."""
    layout = laid(member(end_a=end))
    assert said in only_fault(layout)
    assert layout.blanks == ()


def test_refusals_speak_the_jobs_units() -> None:
    """In an inch job the sizes in a refusal are inches."""
    said = only_fault(laid(member(end_a=cope(30)), settings=Settings(units=Units.IN, step=INCH / 32)))
    assert "OD 1.4961 in" in said


def test_error_reads_alone(as_worded: Worded) -> None:
    """A geometry error on its own reads as rule, value and cure, in millimetres."""
    as_worded(GeometryError("too far, at most {1}", "{0}", "less", lengths=(4.0, 3.5)), GeometryError("cannot be"))


def test_members_that_land_on_themselves_or_in_a_ring(as_worded: Worded) -> None:
    """A member on itself, on nothing, or two on each other, cannot be built."""
    a = member("A", end_a=cope(Onto(F(45), "A", "A")))
    as_worded(only_fault(laid(a)))
    as_worded(only_fault(laid(member("A", end_a=cope(Onto(F(45), "Z", "Z"))))))
    ring = laid(
        member("A", end_a=cope(Onto(F(38), "B", "B"))),
        member("B", end_a=cope(Onto(F(38), "C", "C"))),
        member("C", end_b=cope(Onto(F(38), "A", "A"))),
    )
    assert [fault.place.column for fault in ring.faults] == ["onto a", "onto a", "onto b"]
    as_worded(*ring.faults)


def test_landing_on_a_member_that_lands_elsewhere() -> None:
    """A chain of members is no ring."""
    assert (
        blank(
            member("A", "H45"),
            member("B", "H45", end_a=cope(Onto(F(45), "A", "A"))),
            member("C", end_a=cope(Onto(F(45), "B-L", "B"))),
        ).mark
        == "C"
    )


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (member(tube="X"), 'Members row 2, tube: "X": is not in the Tubes sheet'),
        (member(length=None), "Members row 2, length: is empty"),
        (member(length=F(20), end_a=cope(60), end_b=cope(60)), "leaves a blank of -26.433 mm"),
    ],
)
def test_members_without_a_length(made: Member, said: str) -> None:
    """An unknown tube, a missing length, and less than nothing left are faults of the member's row."""
    assert said in only_fault(laid(made))


def test_every_fault_at_once() -> None:
    """Faults of several members, and of both ends of one, come together; sound members keep their blanks."""
    layout = laid(member("A", end_a=cope(30), end_b=cope(45, 9)), member("B"), member("C", length=None))
    assert len(layout.faults) == 3
    assert [made.mark for made in layout.blanks] == ["B"]


def test_landing_on_a_bend_out_of_centre_says_how_far_out(as_worded: Worded) -> None:
    """The remark gives both lengths where they differ."""
    off = End(Cut.COPE, saddles=(Saddle(Onto(F(60), clr=F(120), side_deg=30.0), 60.0, F(8)),), measured=Measured.FACE)
    (remark,) = laid(member(end_a=off)).remarks
    as_worded(remark)
