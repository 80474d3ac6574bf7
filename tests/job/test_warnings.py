"""Guards the remarks on what reads well and may not be what was meant."""

from __future__ import annotations

import pytest
from broken_base import Edit, add, as_folder, as_workbook, broken_sheets, put

from cutplan.job import read


def _remarks(tmp_path, *edits: Edit) -> list[str]:
    reading = read(as_folder(broken_sheets(*edits), tmp_path))
    assert reading.faults == ()
    return [str(remark) for remark in reading.remarks]


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (
            put("Members", 5, "length", "1.650"),
            'Members row 5, length: "1.650" is read as 1.65 mm (if the point is for thousands, leave it out: 1650)',
        ),
        (
            put("Members", 5, "length", "318.500"),
            'Members row 5, length: "318.500" is read as 318.5 mm '
            "(if the point is for thousands, leave it out: 318500)",
        ),
        (
            put("Stock", 3, "length", "999.500"),
            'Stock row 3, length: "999.500" is read as 999.5 mm (if the point is for thousands, leave it out: 999500)',
        ),
        (
            put("Members", 5, "length", "0.950"),
            'Members row 5, length: "0.950" is read as 0.95 mm (if the point is for thousands, leave it out: 950)',
        ),
        (
            put("Members", 5, "length", "4.9"),
            "Members row 5, length: is only 4.9 mm (check the unit and the decimal point)",
        ),
    ],
)
def test_a_length_that_may_be_meant_otherwise_is_remarked(edit, said, tmp_path):
    """A point before three figures, and a member shorter than any, are each remarked once."""
    assert _remarks(tmp_path, edit) == [said]


@pytest.mark.parametrize("length", ["5", "318.5", "318.55", "1186.500", "1.650 m", "1.650 mm"])
def test_a_plain_length_is_not_remarked(length, tmp_path):
    """A length that no one writes for another one passes without a word."""
    assert _remarks(tmp_path, put("Members", 5, "length", length)) == (
        ["Members row 5, length: is only 1.65 mm (check the unit and the decimal point)"] if "mm" in length else []
    )


def test_in_inches_a_point_before_three_figures_is_a_decimal_one(tmp_path):
    """Thousandths are usual in inches, and a tape in inches has no thousands; under 5 mm is remarked all the same."""
    sheets = broken_sheets(put("Job", 3, "value", "in"))
    sheets["Members"] = [sheets["Members"][0], ["KB", "30x2", "2", None, "12.375", *[None] * 14]]
    sheets["Members"].append(["KC", "30x2", "2", None, "0.125", *[None] * 14])
    sheets["Tubes"] = [["tube", "od", "wall"], ["30x2", "1.25", "0.083"]]
    sheets["Stock"] = [["tube", "length"], ["30x2", "240.000"]]
    for name in ("Bends", "Points"):
        del sheets[name]
    for number, value in ((4, "0.1"), (5, "1/32"), (8, "12"), (10, "1/2")):
        put("Job", number, "value", value)(sheets)
    reading = read(as_folder(sheets, tmp_path))
    assert reading.faults == ()
    assert [str(remark) for remark in reading.remarks] == [
        "Members row 3, length: is only 1/8 in (check the unit and the decimal point)"
    ]


def test_a_number_of_a_workbook_is_not_taken_for_thousands(tmp_path):
    """A cell that holds a number shows no point that was typed."""
    reading = read(as_workbook(broken_sheets(put("Members", 5, "length", 318.125)), tmp_path))
    assert (reading.faults, reading.remarks) == ((), ())


def test_a_note_that_is_a_word_of_another_column_is_remarked(tmp_path):
    """A word that belongs under ``from`` may have been pushed under ``note``."""
    sheets = broken_sheets()
    for row, note in zip(sheets["Stock"], ["note", "rack", "from the rack", None, None], strict=True):
        row.append(note)
    reading = read(as_folder(sheets, tmp_path))
    assert reading.faults == ()
    assert [str(remark) for remark in reading.remarks] == [
        'Stock row 2, note: "rack" is read as a note, and is a word that belongs under from (write decimals with a '
        "point)"
    ]


def test_a_note_of_many_characters_is_read_whole(tmp_path):
    """A thousand characters are no fault, and a line break among them is a space."""
    job = read(as_folder(broken_sheets(put("Members", 2, "note", "a\n" + "b" * 998)), tmp_path)).job
    assert job is not None
    assert job.members[0].note == "a " + "b" * 998


def test_just_as_many_pieces_as_can_be_planned_are_no_fault(tmp_path):
    """The pieces of all rows are counted, a pair twice; 20,000 of them pass."""
    edit = add("Members", mark="KC", tube="30x2", qty="9996", pair="yes", length="100")
    reading = read(as_folder(broken_sheets(edit), tmp_path))
    assert reading.faults == ()
    assert reading.job is not None
    assert sum(member.count * len(member.marks) for member in reading.job.members) == 20_000
