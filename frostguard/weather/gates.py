"""Plausibility gates: what is taken from a source as it stands, clamped, left out or refused.

A number that no terrace can see is treated as missing and counted in the notes, so that one
broken value does not silence the frost warning. Only what makes the temperature itself
doubtful (another unit, two halves that do not belong together) refuses the whole answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import Enum
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.weather.another_unit import UNIT_IN_DOUBT, refuse_disagreeing_moisture
from frostguard.weather.series import Quality, WeatherSeries, utc_hour


class Note(Enum):
    """Codes that `WeatherSeries.notes` carries as "code" or "code:number"; the report words them."""

    HOURS_MISSING = "hours-missing"  # hours inside the series without an air temperature
    HEAD_MISSING = "head-missing"  # hours before the first temperature, cut off
    TAIL_MISSING = "tail-missing"  # hours after the last temperature, cut off
    VALUES_REJECTED = "values-rejected"  # impossible numbers taken as missing; "values-rejected:column:n"
    VALUES_CLAMPED = "values-clamped"  # numbers a little outside set to the edge; "values-clamped:column:n"
    DEW_POINT_CLAMPED = "dew-point-clamped"  # dew points above the air temperature
    GUST_RAISED = "gust-raised"  # gusts below the mean wind
    UNIT_IN_DOUBT = UNIT_IN_DOUBT  # a table of mild air that may be a hard frost in degrees Fahrenheit
    UNIT_REFUSED = "unit-refused"  # column left out for its unit; "unit-refused:column"
    MEMBERS_DROPPED = "members-dropped"  # members without any temperature
    OTHER_PLACE = "other-place"  # [km] from the site to the place that a file is for
    OWN_HEIGHT_DIFFERS = "height-differs"  # [m] between the site and the answer's target height
    SKY_OR_WIND_UNKNOWN = "sky-or-wind-unknown"  # nights taken as clear and calm for want of cloud or wind
    PERIODS_REJECTED = "periods-rejected"  # spans of time that cannot be read; "periods-rejected:column:n"
    TYPICAL_YEAR = "typical-year"  # months of different years, put on the year behind the colon
    SEA_CELL = "sea-cell"  # clear days hardly warmer than nights: the model's cell seems to be water
    SERVICE_DEPRECATED = "service-deprecated"  # the service says (status 203) that this interface will end
    OTHER_SERVICE = "other-service"  # the first service of the order could not be used; its code behind it
    SERVICES_DIFFER = "services-differ"  # tonight, by more than 3 K; "services-differ:other service:K"
    HISTORY_OTHER = "history-of-other-service"  # past hours come from another service's answer
    COLUMNS_OTHER = "columns-of-other-service"  # what the members lack comes from another answer
    WORST_CASE = "worst-case"  # no forecast at all: a cautious guess of the coldest air [degC]
    FROZEN = "frozen-run"  # the service repeats its forecast of a day ago or more; hours behind the colon
    STORED = "stored-answer"  # age [h] of the stored answer that stands in
    STORED_OLD = "stored-answer-old"  # the same, older than a day: warn loudly
    STORE_UNREADABLE = "store-unreadable"  # the stored answer was damaged and is ignored
    STORE_NOT_WRITTEN = "store-not-written"  # the answer could not be kept for later

    def of(self, *details: object) -> str:
        """The note as a string, with a column, count or age behind it."""
        return ":".join([self.value, *(str(detail) for detail in details)])


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a column can hold; outside by at most `slack` a value is clamped, beyond that it is missing."""

    lowest: float
    highest: float
    slack: float = 0.0


# Air temperature, jump and wind: the project's own gates. Other bounds: estimates, set clear of the
# extremes that the World Meteorological Organization's archive lists (gust 113 m/s at Barrow Island 1996,
# sea-level pressure 870 to 1085 hPa; from memory), with room for stations up to 5000 m.
# Slack for percentages: models run a few per cent above saturation (estimate); small negative
# radiation is the night offset of real instruments (common practice).
BOUNDS: Mapping[str, Bounds] = {
    "air_temperature_c": Bounds(-60.0, 50.0),
    "dew_point_c": Bounds(-90.0, 50.0),
    "relative_humidity_percent": Bounds(0.0, 100.0, slack=20.0),
    "pressure_hpa": Bounds(500.0, 1100.0),
    "wind_speed_10m_m_s": Bounds(0.0, 75.0),
    "wind_gust_10m_m_s": Bounds(0.0, 115.0),
    "wind_from_direction_deg": Bounds(0.0, 360.0),
    "cloud_cover_percent": Bounds(0.0, 100.0, slack=5.0),
    "precipitation_mm": Bounds(0.0, 400.0),
    "snowfall_cm": Bounds(0.0, 100.0),
    "snow_depth_m": Bounds(0.0, 20.0, slack=0.01),
    "global_horizontal_w_m2": Bounds(0.0, 1600.0, slack=20.0),
    "direct_normal_w_m2": Bounds(0.0, 1400.0, slack=20.0),
    "diffuse_horizontal_w_m2": Bounds(0.0, 1200.0, slack=20.0),
    "sky_longwave_w_m2": Bounds(50.0, 700.0),
    "soil_temperature_0cm_c": Bounds(-70.0, 85.0),
    "soil_temperature_6cm_c": Bounds(-60.0, 70.0),
    "soil_temperature_18cm_c": Bounds(-60.0, 60.0),
    "air_temperature_spread_k": Bounds(0.0, 20.0),
    "service_difference_k": Bounds(-60.0, 60.0),
}

