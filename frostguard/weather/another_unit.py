"""Air temperatures that are possible as degrees Celsius and yet seem to be degrees Fahrenheit.

A hard frost of 25 degF reads as a mild night of 25 degC: the one mistake of a file that gives an all-clear. Two
signs give it away: the moisture in the same file does not go with the air, or no place of that latitude is so
warm at that date.

Sources of the numbers
----------------------
`WARM_DAYS_C`: estimates, set above the warmest single days (mean of day and night) known from memory: 42 degC for
the whole of July 2018 in Death Valley (36 N), some 36 degC at Lytton (50 N) in June 2021, 16 to 18 degC with foehn or
on the Pacific coast in January between 40 and 47 N. More than half of the days of a file must be warmer still.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

LATITUDES_DEG = (0.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0)
WARM_DAYS_C = {
    "winter": (36.0, 33.0, 28.0, 19.0, 15.0, 14.0, 13.0),
    "summer": (36.0, 43.0, 46.0, 44.0, 39.0, 32.0, 28.0),
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
    days = series.times.astype("datetime64[D]")
    air = series.values["air_temperature_c"]
    means, limits = [], []
    for day in np.unique(days):
        of_day = air[:, days == day]
        if (~np.isnan(of_day)).sum() >= LEAST_HOURS_OF_A_DAY * series.n_members:
            means.append(float(np.nanmean(of_day)))
            limits.append(warm_day_c(latitude_deg, day))
    if not means:
        means = [float(np.nanmean(air)) - WARMER_BY_DAY_K]
        limits = [warm_day_c(latitude_deg, days[days.size // 2])]
    too_warm = np.array(means) > np.array(limits)
    if too_warm.sum() * 2 > too_warm.size:
        first = int(np.argmax(too_warm))
        raise ForecastFormatError(
            f"{source}: the air is given as {np.median(means):.0f} °C on average, and no day is above "
            f"{limits[first]:.0f} °C at this latitude and date; it looks like degrees Fahrenheit.",
            next_step=NEXT_STEP,
        )


def warm_day_c(latitude_deg: float, day: np.datetime64) -> float:
    """What no day's mean temperature exceeds at a latitude and date [degC]."""
    winter, summer = (
        float(np.interp(abs(latitude_deg), LATITUDES_DEG, WARM_DAYS_C[season])) for season in ("winter", "summer")
    )
    day_of_year = int((day - day.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64)) + 1
    shift = WARMEST_DAY_OF_YEAR if latitude_deg >= 0 else WARMEST_DAY_OF_YEAR - 183
    summer_share = 0.5 + 0.5 * np.cos(2.0 * np.pi * (day_of_year - shift) / 365.25)
    return winter + (summer - winter) * float(summer_share)
