"""Jobs as lines: which pots they are for."""

from __future__ import annotations

import plans
import pytest

from frostguard.advice.plan import Loss, Protection
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
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


@pytest.mark.parametrize(
    ("others", "told"),
    [
        ((), "With it 12 %."),
        ((Protection.MULCH,), "It takes its other job as well: with both 12 %."),
        ((Protection.MULCH, Protection.GROUP), "It takes its other jobs as well: with all 12 %."),
    ],
)
def test_a_chance_that_takes_several_jobs_says_so(others: tuple[Protection, ...], told: str) -> None:
    """Nobody who does one of two jobs that belong together is promised what both give."""
    roots = Loss(Tissue.WHOLE_ROOT, 0.5, 20.0, 0.12)
    wrap = plans.job("lemon", Protection.WRAP, loss_otherwise=roots, with_job=others)

    line = job_line(JobGroup((wrap,)), Clock("Europe/Ljubljana", plans.ASKED), Units.METRIC, str)

    assert told in line.replace("\xa0", " ")


@pytest.mark.parametrize(("numbers", "told"), [((4,), "Job 4."), ((4, 7), "Jobs 4 and 7."), ((None,), "")])
def test_a_line_ends_with_the_numbers_that_sign_its_jobs_off(numbers: tuple[int | None, ...], told: str) -> None:
    """Every number of a group is told; a job that no logbook knows has none."""
    group = JobGroup(tuple(plans.job("lemon", Protection.FLEECE, label="Lemon", number=one) for one in numbers))

    line = job_line(group, Clock("Europe/Ljubljana", plans.ASKED), Units.METRIC, str)

    assert line.endswith(told)
    assert ("Job" in line) == bool(told)
