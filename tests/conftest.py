"""The gate runs the same random cases every time; by hand they differ from run to run, and there may be many more.

What reads a person's files is given ``settings.default.max_examples`` cases, or a multiple of it, so that
``--hypothesis-profile=long`` has it read as many as there is time for.

Linear algebra gets one thread: tests run side by side already, and on small matrices threads only wait for each other.

Scripts of this folder can be imported by its tests.

Where tests run side by side, each worker keeps to one stretch of them until it has none left: what the tests of a
module share is made once.
"""

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import settings
from wording import as_worded  # noqa: F401, a fixture for every test

settings.register_profile("gate", derandomize=True, deadline=None)
settings.register_profile("long", max_examples=2_000, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("gate")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Neighbours stay together, and whoever is done takes half of what another still has."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)
