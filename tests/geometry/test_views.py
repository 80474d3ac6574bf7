"""Guards what drawings show of tubes: outlines where they are, ends as they are cut, and nothing that is hidden."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from frames import random_frame
from test_clashes import job_of, member, sound

from cutplan.geometry import lay_out
from cutplan.geometry.bodies import Body, bodies_in_place, body_by_itself
from cutplan.geometry.centreline import centreline
from cutplan.geometry.views import ABOVE, FRONT, SIDE, Line, Scene, View, pictorial, seen_lines
from cutplan.job.model import Bend, Cut, End, Job, Member, Onto, Saddle, Settings, Tube

VIEWS = (FRONT, SIDE, ABOVE, pictorial())


def in_place(*members: Member) -> list[Body]:
    """The bodies of a job of these members."""
    job = job_of(*members)
    return list(bodies_in_place(job, lay_out(job).blanks))


def long_lines(bodies: list[Body], view: View, of: int = 0, halo: float = 0.0) -> list[np.ndarray]:
    """What is seen of the sides of body ``of``, from left to right."""
    found = [
        line.points[np.argsort(line.points[:, 0])]
        for line in seen_lines(bodies, view, halo)
        if line.of == of and len(line.points) > 1 and np.ptp(line.points[:, 0]) > 60.0
    ]
    return sorted(found, key=lambda points: (round(float(points[0, 0]), 3), float(points[0, 1])))


def test_each_view_is_a_right_handed_look() -> None:
    """Right, up and towards the eye are square to each other and unit vectors, right-handed: no view is a mirror."""
    for view in VIEWS:
        axes = np.array([view.right, view.up, view.towards])
        assert np.allclose(axes @ axes.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(axes) == pytest.approx(1.0)


def test_the_sides_of_a_leaning_tube() -> None:
    """A tube of 30 from corner to corner of 800 by 600: its sides run 15 off its axis, from end to end."""
    upper, lower = sorted(
        (
            line.points
            for line in seen_lines(in_place(member("M", (0, 0, 0), (800, 0, 600))), FRONT)
            if len(line.points) > 90
        ),
        key=lambda points: -points[:, 1].sum(),
    )
    for points, side in ((upper, 1.0), (lower, -1.0)):
        start, stop = points[np.argmin(points[:, 0])], points[np.argmax(points[:, 0])]
        assert start == pytest.approx((-0.6 * 15.0 * side, 0.8 * 15.0 * side), abs=1e-6)
        assert stop == pytest.approx((800.0 - 0.6 * 15.0 * side, 600.0 + 0.8 * 15.0 * side), abs=1e-6)


def test_what_is_in_front_hides_what_is_behind() -> None:
    """Of two tubes of 30 that cross, the further stops at the sides of the nearer one, the nearer runs on; from behind
    it is the other way round."""
    bodies = in_place(member("NEAR", (500, -100, -300), (500, -100, 300)), member("FAR", (0, 0, 0), (1000, 0, 0)))
    spans = [(line[0, 0], line[-1, 0]) for line in long_lines(bodies, FRONT, of=1)]
    assert np.array(sorted(spans)) == pytest.approx(np.array([(0, 485), (0, 485), (515, 1000), (515, 1000)]), abs=0.1)
    behind = View((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    spans = [(line[0, 0], line[-1, 0]) for line in long_lines(bodies, behind, of=1)]
    assert np.array(spans) == pytest.approx(np.array([(-1000, 0), (-1000, 0)]), abs=0.1)


def test_lines_of_few_points_are_parted_each_by_itself() -> None:
    """Three points a line, the middle one hidden: of each line both halves are seen, up to the tube in front, and
    nothing joins one line to the next."""
    bodies = in_place(member("NEAR", (500, -100, -300), (500, -100, 300)), member("FAR", (0, 0, 0), (1000, 0, 0)))
    line = Line(1, np.array([(0.0, -15.0, 0.0), (500.0, -15.0, 0.0), (1000.0, -15.0, 0.0)]))
    back = Line(1, line.points[::-1])
    spans = [sorted(part.points[[0, -1], 0]) for part in Scene(bodies, FRONT).seen([line, back, line])]
    left, right = (0.0, 485.0), (515.0, 1000.0)
    # The tube in front is found by halving the 500 to it, to half a millimetre.
    assert np.array(spans) == pytest.approx(np.array([left, right, right, left, left, right]), abs=0.5)


def test_what_passes_well_behind_stops_a_little_short() -> None:
    """With a halo of 5 the further tube stops 5 from the nearer one's sides; tubes that touch do so in the picture."""
    bodies = in_place(member("NEAR", (500, -100, -300), (500, -100, 300)), member("FAR", (0, 0, 0), (1000, 0, 0)))
    spans = [(line[0, 0], line[-1, 0]) for line in long_lines(bodies, FRONT, of=1, halo=5.0)]
    assert np.array(sorted(spans)) == pytest.approx(np.array([(0, 480), (0, 480), (520, 1000), (520, 1000)]), abs=0.1)
    tee = in_place(member("RAIL", (0, 0, 0), (1000, 0, 0)), member("POST", (500, 0, 0), (500, 0, 400), a="RAIL"))
    post = [line.points for line in seen_lines(tee, FRONT, 5.0) if line.of == 1]
    assert min(float(points[:, 1].min()) for points in post) < 15.0


