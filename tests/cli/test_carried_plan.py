"""The plan in a saw list's hidden sheet altered: nothing is sawn, racked or planned by it, and it ends in words."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from saw_lists import carry

from cutplan.output.opened import read_saw_list
from cutplan.output.state import freeze
from cutplan.plan.model import Plan
from cutplan.plan.verify.carried import verify


@pytest.fixture(scope="module")
def begun(small_list: bytes, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The small job's list, its first cut done: bar 1 (3 m) is LONG and three TAB, bar 2 (R1) both LEG."""
    path = tmp_path_factory.mktemp("begun") / "saw.xlsx"
    path.write_bytes(small_list)
    entered(path, "Saw list", {(1, "done"): "x"})
    return path.read_bytes()


@pytest.fixture
def worked(job, begun: bytes, tmp_path) -> Path:
    """That list, beside its job."""
    path = tmp_path / "saw.xlsx"
    path.write_bytes(begun)
    return path


def entered(path: Path, title: str, entries: dict[tuple[int | str, str], object]) -> None:
    """Write into the row of this cut or bar, under the heading that begins so."""
    book = load_workbook(path)
    rows = list(book[title].iter_rows())
    headings = next(row for row in rows if row[0].value in ("cut", "bar"))
    for (name, heading), value in entries.items():
        row = next(row for row in rows if row[0].value == name)
        next(cell for cell, top in zip(row, headings, strict=True) if str(top.value).startswith(heading)).value = value
    book.save(path)


def bar(plan: Any, name: str) -> Any:
    """A bar of the plan as it is carried."""
    return next(bar for tube in plan["tubes"] for bar in tube["bars"] if bar["name"] == name)


def shortened(plan: Any) -> None:
    """LONG 100 mm shorter, wherever it is."""
    plan["blanks"][0]["length"] = "1400"
    cut = next(cut for tube in plan["tubes"] for one in tube["bars"] for cut in one["cuts"] if cut["mark"] == "LONG")
    cut["blank"], cut["end"] = "1400", str(int(cut["start"]) + 1400)


ALTERED: dict[str, tuple[Callable[[Any], object], str]] = {
    "the kerf gone": (lambda plan: plan["job"]["settings"].update(kerf="0"), "is not correct: "),
    "the kerf negative": (lambda plan: plan["job"]["settings"].update(kerf="-2"), "kerf is -2, below 0"),
    "another end trim": (lambda plan: plan["job"]["settings"].update(end_trim="15"), "its end trim is not that of"),
    "salvage negative": (lambda plan: plan["job"]["settings"].update(salvage="-50"), "salvage is -50, below 0"),
    "keep negative": (lambda plan: plan["job"]["settings"].update(keep="-1"), "keep is -1, below 0"),
    "spares without end": (lambda plan: plan["job"]["settings"].update(spares=10**9), "spares is 1e+09, above 100"),
    "a bar that yields more": (lambda plan: bar(plan, "1").update(usable="1500"), "can still be cut, not 1500 mm"),
    "a bar of another price": (lambda plan: bar(plan, "1").update(price="10"), "bar 1: no such bar in the Stock"),
    "a bar's end trim": (lambda plan: bar(plan, "1").update(end_trim="0"), "bar 1: its end trim is not that of"),
    "a blank dropped": (lambda plan: plan["blanks"].pop(0), "LONG: is cut, but is not in any member"),
    "an unknown mark": (
        lambda plan: bar(plan, "1")["cuts"][0].update(mark="L0NG"),
        "L0NG: is cut, but is not in any member",
    ),
    "a blank shorter everywhere": (shortened, "LONG: a blank of 1400 mm, but the job gives 1500 mm"),
    "a tube twice": (
        lambda plan: plan["job"]["tubes"].append(plan["job"]["tubes"][0]),
        "T: is listed 2 times among the job's tubes",
    ),
    "a price below nothing": (lambda plan: plan["job"]["stock"][0].update(price="-20"), "price is -20, below 0"),
    "a price that is no number": (
        lambda plan: plan["job"]["stock"][0].update(price="NaN"),
        "\"price\" is 'NaN', not",
    ),
    "bars below none": (lambda plan: plan["job"]["stock"][0].update(available=-1), "available is -1, below 0"),
    "a length of stock below nothing": (
        lambda plan: plan["job"]["stock"].append({**plan["job"]["stock"][0], "length": "-5"}),
        "length is -5, below 0",
    ),
    "a piece that was not on the rack": (
        lambda plan: plan.update(drawn=[{**plan["job"]["stock"][1], "length": "2000"}]),
        "but was not on the rack",
    ),
}


