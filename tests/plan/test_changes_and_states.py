"""Each thing that can change in a job times each thing that can have become of the piece: what is still to be cut of
it, what new piece in hand there is, and what counts as cut. Lengths are worked out by hand."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest
from test_recut_job import BENDS, STOCK, Change, change, cuts_of, gone_on, planned, tables  # noqa: F401

from cutplan.job.model import Source
from cutplan.plan.recut.ticks import Tick

STATES = ("not cut", "sawn", "spoilt", "fitted")

ONCE: tuple[dict[str, int], ...] = ({"STAY": 1}, {}, {"STAY": 1}, {})
"""Still to cut where nothing is the matter with what is cut."""
SALVAGED = ((), (), (1050,), ())
"""A spoilt blank of 1100 yields 1050."""
KEPT: tuple[dict[str, int], ...] = ({}, {"STAY": 1}, {}, {"STAY": 1})
HOOP_BENDS = BENDS.replace("HOOP,400,tangent,90", "HOOP,385,tangent,90", 1)
TILTED = "DIAG,T,1,800,mitre,30,,mitre,30\n"

Row = tuple[str, str, str, str, tuple[dict[str, int], ...], tuple[tuple[float, ...], ...], tuple[dict[str, int], ...]]

CHANGES: dict[str, Row] = {
    # the mark, the table, what is there, what is put; by state: still to cut, new pieces in hand, cut.
    "shorter": ("STAY", "Members", "STAY,T,1,1100", "STAY,T,1,1087", ONCE, SALVAGED, KEPT),
    "much shorter": ("STAY", "Members", "STAY,T,1,1100", "STAY,T,1,600", ONCE, ((), (498,), (1050,), ()), KEPT),
    "longer": (
        *("STAY", "Members", "STAY,T,1,1100", "STAY,T,1,1113"),
        ({"STAY": 1}, {"STAY": 1}, {"STAY": 1}, {}),
        ((), (1100,), (1050,), ()),
        ({}, {}, {}, {"STAY": 1}),
    ),
    "an estimate, shorter at the most": ("STAY", "Members", "1100", "1050 ± 50", ONCE, SALVAGED, KEPT),
    # 800 and half a diameter times tan 45 at either end is 840; a spoilt one yields 790.
    "an angle": (
        *("DIAG", "Members", "DIAG,T,1,800,mitre,45,,mitre,45\n", TILTED),
        ({"DIAG": 1}, {}, {"DIAG": 1}, {}),
        ((), (), (790,), ()),
        ({}, {"DIAG": 1}, {}, {"DIAG": 1}),
    ),
    # Nothing of a bent blank is counted on.
    "the bends": (
        *("HOOP", "Bends", BENDS, HOOP_BENDS),
        ({"HOOP": 1}, {}, {"HOOP": 1}, {}),
        ((), (), (), ()),
        ({}, {"HOOP": 1}, {}, {"HOOP": 1}),
    ),
    "the tube": (
        *("STAY", "Members", "STAY,T,1", "STAY,S,1"),
        ({"STAY": 1}, {"STAY": 1}, {"STAY": 1}, {"STAY": 1}),
        ((), (1100,), (1050,), ()),
        ({}, {}, {}, {}),
    ),
    "dropped": (
        *("STAY", "Members", "STAY,T,1,1100,,,,,\n", ""),
        ({}, {}, {}, {}),
        ((), (1100,), (1050,), ()),
        ({}, {}, {}, {}),
    ),
    "called otherwise": (
        *("STAY", "Members", "STAY,T", "POLE,T"),
        ({"POLE": 1}, {}, {"POLE": 1}, {}),
        SALVAGED,
        ({}, {"POLE": 1}, {}, {"POLE": 1}),
    ),
    "one more": (
        *("STAY", "Members", "STAY,T,1", "STAY,T,2"),
        ({"STAY": 2}, {"STAY": 1}, {"STAY": 2}, {"STAY": 1}),
        SALVAGED,
        KEPT,
    ),
    # All three of them are cut, or one is spoilt: 120 less 50.
    "fewer": (
        *("TAB", "Members", "TAB,T,3", "TAB,T,2"),
        ({"TAB": 2}, {}, {"TAB": 2}, {}),
        ((), (120,), (70,), ()),
        ({}, {"TAB": 2}, {}, {"TAB": 2}),
    ),
    "another member": ("STAY", "Members", "LEG,T,1,900", "LEG,T,1,890", ONCE, SALVAGED, KEPT),
    "the kerf": ("STAY", "Job", "kerf,2", "kerf,3", ONCE, SALVAGED, KEPT),
    "the spares": ("STAY", "Job", "spares,0", "spares,1", ONCE, SALVAGED, KEPT),
    "the price": ("STAY", "Stock", "T,3000,20", "T,3000,22", ONCE, SALVAGED, KEPT),
    "a piece on the rack": ("STAY", "Stock", STOCK, f"{STOCK}T,640,,1,rack,R9\n", ONCE, SALVAGED, KEPT),
}


@pytest.mark.parametrize("state", range(4), ids=STATES)
@pytest.mark.parametrize("what", CHANGES)
def test_what_changed_times_what_has_become_of_it(change: Change, what: str, state: int) -> None:  # noqa: F811
    """The rest holds, and has of the piece what the table says."""
    mark, table, old, new, due, pieces, kept = CHANGES[what]
    plan = planned(change("Job", "Bay", "Bay"))
    ticks = [_tick(cut.number, cut.mark == mark, state) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    if what == "fewer" and STATES[state] == "spoilt":
        first = next(tick.cut for tick in ticks if tick.spoilt)
        ticks = [tick if tick.cut == first else Tick(tick.cut, False, False) for tick in ticks]
    _, after = gone_on(plan, ticks, change(table, old, new))
    had = {bar.name for tube in plan.tubes for bar in tube.bars}
    bars = [bar for tube in after.tubes for bar in tube.bars if bar.source is Source.RACK]
    found = Counter(bar.length for bar in bars if bar.name not in had)
    if what == "a piece on the rack":
        found -= Counter([Fraction(640)])
    mine = {mark, "POLE"}
    assert {one: n for one, n in cuts_of(after).items() if one in mine} == due[state]
    assert found == Counter(Fraction(length) for length in pieces[state])
    assert {one: n for one, n in Counter(made.blank.mark for made in after.made).items() if one in mine} == kept[state]
    assert all(made.fitted is (STATES[state] == "fitted") for made in after.made if made.blank.mark in mine)


def _tick(number: int, mine: bool, state: int) -> Tick:
    return Tick(number, mine and state == 1, mine and state == 2, fitted=mine and state == 3)
