"""The weather on a terminal: the chart of the nights, the services, and no word that cannot be translated."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostguard.garden.model import Site, Surroundings
from frostguard.garden.settings import Units
from frostguard.logbook.answers import KeptSize
from frostguard.report.layout import shown_width
from frostguard.report.notes import note_sentence
from frostguard.report.weather import render_sources, render_weather
from frostguard.weather.gates import Note
from frostguard.weather.outlook import NightWeather
from frostguard.weather.series import COLUMNS, Provenance
from frostguard.weather.services import SERVICES
from frostguard.weather.sources import Source, SourceState
from tests.language_of_dots import language_of_dots

SITE = Site("Terrace", 46.05, 14.51, 298.0, "Europe/Ljubljana", 18.0, Surroundings.CITY)
AT = datetime(2026, 1, 14, 14, tzinfo=UTC)
NIGHT = NightWeather(date(2026, 1, 14), True, -5.0, -8.0, -2.0, 10.0, 1.0, 0.0, True)
SOURCE = Provenance("open-meteo", None, AT, AT - timedelta(hours=3), "Weather data by X", 46.0, 14.5, 298.0)


def rendered(*nights: NightWeather, units: Units = Units.METRIC, lacking: tuple[str, ...] = ()) -> str:
    return render_weather(
        SITE, nights, SOURCE, notes=("services-differ:met-norway:-4.0",), lacking=lacking, at=AT, units=units
    )


def test_each_night_is_a_line_with_its_bar() -> None:
    """The likely value stands as a number and as the o between the ends of the dashes."""
    mild = replace(NIGHT, night=date(2026, 1, 15), likely_c=4.0, low_c=2.0, high_c=6.0, cloud_percent=95.0)
    lines = rendered(NIGHT, mild).splitlines()
    cold_line = next(line for line in lines if "14 Jan" in line)
    mild_line = next(line for line in lines if "15 Jan" in line)
    assert "-5.0" in cold_line and cold_line.rstrip().endswith("clear, calm")
    assert re.search(r" -+o-+ ", cold_line) and cold_line.index("o") < mild_line.index(" o", 20) + 1
    assert "overcast" in mild_line and ":" in cold_line
    assert cold_line.index(":", 19) == mild_line.index(":", 19)  # freezing stands in one column
    assert all(shown_width(line) <= 80 for line in lines)


def test_what_is_unknown_or_lacking_is_said() -> None:
    """No cloud, no wind, gaps, and the columns that the source does not give."""
    text = rendered(
        replace(NIGHT, cloud_percent=None, wind_m_s=None, complete=False, precipitation_mm=None),
        lacking=("wind_gust_10m_m_s", "snow_depth_m"),
    )
    flat = " ".join(text.split())
    assert "cloud unknown, wind unknown, has gaps" in flat
    assert "Not given here, so reckoned or bounded: the gusts and the snow depth." in flat
    assert "MET Norway expects tonight 4.0 degrees (Celsius) colder" in flat


def test_imperial_units_are_for_reading_only() -> None:
    """23 °F is -5 °C; rain is told in inches."""
    text = rendered(replace(NIGHT, precipitation_mm=5.08), units=Units.IMPERIAL)
    assert " 23.0 " in text and "0.20 in wet" in text and "°F" in text


def test_no_hours_ahead_is_said() -> None:
    """A file of the past has no nights to show."""
    assert "No hours ahead are known." in rendered()


def sources_text(*sources: Source) -> str:
    archived = KeptSize(7, 4_321, AT - timedelta(days=3))
    return render_sources(sources, SITE, now=AT, kept_bytes=12_345, archived=archived)


def source(code: str, state: SourceState, **more: object) -> Source:
    plain = Source(SERVICES[code], 1, state, None, None, False)
    return replace(plain, **more)  # type: ignore[arg-type]


def test_each_service_tells_state_age_credit_and_what_it_lacks() -> None:
    """All states have their sentence; the size on disk is told."""
    flat = " ".join(
        sources_text(
            source("open-meteo", SourceState.ASKED, fetched=AT - timedelta(hours=5), lacking=("snow_depth_m",)),
            source("met-norway", SourceState.NO_CONTACT, place=2),
            source("nws", SourceState.NOT_HERE, place=3),
            source("bright-sky", SourceState.RESTING, place=4, rests_until=AT + timedelta(hours=2)),
            source("open-meteo-spread", SourceState.NOT_WANTED, place=None, kept_unreadable=True),
        ).split()
    )
    for sentence in (
        "Asked first.", "Last answer: 5 hours ago.", "Write a contact into your settings.",
        "it does not cover this place", "not asked again before 17:00", "do not name it",
        "kept answer is damaged", "Credit: Data from MET Norway (https://api.met.no)", "13 kB",
        "Never gives: the snow depth, the sunshine", "Not in its last answer for here: the snow depth.",
        "The logbook keeps 7 answers of the last 90 days to learn from, 5 kB.",
    ):  # fmt: skip
        assert sentence in flat


def test_every_code_of_the_weather_has_a_sentence() -> None:
    """No note reaches a person as a code."""
    for note in Note:
        told = note_sentence(note.of("open-meteo", "+3.5"))
        assert not told.startswith("Also noted"), note


@pytest.fixture
def _blank_language() -> Iterator[None]:
    with language_of_dots():
        yield


@pytest.mark.usefixtures("_blank_language")
def test_no_word_bypasses_the_catalogue() -> None:
    """In a language of dots only names, credits, addresses, units and the o of the chart are left."""
    known = "Terrace Weather data by X Open Meteo com MET Norway Bright Sky o C https open met no api Data from"
    nights = (replace(NIGHT, cloud_percent=None, wind_m_s=20.0, precipitation_mm=3.0, complete=False), NIGHT)
    shown = [rendered(*nights, lacking=COLUMNS), rendered()]
    for state in SourceState:
        shown.append(sources_text(source("met-norway", state, rests_until=AT, fetched=AT)))
    for text in shown:
        assert not set(re.findall(r"[A-Za-z]+", text)) - set(known.split()), text
