"""Guards what a comma inside a number does to a row of a ``.csv`` file: never a silent shift."""

from __future__ import annotations

import pytest

from cutplan.job.folder import look_for_commas
from cutplan.job.tables import Tables


def _said(*rows: str, headings: str = "tube,length,price,available") -> tuple[list[str], list[str]]:
    found = Tables()
    table = [(number, [cell or None for cell in line.split(",")]) for number, line in enumerate([headings, *rows], 1)]
    look_for_commas("Stock", table, found)
    return [str(fault) for fault in found.faults], [str(remark) for remark in found.remarks]


WIDE = "(write decimals with a point; put text with a comma in double quotes)"


def test_a_row_wider_than_the_others_is_a_fault():
    """A price of 41,25 takes the place of what may be had, and only the blank cell at the end shows it."""
    assert _said("bar,6000,52,", "bar,6000,41,25,") == ([f"Stock row 3: has 5 cells under 4 headings {WIDE}"], [])


def test_a_single_row_is_no_pattern():
    """One row alone cannot tell padding from a split number."""
    assert _said("bar,6000,41,25,") == ([f"Stock row 2: has 5 cells under 4 headings {WIDE}"], [])


def test_rows_padded_unlike_are_faults():
    """Two rows of different width were not padded by a program."""
    faults, remarks = _said("bar,6000,52,,,", "bar,6000,41,25,", "bar,3000,20,")
    assert faults == [
        f"Stock row 2: has 6 cells under 4 headings {WIDE}",
        f"Stock row 3: has 5 cells under 4 headings {WIDE}",
    ]
    assert remarks == []


def test_all_rows_padded_alike_are_remarked_once():
    """A program may pad every row below the headings; it is said once, as all prices may hold a comma too."""
    assert _said("bar,6000,52,,", "bar,6000,41,25,") == (
        [],
        [
            "Stock: every row has 5 cells under 4 headings, the last of them blank (check that no number is written "
            "with a decimal comma)"
        ],
    )


@pytest.mark.parametrize("rows", [(), ("bar,6000,52,",), ("bar,6000", "bar"), ("bar,6000,41,25",)])
def test_no_row_wider_than_the_headings_says_nothing(rows):
    """Rows as wide as the headings, or cut short, are as they should be."""
    assert _said(*rows) == ([], [])


def test_heads_padded_with_their_rows_say_nothing():
    """A table that is a rectangle was padded as a whole."""
    assert _said("bar,6000,52,,,", "bar,6000,41,,,", headings="tube,length,price,available,,") == ([], [])


def test_a_cell_beyond_the_headings_that_holds_something_is_reported_elsewhere():
    """What is not blank is quoted by the fault that no heading is above it, and by no other."""
    assert _said("bar,6000,52,,x") == ([], [])


@pytest.mark.parametrize(
    ("row", "remarks"),
    [
        ("kerf,2,5", ['Stock row 2, note: "5" is read as a note (if 2.5 was meant, write it with a point)']),
        ("kerf,2.5,5", []),
        ("kerf,,5", []),
        ("kerf,2,5 mm", []),
        ("kerf,2", []),
    ],
)
def test_decimals_under_note_are_remarked(row, remarks):
    """A note of figures alone right of a whole number may be its decimals."""
    assert _said(row, headings="setting,value,Note") == ([], remarks)
