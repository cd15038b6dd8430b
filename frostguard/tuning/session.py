"""From the logbook's readings and the weather that happened to fits of pots and habits of the air."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.nights import from_utc64, utc64
from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import Terrace, prepare_terrace
from frostguard.errors import FrostguardError, TuningFailed
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Garden
from frostguard.logbook.answers import answers
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import Reading, TunedValue
from frostguard.report.words import say
from frostguard.tuning.foretold import FURTHEST, Foretold
from frostguard.tuning.gates import Finding, inspect
from frostguard.tuning.habits import NightPair, learnt_habits
from frostguard.tuning.pot_model import Thermometer
from frostguard.tuning.probe import Place, Probe, probe_of
from frostguard.tuning.tune import PotFit, nights_of_bias, told_values, tune_pot
from frostguard.weather.gates import night_of, night_window
from frostguard.weather.night_errors import SAMPLING_K, SiteHabits, usual_habits
from frostguard.weather.open_meteo import SERVICE, parse_open_meteo
from frostguard.weather.series import WeatherSeries, series_on_hours

Array = NDArray[np.float64]

NIGHT_HOURS = frozenset({*range(18, 24), *range(10)})
"""Hours of the site's clock that are learnt from: by day, sun on the wall says more of the place than of cold."""

MINIMA_NEEDED = 3
"""Mornings from which the air teaches something."""

FINER_THAN_HOURLY = 36
"""More readings of a night than this come closer to its lowest than hourly ones; estimate."""

AIR_COVERS = 0.8
"""Share of the hours that a thermometer of the air must have to drive the model itself; estimate."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One thermometer: where it lies, what is left of its numbers, what was found."""

    series: str
    probe: Probe
    pot: str | None
    spot: str | None
    times: NDArray[np.datetime64]
    temperature_c: Array
    findings: tuple[Finding, ...]

    @property
    def refused(self) -> bool:
        """Whether nothing may be learnt from it."""
        return any(finding.refuses for finding in self.findings)


@dataclass(frozen=True, slots=True)
class Session:
    """All that one call of `tune` found out."""

    heard: tuple[Heard, ...]
    habits: SiteHabits | None
    air_nights: int
    foretold_nights: int  # of these, for which a forecast made on their day is known
    fits: tuple[PotFit, ...]
    failures: tuple[TuningFailed, ...]

    def values(self) -> tuple[TunedValue, ...]:
        """What is to be stored: the air's habits, and pots that came out better."""
        found: dict[tuple[str, str], TunedValue] = {}
        for fit in (one for one in self.fits if one.helps):
            note = f"{fit.n_fitted} nights of {fit.pot}"
            for (subject, name), (value, spread) in told_values(fit).items():
                found[subject, name] = TunedValue(subject, name, value, spread, note)
        if self.habits is not None:
            for name in SiteHabits.__dataclass_fields__:
                value = getattr(self.habits, name)
                if value is not None:
                    note = f"{self.air_nights} nights of air"
                    found["site", name] = TunedValue("site", name, value, 2.0 / max(self.air_nights, 1) ** 0.5, note)
        return tuple(found.values())


def kept_forecasts(book: Logbook, since: datetime) -> tuple[WeatherSeries, ...]:
    """The default service's answers as they were fetched, the oldest first; unreadable ones are passed over."""
    parts: list[WeatherSeries] = []
    for answer in answers(book, SERVICE, since):
        with suppress(FrostguardError):
            whole = parse_open_meteo(answer.body, fetched=answer.fetched)
            if whole.n_members == 1:
                parts.append(whole)
    return tuple(parts)


def happened(parts: Sequence[WeatherSeries]) -> WeatherSeries:
    """The weather that happened: of each kept answer the hours up to its own time, later answers over earlier ones.

    Raises
    ------
    TuningFailed
        If no answer is kept.
    """
    if not parts:
        raise TuningFailed(
            say("No weather of the past nights is kept."),
            next_step=say("Name a file of the weather that happened with --weather, or let 'nightly' run some days."),
        )
    times = np.unique(np.concatenate([part.times for part in parts]))
    columns = {name: np.full(times.size, np.nan) for name in parts[-1].values}
    for part in parts:
        fetched = part.provenance.fetched
        past = part.times <= (part.times[-1] if fetched is None or part is parts[-1] else utc64(fetched))
        rows = np.searchsorted(times, part.times[past])
        for name in columns:
            if name in part.values:
                columns[name][rows] = part.values[name][0, past]
    return series_on_hours(times, columns, parts[-1].provenance)


