"""Invented answers in the documented shape of each service, small ones: clear winter days, -5 to 3 degC."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from typing import Any

Answer = dict[str, Any]
ASKED = datetime(2026, 1, 14, 14, 20, tzinfo=UTC)


def air_c(moment: datetime) -> float:
    """The invented air temperature: 3 degC at 14:00 UTC, -5 degC at 2:00, to a tenth."""
    return round(-1.0 + 4.0 * math.cos((moment.hour - 14) * math.pi / 12), 1)


def open_meteo_answer(
    *, first: datetime = datetime(2025, 12, 15, tzinfo=UTC), hours: int = 24 * 39, members: int = 0
) -> Answer:
    """A forecast answer, or with members an ensemble's; every member is a tenth colder than the one before."""
    stamps = [first + timedelta(hours=hour) for hour in range(hours)]
    air = [air_c(moment) for moment in stamps]
    hourly: dict[str, Any] = {
        "time": [int(moment.timestamp()) for moment in stamps],
        "temperature_2m": air,
        "dew_point_2m": [value - 2.0 for value in air],
        "wind_speed_10m": [1.5] * hours,
        "cloud_cover": [10] * hours,
        "precipitation": [0.0] * hours,
    }
    units = {
        "time": "unixtime", "temperature_2m": "°C", "dew_point_2m": "°C", "wind_speed_10m": "m/s",
        "cloud_cover": "%", "precipitation": "mm",
    }  # fmt: skip
    for number in range(1, members):
        name = f"temperature_2m_member{number:02d}"
        hourly[name] = [round(value - 0.1 * number, 1) for value in air]
        units[name] = "°C"
    return {
        "latitude": 46.04, "longitude": 14.52, "generationtime_ms": 0.9, "utc_offset_seconds": 0,
        "timezone": "GMT", "timezone_abbreviation": "GMT", "elevation": 298.0,
        "hourly_units": units, "hourly": hourly,
    }  # fmt: skip


MET_UNITS = {
    "air_pressure_at_sea_level": "hPa", "air_temperature": "celsius", "air_temperature_max": "celsius",
    "air_temperature_min": "celsius", "air_temperature_percentile_10": "celsius",
    "air_temperature_percentile_90": "celsius", "cloud_area_fraction": "%",
    "dew_point_temperature": "celsius", "precipitation_amount": "mm", "relative_humidity": "%",
    "wind_from_direction": "degrees", "wind_speed": "m/s", "wind_speed_of_gust": "m/s",
}  # fmt: skip


def met_norway_answer(
    *,
    first: datetime = datetime(2026, 1, 14, 14, tzinfo=UTC),
    hourly: int = 54,
    six_hourly: int = 24,
    nordic: bool = False,
    updated: datetime = datetime(2026, 1, 14, 13, 31, tzinfo=UTC),
) -> Answer:
    """Hourly steps and then six-hourly ones; in the Nordic kind with gusts and percentiles."""
    starts = [first + timedelta(hours=hour) for hour in range(hourly)]
    starts += [first + timedelta(hours=hourly + 6 * step) for step in range(six_hourly)]
    series = []
    for number, moment in enumerate(starts):
        instant: dict[str, float] = {
            "air_pressure_at_sea_level": 1021.3, "air_temperature": air_c(moment),
            "dew_point_temperature": air_c(moment) - 2.0, "relative_humidity": 86.0,
            "cloud_area_fraction": 10.0, "wind_from_direction": 45.0, "wind_speed": 1.5,
        }  # fmt: skip
        if nordic:
            instant |= {
                "wind_speed_of_gust": 4.0,
                "air_temperature_percentile_10": air_c(moment) - 1.2,
                "air_temperature_percentile_90": air_c(moment) + 1.3631,
            }
        data: dict[str, Any] = {"instant": {"details": instant}}
        if number < hourly:
            data["next_1_hours"] = {"summary": {"symbol_code": "cloudy"}, "details": {"precipitation_amount": 0.3}}
        if number < len(starts) - 1:
            inside = [air_c(moment + timedelta(hours=hour)) for hour in range(1, 7)]
            details = {
                "air_temperature_max": max(inside),
                "air_temperature_min": min(inside),
                "precipitation_amount": 1.2,
            }
            data["next_6_hours"] = {"summary": {"symbol_code": "cloudy"}, "details": details}
        series.append({"time": moment.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data})
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [14.51, 46.05, 298]},
        "properties": {
            "meta": {"updated_at": updated.strftime("%Y-%m-%dT%H:%M:%SZ"), "units": dict(MET_UNITS)},
            "timeseries": series,
        },
    }


