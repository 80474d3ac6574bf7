"""Lets these tests share the builders of ``members``."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