def listen(readings: Iterable[Reading], garden: Garden, weather: WeatherSeries) -> tuple[Heard, ...]:
    """Every thermometer with its numbers past the gates, those outside the weather left out."""
    terrace = prepare_terrace(garden, weather)
    air = terrace.outdoor.air_temperature_c[:, 0]
    sun = (
        terrace.outdoor.direct_normal_w_m2[:, 0]
        * np.sin(np.radians(np.maximum(terrace.outdoor.sun_elevation_deg[:, 0], 0.0)))
        + terrace.outdoor.diffuse_horizontal_w_m2[:, 0]
    )
    by_series: dict[str, list[Reading]] = {}
    for reading in readings:
        if terrace.times[0] <= utc64(reading.at) <= terrace.times[-1]:
            by_series.setdefault(reading.series, []).append(reading)
    heard = []
    for series, own in by_series.items():
        probe = probe_of(own[0].place)
        times = np.array([utc64(one.at) for one in own])
        values = np.array([one.temperature_c for one in own])
        compare = not probe.lowest and probe.place in (Place.AIR, Place.WALL, Place.CORE)
        found = inspect(
            times,
            values,
            reference_times=terrace.times if compare else None,
            # without a pot's own model, the mix is the air of the last hours, smoothed
            reference_c=None if not compare else air if probe.place is Place.AIR else _smooth(air),
            air_c=air,
            sun_w_m2=sun,
            in_pot=probe.place.in_pot,
        )
        heard.append(Heard(series, probe, own[0].pot, own[0].spot, found.times, found.temperature_c, found.findings))
    return tuple(heard)


def learn(
    book: Logbook,
    garden: Garden,
    weather: WeatherSeries,
    catalogue: Catalogue,
    readings: Sequence[Reading],
    *,
    pots: Sequence[str],
    foretold: Foretold = MappingProxyType({}),
) -> Session:
    """Habits of the air from its minima, and a fit of every pot named that has thermometers.

    `foretold` is what forecasts had said of the nights before; the spread is learnt from nothing else.
    """
    heard = listen(readings, garden, weather)
    usual = usual_habits(garden.site)
    pairs = [
        pair
        for one in heard
        if one.probe.place is Place.AIR and not one.refused
        for pair in _pairs(one, garden, weather, foretold)
    ]
    nights = sum(pair.ahead <= 1 for pair in pairs)
    habits = learnt_habits(pairs, usual) if nights >= MINIMA_NEEDED else None
    driver = next((one for one in heard if _drives(one, weather)), None)
    driven = weather if driver is None else with_measured_air(weather, driver)
    terrace = prepare_terrace(garden, driven)
    fits: list[PotFit] = []
    failures: list[TuningFailed] = []
    for pot in (one for one in garden.pots if one.id in pots):
        own = tuple(
            thermometer
            for one in heard
            if one.pot == pot.id and not one.refused and one.probe.place.in_pot
            if (thermometer := _thermometer(one, terrace)) is not None
        )
        if not own:
            continue
        try:
            fits.append(
                tune_pot(
                    terrace,
                    driven,
                    as_it_stands(pot, TerraceState(), catalogue),
                    own,
                    catalogue,
                    air_known=driver is not None,
                    habits=habits or usual,
                )
            )
        except TuningFailed as failure:
            failures.append(failure)
    known = sum(pair.ahead == 1 for pair in pairs)
    return Session(heard, habits, nights, known, tuple(fits), tuple(failures))


