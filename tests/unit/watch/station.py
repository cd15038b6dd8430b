"""A check to try out: an invented garden, an invented winter, a clock that is set by hand, channels that listen.

The planner is a plain rule of the night's coldest air (as in the notices' own winter), so that what is tested is
when it is looked, what is remembered, and what goes out.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from frostguard.errors import NotificationFailed, WeatherUnavailable
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.garden.notice_settings import Tells
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings
from frostguard.logbook import jobs
from frostguard.logbook.book import Logbook, open_logbook
from frostguard.logbook.jobs import JobState, Word
from frostguard.logbook.terrace import standing
from frostguard.nightly import Answer, Query
from frostguard.notify.delivery import Delivery
from frostguard.notify.notice import Notice
from frostguard.watch.look import Round, Watch, do_what_is_due
from frostguard.weather.series import HOUR, Provenance, WeatherSeries, series_on_hours, utc_hour
from tests.unit.notify.test_winter import Winter, plan_of

ZONE = ZoneInfo("Europe/Ljubljana")
GARDEN = """\
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana}
spots:
  - {name: front}
  - {name: wash room, room: frost-free, light: bright, free_floor_m2: 3}
pots:
  - {id: lemon, plant: lemon, material: plastic, volume_l: 10, spot: front}
  - {id: fuchsia, plant: fuchsia, material: plastic, volume_l: 10, spot: front}
  - {id: camellia, plant: camellia, material: plastic, volume_l: 20, spot: front}
  - {id: bay, plant: bay, material: plastic, volume_l: 20, spot: front}
"""


@dataclass
class Ear:
    """A channel that hears everything, or nothing for a while."""

    name: str = "ear"
    tells: Tells = Tells.EVERYTHING
    heard: list[Notice] = field(default_factory=list)
    deaf: bool = False

    def send(self, notice: Notice) -> None:
        """Take the notice."""
        if self.deaf:
            raise NotificationFailed(f"{self.name}: hears nothing.", next_step="Wait.")
        self.heard.append(notice)

    @property
    def keys(self) -> list[str]:
        """What was heard."""
        return [notice.key for notice in self.heard]


def in_silence(event: str, **values: object) -> None:
    """A log that keeps nothing."""


def send_once(channel: Any, notice: Notice) -> Delivery:
    """One try, without a thread and without waiting."""
    try:
        channel.send(notice)
    except NotificationFailed as failure:
        return Delivery(channel.name, 1, failure)
    return Delivery(channel.name, 1)


@dataclass
class Station:
    """The check with its files in a folder."""

    folder: Path
    seed: int = 1
    clock: datetime = datetime(2026, 11, 30, 12, 0, tzinfo=ZONE)
    ears: list[Ear] = field(default_factory=lambda: [Ear()])
    blind: bool = False
    coldest_c: float | None = None  # every night so cold, in place of the invented winter
    fault: Exception | None = None
    unseen: WeatherUnavailable | None = None  # the plan rests on a guess
    settings_file: Path | None = None
    planned: list[datetime] = field(default_factory=list)  # from when on each plan was asked for

    def __post_init__(self) -> None:
        self.winter = Winter(self.seed)
        self.garden.write_text(GARDEN, encoding="utf-8")

    @property
    def garden(self) -> Path:
        """The garden file."""
        return self.folder / "garden.yaml"

    @property
    def path(self) -> Path:
        """The logbook."""
        return self.folder / "logbook.sqlite3"

    @contextmanager
    def book(self) -> Iterator[Logbook]:
        """The logbook, open."""
        with open_logbook(self.path, now=self.clock) as opened:
            if opened.on_disk:
                opened.rows("PRAGMA synchronous = OFF")  # what a process wrote outlives it; only power cuts need more
            yield opened

    def round(self, at: datetime | None = None) -> Round:
        """Set the clock and do what is due, as each process does: from the file."""
        if at is not None:
            self.clock = at
        with self.book() as book:
            return self.round_with(book)

    def round_with(self, book: Logbook) -> Round:
        """Do what is due by an open logbook."""
        watch = Watch(
            garden=self.garden,
            settings=self.settings_file,
            weather=None,
            book=book,
            channels=lambda _: self.ears,
            now=lambda: self.clock,
            answer=self.answer,
            margins=self.margins,
            send_one=send_once,
            log=in_silence,
        )
        return do_what_is_due(watch)

    def answer(self, book: Logbook, query: Query, *, now: datetime) -> Answer:
        """The stand-in for the planner."""
        if self.blind:
            raise WeatherUnavailable("No service answered.", next_step="Look yourself.")
        if self.fault is not None:
            raise self.fault
        assert query.at is not None
        at = datetime.fromisoformat(query.at).astimezone(ZONE)
        self.planned.append(at)
        stands = standing(book, load_garden(query.garden), load_catalogue(), now)
        local = now.astimezone(ZONE)
        forecast = self.winter.forecast(local.replace(minute=0, second=0, microsecond=0))
        if self.coldest_c is not None:
            forecast = [(night, self.coldest_c, self.coldest_c + 8.0) for night, _, _ in forecast]
        ahead = [night for night in forecast if night[0] >= at.date()]
        in_force = {one.pot for one in stands.in_force}
        plan = plan_of(ahead, at, in_force)
        return Answer(
            plan=plan,
            explanation=None,
            garden=stands.garden,
            settings=Settings(),
            weather=self.weather(local),
            reckoning=None,  # type: ignore[arg-type]
            in_force=stands.in_force,
            trouble=book.trouble,
            unseen=self.unseen,
        )

    def margins(
        self, _book: Logbook, _garden: Garden, answer: Answer, _at: datetime, pots: set[str], *, now: datetime
    ) -> dict[str, dict[date, float]]:
        """The stand-in for how pots would stand without their covers: none of them stands frost."""
        assert now == self.clock
        return {pot: {night.date: night.coldest_air_c_p10 for night in answer.plan.nights} for pot in pots}

    def weather(self, local: datetime) -> WeatherSeries:
        """Some days back and a week ahead, warmest at three o'clock."""
        midnight = datetime.combine(local.date() - timedelta(days=4), time(0), tzinfo=ZONE)
        hours = np.arange(12 * 24)
        coldest, warmest = (
            np.array([self.truth(midnight.date() + timedelta(days=int(k) // 24))[n] for k in hours]) for n in (0, 1)
        )
        share = 0.5 + 0.5 * np.cos(2 * np.pi * (hours % 24 - 15) / 24)
        place = Provenance("invented", None, local.astimezone(UTC), None, "", 46.05, 14.51, 298.0)
        return series_on_hours(
            utc_hour(midnight) + hours * HOUR, {"air_temperature_c": coldest + share * (warmest - coldest)}, place
        )

    def truth(self, day: date) -> tuple[float, float]:
        """Coldest and warmest of a day; the invented winter's, or mild beyond it."""
        return self.winter.truth.get(day, (5.0, 12.0))

    def work(self) -> None:
        """What an obliging person does in the afternoon: all open jobs of tonight."""
        with self.book() as book:
            today = self.clock.astimezone(ZONE).date()
            todo = [
                job
                for job in jobs.listed(book, today)
                if job.state is JobState.OPEN and job.night == today and job.start_by.astimezone(ZONE).date() <= today
            ]
            jobs.sign_off(book, todo, Word.FINISHED, "Ana", self.clock)


def on(day: int, hour: int, minute: int = 0, month: int = 12) -> datetime:
    """A time on the site's clock in the winter of 2026."""
    return datetime(2026, month, day, hour, minute, tzinfo=ZONE)
