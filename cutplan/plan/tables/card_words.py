"""The words and figures of the cards: lengths as they are taped at the bench, and what the cards' words mean."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction

from cutplan.job.faults import listed
from cutplan.job.model import Cut, Job, Onto, Settings, Units
from cutplan.job.units import show_length
from cutplan.plan import wording

USUAL_SWING_DEG = 45.0
"""To how many degrees off square most chop saws swing (*common practice, no source*)."""


def tape(mm: float, settings: Settings) -> str:
    """A length to be marked by tape: the nearest marking step. Every figure of a card is rounded so, which is said once
    in front of them."""
    return show_length(Fraction(mm), settings.units, step=settings.step)


def taped(mm: float, settings: Settings) -> str:
    """The same with its unit."""
    return f"{tape(mm, settings)} {settings.units.value}"


def swing_given(settings: Settings) -> bool:
    """Whether the job says how far its saw swings, as far as that can be seen from its value."""
    return settings.saw_swing != Settings().saw_swing


def pieces(marks: Collection[str], each: int) -> str:
    """How many pieces a card is for, with how many of each mark where it is for several."""
    said = wording.counted(each * len(marks), "piece")
    if len(marks) == 1:
        return said
    return f"{said} made alike ({listed([f'{each} {mark}' for mark in marks])})"


def onto(target: Onto, settings: Settings) -> str:
    """What an end lands on, with its bend where it lands on one."""
    named = wording.onto(target, settings.units)
    return f"bend {target.bend} of {named}" if target.bend else named


def other_half(job: Job, mark: str, name: str) -> str:
    """The end that the mitre at end ``name`` of ``mark`` meets: ``end a of POST``; empty where members have no known
    places, or where more than two mitres meet."""
    corner = {
        (member.mark, end): (point.x, point.y, point.z)
        for member in job.members
        if member.points and not member.pair
        for end, shape, point in zip("ab", member.ends, (member.points[0], member.points[-1]), strict=True)
        if shape.cut is Cut.MITRE and shape.plate is None
    }
    here = corner.pop((mark, name), None)
    met = [key for key, there in corner.items() if there == here]
    return f"end {met[0][1]} of {met[0][0]}" if here is not None and len(met) == 1 else ""


def meaning(settings: Settings, *, copes: bool, mitres: bool, bends: bool, stages: bool = False) -> Iterator[str]:
    """What the words on the cards mean, in the order in which they come up on a card; of copes, mitres, bends
    and stages only where there are any."""
    unit = "mm" if settings.units is Units.MM else "in"
    yield (
        f"Lengths are rounded to the nearest {show_length(settings.step, settings.units, step=None)} {unit}, as far as "
        "they were calculated. A blank is as long as from tip to tip."
    )
    if stages:
        yield ("Made in stage 1, 2 ...: what is made in one stage of the build is fitted before the next is cut.")
    if not (copes or mitres or bends):
        return
    yield (
        "Angles round the tube, 0 to 360, run clockwise as you look from end a to end b. 0 is each end's own line, on "
        "its short side. Lengths round the tube are taped from 0 towards 90, or the other way where a card says "
        "anticlockwise."
    )
    if copes or mitres:
        yield (
            "Saw angles are off square: 0° is a square cut. Saw on the waste side of a line. A chop saw swings level: "
            "turn the tube until the line that the cut starts on (of a mitre, its 0) is half-way up, facing the fence "
            "or you, not up as drawn."
        )
    if copes:
        yield (
            "On the bar a coped end is sawn square; its shape is cut afterwards. A rough cut starts on its line, as "
            "far in from the sawn end as is given, and slopes out towards the end, clear of the joint."
        )
    if copes or mitres:
        yield (
            "Tip: the longest point of an end; marks are taken from it. Throat: its deepest point. Ear: another long "
            "point of a cope."
        )
    if copes:
        yield (
            "Inside: the line on the inside of the wall, which is cut at least as deep as that; a dash: no deeper than "
            "outside, so cut straight through the wall."
        )
    if bends:
        yield (
            "Bender's mark: where the bender's own mark is set on the straight tube, always measured from the sawn "
            "end a; the tube is bent from there towards end b. Radii are to the centre line of the tube. The inside "
            "of a bend is the side towards its centre."
        )
