"""Guards the reading and showing of lengths: exact, in every form a tape gives, and never guessed."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.job import parse_length, show_length, to_units
from cutplan.job.model import INCH, Units
from cutplan.job.units import LONGEST, LengthError, Measure, parse_measure, parse_number

MM, IN = Units.MM, Units.IN


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("59 7/16", Fraction(951, 16)),
        ("59-7/16", Fraction(951, 16)),
        ("59 - 7/16", Fraction(951, 16)),
        ("4' 11 7/16\"", Fraction(951, 16)),
        ("4'-11 7/16\"", Fraction(951, 16)),
        ("4'11 7/16", Fraction(951, 16)),
        ("4 ft 11 7/16 in", Fraction(951, 16)),
        ("4′ 11 7⁄16″", Fraction(951, 16)),
        ("4’ 11 7/16”", Fraction(951, 16)),
        ("4' 11 7/16''", Fraction(951, 16)),
        ("1-3/4", Fraction(7, 4)),
        ("1¾", Fraction(7, 4)),
        ("3/4 in", Fraction(3, 4)),
        ('¾"', Fraction(3, 4)),
        ("12 ft", Fraction(144)),
        ("12'", Fraction(144)),
        ("4.5 ft", Fraction(54)),
        ("1/2 ft", Fraction(6)),
        ("59.4375", Fraction(951, 16)),
        (".5", Fraction(1, 2)),
        ("5.", Fraction(5)),
        ("25.4 mm", Fraction(1)),
        ("2.54 CM", Fraction(1)),
        ("0.0254 m", Fraction(1)),
        ("-1 1/2", Fraction(-3, 2)),
        ("−1 1/2", Fraction(-3, 2)),
        ("+3/8", Fraction(3, 8)),
        ("  59\u00a07/16  ", Fraction(951, 16)),
        ("6 inches", Fraction(6)),
        ("6 in.", Fraction(6)),
        ("6 1/2 feet", Fraction(78)),
        (59, Fraction(59)),
        (59.4375, Fraction(951, 16)),
        (Decimal("59.4375"), Fraction(951, 16)),
        (Fraction(1, 3), Fraction(1, 3)),
    ],
)
def test_a_length_in_inches_is_read_exactly(text, inches):
    """Every form a tape gives in inches comes out as the exact fraction."""
    assert parse_length(text, IN) == inches * INCH


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1509.7", Fraction(15097, 10)),
        ("1509.7 mm", Fraction(15097, 10)),
        ("1.5 m", Fraction(1500)),
        ("1.5m", Fraction(1500)),
        ("150 cm", Fraction(1500)),
        ('59 7/16"', Fraction(951, 16) * INCH),
        ("59 7/16 in", Fraction(951, 16) * INCH),
        ("5' 0\"", 60 * INCH),
        (1509.7, Fraction(15097, 10)),
        (0.1 + 0.2, Fraction(3, 10)),
        (-0.0, Fraction(0)),
    ],
)
def test_a_length_in_mm_is_read_exactly(text, mm):
    """Decimals are taken as typed, and the last bits of a spreadsheet's sum are not."""
    assert parse_length(text, MM) == mm


@pytest.mark.parametrize(
    ("text", "units", "rule", "cure"),
    [
        ("59 7/16", MM, "a fraction with no unit", 'write 59 7/16"'),
        ("59 7/61", IN, "a fraction over 61", "64ths"),
        ("59 16/16", IN, "a whole inch or more", ""),
        ("1/0", IN, "a fraction over 0", "64ths"),
        ("4' 12\"", IN, "12 inches or more after feet", "thousands"),
        ("4' 5 mm", IN, "mm after feet", "give inches"),
        ("4.5' 2\"", IN, "has decimal feet followed by inches", ""),
        ("9O", MM, "is not a length", "write the digit 0, not the letter O: 90"),
        ("1509,7", MM, "is not a length", "1509.7"),
        ("1,509.7", MM, "is not a length", "without thousands separators: 1509.7"),
        ("1.509,7", MM, "is not a length", "without thousands separators: 1509.7"),
        ("1 509.7", MM, "is not a length", "without thousands separators: 1509.7"),
        ("1 509,7", MM, "is not a length", "without thousands separators: 1509.7"),
        ("1,509", MM, "is not a length", "1509; or 1.509 if"),
        ("1e3", MM, "is not a length", "write the number out"),
        ("3 yd", MM, "is not a length", '"yd" is not a unit'),
        ("", MM, "is not a length", ""),
        ("-", MM, "is not a length", ""),
        ("1 2", MM, "is not a length", ""),
        ("1..5", MM, "is not a length", ""),
        ("5 ⁵", MM, "is not a length", ""),
        ("1001 m", MM, "is longer than a kilometre", "check the unit"),
        (1e308, MM, "is longer than a kilometre", "check the unit"),
        (float("nan"), MM, "is not a number", ""),
        (float("inf"), MM, "is not a number", ""),
        (True, MM, "is not a number", ""),
        ("7" * 5000, MM, "is not a length", ""),
    ],
)
def test_what_is_not_clear_is_refused_with_its_cure(text, units, rule, cure):
    """Nothing is guessed: the rule broken and the likely cure are said, and the value is quoted."""
    with pytest.raises(LengthError, match=re.escape(rule)) as caught:
        parse_length(text, units)
    assert cure in caught.value.cure
    assert f'"{caught.value.got}"' in str(caught.value)
    assert len(str(caught.value)) < 300


