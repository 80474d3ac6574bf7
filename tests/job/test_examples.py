"""Guards the example jobs: both forms of each read alike, and without a fault."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from cutplan.job import read

_SCRIPT = Path(__file__).with_name("make_examples.py")
_SPEC = importlib.util.spec_from_file_location("make_examples", _SCRIPT)
assert _SPEC is not None
assert _SPEC.loader is not None
make_examples = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(make_examples)
NAMES = (
    "sand-rail-bay",
    "ladder-frame",
    "hand-rail",
    "buggy-rear",
    "roll-bar-in-place",
    "dune-frame",
    "dinghy-trolley",
    "yard-gate",
)


@pytest.mark.parametrize("name", NAMES)
def test_an_example_reads_without_a_fault_and_alike_in_both_forms(name):
    """The folder, the workbook beside it and one written anew hold the same job."""
    folder = read(make_examples.EXAMPLES / name)
    assert folder.faults == ()
    assert folder.job is not None
    assert read(make_examples.EXAMPLES / f"{name}.xlsx").job == folder.job


@pytest.mark.parametrize("name", NAMES)
def test_the_script_writes_what_is_there(name, tmp_path):
    """A workbook written from the folder today equals the one that is kept."""
    target = tmp_path / f"{name}.xlsx"
    make_examples.write_workbook(make_examples.EXAMPLES / name, target)
    fresh, kept = read(target), read(make_examples.EXAMPLES / f"{name}.xlsx")
    assert (fresh.job, fresh.remarks) == (kept.job, kept.remarks)


def test_the_hand_rail_is_the_long_one():
    """The third example keeps its 80 blanks and more."""
    job = read(make_examples.EXAMPLES / "hand-rail").job
    assert sum(member.count * len(member.marks) for member in job.members) >= 80
