"""Lists of names: whole while they can be read, else the first and a count that adds up."""

from __future__ import annotations

import pytest

from cutplan.job.faults import listed

NAMES = [f"M{number}" for number in range(5_000)]


@pytest.mark.parametrize("count", [0, 1, 2, 60])
def test_a_short_list_is_shown_in_full(count: int) -> None:
    """Up to sixty names stand there, each of them."""
    assert [name for name in listed(NAMES[:count]).split(", ") if name] == NAMES[:count]


@pytest.mark.parametrize(("count", "more"), [(61, "21"), (5_000, "4,960")])
def test_a_long_list_names_the_first_and_counts_the_rest(count: int, more: str) -> None:
    """Forty names and how many more there are."""
    assert listed(NAMES[:count]) == ", ".join(NAMES[:40]) + f" and {more} more"
