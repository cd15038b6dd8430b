"""Tonight's forecast for a site: from the first service that answers, or the last good answer in its stead.

The order is the settings'. What happens when: a kept answer that is younger than an hour, or that its service
calls good, is used again; else the service is asked, and told the date of the kept answer; the next one
follows where it refuses, does not answer within its share of the time, or sends what is left lying or
cannot be read. Where none answers, the youngest kept answer that covers the night stands in, dated.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from frostguard.errors import ForecastFormatError, WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.weather import gates
from frostguard.weather.chain import Round
from frostguard.weather.client import WeatherClient
from frostguard.weather.gates import Note
from frostguard.weather.manners import BY_HAND
from frostguard.weather.opinions import completed_from, with_difference
from frostguard.weather.series import WeatherSeries, with_notes
from frostguard.weather.services import Service, usable_services, without_contact
from frostguard.weather.store import ForecastStore
from frostguard.weather.worst_case import worst_case

OLD = timedelta(hours=24)
"""A stand-in older than this is warned of loudly."""

SECOND_OPINION_S = 12.0
"""Time for an answer that is good to have but not needed, asked for once [s]."""


def fetch_forecast(client: WeatherClient, site: Site, settings: Settings) -> WeatherSeries:
    """The forecast of the first usable service of the settings, asked now.

    Parameters
    ----------
    client : WeatherClient
        From `open_weather_client`.
    site : Site
        The place.
    settings : Settings
        For the order of services and the number of nights.

    Raises
    ------
    WeatherUnavailable, ForecastFormatError
        If the service does not answer in time, or not readably, or with a frozen old run.
    """
    chain = Round(site, settings, client, None, client.now())
    return chain.fetch(_usable(settings, site)[0], None, None, None)[1]


def forecast_or_stored(
    site: Site,
    settings: Settings,
    *,
    client: WeatherClient,
    store: ForecastStore,
    now: datetime,
    asking: Callable[[str], None] | None = None,
) -> WeatherSeries:
    """The forecast, reused within an hour, fetched anew, or else the last good one, dated.

    Parameters
    ----------
    site, settings : Site, Settings
        The place, the order of services, and how many nights.
    client : WeatherClient
        From `open_weather_client`.
    store : ForecastStore
        Where the last good answers are; usually in `places.weather_store()`.
    now : datetime
        Aware.
    asking : callable, optional
        Told the name of each service as it is asked.

    Returns
    -------
    WeatherSeries
        `provenance.from_store` is true where a stored answer stands in; `notes` tell its age, another
        service than the first, services that differ, and anything wrong with the store. Past hours
        that a service does not give come from kept answers. A store that fails never stops an answer.

    Raises
    ------
    WeatherUnavailable
        If nothing could be fetched and nothing stored covers the coming night; the next step says
        what to do by hand tonight.
    """
    services = _usable(settings, site)
    chain = Round(site, settings, client, store, now, asking)
    for position, service in enumerate(services):
        series = chain.answer_of(service, behind=len(services) - 1 - position)
        if series is not None:
            if position:
                chain.note(Note.OTHER_SERVICE.of(services[0].code))
            return with_notes(_completed(chain, service, series, services), *chain.notes)
    kept = _kept_answers(chain, services)
    standing_in = _stand_in(chain, kept)
    if standing_in is None:
        raise WeatherUnavailable(_nothing_known(chain), next_step=BY_HAND)
    return with_notes(standing_in, *chain.notes)


@dataclass(frozen=True, slots=True)
class Outlook:
    """The weather to reckon with, and why it is only a guess; None where it is a forecast."""

    series: WeatherSeries
    unseen: WeatherUnavailable | None


def forecast_or_worst_case(
    site: Site,
    settings: Settings,
    *,
    client: WeatherClient,
    store: ForecastStore,
    now: datetime,
    asking: Callable[[str], None] | None = None,
) -> Outlook:
    """As `forecast_or_stored`, but a cautious guess for the date where nothing is known.

    The guess carries the note "worst-case" and no age. It shows which pots could be in danger; it must
    never be told as a forecast, nor "nothing to do" be believed on its word.
    """
    try:
        return Outlook(
            forecast_or_stored(site, settings, client=client, store=store, now=now, asking=asking), None
        )
    except WeatherUnavailable as unseen:
        chain = Round(site, settings, client, store, now)
        kept = _kept_answers(chain, usable_services(settings, site))
        guess = worst_case(site, now, settings.days, kept[0] if kept else None)
        return Outlook(with_notes(guess, *chain.notes), unseen)


def _usable(settings: Settings, site: Site) -> tuple[Service, ...]:
    services = usable_services(settings, site)
    if not services:
        raise WeatherUnavailable(
            "None of the weather services in the settings can be asked about this place.",
            next_step="Put open-meteo into weather_services, or give a contact for those that want one.",
        )
    return services


def _nothing_known(chain: Round) -> str:
    first, *others = [problem.message.splitlines()[0] for problem in chain.problems]
    also = f" Tried too: {' '.join(others)}" if others else ""
    return (
        f"{first} No stored forecast reaches through the coming night; nothing is known of it."
        f"{also}{_not_asked(chain)}"
    )


def _not_asked(chain: Round) -> str:
    """Which services of the settings were left out for want of a contact."""
    names = " and ".join(service.name for service in without_contact(chain.settings, chain.site))
    return f" Not asked: {names}, for want of a contact in the settings." if names else ""


def _completed(
    chain: Round, service: Service, series: WeatherSeries, services: tuple[Service, ...]
) -> WeatherSeries:
    """The series with a second opinion, and with the hours and columns that others can lend."""
    others = [other for other in services if other.code != service.code]
    lending = {other.code: _beside(chain, service, other) for other in others if other.home == service.home}
    stranger = next((other for other in others if other.home != service.home), None)
    if stranger is not None:
        second = lending[stranger.code] = _beside(chain, service, stranger)
        if second is not None:
            series = with_difference(series, second, chain.now, chain.site.time_zone)
    for other in others:
        lender = lending.get(other.code) or chain.kept_series(other)
        if lender is not None:
            # interfaces of one house share their models, so that columns of one fit those of another
            series = completed_from(series, lender, columns=other.home == service.home)
    return series


def _beside(chain: Round, service: Service, other: Service) -> WeatherSeries | None:
    """Another service's answer, good to have: kept, or asked once if the first was asked just now."""
    kept = chain.reusable(other)
    if kept is not None or service.code not in chain.asked or other.code in chain.in_vain:
        return kept
    left_s = min(SECOND_OPINION_S, chain.ends_s - chain.client.monotonic())
    with suppress(WeatherUnavailable, ForecastFormatError):
        return chain.fetched(other, tries=1, total_s=left_s)
    return None


