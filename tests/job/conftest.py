"""Lets the tests of this folder share the sound base job and the broken ones made from it."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
