"""MET Norway: the request as its terms ask, the answer with its long steps and window minima."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather.met_norway import forecast_query, parse_met_norway
from frostguard.weather.series import Quality, WeatherSeries
from tests.unit.weather.payloads import air_c, met_norway_answer


def parsed(answer: Any) -> WeatherSeries:
    return parse_met_norway(json.dumps(answer).encode(), "the answer")


# The request: MET Norway, Locationforecast documentation, table of parameters, and Terms of Service (coordinates
# with at most four decimals; altitude in whole metres), 2023.


def test_coordinates_are_cut_not_rounded(site: Site) -> None:
    """Five decimals are refused by the service; 46.05678 becomes 46.0567, and south and west keep signs."""
    query = forecast_query(replace(site, latitude_deg=46.05678, longitude_deg=-14.51999, elevation_m=297.6))
    assert query == {"lat": "46.0567", "lon": "-14.5199", "altitude": "298"}
    assert forecast_query(replace(site, latitude_deg=-0.00009))["lat"] in ("0.0000", "-0.0000")
    assert forecast_query(replace(site, latitude_deg=46.0571))["lat"] == "46.0571"  # binary 46.05709999


# Answers in the documented shape.


def test_periods_begin_at_their_time_and_end_an_hour_later() -> None:
    """The first hour's rain stands at its end; the first hour itself has none."""
    series = parsed(met_norway_answer(hourly=3, six_hourly=0))
    rain = series.values["precipitation_mm"][0]
    assert np.isnan(rain[0]) and rain[1:].tolist() == [0.3, 0.3]
    assert series.times[0] == np.datetime64("2026-01-14T14:00:00")


def test_six_hour_sums_are_divided_where_no_hourly_sum_is() -> None:
    """1.2 mm in six hours are 0.2 mm an hour, behind the hourly part only."""
    series = parsed(met_norway_answer())
    rain, code = series.values["precipitation_mm"][0], series.quality["precipitation_mm"][0]
    assert rain[54] == 0.3 and rain[55] == pytest.approx(0.2) and rain[-1] == pytest.approx(0.2)
    assert code[54] == Quality.GIVEN and code[55] == Quality.INTERPOLATED


def test_the_long_steps_reach_the_stated_minimum() -> None:
    """At 18, 0, 6 and 12 o'clock no instant is the night's lowest; the six hours' minimum is."""
    series = parsed(met_norway_answer(first=datetime(2026, 1, 14, 12, tzinfo=UTC), hourly=54))
    air, code = series.values["air_temperature_c"][0], series.quality["air_temperature_c"][0]
    later = slice(54, None)
    instants = air[54::6]
    assert instants.min() == air_c(datetime(2026, 1, 17, 0, tzinfo=UTC))  # -4.5, the coldest of the instants
    assert air[later].min() == pytest.approx(-5.0, abs=1e-9)  # at 2 o'clock
    assert set(code[54::6].tolist()) == {Quality.GIVEN}
    changed = np.flatnonzero(code == Quality.DERIVED)
    assert changed.size and (changed % 6 != 0).all()


def test_lines_over_six_hours_keep_the_instants() -> None:
    """Dew points between two steps lie on the line, the steps themselves are as given."""
    answer = met_norway_answer(hourly=1, six_hourly=2)
    for step, value in zip(answer["properties"]["timeseries"], (-2.0, -4.0, -10.0), strict=True):
        step["data"]["instant"]["details"]["dew_point_temperature"] = value
    answer["properties"]["timeseries"][1]["time"] = "2026-01-14T20:00:00Z"
    answer["properties"]["timeseries"][2]["time"] = "2026-01-15T02:00:00Z"
    dew = parsed(answer).values["dew_point_c"][0]
    np.testing.assert_allclose(dew[:7], np.linspace(-2.0, -4.0, 7))
    np.testing.assert_allclose(dew[6:], np.minimum(np.linspace(-4.0, -10.0, 7), dew[6:]))


def test_wind_directions_are_not_averaged() -> None:
    """Between 350 and 10 degrees lies north, not south: no line is drawn."""
    direction = parsed(met_norway_answer(hourly=2, six_hourly=2)).values["wind_from_direction_deg"][0]
    assert np.isnan(direction[3:8]).all() and direction[8] == 45.0


