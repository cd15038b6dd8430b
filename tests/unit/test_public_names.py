"""The names that other programs may use."""

from __future__ import annotations

import subprocess
import sys

import frostguard


def test_every_public_name_can_be_imported():
    """What `__all__` lists is there, and nothing is offered that is not listed."""
    assert sorted(frostguard._HOMES) == frostguard.__all__
    for name in frostguard.__all__:
        assert getattr(frostguard, name) is not None


def test_importing_the_package_loads_no_numerics():
    """The package itself costs nothing; numpy comes with the first name that needs it."""
    code = "import sys, frostguard; print('numpy' in sys.modules, 'pandas' in sys.modules)"

    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert answer.stdout.split() == ["False", "False"]
