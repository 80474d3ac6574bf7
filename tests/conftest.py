"""The gate runs the same random cases every time; by hand they differ from run to run, and there may be many more.

What reads a person's files is given ``settings.default.max_examples`` cases, or a multiple of it, so that
``--hypothesis-profile=long`` has it read as many as there is time for.

Linear algebra gets one thread: tests run side by side already, and on small matrices threads only wait for each other.

Scripts of this folder can be imported by its tests.

Tests start many processes. What they import is compiled once for all of them, whatever the environment says of files of
bytecode: without them each would spend half a second or more on compiling the package anew.

Until the tests are collected nothing is thrown away, and what is there then is there to the end: looking through it for
garbage is a fifth of the time that collecting takes.

Where tests run side by side, each worker keeps to one stretch of them until it has none left: what the tests of a
module share is made once.
"""

import gc
import os
import sys
from pathlib import Path

import pytest

gc.disable()
sys.path.insert(0, str(Path(__file__).parent))

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

from hypothesis import settings  # noqa: E402
from wording import as_worded  # noqa: E402, F401, a fixture for every test

settings.register_profile("gate", derandomize=True, deadline=None)
settings.register_profile("long", max_examples=2_000, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("gate")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Neighbours stay together, and whoever is done takes half of what another still has."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)


def pytest_collection_finish() -> None:
    """From here on garbage is collected, but not looked for among the tests themselves."""
    gc.freeze()
    gc.enable()
