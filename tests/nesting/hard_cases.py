"""Hard cases by construction: tight jobs of which the least number of bars is known, though no bound shows it.

After the idea of Caprara, Dell'Amico, Diaz-Diaz, Iori and Rizzi, "Friendly bin packing instances without integer
round-up property", Mathematical Programming 150 (2015): from a small core without that property, grow larger ones by
triplets that fill a bar and cannot lie apart in any plan without waste.

The core comes from a cubic graph. Every node has a number, every edge is a piece as long as its two nodes' numbers
together, and a bar is as long as all nodes: a perfect matching fills it. Each edge of Petersen's graph is in two of its
six perfect matchings, so that half of each is a linear plan of three bars; but its edges cannot be coloured in three
colours, so three whole bars do not do (unless other pieces happen to fill a bar: tried one by one).
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import combinations

PETERSEN = (
    [(i, (i + 1) % 5) for i in range(5)] + [(i, i + 5) for i in range(5)] + [(i + 5, (i + 2) % 5 + 5) for i in range(5)]
)
PRISM = (
    [(i, (i + 1) % 5) for i in range(5)] + [(i, i + 5) for i in range(5)] + [(i + 5, (i + 1) % 5 + 5) for i in range(5)]
)
"""Two cubic graphs of ten nodes: one whose edges cannot be coloured in three colours, one whose edges can."""


def core(dice: random.Random, capacity: int, edges: Sequence[tuple[int, int]]) -> list[int]:
    """Fifteen pieces of three bars' length in all, with a linear plan of three; a true one where three colours do."""
    colours = edges is not PETERSEN
    while True:
        cuts = sorted(dice.sample(range(1, capacity), 9))
        nodes = [b - a for a, b in zip([0, *cuts], [*cuts, capacity], strict=True)]
        pieces = [nodes[a] + nodes[b] for a, b in edges]
        if min(pieces) * 20 >= capacity and fills(pieces, capacity) == colours:
            return sorted(pieces, reverse=True)


def halved(dice: random.Random, pieces: Sequence[int], capacity: int) -> list[int]:
    """The pieces of a core, one of them in two, so that three bars do after all: one bar filled as before, and what the
    others lack of theirs is that piece, part by part."""
    while True:
        cut, *rest = dice.sample(pieces, len(pieces))
        full = next(
            chosen
            for size in range(len(rest))
            for chosen in combinations(range(len(rest)), size)
            if sum(rest[i] for i in chosen) == capacity
        )
        others = [piece for i, piece in enumerate(rest) if i not in full]
        for _ in range(200):
            load = sum(piece for piece in others if dice.random() < 0.5)
            part = capacity - load
            if min(part, cut - part) * 20 >= capacity:
                return sorted([part, cut - part, *rest], reverse=True)


def fills(pieces: Sequence[int], capacity: int) -> bool:
    """Whether the pieces fill bars without any waste, every way tried."""
    if not pieces:
        return True
    first, rest = pieces[0], list(pieces[1:])
    for size in range(len(rest) + 1):
        for chosen in combinations(range(len(rest)), size):
            if first + sum(rest[i] for i in chosen) == capacity:
                left = [piece for i, piece in enumerate(rest) if i not in chosen]
                if fills(left, capacity):
                    return True
    return False


def grown(dice: random.Random, pieces: Sequence[int], capacity: int, triplets: int, tries: int = 50) -> list[int]:
    """The pieces and ``triplets`` times three more that fill a bar, of which one is filled up by the other two alone: a
    plan without waste has the three on one bar, and what is left is one of the pieces before too. Of ``tries`` triplets
    that is taken which leaves the most sums out of reach, so that room for more is left.

    Raises ValueError where there is no room for more."""
    pieces = list(pieces)
    reached = _with(1, pieces, capacity)
    for _ in range(triplets):
        free = [length for length in range(capacity // 20, capacity // 2) if not reached >> length & 1]
        found = []
        for _ in range(200 * tries):
            if len(found) == tries:
                break
            middle, short = dice.choice(free), dice.choice(free)
            if middle != short and 20 * (middle + short) <= 19 * capacity and not reached >> (middle + short) & 1:
                three = (capacity - middle - short, middle, short)
                after = _with(reached, three, capacity)
                found.append((after.bit_count(), three, after))
        if not found:
            raise ValueError(f"no room for {triplets} triplets")
        _, three, reached = min(found)
        pieces += three
    return sorted(pieces, reverse=True)


def _with(reached: int, pieces: Sequence[int], capacity: int) -> int:
    """The sums, as bits, that can be had with these pieces more."""
    for piece in pieces:
        reached |= reached << piece & (1 << capacity + 1) - 1
    return reached
