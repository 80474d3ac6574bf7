"""Small builds that become known while they are built, and what a person does with their lists, by lot.

A build has a few members, some of them estimates. Its true lengths are drawn within what was written, often at the very
ends of it. Its lists are followed cut by cut; members are measured when they can be, minds change, and as many pieces
are spoilt as the list promised to make good, now and then one more. ``build_judge`` plays them to their end.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job.model import Bend, Cut, End, Fitted, Job, Member, Onto, Saddle, Settings, Source, StockRow, Tube
from cutplan.plan import Plan, Prepared
from cutplan.plan.model import JobFile, SawCut
from cutplan.plan.prepare import digest_of
from cutplan.plan.recut.ticks import Tick

F = Fraction
HALF = F(1, 2)
Known = dict[tuple[tuple[Fraction, ...], tuple[Fraction, ...]], bool]
"""Which needs fit into which rooms."""


class JudgedError(AssertionError):
    """What is wrong with a build, and where."""


@dataclass(frozen=True)
class Piece:
    """A piece of tube on the floor: its length, and what is lost at the end it is cut from and at the far one."""

    tube: str
    length: Fraction
    near: Fraction
    far: Fraction
    whole: bool = True

    def room(self, settings: Settings) -> Fraction:
        """What it yields, the last kerf of it apart."""
        left = self.length - self.near - self.far - settings.saw_hold
        return max(left - (max(settings.kerf - self.far, F(0)) if settings.saw_hold else 0), F(0))


@dataclass
class Build:
    """A build on its way: the job as written now, what is true, what lies on the floor, what is promised still."""

    dice: random.Random
    job: Job
    truth: dict[str, Member]
    seen: Counter[str] = field(default_factory=Counter)
    floor: dict[str, Piece] = field(default_factory=dict)
    known: Known = field(default_factory=dict)
    promised: dict[str, tuple[int, Fraction]] = field(default_factory=dict)
    ranges: dict[str, tuple[Fraction, Fraction]] = field(default_factory=dict)


def prepared(job: Job) -> Prepared:
    """The job as if it were read from a file."""
    layout = lay_out(job)
    if layout.faults:
        raise JudgedError(f"the job has faults: {layout.faults}")
    source = JobFile("job", digest_of(job), job.stock, job.settings)
    return Prepared(job, layout.blanks, (), (), layout.standing, source)


MOST = 7
"""Blanks of a build."""


def drawn(seed: int, most: int = MOST) -> Build:
    """A build of up to ``most`` blanks of one or two tubes."""
    dice = random.Random(f"build {seed}")
    fitted = dice.choice(list(Fitted))
    settings = Settings(
        kerf=F(dice.choice([2, 4, 5]), 2),
        end_trim=F(dice.choice([0, 0, 5, 10])),
        saw_hold=F(dice.choice([0, 0, 40])),
        salvage=F(dice.choice([0, 50, 50, 120])),
        spares=dice.choice([0, 1, 1, 1, 2]) if fitted is Fitted.AFTER_ALL else 1,
        fitted=fitted,
    )
    tubes = [Tube("T", F(40), F(2), clr=F(100)), Tube("S", F(30), F(2))][: dice.choice([1, 1, 2])]
    members: list[Member] = []
    blanks = 0
    while blanks < dice.randint(3, most):
        one = _member(dice, f"M{len(members)}", tubes, members, settings)
        if blanks + one.count * len(one.marks) <= most:
            blanks += one.count * len(one.marks)
            members.append(one)
    if dice.random() < 0.4:
        members = _with_stages(dice, members)
    stock = [row for tube in tubes for row in _stock(dice, tube.name, fitted)]
    truth = {one.mark: _true(dice, one) for one in members}
    return Build(dice, Job(settings, tuple(tubes), tuple(stock), tuple(members)), truth)


def _member(
    dice: random.Random, mark: str, tubes: Sequence[Tube], before: Sequence[Member], settings: Settings
) -> Member:
    tube = dice.choice(tubes).name
    doubt = F(dice.choice([0, 0, 0, 1, 20, 50, 120]))
    if tube == "T" and dice.random() < 0.12:
        last = Bend(F(dice.randint(200, 500)), tolerance=doubt)
        return Member(mark, tube, bends=(Bend(F(dice.randint(200, 500)), angle_deg=90.0), last), insured=doubt < 50)
    wide = [one for one in before if one.tube == "T" or tube == "S"]
    ends = [_end(dice, wide), _end(dice, wide) if dice.random() < 0.3 else End()]
    return Member(
        mark,
        tube,
        count := dice.choice([1, 1, 1, 2]),
        pair=count == 1 and dice.random() < 0.2,
        length=F(dice.randint(400, 2400), 2),
        tolerance=doubt,
        end_a=ends[0],
        end_b=ends[1],
        insured=dice.random() < 0.9,
    )


def _end(dice: random.Random, before: Sequence[Member]) -> End:
    if not before or dice.random() < 0.4:
        return End() if dice.random() < 0.7 else End(Cut.MITRE, float(dice.choice([15, 30, 45])))
    onto = dice.choice(before)
    swing = dice.choice([0.0, 0.0, 4.0])
    saddle = Saddle(Onto(F(40 if onto.tube == "T" else 30), onto.marks[0], onto.marks[0]), 60.0, angle_tolerance=swing)
    return End(Cut.COPE, saddles=(saddle,))


def _with_stages(dice: random.Random, members: Sequence[Member]) -> list[Member]:
    """Some of them with a stage written, none before what it lands on."""
    staged: list[Member] = []
    for one in members:
        floor = max([1, *(stage_of(onto, staged) for onto in lands(one, staged))])
        staged.append(replace(one, stage=dice.randint(floor, 3)) if floor <= 3 and dice.random() < 0.6 else one)
    return staged


def _stock(dice: random.Random, tube: str, fitted: Fitted) -> Iterator[StockRow]:
    # On short bars one mistake at a time can often be made good with less than room after all cuts.
    short = [*range(1250, 2500, 50)] if fitted is Fitted.ONE_AT_A_TIME else [1500, 1800, 2500, 3000, 4000]
    few = dice.choice([None, None, None, 3])
    priced = dice.random() < 0.9
    for length in dice.sample(short, dice.choice([1, 2])):
        price = Decimal(length // 100 + dice.randint(0, 6)) if priced else None
        yield StockRow(tube, F(length), price, few)
    if dice.random() < 0.4:
        yield StockRow(tube, F(dice.randint(300, 1600)), None, dice.choice([1, 2]), Source.RACK, f"R{tube}")


def _true(dice: random.Random, one: Member) -> Member:
    """What a member turns out to be: at the ends of its ranges two times in three."""

    def at(doubt: Fraction) -> Fraction:
        if dice.random() < 0.67:
            return dice.choice([-1, 1]) * doubt
        return F(dice.randint(int(-2 * doubt), int(2 * doubt)), 2)

    def end(given: End) -> End:
        turned = (
            replace(it, angle_deg=it.angle_deg + float(at(F(it.angle_tolerance))), angle_tolerance=0.0)
            for it in given.saddles
        )
        return replace(given, saddles=tuple(turned))

    return replace(
        one,
        length=None if one.length is None else one.length + at(one.tolerance),
        tolerance=F(0),
        end_a=end(one.end_a),
        end_b=end(one.end_b),
        bends=tuple(replace(row, straight=row.straight + at(row.tolerance), tolerance=F(0)) for row in one.bends),
    )


def lands(one: Member, members: Sequence[Member]) -> list[Member]:
    named = {saddle.onto.member for end in (one.end_a, one.end_b) for saddle in end.saddles}
    return [other for other in members if named & {other.mark, *other.marks}]


def pieces_landed_on(one: Member, members: Sequence[Member]) -> set[str]:
    """The marks of the pieces that a piece of ``one`` may land on: the one it names; where it does not say, both."""
    named = {saddle.onto.name for end in (one.end_a, one.end_b) for saddle in end.saddles}
    return {
        mark
        for other in lands(one, members)
        for mark in other.marks
        if one.pair or mark in named or not named & {*other.marks}
    }


def stage_of(one: Member, members: Sequence[Member]) -> int:
    if one.made:
        return 0
    return one.stage or 1 + max([0, *(stage_of(onto, members) for onto in lands(one, members))])


def in_order(plan: Plan) -> list[tuple[str, SawCut]]:
    """The cuts with their bars' names, in the order of sawing."""
    pairs = [(bar.name, cut) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    return sorted(pairs, key=lambda pair: pair[1].number)


@dataclass
class Event:
    """What happens on one list: ticks, and the job that is written then."""

    ticks: dict[int, Tick]
    spoilt: Counter[str]
    job: Job
    grown: bool = False


def followed(build: Build, plan: Plan) -> Event:
    """The list followed for a while: what is ticked, and what is then written in the job."""
    dice = build.dice
    cuts = in_order(plan)
    blanks = plan.by_mark()
    numbers = [cut.number for _, cut in cuts] + [made.number for made in plan.made]
    event = Event({number: Tick(number, False, False) for number in numbers}, Counter(), build.job)
    left = {tube.tube: tube.spares.wanted for tube in plan.tubes}
    at_once = {tube.tube: tube.spares.fitted is Fitted.ONE_AT_A_TIME for tube in plan.tubes}
    covered = {tube.tube: tube.spares.length for tube in plan.tubes}

    def may_spoil(blank: Blank) -> bool:
        free = left.get(blank.tube, 0) - event.spoilt[blank.tube]
        return blank.insured and free > 0 and blank.length <= covered[blank.tube]

    steps = dice.randint(1, 6)
    stop = False
    for _, cut in cuts:
        blank = blanks[cut.mark]
        if blank.estimated:
            _measure(build, plan, event, blank)
            stop = True
            break
        if steps == 0 or stop:
            break
        steps -= 1
        if may_spoil(blank) and cut.mark in _insured(plan) and dice.random() < 0.2:
            event.ticks[cut.number] = Tick(cut.number, False, True)
            event.spoilt[blank.tube] += 1
            build.seen["mistakes"] += 1
            stop = at_once[blank.tube] or build.job.settings.fitted is Fitted.ONE_AT_A_TIME
        elif not blank.insured and dice.random() < 0.05:
            event.ticks[cut.number] = Tick(cut.number, False, True)
            event.grown = True
            build.seen["mistakes beyond the promise"] += 1
            stop = True
        else:
            event.ticks[cut.number] = Tick(cut.number, True, False, fitted=dice.random() < 0.4)
    if build.job.settings.fitted is Fitted.AFTER_ALL:
        for made in plan.made:
            if made.fitted:
                continue
            if may_spoil(made.blank) and made.sawn is None and dice.random() < 0.08:
                event.ticks[made.number] = Tick(made.number, False, True)
                event.spoilt[made.blank.tube] += 1
                build.seen["mistakes in fitting"] += 1
            elif dice.random() < 0.3:
                event.ticks[made.number] = Tick(made.number, True, False, fitted=True)
    if dice.random() < 0.3:
        _change_of_mind(build, plan, event)
    return event


def _insured(plan: Plan) -> set[str]:
    return {mark for tube in plan.tubes for mark in tube.spares.insured}


def _written(job: Job, mark: str, **what: object) -> Job:
    return replace(job, members=tuple(replace(one, **what) if one.mark == mark else one for one in job.members))


def _measure(build: Build, plan: Plan, event: Event, blank: Blank) -> None:
    """Measure what comes next, or all that can be measured by now."""
    if build.dice.random() < 0.1:
        # Measured roughly: the range is narrower, and still a range.
        one = next(one for one in event.job.members if one.mark == blank.member)
        true = build.truth[one.mark]
        if one.length is not None and true.length is not None and one.tolerance >= 20:
            low, high = one.length - one.tolerance, one.length + one.tolerance
            low, high = max(low, true.length - 8), min(high, true.length + 8)
            event.job = _written(event.job, one.mark, length=(low + high) / 2, tolerance=(high - low) / 2)
            build.seen["measured roughly"] += 1
            return
    members = event.job.members
    guessed = {one.member for one in plan.blanks if one.estimated}
    to_cut = {plan.by_mark()[c.mark].member for _, c in in_order(plan) if not event.ticks[c.number].done}
    now = [blank.member]
    if build.dice.random() < 0.6:
        now += [
            one.mark
            for one in members
            if one.mark in guessed and not any(onto.mark in to_cut for onto in lands(one, members))
        ]
    for mark in dict.fromkeys(now):
        true = build.truth[mark]
        kept = next(one for one in event.job.members if one.mark == mark)
        event.job = replace(
            event.job,
            members=tuple(
                replace(true, stage=kept.stage, count=kept.count, insured=kept.insured) if one.mark == mark else one
                for one in event.job.members
            ),
        )
        build.seen["measured"] += 1


def _change_of_mind(build: Build, plan: Plan, event: Event) -> None:
    dice = build.dice
    one = dice.choice(event.job.members)
    landed = any(one in lands(other, event.job.members) for other in event.job.members)
    known = one.length is not None and one.length > 250 and one.tolerance == 0 and not _in_doubt(one)
    what = dice.choice(["shorter", "shorter", "dropped", "longer", "added", "fewer", "kerf", "stage"])
    if what == "shorter" and known:
        event.job = _written(event.job, one.mark, length=one.length - F(dice.randint(1, 200), 2))
    elif what == "longer" and known:
        event.job = _written(event.job, one.mark, length=one.length + F(dice.randint(1, 60), 2))
        event.grown = True
    elif what == "dropped" and not landed and len(event.job.members) > 2:
        event.job = replace(event.job, members=tuple(each for each in event.job.members if each is not one))
    elif what == "fewer" and one.count > 1:
        event.job = _written(event.job, one.mark, count=1)
    elif what == "added" and len(event.job.members) < 7:
        new = Member(f"N{len(build.truth)}", one.tube, length=F(dice.randint(300, 1400), 2))
        if any(each.stage for each in event.job.members):
            new = replace(new, stage=dice.randint(1, 3))
        event.job = replace(event.job, members=(*event.job.members, new))
        build.truth[new.mark] = new
        event.grown = True
    elif what == "kerf" and dice.random() < 0.3:
        event.job = replace(event.job, settings=replace(event.job.settings, kerf=build.job.settings.kerf + HALF))
        event.grown = True
    elif what == "stage" and one.stage is not None and not landed:
        event.job = _written(event.job, one.mark, stage=one.stage + 1)
    else:
        return
    build.seen[what] += 1
    build.ranges.pop(one.mark, None)
    for mark in one.marks:
        if what in ("shorter", "longer"):
            build.ranges.pop(mark, None)


def _in_doubt(one: Member) -> bool:
    return any(saddle.angle_tolerance for end in (one.end_a, one.end_b) for saddle in end.saddles)
