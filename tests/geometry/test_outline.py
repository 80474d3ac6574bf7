"""Pictures of pieces: their lines are those of the joints, and a right hand is the mirror image of a left one."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from math import cos, hypot, pi, radians, sin, sqrt, tan

import pytest

from cutplan.geometry.ends import cope, mitre
from cutplan.geometry.inside import Insides, insides
from cutplan.geometry.layout import lay_out
from cutplan.geometry.model import BendMark, Blank, EndShape
from cutplan.geometry.outline import View, end_outline, piece_outline
from cutplan.job.model import Bend, Cut, End, Job, Member, Onto, Saddle, Settings, Tube
from cutplan.plan.tables.pictures import end_view, piece_picture, two_sided

F = Fraction


@pytest.mark.parametrize(("od", "onto", "offset"), [(38.0, 38.0, 0), (30.0, 45.0, 6), (25.0, 48.3, -11)])
def test_a_square_tee_is_seen_as_two_cylinders_meet(od, onto, offset):
    """Seen along the other tube's plane, from the equation of that tube alone: x² + (z - e)² = R²."""
    shape = cope(od, [Saddle(Onto(F(onto)), 90.0, F(offset))])
    outline = end_outline(shape)
    r = od / 2
    tip = min(sqrt(onto**2 / 4 - (r * sin(turn * pi / 1800) - offset) ** 2) for turn in range(3600))
    for curve, side in ((outline.near, 1.0), (outline.far, -1.0)):
        assert len(curve) > 50
        for x, y in curve:
            z = side * sqrt(max(r * r - y * y, 0.0))
            assert abs(x + tip - sqrt(onto**2 / 4 - (z - offset) ** 2)) < 0.01


def test_a_mitre_is_seen_as_a_straight_line():
    """Both halves on one line, as steep as its angle, the short side up."""
    outline = end_outline(mitre(40.0, 30.0))
    for curve in (outline.near, outline.far):
        assert all(abs(x - (20.0 + y) * tan(radians(30.0))) < 1e-9 for x, y in curve)


def straight(radius: float, *bends: BendMark, length: float) -> Blank:
    square = EndShape(Cut.SQUARE, 2 * radius)
    return Blank("M", "M", "t", 1, F(length), (), square, square, bends=bends)


def test_a_hoop_is_as_wide_and_high_as_its_bends_make_it():
    """By hand: legs of 500, two bends of 90 at radius 100 with 300 between, of 40 mm tube."""
    arc = 100 * pi / 2
    bends = (
        BendMark(1, 500.0, 500.0, 500.0, arc, 90.0, 100.0, 0.0),
        BendMark(2, 300.0, 800.0 + arc, 800.0 + arc, arc, 90.0, 100.0, 0.0),
    )
    hoop = straight(20.0, *bends, length=1300 + 2 * arc)
    picture = piece_picture(hoop, Insides())
    assert abs(picture.width - (500 + 100 + 20)) < 0.01
    assert abs(picture.height - (300 + 200 + 40)) < 0.01
    names = {label.text: label.at for label in picture.labels}
    assert names["a"][1] > names["b"][1]
    assert set(names) == {"a", "b", "1", "2"}
    flat = piece_picture(hoop, Insides(), flat=True)
    assert (round(flat.width, 6), round(flat.height, 6)) == (round(1300 + 2 * arc, 6), 40.0)
    turned = straight(20.0, bends[0], replace(bends[1], rotation_deg=90.0), length=1300 + 2 * arc)
    # Clockwise from the inside of the first bend, seen along the tube that now runs up, is towards the eye.
    above = piece_outline(turned, Insides(), View.ABOVE)
    assert above.tips[1][1][1] < -0.99


