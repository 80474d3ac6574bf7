"""The plain words that tables, terminal, workbook and wraps share: ends, money, lengths, proof, spares."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from cutplan.geometry.inside import UNKNOWN, Insides
from cutplan.geometry.model import Blank, EndShape
from cutplan.job.faults import listed
from cutplan.job.material import KG_PER_LB
from cutplan.job.model import INCH, Cut, Fitted, Job, Onto, Plane, Saddle, Settings, Source, Units
from cutplan.job.units import show_length, to_units
from cutplan.plan.model import Bar, Option, Plan, Purchase, Spares, TubePlan, own_label


def unit_name(settings: Settings) -> str:
    """The job's unit in a sentence: ``mm``, ``inches``."""
    return "mm" if settings.units is Units.MM else "inches"


_SHORT_PLATE = 10
"""Letters of a plane that is shown in full: z=0, y=1250."""


def degrees(angle: float, *, taped: bool = False) -> str:
    """An angle without idle zeros: ``45``, ``22.5``; to a hundredth, or to a tenth where it comes from what
    was ``taped``: no tape gives it finer."""
    return f"{round(angle, 1 if taped else 2):g}"


def onto(target: Onto, units: Units) -> str:
    """What a saddle sits on, by the name the job uses: a mark, a tube's name; else an outside diameter."""
    return target.name or target.member or f"OD {show_length(target.od, units, step=None)}"


def end(shape: EndShape, units: Units) -> str:
    """An end in a few words: ``square``, ``mitre 45``, ``mitre 20 onto z=0``, ``cope 60 onto HOOP``."""
    if shape.cut is Cut.SQUARE:
        return "square"
    if shape.cut is Cut.MITRE:
        # A slope takes a line to say, which a saw list has no room for.
        plate = shape.plate if len(shape.plate) <= _SHORT_PLATE else "its plate"
        return f"mitre {degrees(shape.angle_deg, taped=shape.taped)}{f' onto {plate}' if plate else ''}"
    return "cope " + " + ".join(f"{_angle(s, shape.taped)} onto {onto(s.onto, units)}" for s in shape.saddles)


def _angle(saddle: Saddle, taped: bool) -> str:
    """A saddle's angle with its ±, where it has one."""
    angle, doubt = degrees(saddle.angle_deg, taped=taped), saddle.angle_tolerance
    return f"{angle} ± {degrees(doubt)}" if doubt else angle


def length(mm: Fraction | float, units: Units) -> str:
    """A length as a tape reads it, without the unit."""
    if isinstance(mm, float) and units is Units.IN:
        ticks = mm / float(INCH) * 64
        # A worked-out inch is a 64th but for its last bits.
        mm = round(ticks) * INCH / 64 if abs(ticks - round(ticks)) < 1e-6 else mm
    return show_length(Fraction(mm), units, step=None)


def measured(mm: Fraction | float, settings: Settings) -> str:
    """A length as a tape reads it, with its unit."""
    return f"{length(mm, settings.units)} {settings.units.value}"


def found(mm: Fraction, units: Units) -> str:
    """A length to be found with a tape, without the unit: in inches the nearest 64th, with ~ where it is not one."""
    if units is Units.MM or (mm / INCH * 64).denominator == 1:
        return show_length(mm, units, step=None)
    return "~" + show_length(mm, units, step=INCH / 64)


def tape(mm: float, settings: Settings) -> str:
    """A worked-out length to be marked by tape: the nearest marking step, with ~ where that is not all of it."""
    exact = Fraction(mm)
    off = abs(round(exact / settings.step) * settings.step - exact)
    return f"{'~' if off > Fraction(1, 1000) else ''}{show_length(exact, settings.units, step=settings.step)}"


def taped(mm: float, settings: Settings) -> str:
    """A worked-out length to be marked by tape, with its unit."""
    return f"{tape(mm, settings)} {settings.units.value}"


def plane(where: Plane, units: Units) -> str:
    """A plane square to an axis, as written in a job: y=0."""
    return f"{where.axis.value}={length(where.at, units)}"


def blank(mm: Fraction, settings: Settings) -> str:
    """A blank's length: always a whole number of marking steps, in mm with as many decimals as the step has."""
    text = found(mm, settings.units)
    places = decimals(settings.step)
    if settings.units is Units.IN or not places or Fraction(text) != mm:
        return text
    return f"{float(mm):.{places}f}"


