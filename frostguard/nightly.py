"""The way through the house: from a question to a plan. The file to read first."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from frostguard import places
from frostguard.advice.advise import Reckoning, reckon_evening
from frostguard.advice.explain import explain_pot, pot_called
from frostguard.advice.explanation import Explanation
from frostguard.advice.nights import nights_from
from frostguard.advice.plan import AdvicePlan
from frostguard.asked_time import asked_time
from frostguard.errors import LogbookUnusable, WeatherUnavailable
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden, Site
from frostguard.garden.reader import load_garden, load_settings
from frostguard.garden.settings import Settings
from frostguard.logbook.answers import LogbookArchive
from frostguard.logbook.book import Logbook, in_memory, open_logbook
from frostguard.logbook.jobs import with_numbers
from frostguard.logbook.past import with_kept_past
from frostguard.logbook.terrace import standing, with_days_before, with_told
from frostguard.notify.moment import InForce
from frostguard.weather.client import open_weather_client
from frostguard.weather.files import load_weather_of
from frostguard.weather.forecast import Outlook, forecast_or_worst_case
from frostguard.weather.series import WeatherSeries
from frostguard.weather.store import ForecastStore


@dataclass(frozen=True, slots=True)
class Query:
    """What was asked: files, time as written, nights ahead, and a pot to explain."""

    garden: Path
    settings: Path | None
    weather: Path | None
    at: str | None  # ISO 8601; without a zone it is the site's clock
    days: int | None
    explain: str | None  # a pot's id or label


@dataclass(frozen=True, slots=True)
class Answer:
    """The plan, the long answer about one pot where asked, and what they were made from.

    Where `unseen` says why no forecast could be had, the plan rests on a guess: it is never an all-clear.
    `water_fraction` is how wet each pot was taken to be, by its id [m3/m3].
    """

    plan: AdvicePlan
    explanation: Explanation | None
    garden: Garden
    settings: Settings
    weather: WeatherSeries
    reckoning: Reckoning
    in_force: tuple[InForce, ...]
    trouble: LogbookUnusable | None
    unseen: WeatherUnavailable | None
    water_fraction: Mapping[str, float] = field(default_factory=dict)


def _in_silence(_service: str) -> None:
    """Nobody waits to hear which service is asked."""


def answer_tonight(query: Query, *, now: datetime, asking: Callable[[str], None] = _in_silence) -> Answer:
    """What to do this evening, by what the logbook knows; a question about a weather file stands on the files alone."""
    live = query.weather is None
    with open_logbook(places.logbook_file()) if live else in_memory() as book:
        return answer_by(book, query, now=now, asking=asking)


def answer_by(
    book: Logbook, query: Query, *, now: datetime, asking: Callable[[str], None] = _in_silence
) -> Answer:
    """What to do this evening, by this logbook.

    Parameters
    ----------
    book : Logbook
        What was done on the terrace, and where weather answers are kept.
    query : Query
        The question.
    now : datetime
        The clock, aware; used where the question names no time.
    asking : callable, optional
        Told the name of each weather service as it is asked.

    Raises
    ------
    FrostguardError
        With one sentence and what to do instead: a faulty file, an unknown pot or time. No weather is no error
        here: then the answer rests on a guess and says so.
    """
    garden = load_garden(query.garden)
    explained = None if query.explain is None else pot_called(garden, query.explain)
    settings = Settings() if query.settings is None else load_settings(query.settings)
    if query.days is not None:
        settings = replace(settings, days=query.days)
    outlook = _weather(book, query, garden.site, settings, now, asking)
    weather = outlook.series
    at = _asked_at(query, garden.site, weather, now)
    stands = standing(book, garden, load_catalogue(), now)
    state = with_days_before(stands.state, book, weather, garden.site.time_zone)
    state = with_told(state, book, nights_from(at, garden.site, 1)[0].date)
    reckoning = reckon_evening(stands.garden, weather, state, at, settings)
    explanation = None if explained is None else explain_pot(reckoning.evening, explained)
    return Answer(
        with_numbers(book, reckoning.plan),
        explanation,
        stands.garden,
        settings,
        weather,
        reckoning,
        in_force=stands.in_force,
        trouble=book.trouble,
        unseen=outlook.unseen,
        water_fraction={
            pot.id: water.fraction
            for pot, water in zip(reckoning.evening.pots, reckoning.evening.water, strict=True)
        },
    )


def _weather(
    book: Logbook, query: Query, site: Site, settings: Settings, now: datetime, asking: Callable[[str], None]
) -> Outlook:
    """From the file that was named, else the live forecast, the last good one, or a cautious guess."""
    if query.weather is not None:
        # a typical year is laid over the year that is asked about
        return Outlook(load_weather_of(query.weather, site, year=_moment(query.at, site, now).year), None)
    store = ForecastStore(places.weather_store(), archive=LogbookArchive(book))
    with open_weather_client(settings) as client:
        outlook = forecast_or_worst_case(site, settings, client=client, store=store, now=now, asking=asking)
    if outlook.unseen is not None:
        return outlook
    return replace(outlook, series=with_kept_past(outlook.series, book, site, now))


def _asked_at(query: Query, site: Site, weather: WeatherSeries, now: datetime) -> datetime:
    """The time of the question: as asked; for a weather file the time that it was issued; else now."""
    issued = weather.provenance.issued if query.weather is not None else None
    return _moment(query.at, site, issued or now)


def _moment(written: str | None, site: Site, now: datetime) -> datetime:
    """A time as written, on the site's clock where it names no zone; now where nothing is written."""
    return now.astimezone(UTC) if written is None else asked_time(written, ZoneInfo(site.time_zone), now)
