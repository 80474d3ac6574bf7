"""What the cards say is followed by a geometry of this module's own: bent pieces are bent as they say and come out
between their points; the short sides of mitres turned to each other come out facing the tubes that they meet."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from cutplan import make_plan, read_job
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables
from cutplan.plan.tables.cards import Card

Array = NDArray[np.float64]
RADIUS = 114.0
BENT, MITRED = 6, 5


def unit(vector: Array) -> Array:
    """Of length 1."""
    return np.asarray(vector / np.linalg.norm(vector))


def across(vector: Array, axis: Array) -> Array:
    """The part of ``vector`` square to ``axis``, of length 1."""
    return unit(vector - np.dot(vector, axis) * axis)


def rolled(vector: Array, axis: Array, degrees: float) -> Array:
    """``vector``, square to ``axis``, turned clockwise as seen by somebody who looks along it."""
    turn = np.radians(degrees)
    return np.asarray(np.cos(turn) * vector + np.sin(turn) * np.cross(axis, vector))


def bent_off(random: np.random.Generator, way: Array, least: float, most: float) -> Array:
    """A direction that is turned from ``way`` by ``least`` to ``most`` degrees, to any side."""
    turn = np.radians(random.uniform(least, most))
    return np.asarray(np.cos(turn) * way + np.sin(turn) * across(random.normal(size=3), way))


def frame(random: np.random.Generator) -> dict[str, Array]:
    """Courses of members, far from each other: bent ones of four to five points, and threes of tubes that meet at
    mitred corners."""
    courses: dict[str, Array] = {}
    for number in range(BENT):
        points, way = [np.array([0.0, 5000.0 * number, 0.0])], unit(random.normal(size=3))
        for _ in range(3 + number % 2):
            points.append(points[-1] + random.uniform(600.0, 800.0) * way)
            way = bent_off(random, way, 25.0, 100.0)
        courses[f"BENT{number}"] = np.array(points)
    for number in range(MITRED):
        start = np.array([10000.0, 5000.0 * number, 0.0])
        along = unit(random.normal(size=3))
        beyond, back = bent_off(random, along, 40.0, 110.0), bent_off(random, -along, 40.0, 110.0)
        end = start + 900.0 * along
        courses |= {
            f"MID{number}": np.array([start, end]),
            f"NEAR{number}": np.array([start, start + 600.0 * back]),
            f"FAR{number}": np.array([end, end + 600.0 * beyond]),
        }
    return courses


@pytest.fixture(scope="module")
def followed(tmp_path_factory) -> tuple[dict[str, Array], dict[str, Card]]:
    """The courses, to a tenth of a millimetre, and the cards by mark."""
    folder: Path = tmp_path_factory.mktemp("frame")
    courses = {mark: points.round(1) for mark, points in frame(np.random.default_rng(11)).items()}
    names: dict[tuple[float, ...], str] = {}
    for points in courses.values():
        for point in points:
            names.setdefault(tuple(point.tolist()), f"N{len(names)}")
    rows = {
        "Job": ["setting,value", "name,Crooked", "units,mm", "kerf,2", "saw swing,75"],
        "Tubes": ["tube,od,wall,clr", f"T,38,2,{RADIUS:g}"],
        "Stock": ["tube,length,price,from", "T,6000,50,buy"],
        "Nodes": ["name,x,y,z"] + [f"{name},{','.join(map(str, at))}" for at, name in names.items()],
        "Members": ["mark,tube,from,via,to"],
    }
    for mark, points in courses.items():
        first, *via, last = (names[tuple(point.tolist())] for point in points)
        rows["Members"].append(f"{mark},T,{first},{' + '.join(via)},{last}")
    for name, lines in rows.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n")
    cards = Tables(with_rough_ends(make_plan(read_job(folder)))).cards
    return courses, {mark: card for card in cards for mark in card.marks}


def said(card: Card, heading: str) -> list[str]:
    """The steps of a card with a heading that starts so."""
    return [step.says for step in card.steps if step.heading.startswith(heading)]


def turned(text: str) -> float:
    """A turn in words: clockwise, in degrees."""
    found = re.search(r"is (?:([\d.]+)° (clockwise|anticlockwise) from|(opposite)|(on the line of))", text)
    assert found, text
    if found[1] is None:
        return 180.0 if found[3] else 0.0
    return float(found[1]) * (1.0 if found[2] == "clockwise" else -1.0)


def bent(card: Card, start: Array, way: Array, inside: Array) -> Array:
    """Where a piece ends that is bent as its card says, laid from ``start`` along ``way`` with its first bend's inside
    to ``inside``."""
    at = start
    for number, text in enumerate(said(card, "Bend ")):
        if number and "the same way" not in text:
            inside = rolled(inside, way, turned(text))
        free, angle, radius = (
            float(re.search(words, text)[1])  # type: ignore[index]
            for words in (
                r"straight before it ([\d.]+)",
                r"([\d.]+)° at radius",
                r"at radius ([\d.]+) mm to the centre",
            )
        )
        bend = np.radians(angle)
        at = at + free * way + radius * (np.sin(bend) * way + (1.0 - np.cos(bend)) * inside)
        way, inside = np.cos(bend) * way + np.sin(bend) * inside, np.cos(bend) * inside - np.sin(bend) * way
        if after := re.search(r"straight after it ([\d.]+)", text):
            at = at + float(after[1]) * way
    return at


def test_a_piece_bent_as_its_card_says_comes_out_at_its_last_point(followed):
    """Straights, angles, radii and turns, with the sense of each turn: to what is rounded on the way, where one turned
    the wrong way would be out by hundreds."""
    courses, cards = followed
    for number in range(BENT):
        points, card = courses[f"BENT{number}"], cards[f"BENT{number}"]
        way = unit(points[1] - points[0])
        reached = bent(card, points[0], way, across(points[2] - points[1], way))
        assert float(np.linalg.norm(reached - points[-1])) < 3.0
        assert len(said(card, "Bend ")) == len(points) - 2


def test_the_marks_and_lengths_of_a_bent_piece_add_up_to_its_blank(followed):
    """Each bender's mark, where the bend starts, is the straights and bends before it; the last straight ends the
    blank."""
    _, cards = followed
    for number in range(BENT):
        card, total = cards[f"BENT{number}"], 0.0
        for text in said(card, "Bend "):
            total += float(re.search(r"straight before it ([\d.]+)", text)[1])
            assert float(re.search(r"bender's mark ([\d.]+)", text)[1]) == pytest.approx(total, abs=1.5)
            bend = float(re.search(r"in the bend ([\d.]+)", text)[1])
            angle = float(re.search(r"([\d.]+)° at radius", text)[1])
            assert bend == pytest.approx(np.radians(angle) * RADIUS, abs=0.3)
            total += bend
        total += float(re.search(r"straight after it ([\d.]+)", said(card, "Bend ")[-1])[1])
        assert float(card.blank.split()[0]) == pytest.approx(total, abs=2.5)


def test_short_sides_face_the_tubes_that_their_mitres_meet(followed):
    """The turn in words takes the short side of end a, which faces the tube met there, to that of end b; and the other
    halves are named. By hand the short side is in by od x tan of half the corner's turn."""
    courses, cards = followed
    for number in range(MITRED):
        card = cards[f"MID{number}"]
        near, far = (points[1] - points[0] for points in (courses[f"NEAR{number}"], courses[f"FAR{number}"]))
        start, end = courses[f"MID{number}"]
        way = unit(end - start)
        [lines] = said(card, "Mark lines")
        short_b = rolled(across(near, way), way, turned(lines))
        assert float(np.dot(short_b, across(far, way))) > np.cos(np.radians(0.2))
        [fit] = said(card, "Fit")
        assert fit.startswith(f"end a to end a of NEAR{number}, the other half of its mitre")
        assert f"end b to end a of FAR{number}, the other half of its mitre" in fit
        [saw] = said(card, "Saw")
        corners = (np.arccos(np.dot(-way, unit(near))), np.arccos(np.dot(way, unit(far))))
        wanted = [38.0 * np.tan(turn / 2.0) for turn in corners]
        found = [float(mm) for mm in re.findall(r"short side ([\d.]+) mm in", saw)]
        assert found == pytest.approx(wanted, abs=0.26)
