"""What was probably meant by a cell that is no angle: how it is to be written, with the person's own numbers.

Numbers are taken out of what was typed, with their units, and the words round them say which form it was to be: a
slope in other signs, a triangle without its third side, degrees with a word too many.
"""

from __future__ import annotations

import re
from math import degrees

from cutplan.job.units import plain_signs

_FRACTION = r"(?<!/)\d+/(?:2|4|8|16|32|64)(?!\d| ?/)"
"""Of an inch; not two of three numbers with strokes between them."""
_SIZE = re.compile(
    rf"(?:\d+[ -]{_FRACTION}|{_FRACTION}|\d+(?:\.\d+)?|\.\d+)(?: ?(?:mm|cm|in(?! ?\d)|ft|m)\b| ?[\"'])?", re.IGNORECASE
)
_UNIT = re.compile(r" ?(?:mm|cm|m|in|ft|[\"'])$", re.IGNORECASE)
_MINUTES = re.compile(
    r"(?P<degrees>\d+(?:\.\d+)?)(?: *(?:°|degrees|deg) *| +)(?P<minutes>\d+(?:\.\d+)?) *(?:'|min\b.*)"
)
_ACROSS = re.compile(r"\b(?:acc?ross|diag\w*|over|hyp\w*)\b\D*$", re.IGNORECASE)
"""Just before the third side of a triangle."""
_UP = r"up|rise|rising|high|height|vertical"
_ALONG = r"along|run|across|out|horizontal|flat"
_LINKS = re.compile(r" ?(?:/|:|\b(?:in|on|to)\b) ?", re.IGNORECASE)
"""Between the two numbers of a slope."""
_ABOUT = re.compile(r"~|\?|\b(?:about|approx\w*|ca|circa|roughly|around|nearly)\b", re.IGNORECASE)
_OTHER_UNITS = {"rad": degrees(1.0), "gon": 0.9, "grad": 0.9}
"""Degrees in each."""
_RESULT = re.compile(r"\d+(?:\.\d+)? ?[-+*] ?\d+(?:\.\d+)?")
_MOST_DEG = 360.0


def meant(text: str) -> str:
    """How what is not an angle was to be written; nothing where that cannot be guessed."""
    text = " ".join(plain_signs(text).split())
    if re.search(r"\d\.\d+\.", text) or "±" in text or len(re.findall(r"\bover\b", text, re.IGNORECASE)) > 1:
        return ""
    if match := _MINUTES.fullmatch(text):
        whole, minutes = float(match["degrees"]), float(match["minutes"])
        return f"write the minutes as a part of a degree: {round(whole + minutes / 60.0, 4):g}"
    found = list(_SIZE.finditer(text))
    sizes = [match.group().strip() for match in found]
    if re.search(r"\bsteps?\b", text, re.IGNORECASE):
        how = "for the step of a mitre write step {0}"
        return how.format(*sizes) if len(sizes) == 1 else _STEP if not sizes else ""
    if len(sizes) == 1:
        return _one(text, sizes[0])
    if len(sizes) == 2:
        return _slope(text, sizes)
    if len(sizes) == 3:
        return _triangle(text, found)
    return ""


_STEP = "write how much further the long side of the mitre reaches, such as step 22"


def _one(text: str, size: str) -> str:
    number = _UNIT.sub("", size).replace("-", " ")
    for unit, each in _OTHER_UNITS.items():
        if re.search(rf"(?:\b|\d){unit}(?:ian|e)?s?\b", text, re.IGNORECASE) and re.fullmatch(r"[\d.]+", number):
            found = round(float(number) * each, 2)
            return f"write it in degrees: {found:g}" if found <= _MOST_DEG else ""
    if "%" in text:
        return f"for a slope write {number} over 100"
    if re.search(r"\ba?tan", text, re.IGNORECASE):
        return f"for a slope write {number} over 1"
    if re.search(r"\b(?:sin|cos)", text, re.IGNORECASE):
        return ""
    if link := re.search(r"\bover\b", text, re.IGNORECASE):
        whole = f"{size} over ..." if text.index(size) < link.start() else f"... over {size}"
        return f"the other number is missing: {whole}"
    if re.search(r"\band\b", text, re.IGNORECASE):
        return f"two numbers are missing: {size} and ... across ..."
    if re.fullmatch(_FRACTION, number):
        return f"for a slope write {number.replace('/', ' over ')}"
    if _UNIT.search(size) or re.search("offset", text, re.IGNORECASE):
        return f"for degrees write {number} alone, for a slope {size} over ..."
    if _ABOUT.search(text):
        return f"write {number}, or with how far it may be out: {number} ± 3"
    if float(number.split()[0]) > _MOST_DEG or _mistyped(text, size):
        return ""
    cure = f"for degrees write {number} alone"
    if re.search(r"\b(?:slop|slant|ris)", text, re.IGNORECASE):
        cure += "; a slope is two lengths, up over along"
        cure += f"; for an end flat on a sloping plate name the plane under onto: z=0 rising {number} along x"
    return cure


def _mistyped(text: str, size: str) -> bool:
    """Whether a single letter or sign is written at the number, which may stand for a figure."""
    start = text.index(size)
    before, after = text[max(0, start - 1) : start], text[start + len(size) :][:2]
    return before.isalnum() or (after[:1].isalnum() and not after[1:].isalpha())


def _slope(text: str, sizes: list[str]) -> str:
    one, other = sizes
    number = _SIZE.pattern
    up_first = re.search(rf"(?:\b(?:{_UP})\b\W*)({number})|({number})\W*(?:{_UP})\b", text, re.IGNORECASE)
    along_first = re.search(rf"(?:\b(?:{_ALONG})\b\W*)({number})|({number})\W*(?:{_ALONG})\b", text, re.IGNORECASE)
    if up_first and along_first:
        if along_first.start() < up_first.start():
            one, other = other, one
        return f"for a slope write {one} over {other}"
    if re.search(r"\bover\b", text, re.IGNORECASE):
        return f"leave the other words out: {one} over {other}"
    between = text[text.index(sizes[0]) + len(sizes[0]) : text.rindex(sizes[1])]
    if _RESULT.fullmatch(text):
        low, high = sorted(sizes, key=float)
        return f"write the result, or a range as {low} to {high}"
    if _LINKS.fullmatch(between) or "slope" in text.lower():
        return f"for a slope write {one} over {other}"
    return (
        f"for a slope write {one} over {other}; for a triangle also measure straight across: {one} and {other} "
        "across ..."
    )


def _triangle(text: str, found: list[re.Match[str]]) -> str:
    """The side that follows a word for it is the one across; else the last."""
    order = [0, 1, 2]
    for k in (0, 1):
        if _ACROSS.search(text[found[k - 1].end() if k else 0 : found[k].start()]):
            order = [*(j for j in order if j != k), k]
            break
    one, other, across = (found[k].group().strip() for k in order)
    return f"for a triangle write {one} and {other} across {across}"
