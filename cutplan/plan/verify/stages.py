"""That no cut comes before its stage, and that a plan says where a tube is sawn before one that it lands on: from the
rows of the job alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cutplan.job.model import Fitted, Member
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


def early_complaints(plan: Plan) -> Iterator[str]:
    """Where members are fitted one at a time: what is sawn before something it lands on and not said to be, and what is
    said to be and is not."""
    cuts: dict[str, list[int]] = {}
    for cut in (cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts):
        cuts.setdefault(cut.mark, []).append(cut.number)
    found = set()
    if plan.job.settings.fitted is Fitted.ONE_AT_A_TIME:
        for mark, onto in pieces_landed_on(plan.job.members):
            if mark in cuts and onto in cuts and min(cuts[mark]) < max(cuts[onto]):
                found.add((min(cuts[mark]), mark, onto, max(cuts[onto])))
    named = [(one.cut, one.mark, one.onto, one.onto_cut) for one in plan.early]
    for number, mark, onto, onto_number in sorted(found.difference(named)):
        yield f"cut {number}: {mark} lands on {onto}, which is cut {onto_number}, but the plan does not say so"
    for number, mark, onto, _ in named:
        if (number, mark, onto, _) not in found or named.count((number, mark, onto, _)) > 1:
            yield f"cut {number}: {mark} is listed as sawn before {onto}, which it lands on, but is not, or is twice"


def pieces_landed_on(members: Sequence[Member]) -> Iterator[tuple[str, str]]:
    """Each piece with each that it may land on: of a pair both, but where a single member says which."""
    for member in members:
        for end in (member.end_a, member.end_b):
            for target in (saddle.onto for saddle in end.saddles):
                of = [one for one in members if target.member in (one.mark, *one.marks) and one is not member]
                for onto in (piece for one in of for piece in one.marks):
                    if member.pair or target.name not in of[0].marks or onto == target.name:
                        yield from ((mark, onto) for mark in member.marks)
