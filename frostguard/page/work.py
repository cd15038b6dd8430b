"""The evening's answer for the page: what is kept of it, and how it is worked out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import ClassVar
from zoneinfo import ZoneInfo

from frostguard.advice.pictures import Pictures, pictures_of, worth_a_picture
from frostguard.advice.plan import AdvicePlan
from frostguard.errors import FrostguardError
from frostguard.garden.model import Garden
from frostguard.garden.reader import load_settings
from frostguard.garden.settings import Settings
from frostguard.logbook.book import Logbook, open_logbook
from frostguard.logbook.jobs import keep_jobs, with_numbers
from frostguard.logbook.nights import plan_before
from frostguard.logbook.terrace import claim
from frostguard.nightly import Answer, Query, answer_by
from frostguard.notify.brief import PlanBrief, brief_of
from frostguard.page.yesterday import AGE, answer_before, keep_answer, kept_answers
from frostguard.report.html.page import render_page
from frostguard.weather.files import load_weather

MOST_PICTURES = 60
"""Pots from which on only those in danger get their pictures."""


@dataclass(frozen=True, slots=True)
class Task:
    """What to work with: the files and the logbook."""

    garden: Path
    settings: Path | None
    weather: Path | None
    logbook: Path

    def query(self, days: int | None = None) -> Query:
        """The question that these files are asked; `days` where fewer nights are enough."""
        return Query(self.garden, self.settings, self.weather, None, days, None)

    def wishes(self) -> Settings:
        """As the settings file says now."""
        return Settings() if self.settings is None else load_settings(self.settings)

    def moment(self, now: datetime) -> datetime:
        """Now; of a weather file the time that it was issued, since it is asked as of then."""
        return now if self.weather is None else load_weather(self.weather, year=now.year).provenance.issued or now


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
    report: str  # as `frostguard report` makes it
    unseen: Trouble | None  # no forecast could be had: the plan rests on a guess
    trouble: Trouble | None  # of the logbook


@dataclass(frozen=True, slots=True)
class Evening:
    """The order to plan the evening, and to put its jobs down, so that they can be signed off."""

    longest_s: ClassVar[float] = 300.0  # a hundred pots take half a minute

    task: Task

    def __call__(self, now: datetime) -> Shown:
        """Work it out."""
        now = self.task.moment(now)
        with open_logbook(self.task.logbook) as book:
            answer = answer_by(book, self.task.query(), now=now)
            put_down(book, answer.garden, answer.plan, now)
            plan = with_numbers(book, answer.plan)
            before = plan_before(book, now, AGE) or self._told_before(answer)
            trouble = _trouble(book.trouble)
        everything = len(answer.garden.pots) <= MOST_PICTURES
        pictures = pictures_of(answer.reckoning, pots=[pot.id for pot in answer.garden.pots] if everything else None)
        told = frozenset(worth_a_picture(answer.reckoning))
        of_report = replace(pictures, pots=tuple(one for one in pictures.pots if one.pot in told))
        return Shown(
            plan=plan,
            pictures=pictures,
            garden=answer.garden,
            settings=answer.settings,
            before=before,
            report=render_page(plan, of_report, answer.garden, answer.settings.units),
            unseen=_trouble(answer.unseen),
            trouble=trouble,
        )

    def _told_before(self, answer: Answer) -> PlanBrief | None:
        """What this page itself told yesterday; what it tells now, unless it is a guess, is kept for tomorrow."""
        folder = self.task.logbook.parent
        answers = kept_answers(folder)
        if answer.unseen is None:
            keep_answer(folder, answers, brief_of(answer.plan))
        return answer_before(answers, answer.plan.asked_at)


def put_down(book: Logbook, garden: Garden, plan: AdvicePlan, now: datetime) -> None:
    """Put a plan's jobs into the logbook, where they get their numbers."""
    claim(book, garden)
    today = now.astimezone(ZoneInfo(plan.time_zone)).date()
    book.write(lambda connection: keep_jobs(connection, plan, replace_told=True, today=today))


def _trouble(error: FrostguardError | None) -> Trouble | None:
    return None if error is None else Trouble(error.message, error.next_step)
