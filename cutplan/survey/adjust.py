"""A survey from beginning to end: places found, the meant mirror image, slips, and what is not certain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

import numpy as np

from cutplan.survey.advice import advice, better, loose_nodes, weak_nodes
from cutplan.survey.equations import Array, Network, Quality, network, quality, solved
from cutplan.survey.mirrors import AS_GOOD, SAME_MM, Wishes, apart, choices, meant, reflections
from cutplan.survey.model import COVERAGE, OPEN, Adjustment, Distance, Either, Known, Node, Place, Side, Weak
from cutplan.survey.pins import pinned
from cutplan.survey.readings import reported
from cutplan.survey.signs import astray, sound, with_signs
from cutplan.survey.slips import Snooped, agrees, snoop
from cutplan.survey.starts import starts, turned_over

SEED = 20011
FEW, MANY = 6, 24
"""Starts that are always tried, and the most if the best was not found twice; later ones weigh large misses less.
That a solution agrees with its readings is no reason to stop: with few to spare a folded shape may agree too."""

SHAPES = 8
"""Different shapes that are gone into further, the best fitting ones."""

TURNS, SPARSE_TURNS = 12, 48
"""How often nodes of the best shape are turned over, to see whether another fits as well; more with few to spare."""


def adjust(nodes: Sequence[Node], distances: Sequence[Distance], mirror: tuple[int, float] | None = None) -> Adjustment:
    """The places of ``nodes`` from ``distances`` and what is known of them. Raises SurveyError.

    ``mirror``: the axis and the place of a plane that distances may be measured across. The same input gives the same
    answer: the random numbers of the starts are seeded.
    """
    found = _adjusted(nodes, distances, mirror)
    if sound(found) or found.loose:
        return found
    return with_signs(
        found,
        nodes,
        lambda others: network(others, distances, mirror),
        lambda others: _adjusted(others, distances, mirror),
    )


def _adjusted(nodes: Sequence[Node], distances: Sequence[Distance], mirror: tuple[int, float] | None) -> Adjustment:
    """As :func:`adjust`, with every sign as it is written."""
    shift = _middle(nodes)
    nodes = [_moved(node, -shift) for node in nodes]
    whole = network(nodes, distances, None if mirror is None else (mirror[0], mirror[1] - float(shift[mirror[0]])))
    wishes = _wishes(whole, nodes)
    found = _solutions(whole, wishes)
    set_down = pinned(whole, found, wishes)
    net, known = set_down.net, set_down.wishes
    best = _best(net, [solved(net, each) for each in set_down.found], known)
    given = np.flatnonzero(~whole.free.ravel()).tolist()
    snooped = snoop(net, best, given, lambda rest, xyz: meant(rest, xyz, known))
    if len(snooped.stay) < net.rows or snooped.freed:
        best = meant(snooped.net, snooped.xyz, known)
        snooped = replace(snooped, xyz=best, quality=quality(snooped.net, best))
    either = _either(snooped, set_down.found[1:], known)
    return _result(net, snooped, wishes, either, set_down.chosen, shift, mirrored=mirror is not None)


def _middle(nodes: Sequence[Node]) -> Array:
    """The middle of what is known, taken off inside: coordinates may be large, what counts are millimetres."""
    given = [[known.value for each in nodes if (known := each.known[axis])] for axis in range(3)]
    return np.array([float(np.mean(values)) if values else 0.0 for values in given])


def _moved(node: Node, by: Array) -> Node:
    known = [Known(each.value + by[k], each.doubt) if each else None for k, each in enumerate(node.known)]
    about = [each + by[k] if each is not None else None for k, each in enumerate(node.about)]
    sides = [replace(s, than=s.than + by[s.axis]) if not isinstance(s.than, str) else s for s in node.sides]
    return Node(node.name, (known[0], known[1], known[2]), (about[0], about[1], about[2]), tuple(sides))


def _wishes(net: Network, nodes: Sequence[Node]) -> Wishes:
    index = {name: i for i, name in enumerate(net.names)}
    about = np.array([[np.nan if each is None else each for each in node.about] for node in nodes], dtype=float)
    sides = tuple((i, side) for i, node in enumerate(nodes) for side in node.sides)
    return Wishes(sides, about.reshape(-1, 3), index)


def _solutions(net: Network, wishes: Wishes) -> list[Array]:
    """The solutions found from several starts, the best first, then others that fit as well."""
    rng = np.random.default_rng(SEED)
    found: list[tuple[float, Array]] = []
    for count, start in enumerate(starts(net, wishes.about, rng)):
        xyz = solved(net, start, robust=count >= FEW)
        found.append((net.misfit(xyz), xyz))
        least = min(misfit for misfit, _ in found)
        again = sum(misfit < 1.001 * least + 1e-3 for misfit, _ in found) > 1
        if count >= MANY - 1 or (count >= FEW - 1 and again):
            break
    return _distinct(_turned(net, found, rng))


def _turned(net: Network, found: list[tuple[float, Array]], rng: np.random.Generator) -> list[tuple[float, Array]]:
    """What was ``found``, and what comes of turning nodes over in the shapes that fit best."""
    best = min(found, key=lambda each: each[0])
    sparse = net.rows - int(net.free.sum()) <= len(net.names)
    for _ in range(SPARSE_TURNS if sparse else TURNS):
        xyz = solved(net, turned_over(net, best[1], rng), rough=True)
        misfit = net.misfit(xyz)
        if misfit < best[0] + AS_GOOD and apart(xyz, best[1]).any():
            found = [*found, (misfit, xyz)]
        if misfit < best[0] - 1e-2:
            best = (misfit, xyz)
    return found


def _distinct(found: list[tuple[float, Array]]) -> list[Array]:
    """Each shape that fits well once, the best first; a shape and its mirror image are two."""
    found = sorted(found, key=lambda each: each[0])
    shapes: list[Array] = []
    for misfit, xyz in found:
        if misfit < found[0][0] + AS_GOOD and all(_unlike(xyz, other) > SAME_MM for other in shapes):
            shapes.append(xyz)
    return shapes[:SHAPES]


def _unlike(one: Array, other: Array) -> float:
    """The root of the summed squares between two shapes laid on each other, without mirroring (Kabsch 1976)."""
    one, other = one - one.mean(axis=0), other - other.mean(axis=0)
    left, values, right = np.linalg.svd(one.T @ other)
    values[2] *= np.sign(np.linalg.det(left) * np.linalg.det(right))
    return float(np.sqrt(max(np.sum(one**2) + np.sum(other**2) - 2.0 * values.sum(), 0.0)))


def _best(net: Network, good: Sequence[Array], wishes: Wishes) -> Array:
    """The solution that is meant and fits best: each shape is first reflected to where it is known to be."""
    shapes: list[Array] = []
    for xyz in good:
        # A shape and its mirror images fit alike; whether they are on the right side is seen below.
        if all(abs(net.misfit(xyz) - net.misfit(other)) > 1e-2 for other in shapes):
            shapes.append(xyz)
    first, *others = [meant(net, xyz, wishes) for xyz in shapes]
    # A part that is hardly off its plane is no reflection, but it may have been found on its other side.
    for other in (*others, *good):
        first = other if wishes.prefers(first, other) else first
    return first


def _either(snooped: Snooped, others: Sequence[Array], wishes: Wishes) -> tuple[Either, ...]:
    """Other places that fit as well and that nothing known rules out. What can move at all is not asked yet."""
    net, xyz = snooped.net, snooped.xyz
    if loose_nodes(net, snooped.quality):
        return ()
    least = net.misfit(xyz)
    again = [solved(net, other) for other in others]
    # Another shape may have been found upside down: what is known rules that out, not the shape.
    again = [meant(net, other, wishes) for other in again if net.misfit(other) < least + AS_GOOD]
    rivals = [*reflections(net, xyz), *again]
    spread = 2.0 * COVERAGE * np.sqrt(np.diag(snooped.quality.spread)).reshape(-1, 3)
    open_still = []
    for other in rivals:
        differ = apart(xyz, other) & (np.abs(xyz - other) > spread).any(axis=1)
        if differ.any() and not wishes.settles(xyz, other):
            open_still.append((differ, other))
    return tuple(
        Either(tuple(net.names[each] for each in one.differ), net.names[one.node], one.axis, one.here, one.there)
        for one in choices(xyz, open_still)
    )


def _result(
    net: Network,
    snooped: Snooped,
    wishes: Wishes,
    either: tuple[Either, ...],
    chosen: tuple[tuple[str, int], ...],
    shift: Array,
    *,
    mirrored: bool,
) -> Adjustment:
    found, xyz = snooped.quality, snooped.xyz
    fine = agrees(found)
    unit = sqrt(found.misfit / found.spare) if found.spare > 0 else None
    widened = 1.0 if fine or unit is None else max(unit, 1.0)
    loose = loose_nodes(snooped.net, found)
    if widened > 1.0:
        found = replace(found, spread=found.spread * widened**2)
    report = reported(net, snooped, found, widened, shift)
    # Of readings that contradict each other the slip is to be found first.
    weak = weak_nodes(snooped.net, found) if fine and not loose and not snooped.freed else []
    return Adjustment(
        places=_places(net, xyz + shift, found),
        readings=report.readings,
        slips=report.slips,
        loose=tuple(net.names[node] for node in loose),
        advice=tuple(advice(snooped.net, xyz, loose, mirrored=mirrored)),
        either=tuple(
            replace(each, here=each.here + float(shift[each.axis]), there=each.there + float(shift[each.axis]))
            for each in either
        ),
        chosen=chosen,
        unmet=tuple(_unmet(net, wishes, xyz, shift)),
        spare_readings=found.spare,
        unit=unit,
        agrees=fine,
        widened=widened,
        astray=tuple(astray(net, net.names, xyz + shift, wishes.about + shift)),
        _index=wishes.index,
        _spread=found.spread,
        _open=found.motions,
        weak=tuple(
            Weak(net.names[node], axis, COVERAGE * float(np.sqrt(found.spread[3 * node + axis, 3 * node + axis])))
            for node, axis in weak
        ),
        better=tuple(better(snooped.net, xyz, [node for node, _ in weak], mirrored=mirrored)),
    )


def _unmet(net: Network, wishes: Wishes, xyz: Array, shift: Array) -> list[tuple[str, Side]]:
    return [
        (net.names[node], side if isinstance(side.than, str) else replace(side, than=side.than + shift[side.axis]))
        for node, side in wishes.unmet(xyz)
    ]


def _places(net: Network, xyz: Array, found: Quality) -> tuple[Place, ...]:
    sigma = COVERAGE * np.sqrt(np.diag(found.spread))
    moves = np.linalg.norm(found.motions, axis=1) > OPEN
    places = []
    for node, name in enumerate(net.names):
        doubts = [None if moves[3 * node + k] else float(sigma[3 * node + k]) for k in range(3)]
        x, y, z = (float(each) for each in xyz[node])
        places.append(Place(name, (x, y, z), (doubts[0], doubts[1], doubts[2])))
    return tuple(places)