def test_a_coped_end_is_drawn_to_the_side_of_the_tube_it_lands_on() -> None:
    """A square tee of 30 on 30: the member's edge dips from the rail's far side (its axis) up to its side, 15."""
    tee = in_place(member("RAIL", (0, 0, 0), (1000, 0, 0)), member("POST", (500, 0, 0), (500, 0, 400), a="RAIL"))
    edge = [line.points for line in seen_lines(tee, FRONT) if line.of == 1 and np.ptp(line.points[:, 1]) < 30.0]
    low = min(float(points[:, 1].min()) for points in edge)
    assert low == pytest.approx(0.0, abs=0.1)
    # On the rail: z = sqrt(15² - y²), with y = sqrt(15² - x²): the saddle of equal tubes is two straight lines.
    for points in edge:
        for x, z in points:
            if z < 14.9:
                assert z == pytest.approx(abs(x - 500.0), abs=0.35)


@pytest.mark.parametrize("view", [FRONT, ABOVE], ids=["along its plane's normal", "along its plane"])
def test_a_bend_from_both_sides(view: View) -> None:
    """A bend of 90 at 114 in the plane of x and z: from the front two arcs of 114 - 19 and 114 + 19 about one centre;
    from above a round end."""
    tube = Tube("T", Fraction(38), Fraction(2), clr=Fraction(114))
    hoop = Member("H", "T", bends=(Bend(Fraction(300), angle_deg=90.0), Bend(Fraction(300))))
    job = Job(Settings(), (tube,), (), (hoop,))
    (blank,) = lay_out(job).blanks
    points = np.concatenate([line.points for line in seen_lines([body_by_itself(job, blank)], view)])
    if view is FRONT:
        arc = points[(points[:, 0] > 301.0) & (points[:, 1] < 113.0)]
        far = np.hypot(arc[:, 0] - 300.0, arc[:, 1] - 114.0)
        assert len(arc) > 50
        assert np.minimum(np.abs(far - 95.0), np.abs(far - 133.0)).max() < 1e-6
    else:
        tip = points[points[:, 0] > 300.0 + 114.0 + 0.5]
        assert len(tip) > 20
        assert np.hypot(tip[:, 0] - 414.0, tip[:, 1]) == pytest.approx(np.full(len(tip), 19.0), abs=0.05)


def hands() -> Job:
    """A pair of bent stays, coped off centre at one end."""
    tube = Tube("T", Fraction(30), Fraction(2), clr=Fraction(90))
    ends = [
        End(Cut.COPE, saddles=(Saddle(Onto(Fraction(38), "38"), angle, Fraction(offset)),))
        for angle, offset in ((60.0, 3), (50.0, 0))
    ]
    bends = (
        Bend(Fraction(400), angle_deg=40.0, from_end_deg=30.0),
        Bend(Fraction(300), angle_deg=70.0, rotation_deg=-120.0),
        Bend(Fraction(350), from_end_deg=45.0),
    )
    return Job(Settings(), (tube,), (), (Member("S", "T", pair=True, end_a=ends[0], end_b=ends[1], bends=bends),))


