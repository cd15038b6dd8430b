"""Bright Sky: the request as documented, observed and forecast hours in one answer, nulls."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather.bright_sky import forecast_query, parse_bright_sky
from frostguard.weather.series import Quality, WeatherSeries
from tests.unit.weather.payloads import ASKED, bright_sky_answer


def parsed(answer: Any) -> WeatherSeries:
    return parse_bright_sky(json.dumps(answer).encode(), "the answer")


def test_request_as_documented(site: Site) -> None:
    """Bright Sky, documentation of `/weather`, table of parameters, 2026: dates, units and zone in words."""
    assert forecast_query(site, 7, ASKED) == {
        "lat": "46.0500", "lon": "14.5100", "date": "2025-12-15", "last_date": "2026-01-23",
        "max_dist": "30000", "tz": "Etc/UTC", "units": "dwd",
    }  # fmt: skip


def test_units_of_the_service_become_ours() -> None:
    """km/h become m/s, kilowatt hours of an hour become its mean in W/m2."""
    series = parsed(bright_sky_answer())
    assert series.values["wind_speed_10m_m_s"][0, 0] == pytest.approx(1.5)
    assert series.values["wind_gust_10m_m_s"][0, 0] == pytest.approx(4.0)
    noon = int((datetime(2026, 1, 15, 12, tzinfo=UTC) - datetime(2026, 1, 13, tzinfo=UTC)).total_seconds() // 3600)
    assert series.values["global_horizontal_w_m2"][0, noon] == pytest.approx(150.0)


def test_nulls_stay_unknown_in_their_part() -> None:
    """Forecast hours have no humidity, observed ones no sun; neither becomes zero."""
    series = parsed(bright_sky_answer())
    humidity, sun = series.values["relative_humidity_percent"][0], series.values["global_horizontal_w_m2"][0]
    assert humidity[38] == 86 and np.isnan(humidity[39:]).all()  # 14:00 on the day of asking is hour 38
    assert np.isnan(sun[:39]).all() and not np.isnan(sun[39:]).any()
    assert "direct_normal_w_m2" not in series.values and "pressure_hpa" not in series.values


@pytest.mark.parametrize(("height", "taken"), [(350, True), (None, True), (900, False)])
def test_what_another_station_lends_is_coded_so(height: int | None, taken: bool) -> None:
    """`fallback_source_ids` (Bright Sky, documentation of `/weather`) names the lender of a field: a temperature
    from a mountain is left out, from a neighbour taken and coded as derived."""
    answer = bright_sky_answer()
    answer["sources"].append({"id": 13, "lat": 46.1, "lon": 14.6, "height": height})
    answer["weather"][5]["fallback_source_ids"] = {"temperature": 13, "wind_speed": 13, "sunshine": 13}
    series = parsed(answer)

    assert bool(np.isfinite(series.values["air_temperature_c"][0, 5])) is taken
    assert series.quality["wind_speed_10m_m_s"][0, 5] == Quality.DERIVED
    assert series.quality["wind_speed_10m_m_s"][0, 6] == Quality.GIVEN
    if taken:
        assert series.quality["air_temperature_c"][0, 5] == Quality.DERIVED


@pytest.mark.parametrize("broken", [[], "x", {"temperature": [1]}, {"temperature": None}, 7])
def test_a_broken_list_of_lenders_lends_nothing(broken: Any) -> None:
    """Whatever stands there, the answer itself is read."""
    answer = bright_sky_answer()
    answer["weather"][5]["fallback_source_ids"] = broken
    assert parsed(answer).quality["air_temperature_c"][0, 5] == Quality.GIVEN


def test_the_forecast_point_is_the_origin() -> None:
    """Place, height and model are those of the last hour's source."""
    source = parsed(bright_sky_answer()).provenance
    assert (source.latitude_deg, source.longitude_deg, source.elevation_m) == (46.07, 14.52, 299.0)
    assert source.model == "MOSMIX" and source.issued is None and "Deutscher Wetterdienst" in source.credit
    observed = parsed(bright_sky_answer(hours=24)).provenance
    assert observed.model is None and observed.elevation_m == 310.0


def test_times_with_an_offset_through_the_clock_change() -> None:
    """Local times with their offsets, 2 o'clock twice in autumn, are distinct hours in UTC."""
    answer = bright_sky_answer(hours=4)
    labels = ("2025-10-26T01:00:00+02:00", "2025-10-26T02:00:00+02:00", "2025-10-26T02:00:00+01:00")
    for row, label in zip(answer["weather"], (*labels, "2025-10-26T03:00:00+01:00"), strict=True):
        row["timestamp"] = label
    series = parsed(answer)
    assert series.n_hours == 4 and series.times[0] == np.datetime64("2025-10-25T23:00:00")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"weather": []}, "no readable 'weather' list"),
        ({"sources": []}, "no readable 'sources' list"),
        ({"sources": [{"id": 1, "lat": None, "lon": 3}]}, "does not say which place"),
        ({"weather": [{"timestamp": "2026-01-14T15:00:00"}]}, "where a time like"),
        ({"weather": [{"timestamp": "2026-01-14T15:00:00Z", "temperature": True}]}, "where a number"),
        ({"weather": [{"timestamp": "2026-01-14T15:00:00Z", "temperature": 275.0}]}, "unit"),
        ({"weather": [{"timestamp": "2026-01-14T15:00:00Z"}]}, "no air temperature"),
    ],
)
def test_each_faulty_answer_is_told_in_one_sentence(change: dict[str, Any], sentence: str) -> None:
    """Missing lists, places and zones, text and kelvin are named."""
    with pytest.raises(ForecastFormatError, match=sentence):
        parsed({**bright_sky_answer(), **change})


def test_recorded_berlin_answer(feeds: Path) -> None:
    """Read from the file by hand: first, an observed and a forecast hour, last, the nulls."""
    series = parse_bright_sky((feeds / "brightsky_weather_berlin_2025-09.json").read_bytes())
    air = series.values["air_temperature_c"][0]
    assert series.n_hours == 182 and series.times[0] == np.datetime64("2025-09-18T00:00:00")
    assert (air[0], air[13], air[14], air[181]) == (14.6, 19.4, 19.6, 15.5) and air.min() == 8.4
    assert series.times[air.argmin()] == np.datetime64("2025-09-24T04:00:00")
    assert np.isnan(series.values["relative_humidity_percent"][0]).sum() == 168
    assert series.values["global_horizontal_w_m2"][0, 14] == pytest.approx(197.0)
    assert series.values["wind_speed_10m_m_s"][0, 0] == pytest.approx(7.9 / 3.6)
    assert (series.provenance.latitude_deg, series.provenance.elevation_m) == (52.52, 37.0)
