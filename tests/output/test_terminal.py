"""The terminal view: plain in a pipe, within its width on a terminal, never a number or a mark cut short."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from rich.cells import cell_len
from rich.console import Console
from wording import Worded, about

from cutplan.geometry.model import BendMark
from cutplan.job.faults import Fault, JobError, Place
from cutplan.job.model import Bend
from cutplan.output.terminal import show_faults, show_lengths, show_member, show_options, show_plan, show_shortage
from cutplan.plan.model import Option, Plan, Purchase, Recovery, SawCut, Shortage, StockError


def shown(show, *args, width: int = 80, terminal: bool = False, color: bool = False) -> str:
    out = io.StringIO()
    console = Console(
        file=out,
        width=width,
        force_terminal=terminal,
        no_color=not color,
        color_system="standard" if color else None,
        legacy_windows=False,
        _environ={},
    )
    show(*args, console)
    return out.getvalue()


def test_of_thousands_of_faults_the_first_are_reported(as_worded: Worded) -> None:
    """60 faults stand there line by line; of 61 the first 40, those of whole sheets in front, and how many more."""
    cells = [Fault(Place("Members", row, "length"), "must be filled in") for row in range(2, 62)]
    assert shown(show_faults, JobError(cells)).splitlines()[2:] == [str(fault) for fault in cells]
    sheet = Fault(Place("Stock"), "is blank")
    lines = shown(show_faults, JobError([*cells, sheet])).splitlines()
    assert lines[2:-1] == [str(sheet), *map(str, cells[:39])]
    as_worded(lines[1], lines[-1])


def plain(text: str) -> str:
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


def test_a_pipe_gets_plain_text_the_same_at_any_width(mm_plan: Plan) -> None:
    """Guards scripts that grep the output: no escape codes, ASCII only, and nothing hangs on the window."""
    narrow, wide = (shown(show_plan, mm_plan, width=width) for width in (40, 200))
    assert narrow == wide
    assert narrow.isascii()
    assert "\x1b" not in narrow


def test_in_a_pipe_every_cut_is_one_line(mm_plan: Plan) -> None:
    """Guards that a cut's whole row can be grepped."""
    text = shown(show_plan, mm_plan)
    row = next(line for line in text.splitlines() if line.strip().startswith("2 ") and "BS-L" in line)
    assert row.split()[:4] == ["2", "2", "BS-L", "1509.5"]
    for words in ("cope 60 onto HOOP", "mitre 45", "4483.5", "from what is left of bar 4"):
        assert words in row


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("color", [False, True])
def test_a_terminal_is_never_overrun(mm_plan: Plan, inch_plan: Plan, width: int, color: bool) -> None:
    """Guards both usual widths, with colour and without."""
    for plan in (mm_plan, inch_plan):
        text = plain(shown(show_plan, plan, width=width, terminal=True, color=color))
        assert max(len(line) for line in text.splitlines()) <= width


@pytest.mark.parametrize("width", [30, 80, 120])
def test_no_number_or_mark_is_cut_short(mm_plan: Plan, inch_plan: Plan, width: int) -> None:
    """Guards that even a narrow window shows every mark, blank and rest in full."""
    text = plain(shown(show_plan, mm_plan, width=width, terminal=True))
    for tube in mm_plan.tubes:
        for bar in tube.bars:
            for cut in bar.cuts:
                assert cut.mark in text
                assert re.search(rf"\b{float(cut.blank)}\b", text)
                assert re.search(rf"\b{float(cut.left)}\b", text)
    text = plain(shown(show_plan, inch_plan, width=width, terminal=True))
    for number in ("59 25/32", "179 29/32", "62 13/16", "14 1/4", "34 3/16"):
        assert number in text


def test_colour_carries_nothing(mm_plan: Plan) -> None:
    """Guards NO_COLOR: the same characters with colour and without."""
    coloured = shown(show_plan, mm_plan, terminal=True, color=True)
    assert plain(coloured) == plain(shown(show_plan, mm_plan, terminal=True, color=False))


def test_bars_are_drawn_to_scale(mm_plan: Plan) -> None:
    """Guards the drawing: a bar of 1720 takes 1720/6000 of a 6 m bar's width, a blank its share."""
    drawn = [line.strip() for line in shown(show_plan, mm_plan).splitlines() if line.startswith("  ") and "..." in line]
    whole, kept = drawn[0], drawn[-1]
    assert len(whole) == 96
    assert abs(len(kept) - 96 * 1720 / 6000) <= 1
    assert abs(whole.index("|") - 96 * 3217 / 6000) <= 1.5


