"""Characters that a person cannot see, or that no printed list can hold (categories: Unicode Standard, ch. 4.5)."""

from __future__ import annotations

import unicodedata

_TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""They turn the text after them round, so that a line reads as something else than it holds (UAX 9)."""
_BLANK = frozenset("\u115f\u1160\u3164\uffa0\u2800")
"""Letters by category, with nothing to see."""


def unprintable(text: str) -> bool:
    """Whether ``text`` holds what a terminal obeys and XML cannot hold: a control, a lone surrogate, no character at
    all, or a mark that turns the text after it round. Joiners within a script or an emoji are fine."""
    return not text.isprintable() and any(map(_unprintable, text))


def hidden(text: str) -> str:
    """The cure of text that holds a character nobody sees, spaces not counted; nothing where it holds none."""
    return next((_cure(each) for each in text if _invisible(each)), "")


def odd_space(text: str) -> str:
    """The cure of text that holds a space of a kind no keyboard's space bar makes; nothing where it holds none."""
    return next((_cure(each) for each in text if each.isspace() and not each.isascii()), "")


def composed(text: str) -> str:
    """``text`` in one spelling of its accents (normal form C, UAX 15)."""
    return text if text.isascii() else unicodedata.normalize("NFC", text)


def _cure(letter: str) -> str:
    return f"contains an invisible character (U+{ord(letter):04X}): type it again"


def _invisible(letter: str) -> bool:
    return letter in _BLANK or (unicodedata.category(letter) in ("Cf", "Cc") and not letter.isspace())


def _unprintable(letter: str) -> bool:
    number = ord(letter)
    nothing = number & 0xFFFE == 0xFFFE or 0xFDD0 <= number <= 0xFDEF
    return nothing or letter in _TURNS or unicodedata.category(letter) in ("Cc", "Cs")
