"""Random frames of points in whole millimetres, as one draws them up: nodes, tubes between them, each landing on those
that were there before."""

from __future__ import annotations

from fractions import Fraction
from random import Random

from cutplan.job.model import Cut, End, Job, Member, Onto, Point, Saddle, Settings, StockRow, Tube

Node = tuple[int, int, int]


def random_frame(seed: int, tubes_wanted: int = 14) -> Job:
    """A dozen or so tubes between eight nodes, all of one size or of three, some ends a little off their node, some
    tubes bent; whatever a person might draw, good or bad."""
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
        off = 3 if dice.random() < 0.3 else 0
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
