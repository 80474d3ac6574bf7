"""Coordinates written with the wrong sign, and rough places that the readings contradict.

A minus that was left out moves a node by twice its coordinate. It pulls the whole frame out of shape, so that what
misses most need not be what is wrong. Each coordinate that is given is tried with its other sign and nothing else
changed: where all readings then agree, that is what happened (no unknown more is needed, and chance does not hit the
one place). A slip of the tape besides hides that; so where more than one thing is wrong, all readings but one may do,
if that one stands alone then.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace

import numpy as np

from cutplan.survey.equations import Array, Network, solved
from cutplan.survey.model import Adjustment, Astray, Known, Node, Sign
from cutplan.survey.slips import unfolded
from cutplan.survey.starts import size

LEAST_MM = 30.0
"""A smaller coordinate with the other sign is hardly elsewhere: a slip of a reading explains as much."""

FAR_MM, FAR_PART = 100.0, 0.25
"""A rough place may be out by so much, and by such a part of the frame: common practice, no source."""

FOLDS = 5
"""How often nodes are turned over where a coordinate has its other sign."""

COARSE = 10.0
"""With a sum of squares this many times the number of readings another sign does not fit either."""


def sound(found: Adjustment) -> bool:
    """Whether nothing speaks against what was read and written."""
    return found.agrees and not found.slips and not found.unmet


def with_signs(
    found: Adjustment, nodes: Sequence[Node], net_of: Callable[[Sequence[Node]], Network], again: Adjuster
) -> Adjustment:
    """``found``, or where another sign of one coordinate makes all agree, what comes of that, with every such one. All
    but one reading, where none makes all agree and more than a slip is wrong."""
    read = {name for one in found.readings for name in (one.start, one.end)}
    whole, but_one = [], []
    for number, axis, value in _candidates(nodes, read):
        other = _turned(nodes, number, axis)
        fits, fits_but_one = _may_fit(net_of(other), found, number, axis)
        sign = Sign(nodes[number].name, axis, value)
        whole += [(other, sign)] if fits else []
        but_one += [(other, sign)] if fits_but_one else []
    return (
        _signed(whole, again, sound)
        or (None if _slipped(found) else _signed([*but_one, *whole], again, _slipped))
        or found
    )


def _signed(
    tried: Sequence[tuple[Sequence[Node], Sign]], again: Adjuster, good: Callable[[Adjustment], bool]
) -> Adjustment | None:
    """The first of those ``tried`` that is ``good``, with the signs of all that are."""
    found = [(fits, sign) for nodes, sign in tried if good(fits := again(nodes)) and not fits.loose]
    return replace(found[0][0], signs=tuple(sign for _, sign in found)) if found else None


def _slipped(found: Adjustment) -> bool:
    """Whether all agree but for one reading, which stands alone."""
    if not found.agrees or found.unmet or len(found.slips) != 1:
        return False
    return found.slips[0].alone and not found.readings[found.slips[0].suspects[0]].typed


Adjuster = Callable[[Sequence[Node]], Adjustment]


def _candidates(nodes: Sequence[Node], read: Collection[str]) -> Iterator[tuple[int, int, float]]:
    """Of nodes that were ``read``: nothing is known of the others."""
    for number, node in enumerate(nodes):
        for axis, known in enumerate(node.known):
            if node.name in read and known is not None and abs(known.value) >= LEAST_MM:
                yield number, axis, known.value


def _turned(nodes: Sequence[Node], number: int, axis: int) -> list[Node]:
    """``nodes`` with the other sign of one coordinate."""
    made = list(nodes)
    known: list[Known | None] = list(made[number].known)
    was = known[axis]
    assert was is not None
    known[axis] = Known(-was.value, was.doubt)
    made[number] = replace(made[number], known=(known[0], known[1], known[2]))
    return made


def _may_fit(net: Network, found: Adjustment, number: int, axis: int) -> tuple[bool, bool]:
    """Whether the readings come near to agreeing, looked at quickly: all of them, or all but one."""
    alone = np.array([place.xyz for place in found.places])
    whole = alone.copy()
    alone[number, axis] *= -1.0
    but_one = False
    whole[:, axis] *= -1.0  # One node that was written wrongly may have turned the others over with it.
    for xyz in (alone, whole):
        here = solved(net, unfolded(net, solved(net, np.where(net.free, xyz, net.base), robust=True), FOLDS))
        if net.misfit(here) < COARSE * max(net.rows, 1):
            return True, False
        if net.rows > 1:
            here = solved(net, here, robust=True, settle=False)
            worst = int(np.argmax(np.abs(net.values(here) - net.read()) / net.spreads()))
            rest = net.without([worst])
            but_one = but_one or rest.misfit(solved(rest, here)) < COARSE * rest.rows
    return False, but_one


def astray(net: Network, names: Sequence[str], xyz: Array, about: Array) -> Iterator[Astray]:
    """Rough places, by row of ``about`` (NaN where nothing was said), that are far from where the readings put them."""
    far = max(FAR_MM, FAR_PART * size(net))
    for number, axis in np.argwhere(np.abs(xyz - about) > far).tolist():
        yield Astray(names[number], axis, float(about[number, axis]), float(xyz[number, axis]))
