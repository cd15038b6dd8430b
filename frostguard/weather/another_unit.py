"""Air temperatures that are possible as degrees Celsius and yet seem to be degrees Fahrenheit.

A hard frost of 25 degF reads as a mild night of 25 degC: the one mistake of a file that gives an all-clear. Two
signs give it away: the moisture in the same file does not go with the air, or no place of that latitude is so
warm at that date. A table of air alone can hide a very hard frost behind a mild day that does happen: -12 degC is
10 degF. What no sign decides is not refused but told, where it is milder than usual for the date. Frosts so
hard that they read as an ordinary day (-15 degC as +5 in a January at 46 N) are not seen.

Sources of the numbers
----------------------
`WARM_DAYS_C`: estimates, set above the warmest single days (mean of day and night) known from memory: 42 degC for
the whole of July 2018 in Death Valley (36 N), some 36 degC at Lytton (50 N) in June 2021, 16 to 18 degC with foehn or
on the Pacific coast in January between 40 and 47 N. More than half of the days of a file must be warmer still.
`MILD_DAYS_C`: estimates, some 3 K above the usual mean of a day between coast and inland of that latitude.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.garden.settings import WeatherService
from frostguard.weather.series import WeatherSeries, with_notes

Array = NDArray[np.float64]

LATITUDES_DEG = (0.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0)
WARM_DAYS_C = {
    "winter": (36.0, 33.0, 28.0, 19.0, 15.0, 14.0, 13.0),
    "summer": (36.0, 43.0, 46.0, 44.0, 39.0, 32.0, 28.0),
}
MILD_DAYS_C = {
    "winter": (28.0, 24.0, 17.0, 11.0, 5.0, 1.0, -1.0),
    "summer": (31.0, 32.0, 31.0, 27.0, 22.0, 18.0, 13.0),
}
WARMEST_DAY_OF_YEAR = 200  # north of the equator; half a year later south of it
LEAST_HOURS_OF_A_DAY = 18
WARMER_BY_DAY_K = 6.0
"""How much warmer a part of a day may be than the day and its night (estimate)."""

LARGEST_DISAGREEMENT_K = 5.0
"""Between the dew point given and the one of air and humidity; models and instruments keep within 2 K (estimate)."""

LARGEST_SHARE_ABOVE = 0.5
LEAST_HOURS_ABOVE = 6
"""Dew points above the air by more than 1 K in so many hours, and in so large a share, are another unit (estimate)."""

NEXT_STEP = (
    "Save the weather in degrees Celsius, (F - 32) / 1.8, and try again; if it is in Celsius, check its dates and the "
    "place in the garden file."
)


def refuse_disagreeing_moisture(values: dict[str, Array], source: str) -> None:
    """ForecastFormatError where dew point and humidity say that air or dew point are in degrees Fahrenheit.

    Parameters
    ----------
    values : dict of ndarray, shape (n_members, n_hours)
        Columns within their bounds, not yet clamped to each other; air, dew point [degC], humidity [%].
    source : str
        File or service, for messages.
    """
    if "dew_point_c" not in values:
        return
    air, dew = values["air_temperature_c"], values["dew_point_c"]
    above = int((dew > air + 1.0).sum())
    known = int((~np.isnan(dew) & ~np.isnan(air)).sum())
    if above >= LEAST_HOURS_ABOVE and above > LARGEST_SHARE_ABOVE * known:
        raise ForecastFormatError(
            f"{source}: the dew point stands above the air temperature in {above} of {known} hours, which cannot be; "
            "one of the two looks like degrees Fahrenheit.",
            next_step=NEXT_STEP,
        )
    if "relative_humidity_percent" in values:
        humidity = np.clip(values["relative_humidity_percent"], 1.0, 100.0)
        apart, apart_if_f = _apart_k(air, humidity, dew), _apart_k((air - 32.0) / 1.8, humidity, dew)
        if apart > LARGEST_DISAGREEMENT_K and apart_if_f < apart / 2.0:
            raise ForecastFormatError(
                f"{source}: air temperature and humidity do not go with the dew point; the air temperature looks "
                "like degrees Fahrenheit.",
                next_step=NEXT_STEP,
            )


def _apart_k(air: Array, humidity: Array, dew: Array) -> float:
    """Median distance between the given dew point and that of air and humidity [K]; 0 where nothing is known."""
    from frostguard.physics.humidity import dew_point_from_humidity_c

    known = ~(np.isnan(air) | np.isnan(humidity) | np.isnan(dew))
    if known.sum() < LEAST_HOURS_ABOVE:
        return 0.0
    implied = dew_point_from_humidity_c(np.clip(air[known], -45.0, 60.0), humidity[known])
    return float(np.median(np.abs(implied - dew[known])))


def refuse_impossible_warmth(series: WeatherSeries, latitude_deg: float, source: str) -> None:
    """ForecastFormatError where most days are warmer than any at that date and latitude.

    Parameters
    ----------
    series : WeatherSeries
        Its times say the dates.
    latitude_deg : float
        Of the garden, north positive.
    source : str
        The file, for messages.
    """
    days, means = _day_means(series)
    limits = np.array([warm_day_c(latitude_deg, day) for day in days])
    too_warm = means > limits
    if too_warm.sum() * 2 > too_warm.size:
        first = int(np.argmax(too_warm))
        raise ForecastFormatError(
            f"{source}: the air is given as {np.median(means):.0f} °C on average, and no day is above "
            f"{limits[first]:.0f} °C at this latitude and date; it looks like degrees Fahrenheit.",
            next_step=NEXT_STEP,
        )


def with_unit_doubted(series: WeatherSeries, latitude_deg: float) -> WeatherSeries:
    """The series, noted where it may hide a frost in degrees Fahrenheit that nothing else gives away.

    That is a table of air without the moisture that would tell, free of frost as it stands and not in Fahrenheit,
    and on most days milder than usual. A service's own answer names its unit, whatever else it lacks.
    """
    told = {"dew_point_c", "relative_humidity_percent"} <= set(series.values)
    lowest = float(np.nanmin(series.values["air_temperature_c"]))
    of_service = any(series.provenance.service == service.value for service in WeatherService)
    if of_service or told or not 0.0 < lowest < 32.0:
        return series
    days, means = _day_means(series)
    mild = means > np.array([_by_date(MILD_DAYS_C, latitude_deg, day) for day in days])
    return with_notes(series, UNIT_IN_DOUBT) if mild.sum() * 2 > mild.size else series


UNIT_IN_DOUBT = "unit-in-doubt"


def _day_means(series: WeatherSeries) -> tuple[list[np.datetime64], Array]:
    """The days that are known for the most part, and their mean air [degC]; a piece of a day where there is none."""
    of_hour = series.times.astype("datetime64[D]")
    air = series.values["air_temperature_c"]
    days, means = [], []
    for day in np.unique(of_hour):
        of_day = air[:, of_hour == day]
        if (~np.isnan(of_day)).sum() >= LEAST_HOURS_OF_A_DAY * series.n_members:
            days.append(day)
            means.append(float(np.nanmean(of_day)))
    if not days:
        return [of_hour[of_hour.size // 2]], np.array([float(np.nanmean(air)) - WARMER_BY_DAY_K])
    return days, np.array(means)


def warm_day_c(latitude_deg: float, day: np.datetime64) -> float:
    """What no day's mean temperature exceeds at a latitude and date [degC]."""
    return _by_date(WARM_DAYS_C, latitude_deg, day)


def _by_date(table: Mapping[str, tuple[float, ...]], latitude_deg: float, day: np.datetime64) -> float:
    """Between the table's winter and summer at a latitude [degC]."""
    winter, summer = (float(np.interp(abs(latitude_deg), LATITUDES_DEG, table[s])) for s in ("winter", "summer"))
    day_of_year = int((day - day.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64)) + 1
    shift = WARMEST_DAY_OF_YEAR if latitude_deg >= 0 else WARMEST_DAY_OF_YEAR - 183
    summer_share = 0.5 + 0.5 * np.cos(2.0 * np.pi * (day_of_year - shift) / 365.25)
    return winter + (summer - winter) * float(summer_share)
