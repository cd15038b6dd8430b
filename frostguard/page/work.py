"""The answer for the page, worked out in a process of its own: run as a module, writes what it found.

The heat engine lets a second process compute half, which it can only where no other threads run; in a server they do.
"""

from __future__ import annotations

import json
import pickle
import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from frostguard.advice.pictures import Pictures, pictures_of
from frostguard.advice.plan import AdvicePlan
from frostguard.errors import FrostguardError
from frostguard.garden.model import Garden
from frostguard.garden.settings import Settings
from frostguard.logbook.book import Logbook, open_logbook
from frostguard.logbook.jobs import keep_jobs
from frostguard.logbook.nights import plan_before
from frostguard.logbook.terrace import claim
from frostguard.nightly import Answer, Query, answer_by
from frostguard.notify.brief import PlanBrief
from frostguard.weather.files import load_weather

MOST_PICTURES = 60
"""Pots from which on only those in danger get their pictures."""

YESTERDAY = timedelta(hours=14)
"""A plan so old was made for another day's question: last evening's at noon, this morning's at night."""


@dataclass(frozen=True, slots=True)
class Task:
    """What to work out: the files and the logbook."""

    garden: Path
    settings: Path | None
    weather: Path | None
    logbook: Path

    def arguments(self) -> list[str]:
        """As words for a command line."""
        return [json.dumps([None if path is None else str(path) for path in
                            (self.garden, self.settings, self.weather, self.logbook)])]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trouble:
    """What went wrong, and what to do."""

    message: str
    next_step: str


@dataclass(frozen=True, slots=True)
class Shown:
    """All that the pages tell of an evening."""

    plan: AdvicePlan
    pictures: Pictures
    garden: Garden
    settings: Settings
    before: PlanBrief | None  # the plan of a day ago, where one is known
    unseen: Trouble | None  # no forecast could be had: the plan rests on a guess
    trouble: Trouble | None  # of the logbook


def work_out(task: Task, now: datetime) -> Shown:
    """Plan the evening, and put its jobs down, so that they can be signed off."""
    if task.weather is not None:  # a file is looked at as of the time that it was issued
        now = load_weather(task.weather, year=now.year).provenance.issued or now
    with open_logbook(task.logbook) as book:
        query = Query(task.garden, task.settings, task.weather, None, None, None)
        answer = answer_by(book, query, now=now)
        _put_down(book, answer, now)
        before = plan_before(book, now, YESTERDAY)
        trouble = _trouble(book.trouble)
    plan = answer.plan
    everything = len(answer.garden.pots) <= MOST_PICTURES
    pots = [pot.id for pot in answer.garden.pots] if everything else None
    return Shown(
        plan=plan,
        pictures=pictures_of(answer.reckoning, pots=pots),
        garden=answer.garden,
        settings=answer.settings,
        before=before,
        unseen=_trouble(answer.unseen),
        trouble=trouble,
    )


def _put_down(book: Logbook, answer: Answer, now: datetime) -> None:
    claim(book, answer.garden)
    today = now.astimezone(ZoneInfo(answer.plan.time_zone)).date()
    book.write(lambda connection: keep_jobs(connection, answer.plan, replace_told=True, today=today))


def _trouble(error: FrostguardError | None) -> Trouble | None:
    return None if error is None else Trouble(error.message, error.next_step)


def main() -> None:
    """Work out what the command line says, and write it to standard output."""
    garden, settings, weather, logbook = json.loads(sys.argv[1])
    task = Task(
        Path(garden),
        None if settings is None else Path(settings),
        None if weather is None else Path(weather),
        Path(logbook),
    )
    found: Shown | Trouble
    try:
        found = work_out(task, datetime.now(UTC))
    except FrostguardError as error:
        found = Trouble(error.message, error.next_step)
    pickle.dump(found, sys.stdout.buffer)


if __name__ == "__main__":
    from frostguard.page import work  # what is pickled must carry the module's own name

    work.main()