def left(mm: Fraction | None, at_least: Fraction, settings: Settings) -> str:
    """What is left of a bar after a cut, or what is left at the least where an estimated blank is cut from it."""
    return f"at least {blank(at_least, settings)}" if mm is None else blank(mm, settings)


def estimate(member: Blank, settings: Settings) -> str:
    """What an estimated blank may come out as: ``1080 to 1160``; nothing for one that is known."""
    if not member.estimated:
        return ""
    return f"{blank(member.least, settings)} to {blank(member.length, settings)}"


def decimals(step: Fraction) -> int:
    """How many decimals a millimetre step shows: 0 for 1, 1 for 1/2, 2 for 1/4."""
    return next(places for places in range(5) if places == 4 or (step * 10**places).denominator == 1)


def number(mm: Fraction | float, units: Units) -> float | int:
    """A length in the job's units as a plain number, whole where it is whole; floats to a millionth."""
    exact = Fraction(mm) if isinstance(mm, float) else mm
    value = to_units(exact, units)
    if value.denominator == 1:
        return int(value)
    return float(value) if isinstance(mm, Fraction) else round(float(value), 6)


def amount(value: Decimal) -> float | int:
    """Money as a plain number."""
    return int(value) if value == value.to_integral_value() else float(value)


def money(value: Decimal | None, currency: str = "") -> str:
    """An amount with two decimals and its currency; a dash where no price was given."""
    if value is None:
        return "-"
    return f"{value:.2f} {currency}".strip()


def cost(value: Decimal, priced: bool, settings: Settings) -> str:
    """What a plan costs: money, or the length bought where nothing is priced."""
    if priced:
        return money(value, settings.currency)
    return f"{measured(Fraction(value) * settings.units.mm, settings)} of tube"


def proof(value: Decimal, bound: Decimal, proven: bool, priced: bool, settings: Settings) -> str:
    """Bound and proof in plain words."""
    if proven:
        return f"Proven: no other plan with these spares {'costs' if priced else 'takes'} less."
    return (
        f"Not proven: no plan can {'cost' if priced else 'take'} less than {cost(bound, priced, settings)}; "
        f"at most {cost(value - bound, priced, settings)} could still be saved. More time may find it."
    )


def plan_cost(plan: Plan) -> str:
    """What a whole plan costs, with its proof; tube by tube where only some of it has a price."""
    settings = plan.job.settings
    if plan.cost is None or plan.bound is None:
        tubes = (tube_cost(tube, settings, charged=plan.charged) for tube in plan.tubes if tube.cost)
        charges = sum((order.charges for order in plan.orders), Decimal(0))
        more = [f"The shops charge {money(charges, settings.currency)} on top."] if charges else []
        return " ".join([f"Cost: not known, as no price is given for {listed(plan.unpriced)}.", *tubes, *more])
    said = proof(plan.cost, plan.bound, plan.proven, plan.priced, settings)
    with_charges = ", with what the shops charge" if any(one.charges for one in plan.orders) else ""
    return f"Cost: {cost(plan.cost, plan.priced, settings)}{with_charges}. {said}"


def tube_cost(tube: TubePlan, settings: Settings, *, charged: bool = False) -> str:
    """What one tube costs, with its proof; ``charged``: shops charge for an order, so that only the whole has one."""
    if charged and tube.priced:
        return f"{tube.tube}: {cost(tube.cost, tube.priced, settings)} for its bars."
    said = proof(tube.cost, tube.bound, tube.proven, tube.priced, settings)
    return f"{tube.tube}: {cost(tube.cost, tube.priced, settings)}. {said}"


def option_cost(option: Option, settings: Settings) -> str:
    """What a buying option costs."""
    if option.cost is not None:
        return cost(option.cost, option.priced, settings)
    money_part = sum((line.cost for line in option.buy if line.cost is not None), Decimal(0))
    money_part += sum((order.charges for order in option.orders), Decimal(0))
    unpriced = dict.fromkeys(line.tube for line in option.buy if line.cost is None)
    return f"{cost(money_part, True, settings)}, and {listed(tuple(unpriced))}, which has no price"


def option_proof(option: Option, settings: Settings) -> str:
    """Bound and proof of a buying option in plain words."""
    if option.cost is None or option.bound is None:
        return "Without that price there is no total, and so no proof."
    return proof(option.cost, option.bound, option.proven, option.priced, settings)


def counted(count: int, one: str) -> str:
    """``1 bar``, ``3 bars``."""
    return f"{count} {one}" if count == 1 else f"{count} {one}s"