def test_nordic_percentiles_become_a_spread() -> None:
    """Ten and ninety per cent 2.5631 K apart are one kelvin of standard deviation; gusts are read."""
    series = parsed(met_norway_answer(nordic=True))
    np.testing.assert_allclose(series.values["air_temperature_spread_k"][0, :54], 1.0, rtol=1e-9)
    assert series.quality["air_temperature_spread_k"][0, 0] == Quality.DERIVED
    assert series.values["wind_gust_10m_m_s"][0, 0] == 4.0


def test_elsewhere_what_is_lacking_is_absent_not_zero() -> None:
    """No gust, spread, sun, snow or soil column arises from nothing; sea-level pressure is not taken."""
    assert set(parsed(met_norway_answer()).values) == {
        "air_temperature_c", "dew_point_c", "relative_humidity_percent", "wind_speed_10m_m_s",
        "wind_from_direction_deg", "cloud_cover_percent", "precipitation_mm",
    }  # fmt: skip


def test_the_time_of_issue_is_that_of_the_data() -> None:
    """`updated_at` dates the forecast; place and height are those of the answer."""
    source = parsed(met_norway_answer()).provenance
    assert source.issued == datetime(2026, 1, 14, 13, 31, tzinfo=UTC) and source.service == "met-norway"
    assert (source.latitude_deg, source.longitude_deg, source.elevation_m) == (46.05, 14.51, 298.0)
    assert source.credit == "Data from MET Norway"


def test_a_strange_unit_of_the_temperature_refuses_the_answer_others_do_not() -> None:
    """Kelvin for the air is refused, knots for the wind leave the wind out."""
    answer = met_norway_answer()
    answer["properties"]["meta"]["units"]["wind_speed"] = "knots"
    series = parsed(answer)
    assert "wind_speed_10m_m_s" not in series.values and series.notes == ("unit-refused:wind_speed_10m_m_s",)
    answer["properties"]["meta"]["units"]["air_temperature"] = "kelvin"
    with pytest.raises(ForecastFormatError, match="unknown unit 'kelvin'"):
        parsed(answer)


def _without_place(answer: Any) -> None:
    answer["geometry"]["coordinates"] = [14.5, 460.5]


def _without_steps(answer: Any) -> None:
    answer["properties"]["timeseries"] = []


def _backwards(answer: Any) -> None:
    answer["properties"]["timeseries"].reverse()


def _with_text(answer: Any) -> None:
    answer["properties"]["timeseries"][3]["data"]["instant"]["details"]["air_temperature"] = "-3"


def _without_temperature(answer: Any) -> None:
    for step in answer["properties"]["timeseries"]:
        step["data"]["instant"]["details"].pop("air_temperature")


@pytest.mark.parametrize(
    ("break_it", "sentence"),
    [
        (_without_place, "does not say which place"),
        (_without_steps, "no readable 'timeseries' list"),
        (_backwards, "does not come after"),
        (_with_text, "air_temperature has '-3' where a number"),
        (_without_temperature, "no air temperature"),
    ],
)
def test_each_faulty_answer_is_told_in_one_sentence(break_it: Any, sentence: str) -> None:
    """What is wrong is named, with a next step."""
    answer = met_norway_answer()
    break_it(answer)
    with pytest.raises(ForecastFormatError, match=sentence) as caught:
        parsed(answer)
    assert caught.value.next_step.endswith(".")


# A recorded answer; the expected values were read from the file by hand.


def test_recorded_london_answer(feeds: Path) -> None:
    """Fifty-five hourly and twenty-six long steps: first, coldest, last, a window minimum, the sums."""
    recorded = json.loads((feeds / "metno_complete_london_2020-07.json").read_text(encoding="utf-8"))
    series = parsed(recorded["data"])
    air, code = series.values["air_temperature_c"][0], series.quality["air_temperature_c"][0]
    assert series.n_hours == 212 and series.times[0] == np.datetime64("2020-07-20T11:00:00")
    assert air[0] == 18.8 and air[1] == 19.6
    assert air[55] == 23.3 and air[61] == 14.8  # 22 July 18:00 and 23 July 0:00, the first long step
    assert air[61:68].min() == pytest.approx(11.8)  # stated for the six hours from 23 July 0:00
    assert air.min() == 10.9 and series.times[air.argmin()] == np.datetime64("2020-07-21T04:00:00")
    assert air[-1] == 17.4 and series.times[-1] == np.datetime64("2020-07-29T06:00:00")
    assert code[61] == Quality.GIVEN and code[56] == Quality.INTERPOLATED
    assert series.provenance.issued == datetime(2020, 7, 20, 1, 30, 57, tzinfo=UTC)
    assert "wind_gust_10m_m_s" not in series.values and "air_temperature_spread_k" not in series.values
