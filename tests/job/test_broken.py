"""Guards that every broken job is refused by one located message with its rule, value and cure, and nothing else.

What must be said is in ``broken_says.txt``: name, whether the job cannot be read at all, the message.
"""

from __future__ import annotations

import re
import time
import zipfile
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import pytest
from broken_base import add, as_folder, as_workbook, broken_sheets
from broken_cases import CELLS
from broken_files import FILES, sound_variants
from broken_says import SAYS, SECONDS
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.geometry import lay_out
from cutplan.job import Reading, folder, read, workbook
from cutplan.job.faults import JobError
from cutplan.job.members import circles
from cutplan.job.model import Cut, End, Member, Onto, Saddle

# A workbook takes no control characters and no cell that long, what begins with = is a formula there, and no comma
# splits a cell.
ONLY_IN_CSV = {
    "formula-in-csv",
    "mark-like-a-formula",
    "tube-name-like-a-formula",
    "mark-with-control-character",
    "escape-in-a-word",
    "name-with-escape",
    "currency-with-control-character",
    "label-with-control-character",
    "label-of-40000-characters",
    "note-with-a-character-that-is-none",
    "decimal-comma-makes-two-cells",
    "decimal-comma-in-the-one-row",
    "surplus-blank-cell",
}


def said_of(path: Path) -> tuple[str, tuple[str, ...]]:
    """What a person reads: the faults of the tables, and those of the blanks of what is sound."""
    try:
        reading = read(path)
        faults = reading.faults + (lay_out(reading.job).faults if reading.job else ())
        return "fault", tuple(str(fault) for fault in faults)
    except JobError as error:
        return "refused", tuple(str(fault) for fault in error.faults)


def _held(path: Path) -> dict[Path, bytes]:
    return {each: each.read_bytes() for each in path.rglob("*") if each.is_file()}


def test_the_list_of_messages_is_whole():
    """Every case has its message, and no message has lost its case; there are at least 120 of them."""
    assert SAYS.keys() == CELLS.keys() | FILES.keys()
    assert len(SAYS) >= 120


@pytest.mark.parametrize("name", CELLS)
def test_a_broken_table_is_refused(name, tmp_path):
    """A fault in a folder's cells is reported once, in full, and nothing on disk changes."""
    path = as_folder(broken_sheets(*CELLS[name]), tmp_path)
    before = _held(tmp_path)
    kind, text = SAYS[name]
    assert said_of(path) == (kind, (text,))
    assert _held(tmp_path) == before


_LANDINGS = (
    *("HOOP bend 1", "HOOP bend 2 at 40 side 90", "BS-L", "DG", "KB", "RA"),
    *("FR bend 1", "BS-L + HOOP bend 2 at 10 side 20 at 45"),
)
"""Ways to land on the members of the base, by measured angles."""


def test_a_fault_is_told_whatever_lands_on_it(tmp_path):
    """Every fourth fault, with members that land on every row in every way, by angles and by points: none of them hides
    its message, and none is taken for a fault of our own."""
    measured = [
        add(
            "Members",
            mark=f"Z{number}",
            tube="30x2",
            length="400",
            end_a="cope",
            angle_a=" + ".join(["70"] * (onto.count("+") + 1)),
            onto_a=onto,
        )
        for number, onto in enumerate(_LANDINGS)
    ]
    by_points = [
        edit
        for mark, onto in (("Y1", "HOOP"), ("Y2", "FR"))
        for edit in (
            add("Members", mark=mark, tube="30x2", end_a="cope", onto_a=onto),
            *(add("Points", mark=mark, x="200", y="0", z=z) for z in ("0", "300")),
        )
    ]
    for name in list(CELLS)[::4]:
        edits = CELLS[name]
        if name == "no-members":
            continue
        where = tmp_path / name
        where.mkdir()
        sheets = broken_sheets(*edits)
        for edit in (*measured, *by_points):  # to no sheet that the fault took away
            with suppress(KeyError):
                edit(sheets)
        _, shown = said_of(as_folder(sheets, where))
        place, _, rule = SAYS[name][1].partition(": ")
        # The cure may list the marks there are, which are more now.
        assert any(said.startswith(f"{place}: {rule.split(' (')[0]}") for said in shown), (name, shown)


