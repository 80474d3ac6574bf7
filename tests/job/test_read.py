"""Guards what a sound job becomes: every column in its field, exact, with the defaults of its units."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from broken_base import add, as_folder, as_workbook, broken_sheets, cut, drop, put

from cutplan.job import read
from cutplan.job.faults import JobError
from cutplan.job.material import KG_M3_PER_LB_IN3, KG_M_PER_LB_FT, mass_per_m
from cutplan.job.model import (
    INCH,
    Bend,
    Cut,
    End,
    Fitted,
    Measured,
    Onto,
    Point,
    Saddle,
    Settings,
    Shop,
    Source,
    StockRow,
    To,
    Tube,
    Units,
)
from cutplan.job.schema import SETTING_WORDS, SHEETS


def member_of(job, mark):
    """The member of this mark."""
    return next(member for member in job.members if member.mark == mark)


def test_settings_are_read_and_the_rest_keeps_its_default(job_of):
    """Each word of the Job sheet reaches its field; a blank value means the default."""
    job = job_of(
        put("Job", 7, "value", "One At A Time"),
        put("Job", 9, "value", "Yes"),
        add("Job", setting="saw hold", value="60"),
        add("Job", setting="Fit  Cope", value="1/16 in"),
        add("Job", setting="currency", value="EUR"),
        add("Job", setting="die mark", value=None),
    )
    assert job.settings == Settings(
        name="rear bay",
        kerf=Fraction(5, 2),
        end_trim=Fraction(10),
        saw_hold=Fraction(60),
        fit_cope=INCH / 16,
        spares=1,
        fitted=Fitted.ONE_AT_A_TIME,
        currency="EUR",
        share_mitres=True,
    )


def test_defaults_are_round_in_the_units_of_the_job(job_of):
    """A job in inches has a kerf of 3/32, a step of 1/32, keeps a foot, and points and lengths are good to 1/8."""
    job = job_of(put("Job", 3, "value", "IN"), cut("Job", *range(4, 11)), cut("Members", 8))
    assert job.settings == Settings(
        "rear bay",
        Units.IN,
        kerf=INCH * 3 / 32,
        step=INCH / 32,
        keep=12 * INCH,
        salvage=2 * INCH,
        meet_within=INCH / 8,
        sure=INCH / 8,
        tape=INCH / 16,
    )
    assert job.tubes[0].od == 38 * INCH


def test_every_setting_has_its_word():
    """The words of the Job sheet are the fields of Settings, spaced."""
    assert {word.replace(" ", "_") for word in SETTING_WORDS} == set(Settings.__dataclass_fields__)


def test_tubes_are_read(job_of):
    """A section with all its columns, and its mass from od, wall and density."""
    job = job_of(put("Tubes", 3, "density", "2700"))
    assert job.tubes == (
        Tube("38x2.5", Fraction(38), Fraction(5, 2), Fraction(114), Fraction(3, 2), Fraction(120), mass_per_m(38, 2.5)),
        Tube("30x2", Fraction(30), Fraction(2), mass_per_m=mass_per_m(30, 2, 2700)),
    )
    assert job.tube("30x2") is job.tubes[1]
    with pytest.raises(KeyError):
        job.tube("30x3")


def test_mass_and_density_follow_the_units(job_of):
    """In mm mass is kg/m; in inches it is lb/ft, and density lb/in3."""
    assert job_of(put("Tubes", 2, "mass", "2.19")).tubes[0].mass_per_m == 2.19


def test_mass_and_density_in_inches(job_of):
    """In inches mass is lb/ft, and density lb/in3."""
    job = job_of(
        put("Job", 3, "value", "in"),
        cut("Job", 4, 5),
        put("Tubes", 2, "mass", "1.5"),
        put("Tubes", 3, "density", "0.0975"),
    )
    assert job.tubes[0].mass_per_m == pytest.approx(1.5 * KG_M_PER_LB_FT)
    assert job.tubes[1].mass_per_m == pytest.approx(mass_per_m(30 * 25.4, 2 * 25.4, 0.0975 * KG_M3_PER_LB_IN3))


def test_stock_is_read(job_of):
    """Bars to buy are unlimited unless counted, a rack row is one bar, and its own end trim counts."""
    assert job_of().stock == (
        StockRow("38x2.5", Fraction(6000), Decimal("58.20")),
        StockRow("38x2.5", Fraction(3000), Decimal("33.40"), 4),
        StockRow("30x2", Fraction(6000), Decimal("37.90")),
        StockRow("30x2", Fraction(880), None, 1, Source.RACK, "R3", Fraction(0)),
    )


def test_prices_may_all_be_left_blank(job_of):
    """A tube of which no bar has a price is in order."""
    job = job_of(put("Stock", 2, "price", None), put("Stock", 3, "price", None))
    assert [row.price for row in job.stock] == [None, None, Decimal("37.90"), None]


def test_members_are_read(job_of):
    """Marks, counts, pairs, lengths with their ±, ends and notes reach their fields."""
    job = job_of(put("Members", 3, "length", "1186 ± 1.5"), put("Members", 5, "insured", "No"))
    stay = member_of(job, "BS")
    assert (stay.pair, stay.marks) == (True, ("BS-L", "BS-R"))
    assert (stay.length, stay.tolerance) == (Fraction(1186), Fraction(3, 2))
    hoop = Onto(Fraction(38), "HOOP", "HOOP")
    assert stay.end_a == End(Cut.COPE, saddles=(Saddle(hoop, 55.0),), measured=Measured.FACE)
    assert stay.end_b == End(Cut.SQUARE, measured=Measured.FACE)
    diagonal = member_of(job, "DG")
    assert diagonal.end_b.saddles == (Saddle(Onto(Fraction(38), "BS-L", "BS"), 42.0),)
    assert diagonal.turn_deg == 90.0
    brace = member_of(job, "KB")
    assert (brace.count, brace.insured, brace.marks) == (2, False, ("KB",))
    assert brace.end_a == End(Cut.MITRE, 45.0, measured=Measured.SHORT)
    assert member_of(job, "HOOP").note == "main hoop"
    assert member_of(job, "HOOP").length is None


def test_an_end_may_have_its_own_measure(job_of):
    """``measured b`` outranks ``measured`` at its end only."""
    brace = member_of(job_of(put("Members", 5, "measured b", "Tip")), "KB")
    assert (brace.end_a.measured, brace.end_b.measured) == (Measured.SHORT, Measured.TIP)


def test_bends_are_read(job_of):
    """The straights and bends of a member in their order, with the ± of a straight."""
    job = job_of(put("Bends", 2, "straight", "1010 ± 1"), put("Bends", 3, "to", "outside"))
    assert member_of(job, "HOOP").bends == (
        Bend(Fraction(1010), To.APEX, 82.0, Fraction(114), tolerance=Fraction(1)),
        Bend(Fraction(840), To.OUTSIDE, 82.0),
        Bend(Fraction(1010), To.APEX),
    )


def test_points_are_read(job_of):
    """The points of a member in their order, negative ones too."""
    job = job_of(put("Points", 2, "x", "-100"))
    assert member_of(job, "FR").points == (
        Point(Fraction(-100), Fraction(0), Fraction(0)),
        Point(Fraction(800), Fraction(0), Fraction(0), Fraction(120)),
        Point(Fraction(800), Fraction(600), Fraction(0)),
    )


def test_a_workbook_with_numbers_is_the_same_job(tmp_path):
    """Cells typed as numbers, yes-or-no values and formulas with results read as the text would."""
    folder = as_folder(broken_sheets(), tmp_path)

    def typed(text):
        for kind in (int, float):
            try:
                return kind(text)
            except (TypeError, ValueError):
                continue
        return text

    sheets = {name: [[typed(cell) for cell in row] for row in table] for name, table in broken_sheets().items()}
    sheets["Members"][2][3] = True
    sheets["Members"][4][0] = "KB"
    assert read(as_workbook(sheets, tmp_path)).job == read(folder).job


def test_a_numeric_mark_and_tube_keep_their_text(job_of, tmp_path):
    """Marks and tubes typed as numbers are names, without needless decimals."""
    sheets = broken_sheets(cut("Members", *range(3, 8)), drop("Points"))
    sheets["Tubes"].append([40.0, 40, 2] + [None] * 5)
    sheets["Stock"].append([40, 6000, 50] + [None] * 4)
    sheets["Members"].append([12, 40, 1.0, None, 500, *[None] * 14])
    reading = read(as_workbook(sheets, tmp_path))
    assert reading.faults == ()
    assert [(member.mark, member.tube) for member in reading.job.members] == [("HOOP", "38x2.5"), ("12", "40")]


def test_what_lands_on_a_faulty_member_is_still_worked_out(tmp_path):
    """It lands on the diameter; only what must take its angle from the faulty one's points is left out, with what
    takes its own from that."""
    sheets = broken_sheets(
        put("Members", 2, "length", "2800"),
        put("Members", 6, "qty", "0"),
        add("Members", mark="RB", tube="30x2", end_a="cope", onto_a="RA"),
        *(add("Points", mark="RB", x=x, y="250", z="0") for x in ("400", "700")),
    )
    job = read(as_folder(sheets, tmp_path)).job
    assert [member.mark for member in job.members] == ["BS", "DG", "KB"]
    assert member_of(job, "BS").end_a.saddles == (Saddle(Onto(Fraction(38), "HOOP"), 55.0),)
    assert member_of(job, "DG").end_b.saddles == (Saddle(Onto(Fraction(38), "BS-L", "BS"), 42.0),)


def test_places_travel_with_what_was_read(job_of):
    """Each part knows its row, outside equality."""
    job = job_of()
    assert str(job.members[1].place) == "Members row 3"
    assert str(job.stock[3].place) == "Stock row 5"
    assert str(job.members[0].bends[1].place) == "Bends row 3"


@pytest.mark.parametrize(
    ("edits", "said"),
    [
        (
            (put("Tubes", 2, "od", "9O"), put("Members", 3, "onto a", "38x2.5")),
            ['Tubes row 2, od: "9O": is not a length (write the digit 0, not the letter O: 90)'],
        ),
        (
            (put("Bends", 2, "angle", "9O"), put("Members", 3, "onto a", "HOOP bend 1 at 10")),
            ['Bends row 2, angle: "9O": is not a number (write the digit 0, not the letter O: 90)'],
        ),
        (
            (lambda sheets: sheets["Bends"][0].__setitem__(0, None), put("Members", 3, "onto a", "HOOP bend 1 at 10")),
            [
                "Bends row 1: the heading mark is missing (row 1 must hold the headings)",
                *(
                    f'Bends row {row}: "HOOP": column 1 has no heading (give the column a heading, or clear the '
                    "cell; put text with a comma in double quotes)"
                    for row in (2, 3, 4)
                ),
            ],
        ),
        (
            (put("Tubes", 2, "od", "9O"), put("Members", 3, "onto a", "HOOP bend 1 at 10")),
            ['Tubes row 2, od: "9O": is not a length (write the digit 0, not the letter O: 90)'],
        ),
        (
            (put("Members", 2, "tube", "38x3"), put("Members", 3, "onto a", "HOOP bend 1 at 10")),
            ['Members row 2, tube: "38x3": is not a tube in Tubes (did you mean 38x2.5?)'],
        ),
    ],
)
def test_a_fault_is_reported_where_it_is_and_not_where_it_is_felt(edits, said, faults_of):
    """What refers to a faulty tube, member or bend makes no second fault."""
    assert faults_of(*edits) == said


def test_an_optional_sheet_may_be_blank(tmp_path):
    """A Points sheet with nothing in it, not even headings, is as good as none."""
    sheets = broken_sheets(cut("Members", 6, 7))
    sheets["Points"] = []
    reading = read(as_workbook(sheets, tmp_path))
    assert reading.faults == ()
    assert [member.mark for member in reading.job.members] == ["HOOP", "BS", "DG", "KB"]


def test_an_error_cell_where_nothing_belongs_is_reported_with_its_text(tmp_path):
    """A length that is an error, of a member whose length comes from Bends, is quoted in both its faults."""
    said = [
        str(fault) for fault in read(as_workbook(broken_sheets(put("Members", 2, "length", "#REF!")), tmp_path)).faults
    ]
    assert said == [
        'Members row 2, length: "#REF!": is a spreadsheet error (correct the formula, or type the value)',
        'Members row 2, length: "#REF!": is given here and in Bends (clear it here: a bent length comes from its rows)',
    ]


def test_a_ring_of_three_is_found_and_a_chain_to_it_is_not(faults_of):
    """Three members that land on one another are one fault; one that merely lands on them is none."""
    rows = (("A1", "A2"), ("A2", "A3"), ("A3", "A1"), ("A0", "A1"))
    edits = [
        add("Members", mark=mark, tube="30x2", length="500", end_a="cope", angle_a="90", onto_a=onto)
        for mark, onto in rows
    ]
    assert faults_of(*edits) == [
        "Members row 8, onto a: members land on one another in a loop: A1 on A2 on A3 on A1 "
        "(give one of them an outside diameter to land on)"
    ]


def test_the_list_of_sheets_has_each_heading_once():
    """No sheet lists a heading twice, and each needs its first."""
    for sheet in SHEETS:
        assert len(set(sheet.headings)) == len(sheet.headings)
        assert sheet.columns[0].needed


def test_a_file_that_may_not_be_read_is_refused(tmp_path, monkeypatch):
    """An error of the file system is reported by its name, with the file that it met."""
    folder = as_folder(broken_sheets(), tmp_path)

    def refuse(self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(folder), "read_bytes", refuse)
    with pytest.raises(JobError, match=r"^Bends\.csv: cannot be read: Permission denied$"):
        read(folder)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: StockRow("T", Fraction(-5)), "length is -5, below 0"),
        (lambda: StockRow("T", Fraction(5), Decimal(-1)), "price is -1, below 0"),
        (lambda: StockRow("T", Fraction(5), Decimal("NaN")), "NaN is not a price"),
        (lambda: StockRow("T", Fraction(5), available=-1), "available is -1, below 0"),
        (lambda: Tube("T", Fraction(38), Fraction(19)), "a wall of 19 on an outside diameter of 38"),
        (lambda: Tube("T", Fraction(0), Fraction(0)), "a wall of 0"),
        (lambda: Settings(kerf=Fraction(-1)), "kerf is -1, below 0"),
        (lambda: Settings(spares=-1), "spares is -1, below 0"),
        (lambda: Settings(spares=101), "spares is 101, above 100"),
        (lambda: Settings(saw_swing=80.0), "saw swing is 80, above 75"),
        (lambda: Settings(fit_cope=Fraction(-1)), "fit cope is -1, below 0"),
        (lambda: StockRow("T", Fraction(5), available=100_001), "available is 100001, above 100000"),
        (lambda: Shop("S", delivery=Decimal(-1)), "delivery is -1, below 0"),
        (lambda: Shop("S", minimum=Decimal("NaN")), "NaN is not a minimum"),
    ],
)
def test_the_model_itself_refuses_what_makes_no_sense(make, says):
    """Whoever makes it: the reader, a plan carried in a file, or a caller from Python."""
    with pytest.raises(ValueError, match=says):
        make()


@pytest.mark.parametrize(("said", "cut"), [("miter", Cut.MITRE), ("Mitre", Cut.MITRE), ("NOTCH", Cut.COPE)])
def test_other_words_of_the_trade_are_read(said, cut, job_of):
    """A notch is a cope, and a miter a mitre."""
    landing = (put("Members", 5, "onto b", "KC"), add("Members", mark="KC", tube="30x2", length="500"))
    job = job_of(put("Members", 5, "end b", said), *(landing if cut is Cut.COPE else ()))
    assert member_of(job, "KB").end_b.cut is cut
