"""Several services: who is asked, when, what stands in, and what is said about it."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest

from frostguard.errors import WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings, WeatherService
from frostguard.logbook.answers import LogbookArchive
from frostguard.logbook.book import in_memory
from frostguard.weather.chain import BUDGET_S
from frostguard.weather.client import WeatherClient
from frostguard.weather.forecast import forecast_or_stored, forecast_or_worst_case
from frostguard.weather.night_errors import night_errors, usual_habits
from frostguard.weather.series import Quality, WeatherSeries
from frostguard.weather.store import ForecastStore
from frostguard.weather.uncertainty import with_error_curves
from tests.unit.weather import payloads
from tests.unit.weather.payloads import ASKED, met_norway_answer, nws_answer, open_meteo_answer

OpenClient = Callable[..., AbstractContextManager[WeatherClient]]
Handler = Callable[[httpx.Request], httpx.Response]
CONTACT = "terrace@example.org"
OPEN_METEO, MET_NORWAY = "api.open-meteo.com", "api.met.no"


def down(request: httpx.Request) -> httpx.Response:
    raise httpx.ConnectError("no network")


def giving(answer: Any, status: int = 200, **headers: str) -> Handler:
    names = {name.replace("_", "-"): value for name, value in headers.items()}
    return lambda request: httpx.Response(status, json=answer, headers=names)


class Town:
    """A site with a store, and a network of hosts; it remembers who was asked."""

    def __init__(self, client_on: OpenClient, site: Site, folder: Path) -> None:
        self.client_on, self.site, self.folder = client_on, site, folder
        self.settings = Settings(contact=CONTACT)
        self.hosts: dict[str, Handler] = {}
        self.asked: list[httpx.Request] = []
        self.archive: LogbookArchive | None = None

    def network(self, request: httpx.Request) -> httpx.Response:
        self.asked.append(request)
        return self.hosts.get(request.url.host, down)(request)

    def ask(self, now: datetime = ASKED, how: Any = forecast_or_stored) -> WeatherSeries:
        """Each question with a client and a store object of its own, as another process would."""
        self.asked.clear()
        with self.client_on(self.network, self.settings.contact) as client:
            client.now = lambda: now
            store = ForecastStore(self.folder, archive=self.archive)
            series: WeatherSeries = how(self.site, self.settings, client=client, store=store, now=now)
            return series

    @property
    def hosts_asked(self) -> list[str]:
        return [request.url.host for request in self.asked]


@pytest.fixture
def town(client_on: OpenClient, site: Site, tmp_path: Path) -> Town:
    """The invented terrace with a contact, so that every service may be asked; nobody answers yet."""
    return Town(client_on, site, tmp_path / "cache")


def colder(answer: dict[str, Any], by_k: float) -> dict[str, Any]:
    for step in answer["properties"]["timeseries"]:
        step["data"]["instant"]["details"]["air_temperature"] -= by_k
        step["data"]["instant"]["details"]["dew_point_temperature"] -= by_k
        for name in ("air_temperature_min", "air_temperature_max"):
            details = step["data"].get("next_6_hours", {}).get("details", {})
            if name in details:
                details[name] -= by_k
    return answer


# Who is asked.


def test_the_next_service_answers_where_the_first_does_not(town: Town) -> None:
    """Open-Meteo tried three times, then MET Norway; the report can say whose forecast it is."""
    town.hosts[MET_NORWAY] = giving(met_norway_answer())
    series = town.ask()
    assert series.provenance.service == "met-norway" and "other-service:open-meteo" in series.notes
    assert town.hosts_asked[:4] == [OPEN_METEO] * 3 + [MET_NORWAY]


def test_the_order_is_the_settings(town: Town) -> None:
    """With MET Norway first it is asked first; Open-Meteo, behind it, is the second opinion."""
    town.settings = replace(
        town.settings, weather_services=(WeatherService.MET_NORWAY, WeatherService.OPEN_METEO)
    )
    town.hosts = {MET_NORWAY: giving(met_norway_answer()), OPEN_METEO: giving(open_meteo_answer())}
    series = town.ask()
    assert series.provenance.service == "met-norway" and town.hosts_asked == [MET_NORWAY, OPEN_METEO]
    assert not [note for note in series.notes if note.startswith("other-service")]


def test_services_that_want_a_contact_are_not_asked_without(town: Town) -> None:
    """Without a contact MET Norway is left alone; only those that ask for none are tried."""
    town.settings = replace(town.settings, contact=None)
    with pytest.raises(WeatherUnavailable):
        town.ask()
    assert set(town.hosts_asked) == {OPEN_METEO, "api.brightsky.dev"}
    town.settings = replace(town.settings, weather_services=(WeatherService.MET_NORWAY,))
    with pytest.raises(WeatherUnavailable, match="None of the weather services"):
        town.ask()


def test_when_all_fail_each_is_named(town: Town) -> None:
    """The sentence begins with the first service; the figure to reckon with stands in the plan alone."""
    with pytest.raises(WeatherUnavailable) as caught:
        town.ask()
    message = caught.value.message
    assert message.startswith("api.open-meteo.com cannot be reached.") and "api.met.no cannot" in message
    assert "nothing is known of it" in message and "deg" not in message and "°" not in message


def test_all_services_together_keep_to_the_budget(town: Town, fake_time: Any) -> None:
    """A first service that hangs does not eat the time of those behind it."""

    def hanging(request: httpx.Request) -> httpx.Response:
        fake_time.elapsed_s += request.extensions["timeout"]["read"]
        raise httpx.ReadTimeout("slow")

    town.hosts = {OPEN_METEO: hanging, MET_NORWAY: hanging, "api.brightsky.dev": giving(payloads.bright_sky_answer())}
    series = town.ask()
    assert series.provenance.service == "bright-sky" and fake_time.elapsed_s <= BUDGET_S
    assert MET_NORWAY in town.hosts_asked


def test_an_hour_of_overload_is_bridged_and_over(town: Town) -> None:
    """Status 503 for an hour: every question gets the kept answer, dated; then the service is heard again."""
    town.settings = replace(town.settings, weather_services=(WeatherService.OPEN_METEO,))
    town.hosts[OPEN_METEO] = giving(open_meteo_answer())
    town.ask()
    town.hosts[OPEN_METEO] = giving({"error": True, "reason": "The service is overloaded"}, status=503)
    for minutes in (61, 80, 100, 120):
        series = town.ask(ASKED + timedelta(minutes=minutes))
        assert series.provenance.from_store and series.provenance.fetched == ASKED
    town.hosts[OPEN_METEO] = giving(open_meteo_answer())
    assert not town.ask(ASKED + timedelta(minutes=125)).provenance.from_store


def test_one_process_at_a_time_asks_and_the_other_uses_its_answer(town: Town, fake_time: Any) -> None:
    """While another process has its turn this one waits; then the other's fresh answer serves both."""
    town.hosts[OPEN_METEO] = giving(open_meteo_answer())
    town.ask()
    path = ForecastStore(town.folder).path("open-meteo", town.site.latitude_deg, town.site.longitude_deg)
    fetched_later = path.read_text().replace(ASKED.isoformat(), (ASKED + timedelta(hours=3)).isoformat())
    other = ForecastStore(town.folder).turn(wait_s=0.0, sleep=fake_time.sleep, monotonic=fake_time.monotonic)
    other.__enter__()

    def other_finishes(seconds: float) -> None:
        fake_time.sleep(seconds)
        if len(fake_time.waits_s) == 3:
            path.write_text(fetched_later)
            other.__exit__(None, None, None)

    town.settings = replace(town.settings, weather_services=(WeatherService.OPEN_METEO,))
    with town.client_on(town.network, CONTACT) as client:
        client.sleep = other_finishes
        later = ASKED + timedelta(hours=3)
        town.asked.clear()
        series = forecast_or_stored(
            town.site, town.settings, client=client, store=ForecastStore(town.folder), now=later
        )
    assert town.asked == [] and series.provenance.fetched == later


