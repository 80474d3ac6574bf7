"""Guards which characters are refused, which are reported of, and which are left alone."""

from __future__ import annotations

import sys
import unicodedata

import pytest

from cutplan.job.faults import Fault, Place, Remark
from cutplan.job.letters import composed, hidden, odd_space, unprintable
from cutplan.job.tables import likely, squash


@pytest.mark.parametrize(
    "letter", ["\x00", "\x1b", "\x7f", "\x9b", "\ud800", "\ufffe", "\uffff", "\U0001ffff", "\u202e"]
)
def test_what_no_list_can_hold_is_found(letter):
    """Controls, lone surrogates, what is no character and what turns the text round, wherever they stand."""
    assert unprintable(f"a{letter}b")


@pytest.mark.parametrize("text", ["", "rear bay", "שלום", "\U0001f469\u200d\U0001f680", "Zoë", "a\u00adb", "\u0378"])
def test_what_a_list_can_hold_is_left_alone(text):
    """Any script, emoji with their joiners, and characters newer than this Python are no fault."""
    assert not unprintable(text)


def test_what_passes_is_what_xml_can_hold():
    """Of all there is, nothing passes that XML 1.0 (section 2.2) cannot hold."""
    for number in range(sys.maxunicode + 1):
        if not unprintable(chr(number)):
            assert 0x20 <= number <= 0xD7FF or 0xE000 <= number <= 0xFFFD or number >= 0x10000


@pytest.mark.parametrize("letter", ["\u00ad", "\u200b", "\u200e", "\u202a", "\ufeff", "\u3164"])
def test_an_invisible_character_is_named(letter):
    """The cure names the character by its number, and comes before a guess."""
    cure = f"contains an invisible character (U+{ord(letter):04X}): type it again"
    assert hidden(f"mi{letter}tre") == cure
    assert likely(f"mi{letter}tre", ["mitre"]) == cure


def test_kinds_of_space_are_distinguished():
    """A no-break space is seen as a space and named only where asked for; plain text holds neither."""
    assert hidden("5\u00a05 a\tb") == ""
    assert odd_space("5\u00a05") == "contains an invisible character (U+00A0): type it again"
    assert odd_space("5 5\t") == ""


def test_a_message_shows_that_something_unseen_is_there():
    """Nothing that a terminal obeys leaves in a message, wherever in it it stood."""
    fault = Fault(Place("Me\x1bm", 2, "ma\x07rk"), "is wrong", "a\u200bb\x1b[31m\u00a0c", "do\x1b it")
    assert str(fault) == 'Me�m row 2, ma�rk: "a�b�[31m c": is wrong (do� it)'
    assert str(Remark(Place("Job"), "a\x1b")) == "Job: a�"
    assert str(Remark(Place("Job"), "Zoë שלום")) == "Job: Zoë שלום"


def test_a_long_value_is_quoted_by_its_beginning():
    """Eighty characters of a cell tell which it is."""
    assert str(Fault(Place("Job"), "is long", "x" * 80)) == f'Job: "{"x" * 80}": is long'
    assert str(Fault(Place("Job"), "is long", "x" * 81)) == f'Job: "{"x" * 80}…": is long'


@pytest.mark.parametrize("text", ["É", "ÉTAI", "Å", "ǰ", "ΐ", "plain"])
def test_two_spellings_of_an_accent_are_one_name(text):
    """Names are compared alike, and shown alike, however their accents are encoded, in either case."""
    apart = unicodedata.normalize("NFD", text)
    assert composed(apart) == composed(text)
    assert squash(apart) == squash(text) == squash(apart.upper()) == squash(text.upper())
