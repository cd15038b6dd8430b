"""The canonical hourly weather table that every service is turned into."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
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
)
"""Columns that a series may hold; `air_temperature_c` is always there."""

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
    credit: str
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
