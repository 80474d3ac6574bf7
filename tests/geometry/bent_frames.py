"""Random halves of frames with bent tubes, as a person might build them, by nodes: bows up one side, hoops from side to
side, cross tubes, and stays, straight or bent, between places on straights and on bends of those that are there.

Any of the three axes may be square to the mirror, which may be anywhere. No tube passes another closely but where they
meet, and no two meet at less than 30 degrees. The tables of a job are made, which are to be read as a person's are.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

import numpy as np
from node_judge import Course, Vector, across, unit

SIZES = {"A45": (45, 150), "B38": (38, 114), "C30": (30, 90), "D25": (25, 75)}
LEAST_DEG = 30.0
CLEAR_MM = 8.0
BY_A_NODE = 3.0
"""Two tubes may come close within so many diameters of the wider one from a node that they share."""
MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass
class Laid:
    """A tube of the half: its nodes from a to b, by name and side, its centreline and where it meets others."""

    mark: str
    size: str
    stops: list[str]
    course: Course
    both: bool
    joints: list[Vector] = field(default_factory=list)
    samples: Vector = field(default_factory=lambda: np.zeros((0, 3)))
    wide: float = field(init=False)

    def __post_init__(self) -> None:
        self.wide = float(SIZES[self.size][0])
        self.samples = np.concatenate([sampled(piece) for piece in self.course.pieces])


def sampled(piece: tuple[Vector, Vector, float, float, Vector]) -> Vector:
    """Places along a piece of a centreline, every 8 mm or so."""
    return np.array([spot(piece, along)[0] for along in np.linspace(0.0, piece[2], int(piece[2] // 8) + 2)])


def spot(piece: tuple[Vector, Vector, float, float, Vector], along: float) -> tuple[Vector, Vector]:
    """The place so far along a piece, and which way it runs there."""
    start, way, _, clr, inwards = piece
    if not clr:
        return start + way * along, way
    turn = along / clr
    at = start + clr * (inwards * (1 - np.cos(turn)) + way * np.sin(turn))
    return at, way * np.cos(turn) + inwards * np.sin(turn)


def on_the_left(at: Vector, way: Vector) -> tuple[Vector, Vector]:
    """That place, or its mirror image."""
    return (at * MIRROR, way * MIRROR) if at[1] < 0.0 else (at, way)


def bent(at: list[Vector], clr: float) -> Course | None:
    """The centreline through corners rounded by ``clr``; None: a straight is too short for its bends."""
    pieces = []
    here = at[0]
    for before, corner, after in zip(at, at[1:], at[2:], strict=False):
        way, on = unit(corner - before), unit(after - corner)
        turn = np.arccos(np.clip(way @ on, -1.0, 1.0))
        back = clr * np.tan(turn / 2)
        first = corner - way * back
        if not np.radians(12) < turn < np.radians(150) or (first - here) @ way < 60.0:
            return None
        pieces.append((here, way, float(np.linalg.norm(first - here)), 0.0, np.zeros(3)))
        pieces.append((first, way, clr * turn, clr, unit(on - way * (way @ on))))
        here = corner + on * back
    way = unit(at[-1] - at[-2])
    if (at[-1] - here) @ way < 60.0:
        return None
    pieces.append((here, way, float(np.linalg.norm(at[-1] - here)), 0.0, np.zeros(3)))
    return Course(tuple(pieces))


class Half:
    """Half a frame while it is drawn up; across the mirror is y."""

    def __init__(self, seed: int) -> None:
        self.dice = Random(seed)
        self.nodes: dict[str, Vector] = {}
        self.tubes: list[Laid] = []
        self.axis = self.dice.randrange(3)
        self.shift = np.array([self.dice.randint(-400, 400) for _ in range(3)], dtype=float)
        self._begin()
        for _ in range(60):
            if len(self.tubes) >= self.wanted:
                break
            self._add()

    def _near(self, *xyz: float, by: int = 60) -> Vector:
        return np.array([c + self.dice.randint(-by, by) for c in xyz], dtype=float)

    def _node(self, at: Vector) -> str:
        """A new name there, or that of a node so near that it is the same."""
        for name, other in self.nodes.items():
            if np.linalg.norm(other - at) < 5.0:
                return name
        number = len(self.nodes)
        name = f"{'ABCDEFGHJKLMNPQRSTUVWXYZ'[number % 24]}{number // 24 or ''}"
        self.nodes[name] = np.round(at, 2)
        return name

    def _begin(self) -> None:
        dice = self.dice
        kind = dice.choice(["bow", "hoop", "both", "twisted"])
        self.wanted = dice.randint(5, 9)
        if kind in ("bow", "both", "twisted"):
            corners = [self._near(0, 330, 0), self._near(150, 300, 850), self._near(1100, 330, 40)]
            if kind == "twisted":
                corners[2:2] = [self._near(700, 420, 760)]
                corners[-1] = self._near(1200, 250, 60)
            self._lay([self._node(at) for at in corners], dice.choice(["A45", "B38"]))
        if kind in ("hoop", "both"):
            x = -500.0 if kind == "both" else 0.0
            foot, knee = self._node(self._near(x, 380, 0)), self._node(self._near(x + 40, 330, 800))
            self._lay([foot, knee, f"{knee}-R", f"{foot}-R"], dice.choice(["A45", "B38"]))
            rail = [self._node(self._near(x + 250, 300, 60)), self._node(self._near(x + 950, 260, 40))]
            self._lay(rail, "B38")

    def place(self, stop: str) -> Vector:
        """Where a node is, that of the other side too."""
        return self.nodes[stop.removesuffix("-R")] * (MIRROR if stop.endswith("-R") else 1.0)

    def _lay(self, stops: list[str], size: str, joints: tuple[Vector, ...] = ()) -> bool:
        at = [self.place(stop) for stop in stops]
        course = bent(at, SIZES[size][1])
        if course is None:
            return False
        both = not (stops[0].removesuffix("-R") == stops[-1].removesuffix("-R") and stops[-1].endswith("-R"))
        made = Laid(f"T{len(self.tubes)}", size, stops, course, both, list(joints))
        if not self._clear(made):
            return False
        self.tubes.append(made)
        return True

    def _add(self) -> None:
        """A cross tube or a stay between places on two tubes."""
        dice = self.dice
        one, two = dice.choice(self.tubes), dice.choice(self.tubes)
        size = dice.choice(["B38", "C30", "C30", "D25"])
        if float(SIZES[size][0]) > min(one.wide, two.wide):
            return
        here, way = on_the_left(*self._somewhere(one))
        room = (one.wide - float(SIZES[size][0])) / 2
        if room > 3.5 and dice.random() < 0.3:  # beside the axis, and further than it would be moved
            here = here + unit(np.cross(way, self._near(0, 0, 0))) * dice.uniform(3.5, room)
        kept = dict(self.nodes)
        name = self._node(here)
        here = self.nodes[name]
        if dice.random() < 0.35 and abs(here[1]) > 120.0:
            stops, ways = [name, f"{name}-R"], [(here, way), (here * MIRROR, way * MIRROR)]
        else:
            there, other = on_the_left(*self._somewhere(two))
            if dice.random() < 0.15:  # a foot or a free end
                there = self._near(*(here + np.array([dice.choice([-400, 400]), 200, -300])))
            stops = [name, self._node(there)]
            there = self.nodes[stops[1]]
            ways = [(here, way), (there, other)]
            if abs(there[1]) > 120.0 and dice.random() < 0.15:
                stops[1] += "-R"
                ways[1] = there * MIRROR, other * MIRROR
        far = ways[1][0]
        long = float(np.linalg.norm(far - here))
        if long < 200.0:
            self.nodes = kept
            return
        if dice.random() < 0.6 and long > 400.0 and not stops[1].endswith("-R"):
            aside = across(unit(far - here)) * dice.choice([-1, 1]) * dice.uniform(0.2, 0.4) * long
            parts = dice.choice([(0.5,), (0.3, 0.7)])
            stops[1:1] = [self._node(here + (far - here) * part + aside + self._near(0, 0, 0)) for part in parts]
        at = [self.place(stop) for stop in stops]
        ends = ((at[0], at[1], ways[0][1]), (at[-1], at[-2], ways[1][1]))
        steep = all(abs(unit(inner - end) @ along) < np.cos(np.radians(LEAST_DEG)) for end, inner, along in ends)
        if not steep or not self._lay(stops, size, (at[0], at[-1])):
            self.nodes = kept

    def _somewhere(self, tube: Laid) -> tuple[Vector, Vector]:
        """A place on a tube, well away from where it ends: on a bend as often as not, or in the plane."""
        pieces = tube.course.pieces
        arcs = [piece for piece in pieces if piece[3]]
        if not tube.both and len(pieces) % 2 == 1 and self.dice.random() < 0.3:
            piece = pieces[len(pieces) // 2]
            return spot(piece, piece[2] / 2.0)
        piece = self.dice.choice(arcs) if arcs and self.dice.random() < 0.5 else self.dice.choice(pieces)
        first, last = piece is pieces[0], piece is pieces[-1]
        low, high = (90.0 if first else 0.0), piece[2] - (90.0 if last else 0.0)
        return spot(piece, self.dice.uniform(low, high) if high > low else piece[2] / 2.0)

    def _clear(self, made: Laid) -> bool:
        """Whether a tube comes near no other, and not near its own other side, but where they meet."""
        others = [
            (each, side) for each in self.tubes for side in ((False, True) if each.both or made.both else (False,))
        ]
        if made.both:
            others.append((made, True))
        for each, mirrored in others:
            there = each.samples * (MIRROR if mirrored else 1.0)
            gaps = np.linalg.norm(made.samples[:, None] - there[None], axis=2)
            close = gaps < (made.wide + each.wide) / 2 + CLEAR_MM
            free = np.ones(len(made.samples), dtype=bool)
            for joint in made.joints:
                if np.linalg.norm(there - joint, axis=1).min() < 8.0:
                    reach = BY_A_NODE * max(made.wide, each.wide)
                    free &= np.linalg.norm(made.samples - joint, axis=1) > reach
            if close[free].any():
                return False
        return True

    def tables(self) -> dict[str, list[list[object]]]:
        """Of a job, its axes changed about and moved."""
        turn = [(k + 1 - self.axis) % 3 for k in range(3)]
        axis = "xyz"[turn.index(1)]
        nodes = [[name, *(f"{(at[k] + self.shift[k]):.2f}" for k in turn)] for name, at in self.nodes.items()]
        members: list[list[object]] = [["mark", "tube", "from", "via", "to"]]
        for tube in self.tubes:
            first, *via, last = (
                stop if stop.endswith("-R") or abs(self.nodes[stop][1]) <= 3.0 else f"{stop}-L" for stop in tube.stops
            )
            members.append([tube.mark, tube.size, first, " + ".join(via), last])
        return {
            "Job": [["setting", "value"], ["mirror", f"{axis}={self.shift[1]:g}"]],
            "Tubes": [["tube", "od", "wall", "clr"], *([name, od, 2, clr] for name, (od, clr) in SIZES.items())],
            "Stock": [["tube", "length"], *([name, 6000] for name in SIZES)],
            "Nodes": [["name", "x", "y", "z"], *nodes],
            "Members": members,
        }
