"""The US National Weather Service: points, spans of layers, totals, and what offices leave out."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather.nws import grid_url, parse_nws, parse_points, points_url
from frostguard.weather.series import Quality, WeatherSeries
from tests.unit.weather.payloads import nws_answer


def parsed(answer: Any) -> WeatherSeries:
    return parse_nws(json.dumps(answer).encode(), "the answer")


# The requests: US National Weather Service, API documentation, `/points/{latitude},{longitude}` and
# `/gridpoints/{office}/{x},{y}`: no query parameters, at most four decimals (FAQ), 2024.


def test_points_are_asked_without_trailing_zeros(site: Site) -> None:
    """The service redirects coordinates with trailing zeros or more than four decimals; none are sent."""
    florida = replace(site, latitude_deg=30.0, longitude_deg=-84.98031)
    assert points_url(florida) == "https://api.weather.gov/points/30,-84.9803"


def test_the_cell_of_a_point_is_read_and_its_address_built_here() -> None:
    """An address in an answer is not followed: only office and numbers are taken."""
    answer = {"properties": {"gridId": "TAE", "gridX": 58, "gridY": 65, "forecastGridData": "https://x.test"}}
    cell = parse_points(json.dumps(answer).encode())
    assert cell == "TAE/58,65" and grid_url(cell) == "https://api.weather.gov/gridpoints/TAE/58,65"


@pytest.mark.parametrize(
    "cell",
    [{"gridId": "../x", "gridX": 1, "gridY": 2}, {"gridId": "TAE", "gridX": "1", "gridY": 2}, {"gridId": "TAE"}],
)
def test_a_point_without_a_proper_cell_is_refused(cell: dict[str, Any]) -> None:
    """A path in place of an office, text in place of a number, or nothing at all."""
    with pytest.raises(ForecastFormatError, match="no grid cell"):
        parse_points(json.dumps({"properties": cell}).encode())


# Answers in the documented shape.


def test_merged_hours_are_expanded_and_totals_divided() -> None:
    """A wind for six hours holds in each; 1.2 mm in six hours are 0.2 each, at the ends of their hours."""
    series = parsed(nws_answer())
    wind, rain = series.values["wind_speed_10m_m_s"][0], series.values["precipitation_mm"][0]
    assert wind[:6] == pytest.approx(1.5) and not np.isnan(wind).any()
    assert np.isnan(rain[0]) and rain[1:7] == pytest.approx(0.2)
    assert series.values["snowfall_cm"][0, 1] == pytest.approx(0.1)  # 6 mm in six hours
    assert series.values["wind_gust_10m_m_s"][0, 1] == pytest.approx(4.0)


def test_a_stated_minimum_lowers_the_coldest_hour_of_its_window() -> None:
    """The night's minimum of -5.6 is below every hour; the coldest one is set to it, and only that."""
    series = parsed(nws_answer())
    air, code = series.values["air_temperature_c"][0], series.quality["air_temperature_c"][0]
    lowered = np.flatnonzero(code == Quality.DERIVED)
    assert lowered.tolist() == [14] and air[14] == -5.6  # 2:00 UTC, the window is 18:00 to 8:00
    assert air[13] == pytest.approx(-4.9)


@pytest.mark.parametrize(("hours_gone", "lowest_c"), [(3, -5.6), (9, -4.9)])
def test_a_night_that_has_begun_keeps_its_minimum_while_most_is_ahead(hours_gone: int, lowest_c: float) -> None:
    """A grid that begins three hours into the window of fourteen still reaches -5.6; nine hours in it may be over."""
    answer = nws_answer()
    answer["properties"]["temperature"]["values"] = answer["properties"]["temperature"]["values"][6 + hours_gone :]
    assert parsed(answer).values["air_temperature_c"][0, :10].min() == pytest.approx(lowest_c)


def test_layers_that_are_absent_empty_or_null_are_no_columns() -> None:
    """No humidity layer, an empty snow level, a wind chill of nulls: nothing is made of them."""
    answer = nws_answer()
    answer["properties"]["skyCover"]["values"] = []
    answer["properties"]["windGust"] = "none"
    series = parsed(answer)
    assert not {"relative_humidity_percent", "cloud_cover_percent", "wind_gust_10m_m_s"} & set(series.values)


def test_a_hole_in_a_layer_stays_a_hole() -> None:
    """An hour that no span covers is missing, flagged, not carried on."""
    answer = nws_answer()
    del answer["properties"]["temperature"]["values"][30:32]
    series = parsed(answer)
    assert np.isnan(series.values["air_temperature_c"][0, 30:32]).all() and "hours-missing:2" in series.notes


