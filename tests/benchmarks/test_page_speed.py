"""How long each page takes once the evening is worked out, beside the smallest answer that the same server gives."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest

from frostguard.page.work import Task
from tests.e2e.command import DEMO_GARDEN, SAMPLES
from tests.served_page import Terrace

pytestmark = pytest.mark.benchmark

PAGES = ("/ticks.js", "/", "/nights", "/pots", "/pot/lemon", "/pot/lemon/change", "/new-pot", "/readings", "/taught",
         "/book", "/settings", "/report")  # fmt: skip
"""The first one needs neither garden nor logbook: what the server and the line take."""

WANTED_S = 0.3
TRIES = 7


def test_table_of_pages(tmp_path: Path):
    """Prints the best and the middle of some tries on the demo garden, how many smallest answers the best amounts to,
    and what is slower than is wanted.
    """
    garden = shutil.copy(DEMO_GARDEN, tmp_path / "garden.yaml")
    terrace = Terrace(Task(Path(garden), None, SAMPLES / "clear-calm-night.csv", tmp_path / "d" / "logbook.sqlite3"))
    try:
        visitor, least = terrace.answered(), None
        print()
        for address in PAGES:
            times = []
            for _ in range(TRIES):
                began = time.perf_counter()
                answer = visitor.get(address)
                times.append(time.perf_counter() - began)
                assert answer.status_code == 200
            best, middle = min(times), sorted(times)[TRIES // 2]
            least = least or best
            slow = f"  more than {WANTED_S * 1000:.0f} ms" if best > WANTED_S else ""
            print(f"{address:20} {best * 1e3:7.1f} ms best {middle * 1e3:7.1f} ms middle {best / least:7.1f} x{slow}")
    finally:
        terrace.stop()
