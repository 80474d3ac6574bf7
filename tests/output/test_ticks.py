"""What people put into a cell to tick it, and what no one can mean by it."""

from __future__ import annotations

import datetime

import pytest

from cutplan.job.model import Settings
from cutplan.output.ticks import SawListError, ticks_on

HEADINGS = ("cut", "done", "spoilt", "still good (mm)")


def done(value: object) -> bool:
    """Whether a cut with this value under done is ticked."""
    (tick,) = ticks_on([HEADINGS, (1, value, None, None)], Settings())
    assert not tick.spoilt
    return tick.done


DAYS = ("25.11.", "25.11.26", "2026-11-25", "11/25/2026", "1/2", datetime.date(2026, 11, 25), datetime.time(12, 30))


@pytest.mark.parametrize("value", ["x", " X ", "✓", "✔\ufe0f", "✅", "yes", "OK", "1", 1, 1.0, True, *DAYS])
def test_ticks_as_people_make_them(value: object) -> None:
    """An x, a tick however it is drawn, yes, 1, a day."""
    assert done(value)


@pytest.mark.parametrize("value", [None, "", " ", "-", "no", "0", 0, 0.0, False, "☐", "\u200b"])
def test_what_leaves_a_cut_open(value: object) -> None:
    """Nothing, a dash, no, 0."""
    assert not done(value)


@pytest.mark.parametrize("value", [0.5, -1, 3, 1186.5, "0.0", "0.5", "1186.5", "half", "32.1", "=A1", float("inf")])
def test_what_is_neither_is_reported(value: object) -> None:
    """A length in the wrong column, a slip of the hand: its place, its value and the cure."""
    with pytest.raises(SawListError, match=r"Saw list row 2, done: .* is not a tick \(put an x, or leave it empty\)"):
        done(value)
