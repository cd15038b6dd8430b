"""Jobs as lines: which pots they are for."""

from __future__ import annotations

import plans
import pytest

from frostguard.advice.plan import Protection
from frostguard.report.jobs import job_name


@pytest.mark.parametrize(
    ("count", "alike", "name"),
    [(1, 1, "Oleander"), (6, 6, "Oleander x 6"), (4, 6, "Oleander (4 of 6)"), (1, 6, "Oleander (1 of 6)")],
)
def test_a_job_for_some_of_several_alike_says_for_how_many(count: int, alike: int, name: str) -> None:
    """One pot by its name, all alike with their number, some of them with both numbers."""
    job = plans.job("oleander", Protection.FLEECE, label="Oleander", count=count, alike=alike)

    assert job_name(job) == name
