"""Learning as people ask for it, by command or on the page: from the logbook's readings to values in force."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from frostguard.errors import FrostguardError, TuningFailed
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden, Site
from frostguard.garden.settings import Settings
from frostguard.logbook.book import Logbook
from frostguard.logbook.jobs import ElseThanTheFile, times_of_jobs
from frostguard.logbook.measured import Reading
from frostguard.report.words import say
from frostguard.tuning.foretold import Foretold, foretold_by_answers, foretold_by_earlier_runs
from frostguard.tuning.happened import covered_share, happened, kept_forecasts
from frostguard.tuning.session import FORGOTTEN_AFTER_H, Session, learn
from frostguard.weather.files import load_weather_of
from frostguard.weather.lookup import client_in_turn, earlier_runs, past_weather
from frostguard.weather.series import WeatherSeries
from frostguard.weather.store import ForecastStore

LEARNT_FROM = timedelta(days=3650)

SPIN_UP = timedelta(days=14)
"""Weather before the first reading that the model runs through; see `logbook.past.WANTED`."""

COVERED_ENOUGH = 0.8
"""Share of the readings that kept answers must cover, or the archive is asked; estimate."""


@dataclass(frozen=True, slots=True)
class Sources:
    """Where the weather that happened is looked up: in a file, or by the services with their wishes and answers."""

    weather: Path | None
    wishes: Settings
    store: ForecastStore


@dataclass(frozen=True, slots=True)
class Lesson:
    """What one learning found, how many values it put into force, and what could not be looked up."""

    session: Session
    stored: int
    remarks: tuple[str, ...]


def scipy_there() -> None:
    """TuningFailed without scipy: asked early, so that nobody waits for nothing."""
    try:
        import scipy.optimize  # noqa: F401
    except ImportError as exc:
        raise TuningFailed(
            say("Tuning needs the library scipy."), next_step=say("Install it: pip install '.[tune]'.")
        ) from exc


def learn_and_keep(
    book: Logbook, garden: Garden, sources: Sources, pots: Sequence[str], *, since: datetime, now: datetime
) -> Lesson:
    """Learn from the readings since then, and put into force what helps.

    Raises
    ------
    TuningFailed
        Without scipy, or without readings.
    """
    scipy_there()
    readings = book.readings(since=since)
    if not readings:
        raise TuningFailed(
            say("There are no readings to learn from."),
            next_step=say("Note some with 'frostguard readings add' or 'readings import', or on the page."),
        )
    readings, left_out = of_pots_in_place(readings, times_of_jobs(book))
    if not readings:
        raise TuningFailed(
            " ".join(left_out), next_step=say("Ask again when the pot has stood as before for some nights.")
        )
    remarks = [*left_out]
    foretold: Foretold = {}
    if sources.weather is not None:
        series = load_weather_of(sources.weather, garden.site, year=now.year)
    else:
        first = min(one.at for one in readings)
        kept = kept_forecasts(book, garden.site, first - SPIN_UP)
        series = _happened(kept, garden.site, sources, readings, now, remarks)
        foretold = _foretold(kept, garden.site, sources, first, now, remarks)
    remarks += _outside(readings, series)
    session = learn(garden, series, load_catalogue(), readings, pots=pots, foretold=foretold)
    values = session.values()
    if values:
        book.store_tuned(values, now=now)
    return Lesson(session, len(values), tuple(remarks))


def of_pots_in_place(
    readings: Sequence[Reading], jobs: Sequence[ElseThanTheFile]
) -> tuple[tuple[Reading, ...], tuple[str, ...]]:
    """Readings without those of pots that were covered or stood elsewhere, and what is to be said of those.

    They say nothing of the pot in its place; nor do those of two days after, until which a ball has not forgotten.
    """
    forgotten = timedelta(hours=FORGOTTEN_AFTER_H)
    kept: list[Reading] = []
    left_out: Counter[str] = Counter()
    for one in readings:
        if one.pot is not None and any(
            job.pot == one.pot and job.since <= one.at and (job.until is None or one.at <= job.until + forgotten)
            for job in jobs
        ):
            left_out[one.pot] += 1
        else:
            kept.append(one)
    remarks = tuple(
        say(
            "{pot}: {count} readings are left out. By what was signed off the pot was covered then or stood "
            "elsewhere, or had been till two days before.",
            pot=pot,
            count=count,
        )
        for pot, count in left_out.items()
    )
    return tuple(kept), remarks


def _outside(readings: Sequence[Reading], weather: WeatherSeries) -> list[str]:
    """What is said of readings at times of which no weather is known."""
    first, last = (moment.astype("datetime64[s]").item().replace(tzinfo=UTC) for moment in weather.times[[0, -1]])
    count = sum(not first <= one.at <= last for one in readings)
    if not count:
        return []
    return [
        say(
            "{count} of {all} readings are left out: the weather that is known is that of {first} to {last}.",
            count=count,
            all=len(readings),
            first=f"{first:%Y-%m-%d}",
            last=f"{last:%Y-%m-%d}",
        )
    ]


def _happened(
    kept: Sequence[WeatherSeries],
    site: Site,
    sources: Sources,
    readings: Sequence[Reading],
    now: datetime,
    remarks: list[str],
) -> WeatherSeries:
    """The weather that happened: kept answers, or the archive where they leave out too much."""
    moments = [one.at for one in readings]
    if kept and covered_share(happened(kept), moments) >= COVERED_ENOUGH:
        return happened(kept)
    last = min(max(moments), now.astimezone(UTC) - timedelta(days=1))
    try:
        with client_in_turn(sources.wishes, sources.store) as client:
            return past_weather(client, site, (min(moments) - SPIN_UP).date(), last.date())
    except FrostguardError as exc:
        remarks.append(say("The weather that was is not looked up: {reason}", reason=exc.message))
        return happened(kept)


def _foretold(
    kept: Sequence[WeatherSeries],
    site: Site,
    sources: Sources,
    first: datetime,
    now: datetime,
    remarks: list[str],
) -> Foretold:
    """What was foretold of the nights since the first reading: by the service's record, over it by kept answers."""
    recorded: Foretold = {}
    try:
        with client_in_turn(sources.wishes, sources.store) as client:
            runs = earlier_runs(client, site, (now - first).days + 1)
            recorded = foretold_by_earlier_runs(runs, site.time_zone)
    except FrostguardError as exc:
        remarks.append(say("Earlier forecasts are not looked up: {reason}", reason=exc.message))
    return {**recorded, **foretold_by_answers(kept, site.time_zone)}


def undo_last(book: Logbook, now: datetime) -> None:
    """Put what was in force before the last learning into force again; TuningFailed where nothing was learnt."""
    last = book.last_learnt()
    if last is None:
        raise TuningFailed(say("Nothing was learnt yet."), next_step=say("There is nothing to take back."))
    book.undo_tuned(last, now=now)