def test_a_process_that_hangs_does_not_silence_another(town: Town, fake_time: Any) -> None:
    """The turn is waited for no longer than the service's share of the time; then it is asked all the same."""
    town.settings = replace(town.settings, weather_services=(WeatherService.OPEN_METEO,))
    town.hosts[OPEN_METEO] = giving(open_meteo_answer())
    with ForecastStore(town.folder).turn(wait_s=0.0, sleep=fake_time.sleep, monotonic=fake_time.monotonic):
        series = town.ask()
    assert series.provenance.fetched == ASKED and fake_time.elapsed_s <= BUDGET_S


# Conditional requests and rest.

LAST_MODIFIED = "Wed, 14 Jan 2026 14:18:07 GMT"


def dated(answer: Any, hours: float) -> Handler:
    """An answer that is good for some hours by its headers, and 304 to who has it already."""
    until = (ASKED + timedelta(hours=hours)).strftime("%a, %d %b %Y %H:%M:%S GMT")
    now = ASKED.strftime("%a, %d %b %Y %H:%M:%S GMT")
    headers = {"Last-Modified": LAST_MODIFIED, "Expires": until, "Date": now}

    def handler(request: httpx.Request) -> httpx.Response:
        if request.headers.get("If-Modified-Since") == LAST_MODIFIED:
            later = {"Expires": "Wed, 14 Jan 2026 19:00:00 GMT", "Date": "Wed, 14 Jan 2026 17:00:00 GMT"}
            return httpx.Response(304, headers=later)
        return httpx.Response(200, json=answer, headers=headers)

    return handler