def cuts(first: int, last: int) -> str:
    """``cut 3``, ``cuts 3 and 4``, ``cuts 3 to 7``."""
    if first == last:
        return f"cut {first}"
    return f"cuts {first} and {last}" if last == first + 1 else f"cuts {first} to {last}"


def cuts_among(numbers: Iterable[int]) -> str:
    """``cut 3``, ``cuts 3 to 7``, ``cuts 3, 5 and 8 to 11``: these and no others."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    if len(runs) == 1:
        return cuts(runs[0][0], runs[0][-1])
    said = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    return f"cuts {', '.join(said[:-1])} and {said[-1]}"


def bar_title(bar: Bar, settings: Settings) -> str:
    """A bar in a line: name, tube, length, where it is from."""
    origin = "from the rack" if bar.source is Source.RACK else "bought"
    if bar.cut_from is not None:
        origin = f"part of {measured(bar.cut_from, settings)} that {bar.shop} cuts"
    # Once cutting has begun, what is in hand is labelled with its bar's own name in front.
    own = own_label(bar.name, bar.label)
    origin = "in hand" if own != bar.label else origin
    label = f", marked {own}" if own else ""
    return f"Bar {bar.name}: {bar.tube}, {found(bar.length, settings.units)} {settings.units.value}, {origin}{label}"


def squared(bar: Bar, settings: Settings) -> str:
    """What is done to the end of a bar that its cuts are measured from."""
    if not bar.end_trim:
        return "Measure from its sawn end."
    return f"First square its end: take off at most {measured(bar.end_trim, settings)}."


def spares(kept: Spares, settings: Settings) -> tuple[str, ...]:
    """What one tube's spares cover, in plain words, a sentence each."""
    if not kept.wanted:
        said = ["No spare is kept: where an offcut happens to be long enough, the saw list says so."]
    elif kept.fitted is Fitted.ONE_AT_A_TIME:
        said = [
            f"One mistake, at any cut, can be made good in any of: {listed(kept.insured)}; cut in the order of "
            "the saw list, and check each blank before the next cut."
        ]
    else:
        long = measured(kept.length, settings)
        said = [f"After all cuts, tube is left for {counted(kept.wanted, 'more piece')} of up to {long}."]
        if kept.insured and kept.wanted == 1:
            said.append(f"It makes good one mistake in any of: {listed(kept.insured)}.")
        elif kept.insured:
            named = listed(kept.insured)
            said.append(f"They make good any {kept.wanted} mistakes in: {named}, even the same one twice.")
    if kept.not_insured:
        said.append(f"Not insured: {listed(kept.not_insured)}.")
    return tuple(said)


def fitted(settings: Settings) -> str:
    """When the members are fitted, and so what the spares assume."""
    if settings.fitted is Fitted.AFTER_ALL:
        return "Fitted after all cuts: a mistake may show only when everything is cut, so each spare is kept whole."
    return (
        "Fitted one at a time: a mistake shows before the next cut, what is not yet cut can be laid out again, and a "
        f"spoilt straight blank, less {measured(settings.salvage, settings)}, can be used "
        "for shorter ones."
    )


def purchase(line: Purchase, settings: Settings) -> str:
    """A line of the buy list in words."""
    what = f"{line.count} x {measured(line.length, settings)} of {line.tube}"
    what += f" from {line.shop}" if line.shop else ""
    what += f", cut into {cut_into(line.parts, settings)}" if line.parts else ""
    return what if line.cost is None else f"{what}, {money(line.cost, settings.currency)}"


def cut_into(parts: Sequence[Fraction], settings: Settings) -> str:
    """What a shop cuts a bar into, from end to end; empty where it does not."""
    units = settings.units
    return f"{' + '.join(found(mm, units) for mm in parts)} {units.value}" if parts else ""


def in_parts(parts: Sequence[Bar], settings: Settings) -> str:
    """What a bar is cut into, from end to end, each part with its name."""
    return " + ".join(f"{measured(part.length, settings)} (bar {part.name})" for part in parts)


def bar_in_parts(parts: Sequence[Bar], settings: Settings) -> str:
    """Which bar a shop cuts into these parts."""
    long = measured(parts[0].cut_from or Fraction(0), settings)
    return f"{parts[0].shop} cuts {long} of {parts[0].tube} into {in_parts(parts, settings)}."


