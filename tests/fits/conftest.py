"""Lets the tests of fits use the published tables that the tests of fitting have."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "statistics" / "fitting"))