def nws_answer(
    *,
    first: datetime = datetime(2026, 1, 14, 12, tzinfo=UTC),
    hours: int = 168,
    updated: datetime = datetime(2026, 1, 14, 12, 5, tzinfo=UTC),
) -> Answer:
    """A grid answer: temperatures hour by hour, wind merged by sixes, rain as totals of six hours."""

    def stamp(hour: int, duration: str) -> str:
        return f"{(first + timedelta(hours=hour)).isoformat()}/{duration}"

    def layer(unit: str, step: int, values: list[float | None]) -> Answer:
        entries = [
            {"validTime": stamp(step * number, f"PT{step}H"), "value": value}
            for number, value in enumerate(values)
        ]
        return {"uom": f"wmoUnit:{unit}", "values": entries}

    air: list[float | None] = [air_c(first + timedelta(hours=hour)) for hour in range(hours)]
    sixes = hours // 6
    return {
        "id": "https://api.weather.gov/gridpoints/TAE/58,65",
        "type": "Feature",
        "geometry": {
            "type": "Polygon",
            "coordinates": [[[-85.0, 30.0], [-85.0, 30.02], [-84.98, 30.02], [-84.98, 30.0], [-85.0, 30.0]]],
        },
        "properties": {
            "updateTime": updated.isoformat(),
            "validTimes": stamp(0, "P7D"),
            "elevation": {"unitCode": "wmoUnit:m", "value": 12.0},
            "gridId": "TAE", "gridX": 58, "gridY": 65,
            "temperature": layer("degC", 1, air),
            "dewpoint": layer("degC", 1, [None if value is None else value - 2.0 for value in air]),
            "skyCover": layer("percent", 6, [10.0] * sixes),
            "windSpeed": layer("km_h-1", 6, [5.4] * sixes),
            "windGust": layer("km_h-1", 6, [14.4] * sixes),
            "windChill": layer("degC", 6, [None] * sixes),
            "quantitativePrecipitation": layer("mm", 6, [1.2] * sixes),
            "snowfallAmount": layer("mm", 6, [6.0] * sixes),
            "snowLevel": {"values": []},
            "minTemperature": {
                "uom": "wmoUnit:degC",
                "values": [{"validTime": stamp(6, "PT14H"), "value": -5.6}],
            },
        },
    }  # fmt: skip


def bright_sky_answer(*, first: datetime = datetime(2026, 1, 13, tzinfo=UTC), hours: int = 240) -> Answer:
    """Observed hours up to the moment of asking, without sun; then forecast ones, without humidity."""
    rows = []
    for hour in range(hours):
        moment = first + timedelta(hours=hour)
        observed = moment <= ASKED
        rows.append(
            {
                "timestamp": moment.isoformat(), "source_id": 11 if observed else 12,
                "precipitation": 0.0, "pressure_msl": 1021.3, "sunshine": 0, "temperature": air_c(moment),
                "wind_direction": 45, "wind_speed": 5.4, "cloud_cover": 12, "dew_point": air_c(moment) - 2.0,
                "relative_humidity": 86 if observed else None, "visibility": 50000,
                "wind_gust_direction": None, "wind_gust_speed": 14.4, "condition": "dry",
                "precipitation_probability": None if observed else 3,
                "solar": None if observed else (0.15 if 9 <= moment.hour <= 15 else 0.0),
            }
        )  # fmt: skip
    station = {"id": 11, "observation_type": "synop", "lat": 46.0, "lon": 14.4, "height": 310, "distance": 9000}
    point = {"id": 12, "observation_type": "forecast", "lat": 46.07, "lon": 14.52, "height": 299, "distance": 2300}
    return {"weather": rows, "sources": [station, point]}


def epw_text(*, days: int = 365, latitude: float = 46.05, offset: float = 1.0) -> str:
    """A typical year, every second month from another year; -5 to 3 degC each day, sun 150 W/m2 at noon."""
    heading = [
        f"LOCATION,Terrace Town,-,SVN,INVENTED,000000,{latitude},14.51,{offset},298.0",
        "DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,invented", "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]  # fmt: skip
    rows = []
    start = datetime(2003, 1, 1, tzinfo=UTC)
    for hour in range(24 * days):
        moment = start + timedelta(hours=hour)
        year = 2003 if moment.month % 2 else 1996
        air = air_c(moment + timedelta(hours=1))
        sun = 150 if 9 <= moment.hour <= 14 else 0
        rows.append(
            f"{year},{moment.month},{moment.day},{moment.hour + 1},60,A7A7,{air},{air - 2.0:.1f},86,98040,"
            f"0,1400,255,{sun},{sun},{sun // 2},0,0,0,0,45,1.5,1,1,50.0,77777,9,999999999,"
            f"5,0.1,2,88,999,0.3,1"
        )
    return "\r\n".join([*heading, *rows]) + "\r\n"


TMY3_NAMES = (
    "Date (MM/DD/YYYY)", "Time (HH:MM)", "ETR (W/m^2)", "GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)",
    "TotCld (tenths)", "OpqCld (tenths)", "Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)",
    "Wdir (degrees)", "Wspd (m/s)", "Lprecip depth (mm)",
)  # fmt: skip


def tmy3_text(*, days: int = 365) -> str:
    """A typical year in TMY3's columns, without the companions of source and uncertainty."""
    lines = ['000000,"TERRACE TOWN",XX,-5.0,30.000,-85.000,12', ",".join(TMY3_NAMES)]
    start = datetime(2003, 1, 1, tzinfo=UTC)
    for hour in range(24 * days):
        moment = start + timedelta(hours=hour)
        year = 2003 if moment.month % 2 else 1996
        air = air_c(moment + timedelta(hours=1))
        sun = 150 if 9 <= moment.hour <= 14 else 0
        lines.append(
            f"{moment.month:02d}/{moment.day:02d}/{year},{moment.hour + 1:02d}:00,0,{sun},{sun},{sun // 2},"
            f"1,1,{air},{air - 2.0:.1f},86,980,45,1.5,-9900"
        )
    return "\n".join(lines) + "\n"
