"""The words that terminal, workbook, CSV and wraps share."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from wording import Worded

from cutplan.geometry.model import BendMark, Blank, EndShape
from cutplan.job.model import Cut, Onto, Saddle, Settings, Units
from cutplan.plan import wording
from cutplan.plan.model import Plan, Spares

SQUARE = EndShape(Cut.SQUARE, 38.0)


def coped(offset: int = 0, turn_deg: float = 0.0) -> EndShape:
    """An end on LEG; where turned, its second saddle is."""
    one = Saddle(Onto(Fraction(38), "LEG-L", "LEG"), 60.0, Fraction(offset))
    others = (replace(one, turn_deg=turn_deg),) if turn_deg else ()
    return EndShape(Cut.COPE, 38.0, 60.0, (one, *others), tip_turn_deg=90.0)


def bend(number: int, rotation_deg: float) -> BendMark:
    return BendMark(number, 100.0, 100.0, 100.0, 50.0, 90.0, 114.0, rotation_deg)


def test_what_a_tape_finds_in_inches_is_a_64th() -> None:
    """A piece of a rack kept in mm stands on an inch saw list as the nearest mark of the tape, and says that it is."""
    assert wording.found(Fraction(1330), Units.IN) == "~52 23/64"
    assert wording.found(Fraction(254), Units.IN) == "10"
    assert wording.found(Fraction(1330), Units.MM) == "1330"


def test_an_end_names_what_the_job_says_it_lands_on() -> None:
    """Guards the right leg taken for the left: the mark as it was given, not its pair's."""
    assert wording.end(coped(), Units.MM) == "cope 60 onto LEG-L"
    assert wording.onto(Onto(Fraction(42)), Units.MM) == "OD 42"


@pytest.mark.parametrize(
    ("end_a", "end_b", "turn_deg", "bends", "said"),
    [
        (SQUARE, SQUARE, 0.0, (), ""),
        (coped(), SQUARE, 0.0, (), ""),
        (coped(), coped(), 180.0, (), ""),
        (coped(), coped(), -30.0, (), "right hand"),
        (coped(4), SQUARE, 0.0, (), "right hand"),
        (coped(turn_deg=120.0), SQUARE, 0.0, (), "right hand"),
        (SQUARE, SQUARE, 0.0, (bend(1, 0.0), bend(2, 180.0)), "2 bends"),
        (SQUARE, SQUARE, 0.0, (bend(1, 0.0), bend(2, 90.0)), "2 bends; right hand"),
        (coped(4), SQUARE, 0.0, (bend(1, 0.0),), "1 bend; right hand"),
    ],
)
def test_a_hand_is_reported_where_the_mirror_image_is_another(
    end_a: EndShape, end_b: EndShape, turn_deg: float, bends: tuple[BendMark, ...], said: str
) -> None:
    """Guards both ways: two left stays, and a word on hands where left and right are the same."""
    blank = Blank("BS-R", "BS", "T", 1, Fraction(900), (), end_a, end_b, turn_deg, bends=bends)
    assert wording.hints(blank) == said
    assert "hand" not in wording.hints(replace(blank, mark="BS"))


def test_spares_are_reported_in_plain_words(as_worded: Worded) -> None:
    """Guards what a spare promises: how many more, how long, and for whom."""
    settings = Settings()
    as_worded(*wording.spares(Spares(1, Fraction(2787), ("HOOP",), ()), settings))
    as_worded(*wording.spares(Spares(2, Fraction(900), ("A",), ("B",)), settings))


def test_left_is_shown_by_the_most_that_is_trimmed(mm_plan: Plan, as_worded: Worded) -> None:
    """Guards the figure: the largest end trim of the bars that are cut."""
    as_worded(wording.left_rule(mm_plan))


@pytest.mark.parametrize(
    ("mm", "settings", "said"),
    [
        (1742.984, Settings(), "~1743"),
        (1742.5, Settings(), "1742.5"),
        (68.6217 * 25.4, Settings(units=Units.IN, step=Fraction(254, 320)), "~68 5/8"),
        (80.25 * 25.4, Settings(units=Units.IN, step=Fraction(254, 320)), "80 1/4"),
    ],
)
def test_a_tape_reads_steps(mm: float, settings: Settings, said: str) -> None:
    """Guards what is marked by hand: whole steps, and a ~ where a worked-out length lies between them."""
    assert wording.tape(mm, settings) == said
