"""Builds that become known while they are built, to their end: nothing is ever bought beyond the plan, no millimetre is
lost, no cut comes before its stage, and what is promised is there by trying every place."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import build_judge
import pytest
from build_judge import drawn, play
from staged_builds import MOST, Build, JudgedError

from cutplan.plan import Plan, Prepared
from cutplan.plan.recut.rest import Recut, recut
from cutplan.plan.recut.ticks import BarNote, Tick


@pytest.mark.parametrize("first", range(0, 300, 30))
def test_builds_keep_what_was_promised(first: int) -> None:
    """10 builds by lot, most of four or five blanks at most, measured at the ends of their ranges, with mistakes
    and changes of mind on the way; more, and larger, by tests/benchmarks/staged_builds_versus_packing.py."""
    most = MOST if first < 60 else 5 if first < 180 else 4
    ended = sum(played(seed, most)["built to the end"] for seed in range(first, first + 10))
    assert ended >= 8


def played(seed: int, most: int) -> dict[str, int]:
    """What was met on the way of one build; names it where something is wrong."""
    try:
        return play(seed, most)
    except JudgedError as error:
        raise AssertionError(f"build {seed}: {error}") from error


def wrong_in(builds: range) -> str:
    """What the judge first finds wrong with these."""
    for seed in builds:
        try:
            play(seed)
        except JudgedError as error:
            return str(error)
    return "nothing"


def test_the_judge_finds_a_spare_that_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lists that no longer keep the spare that was promised are found out."""

    def no_spares(*given: object, **now: object) -> Recut:
        return recut(*given, spares=0, **now)  # type: ignore[arg-type]

    monkeypatch.setattr(build_judge, "recut", no_spares)
    assert "promised, now 0 of 0.0" in wrong_in(range(20))


def test_the_judge_finds_tube_that_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rest that is a little shorter than what was really left is found out."""

    def shorter(plan: Plan, ticks: list[Tick], *, now: Prepared | None = None) -> Recut:
        result = recut(plan, ticks, now=now)
        had = {bar.name for tube in plan.tubes for bar in tube.bars}
        bars = [] if result.plan is None else [bar for tube in result.plan.tubes for bar in tube.bars]
        rest = next((bar for bar in bars if bar.name in had), None)
        return result if rest is None else recut(plan, ticks, [BarNote(rest.name, measured=rest.length - 1)], now=now)

    monkeypatch.setattr(build_judge, "recut", shorter)
    assert "its bars are not those on the floor" in wrong_in(range(20))


def test_the_judge_finds_what_came_out_longer_than_was_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """True lengths beyond what was written of them are none that the promise holds for."""

    def longer(seed: int, most: int) -> Build:
        build = drawn(seed, most)
        for mark, one in build.truth.items():
            if one.length is not None:
                build.truth[mark] = replace(one, length=one.length + Fraction(130))
        return build

    monkeypatch.setattr(build_judge, "drawn", longer)
    assert "came out" in wrong_in(range(20))


@pytest.mark.parametrize("seed", [777036, 777538])
def test_what_lands_on_one_of_a_pair_waits_for_that_one_alone(seed):
    """One at a time the other may be sawn after it, also where it is to be measured against the one."""
    assert play(seed)["built to the end"] == 1
