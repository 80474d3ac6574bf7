"""A job that changed after cutting began: each thing that can change times what has become of the piece."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import pytest
from wording import Worded

from cutplan.geometry.model import Blank
from cutplan.job.faults import JobError
from cutplan.job.model import Job, Source, Units
from cutplan.plan import Plan, Prepared, complaints, length_complaints, make_plan, prepare
from cutplan.plan.recut.differences import differences
from cutplan.plan.recut.rest import Recut, recut
from cutplan.plan.recut.ticks import Tick

F = Fraction
Change = Callable[[str, str, str], Prepared]

JOB = "setting,value\nname,Bay\nunits,mm\nkerf,2\nspares,0\nkeep,300\n"
TUBES = "tube,od,wall,clr\nT,40,2,120\nS,30,2,\n"
STOCK = "tube,length,price,available,from,label\nT,3000,20,3,buy,\nS,3000,15,,buy,\nT,700,,1,rack,R1\n"
MEMBERS = (
    "mark,tube,qty,length,end a,angle a,onto a,end b,angle b\n"
    "HOOP,T,1,,,,,,\n"
    "STAY,T,1,1100,,,,,\n"
    "LEG,T,1,900,cope,90,HOOP,,\n"
    "DIAG,T,1,800,mitre,45,,mitre,45\n"
    "TAB,T,3,120,,,,,\n"
    "BRACE,S,1,650,,,,,\n"
)
BENDS = (
    "mark,straight,to,angle,radius,rotation\nHOOP,400,tangent,90,120,\nHOOP,300,tangent,90,120,0\nHOOP,400,tangent,,,\n"
)


@pytest.fixture
def tables() -> dict[str, str]:
    """The job's tables as text."""
    return {"Job": JOB, "Tubes": TUBES, "Stock": STOCK, "Members": MEMBERS, "Bends": BENDS}


@pytest.fixture
def change(tables: dict[str, str], tmp_path: Path) -> Change:
    """The job with one text of one table replaced; the text must be there."""

    def changed(table: str, old: str, new: str) -> Prepared:
        assert old in tables[table]
        tables[table] = tables[table].replace(old, new)
        for name, text in tables.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        return prepare(tmp_path)

    return changed


@pytest.fixture
def plan(change: Change) -> Plan:
    """The plan of the job as it was."""
    return planned(change("Job", "Bay", "Bay"))


def planned(prepared: Prepared) -> Plan:
    """Its plan, with the job's file."""
    return replace(_plan_of(prepared.job, prepared.blanks), source=prepared.source)


@cache
def _plan_of(job: Job, blanks: tuple[Blank, ...]) -> Plan:
    """Most tests begin with the same job: it is planned once."""
    return make_plan(job, blanks)


