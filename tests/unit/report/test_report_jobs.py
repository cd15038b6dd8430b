"""Jobs as lines: which pots they are for."""

from __future__ import annotations

import plans
import pytest

from frostguard.advice.plan import Protection
from frostguard.garden.settings import Units
from frostguard.report.jobs import JobGroup, job_line, job_name
from frostguard.report.measures import Clock


@pytest.mark.parametrize(
    ("count", "alike", "name"),
    [(1, 1, "Oleander"), (6, 6, "Oleander x 6"), (4, 6, "Oleander (4 of 6)"), (1, 6, "Oleander (1 of 6)")],
)
def test_a_job_for_some_of_several_alike_says_for_how_many(count: int, alike: int, name: str) -> None:
    """One pot by its name, all alike with their number, some of them with both numbers."""
    job = plans.job("oleander", Protection.FLEECE, label="Oleander", count=count, alike=alike)

    assert job_name(job) == name


@pytest.mark.parametrize(("numbers", "told"), [((4,), "Job 4."), ((4, 7), "Jobs 4 and 7."), ((None,), "")])
def test_a_line_ends_with_the_numbers_that_sign_its_jobs_off(numbers: tuple[int | None, ...], told: str) -> None:
    """Every number of a group is told; a job that no logbook knows has none."""
    group = JobGroup(tuple(plans.job("lemon", Protection.FLEECE, label="Lemon", number=one) for one in numbers))

    line = job_line(group, Clock("Europe/Ljubljana", plans.ASKED), Units.METRIC, str)

    assert line.endswith(told)
    assert ("Job" in line) == bool(told)