LARGEST_JUMP_K = 15.0
"""Largest believable change of air temperature within an hour [K]."""

LARGEST_REJECTED_SHARE = 0.1
"""More impossible temperatures than this share mean another unit, not broken values (estimate)."""

LONGEST_BRIDGED_H = 3
"""Longest gap that a straight line may fill [h] (estimate: the step of the coarser global models)."""

NEXT_STEP_SOURCE = (
    "Fetch or save the weather again, or use another source; check tonight's lowest temperature by hand."
)


def checked(series: WeatherSeries, source: str) -> WeatherSeries:
    """The series after all gates, with what was changed in its notes.

    Parameters
    ----------
    series : WeatherSeries
        As parsed, in canonical units.
    source : str
        File or service, for messages.

    Raises
    ------
    ForecastFormatError
        If there is no air temperature at all, too much of it is impossible, it seems to be in degrees
        Fahrenheit, or it leaps by more than 15 K within an hour and stays there.
    """
    values = {name: array.copy() for name, array in series.values.items()}
    notes = list(series.notes)
    air = values["air_temperature_c"]
    _refuse_wrong_unit(air, source)
    for name, array in values.items():
        notes += _bounded(name, array)
    refuse_disagreeing_moisture(values, source)
    _remove_spikes(air, notes)
    _refuse_leaps(series.times, air, source)
    if np.isnan(air).all():
        raise ForecastFormatError(f"{source} holds no air temperature at all.", next_step=NEXT_STEP_SOURCE)
    _clamp_to_partner(values, notes)
    quality = {name: code.copy() for name, code in series.quality.items()}
    for name, array in values.items():
        changed = ~np.isnan(array) & (array != series.values[name])
        quality[name][changed] = Quality.DERIVED
        quality[name][np.isnan(array)] = Quality.MISSING
    return _without_ends(replace(series, values=values, quality=quality, notes=tuple(notes)))


def _refuse_wrong_unit(air: NDArray[np.float64], source: str) -> None:
    """Kelvin or tenths of a degree are mostly impossible as degrees Celsius."""
    bounds = BOUNDS["air_temperature_c"]
    given = int((~np.isnan(air)).sum())
    impossible = int(((air < bounds.lowest) | (air > bounds.highest)).sum())
    if impossible > LARGEST_REJECTED_SHARE * given:
        raise ForecastFormatError(
            f"{source} holds {impossible} of {given} air temperatures outside {bounds.lowest:.0f} to "
            f"{bounds.highest:.0f} °C; the unit seems to be another one.",
            next_step="Save the weather in degrees Celsius and try again.",
        )


def _bounded(name: str, array: NDArray[np.float64]) -> list[str]:
    """Clamp and blank `array` in place; the notes for what was done."""
    bounds = BOUNDS[name]
    hard_low, hard_high = bounds.lowest - bounds.slack, bounds.highest + bounds.slack
    impossible = (array < hard_low) | (array > hard_high)
    array[impossible] = np.nan
    beside = (array < bounds.lowest) | (array > bounds.highest)
    array[beside] = np.clip(array[beside], bounds.lowest, bounds.highest)
    notes = []
    if impossible.any():
        notes.append(Note.VALUES_REJECTED.of(name, int(impossible.sum())))
    if beside.any():
        notes.append(Note.VALUES_CLAMPED.of(name, int(beside.sum())))
    return notes


def _remove_spikes(air: NDArray[np.float64], notes: list[str]) -> None:
    """Blank single hours that stand more than the largest jump off both neighbours on the same side."""
    if air.shape[1] < 3:
        return
    before, after = air[:, 1:-1] - air[:, :-2], air[:, 1:-1] - air[:, 2:]
    spikes = np.asarray(np.minimum(before, after) > LARGEST_JUMP_K)
    spikes |= np.maximum(before, after) < -LARGEST_JUMP_K
    air[:, 1:-1][spikes] = np.nan
    if spikes.any():
        notes.append(Note.VALUES_REJECTED.of("air_temperature_c", int(spikes.sum())))