def furthest(points: np.ndarray, lines: list[np.ndarray]) -> float:
    """How far the worst of ``points`` lies from the nearest of ``lines``."""
    starts = np.concatenate([line[:-1] for line in lines])
    ways = np.concatenate([np.diff(line, axis=0) for line in lines])
    gap = points[:, None, :] - starts
    part = np.clip((gap * ways).sum(axis=2) / np.maximum((ways * ways).sum(axis=1), 1e-12), 0.0, 1.0)
    return float(np.linalg.norm(gap - part[:, :, None] * ways, axis=2).min(axis=1).max())


def test_the_left_hand_is_the_mirror_of_the_right() -> None:
    """Looked at in the mirror of the first bend's plane, the right hand gives the picture of the left; looked at as the
    left is, it does not."""
    job = hands()
    left, right = (body_by_itself(job, blank) for blank in lay_out(job).blanks)
    mirrored = View((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0))
    one, other, same = (
        [line.points for line in seen_lines([body], view)]
        for body, view in ((left, ABOVE), (right, mirrored), (right, ABOVE))
    )
    assert furthest(np.concatenate(one), other) < 0.1
    assert furthest(np.concatenate(other), one) < 0.1
    assert furthest(np.concatenate(one), same) > 50.0


def chords_of(job: Job, mark: str) -> tuple[float, np.ndarray]:
    """A tube as its radius and points of its centreline, straight from the job's points: for the judge below."""
    each = next(one for one in job.members if one.mark == mark)
    tube = job.tube(each.tube)
    at = [piece.at(piece.length * k / 40)[0] for piece in centreline(each, tube) for k in range(41)]
    return float(tube.od) / 2.0, np.array(at)


def depth_in(points: np.ndarray, radius: float, line: np.ndarray) -> np.ndarray:
    """How deep each of ``points`` lies in the tube round ``line``."""
    ways = np.diff(line, axis=0)
    gap = points[:, None, :] - line[:-1]
    part = np.clip((gap * ways).sum(axis=2) / np.maximum((ways * ways).sum(axis=1), 1e-12), 0.0, 1.0)
    return np.asarray(radius - np.linalg.norm(gap - part[:, :, None] * ways, axis=2).min(axis=1))


@pytest.mark.parametrize("seed", [4, 9])
def test_against_a_walk_along_every_line_of_sight(seed: int) -> None:
    """Random frames: the sides of every tube are hidden where steps of 3 mm towards the eye come into metal, and
    nowhere else. The judge knows the points alone; so the nodes, where ends are cut, are left out."""
    job = sound(random_frame(seed))
    bodies = list(bodies_in_place(job, lay_out(job).blanks))
    view = pictorial(40.0, 30.0)
    tubes = [chords_of(job, body.member) for body in bodies]
    ends = np.concatenate([line[[0, -1]] for _, line in tubes])
    eye = np.array(view.towards)
    points, owner = [], []
    for number, (radius, line) in enumerate(tubes):
        square = np.cross(line[1:] - line[:-1], eye)
        square /= np.maximum(np.linalg.norm(square, axis=1), 1e-9)[:, None]
        for side in (radius, -radius):
            points.append((line[:-1] + side * square)[1::6])
            owner.append(np.full(len(points[-1]), number))
    at, of = np.concatenate(points), np.concatenate(owner)
    clear = np.linalg.norm(at[:, None, :] - ends, axis=2).min(axis=1) > 120.0
    at, of = at[clear], of[clear]
    free = Scene(bodies, view).free(at, of)
    steps = np.arange(2.0, 1800.0, 3.0)[:, None] * eye
    checked = wrong = 0
    for point, number, seen in zip(at, of, free, strict=True):
        walk = point + steps
        deepest = -np.inf
        for k, (radius, line) in enumerate(tubes):
            near = walk[(np.abs(walk - line.mean(axis=0)) < np.ptp(line, axis=0) / 2.0 + 60.0).all(axis=1)]
            deep = float(depth_in(near, radius, line).max(initial=-np.inf))
            # Its own outside it only touches, but where it is bent it may come round in front of itself.
            if k != number or deep > 1.0:
                deepest = max(deepest, deep)
        if abs(deepest) > 1.0:
            checked += 1
            wrong += bool(seen) == (deepest > 0.0)
    assert checked > 30
    assert wrong == 0
