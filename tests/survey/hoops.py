"""Invented space frames with tape readings, as a person would take them: tubes first, then diagonals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutplan.survey import Distance, Known, Node, Side


@dataclass(frozen=True)
class Frame:
    """Where the nodes truly are, what is said of them, and the readings; ``sigma`` is each reading's own, in mm."""

    xyz: np.ndarray
    nodes: list[Node]
    pairs: list[tuple[int, int]]
    sigma: float

    def read(self, dice: np.random.Generator | None, slip: tuple[int, float] | None = None) -> list[Distance]:
        """The distances as read: exact without dice, and one off by ``slip`` (its number, mm)."""
        readings = []
        for number, (i, j) in enumerate(self.pairs):
            value = float(np.linalg.norm(self.xyz[i] - self.xyz[j]))
            value += self.sigma * float(dice.normal()) if dice is not None else 0.0
            value += slip[1] if slip is not None and slip[0] == number else 0.0
            readings.append(Distance(f"N{i}", f"N{j}", value, 2.0 * self.sigma))
        return readings


def frame(
    dice: np.random.Generator, extra: float = 0.5, sigma: float = 1.0, floor: bool = True, least: int = 4
) -> Frame:
    """Two to four hoops behind each other, four or five nodes each, every node measured to ``least`` others at least.

    ``extra`` is the part of the other diagonals measured.

    ``floor``: the lower nodes are known to be at height 0 and the first two lie on the x axis; else only distances,
    and one node is said to be above the plane of the first three.
    """
    hoops = int(dice.integers(2, 5))
    points = []
    for hoop in range(hoops):
        x = 700.0 * hoop + float(dice.uniform(-150, 150))
        low, high, up = (float(dice.uniform(*span)) for span in ((350, 600), (200, 450), (700, 1100)))
        points += [(x, -low, 0.0), (x, low, 0.0), (x + float(dice.uniform(-120, 120)), -high, up), (x, high, up)]
        if dice.random() < 0.4:
            points.append((x, 0.0, up + float(dice.uniform(60, 200))))
    xyz = np.array(points) + dice.uniform(-4, 4, (len(points), 3))
    lower = np.array([point[2] == 0.0 for point in points])
    xyz[lower, 2] = 0.0
    across = xyz[1, :2] - xyz[0, :2]
    turn = -float(np.arctan2(across[1], across[0]))
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    xyz[:, :2] = (xyz[:, :2] - xyz[0, :2]) @ turned.T
    xyz[1, 1] = 0.0
    second = 4 if points[4][2] == 0.0 else 5
    ahead = Side(1, bool(xyz[second, 1] > 0), 0.0)
    off = -1 if floor else int(np.argmax(np.abs((xyz - xyz[0]) @ np.cross(xyz[1] - xyz[0], xyz[2] - xyz[0]))))
    nodes = []
    for i in range(len(xyz)):
        known: tuple[Known | None, Known | None, Known | None] = (None, None, None)
        if floor and lower[i]:
            known = (Known(0.0) if i == 0 else None, Known(0.0) if i < 2 else None, Known(0.0))
        sides = (Side(2, True, "N0"),) if (floor and not lower[i]) or i == off else ()
        sides += (Side(0, True, "N0"),) if i == 1 and floor else ()
        sides += (ahead,) if i == second and floor else ()
        nodes.append(Node(f"N{i}", known, sides=sides))
    near = sorted(
        ((i, j) for i in range(len(xyz)) for j in range(i)),
        key=lambda pair: float(np.linalg.norm(xyz[pair[0]] - xyz[pair[1]])),
    )
    near = [pair for pair in near if np.linalg.norm(xyz[pair[0]] - xyz[pair[1]]) < 1900]
    ties = dict.fromkeys(range(len(xyz)), 0)
    pairs = []
    for i, j in near:
        if min(ties[i], ties[j]) < least or dice.random() < extra:
            pairs.append((i, j))
            ties[i] += 1
            ties[j] += 1
    return Frame(xyz, nodes, pairs, sigma)
