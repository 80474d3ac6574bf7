"""The rounds of building: in which stage each member is made.

A member is of the stage that its row gives; else of the one after the last that it lands on, and of stage 1 where it
lands on nothing, or only on what is made already. A job in which no row gives a stage, and nothing is estimated, is cut
in any order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter

from cutplan.job.faults import Fault
from cutplan.job.model import Member


def in_stages(members: Sequence[Member]) -> bool:
    """Whether these are made in stages: some row gives one."""
    return any(member.stage is not None for member in members)


def stages_of(members: Sequence[Member]) -> dict[str, int]:
    """The stage of each member by its mark; 0 for what is made already. Empty where members land on one another in a
    loop."""
    lands = landed_on(members)
    by_mark = {member.mark: member for member in members}
    stages: dict[str, int] = {}
    try:
        for mark in TopologicalSorter(lands).static_order():
            member = by_mark[mark]
            after = max((stages[onto] for onto in lands[mark]), default=0) + 1
            stages[mark] = 0 if member.made else after if member.stage is None else member.stage
    except CycleError:
        return {}
    return stages


def waits_of(members: Sequence[Member], stages: Mapping[str, int]) -> dict[str, int]:
    """By the mark of each member, how many others of its own stage must be there before it, one landing on the next;
    ``stages``: of each by its mark."""
    lands = landed_on(members)
    waits: dict[str, int] = {}
    for mark in TopologicalSorter(lands).static_order() if stages else ():
        mine = [waits[onto] for onto in lands[mark] if stages[onto] == stages[mark]]
        waits[mark] = max(mine) + 1 if mine else 0
    return waits


def landed_on(members: Sequence[Member]) -> dict[str, tuple[str, ...]]:
    """By the mark of each member, the marks of the members that it lands on."""
    of_piece = {piece: member.mark for member in members for piece in (member.mark, *member.marks)}
    return {
        member.mark: tuple(
            dict.fromkeys(
                of_piece[one.onto.member]
                for end in member.ends
                for one in end.saddles
                if one.onto.member in of_piece and of_piece[one.onto.member] != member.mark
            )
        )
        for member in members
    }


def reached(mark: str, lands: Mapping[str, Iterable[str]]) -> set[str]:
    """All that a member lands on, directly or through others. ``lands``: what each lands on itself."""
    found: set[str] = set()
    to_follow = [mark]
    while to_follow:
        new = set(lands.get(to_follow.pop(), ())) - found
        found |= new
        to_follow += new
    return found


def pieces_landed_on(members: Sequence[Member]) -> dict[str, tuple[str, ...]]:
    """By the mark of each piece, the marks of the pieces that it may land on: of a pair both, but where a member of one
    piece names which."""
    of_piece = {piece: member for member in members for piece in (member.mark, *member.marks)}
    lands: dict[str, tuple[str, ...]] = {}
    for member in members:
        pieces: list[str] = []
        for onto in (one.onto for end in member.ends for one in end.saddles):
            other = of_piece.get(onto.member or "", member)
            if other is not member:
                pieces += [onto.name] if onto.name in other.marks and not member.pair else other.marks
        lands |= dict.fromkeys(member.marks, tuple(dict.fromkeys(pieces)))
    return lands


def stage_faults(members: Sequence[Member]) -> list[Fault]:
    """A fault for each member that would be made before something it lands on."""
    stages, lands = stages_of(members), landed_on(members)
    faults = []
    for member in members:
        late = [onto for onto in lands[member.mark] if stages and stages[onto] > stages[member.mark]]
        if member.stage is not None and late:
            last = max(late, key=stages.__getitem__)
            rule = f"is earlier than that of {last}, which it lands on (stage {stages[last]})"
            cure = f"give {stages[last]} or a later one, or {last} an earlier one"
            faults.append(Fault(member.place.at("stage"), rule, str(member.stage), cure))
    return faults
