"""Lengths and numbers as people write them, turned into exact values and back.

Nothing here passes through binary floating point: a spreadsheet's float is taken by its decimal text of 15 figures,
all that a spreadsheet keeps of what was typed, so that the last bits of a sum never push a blank up a whole step.
An inch is 25.4 mm exactly.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar
from unicodedata import normalize

from cutplan.errors import FaultError
from cutplan.job.letters import hidden, odd_space
from cutplan.job.model import INCH, Units

FOOT = 12 * INCH
LONGEST = Fraction(1_000_000)
"""1 km: beyond it a length is a slip of the keys, not a tube."""

_LARGEST = 10**12
_MOST_CHARACTERS = 40
_TAPE_MARKS = (2, 4, 8, 16, 32, 64, 128)
_UNIT_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    '"': INCH,
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    "'": FOOT,
    "ft": FOOT,
    "foot": FOOT,
    "feet": FOOT,
}
_LOOKALIKES = str.maketrans(
    {
        **dict.fromkeys("′’‘´`ʹ", "'"),
        **dict.fromkeys("″”“„ʺ", '"'),
        **dict.fromkeys("⁄∕", "/"),
        **dict.fromkeys("−–‐‑", "-"),
        **dict.fromkeys("\u00a0\u202f\u2009", " "),
        **dict.fromkeys("\u200b\ufeff"),
        # No tape is marked in thirds, fifths and the like: the fault says so.
        **{one: " " + normalize("NFKC", one).replace("⁄", "/") for one in "½¼¾⅛⅜⅝⅞⅓⅔⅕⅖⅗⅘⅙⅚⅐⅑⅒"},
    }
)
_LENGTH = re.compile(
    r"""(?P<sign>[+-])?\s*
    (?:(?P<feet>\d+(?:\.\d*)?|\.\d+)\s*(?:'|ft\b\.?|foot\b|feet\b)\s*(?:-\s*)?)?
    (?:(?:(?:(?P<whole>\d+)(?:\s+|\s*-\s*))?(?P<over>\d+)\s*/\s*(?P<under>\d+)|(?P<decimal>\d+\.?\d*|\.\d+))
       \s*(?P<unit>mm|cm|m|"|inches|inch|in|'|ft|foot|feet)?\.?)?""",
    re.VERBOSE | re.ASCII,
)
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)
_TOLERANCE = re.compile(r"\s*(?:±|\+\s*/\s*-|\+-)\s*")
_RANGE = re.compile(r"\s+to\s+", re.IGNORECASE)

SUCH_AS = {Units.MM: "write a number such as 12.5", Units.IN: "write a number such as 12 7/16"}
IN_DIGITS = "write it in digits"
"""The cure of what is no number, where nothing closer is known."""

Value = str | int | float | Decimal | Fraction
_Number = TypeVar("_Number", Fraction, float)


@dataclass(frozen=True, slots=True)
class Measure:
    """A measured length and the ± that was given with it (0 where none was), both in mm."""

    length: Fraction
    tolerance: Fraction = Fraction(0)


class LengthError(FaultError):
    """A length or number that cannot be read."""

    def __init__(self, got: str, rule: str, cure: str = "") -> None:
        super().__init__(rule, got, cure)


def parse_length(value: Value, units: Units) -> Fraction:
    """A length in mm, exact. ``value``: a number in ``units``, or text a tape would give.

    Text: ``59 7/16``, ``1-3/4``, ``4' 11 7/16"``, ``3/4 in``, ``12 ft``, ``1.5 m``, ``1509.7 mm``, decimals; curly
    quotes and primes count as straight ones. A sign may come first. A fraction without a unit is inches, so
    it is refused where ``units`` are mm. Raises LengthError.
    """
    got = _shown(value)
    if not isinstance(value, str):
        number = value if isinstance(value, Fraction) else Fraction(_exact(value))
        return _bounded(number * units.mm, got)
    text = plain_signs(value).lower()
    if len(text) > _MOST_CHARACTERS:
        raise LengthError(got, "is not a length", SUCH_AS[units])
    found = _LENGTH.fullmatch(text)
    if found is None or not (found["feet"] or found["decimal"] or found["over"]):
        raise LengthError(got, "is not a length", _cure(text) or odd_space(value) or SUCH_AS[units])
    length = _feet(found, got) + _rest(found, units, got)
    return _bounded(-length if found["sign"] == "-" else length, got)


def parse_measure(value: Value, units: Units) -> Measure:
    """A length with an optional tolerance: ``1509.7 ± 1`` (also ``+/-``), or a range: ``1080 to 1160``. Raises
    LengthError."""
    if not isinstance(value, str):
        return Measure(parse_length(value, units))
    return Measure(*with_doubt(value, lambda text: parse_length(text, units)))


def with_doubt(value: str, parse: Callable[[str], _Number]) -> tuple[_Number, _Number]:
    """A value and its ±, each read by ``parse``: ``63``, ``63 ± 3``, ``60 to 66`` (likeliest in its middle). Raises
    LengthError."""
    middle, *tolerances = _TOLERANCE.split(value)
    ends = _RANGE.split(value)
    if len(tolerances) > 1:
        raise LengthError(_shown(value), "has more than one ±", "keep one")
    if len(ends) > 2 or (len(ends) == 2 and tolerances):
        raise LengthError(_shown(value), "is not a range", "write it as 1080 to 1160, or as 1120 ± 40")
    if len(ends) == 2:
        low, high = parse(ends[0]), parse(ends[1])
        if low > high:
            raise LengthError(_shown(value), "runs from larger to smaller", f"write {ends[1]} to {ends[0]}")
        return (low + high) / 2, (high - low) / 2
    if not tolerances:
        only = parse(value)
        return only, only - only
    tolerance = parse(tolerances[0])
    if tolerance < 0:
        raise LengthError(_shown(value), "has a negative ±", "write the ± without a minus")
    return parse(middle), tolerance


def parse_number(value: str | int | float | Decimal) -> Decimal:
    """A plain number, exact: no unit, no exponent, a point for the decimals. Raises LengthError."""
    got = _shown(value)
    if not isinstance(value, str):
        return _counted(_exact(value), got)
    text = plain_signs(value)
    if len(text) > _MOST_CHARACTERS or not _NUMBER.fullmatch(text):
        cure = _cure(text.lower(), number=True) or odd_space(value) or IN_DIGITS
        raise LengthError(got, "is not a number", cure)
    return _counted(Decimal(text), got)


def to_units(mm: Fraction, units: Units) -> Fraction:
    """``mm`` in the job's units, exact."""
    return mm / units.mm


def show_length(mm: Fraction, units: Units, *, step: Fraction | None) -> str:
    """A length in the job's units as a tape reads it, without the unit: ``1509.5``, ``59 7/16``.

    ``step`` (mm): the nearest multiple of it is shown (halves away from zero). None: mm to two decimals; inches
    as a fraction where they are whole 64ths, else to four decimals.
    """
    if step is not None:
        mm = _nearest(mm / step) * step
    value = to_units(mm, units)
    if units is Units.MM:
        return _decimals(value, 4 if step is not None else 2)
    if value.denominator not in (1, *_TAPE_MARKS[:6]):
        return _decimals(value, 4)
    sign, (whole, rest) = "-" if value < 0 else "", divmod(abs(value), 1)
    if not rest:
        return f"{sign}{whole}"
    return f"{sign}{whole} {rest}" if whole else f"{sign}{rest}"


def with_unit(mm: Fraction, units: Units, *, step: Fraction | None = None) -> str:
    """:func:`show_length` with its unit after it: ``1509.5 mm``, ``59 7/16 in``."""
    return f"{show_length(mm, units, step=step)} {units.value}"


def plain_signs(text: str) -> str:
    """``text`` with the signs that look like others typed as those: quotes, strokes, dashes, fractions."""
    return " ".join(text.translate(_LOOKALIKES).replace("''", '"').split())


def _shown(value: Value) -> str:
    text = value.strip() if isinstance(value, str) else str(value)
    return text if len(text) <= 2 * _MOST_CHARACTERS else text[: 2 * _MOST_CHARACTERS] + "…"


def _exact(value: int | float | Decimal) -> Decimal:
    if isinstance(value, bool):
        raise LengthError(str(value).upper(), "is not a number", IN_DIGITS)
    number = Decimal(f"{value:.15g}" if isinstance(value, float) else value)
    if not number.is_finite():
        raise LengthError(str(value), "is not a number", IN_DIGITS)
    return number


def _counted(number: Decimal, got: str) -> Decimal:
    if abs(number) > _LARGEST:
        raise LengthError(got, "is too large", "check the decimal point")
    return number


def _bounded(length: Fraction, got: str) -> Fraction:
    if abs(length) > LONGEST:
        raise LengthError(got, "is longer than a kilometre", "check the unit and the decimal point")
    return length


def _feet(found: re.Match[str], got: str) -> Fraction:
    feet = found["feet"]
    if feet is None:
        return Fraction(0)
    if "." in feet and (found["decimal"] or found["over"]):
        raise LengthError(got, "has decimal feet followed by inches", "write whole feet before inches")
    return Fraction(feet) * FOOT


def _rest(found: re.Match[str], units: Units, got: str) -> Fraction:
    """What follows the feet, or the whole length where no feet are given."""
    unit = found["unit"]
    if found["decimal"]:
        number = Fraction(found["decimal"])
    elif found["over"]:
        number = _mixed(found, got)
        if unit is None and found["feet"] is None and units is Units.MM:
            cure = f'for inches write {got}", else decimals'
            raise LengthError(got, "is a fraction with no unit in a job in mm", cure)
    else:
        return Fraction(0)
    if found["feet"] is None:
        return number * (units.mm if unit is None else _UNIT_MM[unit])
    if unit is not None and _UNIT_MM[unit] != INCH:
        raise LengthError(got, f"has {unit} after feet", "give inches after feet")
    if number >= 12:
        raise LengthError(got, "has 12 inches or more after feet", "leave out a ' used for thousands")
    return number * INCH


def _mixed(found: re.Match[str], got: str) -> Fraction:
    over, under = int(found["over"]), int(found["under"])
    if under not in _TAPE_MARKS:
        rule = f"has a fraction over {under}, which no tape is marked in"
        raise LengthError(got, rule, "use halves, 4ths, 8ths, 16ths, 32nds or 64ths")
    if found["whole"] is not None and over >= under:
        inches = int(found["whole"]) + over // under
        cure = f"write {inches} {over % under}/{under}" if over % under else f"write {inches}"
        raise LengthError(got, f"has {over}/{under} as its fraction, which is a whole inch or more", cure)
    return int(found["whole"] or 0) + Fraction(over, under)


def _cure(text: str, *, number: bool = False) -> str:
    """The likely cure of text that is no length (or no number), or nothing."""
    if hidden(text):
        return hidden(text)
    if "±" in text or "+/-" in text:
        return "no ± can be given here: leave it out"
    if text.startswith("="):
        return "write the result of the formula"
    zeros = text.replace("o", "0")
    if zeros != text and _reads(zeros, number):
        return f"write the digit 0, not the letter O: {zeros}"
    if _thousands(text):
        return f"write it without thousands separators: {_thousands(text)}"
    if text.count(",") == 1 and _reads(text.replace(",", "."), number):
        return f"write a point for the decimals: {text.replace(',', '.')}"
    if re.fullmatch(r"[+-]?[\d.]+e[+-]?\d+", text, re.ASCII):
        return "write the number out"
    if number:
        bare = text.strip("€$£¥ ")
        return f"write the number alone: {bare}" if bare != text and _reads(bare, number) else ""
    if between := re.fullmatch(r"([\d.]+) ?- ?([\d.]+)", text, re.ASCII):
        return f"for a range write {between[1]} to {between[2]}"
    if feet := re.fullmatch(r"(\d+)[ -](\d+)[ -](\d+/\d+)\"?", text, re.ASCII):
        return f"for feet and inches write {feet[1]}' {feet[2]} {feet[3]}"
    stray = re.fullmatch(r"[\d./ -]+\s*([^\W\d]+)", text)
    return f'"{stray[1]}" is not a unit of length here: write mm, cm, m, in or ft' if stray else ""


def _thousands(text: str) -> str:
    for mark, point in ((",", "."), (".", ","), (" ", "."), (" ", ","), ("'", ".")):
        group = rf"[+-]?\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+(?:{re.escape(point)}\d+)?"
        # One lone group after a comma may as well be decimals: both readings are shown.
        if re.fullmatch(group, text, re.ASCII):
            whole = text.replace(mark, "").replace(point, ".")
            alone = text.count(mark) == 1 and mark == "," and point not in text
            return f"{whole}; or {text.replace(',', '.')} if it is a decimal comma" if alone else whole
    return ""


def _reads(text: str, number: bool) -> bool:
    if number:
        return _NUMBER.fullmatch(text) is not None
    found = _LENGTH.fullmatch(text)
    return found is not None and bool(found["feet"] or found["decimal"] or found["over"])


def _nearest(value: Fraction) -> int:
    """The nearest whole number, halves away from zero."""
    whole = int(abs(value) + Fraction(1, 2))
    return -whole if value < 0 else whole


def _decimals(value: Fraction, places: int) -> str:
    scaled = _nearest(value * 10**places)
    sign, (whole, rest) = "-" if scaled < 0 else "", divmod(abs(scaled), 10**places)
    return f"{sign}{whole}.{rest:0{places}d}".rstrip("0").rstrip(".")
