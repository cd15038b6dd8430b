"""A deck with two pots whose probes tell a known truth, made by the model itself at known parameters."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

import numpy as np

from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import Terrace, prepare_terrace
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.logbook.measured import Reading
from frostguard.tuning.probe import Place
from frostguard.tuning.terrace_model import TerraceModel, Thermometer
from frostguard.tuning.tune import model_of
from frostguard.weather.night_errors import SiteHabits
from frostguard.weather.series import WeatherSeries
from tests.unit.advice.terraces import garden, pot, weather

NIGHTS = 9


def deck() -> tuple[Garden, WeatherSeries]:
    """Two pots side by side, and cool nights, clear and cloudy by turns; nothing freezes, so that few cells will do."""
    hours = 24 * (NIGHTS + 4)
    cloud = np.repeat([5.0, 95.0, 40.0], 24 * 6)[: hours + 13]
    wind = np.repeat([1.0, 4.0, 2.0, 6.0], 30)
    sky = weather(
        lambda clock: 8.0 + 5.0 * np.cos((clock - 14.0) / 24.0 * 2.0 * np.pi) + np.sin(clock / 50.0),
        past_h=hours,
        ahead_h=12,
        cloud_cover_percent=cloud,
        wind_speed_10m_m_s=np.resize(wind, hours + 13),
    )
    bay = pot("bay", radius_m=0.12, height_m=0.24, wall="terracotta", wall_thickness_m=0.012)
    return garden(pot("lemon"), bay), sky


def probes(terrace: Terrace, place: Place = Place.CORE) -> list[Thermometer]:
    """A probe in each pot, read every other hour of the night."""
    clock = terrace.times.astype("datetime64[h]").astype(int) % 24
    hours = np.flatnonzero(np.isin(clock, (19, 21, 23, 1, 3, 5, 7)))
    hours = hours[(hours > 4 * 24) & (hours < terrace.times.size - 12)]
    return [
        Thermometer(f"{one.id} {place.value}", one.id, place, tuple(hours[:, None]), np.zeros(hours.size))
        for one in terrace.garden.pots
    ]


def model(thermometers: list[Thermometer], *, air_known: bool = True) -> TerraceModel:
    """The model of the pots that have thermometers."""
    where, sky = deck()
    terrace = prepare_terrace(where, sky)
    catalogue = load_catalogue()
    wanted = {one.pot for one in thermometers}
    situations = [as_it_stands(one, TerraceState(), catalogue) for one in where.pots if one.id in wanted]
    return model_of(
        terrace, sky, situations, thermometers, catalogue, air_known=air_known, habits=SiteHabits()
    )


def told_by(made: TerraceModel, known: dict[tuple[str, str], float], noise_k: float) -> list[Thermometer]:
    """The thermometers with what they would read at these parameters, in the fitted scale, and noise."""
    values = np.array([known.get((one.subject, one.name), one.prior) for one in made.parameters])
    read = made(values[None])[0]
    read = read + np.random.default_rng(5).normal(0.0, noise_k, read.size)
    parts = np.split(read, np.cumsum([one.temperature_c.size for one in made.thermometers])[:-1])
    return [replace(one, temperature_c=part) for one, part in zip(made.thermometers, parts, strict=True)]


def as_readings(terrace: Terrace, one: Thermometer) -> list[Reading]:
    """The same numbers as the logbook keeps them."""
    times = [terrace.times[hours[0]].astype("datetime64[s]").item().replace(tzinfo=UTC) for hours in one.hours]
    return [
        Reading(one.series, time, float(value), one.place.value, one.pot)
        for time, value in zip(times, one.temperature_c, strict=True)
    ]


