"""Open-Meteo's forecast service: what is asked of it, and how its answer becomes a series.

The answer is JSON: a block of units and a block of equally long columns, one of them `time`. Units are
read and converted, not trusted to be those that were asked for, so that an answer saved by hand in
Fahrenheit and miles per hour reads as well.

References
----------
Open-Meteo, documentation of the weather forecast and ensemble interfaces, state of August 2026:
parameters, variables, units, which values are means or sums of the hour before. Behaviour that the
documentation leaves open (null tails, one fixed offset for the whole answer, lists for several places) is
from recorded answers and the server's source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather import gates
from frostguard.weather.gates import Note
from frostguard.weather.json_answer import (
    LAST_SECOND,
    SAVE_AGAIN,
    answer_object,
    block,
    is_number,
    numbers,
    on_earth,
    shortened,
    whole_rising_hours,
)
from frostguard.weather.series import HOUR, MAX_HOURS, Provenance, Quality, WeatherSeries, series_on_hours

SERVICE = "open-meteo"
FORECAST_URL = "https://api.open-meteo.com/v1/forecast"
CREDIT = "Weather data by Open-Meteo.com"
MAX_FORECAST_DAYS = 16
MAX_PAST_DAYS = 92
SPIN_UP_DAYS = 30
"""Past days that a big root ball remembers: it can stay half frozen through a week of thaw."""

MAX_MEMBERS = 200
MAX_MEMBERS_HOURS = 24 * 130
"""Longest span of an answer with members [h]: 92 days back and 35 ahead are the most that is given; two hours that lie
years apart must not fill the memory for each of them."""


@dataclass(frozen=True, slots=True)
class Variable:
    """One variable of the service: its name now, an older or nearly equal one, and what it measures."""

    name: str
    other_name: str | None
    column: str
    quantity: str


VARIABLES = (
    Variable("temperature_2m", None, "air_temperature_c", "temperature"),
    Variable("dew_point_2m", "dewpoint_2m", "dew_point_c", "temperature"),
    Variable("relative_humidity_2m", "relativehumidity_2m", "relative_humidity_percent", "share"),
    Variable("surface_pressure", None, "pressure_hpa", "pressure"),
    Variable("wind_speed_10m", "windspeed_10m", "wind_speed_10m_m_s", "speed"),
    Variable("wind_gusts_10m", "windgusts_10m", "wind_gust_10m_m_s", "speed"),
    Variable("wind_direction_10m", "winddirection_10m", "wind_from_direction_deg", "angle"),
    Variable("cloud_cover", "cloudcover", "cloud_cover_percent", "share"),
    Variable("precipitation", None, "precipitation_mm", "water"),
    Variable("snowfall", None, "snowfall_cm", "snowfall"),
    Variable("snow_depth", None, "snow_depth_m", "length"),
    Variable("shortwave_radiation", None, "global_horizontal_w_m2", "radiation"),
    Variable("direct_normal_irradiance", None, "direct_normal_w_m2", "radiation"),
    Variable("diffuse_radiation", None, "diffuse_horizontal_w_m2", "radiation"),
    Variable("soil_temperature_0cm", None, "soil_temperature_0cm_c", "temperature"),
    Variable("soil_temperature_6cm", None, "soil_temperature_6cm_c", "temperature"),
    # The archive's layer from 7 to 28 cm has its middle at 17.5 cm.
    Variable(
        "soil_temperature_18cm", "soil_temperature_7_to_28cm", "soil_temperature_18cm_c", "temperature"
    ),
)
SPREAD = Variable("temperature_2m_spread", None, "air_temperature_spread_k", "difference")
"""The standard deviation over members that the mean-and-spread models give beside their mean."""

# Per quantity: unit as the service writes it -> factor and offset to the canonical unit (the offset is added
# first). "mp/h" is how recorded answers write miles per hour.
UNITS: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "temperature": {"°C": (1.0, 0.0), "°F": (1 / 1.8, -32.0), "K": (1.0, -273.15)},
    "difference": {"°C": (1.0, 0.0), "K": (1.0, 0.0), "°F": (1 / 1.8, 0.0)},
    "share": {"%": (1.0, 0.0)},
    "pressure": {"hPa": (1.0, 0.0)},
    "speed": {
        "m/s": (1.0, 0.0),
        "km/h": (1 / 3.6, 0.0),
        "mp/h": (0.44704, 0.0),
        "mph": (0.44704, 0.0),
        "kn": (0.514444, 0.0),
    },
    "angle": {"°": (1.0, 0.0)},
    "water": {"mm": (1.0, 0.0), "inch": (25.4, 0.0)},
    "snowfall": {"cm": (1.0, 0.0), "inch": (2.54, 0.0)},
    "length": {"m": (1.0, 0.0), "ft": (0.3048, 0.0)},
    "radiation": {"W/m²": (1.0, 0.0)},
}

_MEMBER = re.compile(r"(.+)_member(\d{1,3})")


def forecast_query(site: Site, days: int, *, past_days: int = SPIN_UP_DAYS) -> dict[str, str]:
    """The query that asks for a site's past weeks and coming nights.

    Parameters
    ----------
    site : Site
        The place; its own height is sent, so that the service corrects the temperature to it.
    days : int
        Coming nights wanted, 1 to 14. The service counts days in UTC from today's midnight, so two
        more are asked for: the last night ends at noon, and noon may be tomorrow in UTC.
    past_days : int
        Days before today, 0 to 92.

    Returns
    -------
    dict of str to str
        Parameters in the order of the documentation. Coordinates are rounded to 4 decimals (11 m).
    """
    if not 0 <= past_days <= MAX_PAST_DAYS:
        raise ValueError(f"past_days must be 0 to {MAX_PAST_DAYS}, not {past_days}")
    return {
        **hourly_query(site, [variable.name for variable in VARIABLES]),
        "past_days": str(past_days),
        "forecast_days": str(max(1, min(MAX_FORECAST_DAYS, days + 2))),
        "cell_selection": "land",
    }


def hourly_query(site: Site, variables: Sequence[str]) -> dict[str, str]:
    """What every request for hours of a site says: place, height, variables, units, and times in UTC."""
    return {
        "latitude": f"{site.latitude_deg:.4f}",
        "longitude": f"{site.longitude_deg:.4f}",
        "elevation": f"{site.elevation_m:.0f}",
        "hourly": ",".join(variables),
        "temperature_unit": "celsius",
        "wind_speed_unit": "ms",
        "precipitation_unit": "mm",
        "timezone": "GMT",
        "timeformat": "unixtime",
    }


def parse_open_meteo(
    body: bytes,
    source: str = "The answer of Open-Meteo",
    *,
    fetched: datetime | None = None,
    service: str = SERVICE,
    model: str | None = None,
) -> WeatherSeries:
    """The series in an answer of the forecast, ensemble, archive or historical-forecast interface.

    Parameters
    ----------
    body : bytes
        The answer as received.
    source : str
        File or service, for messages.
    fetched : datetime, optional
        When it was received, aware.
    service, model : str
        Which of the interfaces and models was asked, for the provenance; the answer does not say.

    Returns
    -------
    WeatherSeries
        In canonical units on gapless UTC hours, gated by `gates.checked`. Columns named
        `..._memberNN` become members, the plain column being the first.

    Raises
    ------
    ForecastFormatError
        If the body is cut off or no JSON, is an error message, holds several places or models, has
        columns of unequal length, text among numbers, a temperature in an unknown unit, or times
        that are not whole rising UTC hours. A minor column in an unknown unit is left out and noted.
    """
    answer = answer_object(body, source)
    return series_of_answer(answer, source, fetched=fetched, service=service, model=model)


def series_of_answer(
    answer: Mapping[str, Any], source: str, *, fetched: datetime | None, service: str, model: str | None
) -> WeatherSeries:
    """As `parse_open_meteo`, from the object that the body holds."""
    hourly, units = block(answer, "hourly", source), block(answer, "hourly_units", source)
    times = _utc_times(hourly.get("time"), units.get("time"), answer.get("utc_offset_seconds"), source)
    columns, quality, notes = _columns(hourly, units, times.size, source)
    if len(columns["air_temperature_c"]) > 1 and times[-1] - times[0] > MAX_MEMBERS_HOURS * HOUR:
        raise ForecastFormatError(
            f"{source} has members over more than {MAX_MEMBERS_HOURS // 24} days.", next_step=SAVE_AGAIN
        )
    series = series_on_hours(
        times, columns, _provenance(answer, fetched, service, model, source), quality=quality, notes=notes
    )
    return gates.checked(series, source)


def _utc_times(labels: Any, unit: Any, offset: Any, source: str) -> NDArray[np.datetime64]:
    """UTC hours from the answer's time labels.

    Unix times are UTC whatever zone was asked for. Text labels are local by one offset that is fixed
    for the whole answer, so after a clock change they show an hour that no local clock showed;
    label minus offset is UTC throughout.
    """
    if not isinstance(labels, list) or not labels:
        raise ForecastFormatError(f"{source} has no hours.", next_step=SAVE_AGAIN)
    if len(labels) > MAX_HOURS:
        raise ForecastFormatError(f"{source} has more than {MAX_HOURS} hours.", next_step=SAVE_AGAIN)
    if unit == "unixtime":
        seconds = [_unix_second(label, source) for label in labels]
    elif unit == "iso8601":
        if not is_number(offset) or abs(offset) > 24 * 3600:
            raise ForecastFormatError(
                f"{source} has local times but no utc_offset_seconds.", next_step="Ask for timezone=GMT."
            )
        seconds = [_label_second(label, source) - round(offset) for label in labels]
    else:
        raise ForecastFormatError(
            f"{source} gives its times in the unknown form {shortened(repr(unit), 40)}.",
            next_step="Ask for timeformat=unixtime or iso8601.",
        )
    return whole_rising_hours(seconds, labels, source)


def _unix_second(label: Any, source: str) -> int:
    if not is_number(label) or label != int(label) or not 0 <= label < LAST_SECOND:
        raise ForecastFormatError(
            f"{source} has {shortened(repr(label), 40)} where a time in seconds should stand.",
            next_step=SAVE_AGAIN,
        )
    return int(label)


def _label_second(label: Any, source: str) -> int:
    try:
        moment = datetime.fromisoformat(label)
    except (TypeError, ValueError):
        moment = None
    if moment is None or moment.tzinfo is not None or not 1970 < moment.year < 2099:
        raise ForecastFormatError(
            f"{source} has {shortened(repr(label), 40)} where a time like 2026-01-14T15:00 should stand.",
            next_step=SAVE_AGAIN,
        )
    return int(moment.replace(tzinfo=UTC).timestamp())


Blocks = dict[str, NDArray[np.float64]]
Codes = dict[str, NDArray[np.uint8]]


def _columns(
    hourly: Mapping[str, Any], units: Mapping[str, Any], n_rows: int, source: str
) -> tuple[Blocks, Codes, list[str]]:
    """Values and codes (n_members, n_rows) per canonical column, and notes on what was left out."""
    by_column: dict[str, dict[int, NDArray[np.float64]]] = {}
    notes: list[str] = []
    for variable in (*VARIABLES, SPREAD):
        members = _members_of(variable, hourly, units, n_rows, source, notes)
        if variable.column == "air_temperature_c" or any(not np.isnan(m).all() for m in members.values()):
            by_column[variable.column] = members
    if not by_column["air_temperature_c"]:
        raise ForecastFormatError(_no_temperature(hourly, source), next_step=SAVE_AGAIN)
    known = {n: v for n, v in by_column["air_temperature_c"].items() if not np.isnan(v).all()}
    if not known:
        raise ForecastFormatError(
            f"{source} holds no temperature for this place, only empty hours.",
            next_step="Check latitude and longitude in the garden file (a wrong sign?), then try again.",
        )
    if len(known) < len(by_column["air_temperature_c"]):
        notes.append(Note.MEMBERS_DROPPED.of(len(by_column["air_temperature_c"]) - len(known)))
    values: Blocks = {}
    codes: Codes = {}
    for column, members in by_column.items():
        values[column], codes[column] = _aligned(members, sorted(known), n_rows)
    return values, codes, notes


def _aligned(
    members: Mapping[int, NDArray[np.float64]], wanted: Sequence[int], n_rows: int
) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """The members that the temperature has; where a column lacks one, the control stands in, flagged."""
    nothing = np.full(n_rows, np.nan)
    control = members.get(0, nothing)
    values = np.stack([members.get(number, control) for number in wanted])
    codes = np.full(values.shape, Quality.GIVEN, dtype=np.uint8)
    codes[[index for index, number in enumerate(wanted) if number not in members]] = Quality.FILLED
    return values, codes


def _members_of(
    variable: Variable,
    hourly: Mapping[str, Any],
    units: Mapping[str, Any],
    n_rows: int,
    source: str,
    notes: list[str],
) -> dict[int, NDArray[np.float64]]:
    """The variable's columns by member number, the plain one being 0, in the canonical unit."""
    found: dict[int, NDArray[np.float64]] = {}
    for key, entries in hourly.items():
        number = _member_number(key, variable)
        if number is None or number in found:
            continue
        column = numbers(key, entries, n_rows, source)
        unit = str(units.get(key))
        if np.isnan(column).all():  # as good as none, and its unit may read 'undefined'
            found[number] = column
        elif unit in UNITS[variable.quantity]:
            factor, offset = UNITS[variable.quantity][unit]
            found[number] = (column + offset) * factor
        elif variable.column == "air_temperature_c":
            raise ForecastFormatError(
                f"{source} gives {key} in the unknown unit '{shortened(unit, 40)}'.",
                next_step="Ask for temperature_unit=celsius.",
            )
        elif Note.UNIT_REFUSED.of(variable.column) not in notes:
            notes.append(Note.UNIT_REFUSED.of(variable.column))
    if len(found) > MAX_MEMBERS:
        raise ForecastFormatError(f"{source} has more than {MAX_MEMBERS} members.", next_step=SAVE_AGAIN)
    return found


