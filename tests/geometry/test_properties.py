"""What must hold for every member, whatever its numbers: round trips, symmetries, limits."""

from dataclasses import replace
from fractions import Fraction
from math import radians, tan

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cutplan.geometry import Blank, end_line, ends, lay_out
from cutplan.geometry.points import Lra, PointError, Pose, Vector, lra_from_points, plus, scaled, turned
from cutplan.job.model import Bend, Cut, End, Job, Measured, Member, Onto, Saddle, Settings, To, Tube

QUICK = settings(max_examples=60, deadline=None)
coordinate = st.integers(-2000, 2000).map(float)


def cope(od: Fraction, angle: float, offset: Fraction, measured: Measured) -> End:
    return End(Cut.COPE, saddles=(Saddle(Onto(od), angle, offset),), measured=measured)


@st.composite
def copes(draw: st.DrawFn, od: Fraction) -> End:
    onto = od + Fraction(draw(st.integers(0, 400)), 10)
    offset = (onto - od) / 2 * Fraction(draw(st.integers(-10, 10)), 10)
    return cope(onto, float(draw(st.integers(15, 90))), offset, draw(st.sampled_from(Measured)))


@st.composite
def straight_members(draw: st.DrawFn) -> Member:
    od = Fraction(38)
    turn = float(draw(st.integers(-180, 180)))
    return Member("M", "T", length=Fraction(2000), end_a=draw(copes(od)), end_b=draw(copes(od)), turn_deg=turn)


@st.composite
def bent_members(draw: st.DrawFn) -> Member:
    count = draw(st.integers(1, 4))
    rows = [
        Bend(
            Fraction(draw(st.integers(800, 1500))),
            draw(st.sampled_from(To)),
            float(draw(st.integers(5, 120))),
            Fraction(draw(st.integers(60, 200))),
            float(draw(st.integers(-180, 180))),
        )
        for _ in range(count)
    ]
    rows.append(Bend(Fraction(900), draw(st.sampled_from(To))))
    return Member("M", "T", bends=tuple(rows), end_a=draw(copes(Fraction(38))), end_b=draw(copes(Fraction(38))))


def blanks(member: Member, scale: int = 1, **kwargs: Fraction) -> tuple[Blank, ...]:
    tube = Tube("T", Fraction(38) * scale, Fraction(2), stretch=Fraction(2) * scale)
    layout = lay_out(Job(Settings(**kwargs), (tube,), (), (member,)))
    assert not layout.faults, layout.faults
    return layout.blanks


def net(blank: Blank) -> float:
    """The blank before rounding."""
    return sum(part.length for part in blank.parts[:-1])


def points_from_lra(table: Lra, pose: Pose) -> tuple[Vector, ...]:
    """The points of a tube bent by ``table`` and lying as ``pose`` says: its ends and each bend's apex."""
    points = [pose.start]
    way, normal = pose.direction, pose.normal
    bends = zip(table.angles_deg, table.radii, strict=True)
    setbacks = [0.0, *(radius * tan(radians(turn) / 2.0) for turn, radius in bends), 0.0]
    for i, straight in enumerate(table.straights):
        points.append(plus(points[-1], scaled(way, setbacks[i] + straight + setbacks[i + 1])))
        if i < len(table.angles_deg):
            normal = turned(normal, way, table.rotations_deg[i])
            way = turned(way, normal, table.angles_deg[i])
    return tuple(points)


@QUICK
@given(st.lists(st.tuples(coordinate, coordinate, coordinate), min_size=2, max_size=7), st.integers(0, 80))
def test_points_to_table_and_back(points: list[tuple[float, float, float]], radius: int) -> None:
    """Points -> straights, angles, rotations -> points gives the points to a millionth of a millimetre."""
    try:
        table, pose = lra_from_points(points, [float(radius)] * (len(points) - 2))
    except PointError:
        assume(False)
    # Next to doubling back, a setback is so many times its radius that no figures are left of the straight.
    assume(all(angle < 170.0 for angle in table.angles_deg))
    assert np.max(np.abs(np.array(points_from_lra(table, pose)) - np.array(points))) < 1e-6


@QUICK
@given(st.lists(st.tuples(st.integers(1, 900), st.integers(5, 150), st.integers(0, 90), st.integers(-179, 180)),
                min_size=1, max_size=5))  # fmt: skip
def test_table_to_points_and_back(rows: list[tuple[int, int, int, int]]) -> None:
    """A bender's table -> points -> table gives the table."""
    rotations = (0.0, *(float(row[3]) for row in rows[1:]))
    table = Lra(
        (*(float(row[0]) for row in rows), 100.0),
        tuple(float(row[1]) for row in rows),
        tuple(float(row[2]) for row in rows),
        rotations,
    )
    points = points_from_lra(table, Pose((1.0, 2.0, 3.0), (0.0, 0.6, 0.8), (1.0, 0.0, 0.0)))
    again, _ = lra_from_points(points, table.radii)
    assert again.straights == pytest.approx(table.straights, abs=1e-6)
    assert again.angles_deg == pytest.approx(table.angles_deg, abs=1e-6)
    for one, other in zip(again.rotations_deg, rotations, strict=True):
        assert (one - other + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-5)


@QUICK
@given(straight_members(), st.integers(-180, 180))
def test_turning_changes_no_blank(member: Member, turn: int) -> None:
    """The blank is tip to tip whatever the turn between its copes."""
    (plain,), (turned,) = blanks(member), blanks(replace(member, turn_deg=float(turn)))
    assert plain.length == turned.length