@pytest.mark.parametrize("name", ALTERED)
def test_an_altered_plan_is_refused_before_anything_is_calculated_with_it(run, worked, tmp_path, name):
    """Neither a recut nor the rack believes it: exit code 1, what does not hold, and no file written."""
    alter, says = ALTERED[name]
    carry(worked, alter)
    rack = tmp_path / "lying.csv"
    there = sorted(tmp_path.iterdir())
    for command in (("recut", worked), ("rack", "finish", worked, rack)):
        result = run(*command)
        reported = " ".join(result.stderr.split())
        assert (result.exit_code, result.stdout) == (1, ""), reported
        # What is no value at all is refused as it is read.
        assert (
            f"{worked.name}: is not correct: " in reported or f"{worked.name}, Plan data: cannot be read: " in reported
        )
        assert says in reported
        assert "plan the job again" in reported
        assert sorted(tmp_path.iterdir()) == there


def test_a_bar_that_yields_a_hair_more_is_still_one_of_its_stock(run, worked):
    """What is no difference to the proof is none to the recut."""
    wanted = marks(read_saw_list(worked).plan)
    carry(worked, lambda plan: bar(plan, "1").update(usable=bar(plan, "1")["usable"] + ".0000001"))
    assert run("recut", worked).exit_code == 0
    after = worked.with_name("saw 2.xlsx")
    assert (marks(read_saw_list(after).plan), run("check", after).exit_code) == (wanted, 0)


def leaves(data: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The place of every value that holds no other."""
    children = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, child in children:
        yield from leaves(child, (*path, key))
    if not isinstance(data, dict | list):
        yield path


def marks(plan: Plan) -> Counter[str]:
    """The marks of all that is to be cut, and of what has been."""
    cuts = [cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    return Counter([*cuts, *(made.blank.mark for made in plan.made)])


@pytest.mark.parametrize(("shift", "value"), list(enumerate(["-1", "7", -1, 7])))
def test_whatever_is_carried_ends_in_words(run, worked, shift, value):
    """Any value made another: the rest is planned, whole, and holds, or it is said why not."""
    sound = worked.read_bytes()
    plan = read_saw_list(worked).plan
    text, wanted = freeze(plan), marks(plan)
    fresh = worked.with_name("saw 2.xlsx")
    places = [place for place in leaves(json.loads(text)["plan"]) if "place" not in place]
    for place in places[shift :: max(1, len(places) // 3)]:
        worked.write_bytes(sound)

        def alter(plan: Any, place: tuple[str | int, ...] = place) -> None:
            for key in place[:-1]:
                plan = plan[key]
            plan[place[-1]] = value

        carry(worked, alter)
        fresh.unlink(missing_ok=True)
        result = run("recut", worked)
        if result.exit_code == 0:
            assert (marks(read_saw_list(fresh).plan), run("check", fresh).exit_code) == (wanted, 0), place
        else:
            assert (result.exit_code, result.stdout, fresh.exists()) == (1, "", False), place
            assert "saw.xlsx" in result.stderr, place


def test_what_came_of_a_recut_holds_too(run, worked):
    """Blanks made, the rest of a spoilt one as stock, a bar got since, one struck out, one put right: none of these
    lists is refused, until a blank cut earlier is altered."""
    entered(worked, "Saw list", {(2, "spoilt"): "x", (2, "still good"): 60, (5, "spoilt"): "x"})
    assert run("recut", worked, "--bar", "T", "2000 mm").exit_code == 0
    second = worked.with_name("saw 2.xlsx")
    plan = read_saw_list(second).plan
    assert plan.made
    assert verify(plan) == ()
    whole, other, *_ = [one for tube in plan.tubes for one in tube.bars if not one.cuts]
    found = float(other.length) - 5
    entered(second, "Bars in hand", {(whole.name, "struck out"): "x", (other.name, "measured"): found})
    entered(second, "Saw list", {(1, "done"): "x", (plan.made[0].number, "spoilt"): "x"})
    assert run("recut", second).exit_code == 0
    third = worked.with_name("saw 3.xlsx")
    plan = read_saw_list(third).plan
    assert plan.made
    assert verify(plan) == ()
    sound = third.read_bytes()
    for alter, says in (
        (lambda plan: plan["made"][0]["blank"].update(length="90"), " mm|differs from its blanks"),
        (lambda plan: plan["made"][0].update(number=1), "cut 1, made earlier, is not numbered"),
    ):
        third.write_bytes(sound)
        carry(third, alter)
        result = run("recut", third, "--spares", "0")
        assert result.exit_code == 1
        assert re.search(f"is not correct: .*({says})", result.stderr)
