"""Random frames of points in whole millimetres, as one draws them up: nodes, tubes between them, each landing on those
that were there before."""

from __future__ import annotations

import csv
import re
from fractions import Fraction
from pathlib import Path
from random import Random

from cutplan.job.model import Cut, End, Job, Member, Onto, Point, Saddle, Settings, StockRow, Tube

Node = tuple[int, int, int]


def random_frame(seed: int, tubes_wanted: int = 14, off_node: int = 3) -> Job:
    """A dozen or so tubes between eight nodes, all of one size or of three, some ends a little off their node (by
    ``off_node`` at most), some tubes bent; whatever a person might draw, good or bad."""
    dice = Random(seed)
    sizes = dice.choice([((38, 114),), ((38, 114), (30, 90)), ((45, 150), (38, 114), (30, 90))])
    tubes = tuple(
        Tube(f"T{od}", Fraction(od), Fraction(dice.choice([2, 3, 4])), clr=Fraction(clr)) for od, clr in sizes
    )
    nodes: list[Node] = [
        (x + dice.randint(-60, 60), y + dice.randint(-60, 60), z + dice.randint(-60, 60))
        for x in (0, 800)
        for y in (0, 700)
        for z in (0, 600)
    ]
    at: dict[Node, list[tuple[str, int]]] = {node: [] for node in nodes}
    members = []
    joined: set[frozenset[Node]] = set()
    for number in range(tubes_wanted):
        a, b = dice.sample(nodes, 2)
        if frozenset((a, b)) in joined:
            continue
        joined.add(frozenset((a, b)))
        mark = f"M{number}"
        size = min(len(sizes) - 1, number // 5) if dice.random() < 0.8 else dice.randrange(len(sizes))
        od, clr = sizes[size]
        off = off_node if dice.random() < 0.3 else 0
        points = [nudged(dice, a, off), nudged(dice, b, off)]
        if dice.random() < 0.15:
            middle = tuple((p + q) // 2 + dice.choice([-300, 300]) for p, q in zip(a, b, strict=True))
            points.insert(1, (middle[0], middle[1], middle[2]))
        ends = []
        for node in (a, b):
            before = [(other, wide) for other, wide in at[node] if wide >= od][: dice.choice([1, 1, 2, 3])]
            saddles = tuple(Saddle(Onto(Fraction(wide), other, other)) for other, wide in before)
            ends.append(End(Cut.COPE, saddles=saddles, from_points=True) if saddles else End())
        made = tuple(
            Point(Fraction(x), Fraction(y), Fraction(z), Fraction(clr) if 0 < i < len(points) - 1 else None)
            for i, (x, y, z) in enumerate(points)
        )
        members.append(Member(mark, f"T{od}", end_a=ends[0], end_b=ends[1], points=made))
        for node in (a, b):
            at[node].append((mark, od))
    stock = tuple(StockRow(tube.name, Fraction(6000)) for tube in tubes)
    return Job(Settings(spares=0), tubes, stock, tuple(members))


def nudged(dice: Random, node: Node, off: int) -> Node:
    """A node, out by so much at most."""
    x, y, z = (c + dice.randint(-off, off) for c in node)
    return x, y, z


def cross(a: Node, b: Node) -> Node:
    """Square to both, nought where they run alike."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def space_frame() -> dict[str, list[list[object]]]:
    """The tables of a space frame of 18 nodes and 65 tubes, as one draws it up by points: uprights that run a little
    past the nodes, rails and cross rails from node to node, diagonals in every bay, knee braces. Every end lands on
    all that stood at its node before it and does not run on in one line with it, up to four."""
    xs, ys, zs = (0, 700, 1400), (0, 600, 1200), (0, 500)
    stood: dict[Node, list[tuple[str, Node]]] = {}
    members: list[list[object]] = [["mark", "tube", "end a", "onto a", "end b", "onto b"]]
    points: list[list[object]] = [["mark", "x", "y", "z"]]

    def tube(mark: str, size: str, a: Node, b: Node, past: int = 0) -> None:
        row: list[object] = [mark, size]
        way = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
        for node in (a, b):
            onto = [other for other, along in stood.get(node, []) if any(cross(along, way))][:4]
            row += ["cope", " + ".join(onto)] if onto else ["square", None]
        members.append(row)
        for node, sign in ((a, -1), (b, 1)):
            points.append([mark, node[0], node[1], node[2] + sign * past])
            stood.setdefault(node, []).append((mark, way))

    for x in xs:
        for y in ys:
            tube(f"U{x // 700}{y // 600}", "38x2", (x, y, 0), (x, y, 500), past=30)
    for z in zs:
        for y in ys:
            for k in (0, 1):
                tube(f"R{k}{y // 600}{z // 500}", "38x2", (xs[k], y, z), (xs[k + 1], y, z))
        for x in xs:
            for k in (0, 1):
                tube(f"C{x // 700}{k}{z // 500}", "30x2", (x, ys[k], z), (x, ys[k + 1], z))
    for k in (0, 1):
        for y in ys:
            tube(f"DX{k}{y // 600}", "25x2", (xs[k], y, 0), (xs[k + 1], y, 500))
        for x in xs:
            tube(f"DY{x // 700}{k}", "25x2", (x, ys[k], 0), (x, ys[k + 1], 500))
        for j in (0, 1):
            for z in zs:
                tube(f"DZ{k}{j}{z // 500}", "25x2", (xs[k], ys[j], z), (xs[k + 1], ys[j + 1], z))
    for number, (k, y) in enumerate((k, y) for k in (0, 1) for y in ys):
        for z, to in ((0, 250), (500, 250)):
            upright, rail = f"U{k}{y // 600}", f"R{k}{y // 600}{z // 500}"
            mark = f"K{number}{z // 500}"
            members.append([mark, "25x2", "cope", upright, "cope", rail])
            points.append([mark, xs[k], y, to])
            points.append([mark, xs[k] + 250, y, z])
    return {
        "Job": [["setting", "value"], ["name", "Space frame"], ["kerf", 2], ["spares", 1]],
        "Tubes": [["tube", "od", "wall"], ["38x2", 38, 2], ["30x2", 30, 2], ["25x2", 25, 2]],
        "Stock": [["tube", "length", "price"], ["38x2", 6000, 50], ["30x2", 6000, 40], ["25x2", 6000, 33]],
        "Members": members,
        "Points": points,
    }


FAR = re.compile(r"D[YZ]|DX.2|U.2|R.2|C.1|K[25]")
"""Marks of that frame beyond its first two bays."""


def two_bays(folder: Path) -> Path:
    """Two bays of that frame as tables in ``folder``: 12 nodes and 32 tubes, dense enough and soon calculated."""
    for name, table in space_frame().items():
        kept = [row for row in table if not FAR.match(str(row[0]))]
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([[near(cell) for cell in row] for row in kept])
    return folder


def near(cell: object) -> object:
    """A cell without the names of what is left out."""
    if isinstance(cell, str):
        return " + ".join(name for name in cell.split(" + ") if not FAR.match(name))
    return "" if cell is None else cell
