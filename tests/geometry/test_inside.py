"""Where a bend's inside lies round the tube from the short side of the end next to it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from cutplan.geometry import Blank, lay_out
from cutplan.geometry.inside import Insides, insides
from cutplan.job.model import Bend, Cut, End, Job, Member, Onto, Point, Saddle, Settings, Tube

F = Fraction
TUBE = Tube("H", F(30), F(2), clr=F(80))
RAIL = Tube("R", F(45), F(2))
FOOT = np.array([(-400.0, -300.0, 0.0), (400.0, 300.0, 0.0)])
HEAD = np.array([(700.0, 900.0, 400.0), (700.0, 300.0, 1300.0)])
COURSE = np.array([(0.0, 0.0, 0.0), (150.0, 40.0, 600.0), (100.0, 500.0, 900.0), (700.0, 600.0, 850.0)])


def points(course: np.ndarray) -> tuple[Point, ...]:
    return tuple(Point(*(F(float(value)) for value in point)) for point in course)


def landing(mark: str, *, seen: bool = True) -> End:
    return End(Cut.COPE, saddles=(Saddle(Onto(F(45), member=mark), 60.0),), from_points=seen)


def job(*members: Member) -> Job:
    return Job(Settings(), (TUBE, RAIL), (), members)


def pointed(**more: object) -> tuple[Blank, ...]:
    asked = {"points": points(COURSE), "end_a": landing("FOOT"), "end_b": landing("HEAD"), **more}
    member = Member("HOOP", "H", **asked)  # type: ignore[arg-type]
    # The heading passes through the last point, so that the axes meet.
    heading = HEAD - HEAD.mean(axis=0) + COURSE[-1]
    return made(member, Member("FOOT", "R", points=points(FOOT)), Member("HEAD", "R", points=points(heading)))


def made(*members: Member) -> tuple[Blank, ...]:
    layout = lay_out(job(*members))
    assert layout.faults == ()
    return tuple((blank, insides(blank, job(*members))) for blank in layout.blanks if blank.member == "HOOP")  # type: ignore[return-value]


def unit(vector: np.ndarray) -> np.ndarray:
    return vector / np.linalg.norm(vector)


def by_hand(end: np.ndarray, along: np.ndarray, bend: np.ndarray, other: np.ndarray, inward: float) -> float:
    """Degrees from the short side to ``bend``'s inside about ``along``. The short side is where the other tube leans
    to the member: its direction, taken so that it goes with the member, less its part along the member."""
    lean = other * np.sign(np.dot(other, along * inward))
    short = unit(lean - np.dot(lean, along) * along)
    inside = unit(bend - np.dot(bend, along) * along)
    return float(np.degrees(np.arctan2(np.dot(np.cross(short, inside), along), np.dot(short, inside)))) % 360.0


def test_coordinates_show_where_the_insides_are() -> None:
    """Guards the saddle's turn against its bend, at both ends of a tube bent in space, by vectors worked out here."""
    ((_, found),) = pointed()
    first, middle, last = (unit(side) for side in np.diff(COURSE, axis=0))
    foot, heading = unit(FOOT[1] - FOOT[0]), unit(HEAD[1] - HEAD[0])
    assert found.a == pytest.approx(by_hand(COURSE[0], first, middle, foot, 1.0), abs=1e-5)
    # The inside of the last bend is where the tube comes from.
    assert found.b == pytest.approx(by_hand(COURSE[-1], last, -middle, heading, -1.0), abs=1e-5)


def test_rows_show_the_same_as_coordinates() -> None:
    """Guards one sense of angles: by the first row's rotation, the bends' own and the turn, end b comes out alike;
    and by the last row's where end a is square."""
    ((blank, found),) = pointed()
    assert found.a is not None
    assert found.b is not None
    rows = [
        Bend(F(500), angle_deg=bend.angle_deg, rotation_deg=bend.rotation_deg if bend.number > 1 else 0.0)
        for bend in blank.bends
    ]
    rows.append(Bend(F(500)))
    ends = {"end_a": landing("FOOT", seen=False), "end_b": landing("HEAD", seen=False), "turn_deg": blank.turn_deg}
    shown = (replace(rows[0], from_end_deg=found.a), *rows[1:])
    others = Member("FOOT", "R", length=F(900)), Member("HEAD", "R", length=F(900))
    ((_, again),) = made(Member("HOOP", "H", bends=shown, **ends), *others)  # type: ignore[arg-type]
    assert (again.a, again.b) == (pytest.approx(found.a), pytest.approx(found.b, abs=1e-5))
    shown = (*rows[:-1], replace(rows[-1], from_end_deg=-found.b))
    ((_, again),) = made(Member("HOOP", "H", bends=shown, end_b=landing("HEAD", seen=False)), *others)
    assert again == Insides(None, pytest.approx(found.b))


def test_the_other_hand_is_the_mirror_image() -> None:
    """Guards a pair: right of it, the insides lie as far the other way round."""
    (_, left), (_, right) = pointed(pair=True)
    assert right.a == pytest.approx(360.0 - left.a)
    assert right.b == pytest.approx(360.0 - left.b)


def test_what_the_job_does_not_say_is_not_made_up() -> None:
    """Guards a saddle ground on the wrong side: blank is not 0."""
    rows = (Bend(F(500), angle_deg=90.0), Bend(F(500)))
    ends = {"end_a": landing("FOOT", seen=False)}
    foot = Member("FOOT", "R", length=F(900))
    ((_, found),) = made(Member("HOOP", "H", bends=rows, **ends), foot)  # type: ignore[arg-type]
    assert found == Insides()
    ((_, found),) = made(Member("HOOP", "H", length=F(500), **ends), foot)  # type: ignore[arg-type]
    assert found == Insides()


def test_the_other_hand_lands_on_the_other_side_of_a_pair() -> None:
    """Guards a right-hand brace written to sit on the left leg; what is no side of a pair stays for both."""
    sides = Saddle(Onto(F(45), "LEG-L", "LEG"), 60.0), Saddle(Onto(F(45), "HOOP", "HOOP"), 80.0)
    ends = [End(Cut.COPE, saddles=(saddle,)) for saddle in sides]
    brace = Member("B", "H", pair=True, length=F(700), end_a=ends[0], end_b=ends[1])
    leg, hoop = Member("LEG", "R", pair=True, length=F(900)), Member("HOOP", "R", length=F(900))
    left, right, *_ = lay_out(job(brace, leg, hoop)).blanks
    assert [end.saddles[0].onto.name for end in (left.end_a, left.end_b)] == ["LEG-L", "HOOP"]
    assert [end.saddles[0].onto.name for end in (right.end_a, right.end_b)] == ["LEG-R", "HOOP"]