def test_a_tolerance_is_kept_apart():
    """The ± of a measurement is read in either spelling, and its own unit counts."""
    assert parse_measure("1509.7 ± 1", MM) == Measure(Fraction(15097, 10), Fraction(1))
    assert parse_measure("59 7/16 +/- 1/16", IN) == Measure(Fraction(951, 16) * INCH, INCH / 16)
    assert parse_measure("1509.7 +- 1/16 in", MM).tolerance == INCH / 16
    assert parse_measure(1509.7, MM) == parse_measure("1509.7", MM) == Measure(Fraction(15097, 10))


@pytest.mark.parametrize("text", ["1 ± 1 ± 1", "1 ± -1", "± 1", "1 ±", "1 ± x"])
def test_a_tolerance_that_is_none_is_refused(text):
    """Half a tolerance, a negative one or two of them are no measurement."""
    with pytest.raises(LengthError):
        parse_measure(text, MM)


@pytest.mark.parametrize(
    ("mm", "units", "step", "shown"),
    [
        (Fraction(15095, 10), MM, None, "1509.5"),
        (Fraction(1509), MM, Fraction(1, 2), "1509"),
        (Fraction(150975, 100), MM, Fraction(1, 2), "1510"),
        (Fraction(-150975, 100), MM, Fraction(1, 2), "-1510"),
        (Fraction(1, 3), MM, None, "0.33"),
        (Fraction(0), MM, None, "0"),
        (Fraction(100), MM, None, "100"),
        (Fraction(-1, 1000), MM, None, "0"),
        (Fraction(951, 16) * INCH, IN, None, "59 7/16"),
        (Fraction(951, 16) * INCH, IN, INCH / 32, "59 7/16"),
        (Fraction(3, 4) * INCH, IN, None, "3/4"),
        (Fraction(-7, 4) * INCH, IN, None, "-1 3/4"),
        (Fraction(-3, 4) * INCH, IN, None, "-3/4"),
        (12 * INCH, IN, None, "12"),
        (Fraction(1000), IN, None, "39.3701"),
        (Fraction(1000), IN, INCH / 16, "39 3/8"),
        (Fraction(1, 3) * INCH, IN, None, "0.3333"),
        (Fraction(1, 20) * INCH, IN, INCH / 20, "0.05"),
    ],
)
def test_a_length_is_shown_as_a_tape_reads_it(mm, units, step, shown):
    """Millimetres as decimals, inches as reduced fractions, nearest to the step."""
    assert show_length(mm, units, step=step) == shown


@given(st.integers(0, 39_370 * 64), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_what_is_shown_in_inches_reads_back(sixty_fourths, parts):
    """Showing and reading again gives the same length, for every fraction of a tape."""
    length = Fraction(sixty_fourths // parts * parts, 64) * INCH
    assert parse_length(show_length(length, IN, step=None), IN) == length


@given(st.decimals(0, 10**6, places=2))
def test_what_is_shown_in_mm_reads_back(number):
    """Showing and reading again gives the same length, to the hundredth."""
    length = Fraction(number)
    assert parse_length(show_length(length, MM, step=None), MM) == length


def test_units_convert_exactly():
    """An inch is 25.4 mm, both ways."""
    assert to_units(Fraction(254), IN) == 10
    assert to_units(Fraction(254), MM) == 254


def test_a_plain_number_has_no_unit_and_no_exponent():
    """Numbers are exact, and lengths or exponents are not numbers."""
    assert parse_number("12.50") == Decimal("12.50")
    assert parse_number(12.1) == Decimal("12.1")
    for text in ("12 mm", "1e3", "", "€", True, float("nan")):
        with pytest.raises(LengthError):
            parse_number(text)
    with pytest.raises(LengthError, match="too large"):
        parse_number(1e308)


_TAPE = st.text(alphabet="0123456789 ./'\"-+,±ftinmcoeO′″’”½¾⁄\u00a0", max_size=16)


@settings(max_examples=settings.default.max_examples * 2)
@given(st.one_of(st.text(max_size=60), _TAPE, st.floats(), st.integers()), st.sampled_from(Units))
def test_any_text_is_a_length_or_a_length_error(value, units):
    """Whatever is in a cell, the answer is a bounded exact length or a message of modest size."""
    try:
        length = parse_length(value, units)
    except LengthError as error:
        said = str(error)
    else:
        assert isinstance(length, Fraction)
        assert abs(length) <= LONGEST
        return
    assert 0 < len(said) < 400


@settings(max_examples=settings.default.max_examples)
@given(st.integers(0, 999), st.integers(1, 63), st.sampled_from(Units))
def test_feet_inches_and_fractions_agree(feet, sixty_fourths, units):
    """Feet and inches, inches with a fraction and decimals of the same length are the same length."""
    fraction = Fraction(sixty_fourths, 64)
    text = f"{feet}' 7 {fraction.numerator}/{fraction.denominator}\""
    inches = feet * 12 + 7
    assert parse_length(text, units) == (inches + fraction) * INCH
    assert parse_length(f"{inches} {fraction} in", units) == (inches + fraction) * INCH
    assert parse_length(f"{inches + float(fraction)} in", units) == (inches + fraction) * INCH
