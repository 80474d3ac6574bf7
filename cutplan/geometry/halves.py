"""The other half of a frame: every pair that has a place in space made two members, one of them the mirror image; and
the other hand of a blank.

A mirror's plane is square to an axis of the job's coordinates. Seen in a mirror every turn goes the other way round,
and so does the sign of an offset. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import radians, tan

from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.points import Vector
from cutplan.geometry.solid import other_hand
from cutplan.job.model import End, Hand, Job, Member, Onto, Plane, Plate, Point, Saddle, Units
from cutplan.job.plates import show_plate


def both_sides(job: Job) -> tuple[Member, ...]:
    """The members of ``job``, each pair that is given by points or nodes as its left and its right one.

    What lands on such a pair is made to land on the side that it names, its left one where it names neither.
    """
    mirror = job.settings.mirror
    if mirror is None:
        return job.members
    images = {node.name: node.image for node in job.nodes}
    split = {member.mark for member in job.members if member.pair and member.points}
    made: list[Member] = []
    for member in job.members:
        member = replace(member, end_a=_on_one_side(member.end_a, split), end_b=_on_one_side(member.end_b, split))
        if member.mark not in split:
            made.append(member)
            continue
        left = replace(member, mark=f"{member.mark}-L", pair=False, hand=Hand.LEFT)
        swap = {f"{mark}-{one}": f"{mark}-{other}" for mark in split for one, other in ("LR", "RL")}
        made += [left, mirrored_member(left, f"{member.mark}-R", mirror, swap, images)]
    return tuple(made)


def _on_one_side(end: End, split: set[str]) -> End:
    """``end`` landing on one side of each of the pairs ``split``."""
    saddles = []
    for one in end.saddles:
        mark, name = one.onto.member, one.onto.name
        if mark in split:
            side = name if name in (f"{mark}-L", f"{mark}-R") else f"{mark}-L"
            one = replace(one, onto=replace(one.onto, member=side, name=side))
        saddles.append(one)
    return replace(end, saddles=tuple(saddles)) if saddles else end


def mirrored_member(
    left: Member, mark: str, mirror: Plane, swap: Mapping[str, str], images: Mapping[str, str]
) -> Member:
    """``left`` in the mirror, called ``mark``. ``swap``: the other side's mark of each member that has one."""
    route = left.route
    if route is not None:
        route = replace(route, nodes=tuple(images[name] for name in route.nodes))
    return replace(
        left,
        mark=mark,
        hand=Hand.RIGHT,
        mirror_of=left.mark,
        route=route,
        points=tuple(mirrored_point(point, mirror) for point in left.points),
        end_a=mirrored_end(left.end_a, mirror, swap),
        end_b=mirrored_end(left.end_b, mirror, swap),
        turn_deg=0.0 - left.turn_deg,
    )


def mirrored_point(point: Point, mirror: Plane) -> Point:
    """``point`` on the other side."""
    xyz = [point.x, point.y, point.z]
    xyz[mirror.axis.number] = 2 * mirror.at - xyz[mirror.axis.number]
    return replace(point, x=xyz[0], y=xyz[1], z=xyz[2])


def mirrored_end(end: End, mirror: Plane | None, swap: Mapping[str, str]) -> End:
    """``end`` in the mirror: what it lands on by its other side's mark, offsets and turns the other way round."""
    saddles = tuple(_mirrored_saddle(one, _other_side(one.onto, swap)) for one in end.saddles)
    plate = None if end.plate is None or mirror is None else mirrored_plate(end.plate, mirror)
    return replace(end, saddles=saddles, offsets_given=tuple(0 - one for one in end.offsets_given), plate=plate)


def mirrored_plate(plate: Plate, mirror: Plane) -> Plate:
    """``plate`` in the mirror: through the images of its nodes, rising the other way where that is across it."""
    made = replace(plate, nodes=tuple(_image(name) for name in plate.nodes))
    if plate.axis is mirror.axis:
        return replace(made, at=2 * mirror.at - plate.at, rise_deg=0.0 - plate.rise_deg)
    if plate.along is not mirror.axis:
        return made
    # Its point on the axis is at the other side of the mirror now, and so higher or lower where the mirror is not at 0.
    higher = Fraction(2.0 * float(mirror.at) * tan(radians(plate.rise_deg)))
    return replace(made, at=plate.at + higher, rise_deg=0.0 - plate.rise_deg)


def _image(name: str) -> str:
    """The other side's name of a node; of one in the plane its own: no name that is given ends as those of sides do."""
    other = {"-L": "-R", "-R": "-L"}.get(name[-2:])
    return name if other is None else name[:-2] + other


def _other_side(onto: Onto, swap: Mapping[str, str]) -> Onto:
    """What is landed on by its other side's mark."""
    mark = onto.member
    if mark is None or mark not in swap:
        return onto
    return replace(onto, member=swap[mark], name=swap.get(onto.name, swap[mark]))


def _mirrored_saddle(one: Saddle, onto: Onto) -> Saddle:
    """``one`` in the mirror, on ``onto`` there: turns, sides and offsets the other way round."""
    onto = replace(onto, side_deg=0.0 - onto.side_deg)
    return replace(one, onto=onto, offset=0 - one.offset, turn_deg=0.0 - one.turn_deg)


def reflected(vector: Vector, mirror: Plane, *, way: bool) -> Vector:
    """A point, or where ``way`` a direction, in the mirror."""
    number = mirror.axis.number
    at = list(vector)
    at[number] = -at[number] if way else 2.0 * float(mirror.at) - at[number]
    return at[0], at[1], at[2]


