"""The savings of mitred neighbours: the machine's count, and orders that extract it."""

import random
from itertools import pairwise, permutations, product

from cutplan.nesting.shared_cuts import line_up, machine


def counted(ends: list[tuple[int, int]], joints: dict[int, int]) -> int:
    """What the machine says these pieces save on one bar."""
    found = machine(ends, joints)
    assert found is not None
    state = saved = 0
    for pair in ends:
        state, less = found.step[pair][state]
        saved += less
    return saved - found.lost[state]


def test_machine_and_order_agree_with_every_order_tried() -> None:
    """Guards the count (pairs by class, less one where they would close a ring) and the order that attains it."""
    dice = random.Random(5)
    for _ in range(120):
        joints = {1: dice.randint(1, 9), 2: dice.randint(1, 9), 3: dice.randint(1, 9)}
        ends = [(dice.randint(0, 3), dice.randint(0, 3)) for _ in range(dice.randint(1, 4))]
        best = 0
        for order in permutations(ends):
            for turns in product((False, True), repeat=len(order)):
                line = [pair[::-1] if turn else pair for pair, turn in zip(order, turns, strict=True)]
                pairs = pairwise(line)
                best = max(best, sum(joints.get(a[1], 0) for a, b in pairs if a[1] == b[0]))
        assert counted(ends, joints) == best, ends
        order, turned, shared = line_up(ends, joints)
        assert sorted(order) == list(range(len(ends)))
        line = [ends[i][::-1] if turn else ends[i] for i, turn in zip(order, turned, strict=True)]
        assert all(line[p - 1][1] == line[p][0] for p, yes in enumerate(shared) if yes), ends
        assert sum(joints[pair[0]] for pair, yes in zip(line, shared, strict=True) if yes) == best, ends


def test_one_piece_shares_nothing_with_itself() -> None:
    """Guards against a bar closed to a ring: both ends of one class, and no neighbour."""
    assert counted([(1, 1)], {1: 7}) == 0
    assert counted([(1, 1), (1, 1)], {1: 7}) == 7


def test_two_rings_of_different_classes_each_give_up_their_own() -> None:
    """Guards that components are reported apart: nothing joins the two pairs."""
    assert counted([(1, 1), (1, 1), (2, 2), (2, 2)], {1: 7, 2: 3}) == 10
    assert counted([(1, 2), (1, 2)], {1: 7, 2: 3}) == 7
    assert counted([(1, 0), (1, 0)], {1: 7}) == 7


def test_too_many_classes_are_refused() -> None:
    """Guards the size of the table: beyond it sharing is left out, not guessed."""
    assert machine([(a, b) for a in range(1, 6) for b in range(1, 6)], dict.fromkeys(range(1, 6), 1)) is None
