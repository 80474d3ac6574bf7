"""Frames measured with a tape: given back exactly, with a true ±, slips named and only what is certain called so."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hoops import frame

from cutplan.survey import Distance, Known, Node, Side, SurveyError, adjust

BOX = {
    "A": (0, 0, 0),
    "B": (1000, 0, 0),
    "C": (1000, 600, 0),
    "D": (0, 600, 0),
    "E": (150, 80, 800),
    "F": (850, 90, 790),
}


def readings(pairs: str, doubt: float = 2.0, off: dict[str, float] | None = None) -> list[Distance]:
    """Distances of the box, exact but for those that are ``off``."""
    made = []
    for pair in pairs.split():
        length = float(np.linalg.norm(np.subtract(BOX[pair[0]], BOX[pair[1]])))
        made.append(Distance(pair[0], pair[1], length + (off or {}).get(pair, 0.0), doubt))
    return made


def floor(extra: dict[str, Node] | None = None) -> list[Node]:
    """A, B, C, D known, the others not but for what is said of them."""
    made = []
    for name, (x, y, z) in BOX.items():
        known = (Known(x), Known(y), Known(z)) if name in "ABCD" else (None, None, None)
        made.append((extra or {}).get(name, Node(name, known)))
    return made


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("known", [True, False], ids=["floor", "distances alone"])
def test_exact_readings_give_the_frame_back(seed, known):
    """To a thousandth of a millimetre, wherever the frame is known to be, or not."""
    made = frame(np.random.default_rng(seed), extra=0.6, floor=known)
    result = adjust(made.nodes, made.read(None))
    assert (result.loose, result.either, result.slips, result.unmet) == ((), (), (), ())
    if known:
        for place, true in zip(result.places, made.xyz, strict=True):
            assert place.xyz == pytest.approx(tuple(true), abs=1e-3)
    for i, j in combinations(range(len(made.xyz)), 2):
        true = float(np.linalg.norm(made.xyz[i] - made.xyz[j]))
        assert result.distance(f"N{i}", f"N{j}")[0] == pytest.approx(true, abs=1e-3)


def test_a_folded_shape_that_nearly_fits_is_not_taken():
    """With two readings to spare a frame folded over fits within their ±; the true one, which fits better, is found."""
    dice = np.random.default_rng([3, 203])
    made = frame(dice, extra=float(dice.uniform(0.2, 0.9)))
    result = adjust(made.nodes, made.read(None))
    for place, true in zip(result.places, made.xyz, strict=True):
        assert place.xyz == pytest.approx(tuple(true), abs=1e-3)
    assert all(abs(each.there - each.here) > 3 for each in result.either)


def test_a_folded_shape_that_most_starts_lead_to_is_not_taken():
    """Nodes laid out flat or one after another come to a frame folded over at a hoop, twice the same: 3 m off."""
    dice = np.random.default_rng([5, 40])
    made = frame(dice, extra=float(dice.uniform(0.2, 0.9)))
    result = adjust(made.nodes, made.read(None))
    assert (result.either, result.slips) == ((), ())
    for place, true in zip(result.places, made.xyz, strict=True):
        assert place.xyz == pytest.approx(tuple(true), abs=1e-3)


def test_two_shapes_that_both_fit_are_reported():
    """With one reading to spare a shape 340 mm off fits a little better than the true one: neither is called certain.

    The other one is found upside down, which is refused by what was said; turned the right way up it is not.
    """
    dice = np.random.default_rng([5, 0])
    made = frame(dice, extra=float(dice.uniform(0.0, 0.3)), least=3)
    result = adjust(made.nodes, made.read(dice))
    assert result.spare_readings == 1
    assert result.either


def test_the_doubt_is_as_true_as_it_says():
    """Of many trials with one tape, about 95 in 100 coordinates and distances are within their ±."""
    made = frame(np.random.default_rng(8), extra=0.6)
    within: list[bool] = []
    for seed in range(5):
        result = adjust(made.nodes, made.read(np.random.default_rng([8, seed])))
        for place, true in zip(result.places, made.xyz, strict=True):
            within += [abs(a - b) <= d for a, b, d in zip(place.xyz, true, place.doubts, strict=True) if d]
    assert 0.91 <= sum(within) / len(within) <= 0.99


@pytest.mark.parametrize("seed", range(2))
def test_a_slip_among_many_is_named_first(seed):
    """A reading 20 mm off that the others check is named, left out, and what it should have been is given."""
    dice = np.random.default_rng(seed)
    made = frame(dice, extra=0.8)
    checked = [row for row, each in enumerate(adjust(made.nodes, made.read(None)).readings) if each.checked > 0.4]
    row = int(dice.choice(checked))
    result = adjust(made.nodes, made.read(dice, (row, 20.0)))
    assert (result.slips[0].suspects, result.slips[0].alone) == ((row,), True)
    assert not any(slip.alone for slip in result.slips[1:])
    reading = result.readings[row]
    assert reading.left_out
    true = float(np.linalg.norm(np.subtract(*made.xyz[list(made.pairs[row])])))
    assert abs(reading.others - true) <= 2.0 * reading.others_doubt


def test_two_slips_are_both_named():
    """The first is left out, then the second is seen; the rest agrees."""
    made = frame(np.random.default_rng(1), extra=0.8)
    read = made.read(np.random.default_rng(22), (60, 45.0))
    read[5] = Distance(read[5].start, read[5].end, read[5].value - 28.0, read[5].doubt)
    result = adjust(made.nodes, read)
    assert {slip.suspects[0] for slip in result.slips} == {5, 60}
    assert all(slip.alone for slip in result.slips)
    assert result.agrees


def test_a_reading_in_inches_takes_no_other_with_it():
    """However far out one is, it alone is left out: readings that agree with the rest come back in."""
    made = frame(np.random.default_rng(1), extra=0.8)
    read = made.read(np.random.default_rng(22))
    read[60] = replace(read[60], value=read[60].value / 25.4)
    result = adjust(made.nodes, read)
    assert [(slip.suspects, slip.alone) for slip in result.slips] == [((60,), True)]
    assert [row for row, each in enumerate(result.readings) if each.left_out] == [60]
    assert all(each.others is None or each.others > 0.0 for each in result.readings)


def test_a_coordinate_given_wrongly_is_named_and_no_reading_left_out():
    """It is a suspect like a reading, with what the readings make of it; where other coordinates would explain the
    misses as well, all are named."""
    box = floor({"F": Node("F", tuple(Known(v) for v in BOX["F"]))})
    pairs = "EA EB EC ED EF FA FB FC FD"
    assert adjust(box, readings(pairs)).slips == ()
    wrong = [
        replace(node, known=(Known(BOX["F"][0] + 40.0), *node.known[1:])) if node.name == "F" else node for node in box
    ]
    result = adjust(wrong, readings(pairs))
    [slip] = result.slips
    assert slip.alone
    named = result.readings[slip.suspects[0]]
    assert (named.start, named.axis, named.typed, named.left_out) == ("F", 0, True, True)
    assert named.value == BOX["F"][0] + 40.0
    assert named.others == pytest.approx(BOX["F"][0], abs=0.5)
    assert not any(each.left_out for each in result.readings if not each.typed)
    assert result.place("E").xyz == pytest.approx(BOX["E"], abs=0.5)


def test_one_spare_reading_cannot_say_which_is_wrong():
    """With one reading more than needed all contradict each other alike: none is left out, and the ± grows."""
    result = adjust(
        floor({"F": Node("F", tuple(Known(v) for v in BOX["F"]))}), readings("EA EB EC ED", off={"EB": 30.0})
    )
    assert result.spare_readings == 1
    [slip] = result.slips
    assert not slip.alone
    assert set(slip.suspects) == {0, 1, 2, 3}
    assert not any(reading.left_out for reading in result.readings)
    assert result.widened > 2


def test_the_same_distance_read_twice_and_differently_names_both():
    """Two readings of one distance that differ, and nothing else there: either may be it."""
    nodes = floor({"F": Node("F", tuple(Known(v) for v in BOX["F"]))})
    nodes[4] = Node("E", sides=(Side(2, True, 0.0),))
    result = adjust(nodes, [*readings("EA EA EB EC"), Distance("E", "A", 860.0, 2.0)])
    [slip] = result.slips
    assert 3 not in slip.suspects[:1]
    pair = adjust(nodes, [*readings("EA EB EC"), Distance("E", "A", 850.0, 2.0)])
    assert not pair.slips[0].alone
    assert set(pair.slips[0].suspects) == {0, 3}


def test_nothing_checks_a_reading_that_is_needed():
    """Without spare readings the others say nothing, whatever is written."""
    result = adjust(floor({"F": Node("F", tuple(Known(v) for v in BOX["F"]))}), readings("EA EB EC", off={"EB": 30.0}))
    assert result.slips == ()
    assert result.unit is None
    assert all(each.others is None and each.w is None for each in result.readings)


def test_the_mirror_image_is_asked_for_and_taken_as_it_is_said():
    """Two nodes over a floor may be under it; one word of one of them is enough, an approximate place too."""
    pairs = "EA EB EC ED FA FB FC FD EF"
    [either] = adjust(floor(), readings(pairs)).either
    assert set(either.nodes) == {"E", "F"}
    assert either.axis == 2
    assert abs(either.here) == pytest.approx(abs(either.there), abs=1e-3)
    for more, sign in ((True, 1), (False, -1)):
        said = adjust(floor({"F": Node("F", sides=(Side(2, more, "A"),))}), readings(pairs))
        assert said.either == ()
        assert said.place("E").xyz == pytest.approx((150, 80, sign * 800), abs=1e-3)
    about = adjust(floor({"E": Node("E", about=(None, None, -500.0))}), readings(pairs))
    assert about.either == ()
    assert about.place("F").xyz[2] == pytest.approx(-790, abs=1e-3)


def test_a_side_that_no_place_satisfies_is_reported():
    """E above and F below cannot both be: the distance between them says so."""
    nodes = floor({"E": Node("E", sides=(Side(2, True, 0.0),)), "F": Node("F", sides=(Side(2, False, 0.0),))})
    result = adjust(nodes, readings("EA EB EC ED FA FB FC FD EF"))
    assert len(result.unmet) == 1


def test_what_is_not_fixed_is_named_and_the_advice_fixes_it():
    """A node on two distances can swing; with the readings that are advised, one after another, it cannot."""
    nodes = floor({"E": Node("E", sides=(Side(2, True, 0.0),))})
    pairs = "EA EB EC ED FA FE"
    result = adjust(nodes, readings(pairs))
    assert result.loose == ("F",)
    assert None in result.place("F").doubts
    assert None not in result.place("E").doubts
    assert result.distance("F", "B")[1] is None
    assert result.distance("E", "C")[1] is not None
    assert result.advice[0].axis is None
    for _ in range(2):
        advice = result.advice[0]
        pairs += f" {advice.start}{advice.end}"
        result = adjust(nodes, readings(pairs))
        if not result.loose:
            break
    assert result.loose == ()
    assert result.place("F").xyz == pytest.approx(BOX["F"], abs=1e-3)


def test_a_height_that_flat_distances_cannot_give_is_asked_for():
    """A node in the plane of all it was measured to: its height hardly changes any distance."""
    nodes = [*floor()[:4], Node("P")]
    read = [Distance("P", name, float(np.linalg.norm(np.subtract((400, 200, 0), BOX[name]))), 2.0) for name in "ABCD"]
    result = adjust(nodes, read)
    assert result.loose == ("P",)
    assert (result.advice[0].start, result.advice[0].axis) == ("P", 2)


def test_a_frame_of_distances_alone_is_set_down():
    """The first node at zero, the next along x, one at the height of both; what was chosen is said, with no doubt."""
    nodes = [Node(name) for name in BOX]
    read = readings("AB BC CD DA AC BD EA EB EC ED FA FB FC FD EF")
    result = adjust([*nodes[:4], Node("E", sides=(Side(2, True, "A"),)), nodes[5]], read)
    assert result.chosen == (("A", 2), ("A", 1), ("A", 0), ("B", 2), ("B", 1), ("C", 2))
    assert result.place("F").xyz == pytest.approx(BOX["F"], abs=1e-3)
    assert result.place("A").doubts == (0.0, 0.0, 0.0)


def test_a_coordinate_with_a_doubt_is_a_reading_like_any_other():
    """It is weighed, checked by the others and named when it is off."""
    good = "EA EB EC ED FA FB FC FD EF"
    off = {"E": Node("E", (None, None, Known(840.0, 4.0))), "F": Node("F", (None, None, Known(790.0, 4.0)))}
    result = adjust(floor(off), readings(good))
    [slip] = result.slips
    assert slip.alone
    reading = result.readings[slip.suspects[0]]
    assert (reading.start, reading.end, reading.axis, reading.value) == ("E", "", 2, 840.0)
    assert reading.others == pytest.approx(800.0, abs=0.5)


def test_half_a_frame_is_measured_across_its_mirror():
    """The full width from a node to its own image, and diagonals to the other side, as a person would measure them."""
    true = {"A": (0, 300, 0), "B": (1000, 320, 0), "C": (120, 250, 700), "D": (900, 0, 760)}
    nodes = [
        Node("A", (Known(0.0), None, Known(0.0)), sides=(Side(1, True, 0.0),)),
        Node("B", (None, None, Known(0.0)), sides=(Side(0, True, "A"),)),
        Node("C", sides=(Side(2, True, "A"),)),
        Node("D", (None, Known(0.0), None)),
    ]
    read = []
    for start, end in ("AB", "AC", "BC", "AD", "BD", "CD", "AA", "BB", "CC", "AC", "BC", "AB"):
        across = start == end or len(read) > 8
        image = np.array(true[end]) * (1, -1 if across else 1, 1)
        read.append(Distance(start, end, float(np.linalg.norm(np.subtract(true[start], image))), 2.0, across))
    result = adjust(nodes, read, (1, 0.0))
    assert (result.loose, result.either, result.slips, result.unmet) == ((), (), (), ())
    for name, xyz in true.items():
        assert result.place(name).xyz == pytest.approx(xyz, abs=1e-3)
    read[8] = Distance("C", "C", read[8].value + 25.0, 2.0, True)
    [slip] = adjust(nodes, read, (1, 0.0)).slips
    assert (slip.suspects, slip.alone) == ((8,), True)


def test_the_same_answer_every_time():
    """The dice of the starts are seeded; the last bits of floating-point sums may differ, no more than 0.0001 mm."""
    made = frame(np.random.default_rng(30), extra=0.4, floor=False)
    read = made.read(np.random.default_rng(31))
    one, two = adjust(made.nodes, read), adjust(made.nodes, read)
    assert (one.slips, one.chosen, one.loose, one.either) == (two.slips, two.chosen, two.loose, two.either)
    for here, there in zip(one.places, two.places, strict=True):
        assert here.xyz == pytest.approx(there.xyz, abs=1e-4)


@pytest.mark.parametrize(
    ("broken", "says"),
    [
        (lambda: adjust([Node("A"), Node("A")], []), '"A": a node is named once (rename one of the two)'),
        (
            lambda: adjust([Node("A"), Node("B")], [Distance("A", "X", 5.0, 2.0)]),
            '"X": no node has this name (add the node, or correct the name)',
        ),
        (
            lambda: Distance("A", "A", 5.0, 2.0),
            '"A to A": a distance runs between two different nodes (name the other node)',
        ),
        (
            lambda: adjust([Node("A")], [Distance("A", "A", 5.0, 2.0, True)]),
            '"A to A": there is no mirror to measure across (give its plane)',
        ),
        (lambda: Distance("A", "B", 0.0, 2.0), '"A to B: 0": a distance must be more than zero (measure it again)'),
        (
            lambda: Distance("A", "B", 5.0, 0.0),
            '"A to B: ± 0": no tape reads exactly: its ± must be more than zero (write 2 mm)',
        ),
    ],
)
def test_readings_that_make_no_survey_are_refused(broken, says):
    """Where, the rule, the value, the cure."""
    with pytest.raises(SurveyError) as refused:
        broken()
    assert str(refused.value) == says


ALL = "AB BC CD DA AC BD EA EB EC ED FA FB FC FD EF"


@pytest.mark.parametrize(("name", "axis"), [("D", 1), ("F", 2)])
def test_the_wrong_sign_of_a_coordinate_is_named(name, axis):
    """It is twice the coordinate out and bends all else; with the other sign all agree. Of several that would, all are
    named."""
    xyz = [Known(float(value)) for value in BOX[name]]
    xyz[axis] = Known(-xyz[axis].value)
    extra = {name: Node(name, (xyz[0], xyz[1], xyz[2])), "E": Node("E", sides=(Side(2, True, 0.0),))}
    result = adjust(floor(extra), readings(ALL))
    assert (name, axis, -BOX[name][axis]) in [(one.name, one.axis, one.value) for one in result.signs]
    assert (result.slips, result.unmet, result.agrees) == ((), (), True)
    assert len(result.signs) <= 3


def test_the_wrong_sign_of_a_coordinate_is_named_beside_a_slip_of_the_tape():
    """Both at once, though either hides the other; two slips of the tape make no sign."""
    xyz = [Known(float(value)) for value in BOX["D"]]
    up = {"E": Node("E", sides=(Side(2, True, 0.0),))}
    wrong = up | {"D": Node("D", (xyz[0], Known(-xyz[1].value), xyz[2]))}
    result = adjust(floor(wrong), readings(ALL, off={"AC": 40.0}))
    assert ("D", 1, -BOX["D"][1]) in [(one.name, one.axis, one.value) for one in result.signs]
    (slip,) = result.slips
    assert slip.alone
    assert (result.readings[slip.suspects[0]].start, result.readings[slip.suspects[0]].end) == ("A", "C")
    assert adjust(floor(up), readings(ALL, off={"AC": 40.0, "BD": -30.0})).signs == ()


def test_no_sign_is_named_for_a_slip_of_the_tape():
    """A reading 20 out is that, and so is one of two coordinates that are wrong by 40."""
    off = floor({"E": Node("E", sides=(Side(2, True, 0.0),))})
    result = adjust(off, readings(ALL, off={"EB": 20.0}))
    assert result.signs == ()
    assert result.slips
    moved = floor({"F": Node("F", (Known(890.0), Known(90.0), Known(790.0)))})
    assert adjust(moved, readings(ALL)).signs == ()


def test_a_rough_place_on_the_other_side_is_reported():
    """Another node says which side is up; a rough place within a quarter of the frame is no contradiction."""
    said = {"E": Node("E", sides=(Side(2, True, 0.0),)), "F": Node("F", about=(None, None, -800.0))}
    [one] = adjust(floor(said), readings(ALL)).astray
    assert (one.name, one.axis, one.about) == ("F", 2, -800.0)
    assert one.here == pytest.approx(790.0, abs=1e-3)
    said["F"] = Node("F", about=(None, None, 600.0))
    assert adjust(floor(said), readings(ALL)).astray == ()
