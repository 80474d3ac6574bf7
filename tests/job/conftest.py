"""Lets the tests of this folder share the sound base job and the broken ones made from it."""

import sys
from pathlib import Path

import pytest

from cutplan.job import read

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def job_of(tmp_path):
    """Reads the base job after some edits, which must leave it sound."""

    def job(*edits):
        from broken_base import as_folder, broken_sheets

        reading = read(as_folder(broken_sheets(*edits), tmp_path))
        assert reading.faults == ()
        assert reading.job is not None
        return reading.job

    return job


@pytest.fixture
def faults_of(tmp_path):
    """The messages of the base job after some edits."""
    from broken_base import as_folder, broken_sheets

    return lambda *edits: [str(fault) for fault in read(as_folder(broken_sheets(*edits), tmp_path)).faults]