@pytest.fixture
def norway(town: Town) -> Town:
    """A town that asks MET Norway alone."""
    town.settings = replace(town.settings, weather_services=(WeatherService.MET_NORWAY,))
    town.hosts[MET_NORWAY] = dated(met_norway_answer(), 2.0)
    return town


def test_nobody_is_asked_before_an_answer_expires(norway: Town) -> None:
    """Good for two hours by its headers: after ninety minutes, in another process, it serves again."""
    first = norway.ask()
    again = norway.ask(ASKED + timedelta(minutes=90))
    assert norway.asked == [] and not again.provenance.from_store
    np.testing.assert_array_equal(first.values["air_temperature_c"], again.values["air_temperature_c"])


def test_an_expired_answer_is_asked_about_by_its_exact_date(norway: Town) -> None:
    """Status 304 keeps body and fetch time, and renews the expiry: two more hours of peace."""
    norway.ask()
    later = ASKED + timedelta(minutes=150)
    series = norway.ask(later)
    assert [request.headers["If-Modified-Since"] for request in norway.asked] == [LAST_MODIFIED]
    assert series.provenance.fetched == ASKED and not series.provenance.from_store
    norway.ask(later + timedelta(minutes=110))
    assert norway.asked == []


def test_another_question_is_no_conditional_one(norway: Town) -> None:
    """For another height the kept answer's date says nothing."""
    norway.ask()
    norway.site = replace(norway.site, elevation_m=320.0)
    norway.ask(ASKED + timedelta(hours=3))
    assert "If-Modified-Since" not in norway.asked[0].headers


def test_an_interface_that_will_end_is_noted(norway: Town) -> None:
    """Status 203 is good data and a warning."""
    norway.hosts[MET_NORWAY] = giving(met_norway_answer(), status=203)
    assert "service-deprecated:met-norway" in norway.ask().notes
    assert "service-deprecated:met-norway" in norway.ask().notes  # kept, and still said


def test_a_service_that_forbids_is_left_alone_for_a_day(norway: Town) -> None:
    """Status 403 once; for a day no process asks again, then one does."""
    norway.hosts[MET_NORWAY] = giving("<html>", status=403)
    for hours, asked in ((0, 1), (5, 0), (23, 0), (25, 1)):
        with pytest.raises(WeatherUnavailable):
            norway.ask(ASKED + timedelta(hours=hours))
        assert len(norway.asked) == asked


# Points and cells.


@pytest.fixture
def florida(town: Town) -> Town:
    """A town under api.weather.gov alone."""
    town.site = replace(
        town.site, latitude_deg=30.01, longitude_deg=-84.99, elevation_m=12.0, time_zone="America/New_York"
    )
    town.settings = replace(town.settings, weather_services=(WeatherService.NWS,))
    town.hosts["api.weather.gov"] = us_weather
    return town