def test_a_mark_without_room_is_named_below_its_bar(inch_plan: Plan) -> None:
    """Guards legible marks where blanks are short."""
    text = plain(shown(show_plan, inch_plan, width=60, terminal=True))
    assert re.search(r"cuts \d to 8 RUNG", text)


def test_a_narrow_window_names_the_bar_alone(mm_plan: Plan) -> None:
    """Guards a saw list folded to three lines a cut: below 100 columns a replacement's bar is enough, unless there is
    more to it."""
    last = mm_plan.tubes[1].bars[1]
    moved = replace(last.cuts[0], if_spoilt=Recovery("3", "from bar 3; then move BS-R to the spoilt piece"))
    tube = replace(
        mm_plan.tubes[1], bars=(mm_plan.tubes[1].bars[0], replace(last, cuts=(moved,)), mm_plan.tubes[1].bars[2])
    )
    plan = replace(mm_plan, tubes=(mm_plan.tubes[0], tube))
    for width in (80, 120):
        text = plain(shown(show_plan, plan, width=width, terminal=True))
        listed = " ".join(text[text.index("Saw list") :].split())
        assert ("from what is left of bar 4" in listed) == (width == 120)
        assert "bar 4" in listed
        assert "move BS-R" in " ".join(text.split())


def test_a_plan_says_what_is_proven_and_what_not(mm_plan: Plan, inch_plan: Plan, as_worded: Worded) -> None:
    """Guards that found is never called proven."""
    found, proven = shown(show_plan, mm_plan), shown(show_plan, inch_plan)
    as_worded(about(found, "Cost"))
    as_worded(about(proven, "Cost"))


def test_the_caution_goes_with_every_plan(mm_plan: Plan) -> None:
    """Guards the words that keep a plan from being taken for a design."""
    text = shown(show_plan, mm_plan)
    for words in ("not strength", "rule book", "licensed engineer", "vent closed tubes", "Measure again"):
        assert words in text


def test_lengths_name_every_blank(mm_plan: Plan) -> None:
    """Guards the table of blanks: both ends, and who is not insured."""
    text = shown(show_lengths, mm_plan.job, mm_plan.blanks)
    assert re.search(r"@DG\s+38x2\s+2\s+1180\.0\s+cope 45 onto 38x2\s+cope 45 onto OD 42\s+not insured", text)


def test_a_member_is_shown_part_by_part(mm_plan: Plan) -> None:
    """Guards the derivation: the parts as they stand, adding up to the blank."""
    text = shown(show_member, mm_plan.job, mm_plan.blanks[1])
    numbers = [float(n) for n in re.findall(r"^(?:measured|end|fitting|rounding).*?  +(-?[\d.]+)", text, re.M)]
    assert numbers == [1509.7, -1.7, 1.0, 0.5]
    assert re.search(r"blank, tip to tip +1509\.5", text)


def test_options_show_cost_and_who_stays_uninsured(mm_plan: Plan) -> None:
    """Guards the choice a person makes from: money, proof, what it covers and leaves."""
    buy = (Purchase("38x2", Fraction(6000), 2, Decimal("39.90"), Decimal("79.80")),)
    none = Option(0, (), ("BS-L",), Decimal(0), Decimal(0), True, buy[:0], Fraction(210), "no mistake at all")
    one = Option(1, ("BS-L",), (), Decimal("79.80"), Decimal("39.90"), False, buy, Fraction(4813), "one in BS-L")
    text = shown(show_options, mm_plan.job, (none, one))
    first, second = text.split("Option 2: ")
    for words in ("Option 1: 0.00 EUR", "covers: no mistake at all", "not insured: BS-L", "buy: nothing", "Proven"):
        assert words in first
    assert second.startswith("79.80 EUR (+79.80 EUR)\n")
    for words in ("covers: one in BS-L", "buy: 2 x 6000 mm of 38x2, 79.80 EUR", "4813 mm", "less than 39.90 EUR"):
        assert words in second
    assert "not insured" not in second


def test_a_shortage_says_what_can_be_cut_and_what_to_buy(mm_plan: Plan, as_worded: Worded) -> None:
    """Guards the answer when the stock cannot serve."""
    more = (Purchase("38x2", Fraction(6000), 1, Decimal("39.90"), Decimal("39.90")),)
    short = Shortage("38x2", (("BS-L", 1),), (("@DG", 2),), False, more, "")
    text = shown(show_shortage, StockError(mm_plan.job, (short,)))
    as_worded(text)