def surface(blank: Blank, steps: int = 25):
    """Points all over a bent piece's outside, its ends square, walked along on its own."""
    at, way, up = [0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]
    r, along = blank.end_a.od / 2, 0.0

    def cross(a, b):
        return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]

    def ring():
        side = cross(way, up)
        for k in range(90):
            c, s = r * cos(k * pi / 45), r * sin(k * pi / 45)
            yield [p + c * u + s * v for p, u, v in zip(at, up, side, strict=True)]

    yield from ring()
    for bend in blank.bends:
        at = [p + (bend.start - along) * w for p, w in zip(at, way, strict=True)]
        along = bend.start + bend.arc
        if bend.number > 1:
            side, c, s = cross(way, up), cos(radians(bend.rotation_deg)), sin(radians(bend.rotation_deg))
            up = [c * u + s * v for u, v in zip(up, side, strict=True)]
        step = radians(bend.angle_deg) / steps
        chord = 2 * bend.radius * sin(step / 2)
        for _ in range(steps):
            yield from ring()
            c, s = cos(step / 2), sin(step / 2)
            for half in (0, 1):
                way, up = (
                    [c * w + s * u for w, u in zip(way, up, strict=True)],
                    [c * u - s * w for w, u in zip(way, up, strict=True)],
                )
                if not half:
                    at = [p + chord * w for p, w in zip(at, way, strict=True)]
        yield from ring()
    at = [p + (float(blank.length) - along) * w for p, w in zip(at, way, strict=True)]
    yield from ring()


@pytest.mark.parametrize("seed", range(4))
def test_a_piece_bent_in_space_is_seen_as_large_as_its_surface(seed):
    """The outline's bounds are those of points all over the surface, from the side and from above."""
    dice = random.Random(seed)
    bends, along = [], 0.0
    for number in range(1, 4):
        straight_run, angle, radius = dice.uniform(80, 400), dice.uniform(20, 100), dice.uniform(90, 150)
        along += straight_run
        arc = radius * radians(angle)
        rotation = 0.0 if number == 1 else dice.uniform(-180, 180)
        bends.append(BendMark(number, straight_run, along, along, arc, angle, radius, rotation))
        along += arc
    blank = straight(19.0, *bends, length=along + 300)
    points = list(surface(blank))
    for view, up in ((View.SIDE, 1), (View.ABOVE, 2)):
        picture = piece_picture(blank, Insides(), view)
        across = max(p[0] for p in points) - min(p[0] for p in points)
        down = max(p[up] for p in points) - min(p[up] for p in points)
        assert abs(picture.width - across) < 0.3
        assert abs(picture.height - down) < 0.3


def pairs() -> list[Member]:
    """Members in pairs whose left and right differ: off centre, turned, bent, landing on two tubes."""
    one, two = Saddle(Onto(F(45)), 55.0, F(3)), Saddle(Onto(F(45)), 70.0, F(-2), 130.0)
    bent = (
        Bend(F(300), angle_deg=60.0, from_end_deg=35.0),
        Bend(F(200), angle_deg=40.0, rotation_deg=75.0),
        Bend(F(250)),
    )
    return [
        Member("OFF", "T", pair=True, length=F(700), end_a=End(Cut.COPE, saddles=(one,))),
        Member(
            "TURN",
            "T",
            pair=True,
            length=F(700),
            end_a=End(Cut.MITRE, 40.0),
            end_b=End(Cut.COPE, saddles=(one,)),
            turn_deg=63.0,
            turn_given=True,
        ),
        Member("TWO", "T", pair=True, length=F(700), end_b=End(Cut.COPE, saddles=(one, two))),
        Member("BENT", "T", pair=True, end_a=End(Cut.COPE, saddles=(one,)), end_b=End(Cut.MITRE, 25.0), bends=bent),
    ]


