"""Marks of shaped ends: every extreme place is among them, and a hand that joins them finds the line, against tubes
followed by their own equations."""

from __future__ import annotations

import random
from fractions import Fraction
from math import cos, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from cutplan.geometry.ends import cope, mitre
from cutplan.geometry.model import EndShape
from cutplan.job.model import Onto, Saddle, Settings
from cutplan.plan.tables.end_lines import NEAR_MM, end_marks, joined, line_says, line_tables

F = Fraction
STEP = Settings(step=F(1, 2))
FINE = np.arange(0.0, 360.0, 0.5)


def followed(od: float, saddles: list[tuple[float, float, float, float]]) -> np.ndarray:
    """The line of an end from the tip, each line along the tube followed to the last tube that it leaves: by the
    equation of each tube alone, as (its diameter, angle, offset, turn)."""
    lines = []
    for onto, angle, offset, turn in saddles:
        a, phi = radians(angle), np.radians(FINE - turn)
        # Its axis runs in the plane of 0, leaning to it by the angle, ``offset`` towards 90.
        up, aside = od / 2.0 * np.cos(phi), od / 2.0 * np.sin(phi) - offset
        lines.append((np.sqrt(onto * onto / 4.0 - aside * aside) + up * cos(a)) / sin(a))
    line = np.max(lines, axis=0)
    return line - line.min()


def ends() -> list[tuple[str, EndShape, np.ndarray]]:
    """Ends a person could have: square tees, steep ones, off centre, onto two tubes and three."""
    dice = random.Random(5)
    made = []
    for number in range(60):
        od = dice.choice([25.0, 30.0, 38.1])
        count = dice.choice([1, 1, 2, 2, 3])
        saddles = []
        for k in range(count):
            onto = dice.choice([od, od + 4.0, od + 12.0])
            off = round(dice.uniform(-1.0, 1.0) * (onto - od) / 2.0, 1) if dice.random() < 0.4 else 0.0
            turn = 0.0 if not k else dice.choice([0.0, 90.0, 180.0, round(dice.uniform(0.0, 359.0))])
            saddles.append((onto, round(dice.uniform(30.0, 90.0)) * 1.0, off, turn))
        shape = cope(od, [Saddle(Onto(F(str(o))), a, F(str(e)), t) for o, a, e, t in saddles])
        made.append((f"{number}: {od} onto {saddles}", shape, followed(od, saddles)))
    return made


ENDS = ends()


def whole(shape: EndShape) -> list[tuple[float, str]]:
    """All its marked places, those of a half both ways round."""
    line = end_marks(shape, 2.0)
    places = [(place.turn_deg, place.what) for place in line.places]
    if line.both:
        places += [(360.0 - turn, what) for turn, what in places if 0.5 < turn < 179.5]
    return sorted(places)


def test_every_ear_and_throat_is_a_place():
    """Wherever the followed line turns by more than a scriber's line is wide, a place of its kind is there."""
    seen = 0
    for name, shape, line in ENDS:
        places = whole(shape)
        for k in range(len(FINE)):
            near = np.take(line, np.arange(k - 20, k + 21), mode="wrap")
            for best, kinds in ((near.min(), ("tip", "ear")), (near.max(), ("throat",))):
                deep = abs(near[[0, -1]] - line[k]).min()
                if line[k] != best or deep < 0.6:
                    continue
                at = [turn for turn, what in places if what in kinds]
                gaps = [abs((turn - FINE[k] + 180.0) % 360.0 - 180.0) for turn in at]
                assert min(gaps) < 3.0, (name, FINE[k], kinds, places)
                seen += 1
    assert seen > 50


def test_marks_lead_a_hand_along_the_line():
    """Unless an end is by its wrap only, its marks joined by a smooth curve or by one with points at its ears and
    throats are nowhere further from the followed line than is ground away by eye; some need marks every 30 degrees."""
    kinds = {"quarters": 0, "every 30": 0, "wrap": 0, "half": 0}
    for name, shape, line in ENDS:
        marked = end_marks(shape, 2.0)
        kinds["half"] += marked.both
        if marked.by_wrap:
            kinds["wrap"] += 1
            continue
        places = whole(shape)
        kinds["every 30" if any(round(turn, 3) % 90 and not what for turn, what in places) else "quarters"] += 1
        at = np.array([turn for turn, _ in places])
        marks = np.interp(at, FINE, line, period=360.0)
        extreme = np.array([bool(what) for _, what in places])
        off = min(abs(joined(at, marks, extreme, FINE, pointed=one) - line).max() for one in (False, True))
        assert off < NEAR_MM + 0.1, (name, off)
    assert min(kinds.values()) > 1