def test_faults_come_in_one_block_a_line_each(as_worded: Worded) -> None:
    """Guards that all faults of a job are seen at once."""
    faults = [Fault(Place("Members", row, "angle a"), "is not a number", f"9O{row}") for row in (7, 8)]
    lines = shown(show_faults, JobError(faults)).strip().splitlines()
    assert lines[1:] == [str(fault) for fault in faults]
    as_worded(*lines)


def test_a_bar_of_very_many_cuts_keeps_its_scale(mm_plan: Plan) -> None:
    """Guards a bar with more blanks than the drawing has columns: drawn together, named below, no wider than others."""
    tube = mm_plan.tubes[1]
    cuts = tuple(
        SawCut(10 + i, "BS-L", Fraction(20), Fraction(22 * i), Fraction(22 * i + 20), Fraction(1)) for i in range(200)
    )
    bar = replace(tube.bars[1], cuts=cuts, spares=0, offcut=Fraction(1500), usable=Fraction(1400))
    plan = replace(mm_plan, tubes=(mm_plan.tubes[0], replace(tube, bars=(bar,))))
    drawn = next(line for line in shown(show_plan, plan).splitlines() if "200 x BS-L" in line)
    assert len(drawn.strip()) == 96


def test_wide_letters_keep_the_columns_straight(mm_plan: Plan) -> None:
    """Guards names in any script: what takes two columns of a terminal is counted as two."""
    blank = replace(mm_plan.blanks[0], mark="漢字")
    heading, first, second, *_ = shown(show_lengths, mm_plan.job, (blank, *mm_plan.blanks[1:])).splitlines()[2:]
    assert cell_len(first[: first.index("45x2.5")]) == second.index("38x2") == heading.index("tube")


def test_what_a_tape_finds_after_less_trim_is_reported(mm_plan: Plan, as_worded: Worded) -> None:
    """Guards a good bar taken for a wrong one: trimmed by less, every rest of it is longer by that much."""
    text = shown(show_plan, mm_plan)
    as_worded(about(text, "Saw list"))
    tubes = [
        replace(tube, bars=tuple(replace(bar, end_trim=Fraction(0)) for bar in tube.bars)) for tube in mm_plan.tubes
    ]
    as_worded(about(shown(show_plan, replace(mm_plan, tubes=tuple(tubes))), "Saw list"))


def test_a_bend_and_a_hand_are_reported_on_the_saw_list(mm_plan: Plan, as_worded: Worded) -> None:
    """Guards a hoop cut as if it were straight, and two left stays: the ends of both show nothing of it."""
    rows = {line.split()[2]: line for line in shown(show_plan, mm_plan).splitlines() if re.match(r" +\d+ +\d ", line)}
    as_worded(*(rows[mark] for mark in ("HOOP", "BS-L", "BS-R")))
    assert rows["@DG"].endswith("bar 4")


def test_where_a_tape_marks_is_a_fraction_of_an_inch(inch_plan: Plan, as_worded: Worded) -> None:
    """Guards 68.6217 read off a tape: the nearest step, with ~ and the exact figure where that is not all of it."""
    bends = (
        BendMark(1, 1000.0, 1000.0, 68.6217 * 25.4, 200.0, 90.0, 114.3, 0.0),
        BendMark(2, 1000.0, 1000.0, 80.25 * 25.4, 200.0, 45.0, 114.3, 0.0),
    )
    blank = replace(inch_plan.blanks[0], bends=bends, cut_off_a=3.15 * 25.4)
    course = (Bend(Fraction(900), angle_deg=90.0), Bend(Fraction(900), angle_deg=45.0), Bend(Fraction(900)))
    rail = replace(inch_plan.job.members[0], bends=course)
    text = shown(show_member, replace(inch_plan.job, members=(rail,)), blank)
    assert "~68 5/8 (68.6217) " in text
    assert " 80 1/4 " in text
    assert "~3 5/32 in " in text
    as_worded(about(text, "68.6217", "80 1/4", "3 5/32"))


def test_the_worst_fault_comes_first(as_worded: Worded) -> None:
    """Guards a missing sheet reported below what follows from it; else faults stand in the order of their rows."""
    cell, sheet = (
        Fault(Place("Job", 4, "value"), "is not a length", "two"),
        Fault(Place("Stock"), "the sheet is missing"),
    )
    lines = shown(show_faults, JobError([cell, sheet])).splitlines()
    assert lines[2:] == [str(sheet), str(cell)]
    as_worded(*lines[1:])