def with_measured_air(weather: WeatherSeries, one: Heard) -> WeatherSeries:
    """The weather with the measured air in place of the service's; its dew point moves along."""
    hours = (weather.times - weather.times[0]) / np.timedelta64(3600, "s")
    at = (one.times - weather.times[0]) / np.timedelta64(3600, "s")
    measured = np.interp(hours, at, one.temperature_c)
    given = weather.values["air_temperature_c"][0]
    near = (
        np.abs(hours[:, None] - at[np.clip(np.searchsorted(at, hours), 1, at.size - 1)[:, None] + [-1, 0]]).min(axis=1)
        <= 2.0
    )
    shift = np.where(near, measured - given, 0.0)
    values = dict(weather.values)
    for name in ("air_temperature_c", "dew_point_c"):
        if name in values:
            values[name] = values[name] + shift
    return replace(weather, values=values)


def _drives(one: Heard, weather: WeatherSeries) -> bool:
    if one.probe != Probe(Place.AIR) or one.refused:
        return False
    hours = np.unique(((one.times - weather.times[0]) / np.timedelta64(3600, "s")).astype(np.int64))
    return hours.size >= AIR_COVERS * weather.n_hours


def _pairs(one: Heard, garden: Garden, weather: WeatherSeries, foretold: Foretold) -> list[NightPair]:
    """Measured less foretold minimum of each night that the thermometer tells whole, for each lead that is known;
    less the minimum that happened where none was foretold on the day."""
    zone = garden.site.time_zone
    _, calm = nights_of_bias(weather, zone)
    pairs = []
    for night in sorted({_night(time, zone) for time in one.times}):
        begin, end = night_window(night, zone)
        mine = (one.times > begin) & (one.times <= end)
        hours = np.flatnonzero((weather.times > begin) & (weather.times <= end))
        told = weather.values["air_temperature_c"][0, hours]
        if hours.size < 20 or np.isnan(told).any() or (not one.probe.lowest and mine.sum() < 12):
            continue
        # what hourly numbers miss is reckoned with elsewhere; a thermometer that misses nothing must not teach it again
        missed_k = SAMPLING_K if one.probe.lowest or mine.sum() > FINER_THAN_HOURLY else 0.0
        lowest = float(one.temperature_c[mine].min()) - missed_k
        said = {ahead: foretold[night, ahead] for ahead in range(1, FURTHEST + 1) if (night, ahead) in foretold}
        if 1 not in said:
            said[0] = float(told.min())
        pairs += [NightPair(lowest - value, bool(calm[hours[0]]), ahead) for ahead, value in said.items()]
    return pairs


def _thermometer(one: Heard, terrace: Terrace) -> Thermometer | None:
    """Numbers at whole hours of the night, every other hour; or nights whose lowest they are."""
    zone, site = terrace.zone, terrace.garden.site
    assert one.pot is not None
    if one.probe.lowest:
        nights, lowest = [], []
        for time, value in zip(one.times, one.temperature_c, strict=True):
            begin, end = night_window(_night(time, site.time_zone), site.time_zone)
            hours = np.flatnonzero((terrace.times > begin) & (terrace.times <= end))
            if hours.size >= 20:
                nights.append(hours)
                lowest.append(value)
        return Thermometer(one.series, one.pot, one.probe.place, tuple(nights), np.array(lowest)) if nights else None
    at = (one.times - terrace.times[0]) / np.timedelta64(3600, "s")
    whole = np.arange(int(np.ceil(at[0])), int(np.floor(at[-1])) + 1) if at.size else np.array([], dtype=np.int64)
    kept = [
        hour
        for hour in whole
        if hour % 2 == 0
        and from_utc64(terrace.times[hour], zone).hour in NIGHT_HOURS
        and np.abs(at - hour).min() <= 1.0
    ]
    if not kept:
        return None
    values = np.interp(np.array(kept, dtype=np.float64), at, one.temperature_c)
    return Thermometer(one.series, one.pot, one.probe.place, tuple(np.array([hour]) for hour in kept), values)


def _night(time: np.datetime64, zone: str) -> date:
    moment: datetime = time.astype("datetime64[s]").item()
    return night_of(moment.replace(tzinfo=UTC), zone)


def _smooth(air: Array, hours: int = 9) -> Array:
    padded = np.pad(air, (hours - 1, 0), mode="edge")
    return np.convolve(padded, np.ones(hours) / hours, mode="valid")
