"""The gate runs the same random cases every time; by hand they differ from run to run."""

import os

from hypothesis import settings

settings.register_profile("gate", derandomize=True, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("gate")
