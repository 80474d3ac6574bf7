"""Ends flat on plates of any slope: against a solid modeller, in both halves of a mirror, straight and bent; forms."""

from __future__ import annotations

import csv
from pathlib import Path
from random import Random

import numpy as np
import pytest
from manifold3d import Manifold
from node_judge import given_line

from cutplan.geometry import lay_out
from cutplan.geometry.bodies import bodies_in_place, body_by_itself
from cutplan.geometry.model import Blank
from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.job.model import Axis, Job, Plate, Units
from cutplan.job.plates import parse_plate, show_plate
from cutplan.job.units import LengthError

RADIUS = 19.0
CLOSE_MM = 0.05
Table = list[list[object]]


def frame(folder: Path, nodes: dict[str, object], members: Table, mirror: str = "y=0") -> Job:
    """A job that must read and settle without a fault."""
    sheets: dict[str, Table] = {
        "Job": [["setting", "value"], ["mirror", mirror], ["step", "0.001"]],
        "Tubes": [["tube", "od", "wall", "clr"], ["T", 2 * RADIUS, 2, 120]],
        "Stock": [["tube", "length"], ["T", 6000]],
        "Nodes": [["name", "x", "y", "z"], *([name, *np.round(at, 3)] for name, at in nodes.items())],
        "Members": [["mark", "tube", "from", "via", "to", "onto a", "onto b", "pair"], *members],
    }
    for name, table in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
    reading = read(folder)
    assert [str(fault) for fault in reading.faults] == []
    found = settled(reading.job)
    assert [str(fault) for fault in found.faults] == []
    return found.job


def random_leg(dice: Random) -> tuple[dict[str, np.ndarray], str, np.ndarray]:
    """Two ends of a tube, three points of a plate near the first, a slope through the second; and that plate's three
    points by the rise over the run, worked out beside the program."""
    while True:
        a = np.array([dice.uniform(-200, 200), dice.uniform(500, 800), dice.uniform(-50, 50)])
        b = a + np.array([dice.uniform(-500, 500), dice.uniform(-200, 300), dice.uniform(300, 700)])
        near = [a + np.array([dice.uniform(-1, 1) for _ in "xyz"]) * (250, 250, 90) for _ in range(3)]
        rise, along = round(dice.uniform(-40, 40), 1), dice.choice("xy")
        way = (b - a) / np.linalg.norm(b - a)
        one = np.cross(near[1] - near[0], near[2] - near[0])
        spread = min(np.linalg.norm(one) / np.linalg.norm(near[i] - near[j]) for i, j in ((1, 0), (2, 0), (2, 1)))
        steps = [np.eye(3)["xy".index(along)], np.eye(3)["yx".index(along)]]
        other = np.array([b, b + steps[0] + (0, 0, np.tan(np.radians(rise))), b + steps[1]])
        two = np.cross(other[1] - b, other[2] - b)
        leans = [abs(way @ n) / np.linalg.norm(n) for n in (one, two)]
        off = abs((near[0] - a) @ one / (way @ one))
        if spread > 60 and min(leans) > 0.35 and np.linalg.norm(b - a) > 450 and off < 120:
            nodes = dict(zip("ABPQS", (a, b, *near), strict=True))
            sign = "-" if rise < 0 else ""
            return nodes, f"plane through B rising {abs(rise)} along {sign}{along}", other


def cut_off(tube: Manifold, plane: np.ndarray, keep: np.ndarray) -> Manifold:
    """``tube`` on the side of a plane (three points of it) on which ``keep`` is."""
    normal = np.cross(plane[1] - plane[0], plane[2] - plane[0])
    normal = normal / np.linalg.norm(normal)
    if (keep - plane[0]) @ normal < 0:
        normal = -normal
    return tube.trim_by_plane(tuple(normal), float(normal @ plane[0]))