def us_weather(request: httpx.Request) -> httpx.Response:
    if request.url.path.startswith("/points/"):
        return httpx.Response(200, json={"properties": {"gridId": "TAE", "gridX": 58, "gridY": 65}})
    assert request.url.path == "/gridpoints/TAE/58,65"
    return httpx.Response(200, json=nws_answer())


@pytest.mark.parametrize(("status", "told"), [(429, "asked too often"), (503, "has trouble, status 503")])
def test_a_service_that_says_when_is_not_asked_before(town: Town, status: int, told: str) -> None:
    """With Retry-After of half an hour, longer than patience, no process asks again before that."""
    town.settings = replace(town.settings, weather_services=(WeatherService.OPEN_METEO,))
    town.hosts[OPEN_METEO] = giving({"error": True, "reason": "quota"}, status=status, Retry_After="1800")
    with pytest.raises(WeatherUnavailable, match=told):
        town.ask()
    town.hosts[OPEN_METEO] = giving(open_meteo_answer())
    with pytest.raises(WeatherUnavailable, match="is not asked again before"):
        town.ask(ASKED + timedelta(minutes=29))
    assert not town.asked
    assert town.ask(ASKED + timedelta(minutes=31)).provenance.service == "open-meteo"


def test_the_cell_of_a_place_is_asked_once(florida: Town) -> None:
    """Point, then grid; later the grid alone, without any query that the service would refuse."""
    assert florida.ask().provenance.service == "nws"
    assert [request.url.path for request in florida.asked] == ["/points/30.01,-84.99", "/gridpoints/TAE/58,65"]
    florida.ask(ASKED + timedelta(hours=2))
    assert [str(request.url) for request in florida.asked] == [
        "https://api.weather.gov/gridpoints/TAE/58,65"
    ]


@pytest.mark.parametrize("archived", [False, True])
def test_a_cell_that_is_gone_is_looked_up_anew(florida: Town, archived: bool) -> None:
    """Status 404 for the grid forgets the cell, in the archive's despite; after the rest the point is asked again."""
    with in_memory() as book:
        florida.archive = LogbookArchive(book) if archived else None
        _lose_the_cell(florida)


def _lose_the_cell(florida: Town) -> None:
    florida.ask()
    florida.hosts["api.weather.gov"] = giving({"title": "Not Found", "status": 404}, status=404)
    assert florida.ask(ASKED + timedelta(hours=2)).provenance.from_store
    florida.hosts["api.weather.gov"] = us_weather
    florida.ask(ASKED + timedelta(hours=27))
    assert florida.asked[0].url.path.startswith("/points/")


def test_a_grid_left_lying_is_not_used(florida: Town) -> None:
    """An update 19 hours old, as an edge cache once served it, counts as none."""
    florida.hosts["api.weather.gov"] = lambda request: (
        us_weather(request)
        if "points/3" in request.url.path
        else httpx.Response(200, json=nws_answer(updated=ASKED - timedelta(hours=19)))
    )
    with pytest.raises(WeatherUnavailable, match="too old to use"):
        florida.ask()


def test_outside_its_country_the_service_is_passed_over(town: Town) -> None:
    """In Ljubljana nobody asks api.weather.gov."""
    with pytest.raises(WeatherUnavailable):
        town.ask()
    assert "api.weather.gov" not in town.hosts_asked


def test_a_point_that_hangs_keeps_to_the_budget(florida: Town, fake_time: Any) -> None:
    """The look-up of the cell and the grid share the time that the service has."""

    def hanging(request: httpx.Request) -> httpx.Response:
        fake_time.elapsed_s += request.extensions["timeout"]["read"]
        raise httpx.ReadTimeout("slow")

    florida.hosts["api.weather.gov"] = hanging
    with pytest.raises(WeatherUnavailable, match="did not answer in time"):
        florida.ask()
    assert fake_time.elapsed_s <= BUDGET_S


# Frozen runs.