def mirror_image(left: Blank, member: Member, units: Units) -> Blank:
    """The blank of ``member``, which is in every detail the mirror image of the one that ``left`` is the blank of."""
    hand = member.hand.value if member.hand else ""
    blank = mirrored(replace(left, mark=member.mark, member=member.mark, hand=hand, place=member.place))
    ends = []
    for shape, end in zip(blank.ends, member.ends, strict=True):
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
        end_a=_mirrored_shape(blank.end_a),
        end_b=_mirrored_shape(blank.end_b),
        turn_deg=0.0 - blank.turn_deg,
        bends=tuple(replace(mark, rotation_deg=0.0 - mark.rotation_deg) for mark in blank.bends),
    )


def _mirrored_shape(shape: EndShape) -> EndShape:
    return replace(
        shape,
        saddles=tuple(_mirrored_saddle(one, _other_hand(one.onto)) for one in shape.saddles),
        targets=tuple(other_hand(target) for target in shape.targets),
        tip_turn_deg=-shape.tip_turn_deg % 360.0,
        throat_turn_deg=-shape.throat_turn_deg % 360.0,
    )


def _other_hand(onto: Onto) -> Onto:
    """What the other hand lands on by name: of a pair its other side, of anything else the same."""
    sides = {f"{onto.member}-L": f"{onto.member}-R", f"{onto.member}-R": f"{onto.member}-L"}
    return replace(onto, name=sides.get(onto.name, onto.name))


@dataclass(slots=True)
class Images:
    """Which member is which one's mirror image in every detail."""

    members: Sequence[Member]
    mirror: Plane
    _by_mark: dict[str, Member] = field(init=False)
    _other: dict[str, str] = field(init=False, default_factory=dict)
    _image: dict[str, tuple[str, bool] | None] = field(init=False, default_factory=dict)
    _found: dict[tuple[str, int], bool] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._by_mark = {member.mark: member for member in self.members}
        for member in self.members:
            if member.mirror_of:
                self._other |= {member.mark: member.mirror_of, member.mirror_of: member.mark}

    def of(self, mark: str) -> str | None:
        """The mark of the member's mirror image, its own where it is that itself; None: it has none, as something that
        it lands on is on one side alone."""
        image = self._mirrored(mark)
        return image[0] if image and self._end(mark, 0) and self._end(mark, 1) else None

    def across(self, mark: str) -> str | None:
        """The mark of the member whose centreline is the image of this one's, its own where it is that itself."""
        image = self._mirrored(mark)
        return image[0] if image else None

    def _mirrored(self, mark: str) -> tuple[str, bool] | None:
        """The member whose centreline is the image of this one's, and whether end a is at its end b; None: no other."""
        if mark not in self._image:
            member = self._by_mark[mark]
            twin = self._by_mark[self._other.get(mark, mark)]
            flipped = [mirrored_point(point, self.mirror) for point in member.points]
            self._image[mark] = None
            if flipped and _same(flipped, twin.points):
                self._image[mark] = twin.mark, False
            elif flipped and twin is member and _same(flipped[::-1], twin.points):
                self._image[mark] = twin.mark, True
        return self._image[mark]

    def _end(self, mark: str, number: int) -> bool:
        """Whether end a (0) or b (1) is cut as the image's is, with all that it lands on next to it."""
        key = mark, number
        if key in self._found:
            return self._found[key]
        self._found[key] = False  # Coming back here means a loop of members.
        image = self._mirrored(mark)
        if image is None:
            return False
        member, twin = self._by_mark[mark], self._by_mark[image[0]]
        mine = member.ends[number]
        theirs = twin.ends[1 - number if image[1] else number]
        landed = [one.onto.member for one in mine.saddles if one.onto.member in self._by_mark]
        images = [self._mirrored(each or "") for each in landed]
        self._found[key] = (
            mine.cut is theirs.cut
            and _same_plate(mine.plate, theirs.plate, self.mirror)
            and len(landed) == len(mine.saddles)
            and {each and each[0] for each in images} == {one.onto.member for one in theirs.saddles}
            and all(self._end(each or "", near) for each in landed for near in self._near(member, number, each or ""))
        )
        return self._found[key]

    def _near(self, member: Member, number: int, mark: str) -> tuple[int, ...]:
        """Those ends of a member landed on that may have to do with the landing."""
        ends = self._by_mark[mark].points
        return tuple(k for k in (0, 1) if _apart(member.points[-number], ends[-k]) <= _FAR)


_FAR = 300
"""mm; so far away the end of a tube has nothing to do with a joint: common practice, no source."""


def _same_plate(one: Plate | None, other: Plate | None, mirror: Plane) -> bool:
    """Whether one is the mirror image of the other; either may name its nodes in any order."""
    if one is None or other is None:
        return one is other
    image = mirrored_plate(one, mirror)
    return replace(image, nodes=tuple(sorted(image.nodes))) == replace(other, nodes=tuple(sorted(other.nodes)))


def _same(some: Sequence[Point], others: Sequence[Point]) -> bool:
    return len(some) == len(others) and all(_apart(one, other) < _SAME for one, other in zip(some, others, strict=True))


def _apart(one: Point, other: Point) -> Fraction:
    """By how much two points differ in the coordinate in which they differ most."""
    return max(abs(one.x - other.x), abs(one.y - other.y), abs(one.z - other.z))


_SAME = Fraction(1, 10**5)
