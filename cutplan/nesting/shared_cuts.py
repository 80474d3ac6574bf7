"""What mitred neighbours save: exactly, and as a small machine that a knapsack can carry along.

The pieces on one bar are the edges of a graph whose nodes are the mitre classes of their ends. Two facing ends
of one class v share a cut and save ``joints[v]``. A class met by d ends can pair at most floor(d / 2) of them,
and all classes can do so at once but for one thing: a connected component whose classes are all met an even
number of times, and that no square end (class 0) belongs to, would close to a ring; a bar is a line, so such a
component gives up its cheapest pairing (Euler's theorem on trails).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Ends = tuple[int, int]
# Of every class: 0 not met, 1 met an odd number of times, 2 an even one. Then the class that represents its
# component (0: a component with a square end), or -1 where the class is not met.
_State = tuple[tuple[int, ...], tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Machine:
    """States of a bar as pieces are added. ``lost[s]``: the pairing given up if the bar ends in state s.
    ``step[ends][s]``: the state after a piece with these ends, and the length it saves."""

    lost: tuple[int, ...]
    step: Mapping[Ends, tuple[tuple[int, int], ...]]


def machine(kinds: Sequence[Ends], joints: Mapping[int, int], most: int = 96) -> Machine | None:
    """The machine for pieces with these ends, or None where it would need more than ``most`` states.
    An end whose class saves nothing must be given as 0."""
    classes = sorted({end for ends in kinds for end in ends if end})
    place = {name: index for index, name in enumerate(classes)}
    start: _State = ((0,) * len(classes), (-1,) * len(classes))
    states = {start: 0}
    order = [start]
    step: dict[Ends, list[tuple[int, int]]] = {ends: [] for ends in sorted(set(kinds) | {(0, 0)})}
    for state in order:
        for ends, row in step.items():
            after, saved = _add(state, ends, place, joints)
            if after not in states:
                if len(states) >= most:
                    return None
                states[after] = len(states)
                order.append(after)
            row.append((states[after], saved))
    lost = tuple(_lost(state, classes, joints) for state in order)
    return Machine(lost, {ends: tuple(row) for ends, row in step.items()})


def _add(state: _State, ends: Ends, place: Mapping[int, int], joints: Mapping[int, int]) -> tuple[_State, int]:
    met, part = list(state[0]), list(state[1])
    if ends == (0, 0):
        return state, 0
    saved = 0
    names = set()
    for end in ends:
        if not end:
            names.add(0)
            continue
        index = place[end]
        if met[index] == 1:
            saved += joints[end]
        met[index] = 2 if met[index] == 1 else 1
        if part[index] < 0:
            part[index] = end
        names.add(part[index])
    least = min(names)
    part = [least if name in names else name for name in part]
    # The least class of a component represents it, so that equal bars are one state.
    for name in set(part) - {-1, 0}:
        least = min(end for end, index in place.items() if part[index] == name)
        part = [least if other == name else other for other in part]
    return (tuple(met), tuple(part)), saved


def _lost(state: _State, classes: Sequence[int], joints: Mapping[int, int]) -> int:
    met, part = state
    lost = 0
    for name in set(part) - {-1, 0}:
        members = [index for index, other in enumerate(part) if other == name]
        if all(met[index] == 2 for index in members):
            lost += min(joints[classes[index]] for index in members)
    return lost


def line_up(ends: Sequence[Ends], joints: Mapping[int, int]) -> tuple[list[int], list[bool], list[bool]]:
    """An order of the pieces that saves the most: their indices, whether each is turned over, and whether
    each shares the cut of the piece before it. Pieces that share with none keep their given order, last."""
    plain = [i for i, pair in enumerate(ends) if not any(joints.get(end, 0) for end in pair)]
    pending = [i for i in range(len(ends)) if i not in set(plain)]
    order: list[int] = []
    turned: list[bool] = []
    shared: list[bool] = []
    for trail in _trails([(i, ends[i]) for i in pending], joints):
        for position, (index, flip) in enumerate(trail):
            order.append(index)
            turned.append(flip)
            shared.append(position > 0)
    return order + plain, turned + [False] * len(plain), shared + [False] * len(plain)


def _trails(edges: Sequence[tuple[int, Ends]], joints: Mapping[int, int]) -> list[list[tuple[int, bool]]]:
    """Chains of pieces, each sharing every cut within it, that together save the most."""
    # Pair the ends class by class; then every chain is a path or a ring. Rings that meet in a class are
    # spliced by crossing two pairs there; a ring that is left is opened at its cheapest pair.
    waiting: dict[int, tuple[int, int]] = {}
    edge_of = dict(edges)
    mate: dict[tuple[int, int], tuple[int, int]] = {}
    for index, pair in edges:
        for side in (0, 1):
            name = pair[side]
            if not joints.get(name, 0):
                continue
            if name in waiting:
                other = waiting.pop(name)
                mate[other], mate[(index, side)] = (index, side), other
            else:
                waiting[name] = (index, side)
    while True:
        chains, rings = _chains(edges, mate)
        if not _splice(chains, rings, edge_of, mate):
            break
    for ring in rings:
        cut = min(range(len(ring)), key=lambda p: (joints[edge_of[ring[p][0]][0 if not ring[p][1] else 1]], p))
        chains.append(ring[cut:] + ring[:cut])
    return chains


def _chains(
    edges: Sequence[tuple[int, Ends]], mate: Mapping[tuple[int, int], tuple[int, int]]
) -> tuple[list[list[tuple[int, bool]]], list[list[tuple[int, bool]]]]:
    """Follow the pairs: the open chains and the rings. A step is a piece and whether it is turned over."""
    seen: set[int] = set()
    chains: list[list[tuple[int, bool]]] = []
    rings: list[list[tuple[int, bool]]] = []

    def follow(index: int, side: int) -> list[tuple[int, bool]]:
        chain = []
        while index not in seen:
            seen.add(index)
            chain.append((index, side == 1))
            after = mate.get((index, 1 - side))
            if after is None:
                break
            index, side = after
        return chain

    for index, _ in edges:
        for side in (0, 1):
            if index not in seen and (index, side) not in mate:
                chains.append(follow(index, side))
    for index, _ in edges:
        if index not in seen:
            rings.append(follow(index, 0))
    return chains, rings


def _splice(
    chains: Sequence[list[tuple[int, bool]]],
    rings: Sequence[list[tuple[int, bool]]],
    edge_of: Mapping[int, Ends],
    mate: dict[tuple[int, int], tuple[int, int]],
) -> bool:
    """Join one ring to another chain or ring that has an end of a class it meets, paired or loose."""
    for number, ring in enumerate(rings):
        inside = {index for index, _ in ring}
        for index, flip in ring:
            side = 1 if flip else 0
            name = edge_of[index][side]
            for other in [*chains, *(r for n, r in enumerate(rings) if n > number)]:
                for far, _ in other:
                    for far_side in (0, 1):
                        if far in inside or edge_of[far][far_side] != name:
                            continue
                        here, there = (index, side), (far, far_side)
                        partner, far_partner = mate[here], mate.get(there)
                        mate[here], mate[there] = there, here
                        del mate[partner]
                        if far_partner is not None:
                            mate[partner], mate[far_partner] = far_partner, partner
                        return True
    return False