def test_a_run_that_repeats_itself_for_a_day_is_found_out(town: Town) -> None:
    """However often it is asked: after 20 hours of the same the next service is, and it is said."""
    town.hosts = {OPEN_METEO: giving(open_meteo_answer())}
    for hours in (0, 3, 9, 18):
        assert town.ask(ASKED + timedelta(hours=hours)).provenance.service == "open-meteo"
    late = ASKED + timedelta(hours=22)
    town.hosts[MET_NORWAY] = giving(
        met_norway_answer(first=datetime(2026, 1, 15, 12, tzinfo=UTC), updated=late)
    )
    series = town.ask(late)
    assert series.provenance.service == "met-norway"
    assert {"frozen-run:open-meteo:22", "other-service:open-meteo"} <= set(series.notes)


def test_a_frozen_run_alone_stands_in_as_old_as_it_is(town: Town) -> None:
    """Fetched this minute, but made 22 hours ago: that is its age, and its spread is wider."""
    town.hosts = {OPEN_METEO: giving(open_meteo_answer())}
    fresh = town.ask()
    town.ask(ASKED + timedelta(hours=9))
    late = ASKED + timedelta(hours=22)
    series = town.ask(late)
    assert series.provenance.from_store and series.provenance.fetched == ASKED
    assert "stored-answer:22" in series.notes
    minutes_later = town.ask(late + timedelta(minutes=5))  # fetched within the hour, and still not fresh
    assert minutes_later.provenance.from_store and minutes_later.provenance.fetched == ASKED
    zone = town.site.time_zone
    assert night_errors(series, late, zone)[1].spread_k > night_errors(fresh, ASKED, zone)[1].spread_k


def test_a_new_run_ends_the_suspicion(town: Town) -> None:
    """One changed tenth in the hours ahead is a new forecast."""
    town.hosts = {OPEN_METEO: giving(open_meteo_answer())}
    town.ask()
    changed = open_meteo_answer()
    changed["hourly"]["temperature_2m"][-30] += 0.1
    town.hosts = {OPEN_METEO: giving(changed)}
    assert not town.ask(ASKED + timedelta(hours=22)).provenance.from_store


# Two opinions.


def test_services_that_differ_widen_the_doubt(town: Town) -> None:
    """MET Norway is 4 K colder tonight: temperatures stay, the spread grows, and it is said."""
    town.hosts = {
        OPEN_METEO: giving(open_meteo_answer()),
        MET_NORWAY: giving(colder(met_norway_answer(), 4.0)),
    }
    series = town.ask()
    assert "services-differ:met-norway:-4.0" in series.notes
    town.hosts[MET_NORWAY] = giving(met_norway_answer())
    alike = town.ask(ASKED + timedelta(hours=1))
    assert "service_difference_k" not in alike.values
    wide, usual = (night_errors(one, ASKED, town.site.time_zone)[0].spread_k for one in (series, alike))
    assert wide == pytest.approx((usual**2 + 2.0**2) ** 0.5)
    np.testing.assert_array_equal(
        series.values["air_temperature_c"], alike.values["air_temperature_c"]
    )


def test_a_second_opinion_that_fails_is_no_trouble(town: Town, fake_time: Any) -> None:
    """It is asked once, without waiting, and nothing is noted."""
    town.hosts = {OPEN_METEO: giving(open_meteo_answer())}
    assert town.ask().notes == () and fake_time.waits_s == []
    assert town.hosts_asked == [OPEN_METEO, MET_NORWAY]


# What one lends to another.


def test_past_hours_come_from_the_kept_answer_of_another(town: Town) -> None:
    """MET Norway gives no past; yesterday's kept answer lends its month, flagged, and not its future."""
    town.hosts = {OPEN_METEO: giving(open_meteo_answer())}
    town.ask()
    later = ASKED + timedelta(hours=24)
    town.hosts = {
        MET_NORWAY: giving(
            colder(met_norway_answer(first=datetime(2026, 1, 15, 14, tzinfo=UTC), updated=later), 1.0)
        )
    }
    series = town.ask(later)
    assert series.times[0] == np.datetime64("2025-12-15T00:00:00")
    assert "history-of-other-service:open-meteo" in series.notes
    assert series.provenance.credit == "Data from MET Norway; Weather data by Open-Meteo.com"
    begins = int((np.datetime64("2026-01-15T14:00:00") - series.times[0]) / np.timedelta64(3600, "s"))
    code = series.quality["air_temperature_c"][0]
    assert (code[:begins] == Quality.FILLED).all() and code[begins] == Quality.GIVEN
    assert series.values["air_temperature_c"][0, begins] == 2.0  # 3 degC at 14:00, 1 K colder