def _kept_answers(chain: Round, services: tuple[Service, ...]) -> list[WeatherSeries]:
    """All kept answers as series, the youngest first; one that repeated itself is as old as its first."""
    found = []
    for service in services:
        stored, series = chain.stored(service.code), chain.kept_series(service)
        if stored is not None and series is not None:
            made = stored.same_since or stored.answer.fetched
            source = replace(series.provenance, from_store=True, fetched=made)
            found.append((made, replace(series, provenance=source)))
    return [series for _, series in sorted(found, key=lambda pair: pair[0], reverse=True)]


def _stand_in(chain: Round, kept: list[WeatherSeries]) -> WeatherSeries | None:
    """The youngest kept answer that covers the coming night, dated; None if there is none."""
    night = gates.coming_night(chain.now, chain.site.time_zone)
    for series in kept:
        made = series.provenance.fetched
        covers = gates.night_is_complete(series, night, chain.site.time_zone, since=chain.now)
        if made is None or not covers:
            continue
        age = max(chain.now - made, timedelta(0))
        note = Note.STORED_OLD if age > OLD else Note.STORED
        for other in kept:
            if other is not series:
                series = completed_from(series, other, columns=False)
        return with_notes(chain.with_height_checked(series), note.of(round(age / timedelta(hours=1))))
    return None
