"""The canonical hourly weather table that every service is turned into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = (
    "air_temperature_c",
    "dew_point_c",
    "relative_humidity_percent",
    "pressure_hpa",
    "wind_speed_10m_m_s",
    "wind_gust_10m_m_s",
    "wind_from_direction_deg",
    "cloud_cover_percent",
    "precipitation_mm",
    "snowfall_cm",
    "snow_depth_m",
    "global_horizontal_w_m2",
    "direct_normal_w_m2",
    "diffuse_horizontal_w_m2",
    "sky_longwave_w_m2",
    "soil_temperature_0cm_c",
    "soil_temperature_6cm_c",
    "soil_temperature_18cm_c",
    "air_temperature_spread_k",
    "service_difference_k",
)
"""Columns that a series may hold; `air_temperature_c` is always there.

The last two are no weather but how sure it is: the standard deviation that the source itself gives for its
air temperature, and by how much another service's lowest temperature of the night lies lower (negative)
or higher, at each hour of that night.
"""

HOUR_MEANS = ("global_horizontal_w_m2", "direct_normal_w_m2", "diffuse_horizontal_w_m2", "sky_longwave_w_m2")
"""Columns whose value at an hour is the mean of the hour before it."""


class Quality(IntEnum):
    """Where a value comes from."""

    GIVEN = 0
    DERIVED = 1
    FILLED = 2
    INTERPOLATED = 3
    MISSING = 4


@dataclass(frozen=True, slots=True)
class Provenance:
    """Who says so, when, and for which point.

    `service` is a code such as "open-meteo" or "file"; `issued` is the model run's time where the
    service tells it, else None; `credit` is the line that the service's terms ask to be shown.
    """

    service: str
    model: str | None
    fetched: datetime | None
    issued: datetime | None
    credit: str  # empty where no credit is owed
    latitude_deg: float | None
    longitude_deg: float | None
    elevation_m: float | None
    from_store: bool = False  # a stored answer stands in for one that could not be fetched


@dataclass(frozen=True, slots=True, eq=False)
class WeatherSeries:
    """Hourly weather of one place, one or several members.

    `times` is datetime64[s], shape (n_hours,), UTC, one hour apart without a break: the END of each
    hour. Instants are at the index; sums and means cover the hour before it. `values[column]` has
    shape (n_members, n_hours), NaN where nothing is known; a column that the source lacks altogether
    is absent. `quality[column]` holds a `Quality` code per value.
    """

    times: NDArray[np.datetime64]
    values: Mapping[str, NDArray[np.float64]]
    quality: Mapping[str, NDArray[np.uint8]]
    provenance: Provenance
    notes: tuple[str, ...] = ()  # codes of what was repaired or left out, for the report

    @property
    def n_members(self) -> int:
        """Number of members, 1 for a single forecast."""
        return int(self.values["air_temperature_c"].shape[0])

    @property
    def n_hours(self) -> int:
        """Number of hours."""
        return int(self.times.shape[0])

    @property
    def members(self) -> tuple[pd.DataFrame, ...]:
        """One pandas table per member, indexed by UTC time."""
        import pandas as pd

        index = pd.DatetimeIndex(self.times, tz="UTC", name="time")
        return tuple(
            pd.DataFrame({column: array[member] for column, array in self.values.items()}, index=index)
            for member in range(self.n_members)
        )


HOUR = np.timedelta64(3600, "s")

MAX_HOURS = 100_000
"""Longest series that is accepted [h], about eleven years: a wrong date must not fill the memory."""


def utc_hour(moment: datetime) -> np.datetime64:
    """The aware `moment` as datetime64[s] in UTC, not rounded."""
    if moment.tzinfo is None:
        raise ValueError("a time without a zone says nothing about the hour in UTC")
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def series_on_hours(
    times: NDArray[np.datetime64],
    columns: Mapping[str, NDArray[np.float64]],
    provenance: Provenance,
    *,
    quality: Mapping[str, NDArray[np.uint8]] | None = None,
    notes: Sequence[str] = (),
) -> WeatherSeries:
    """A series on a gapless hourly axis from rows that may leave hours out.

    Parameters
    ----------
    times : ndarray of datetime64, shape (n_rows,)
        Whole UTC hours, strictly rising.
    columns : mapping of str to ndarray, shape (n_rows,) or (n_members, n_rows)
        Values by canonical column name, NaN where nothing is known.
    provenance : Provenance
        Where the rows come from.
    quality : mapping, optional
        Codes of the same shapes; without it a number is GIVEN.
    notes : sequence of str
        Codes to carry along.

    Returns
    -------
    WeatherSeries
        Hours that no row gives hold NaN; every NaN is coded MISSING.

    Raises
    ------
    ValueError
        If times are not whole rising hours, or too many: readers must have checked that before.
    """
    seconds = times.astype("datetime64[s]")
    first = seconds[0]
    offsets = (seconds - first).astype(np.int64)
    if first.astype(np.int64) % 3600 or np.any(offsets % 3600) or np.any(np.diff(offsets) <= 0):
        raise ValueError("times must be whole hours and rise strictly")
    rows = offsets // 3600
    n_hours = int(rows[-1]) + 1
    if n_hours > MAX_HOURS:
        raise ValueError(f"{n_hours} hours are more than {MAX_HOURS}")
    axis = first + np.arange(n_hours) * HOUR
    values: dict[str, NDArray[np.float64]] = {}
    codes: dict[str, NDArray[np.uint8]] = {}
    for name, given in columns.items():
        block = np.atleast_2d(np.asarray(given, dtype=np.float64))
        spread = np.full((block.shape[0], n_hours), np.nan)
        spread[:, rows] = block
        code = np.full(spread.shape, Quality.GIVEN, dtype=np.uint8)
        if quality is not None and name in quality:
            code[:, rows] = np.atleast_2d(quality[name])
        code[np.isnan(spread)] = Quality.MISSING
        values[name], codes[name] = spread, code
    return WeatherSeries(times=axis, values=values, quality=codes, provenance=provenance, notes=tuple(notes))


def with_notes(series: WeatherSeries, *notes: str) -> WeatherSeries:
    """The same series with `notes` added, each once."""
    return replace(series, notes=tuple(dict.fromkeys((*series.notes, *notes))))