def test_members_borrow_history_and_columns_from_the_same_house(town: Town) -> None:
    """The ensemble leads with its members; the deterministic forecast lends the month and the rest."""
    order = (WeatherService.OPEN_METEO_ENSEMBLE, WeatherService.OPEN_METEO)
    town.settings = replace(town.settings, weather_services=order)
    forecast = open_meteo_answer()
    forecast["hourly"]["wind_gusts_10m"] = [4.0] * len(forecast["hourly"]["time"])
    forecast["hourly_units"]["wind_gusts_10m"] = "m/s"
    members = open_meteo_answer(first=datetime(2026, 1, 12, tzinfo=UTC), hours=24 * 10, members=31)
    town.hosts = {
        "ensemble-api.open-meteo.com": giving(members),
        OPEN_METEO: giving(forecast),
    }
    series = town.ask()
    assert series.n_members == 31 and series.n_hours == 24 * 38
    assert (series.values["wind_gust_10m_m_s"][:, -1] == 4.0).all()
    assert {"history-of-other-service:open-meteo", "columns-of-other-service:open-meteo"} <= set(series.notes)
    assert series.provenance.model == "icon_seamless_eps"


def test_a_spread_beside_the_forecast_sizes_the_doubt(town: Town) -> None:
    """The mean-and-spread models lend their spread: 1.5 K of it and 1.3 K for the place."""
    order = (WeatherService.OPEN_METEO, WeatherService.OPEN_METEO_SPREAD)
    town.settings = replace(town.settings, weather_services=order)
    spread = open_meteo_answer(first=datetime(2026, 1, 12, tzinfo=UTC), hours=24 * 10)
    spread["hourly"]["temperature_2m_spread"] = [1.5] * 240
    spread["hourly_units"]["temperature_2m_spread"] = "°C"
    town.hosts = {
        "ensemble-api.open-meteo.com": giving(spread),
        OPEN_METEO: giving(open_meteo_answer()),
    }
    series = town.ask()
    assert series.provenance.service == "open-meteo" and series.n_hours == 24 * 39
    error = night_errors(series, ASKED, town.site.time_zone)[0]
    assert error.spread_k == pytest.approx((1.5**2 + 1.3**2) ** 0.5)


# Nothing known.


def test_without_any_forecast_a_cautious_guess_for_the_date_is_made(town: Town) -> None:
    """It is noted as a guess, is cold, clear and calm, has no age, and covers the nights wanted."""
    outlook = town.ask(how=forecast_or_worst_case)
    series = outlook.series
    assert outlook.unseen is not None and "cannot be reached" in outlook.unseen.message
    assert series.provenance.service == "worst-case" and series.provenance.fetched is None
    note = next(note for note in series.notes if note.startswith("worst-case:"))
    habits = usual_habits(town.site)
    members = with_error_curves(series, ASKED, town.site.time_zone, habits=habits).values["air_temperature_c"]
    tonight = series.times <= np.datetime64("2026-01-15T12:00:00")
    lowest = float(np.median(members[:, tonight].min(axis=1)))
    assert float(note.split(":")[1]) == pytest.approx(lowest, abs=0.6) and -35 < lowest < -10
    assert series.values["cloud_cover_percent"].max() == 0.0
    assert series.times[-1] > np.datetime64("2026-01-22T12:00:00")


def test_the_guess_knows_seasons_and_hemispheres(town: Town) -> None:
    """July is milder than January in Ljubljana, and colder in the southern Andes."""
    from frostguard.weather.worst_case import cold_night_c

    july = datetime(2026, 7, 14, 14, tzinfo=UTC)
    assert cold_night_c(town.site, july) > 0.0 > cold_night_c(town.site, ASKED)
    south = replace(town.site, latitude_deg=-46.05)
    assert cold_night_c(south, july) < 0.0 < cold_night_c(south, ASKED)


