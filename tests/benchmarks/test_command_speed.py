"""How long whole commands take, beside the bare interpreter in the same run."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

pytestmark = pytest.mark.benchmark

DEMO = ("tonight", "--garden", "config/garden.yaml", "--weather")

COMMANDS = {
    "the bare interpreter": ("-c", "pass"),
    "--help": ("-m", "frostguard", "--help"),
    "tonight, clear calm night": ("-m", "frostguard", *DEMO, "samples/clear-calm-night.csv"),
    "tonight, mild": ("-m", "frostguard", *DEMO, "samples/mild.csv"),
    "tonight, windy freeze": ("-m", "frostguard", *DEMO, "samples/windy-freeze.csv"),
}

TRIES = 5


def seconds(arguments: tuple[str, ...]) -> float:
    """Elapsed seconds of one process; exit codes 0 and 3 are answers."""
    began = time.perf_counter()
    done = subprocess.run([sys.executable, *arguments], capture_output=True, check=False, timeout=600)
    assert done.returncode in (0, 3), done.stderr
    return time.perf_counter() - began


def test_table_of_commands():
    """Prints the best and the middle of some tries, and how many bare starts of Python the best amounts to."""
    bare = None
    print()
    for name, arguments in COMMANDS.items():
        times = sorted(seconds(arguments) for _ in range(TRIES))
        bare = bare or times[0]
        middle, starts = times[TRIES // 2], times[0] / bare
        print(f"{name:28} {times[0]:6.2f} s best, {middle:6.2f} s middle, {starts:6.1f} bare starts")