def test_spans_that_cannot_be_read_are_counted() -> None:
    """Half hours, months and endless spans are left out; the rest counts."""
    answer = nws_answer()
    spans = answer["properties"]["skyCover"]["values"]
    spans[0]["validTime"] = "2026-01-14T12:30:00+00:00/PT6H"
    spans[1]["validTime"] = "2026-01-14T18:00:00+00:00/P1M"
    spans[2]["validTime"] = "2026-01-15T00:00:00+00:00/P999D"
    spans[3] = None
    series = parsed(answer)
    assert series.notes == ("periods-rejected:cloud_cover_percent:4",)


def test_days_and_hours_in_a_duration() -> None:
    """P1DT6H is thirty hours; an offset in the start is reckoned with."""
    answer = nws_answer()
    answer["properties"]["skyCover"]["values"] = [
        {"validTime": "2026-01-14T07:00:00-05:00/P1DT6H", "value": 40}
    ]
    cloud = parsed(answer).values["cloud_cover_percent"][0]
    assert (cloud[:30] == 40).all() and np.isnan(cloud[30:]).all()


def test_older_unit_prefixes_are_understood_and_strange_units_refused() -> None:
    """`unit:degC` reads as `wmoUnit:degC`; a wind in furlongs is left out, an air temperature refused."""
    answer = nws_answer()
    answer["properties"]["temperature"]["uom"] = "unit:degC"
    answer["properties"]["windSpeed"]["uom"] = "wmoUnit:furlong_h-1"
    assert parsed(answer).notes == ("unit-refused:wind_speed_10m_m_s",)
    del answer["properties"]["temperature"]["uom"]
    with pytest.raises(ForecastFormatError, match="unknown unit"):
        parsed(answer)


def test_endless_spans_fill_no_memory() -> None:
    """Three weeks each, a thousand of them through forty years: refused before any is laid out."""
    answer = nws_answer()
    begins = (datetime(1990, 1, 1, tzinfo=UTC) + timedelta(days=15 * number) for number in range(1000))
    endless = [{"validTime": f"{begin.isoformat()}/P21D", "value": 1.0} for begin in begins]
    for layer in ("temperature", "minTemperature"):
        broken = json.loads(json.dumps(answer))
        broken["properties"][layer]["values"] = endless
        with pytest.raises(ForecastFormatError, match=f"1000 spans of {layer}"):
            parsed(broken)


def test_a_problem_document_is_told_by_its_title() -> None:
    """An expired grid is refused with the service's own words."""
    problem = {"title": "Forecast Grid Expired", "status": 503, "detail": "..."}
    with pytest.raises(ForecastFormatError, match="'Forecast Grid Expired'"):
        parsed(problem)


# A recorded answer; the expected values were read from the file by hand.


def test_recorded_grid(feeds: Path) -> None:
    """Florida in February 2022: first hour, merged dew points, wind, the night minimum, a null layer."""
    series = parse_nws((feeds / "nws_gridpoint_TAE_2022-02.json").read_bytes())
    assert series.times[0] == np.datetime64("2022-02-03T21:00:00") and series.n_hours == 182
    air, dew = series.values["air_temperature_c"][0], series.values["dew_point_c"][0]
    assert air[0] == pytest.approx(22.7778, abs=1e-4) and air[3] == 20.0
    assert dew[0] == dew[4] == pytest.approx(17.7778, abs=1e-4) and dew[5] == pytest.approx(18.3333, abs=1e-4)
    assert air[-1] == pytest.approx(4.4444, abs=1e-4) and np.isnan(dew[-1])  # the dew points end an hour earlier
    assert air.min() == pytest.approx(3.3333, abs=1e-4)  # also the stated minimum of 6 February
    assert series.times[air.argmin()] == np.datetime64("2022-02-06T10:00:00")
    assert series.values["wind_speed_10m_m_s"][0, :2] == pytest.approx(20.372 / 3.6)
    rain = series.values["precipitation_mm"][0]
    assert rain[10:16] == pytest.approx(2.032 / 6)  # the six hours from 4 February 6:00
    assert series.provenance.issued == datetime(2022, 2, 4, 3, 15, 41, tzinfo=UTC)
    assert series.provenance.elevation_m == pytest.approx(3.9624)
    assert series.provenance.latitude_deg == pytest.approx(30.0194, abs=1e-3)


def test_recorded_point(feeds: Path) -> None:
    """The recorded answer about 30 N, 85 W names cell 58,65 of office TAE."""
    entries = json.loads((feeds / "error_and_edge_bodies.json").read_text(encoding="utf-8"))
    body = next(entry["body"] for entry in entries if entry["id"] == "nws-points")
    assert parse_points(json.dumps(body).encode()) == "TAE/58,65"