@pytest.mark.parametrize("name", [each for each in list(CELLS)[::6] if each not in ONLY_IN_CSV])
def test_a_broken_workbook_says_the_same(name, tmp_path):
    """Whichever form the job has, the message is the same but for how a sheet is added."""
    kind, text = SAYS[name]
    text = re.sub(r"add \w+\.csv to the folder", "add a sheet of that name", text)
    said = said_of(as_workbook(broken_sheets(*CELLS[name]), tmp_path))
    assert said == (kind, (text,))


@pytest.mark.parametrize("name", FILES)
def test_a_broken_file_is_refused(name, tmp_path):
    """A fault of the file itself is reported within seconds, in full, and nothing on disk changes."""
    path = FILES[name](tmp_path)
    before = _held(tmp_path)
    kind, text = SAYS[name]
    start = time.process_time()
    assert said_of(path) == (kind, (text,))
    assert time.process_time() - start < SECONDS
    assert _held(tmp_path) == before


@pytest.mark.parametrize("name", sound_variants())
def test_an_odd_but_sound_job_reads(name, tmp_path):
    """What looks odd but is clear is not a fault."""
    reading = read(sound_variants()[name](tmp_path))
    assert reading.faults == ()
    assert reading.job is not None
    assert [member.mark for member in reading.job.members] == ["HOOP", "BS", "DG", "KB", "FR", "RA"]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("hidden-row", "Members row 5: the row is hidden but was read"),
        ("hidden-column", "Members row 1, note: the column is hidden but was read"),
        ("hidden-sheet", "Points: the sheet is hidden but was read"),
        ("example-row", "job: 1 line that begins with EXAMPLE was not read: delete it, or leave it there"),
    ],
)
def test_what_a_person_may_not_see_is_remarked(name, text, tmp_path):
    """Hidden rows, columns and sheets are read, worked examples are not, and both are said."""
    assert [str(remark) for remark in read(sound_variants()[name](tmp_path)).remarks] == [text]


def test_worked_examples_of_all_sheets_are_one_remark(tmp_path):
    """However many worked lines are left in, one remark counts them."""
    sheets = broken_sheets(*(add("Stock", tube=f"EXAMPLE {number}", length="1000") for number in range(3)))
    add("Members", mark="EXAMPLE BS")(sheets)
    said = [str(remark) for remark in read(as_workbook(sheets, tmp_path)).remarks]
    assert said == ["job.xlsx: 4 lines that begin with EXAMPLE were not read: delete them, or leave them there"]


def test_a_folder_named_by_a_dot_has_its_own_name(tmp_path, monkeypatch):
    """A remark on the job as a whole names it even where the path given does not."""
    monkeypatch.chdir(as_folder(broken_sheets(add("Stock", tube="EXAMPLE", length="1000")), tmp_path))
    assert [str(remark) for remark in read(Path()).remarks] == [
        "job: 1 line that begins with EXAMPLE was not read: delete it, or leave it there"
    ]


def test_a_workbook_of_something_else_names_every_missing_sheet(tmp_path):
    """A workbook that is no job says so sheet by sheet."""
    said = said_of(as_workbook({"Sheet1": [["a"]]}, tmp_path))
    assert said == (
        "fault",
        (
            "Sheet1: is not a sheet of a job (for a sheet of your own, begin its name with Notes)",
            *(
                f"{name}: the sheet is missing (add a sheet of that name)"
                for name in ("Job", "Tubes", "Stock", "Members")
            ),
        ),
    )


def test_all_faults_are_reported_at_once_in_the_order_of_the_sheets(tmp_path):
    """Faults of several sheets come together, ordered by sheet and row, and the sound rows are still there."""
    names = ("cope-over-90", "kerf-text", "price-text", "bend-of-0", "wall-half-of-od")
    reading = read(as_folder(broken_sheets(*(edit for name in names for edit in CELLS[name])), tmp_path))
    assert [fault.place.sheet for fault in reading.faults] == ["Job", "Tubes", "Stock", "Members", "Bends"]
    assert reading.job is not None
    assert [tube.name for tube in reading.job.tubes] == ["30x2"]
    assert [member.mark for member in reading.job.members] == ["KB"]


def test_without_a_single_tube_there_is_no_job(tmp_path):
    """Where no tube is sound, no job comes out."""
    reading = read(as_folder(broken_sheets(*CELLS["no-tubes"]), tmp_path))
    assert isinstance(reading, Reading)
    assert reading.job is None


