"""What the times of sign-offs tell of how fast a person works."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta

import plans
import pytest

from frostguard.advice.plan import Protection
from frostguard.logbook import jobs
from frostguard.logbook.book import Logbook, in_memory
from frostguard.logbook.jobs import Word
from frostguard.logbook.pace_of_work import FASTEST, SLOWEST, pace_of_work

EACH_MIN = 4.0


@pytest.fixture
def book() -> Iterator[Logbook]:
    """An empty logbook."""
    with in_memory() as opened:
        yield opened


def worked(book: Logbook, gaps_min: Sequence[float], *, name: str = "Ana", told_pace: float = 1.0) -> None:
    """Jobs of four minutes each, told at that pace and signed off one after the other with these gaps."""
    minutes = EACH_MIN * told_pace
    told = tuple(plans.job(f"pot{n}", Protection.FLEECE, minutes=minutes) for n in range(len(gaps_min) + 1))
    plan = plans.plan(jobs=told, pace_of_work=told_pace)
    book.write(lambda connection: jobs.keep_jobs(connection, plan, replace_told=True, today=plans.NIGHT))
    at = plans.ASKED
    for job, gap in zip(jobs.listed(book, plans.NIGHT), (0.0, *gaps_min), strict=True):
        at += timedelta(minutes=gap)
        jobs.sign_off(book, [job], Word.FINISHED, name, at)


def test_without_sign_offs_jobs_take_what_they_are_reckoned_with(book: Logbook) -> None:
    """Nobody is slow before anything is known."""
    assert pace_of_work(book) == 1.0


def test_who_takes_longer_is_given_longer(book: Logbook) -> None:
    """Twenty jobs of four minutes at six minutes each: (60 + 120) / (60 + 80) of the reckoned time."""
    worked(book, [6.0] * 20)

    assert pace_of_work(book) == pytest.approx(180.0 / 140.0)


def test_pauses_and_ticking_off_at_the_end_tell_nothing(book: Logbook) -> None:
    """An hour of tea is no work, and ten jobs signed off within a minute were not done in it."""
    worked(book, [60.0, *[0.1] * 10])

    assert pace_of_work(book) == 1.0


def test_what_was_learnt_is_not_learnt_again_on_top(book: Logbook) -> None:
    """Jobs told with six minutes that take six minutes leave the pace where it was learnt, not back at one."""
    worked(book, [6.0] * 60, told_pace=1.5)

    assert 1.3 < pace_of_work(book) <= 1.5


@pytest.mark.parametrize(("gap_min", "bound"), [(11.9, SLOWEST), (1.0, FASTEST)])
def test_odd_sign_offs_move_it_only_so_far(book: Logbook, gap_min: float, bound: float) -> None:
    """However many there are, it stays within half and two and a half times."""
    worked(book, [gap_min] * 299)

    assert pace_of_work(book) == bound