def solid_lines(nodes: dict[str, np.ndarray], slope: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Of the solid, at end a and end b: turn angles round the axis, clockwise looking from a to b, and mm along it."""
    a, b = nodes["A"], nodes["B"]
    way = (b - a) / np.linalg.norm(b - a)
    u = np.cross(way, (0.6, 0.0, 0.8))
    u /= np.linalg.norm(u)
    v = np.cross(way, u)
    low = a - 1500 * way
    tube = Manifold.cylinder(3000 + np.linalg.norm(b - a), RADIUS, circular_segments=360)
    tube = tube.transform(np.column_stack([u, v, way, low]))
    middle = (a + b) / 2.0
    solid = cut_off(tube, np.array([nodes[name] for name in "PQS"]), middle)
    solid = cut_off(solid, slope, middle)
    points = np.asarray(solid.to_mesh().vert_properties, dtype=float)[:, :3]
    along = (points - a) @ way
    turn = np.degrees(np.arctan2((points - a) @ v, (points - a) @ u))
    half = np.linalg.norm(b - a) / 2.0
    return [(turn[along < half], along[along < half]), (turn[along > half], along[along > half])]


def worst(blank: Blank, lines: list[tuple[np.ndarray, np.ndarray]], between: float) -> float:
    """How far the lines given of a blank are off those of the solid at the most. Only where end a's short side is, is
    taken from the solid, as a tube has no sides of its own. ``between``: the nodes."""
    (turn, along), _ = lines
    fit = np.column_stack([np.ones_like(turn), np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    _, c, s = np.linalg.lstsq(fit, along, rcond=None)[0]
    zero = np.degrees(np.arctan2(s, c))
    off_a = given_line(blank, False, turn - zero) - along
    turn, along = lines[1]
    off_b = given_line(blank, True, turn - zero - blank.turn_deg) - (between - along)
    return float(max(np.abs(off_a).max(), np.abs(off_b).max()))


@pytest.mark.parametrize("seed", range(8))
def test_both_ends_on_plates_against_solids(tmp_path: Path, seed: int) -> None:
    """Length, both lines round the tube, and the turn from one to the other, of each hand, to 0.05 mm."""
    nodes, slope, other = random_leg(Random(seed))
    job = frame(tmp_path, nodes, [["LEG", "T", "A", "", "B", "plane P + Q + S", slope, ""]])
    layout = lay_out(job)
    assert layout.faults == ()
    left, right = layout.blanks
    between = float(np.linalg.norm(nodes["B"] - nodes["A"]))
    assert worst(left, solid_lines(nodes, other), between) < CLOSE_MM
    flip = np.array([1.0, -1.0, 1.0])
    assert worst(right, solid_lines({name: at * flip for name, at in nodes.items()}, other * flip), between) < CLOSE_MM
    # A picture of the piece by itself is as long as the piece.
    for blank in (left, right):
        body = body_by_itself(job, blank)
        long = np.ptp(np.concatenate([body.edge("a"), body.edge("b")])[:, 0])
        assert long == pytest.approx(float(blank.length), abs=CLOSE_MM)


def test_a_bent_tube_stands_flat_on_both_its_plates(tmp_path: Path) -> None:
    """In the frame, every point of an end's edge lies in the plane, of each hand and with a mirror that is not at 0."""
    nodes = {"A": (0, 400, 0), "C": (30, 420, 600), "B": (500, 380, 640), "P": (0, 300, 0), "Q": (200, 300, 40)}
    nodes["S"] = (0, 600, -60)
    members = [["HOOP", "T", "A", "C", "B", "plane P + Q + S", "x=520 rising 12 over 100 along y", ""]]
    job = frame(tmp_path, {name: np.array(at, dtype=float) for name, at in nodes.items()}, members, mirror="y=50")
    layout = lay_out(job)
    assert layout.faults == ()
    bodies = list(bodies_in_place(job, layout.blanks))
    assert [body.mark for body in bodies] == ["HOOP-L", "HOOP-R"]
    p, q, s = (np.array(nodes[name], dtype=float) for name in "PQS")
    normal = np.cross(q - p, s - p) / np.linalg.norm(np.cross(q - p, s - p))
    for body in bodies:
        side = (1, 1, 1) if body.mark.endswith("L") else (1, -1, 1)
        shift = np.array((0, 0 if body.mark.endswith("L") else 100, 0))
        foot, heading = (body.edge(name) * side + shift for name in "ab")
        assert np.abs((foot - p) @ normal).max() < CLOSE_MM
        assert np.abs(heading[:, 0] - (520 + 0.12 * heading[:, 1])).max() < CLOSE_MM


def test_square_on_a_sloping_plate_is_a_square_end(tmp_path: Path) -> None:
    """A tube along the normal: no angle to saw, and just as long as to the plate."""
    nodes = {"A": (0, 300, 10), "B": (-120, 300, 910), "P": (0, 300, 0), "Q": (90, 300, 12), "S": (0, 400, 0)}
    places = {name: np.array(at, dtype=float) for name, at in nodes.items()}
    job = frame(tmp_path, places, [["POST", "T", "B", "", "A", "", "plane P + Q + S", ""]])
    blank = lay_out(job).blanks[0]
    assert (blank.end_b.cut.value, blank.end_b.plate) == ("square", "")
    normal = np.array([-12, 0, 90]) / np.hypot(12, 90)
    assert float(blank.length) == pytest.approx((places["B"] - places["P"]) @ normal, abs=0.002)


def names(name: str) -> str | None:
    """Nodes A to D."""
    return name if name in "ABCD" else None


@pytest.mark.parametrize(
    ("text", "plate"),
    [
        ("z=40", Plate(Axis.Z, 40)),
        ("Plane A + B+ C", Plate(nodes=("A", "B", "C"))),
        ("plane through D", Plate(nodes=("D",))),
        ("plane through A rising 5 along x", Plate(nodes=("A",), rise_deg=5.0, along=Axis.X)),
        ("z=40 rising 300 over 300 along -y", Plate(Axis.Z, 40, (), -45.0, Axis.Y)),
        ("x = 12.5 rising 3 and 4 across 5 along z", None),
        ("RAIL", None),
        ("plane through Q rising 5 along x", None),
        ("plane A + B + Q", None),
    ],
)
def test_a_plane_is_read_and_shown(text: str, plate: Plate | None) -> None:
    """Every form; what is no plane, or names a node that there is not, is none."""
    if "across" in text:
        with pytest.raises(LengthError, match="rises by more than 80 degrees"):
            parse_plate(text, Units.MM, names)
        return
    found = parse_plate(text, Units.MM, names)
    assert found == plate
    if plate is not None:
        assert parse_plate(show_plate(plate, Units.MM), Units.MM, names) == plate


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("plane A + B", "needs three nodes"),
        ("plane A + B + A", "names a node twice"),
        ("plane A + B + C rising 5 along x", "is fixed by its nodes, so it cannot rise as well"),
        ("plane through A rising 5", "does not say along which axis"),
        ("plane through A rising 5 along z", "cannot rise along z"),
        ("z=0 rising steeply along x", "is not"),
        ("HOOP rising 5 along x", "does not say what the plane goes through"),
    ],
)
def test_what_is_no_plane_is_reported_with_its_cure(text: str, rule: str) -> None:
    """Each with what would be right."""
    with pytest.raises(LengthError) as error:
        parse_plate(text, Units.MM, names)
    assert rule in error.value.rule
    assert error.value.cure
