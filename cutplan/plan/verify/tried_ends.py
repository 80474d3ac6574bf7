"""Ends on a bend or on several tubes, for the proof of estimates: what plain numbers within their ± make of them.

No bound is worked out here: each way tried is laid out as a member of its own, with what it lands on, and is a length
that the blank may really come out as.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import product

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job.model import End, Job, Member, Saddle

_SURE = Fraction(0), Fraction(0), Fraction(0)
_FEW = 3


@lru_cache(maxsize=256)
def laid_out(job: Job) -> tuple[Blank, ...]:
    """The blanks of a job of plain numbers; none where any end cannot be worked out, as what lands on that tube would
    be laid on one that ends otherwise."""
    layout = lay_out(job)
    return () if layout.faults else layout.blanks


def doubted(one: Saddle) -> bool:
    """Whether a number of the saddle has a ±."""
    return any(_doubts(one))


def _doubts(one: Saddle) -> tuple[float, ...]:
    """The ± of each number of a saddle: angle, offset, turn, side, how far along a bend."""
    onto = one.onto
    return (
        one.angle_tolerance,
        float(one.offset_tolerance),
        one.turn_tolerance,
        onto.side_tolerance,
        onto.arc_tolerance,
    )


def exact(member: Member) -> Member:
    """The member with its likely numbers alone."""
    return replace(
        member,
        tolerance=Fraction(0),
        end_a=_exact_end(member.end_a),
        end_b=_exact_end(member.end_b),
        bends=tuple(replace(row, tolerance=Fraction(0), angle_tolerance=0.0) for row in member.bends),
        points=tuple(replace(point, doubt=_SURE) for point in member.points),
    )


def _exact_end(end: End) -> End:
    return replace(
        end, angle_tolerance=0.0, saddles=tuple(_moved_by(one, (0,) * len(_doubts(one))) for one in end.saddles)
    )


def _moved_by(one: Saddle, ways: Sequence[int]) -> Saddle:
    """The saddle without a ±, each number at its likely value (0), its greatest (1) or its least (-1); the angle no
    more than square."""
    angle, offset, turn, side, arc = (way * doubt for way, doubt in zip(ways, _doubts(one), strict=True))
    onto = replace(one.onto, side_deg=one.onto.side_deg + side, side_tolerance=0.0, arc_tolerance=0.0)
    if onto.arc_deg is not None:
        onto = replace(onto, arc_deg=onto.arc_deg + arc)
    return Saddle(onto, min(one.angle_deg + angle, 90.0), one.offset + Fraction(offset), one.turn_deg + turn)


def on_one_straight(end: End) -> bool:
    """Whether a formula says what the end gains: it lands on one straight tube that runs on, or on none."""
    onto = [one.onto for one in end.saddles if doubted(one) or len(end.saddles) > 1]
    return len(onto) < 2 and all((one.clr, one.bend, one.ends_short, one.ends_long) == (None,) * 4 for one in onto)


def laid_swing(member: Member, job: Job, name: str) -> tuple[float, float]:
    """By how much an end on a bend or on several tubes gains less and more than likely, as the layout of plain numbers
    at the ends of their ranges shows it can be."""
    by_mark = {mark: each for each in job.members for mark in (each.mark, *each.marks)}
    end = member.end_a if name == "a" else member.end_b
    if end.from_points or not any(map(doubted, end.saddles)):
        return 0.0, 0.0
    landed: dict[str, Member] = {}
    todo = [one.onto.member for one in end.saddles]
    while todo:
        other = by_mark.get(todo.pop() or "")
        if other is not None and other.mark not in landed:
            landed[other.mark] = exact(other)
            todo += [one.onto.member for each in (other.end_a, other.end_b) for one in each.saddles]
    found: list[float] = []
    for ways in _ways(end):
        tried = replace(end, saddles=tuple(_moved_by(one, way) for one, way in zip(end.saddles, ways, strict=True)))
        alone = replace(
            exact(member),
            pair=False,
            bends=(),
            length=member.length or member.bends[0 if name == "a" else -1].straight,
            end_a=tried if name == "a" else End(),
            end_b=tried if name == "b" else End(),
        )
        laid = laid_out(replace(job, stock=(), shops=(), members=(*landed.values(), alone)))
        # What cannot be made is not what it will come out as.
        nets = [sum(part.length for part in blank.parts[:-1]) for blank in laid if blank.member == member.mark]
        if not nets and not found:
            return 0.0, 0.0
        found += nets
    return found[0] - min(found), max(found) - found[0]


def _ways(end: End) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Ways to move the numbers of an end: none of them first; then all corners where they are few, else each alone."""
    doubts = [doubt for one in end.saddles for doubt in _doubts(one)]
    per = len(doubts) // len(end.saddles)
    loose = [i for i, doubt in enumerate(doubts) if doubt]
    corners = product((-1.0, 1.0), repeat=len(loose)) if len(loose) <= _FEW else ()
    singles = [
        tuple(way if k == i else 0.0 for k in range(len(loose))) for i in range(len(loose)) for way in (-1.0, 1.0)
    ]
    for moved in ((0.0,) * len(loose), *corners, *singles):
        by = dict(zip(loose, moved, strict=True))
        flat = [int(by.get(i, 0.0)) for i in range(len(doubts))]
        yield tuple(tuple(flat[i : i + per]) for i in range(0, len(flat), per))