def _member_number(key: str, variable: Variable) -> int | None:
    """0 for the plain column, n for `_memberNN`, None for another variable's column."""
    match = _MEMBER.fullmatch(key)
    name, number = (match[1], int(match[2])) if match else (key, 0)
    return number if name in (variable.name, variable.other_name) else None


def _no_temperature(hourly: Mapping[str, Any], source: str) -> str:
    suffixed = sorted(key for key in hourly if key.startswith("temperature_2m_") and key != SPREAD.name)
    if suffixed:
        return (
            f"{source} has {shortened(suffixed[0], 60)} but no plain temperature_2m; it holds "
            "several models or derived columns."
        )
    return f"{source} has no column temperature_2m."


def _provenance(
    answer: Mapping[str, Any], fetched: datetime | None, service: str, model: str | None, source: str
) -> Provenance:
    elevation = answer.get("elevation")
    if not on_earth(answer.get("latitude"), answer.get("longitude")):
        raise ForecastFormatError(f"{source} does not say which place it is for.", next_step=SAVE_AGAIN)
    return Provenance(
        service=service,
        model=model,  # without one asked for, a mixture; no field says of which
        fetched=fetched,
        issued=None,  # nor which run
        credit=CREDIT,
        latitude_deg=float(answer["latitude"]),
        longitude_deg=float(answer["longitude"]),
        elevation_m=float(elevation) if is_number(elevation) else None,
    )
