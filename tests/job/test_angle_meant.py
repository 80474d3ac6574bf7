"""Guards what is said of a cell that is no angle: the form it was to have, with the person's own numbers."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutplan.job.angle_meant import meant
from cutplan.job.angles import parse_angle, parse_doubtful
from cutplan.job.model import Units
from cutplan.job.units import LengthError

MEANT = {
    # A slope in other signs and words.
    "250/400": "for a slope write 250 over 400",
    "1:4": "for a slope write 1 over 4",
    "1 in 4": "for a slope write 1 over 4",
    "4 in 12 pitch": "for a slope write 4 over 12",
    "250 on 400": "for a slope write 250 over 400",
    "250 to 400": "for a slope write 250 over 400",
    "slope 250 400": "for a slope write 250 over 400",
    "rise 250 run 400": "for a slope write 250 over 400",
    "run 500, rise 300": "for a slope write 300 over 500",
    "250 up 400 along": "for a slope write 250 over 400",
    "400 along, 250 up": "for a slope write 250 over 400",
    "rise 300 over a run of 500": "leave the other words out: 300 over 500",
    "30%": "for a slope write 30 over 100",
    "tan 0.5": "for a slope write 0.5 over 1",
    "1/2": "for a slope write 1 over 2",
    "250 over": "the other number is missing: 250 over ...",
    "over 400": "the other number is missing: ... over 400",
    "-250 over 400": "write it without the minus: 250 over 400",
    "250 over 0": "write 90 where it is upright",
    # A triangle without its third side, in commas, with other words, in another order.
    "300 and 400": "for a triangle also measure straight across: 300 and 400 across ...",
    "250 x 400": "for a slope write 250 over 400; for a triangle also measure straight across",
    "12 1/2, 14": "for a slope write 12 1/2 over 14",
    "300 and": "two numbers are missing: 300 and ... across ...",
    "300,400,500": "for a triangle write 300 and 400 across 500",
    "300, 400, 500": "for a triangle write 300 and 400 across 500",
    "300 / 400 / 500": "for a triangle write 300 and 400 across 500",
    "3/4/5": "for a triangle write 3 and 4 across 5",
    "3 4 5": "for a triangle write 3 and 4 across 5",
    "3-4-5": "for a triangle write 3 and 4 across 5",
    "300 and 400 over 500": "for a triangle write 300 and 400 across 500",
    "300 & 400 accross 500": "for a triangle write 300 and 400 across 500",
    "across 500, 300 and 400": "for a triangle write 300 and 400 across 500",
    "legs 12 in and 12 in, diagonal 17 in": "for a triangle write 12 in and 12 in across 17 in",
    # The step of a mitre.
    "step": "such as step 22",
    "17 step": "for the step of a mitre write step 17",
    "step: 22 mm": "for the step of a mitre write step 22 mm",
    "step of 22": "for the step of a mitre write step 22",
    # Degrees with something more.
    "63 dgr": "for degrees write 63 alone",
    "mitre 30": "for degrees write 30 alone",
    "slope 5": "a slope is two lengths, up over along; for an end flat on a sloping plate name the plane under onto: "
    "z=0 rising 5 along x",
    "45½": "for degrees write 45 1/2 alone",
    "45-1/2": "for degrees write 45 1/2 alone",
    "about 63": "write 63, or with how far it may be out: 63 ± 3",
    "63?": "write 63, or with how far it may be out: 63 ± 3",
    "63 mm": "for degrees write 63 alone, for a slope 63 mm over ...",
    "63° 30'": "write the minutes as a part of a degree: 63.5",
    "1.1 rad": "write it in degrees: 63.03",
    "70 gon": "write it in degrees: 63",
    "90-27": "write the result, or a range as 27 to 90",
    "63,5": "write a point for the decimals: 63.5",
    # What tells nothing of what was meant gets all the forms there are; at a mitre the step is among them.
    "steep": "write degrees (30), a slope (250 over 400), a triangle (300 and 400 across 500) or a step (step 22)",
}


@pytest.mark.parametrize("text", MEANT)
def test_what_was_meant_is_shown(text: str) -> None:
    """As a person may type it at a mitre, and how it is to be written; what is shown can be read, where it is whole."""
    with pytest.raises(LengthError) as caught:
        parse_doubtful(text, Units.MM, Fraction(38))
    assert MEANT[text] in caught.value.cure
    shown = re.fullmatch(
        r"for (?:a slope|a triangle|the step of a mitre|degrees) write ([^;]*?)(?: alone)?", MEANT[text]
    )
    if shown and "..." not in shown[1]:
        units = Units.IN if "/" in shown[1] else Units.MM
        parse_angle(shown[1], units, Fraction(38))


def test_examples_are_in_the_units_of_the_job() -> None:
    """So that an inch job is not shown lengths of 400."""
    with pytest.raises(LengthError) as caught:
        parse_angle("steep", Units.IN, Fraction(38))
    assert "a slope (10 over 16)" in caught.value.cure
    assert "a step (step 7/8)" in caught.value.cure


def _read(text: str, units: Units) -> float | str:
    try:
        return parse_doubtful(text, units, Fraction(38))[0].degrees
    except LengthError as error:
        return str(error)


@given(st.text("0123456789./-+ ,:;°'\"%±~overacsntdigmpx½", max_size=24))
def test_whatever_is_typed_ends_in_an_angle_or_in_words(text: str) -> None:
    """No cell ends in a fault of ours."""
    assert isinstance(meant(text), str)
    for units in Units:
        found = _read(text, units)
        assert math.isfinite(found) if isinstance(found, float) else found
