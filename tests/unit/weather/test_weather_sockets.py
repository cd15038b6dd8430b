"""Services that misbehave over real sockets: what the person is told, within which time, nothing lost."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from frostguard.errors import WeatherUnavailable
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings, WeatherService
from frostguard.weather.client import open_weather_client
from frostguard.weather.forecast import forecast_or_stored, forecast_or_worst_case
from frostguard.weather.manners import Patience
from frostguard.weather.series import WeatherSeries
from frostguard.weather.store import ForecastStore
from tests.unit.weather import bad_server
from tests.unit.weather.bad_server import BadServer, Behaviour
from tests.unit.weather.payloads import ASKED, met_norway_answer, open_meteo_answer

PATIENCE = Patience(connect_s=0.6, read_s=0.3, total_s=1.0, waits_s=(0.02, 0.04), wait_when_refused_s=0.05)
"""A fiftieth of the usual patience, so that the suite need not wait."""

LONGEST_S = 4.0
"""Patience, and the pauses of a machine that is busy with other things."""

OPEN_METEO, MET_NORWAY = "api.open-meteo.com", "api.met.no"


class Evening:
    """A site that asks one or two services on the loopback."""

    def __init__(self, server: BadServer, site: Site, folder: Path) -> None:
        self.server, self.site, self.store = server, site, ForecastStore(folder)
        self.settings = Settings(contact="me@example.org", weather_services=(WeatherService.OPEN_METEO,))
        self.took_s = 0.0

    def ask(self, hours_later: float = 0.0) -> WeatherSeries:
        now = ASKED + timedelta(hours=hours_later)
        began = time.monotonic()
        try:
            with open_weather_client(
                self.settings, transport=self.server.transport(), patience=PATIENCE, now=lambda: now
            ) as client:
                return forecast_or_stored(self.site, self.settings, client=client, store=self.store, now=now)
        finally:
            self.took_s = time.monotonic() - began

    @property
    def kept(self) -> bytes:
        return self.store.path("open-meteo", self.site.latitude_deg, self.site.longitude_deg).read_bytes()


@pytest.fixture
def evening(site: Site, tmp_path: Path) -> Iterator[Evening]:
    """A fresh server and an empty store."""
    server = BadServer()
    yield Evening(server, site, tmp_path / "cache")
    server.close()


# Behaviour -> words of the sentence, and how often the service is asked.
TROUBLES: dict[str, tuple[Behaviour, str, int]] = {
    "drip": (bad_server.dripping, "api.open-meteo.com answered too slowly", 1),
    "heading drips": (bad_server.dripping_heading, "api.open-meteo.com answered too slowly", 1),
    "silence": (bad_server.silent, "api.open-meteo.com did not answer in time", 3),
    "reset": (bad_server.resetting, "api.open-meteo.com cannot be reached", 3),
    "cut off": (bad_server.cut_off, "api.open-meteo.com cannot be reached", 3),
    "noise": (bad_server.noise, "api.open-meteo.com cannot be reached", 3),
    "429 storm": (bad_server.status(429), "api.open-meteo.com is asked too often", 3),
    "5xx": (bad_server.status(503), "api.open-meteo.com has trouble, status 503", 3),
    "bad request": (
        bad_server.status(400, b'{"error": true, "reason": "Bad"}'), "refuses the request with status 400 ('Bad')", 1
    ),
    "304 unasked": (bad_server.status(304, b""), "refuses the request with status 304", 1),
    "page": (bad_server.page, "The answer of Open-Meteo is a web page where data is due", 3),
    "100 MB": (bad_server.huge, "api.open-meteo.com sent an answer far too large", 1),
    "bomb": (bad_server.bomb, "api.open-meteo.com sent an answer far too large", 1),
    "not packed": (
        bad_server.status(200, b"{}", Content_Encoding="gzip"), "sent an answer that cannot be unpacked", 3
    ),
    "strange packing": (
        bad_server.status(200, b"{}", Content_Encoding="br"), "sent an answer that cannot be unpacked", 3
    ),
    "redirect": (bad_server.elsewhere, "sends the request to a strange place (elsewhere.test)", 1),
}  # fmt: skip


@pytest.mark.parametrize("trouble", TROUBLES)
def test_the_person_is_told_in_time_what_the_service_did(evening: Evening, trouble: str) -> None:
    """With nothing kept: one sentence, the right number of tries, within patience."""
    behaviour, words, tries = TROUBLES[trouble]
    evening.server.hosts[OPEN_METEO] = behaviour
    with pytest.raises(WeatherUnavailable) as caught:
        evening.ask()
    assert words in caught.value.message and "By hand tonight" in caught.value.next_step
    assert evening.took_s < LONGEST_S and len(evening.server.wires) == tries


@pytest.mark.parametrize("trouble", TROUBLES)
def test_nothing_kept_is_lost_by_trouble(evening: Evening, trouble: str) -> None:
    """The last good answer stands in, dated, and is on disk as before."""
    evening.server.hosts[OPEN_METEO] = bad_server.good(open_meteo_answer())
    evening.ask()
    before = evening.kept
    evening.server.hosts[OPEN_METEO] = TROUBLES[trouble][0]
    series = evening.ask(hours_later=2)
    assert series.provenance.from_store and series.notes == ("stored-answer:2",)
    assert evening.kept == before and evening.took_s < LONGEST_S


def test_an_hour_of_server_errors_is_lived_through(evening: Evening) -> None:
    """503 at every look for an hour: the kept answer stands in, older each time; then the service is back and
    its new answer counts, with nothing of the trouble left."""
    evening.server.hosts[OPEN_METEO] = bad_server.good(open_meteo_answer())
    evening.ask()
    evening.server.hosts[OPEN_METEO] = bad_server.status(503)
    for hours in (1.5, 1.75, 2.0, 2.25, 2.5):
        series = evening.ask(hours_later=hours)
        assert series.provenance.from_store and series.notes == (f"stored-answer:{round(hours)}",)
        assert evening.took_s < LONGEST_S
    evening.server.hosts[OPEN_METEO] = bad_server.good(open_meteo_answer())
    series = evening.ask(hours_later=2.75)
    assert not series.provenance.from_store and series.provenance.fetched == ASKED + timedelta(hours=2.75)


def test_a_service_that_never_answers_leaves_the_worst_of_the_date(evening: Evening) -> None:
    """Over the wire too, silence ends within patience, in a guess that says what went wrong."""
    evening.server.hosts[OPEN_METEO] = bad_server.silent
    with open_weather_client(
        evening.settings, transport=evening.server.transport(), patience=PATIENCE, now=lambda: ASKED
    ) as client:
        outlook = forecast_or_worst_case(
            evening.site, evening.settings, client=client, store=evening.store, now=ASKED
        )
    assert outlook.unseen is not None and "did not answer in time" in outlook.unseen.message
    assert outlook.series.provenance.service == "worst-case"


@pytest.mark.parametrize("trouble", ["silence", "reset", "429 storm", "page", "bomb"])
def test_the_second_service_answers_over_the_wire(evening: Evening, trouble: str) -> None:
    """Whatever the first does, the second is asked within the same evening."""
    evening.settings = Settings(
        contact="me@example.org", weather_services=(WeatherService.OPEN_METEO, WeatherService.MET_NORWAY)
    )
    evening.server.hosts = {
        OPEN_METEO: TROUBLES[trouble][0],
        MET_NORWAY: bad_server.good(met_norway_answer()),
    }
    series = evening.ask()
    assert series.provenance.service == "met-norway" and "other-service:open-meteo" in series.notes
    assert evening.server.wires[-1].headers["user-agent"].endswith("(me@example.org)")


@pytest.mark.parametrize("behaviour", [bad_server.huge, bad_server.bomb], ids=["100 MB", "bomb"])
def test_memory_stays_bounded(evening: Evening, behaviour: Callable[[Any], None]) -> None:
    """A hundred megabytes, or two hundred packed small, cost a few times the limit of 8 MB, not more."""
    evening.server.hosts[OPEN_METEO] = behaviour
    tracemalloc.start()
    try:
        with pytest.raises(WeatherUnavailable):
            evening.ask()
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 40e6
    assert evening.server.wires[0].sent_bytes < 40e6


def test_a_conditional_request_over_the_wire(evening: Evening) -> None:
    """200 with dates, then 304 without a body: the kept answer is good for another while."""
    evening.settings = Settings(contact="me@example.org", weather_services=(WeatherService.MET_NORWAY,))
    stamp = "Wed, 14 Jan 2026 14:18:07 GMT"
    evening.server.hosts[MET_NORWAY] = bad_server.good(met_norway_answer(), Last_Modified=stamp)
    evening.ask()
    evening.server.hosts[MET_NORWAY] = bad_server.status(304, b"")
    series = evening.ask(hours_later=2)
    assert evening.server.wires[-1].headers["if-modified-since"] == stamp.lower()
    assert not series.provenance.from_store and series.provenance.fetched == ASKED
    evening.ask(hours_later=2.5)
    assert len(evening.server.wires) == 2


def test_one_connection_at_a_time(evening: Evening) -> None:
    """Services are asked one after the other, never at once."""
    order: list[str] = []

    def counted(name: str, inner: Behaviour) -> Behaviour:
        def behave(wire: bad_server.Wire) -> None:
            order.append(f"{name} begins")
            time.sleep(0.05)
            inner(wire)
            order.append(f"{name} ends")

        return behave

    evening.settings = Settings(
        contact="me@example.org", weather_services=(WeatherService.OPEN_METEO, WeatherService.MET_NORWAY)
    )
    evening.server.hosts = {
        OPEN_METEO: counted("first", bad_server.good(open_meteo_answer())),
        MET_NORWAY: counted("second", bad_server.good(met_norway_answer())),
    }
    evening.ask()
    assert order[0] == "first begins" and order.index("first ends") < order.index("second begins")