def test_quarters_are_enough_only_where_straight_joins_are_near_too():
    """A cope whose quarters a smooth hand joins well, and straight joins by 3 mm too shallow, has every 30 degrees."""
    line = followed(30.0, [(38.0, 62.0, 0.0, 0.0)])
    shape = cope(30.0, [Saddle(Onto(F(38)), 62.0)])
    quarters = [0.0, 90.0, 119.0, 180.0, 241.0, 270.0]
    marked = sorted({round(turn % 360.0, 1) for turn, _ in whole(shape)})
    off = [
        float(np.abs(np.interp(FINE, at, line[[round(2 * turn) for turn in at]], period=360.0) - line).max())
        for at in (quarters, marked)
    ]
    assert off[0] > NEAR_MM >= off[1]
    assert {30.0, 60.0} <= set(marked)


def test_a_hand_that_joins_marks_follows_simple_curves():
    """By hand: on a wave's extremes alone, level there, it is within 2 % of it; on a saw-tooth's points, pointed, it is
    the saw-tooth."""
    at, extreme = np.array([10.0, 190.0]), np.array([True, True])
    marks = np.array([0.0, 10.0])
    wave = 5.0 - 5.0 * np.cos(np.radians(FINE - 10.0))
    assert abs(joined(at, marks, extreme, FINE, pointed=False) - wave).max() < 0.2
    tooth = np.interp(FINE, [10.0, 190.0, 370.0], [0.0, 10.0, 0.0], period=360.0)
    assert abs(joined(at, marks, extreme, FINE, pointed=True) - tooth).max() < 1e-9


def test_what_the_table_says_is_the_line():
    """Read back: degrees, how far round, how far in, to half a marking step, of every end; a table has one heading a
    column and a word for every extreme place."""
    for name, shape, line in ENDS:
        read = {}
        for table in line_tables([("a", shape)], 2.0, STEP):
            rows = {row[0]: row[1:] for row in table}
            assert {len(row) for row in table} == {len(table[0])}
            assert len(table[0]) <= 9
            for k, head in enumerate(rows["end a"]):
                turn = float(head.split("°")[0])
                for way in ("either way", "clockwise"):
                    if way in rows:
                        assert abs(number(rows[way][k]) - pi * shape.od * turn / 360.0) < 0.25 + 0.17
                read[turn] = number(rows["outside"][k])
        for turn, depth in read.items():
            around = np.interp([turn - 0.5, turn, turn + 0.5], FINE, line, period=360.0)
            assert around.min() - 0.26 < depth < around.max() + 0.26, (name, turn)


def number(cell: str) -> float:
    return float(cell.removeprefix("~"))


def test_ends_marked_alike_share_a_table_and_others_have_their_own():
    """A square tee is the same both ways round, so that half of it is given: by hand, 30 mm onto 30 is 15 deep at 0 and
    180, its tip at 90. A mitre of 45 is as deep as it is wide."""
    tee = cope(30.0, [Saddle(Onto(F(30)), 90.0)])
    (table,) = line_tables([("a", tee), ("b", tee)], 1.0, STEP)
    rows = {row[0]: row[1:] for row in table}
    heads = dict(zip(rows["at"], zip(rows["a outside"], rows["b outside"], strict=True), strict=True))
    assert heads["0° throat"] == heads["180° throat"] == ("15", "15")
    assert heads["90° tip"] == ("0", "0")
    assert rows["either way"][rows["at"].index("90° tip")] == "23.5"
    steep, flat = mitre(30.0, 45.0), mitre(30.0, 20.0)
    (table,) = line_tables([("", steep)], 2.0, STEP)
    assert table[0] == ("at", "0° throat", "90°", "180° tip")
    assert table[2] == ("outside", "30", "15", "0")
    off = cope(30.0, [Saddle(Onto(F(40)), 60.0, F(4))])
    assert len(line_tables([("a", steep), ("b", off)], 2.0, STEP)) >= 2
    assert len(line_tables([("a", steep), ("b", flat)], 2.0, STEP)) == 1


def test_an_end_that_turns_sharply_is_marked_by_its_wrap_only():
    """Said of it, and of it alone."""
    sharp = next(shape for _, shape, _ in ENDS if end_marks(shape, 2.0).by_wrap)
    plain = mitre(30.0, 30.0)
    assert line_says([("a", plain)], 2.0).startswith("lay on its wrap, or mark")
    assert line_says([("a", plain), ("b", sharp)], 2.0).startswith("end b by its wrap only")
    assert line_says([("b", sharp)], 2.0).startswith("by its wrap only")


@pytest.mark.parametrize("angle", [20.0, 45.0, 60.0])
def test_a_mitre_is_found_from_its_quarters_or_every_30_degrees(angle):
    """Its line is a wave, 2 r tan(angle) deep: the steeper, the more places."""
    line = end_marks(mitre(40.0, angle), 2.0)
    assert line.both
    assert not line.by_wrap
    assert line.places[-1].what == "tip"
    assert len(line.places) == (3 if tan(radians(angle)) * 20.0 * (sqrt(0.5) - 0.5) < 9.0 and angle < 60 else 7)
