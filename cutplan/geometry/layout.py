"""From a job to its blanks: every member's length with its parts, end shapes and bending marks."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.geometry import ends
from cutplan.geometry.bodies import bodies_in_place
from cutplan.geometry.clashes import clashes, loose_ends
from cutplan.geometry.derivation import allowances
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import Figures
from cutplan.geometry.halves import mirror_image
from cutplan.geometry.making import Maker, Misfit, ShapeKey, is_simple
from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.nodes import settled
from cutplan.geometry.placing import Placer
from cutplan.job.faults import Fault, Place, Remark
from cutplan.job.model import Job, Member
from cutplan.job.stages import in_stages, landed_on, reached, stage_faults, stages_of, waits_of


@dataclass(frozen=True, slots=True)
class Layout:
    """Blanks in the order of the job's members (a pair gives two, ``-L`` then ``-R``), with what is wrong and what
    should be known. A member with a fault has no blank. ``standing``: members that are made already, as they would be
    as blanks; those without a length are not among them."""

    blanks: tuple[Blank, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Remark, ...]
    standing: tuple[Blank, ...] = ()


def lay_out(job: Job) -> Layout:
    """Lay out every member of ``job``. A bad job raises nothing: each fault is returned with its place."""
    found = settled(job)
    if found.faults:
        return Layout((), found.faults, found.remarks)
    if found.job is not job:
        layout = lay_out(found.job)
        return replace(layout, remarks=(*found.remarks, *layout.remarks))
    figures = Figures(job.settings.units)
    shapes = _simple_shapes(job)
    tubes = {tube.name: tube for tube in job.tubes}
    by_mark = {mark: other for other in job.members for mark in (other.mark, *other.marks)}
    lands = landed_on(job.members)
    maker = Maker(job, figures, shapes, allowances(job.settings), figures.named(job.settings.step), Placer(job))
    blanks: list[Blank] = []
    standing: list[Blank] = []
    faults: list[Fault] = []
    remarks: list[Remark] = []
    misfits: list[Misfit] = []
    for member in job.members:
        if member.mirror_of:
            # What is wrong with it, or should be known of it, is reported of the one it is the mirror image of.
            for some in (blanks, standing):
                left = [blank for blank in some if blank.mark == member.mirror_of]
                some += [mirror_image(blank, member, job.settings.units) for blank in left]
            continue
        wrong = _onto_faults(member, by_mark, lands)
        tube = tubes.get(member.tube)
        if tube is None:
            wrong.append(Fault(member.place.at("tube"), "is not in the Tubes sheet", member.tube))
        if tube is not None and not wrong and (not member.made or _drawable(member)):
            # What is made already went through its bender: it needs no grip, and no advice on how to make it.
            made = maker.make(member, replace(tube, grip=Fraction(0), stretch=Fraction(0)) if member.made else tube)
            wrong += made.faults
            remarks += () if member.made else made.remarks
            misfits += made.misfits
            (standing if member.made else blanks).extend(made.blanks)
        faults += wrong
    # What is estimated is measured once what it lands on is in place: that alone makes stages.
    if in_stages(job.members) or any(blank.estimated for blank in blanks):
        faults += stage_faults(job.members)
        stages = stages_of(job.members)
        waits = waits_of(job.members, stages)
        blanks = [
            replace(blank, stage=stages.get(blank.member, 0), waits=waits.get(blank.member, 0)) for blank in blanks
        ]
    if not faults:
        misfits += _collisions(job, [*blanks, *standing], maker, [one.third for one in misfits if one.third])
    return Layout(tuple(blanks), tuple(faults), (*remarks, *_worst_first(misfits)), tuple(standing))


def _drawable(member: Member) -> bool:
    return member.length is not None or bool(member.bends) or bool(member.points)


def _collisions(
    job: Job, blanks: Sequence[Blank], maker: Maker, reported: Collection[tuple[str, str, str]]
) -> Iterator[Misfit]:
    """Tubes of the frame that run into each other where no end is concerned yet, and ends that stop in the air."""
    bodies = tuple(bodies_in_place(job, blanks, maker.placer))
    twins = {member.mirror_of: member.mark for member in job.members if member.mirror_of}
    right = [(twins[mark], name, twins.get(third, third)) for mark, name, third in reported if mark in twins]
    figures, places = maker.figures, {member.mark: member.place for member in job.members}
    for clash in clashes(bodies, job, [*reported, *right]):
        where = f"by {figures.about(clash.mm)} at {figures.place(clash.at)}"
        text = f"{clash.first} and {clash.second} run into each other {where}, and neither lands on the other there"
        yield Misfit(clash.mm, Remark(places[clash.second_member], text))
    for loose in loose_ends(bodies, job):
        where = f"{figures.about(loose.mm)} short of {loose.other} at {figures.place(loose.at)}"
        place = places[loose.member].at(f"end {loose.name}")
        yield Misfit(loose.mm, Remark(place, f"{loose.mark} stops {where} and touches nothing"))


def _worst_first(misfits: Sequence[Misfit]) -> Iterator[Remark]:
    """A few of them in full, and how many more there are."""
    ordered = sorted(misfits, key=lambda one: -one.mm)
    yield from (one.remark for one in ordered[:_MOST_MISFITS])
    if len(ordered) > _MOST_MISFITS:
        more = len(ordered) - _MOST_MISFITS
        ends = "end" if more == 1 else "ends"
        yield Remark(Place("Members"), f"{more} more {ends} with a smaller overhang or clash")


_MOST_MISFITS = 8


def _simple_shapes(job: Job) -> dict[ShapeKey, EndShape | GeometryError]:
    """The shapes of all ends coped onto one straight tube, worked out together."""
    ods = {tube.name: float(tube.od) for tube in job.tubes}
    wanted = {
        (member.tube, id(end)): (ods[member.tube], end.saddles[0])
        for member in job.members
        for end in member.ends
        if member.tube in ods and is_simple(end)
    }
    shapes = ends.simple_copes([od for od, _ in wanted.values()], [one for _, one in wanted.values()])
    return dict(zip(wanted, shapes, strict=True))


def _onto_faults(member: Member, by_mark: Mapping[str, Member], lands: Mapping[str, Sequence[str]]) -> list[Fault]:
    """Ends that land on the member itself, on a member that is not there, or on one that lands on it in turn."""
    faults = []
    for name, end in zip("ab", member.ends, strict=True):
        for one in end.saddles:
            mark = one.onto.member
            if mark is None:
                continue
            place = member.place.at(f"onto {name}")
            if mark not in by_mark:
                faults.append(Fault(place, "is not a member's mark", mark, "name one of the members"))
            elif by_mark[mark] is member:
                faults.append(Fault(place, "a member cannot land on itself", mark, "name another member"))
            elif member.mark in reached(by_mark[mark].mark, lands):
                rule = f"{mark} in turn lands on {member.mark}, directly or through other members"
                faults.append(Fault(place, rule, mark, "let one of them run through"))
    return faults