def test_who_knows_the_coldest_night_of_the_place_is_not_told_a_colder_one(town):
    """On a mild coast the usual guess is far too cold; the person's word is the floor in midwinter, and warmer dates
    are milder by the season as everywhere."""
    from frostguard.weather.worst_case import cold_night_c

    midwinter, april, july = (datetime(2026, month, 20, 14, tzinfo=UTC) for month in (1, 4, 7))
    coast = replace(town.site, elevation_m=10.0)
    known = replace(coast, coldest_night_c=-6.0)

    assert cold_night_c(coast, midwinter) < -20.0
    assert cold_night_c(known, midwinter) == pytest.approx(-6.0)
    assert cold_night_c(known, april) == pytest.approx((-6.0 + cold_night_c(coast, july)) / 2.0, abs=1.0)
    assert cold_night_c(known, july) == pytest.approx(cold_night_c(coast, july), abs=0.1)


# Record lows of months at stations, from memory of the national services' tables: place, latitude, longitude,
# height [m], month, record [degC].
RECORDS = (
    ("Ljubljana", 46.1, 14.5, 299, 1, -20.3), ("Ljubljana", 46.1, 14.5, 299, 5, 0.2),
    ("Ljubljana", 46.1, 14.5, 299, 7, 7.3), ("Ljubljana", 46.1, 14.5, 299, 8, 5.8),
    ("Ljubljana", 46.1, 14.5, 299, 10, -5.2), ("Ljubljana", 46.1, 14.5, 299, 11, -14.5),
    ("Berlin", 52.5, 13.4, 50, 5, -2.9), ("Berlin", 52.5, 13.4, 50, 7, 5.4), ("Warsaw", 52.2, 21.0, 110, 7, 4.6),
    ("Madrid", 40.4, -3.7, 667, 7, 8.5), ("Davos", 46.8, 9.8, 1594, 7, -1.6), ("Moscow", 55.8, 37.6, 150, 7, 1.3),
    ("Winnipeg", 49.9, -97.2, 240, 7, 1.1), ("Minneapolis", 45.0, -93.3, 250, 7, 6.1),
    ("Minneapolis", 45.0, -93.3, 250, 1, -40.6), ("Boise", 43.6, -116.2, 870, 7, 1.7),
    ("Hobart", -42.9, 147.3, 50, 1, 3.3), ("Buenos Aires", -34.6, -58.4, 25, 1, 5.9),
)  # fmt: skip


@pytest.mark.parametrize(("place", "north", "east", "height", "month", "record"), RECORDS)
def test_the_guess_lies_near_the_records_of_the_month(
    town: Town, place: str, north: float, east: float, height: float, month: int, record: float
) -> None:
    """Not milder than the record by more than 4 K (nobody alive has seen it), nor colder by more than 8."""
    from frostguard.weather.worst_case import cold_night_c

    site = replace(town.site, latitude_deg=north, longitude_deg=east, elevation_m=height)
    guess = cold_night_c(site, datetime(2026, month, 15, 14, tzinfo=UTC))
    assert record - 8.0 <= guess <= record + 4.0, place


def test_the_guess_is_bounded_by_the_past_month(town: Town) -> None:
    """With nights of -5 in the kept month the guess is not colder than -13."""
    from frostguard.weather.files import parse_weather
    from frostguard.weather.worst_case import cold_night_c

    kept = parse_weather(json.dumps(open_meteo_answer()).encode(), "kept")
    assert cold_night_c(town.site, ASKED, kept) == -13.0
    town.hosts = {OPEN_METEO: giving(open_meteo_answer(hours=24 * 34))}
    town.ask()
    town.hosts = {}
    series = town.ask(ASKED + timedelta(days=5), how=forecast_or_worst_case).series
    ahead = series.times > np.datetime64(ASKED.replace(tzinfo=None) + timedelta(days=6))
    assert series.values["air_temperature_c"][:, ahead].min() == pytest.approx(-12.5, abs=0.3)  # 0.5 K are taken off
    known = np.isin(series.times, np.datetime64("2026-01-14T04:00:00"))
    assert series.values["air_temperature_c"][:, known].min() < 0.0  # past hours are those that were kept
