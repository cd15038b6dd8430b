"""The hand-made plans lie beside the tests of the report; the commands' tests use them too."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))