@pytest.mark.parametrize("member", pairs(), ids=lambda member: member.mark)
@pytest.mark.parametrize("view", View)
def test_a_right_hand_is_the_mirror_image_of_the_left(member, view):
    """Every line of the one picture is a line of the other, turned left to right, the finished piece and the blank."""
    job = Job(Settings(), (Tube("T", F(38), F(2), clr=F(114)),), (), (member,))
    layout = lay_out(job)
    assert not layout.faults
    left, right = layout.blanks
    for flat in (False, True):
        one = piece_picture(left, insides(left, job), view, flat=flat)
        other = piece_picture(right, insides(right, job), view, flat=flat, mirrored=True)
        assert [line.behind for line in one.lines] == [line.behind for line in other.lines]
        for ours, theirs in zip(one.lines, other.lines, strict=True):
            for (x, y), (u, v) in zip(ours.points, theirs.points, strict=True):
                assert hypot(x - (other.width - u), y - v) < 1e-6
        # And it is no picture of the other hand: as it is, it differs.
        same = piece_picture(right, insides(right, job), view, flat=flat)
        assert any(
            hypot(x - u, y - v) > 0.5
            for ours, theirs in zip(one.lines, same.lines, strict=False)
            for (x, y), (u, v) in zip(ours.points, theirs.points, strict=False)
        )


@pytest.mark.parametrize("behind", [False, True])
@pytest.mark.parametrize("turn", [0.0, 45.7, 180.0, 262.0])
def test_the_lines_along_an_end_are_drawn_and_named_where_they_are(turn, behind):
    """Each quarter that faces the eye, by the place of its own line in space: up by r cos, towards the eye by r sin;
    where it is no edge, a line is drawn from the joint on. The quarters that face away are not named."""
    shape = cope(30.0, [Saddle(Onto(F(38)), 50.0), Saddle(Onto(F(34)), 80.0, F(2), 100.0)])
    picture = end_view(shape, turn, behind=behind)
    named = {label.text: label.at for label in picture.labels}
    fine = [line.points for line in picture.lines if line.fine]
    for quarter in (0, 90, 180, 270):
        up, towards = cos(radians(quarter + turn)), sin(radians(quarter + turn)) * (-1.0 if behind else 1.0)
        assert (str(quarter) in named) == (towards > -0.02)
        if towards <= -0.02:
            continue
        x, y = named[str(quarter)]
        assert (x, y) == (picture.width, pytest.approx(15.0 - 15.0 * up))
        starts = [points[0] for points in fine if abs(points[0][1] - y) < 1e-9]
        if towards > 0.02:
            depth = max(
                (
                    sqrt(onto**2 / 4 - (15.0 * sin(radians(quarter - at)) - off) ** 2)
                    + 15.0 * cos(radians(quarter - at)) * cos(a)
                )
                / sin(a)
                for onto, a, off, at in ((38.0, radians(50.0), 0.0, 0.0), (34.0, radians(80.0), 2.0, 100.0))
            )
            assert starts == [(pytest.approx(depth - shape.tip_from_centre, abs=0.01), y)]
    assert two_sided(shape, turn)
    assert not two_sided(cope(30.0, [Saddle(Onto(F(38)), 50.0)]), 180.0)


def test_edges_begin_and_end_where_the_ends_do():
    """Of the hoop's first leg, 40 wide and sawn square: both edges from its sawn end on; each edge from the line of
    one end to that of the other, whatever the ends are, and the half behind ends where the half in front does."""
    leg = straight(20.0, BendMark(1, 500.0, 500.0, 500.0, 50 * pi, 90.0, 100.0, 0.0), length=1000)
    outline = piece_outline(leg, Insides(), View.SIDE)
    assert outline.upper[0] == pytest.approx((0.0, 20.0), abs=1e-9)
    assert outline.lower[0] == pytest.approx((0.0, -20.0), abs=1e-9)
    shaped = replace(leg, end_a=cope(40.0, [Saddle(Onto(F(45)), 60.0)]), end_b=mitre(40.0, 30.0))
    for view in View:
        outline = piece_outline(shaped, Insides(), view)
        for number, at in ((0, 0), (1, -1)):
            assert (outline.upper[at], outline.lower[at]) == (outline.near[number][0], outline.near[number][-1])
            assert outline.far[number][0] == pytest.approx(outline.upper[at], abs=1e-6)
            assert outline.far[number][-1] == pytest.approx(outline.lower[at], abs=1e-6)