@QUICK
@given(st.one_of(straight_members(), bent_members()))
def test_both_hands_are_one_blank(member: Member) -> None:
    """A left and a right have the same length, and the right's end lines are the left's, read the other way round."""
    left, right = blanks(replace(member, pair=True))
    assert (left.mark, right.mark) == ("M-L", "M-R")
    assert left.length == right.length
    phi = np.arange(0.0, 360.0, 15.0)
    for one, other in ((left.end_a, right.end_a), (left.end_b, right.end_b)):
        assert end_line(one, phi) == pytest.approx(end_line(other, -phi), abs=1e-9)
        assert end_line(other, np.array([other.tip_turn_deg])) == pytest.approx([0.0], abs=1e-6)


@QUICK
@given(st.one_of(straight_members(), bent_members()))
def test_reversing_changes_no_blank(member: Member) -> None:
    """A member given from its other end has the same blank."""
    back = replace(member, end_a=member.end_b, end_b=member.end_a)
    if member.bends:
        corners = [*((row.angle_deg, row.radius) for row in member.bends[-2::-1]), (None, None)]
        rows = zip(reversed(member.bends), corners, strict=True)
        back = replace(back, bends=tuple(replace(row, angle_deg=angle, radius=radius) for row, (angle, radius) in rows))
    assert net(blanks(member)[0]) == pytest.approx(net(blanks(back)[0]), abs=1e-6)


@QUICK
@given(st.one_of(straight_members(), bent_members()), st.integers(2, 5))
def test_stretching_every_measure_stretches_the_blank(member: Member, k: int) -> None:
    """K times every length gives k times the blank, allowances and rounding apart."""

    def grown(end: End) -> End:
        saddles = tuple(
            replace(one, offset=one.offset * k, onto=replace(one.onto, od=one.onto.od * k)) for one in end.saddles
        )
        return replace(end, saddles=saddles)

    bends = tuple(
        replace(row, straight=row.straight * k, radius=row.radius * k if row.radius else None) for row in member.bends
    )
    length = member.length * k if member.length else None
    big = replace(member, length=length, bends=bends, end_a=grown(member.end_a), end_b=grown(member.end_b))
    assert net(blanks(big, scale=k)[0]) == pytest.approx(k * net(blanks(member)[0]), abs=2e-5)


@QUICK
@given(st.integers(15, 90), st.sampled_from([Measured.FACE, Measured.SHORT]))
def test_cope_onto_a_huge_tube_tends_to_the_mitre(angle: int, measured: Measured) -> None:
    """A very wide header is a plane: the cope's line becomes that of a mitre of 90° less the angle."""
    wide = ends.cope(38.0, [Saddle(Onto(Fraction(10**7)), float(angle))])
    plane = ends.mitre(38.0, 90.0 - angle)
    phi = np.arange(0.0, 360.0, 10.0)
    assert end_line(wide, phi) == pytest.approx(end_line(plane, phi), abs=1e-3)


@QUICK
@given(st.one_of(straight_members(), bent_members()), st.integers(0, 30), st.integers(0, 30))
def test_parts_add_up_and_the_blank_is_never_short(member: Member, fit: int, shrink: int) -> None:
    """Parts sum to the blank to 1e-6 mm, the last being the rounding: from nothing to less than a step."""
    step = Fraction(1, 2)
    (blank,) = blanks(member, fit_cope=Fraction(fit, 10), shrink=Fraction(shrink, 10), step=step)
    assert sum(part.length for part in blank.parts) == pytest.approx(float(blank.length), abs=1e-6)
    assert blank.parts[-1].what == "rounded up to the next 0.5 mm"
    assert -1e-6 <= blank.parts[-1].length < 0.5
    assert blank.length % step == 0


@QUICK
@given(copes(Fraction(38)))
def test_tip_and_throat_bound_the_line(end: End) -> None:
    """No point of the line lies before the tip or beyond the throat, and both are reached where they are said to be."""
    shape = ends.cope(38.0, end.saddles)
    line = end_line(shape, np.arange(0.0, 360.0, 0.25))
    assert line.min() >= -1e-6
    assert line.max() <= shape.throat + 1e-6
    at = end_line(shape, np.array([shape.tip_turn_deg, shape.throat_turn_deg, 180.0, 0.0]))
    assert at == pytest.approx([0.0, shape.throat, shape.long, shape.short], abs=1e-6)
    assert shape.face == pytest.approx(float(end_line(shape, np.zeros(1), radius_mm=0.0)[0]), abs=1e-9)


@pytest.mark.parametrize(("od", "clr"), [(38, 114), (40, 114), (40, 120), (30, 150)])
@pytest.mark.parametrize("arc", [30.0, 45.0])
def test_an_equal_tube_sits_square_on_the_side_of_a_bend(od: int, clr: int, arc: float) -> None:
    """Its outermost line only touches the bend, where the axes come nearest: the tip lies there, as on a straight."""
    tube = Tube("T", Fraction(od), Fraction(2), clr=Fraction(clr))
    hoop = Member("H", "T", bends=(Bend(Fraction(500), To.TANGENT, 90.0), Bend(Fraction(400))))
    onto = Onto(Fraction(od), "H", "H", Fraction(clr), 1, arc, 90.0)
    end = End(Cut.COPE, saddles=(Saddle(onto, 62.0),))
    member = Member("M", "T", length=Fraction(600), end_a=end)
    layout = lay_out(Job(Settings(), (tube,), (), (hoop, member)))
    assert not layout.faults
    assert layout.blanks[-1].length == 600