def _refuse_leaps(times: NDArray[np.datetime64], air: NDArray[np.float64], source: str) -> None:
    """A lasting leap says that two halves do not belong together, and not which of them is right."""
    leaps = np.abs(np.diff(air, axis=1)) > LARGEST_JUMP_K
    if leaps.any():
        member, hour = (int(index) for index in np.argwhere(leaps)[0])
        before, after = air[member, hour], air[member, hour + 1]
        raise ForecastFormatError(
            f"{source}: the air temperature leaps from {before:.1f} to {after:.1f} °C within the hour to "
            f"{times[hour + 1]} UTC, which no weather does.",
            next_step=NEXT_STEP_SOURCE,
        )


def _clamp_to_partner(values: dict[str, NDArray[np.float64]], notes: list[str]) -> None:
    """Dew point not above air, gust not below the mean wind (mixed models disagree with themselves)."""
    if "dew_point_c" in values:
        air, dew = values["air_temperature_c"], values["dew_point_c"]
        above = dew > air
        dew[above] = air[above]
        if above.any():
            notes.append(Note.DEW_POINT_CLAMPED.of(int(above.sum())))
    if "wind_gust_10m_m_s" in values and "wind_speed_10m_m_s" in values:
        wind, gust = values["wind_speed_10m_m_s"], values["wind_gust_10m_m_s"]
        below = gust < wind
        gust[below] = wind[below]
        if below.any():
            notes.append(Note.GUST_RAISED.of(int(below.sum())))


def _without_ends(series: WeatherSeries) -> WeatherSeries:
    """The series from its first to its last temperature; behind a model's horizon services send nulls."""
    missing = np.isnan(series.values["air_temperature_c"])
    known = np.flatnonzero(~missing.any(axis=0))
    if not known.size:  # members with gaps at different hours
        known = np.flatnonzero(~missing.all(axis=0))
    first, end = int(known[0]), int(known[-1]) + 1
    counts = {
        Note.HEAD_MISSING: first,
        Note.TAIL_MISSING: series.n_hours - end,
        Note.HOURS_MISSING: end - first - known.size,
    }
    return replace(
        series,
        times=series.times[first:end],
        values={name: array[:, first:end] for name, array in series.values.items()},
        quality={name: array[:, first:end] for name, array in series.quality.items()},
        notes=(*series.notes, *(note.of(count) for note, count in counts.items() if count)),
    )


def night_window(night: date, time_zone: str) -> tuple[np.datetime64, np.datetime64]:
    """Local noon of `night` and of the next day, in UTC: 24 hours, 23 or 25 where the clocks change."""
    zone = ZoneInfo(time_zone)
    noon = datetime.combine(night, time(12), zone)
    return utc_hour(noon), utc_hour(datetime.combine(night + timedelta(days=1), time(12), zone))


def night_of(moment: datetime, time_zone: str) -> date:
    """The evening's date of the night (noon to noon, local) that `moment` lies in."""
    local = moment.astimezone(ZoneInfo(time_zone))
    return local.date() if local.hour >= 12 else local.date() - timedelta(days=1)


def coming_night(moment: datetime, time_zone: str) -> date:
    """The evening's date of the night that a question asked at `moment` is about.

    Between midnight and dawn that is the night that is on; in the morning it is the next one.
    """
    local = moment.astimezone(ZoneInfo(time_zone))
    return local.date() - timedelta(days=1) if local.hour < FIRST_MORNING_HOUR else local.date()


FIRST_MORNING_HOUR = 6
"""From this local hour on the coming night is meant (estimate: the coldest hour is mostly past)."""


def night_is_complete(
    series: WeatherSeries, night: date, time_zone: str, *, since: datetime | None = None
) -> bool:
    """Whether enough of a night is known to say that all is well.

    A whole night needs 20 of its hours; what is left of a night after `since` needs 90 % of its
    hours. No gap may be longer than what a straight line can bridge, or the coldest hours could be
    the missing ones. Hours count where every member has a temperature.
    """
    begin, end = night_window(night, time_zone)
    if since is not None:
        begin = max(begin, utc_hour(since))
    begin_h, end_h = (int(edge.astype(np.int64)) // 3600 for edge in (begin, end))
    hours = (np.arange(begin_h + 1, end_h + 1) * 3600).astype("datetime64[s]")  # whole hours after the begin
    if hours.size == 0:
        return True
    known_times = series.times[~np.isnan(series.values["air_temperature_c"]).any(axis=0)]
    known = np.isin(hours, known_times)
    enough = known.sum() >= min(20.0, 0.9 * hours.size)
    edges = np.flatnonzero(np.concatenate(([True], known, [True])))
    return bool(enough and np.diff(edges).max() - 1 <= LONGEST_BRIDGED_H)