def test_many_faulty_rows_are_reported_quickly(tmp_path):
    """5,000 faulty members are reported one by one within seconds."""
    sheets = broken_sheets()
    sheets["Members"] += [[f"M{number}", "30x3", "1"] + [None] * 16 for number in range(5_000)]
    start = time.process_time()
    reading = read(as_folder(sheets, tmp_path))
    assert time.process_time() - start < SECONDS
    assert len(reading.faults) == 10_000


def test_many_unknown_marks_are_reported_quickly(tmp_path):
    """2,000 marks that are not there, among as many that are, cost no more than seconds of guessing."""
    sheets = broken_sheets()
    for number in range(2_000):
        sheets["Members"].append([f"STAY{number}", "30x2", "1", None, "500", *[None] * 14])
        sheets["Bends"].append([f"STYA{number}", "500", None, None, None, None])
    start = time.process_time()
    faults = read(as_folder(sheets, tmp_path)).faults
    assert time.process_time() - start < SECONDS
    assert len(faults) == 2_000
    assert (faults[0].cure, faults[-1].cure) == ("did you mean STAY0?", "")


def test_a_long_chain_of_members_is_followed_quickly():
    """Members that each land on the next, 20,000 of them, are no circle; closed, they are one; both within seconds."""

    def member(number: int, onto: str | None) -> Member:
        saddles = (Saddle(Onto(Fraction(30), member=onto)),) if onto else ()
        return Member(f"N{number}", "30x2", end_a=End(Cut.COPE, saddles=saddles))

    chain = [member(number, f"N{number + 1}") for number in range(20_000)]
    start = time.process_time()
    assert circles([*chain, member(20_000, None)]) == []
    assert len(circles([*chain, member(20_000, "N0")])) == 1
    assert time.process_time() - start < SECONDS


def test_a_formula_with_a_result_counts_by_its_result(tmp_path):
    """A worked-out formula is its result: a number is read, an empty text is a blank cell."""

    def worked(result: str):
        path = FILES["formula-never-worked-out"](tmp_path)
        with zipfile.ZipFile(path) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
        sheet = "xl/worksheets/sheet4.xml"
        changed = re.sub(rb'<c r="E3"([^>]*)><f>([^<]*)</f><v ?/>', result.encode(), parts[sheet])
        if changed == parts[sheet]:
            changed = re.sub(rb'<c r="E3"([^>]*)><f>([^<]*)</f><v></v>', result.encode(), parts[sheet])
        assert changed != parts[sheet]
        with zipfile.ZipFile(path, "w") as archive:
            for name, content in parts.items():
                archive.writestr(name, changed if name == sheet else content)
        return read(path)

    reading = worked('<c r="E3"><f>1000+186</f><v>1186</v>')
    assert reading.faults == ()
    assert reading.job is not None
    assert reading.job.members[1].length == 1186
    said = [str(fault) for fault in worked('<c r="E3" t="str"><f>""</f><v></v>').faults]
    assert said == ["Members row 3, length: must be filled in"]


@pytest.mark.parametrize(
    ("module", "limit", "write", "said"),
    [
        (workbook, "_MOST_BYTES", as_workbook, "job.xlsx: is too large to be a job"),
        (folder, "_MOST_BYTES", as_folder, "Bends.csv: is larger than 0 MB"),
    ],
)
def test_a_file_beyond_all_measure_is_not_unpacked(module, limit, write, said, tmp_path, monkeypatch):
    """A file, or a workbook once unpacked, larger than any job is refused before its cells are built."""
    monkeypatch.setattr(module, limit, 1)
    with pytest.raises(JobError) as caught:
        read(write(broken_sheets(), tmp_path))
    assert str(caught.value) == said


@settings(max_examples=settings.default.max_examples * 3 // 5, deadline=None)
@given(st.integers(0, 20_000), st.binary(min_size=1, max_size=6))
def test_any_damage_to_a_workbook_is_reported(tmp_path_factory, where, bytes_):
    """Whatever bytes of a workbook are overwritten, it reads or is refused with a place."""
    path = as_workbook(broken_sheets(), tmp_path_factory.mktemp("fuzz"))
    raw = path.read_bytes()
    where %= len(raw)
    path.write_bytes(raw[:where] + bytes_ + raw[where + len(bytes_) :])
    try:
        said = read(path).faults
    except JobError as error:
        said = error.faults
    assert all(fault.place.sheet and fault.rule for fault in said)