def ticked(plan: Plan, done: tuple[str, ...] = (), spoilt: tuple[str, ...] = ()) -> list[Tick]:
    """A list with the first cuts of these marks ticked."""
    good, bad = Counter(done), Counter(spoilt)
    cuts = [(cut.number, cut.mark) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    ticks = []
    for number, mark in (*cuts, *((made.number, made.blank.mark) for made in plan.made)):
        is_bad = bad[mark] > 0
        bad[mark] -= is_bad
        is_good = not is_bad and good[mark] > 0
        good[mark] -= is_good
        ticks.append(Tick(number, is_good, is_bad))
    assert not +good
    assert not +bad
    return ticks


def gone_on(plan: Plan, ticks: list[Tick], now: Prepared) -> tuple[Recut, Plan]:
    """The rest by the job now, which must hold, and lose nothing."""
    result = recut(plan, ticks, now=now)
    assert all(account.balanced for account in result.accounts)
    after = result.plan
    assert after is not None
    assert complaints(after) == ()
    assert length_complaints(after) == ()
    return result, after


def cuts_of(plan: Plan) -> Counter[str]:
    """What is still to be cut, by mark."""
    return Counter(cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)


def in_hand(plan: Plan) -> dict[str, Fraction]:
    """The bars that need not be bought."""
    return {bar.name: bar.length for tube in plan.tubes for bar in tube.bars if bar.source is Source.RACK}


def test_a_job_as_it_was_changes_nothing(plan: Plan, change: Change) -> None:
    """With the same job the rest is the one without it, but for the job's file."""
    now = change("Job", "Bay", "Bay")
    assert differences(plan, now) == ()
    ticks = ticked(plan, ("STAY",))
    one, other = recut(plan, ticks).plan, gone_on(plan, ticks, now)[1]
    assert one is not None
    assert (one.tubes, one.made, one.buy, one.changes) == (other.tubes, other.made, other.buy, other.changes)


@pytest.mark.parametrize("to", ["1113", "1087"])
def test_remeasured_and_not_cut(plan: Plan, change: Change, to: str, as_worded: Worded) -> None:
    """What is not cut is cut by the new measure, and the list says so."""
    result, after = gone_on(plan, ticked(plan, ("LEG",)), change("Members", "STAY,T,1,1100", f"STAY,T,1,{to}"))
    as_worded(*result.changes)
    assert after.by_mark()["STAY"].length == int(to)


def test_remeasured_shorter_and_sawn(plan: Plan, change: Change, as_worded: Worded) -> None:
    """It stays, and what to take off is on the list until it is needed no more."""
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Members", "STAY,T,1,1100", "STAY,T,1,1087"))
    as_worded(*result.changes)
    assert "STAY" not in cuts_of(after)
    (made,) = after.made
    assert made.blank.length == 1087
    as_worded(made.to_do)


def test_what_is_taken_off_is_kept_where_it_serves(plan: Plan, change: Change, as_worded: Worded) -> None:
    """A long piece taken off becomes a bar in hand: its length and the kerf make up the difference."""
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Members", "STAY,T,1,1100", "STAY,T,1,600"))
    as_worded(*result.changes)
    assert 498 in in_hand(after).values()


def test_remeasured_longer_and_sawn(plan: Plan, change: Change, as_worded: Worded) -> None:
    """It is a piece in hand of its length, and a new one is planned."""
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Members", "STAY,T,1,1100", "STAY,T,1,1113"))
    as_worded(*result.changes)
    assert cuts_of(after)["STAY"] == 1
    assert 1100 in in_hand(after).values()


def test_too_short_counts_between_its_shaped_ends(plan: Plan, change: Change, as_worded: Worded) -> None:
    """Both ends may be mitred already, which takes one diameter each at 45 degrees: 800 - 2 * 40, less a step."""
    result, after = gone_on(plan, ticked(plan, ("DIAG",)), change("Members", "DIAG,T,1,800", "DIAG,T,1,830"))
    length = next(blank.length for blank in plan.blanks if blank.mark == "DIAG")
    as_worded(*result.changes)
    assert any(0 <= length - 80 - rest <= F(1, 2) for rest in in_hand(after).values())


def test_a_bent_one_too_short_is_not_counted_on(plan: Plan, change: Change, as_worded: Worded) -> None:
    """It may be bent already: no new plan may rest on it being straight."""
    result, after = gone_on(plan, ticked(plan, ("HOOP",)), change("Bends", "HOOP,300", "HOOP,320"))
    as_worded(*result.changes)
    assert cuts_of(after)["HOOP"] == 1


def test_a_bent_one_is_shortened_at_the_end_that_changed(plan: Plan, change: Change, as_worded: Worded) -> None:
    """Its bends lie as they did, so that it may be bent already: only a straight at its end is shorter."""
    first, second = "HOOP,400,tangent,90,120,\n", "HOOP,400,tangent,,,\n"
    result, _ = gone_on(plan, ticked(plan, ("HOOP",)), change("Bends", first, first.replace("400", "385")))
    as_worded(*result.changes)
    result, _ = gone_on(plan, ticked(plan, ("HOOP",)), change("Bends", second, second.replace("400", "390")))
    as_worded(*result.changes)


def test_bends_that_moved_are_reported(plan: Plan, change: Change, as_worded: Worded) -> None:
    """A shorter middle moves a bend: what is bent already cannot stay, and only the person knows."""
    result, after = gone_on(plan, ticked(plan, ("HOOP",)), change("Bends", "HOOP,300", "HOOP,280"))
    as_worded(*result.changes)
    as_worded(after.made[0].to_do)


@pytest.mark.parametrize("done", [(), ("LEG",)])
def test_an_end_that_changed(plan: Plan, change: Change, done: tuple[str, ...], as_worded: Worded) -> None:
    """Not cut: it is cut so. Sawn: it stays if it is long enough, with the end that changed."""
    now = change("Members", "cope,90,HOOP", "cope,60,HOOP")
    result, after = gone_on(plan, ticked(plan, (*done, "TAB")), now)
    as_worded(*result.changes)
    sawn = [made.blank.mark for made in after.made].count("LEG")
    assert (sawn, cuts_of(after)["LEG"]) == (len(done), 1 - len(done))


def test_another_tube(plan: Plan, change: Change, as_worded: Worded) -> None:
    """What is sawn of the old tube is a piece in hand of that; the new one is cut of the new."""
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Members", "STAY,T,", "STAY,S,"))
    as_worded(*result.changes)
    assert after.by_mark()["STAY"].tube == "S"


@pytest.mark.parametrize(("qty", "done", "left"), [("2", 1, 1), ("2", 3, 0), ("5", 3, 2), ("1", 2, 0)])
def test_another_count(plan: Plan, change: Change, qty: str, done: int, left: int, as_worded: Worded) -> None:
    """What is cut counts; what is cut over and above becomes pieces in hand or is of no use, and is accounted for."""
    result, after = gone_on(plan, ticked(plan, ("TAB",) * done), change("Members", "TAB,T,3", f"TAB,T,{qty}"))
    assert cuts_of(after)["TAB"] == left
    assert sum(made.blank.mark == "TAB" for made in after.made) == min(done, int(qty))
    as_worded(*result.changes)


def test_added(plan: Plan, change: Change, as_worded: Worded) -> None:
    """A new member is planned with the rest."""
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Members", "TAB,T", "STRUT,T,2,500,,,,,\nTAB,T"))
    as_worded(*result.changes)
    assert cuts_of(after)["STRUT"] == 2


def test_added_when_all_was_cut(plan: Plan, change: Change) -> None:
    """A job that was done goes on."""
    ticks = [Tick(tick.cut, True, False) for tick in ticked(plan)]
    assert recut(plan, ticks).plan is None
    _, after = gone_on(plan, ticks, change("Members", "TAB,T", "STRUT,T,2,500,,,,,\nTAB,T"))
    assert cuts_of(after) == {"STRUT": 2}


@pytest.mark.parametrize(("done", "spoilt"), [((), ()), (("STAY",), ()), ((), ("STAY",))])
def test_dropped(plan: Plan, change: Change, done: tuple[str, ...], spoilt: tuple[str, ...], as_worded: Worded) -> None:
    """Not cut: it is not cut any more. Sawn: a piece in hand. Spoilt: what is left of it is, and none is cut again."""
    now = change("Members", "STAY,T,1,1100,,,,,\n", "")
    result, after = gone_on(plan, ticked(plan, (*done, "TAB"), spoilt), now)
    as_worded(*result.changes)
    assert "STAY" not in cuts_of(after)
    assert {1100: bool(done), 1050: bool(spoilt)} == {long: long in in_hand(after).values() for long in (1100, 1050)}


@pytest.mark.parametrize("to", ["1060", "1100", "1140"])
def test_an_estimate_is_measured(tables: dict[str, str], change: Change, to: str, as_worded: Worded) -> None:
    """The main use: wherever it comes out within what was written, the tube in hand serves, and nothing moves."""
    before = planned(change("Members", "STAY,T,1,1100", "STAY,T,1,1100 ± 40"))
    assert before.by_mark()["STAY"].length == 1140
    on = {cut.mark: bar.name for tube in before.tubes for bar in tube.bars for cut in bar.cuts}
    result, after = gone_on(before, ticked(before, ("HOOP",)), change("Members", "1100 ± 40", to))
    as_worded(*result.changes)
    assert after.buy == ()
    assert on["STAY"] == next(bar.name for t in after.tubes for bar in t.bars if "STAY" in [c.mark for c in bar.cuts])
    assert "STAY" not in [cut for cut in result.changes if "now from" in cut]


def test_a_sawn_one_in_doubt_again(plan: Plan, change: Change, as_worded: Worded) -> None:
    """Long enough whatever it comes out as: nothing is taken off before it is measured, then no millimetre twice."""
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Members", "STAY,T,1,1100", "STAY,T,1,1050 ± 40"))
    as_worded(*result.changes)
    assert [(made.blank.length, made.sawn) for made in after.made] == [(1090, 1100)]
    result, last = gone_on(after, ticked(after), change("Members", "1050 ± 40", "1062"))
    as_worded(*result.changes)
    assert [(made.blank.length, made.sawn) for made in last.made] == [(1062, None)]
    assert next(account.lost for account in result.accounts if account.tube == "T") == 38


@pytest.mark.parametrize("done", [(), ("STAY",)])
def test_made_already(
    plan: Plan, tables: dict[str, str], change: Change, done: tuple[str, ...], as_worded: Worded
) -> None:
    """Put in the job as made: it is neither cut, nor a piece in hand."""
    heading, *rows = MEMBERS.splitlines()
    rows = [f"{row},{'yes' if row.startswith('STAY') else ''}" for row in rows]
    tables["Members"] = "\n".join((f"{heading},made", *rows, ""))
    result, after = gone_on(plan, ticked(plan, (*done, "TAB")), change("Job", "Bay", "Bay"))
    as_worded(*result.changes)
    assert "STAY" not in cuts_of(after)
    assert 1100 not in in_hand(after).values()


def test_another_stage(plan: Plan, tables: dict[str, str], change: Change, as_worded: Worded) -> None:
    """What is cut stays cut; the order of the rest follows the stages."""
    heading, *rows = MEMBERS.splitlines()
    stages = {"HOOP": 1, "STAY": 1, "LEG": 2, "DIAG": 3, "TAB": 3, "BRACE": 2}
    tables["Members"] = "\n".join((f"{heading},stage", *(f"{row},{stages[row.split(',')[0]]}" for row in rows), ""))
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Job", "Bay", "Bay"))
    as_worded(*result.changes)
    order = sorted((cut.number, cut.mark) for tube in after.tubes for bar in tube.bars for cut in bar.cuts)
    assert [stages[mark] for _, mark in order] == sorted(stages[mark] for _, mark in order)


@pytest.mark.parametrize("done", [(), ("STAY",)])
def test_renamed(plan: Plan, change: Change, done: tuple[str, ...], as_worded: Worded) -> None:
    """The same piece by another name stays where it is planned, or counts as cut."""
    result, after = gone_on(plan, ticked(plan, (*done, "TAB")), change("Members", "STAY,T", "BACKSTAY,T"))
    as_worded(*result.changes)
    assert cuts_of(after)["BACKSTAY"] == (not done)
    assert [made.blank.mark for made in after.made if made.blank.mark != "TAB"] == ["BACKSTAY"] * len(done)


def test_what_it_lands_on_renamed(plan: Plan, tables: dict[str, str], change: Change, as_worded: Worded) -> None:
    """A member whose neighbour is called otherwise is the same piece."""
    tables["Members"] = MEMBERS.replace("HOOP", "ARCH")
    result, after = gone_on(plan, ticked(plan, ("LEG", "HOOP")), change("Bends", "HOOP", "ARCH"))
    as_worded(*result.changes)
    assert {made.blank.mark for made in after.made} == {"LEG", "ARCH"}
    assert all(not made.to_do for made in after.made)


def test_another_kerf(plan: Plan, change: Change, as_worded: Worded) -> None:
    """What is cut was cut with the old one, what is to come is planned with the new."""
    result, after = gone_on(plan, ticked(plan, ("HOOP", "STAY")), change("Job", "kerf,2", "kerf,4"))
    as_worded(*result.changes)
    account = next(account for account in result.accounts if account.tube == "T")
    assert account.kerf <= 4
    assert after.job.settings.kerf == 4


def test_for_sale(plan: Plan, change: Change, as_worded: Worded) -> None:
    """A number that is as it was counts the bars bought already; one written anew is what there is now."""
    bought = sum(line.count for line in plan.buy if line.tube == "T")
    assert bought
    _, after = gone_on(plan, ticked(plan, ("STAY",)), change("Stock", "T,3000,20,3", "T,3000,25,3"))
    row = next(row for row in after.job.stock if row.source is Source.BUY and row.tube == "T")
    assert (row.available, row.price) == (3 - bought, 25)
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Stock", "T,3000,25,3", "T,3000,25,7"))
    row = next(row for row in after.job.stock if row.source is Source.BUY and row.tube == "T")
    assert row.available == 7
    as_worded(*result.changes)


def test_on_the_rack(plan: Plan, change: Change, as_worded: Worded) -> None:
    """A piece that is new there is in hand; one that is gone is struck out, if nothing was cut from it."""
    assert 700 in in_hand(plan).values()
    on_it = {cut.mark for tube in plan.tubes for bar in tube.bars if bar.length == 700 for cut in bar.cuts}
    result, after = gone_on(plan, ticked(plan, ("STAY",)), change("Stock", "T,700,,1,rack,R1", "T,820,,1,rack,R2"))
    as_worded(*result.changes)
    assert 820 in in_hand(after).values()
    assert 700 not in in_hand(after).values()
    assert all(cuts_of(after)[mark] for mark in on_it)


def test_other_units_are_refused(plan: Plan, change: Change, as_worded: Worded) -> None:
    """A list planned in mm does not go on in inches."""
    now = change("Job", "Bay", "Bay")
    inches = replace(now, job=replace(now.job, settings=replace(now.job.settings, units=Units.IN)))
    with pytest.raises(JobError) as caught:
        recut(plan, ticked(plan, ("STAY",)), now=inches)
    as_worded(caught.value)


def test_a_tube_in_hand_keeps_its_name(plan: Plan, tables: dict[str, str], change: Change, as_worded: Worded) -> None:
    """By another name its bars would count as those of another tube, and be bought again."""
    tables["Members"] = MEMBERS.replace("BRACE,S", "BRACE,SLIM")
    tables["Stock"] = STOCK.replace("S,3000", "SLIM,3000")
    with pytest.raises(JobError) as caught:
        recut(plan, ticked(plan, ("STAY",)), now=change("Tubes", "S,30,2", "SLIM,30,2"))
    as_worded(caught.value)


def test_a_tube_that_no_member_needs_stays_in_hand(plan: Plan, tables: dict[str, str], change: Change) -> None:
    """Its bars are listed still, though the job knows the tube no more."""
    tables["Members"] = MEMBERS.replace("BRACE,S", "BRACE,T")
    tables["Stock"] = STOCK.replace("S,3000,15,,buy,\n", "")
    _, after = gone_on(plan, ticked(plan, ("STAY",)), change("Tubes", "S,30,2,\n", ""))
    assert any(bar.tube == "S" and not bar.cuts for tube in after.tubes for bar in tube.bars)


@pytest.mark.parametrize("seed", range(10))
def test_changes_of_mind_lose_nothing(seed: int, tables: dict[str, str], change: Change, plan: Plan) -> None:
    """Random changes and random ticks, list after list, until all is cut: the tube bought and on the rack at the start,
    and bought since, is what was cut, lost and is left; every list holds, and every member comes out once."""
    dice = Random(seed)
    lengths = {"STAY": 1100, "LEG": 900, "DIAG": 800, "TAB": 120, "BRACE": 650}
    put_in: Counter[str] = Counter()
    tables["Stock"] = STOCK.replace("20,3", "20,")
    for _ in range(12):
        before = sum(bar.length for tube in plan.tubes for bar in tube.bars) + sum(
            made.blank.length for made in plan.made
        )
        marks = [cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
        some = tuple(mark for mark in marks if dice.random() < 0.4)
        done = tuple(mark for mark in some if dice.random() < 0.8)
        ticks = ticked(plan, done, tuple((Counter(some) - Counter(done)).elements()))
        mark = dice.choice([*lengths])
        if dice.random() < 0.7:
            rows = list(csv.reader(tables["Members"].splitlines()))
            row = next(row for row in rows if row[0] == mark)
            row[3] = str(int(row[3]) + dice.randint(-40, 40))
            tables["Members"] = "\n".join(",".join(row) for row in rows) + "\n"
        if dice.random() < 0.2:
            put_in[mark] += 1
            tables["Members"] += f"NEW{len(put_in)}{mark}{put_in[mark]},T,1,{dice.randint(100, 700)},,,,,\n"
        result = recut(plan, ticks, now=(now := change("Job", "Bay", "Bay")))
        assert all(account.balanced for account in result.accounts)
        wanted = Counter({blank.mark: blank.count for blank in now.blanks})
        if result.plan is None:
            return
        after = result.plan
        assert complaints(after) == ()
        assert length_complaints(after) == ()
        assert cuts_of(after) + Counter(made.blank.mark for made in after.made) == wanted
        left = sum(in_hand(after).values()) + sum(made.blank.length for made in after.made)
        gone = sum(account.kerf + account.trim + account.lost for account in result.accounts)
        found = {account.tube for account in result.accounts}
        assert before == left + gone
        assert found <= {"T", "S"}
        plan = after
