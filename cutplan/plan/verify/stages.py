"""That no cut comes before its stage, from the rows of the job alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cutplan.job.model import Member
from cutplan.plan.model import Plan


def stage_complaints(plan: Plan) -> Iterator[str]:
    """Where the cuts of ``plan`` are not in the order of the stages of its job, or its blanks are of other stages."""
    members = {member.mark: member for member in plan.job.members}
    given = any(member.stage is not None for member in members.values())
    if not given and not any(blank.stage or blank.estimated for blank in plan.blanks):
        return
    pieces = {piece: member for member in members.values() for piece in (member.mark, *member.marks)}
    rounds = {mark: _round(member, pieces, ()) for mark, member in members.items()}
    for blank in plan.blanks:
        if blank.member in rounds and blank.stage != rounds[blank.member]:
            yield f"{blank.mark}: is of stage {rounds[blank.member]}, not {blank.stage}"
    for member in members.values():
        for onto in () if member.made else _lands(member, pieces):
            if rounds[onto.mark] > rounds[member.mark]:
                yield f"{member.mark}: is of an earlier stage than {onto.mark}, which it lands on"
    of_mark = {blank.mark: rounds.get(blank.member, 0) for blank in plan.blanks}
    cuts = sorted((cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts), key=lambda cut: cut.number)
    reached, before = 0, None
    for cut in cuts:
        stage = of_mark.get(cut.mark, 0)
        if stage < reached:
            yield f"cut {cut.number}: {cut.mark} is of stage {stage}, but a cut of stage {reached} comes before it"
        if cut.shared and before is not None and stage != before:
            yield f"cut {cut.number}: shares a mitre with a blank of another stage"
        reached, before = max(reached, stage), stage


def _round(member: Member, pieces: Mapping[str, Member], seen: tuple[str, ...]) -> int:
    """In which stage a member is made: as it says, or one later than all that it lands on."""
    if member.made:
        return 0
    if member.stage is not None:
        return member.stage
    if member.mark in seen:
        return 1  # a loop, reported elsewhere
    return 1 + max([0, *(_round(onto, pieces, (*seen, member.mark)) for onto in _lands(member, pieces))])


def _lands(member: Member, pieces: Mapping[str, Member]) -> list[Member]:
    """What its ends say that it sits on."""
    names = [one.onto.member for end in (member.end_a, member.end_b) for one in end.saddles]
    return [pieces[name] for name in names if name is not None and name in pieces]
