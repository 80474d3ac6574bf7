"""The check of a plan's JSON: every single value of a good one altered, left out or exchanged, one at a time."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from cutplan.errors import CutplanError
from cutplan.job.model import Units
from cutplan.output.as_json import plan_json
from cutplan.output.read_back import plan_of_json
from cutplan.plan import Prepared, complaints, length_complaints, make_plan, prepare

EXAMPLES = Path(__file__).parents[2] / "examples"
Where = tuple[str | int, ...]


def leaves(data: Any, at: Where = ()) -> Iterator[tuple[Where, Any]]:
    """Every value that is no list and no object, with the way to it."""
    if isinstance(data, dict | list):
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from leaves(value, (*at, key))
    else:
        yield at, data


def lists(data: Any, at: Where = ()) -> Iterator[Where]:
    """The way to every list with something in it."""
    if isinstance(data, dict | list):
        if isinstance(data, list) and data:
            yield at
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from lists(value, (*at, key))


def others(value: Any) -> Iterator[Any]:
    """What might stand in place of ``value``: a step more, a hair less, none, another kind."""
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int | float):
        yield from (value + 1, value - 0.001)
    elif value is None:
        yield from (1, "1")
    else:
        yield from {"GHOST", "", 1} - {value}
    if value is not None:
        yield None


@contextmanager
def put(data: Any, at: Where, value: Any) -> Iterator[None]:
    """Meanwhile, ``data`` has ``value`` there."""
    inner = within(data, at[:-1])
    before = inner[at[-1]]
    inner[at[-1]] = value
    yield
    inner[at[-1]] = before


def within(data: Any, at: Where) -> Any:
    """What is there."""
    for key in at:
        data = data[key]
    return data


def believed(data: Any, path: Path, prepared: Prepared) -> bool:
    """Whether the check finds nothing wrong with this JSON."""
    path.write_text(json.dumps(data), encoding="utf-8")
    try:
        plan = plan_of_json(path, prepared.job, prepared.blanks)
    except CutplanError:
        return False
    return not (complaints(plan) or length_complaints(plan))


def may_be(at: Where, value: Any, other: Any) -> bool:
    """Whether ``other`` may stand there as well: the job's name and that of a bar to which nothing refers; a promise
    that happens to be true (room for a longer spare, or for one more)."""
    if at[-2:] in (("spares", "length"), ("spares", "wanted")):
        return isinstance(other, int | float) and other > value
    return at == ("job",) or (at[-1] == "bar" and at[-3] == "bars" and isinstance(other, str) and bool(other))


@pytest.fixture(scope="module", params=["sand-rail-bay", "ladder-frame"])
def good(request: pytest.FixtureRequest) -> tuple[Prepared, Any]:
    """A job and the JSON of its plan, in mm and in inches."""
    prepared = prepare(EXAMPLES / request.param)
    return prepared, json.loads(json.dumps(plan_json(make_plan(prepared.job, prepared.blanks))))


def test_every_value_counts(good: tuple[Prepared, Any], tmp_path: Path) -> None:
    """No number, mark, name or word of a plan can be another unnoticed."""
    prepared, data = good
    path = tmp_path / "plan.json"
    assert believed(data, path, prepared)
    tried, passed = 0, []
    # In inches figures alone are others.
    inches = prepared.job.settings.units is Units.IN
    for at, value in list(leaves(data)):
        for other in others(value):
            if inches and not isinstance(value, int | float):
                continue
            tried += 1
            if not may_be(at, value, other):
                with put(data, at, other):
                    if believed(data, path, prepared):
                        passed.append((at, value, other))
    assert tried > (300 if inches else 700)
    assert passed == []


def test_nothing_can_be_left_out_or_stand_twice(good: tuple[Prepared, Any], tmp_path: Path) -> None:
    """Of every list the first is taken away, or put there once more, and every key is lost once."""
    prepared, data = good
    path = tmp_path / "plan.json"
    tried, passed = 0, []
    for at in list(lists(data)):
        inner = within(data, at)
        for other in (inner[1:], [*inner, inner[0]]):
            tried += 1
            with put(data, at, other):
                if believed(data, path, prepared):
                    passed.append((at, len(inner), len(other)))
    for at, value in list(leaves(data)):
        if at and isinstance(at[-1], str) and at != ("job",):
            inner = within(data, at[:-1])
            del inner[at[-1]]
            tried += 1
            if believed(data, path, prepared):
                passed.append((at, "lost", None))
            inner[at[-1]] = value
    assert tried > 300
    assert passed == []
