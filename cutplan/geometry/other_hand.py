"""The other hand of a blank: of a pair, or the mirror image of a member on the other side of the frame."""

from __future__ import annotations

from dataclasses import replace

from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.solid import other_hand
from cutplan.job.model import Member, Onto, Units
from cutplan.job.plates import show_plate


def mirror_image(left: Blank, member: Member, units: Units) -> Blank:
    """The blank of ``member``, which is in every detail the mirror image of the one that ``left`` is the blank of."""
    hand = member.hand.value if member.hand else ""
    blank = mirrored(replace(left, mark=member.mark, member=member.mark, hand=hand, place=member.place))
    ends = []
    for shape, end in ((blank.end_a, member.end_a), (blank.end_b, member.end_b)):
        named = [
            replace(one, onto=replace(one.onto, name=to.onto.name, member=to.onto.member))
            for one, to in zip(shape.saddles, end.saddles, strict=True)
        ]
        plate = "" if end.plate is None else show_plate(end.plate, units)
        ends.append(replace(shape, saddles=tuple(named), plate=plate))
    return replace(blank, end_a=ends[0], end_b=ends[1])


def mirrored(blank: Blank) -> Blank:
    """The other hand of ``blank``: the same length, with every turn, offset and rotation the other way round."""
    return replace(
        blank,
        end_a=_mirrored_end(blank.end_a),
        end_b=_mirrored_end(blank.end_b),
        turn_deg=0.0 - blank.turn_deg,
        bends=tuple(replace(mark, rotation_deg=0.0 - mark.rotation_deg) for mark in blank.bends),
    )


def _mirrored_end(shape: EndShape) -> EndShape:
    return replace(
        shape,
        saddles=tuple(
            replace(
                one,
                offset=-one.offset,
                turn_deg=0.0 - one.turn_deg,
                onto=replace(one.onto, name=_other_hand(one.onto), side_deg=0.0 - one.onto.side_deg),
            )
            for one in shape.saddles
        ),
        targets=tuple(other_hand(target) for target in shape.targets),
        tip_turn_deg=-shape.tip_turn_deg % 360.0,
        throat_turn_deg=-shape.throat_turn_deg % 360.0,
    )


def _other_hand(onto: Onto) -> str:
    """What the other hand lands on by name: of a pair its other side, of anything else the same."""
    sides = {f"{onto.member}-L": f"{onto.member}-R", f"{onto.member}-R": f"{onto.member}-L"}
    return sides.get(onto.name, onto.name)