def mass(job: Job, tube: str, mm: Fraction) -> float:
    """Mass of a length of tube: kg where the job is in mm, lb where it is in inches."""
    kg = job.tube(tube).mass_per_m * float(mm) / 1000
    return kg if job.settings.units is Units.MM else kg / KG_PER_LB


def mass_unit(settings: Settings) -> str:
    """The unit of :func:`mass`."""
    return "kg" if settings.units is Units.MM else "lb"


def section(job: Job, tube: str) -> str:
    """A tube's outside diameter and wall."""
    section = job.tube(tube)
    units = job.settings.units
    return f"{length(section.od, units)} x {length(section.wall, units)} {units.value}"


def ordered(job: Job, tube: str) -> str:
    """What to order: a tube's section, and its grade where one is given."""
    grade = job.tube(tube).grade
    return f"{section(job, tube)}, {grade}" if grade else section(job, tube)


def setup(member: Blank, units: Units) -> str:
    """Both ends of a blank in one line, with the turn between them where neither is square."""
    text = f"{end(member.end_a, units)} / {end(member.end_b, units)}"
    return f"{text}, turned {degrees(member.turn_deg)}" if member.turn_deg else text


def hints(member: Blank, insides: Insides = UNKNOWN) -> str:
    """What a blank's ends do not show: its bends, and its hand where the other of its pair is its mirror image.

    ``insides``: where the insides of the bends are.
    """
    said = []
    if member.bends:
        said.append(counted(len(member.bends), "bend"))
    if side := hand(member):
        saddles = (*member.end_a.saddles, *member.end_b.saddles)
        turns = [bend.rotation_deg for bend in member.bends] + [member.turn_deg] * member.both_shaped
        turns += [angle for saddle in saddles for angle in (saddle.turn_deg, saddle.onto.side_deg)]
        turns += [inside for inside in (insides.a, insides.b) if inside is not None]
        # A turn by 0 or 180 degrees is its own mirror image.
        if any(abs(turn - 180 * round(turn / 180)) > 1e-6 for turn in turns) or any(one.offset for one in saddles):
            said.append(f"{side} hand")
    return "; ".join(said)


def hand(member: Blank) -> str:
    """``left`` or ``right``: its side of a pair, or of a mirror's plane; empty for what is of neither."""
    if member.hand or member.mark in (f"{member.member}-L", f"{member.member}-R"):
        return "left" if member.mark.endswith("L") else "right"
    return ""


def measured_now(blanks: Iterable[Blank], standing: Collection[str], against_what: str = "against") -> str:
    """Which of ``blanks`` are measured against what they land on: ``BS-L, BS-R against HOOP; SB against ...``. Empty
    where they land on no member that is ``standing`` by now. ``against_what``: another word for it."""
    against: dict[tuple[str, ...], list[str]] = {}
    for one in blanks:
        saddles = (*one.end_a.saddles, *one.end_b.saddles)
        onto = (saddle.onto for saddle in saddles if saddle.onto.member in standing)
        landed = tuple(dict.fromkeys(one.name or one.member or "" for one in onto))
        if landed:
            against.setdefault(landed, []).append(one.mark)
    return "; ".join(f"{listed(marks)} {against_what} {listed(landed)}" for landed, marks in against.items())


def fitting(member: Blank, side: str) -> float:
    """The fitting allowance that is in a blank at end ``side`` ("a" or "b"), in mm."""
    return sum(part.length for part in member.parts if part.what.startswith(f"end {side}: fitting allowance"))


def left_rule(plan: Plan) -> str:
    """What "left of a bar after a cut" means on a tape."""
    settings = plan.job.settings
    most = max((bar.end_trim for bar in plan.bars if bar.cuts), default=Fraction(0))
    more = measured(most, settings)
    return "what the tape shows after the cut" + (f", or up to {more} more where less was trimmed" if most else "")


NO_TUBE = "no tube left: buy"
"""In place of where a replacement would come from."""


def allowed(settings: Settings) -> str:
    """Where the figures of an end are laid, as the blank may be longer than the finished joint."""
    fits = [
        f"{measured(mm, settings)} at a {cut.value}"
        for mm, cut in ((settings.fit_cope, Cut.COPE), (settings.fit_mitre, Cut.MITRE))
        if mm
    ]
    if not fits:
        return "The tip is at the sawn end."
    return (
        f"The tip of the finished joint is inside the sawn end by the fitting allowance ({', '.join(fits)}): measured "
        "from the sawn end, the figures leave that much to grind off."
    )
