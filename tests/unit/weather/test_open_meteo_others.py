"""Open-Meteo's other interfaces: ensembles, spreads, archive, earlier runs, places, heights."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.weather.open_meteo_ensemble import members_query, parse_members, parse_spread, spread_query
from frostguard.weather.open_meteo_past import (
    archive_query,
    historical_forecast_query,
    parse_previous_runs,
    previous_runs_query,
)
from frostguard.weather.open_meteo_places import (
    Place,
    elevation_query,
    parse_elevation,
    parse_places,
    places_query,
)
from tests.unit.weather.payloads import open_meteo_answer


def body_of(answer: Any) -> bytes:
    return json.dumps(answer, ensure_ascii=False).encode()


# Requests: Open-Meteo, documentation of the ensemble, historical weather, historical forecast, previous runs,
# geocoding and elevation interfaces, tables of parameters, August 2026.


def test_ensemble_requests_name_their_model_and_few_variables(site: Site) -> None:
    """Each variable counts once per member in the quota: five, and the spread where it exists."""
    query = members_query(site, 7, "icon_seamless_eps")
    assert query["models"] == "icon_seamless_eps" and query["forecast_days"] == "9"
    assert query["past_days"] == "2" and query["wind_speed_unit"] == "ms"
    assert query["hourly"] == "temperature_2m,dew_point_2m,wind_speed_10m,cloud_cover,precipitation"
    assert spread_query(site, 7, "m")["hourly"].endswith(",temperature_2m_spread")


def test_archive_requests_pin_one_reanalysis_and_both_dates(site: Site) -> None:
    """No day counts beside the dates, which the service refuses; the reanalysis' own soil layer."""
    query = archive_query(site, date(2024, 1, 1), date(2024, 3, 31))
    assert (query["start_date"], query["end_date"]) == ("2024-01-01", "2024-03-31")
    assert query["models"] == "era5_seamless" and not {"past_days", "forecast_days"} & set(query)
    assert "soil_temperature_7_to_28cm" in query["hourly"] and "_0cm" not in query["hourly"]
    assert "models" not in historical_forecast_query(site, date(2024, 1, 1), date(2024, 1, 2))
    with pytest.raises(ValueError, match="no span"):
        archive_query(site, date(2024, 3, 31), date(2024, 1, 1))
    with pytest.raises(ValueError, match="1940"):
        archive_query(site, date(1939, 3, 31), date(2024, 1, 1))


def test_earlier_runs_are_asked_for_by_their_days(site: Site) -> None:
    """The plain temperature and those of one to seven days before; cloud and wind tell clear calm nights."""
    query = previous_runs_query(site, 60)
    names = query["hourly"].split(",")
    assert names[0] == "temperature_2m" and names[-1] == "temperature_2m_previous_day7" and len(names) == 10
    assert (query["past_days"], query["forecast_days"]) == ("60", "1")
    with pytest.raises(ValueError, match="past_days"):
        previous_runs_query(site, 93)


# Ensembles.


def test_fifty_one_members_arrive_in_their_order() -> None:
    """Control and fifty perturbed members; the other columns repeat the control, flagged."""
    series = parse_members(body_of(open_meteo_answer(hours=72, members=51)), model="ecmwf_ifs025_ensemble")
    air = series.values["air_temperature_c"]
    assert air.shape == (51, 72) and series.values["dew_point_c"].shape == (51, 72)
    np.testing.assert_allclose(air[0] - air[50], 5.0, atol=1e-9)
    assert series.provenance.service == "open-meteo-ensemble"
    assert series.provenance.model == "ecmwf_ifs025_ensemble"


def test_mean_and_spread_become_one_member_with_its_spread() -> None:
    """The spread in Fahrenheit degrees is a difference: no 32 is taken off."""
    answer = open_meteo_answer(hours=48)
    answer["hourly"]["temperature_2m_spread"] = [1.8] * 48
    answer["hourly_units"]["temperature_2m_spread"] = "°F"
    series = parse_spread(body_of(answer))
    assert series.n_members == 1 and series.provenance.service == "open-meteo-spread"
    np.testing.assert_allclose(series.values["air_temperature_spread_k"], 1.0)


def test_archive_layer_is_read_as_the_soil_at_18_cm() -> None:
    """The layer from 7 to 28 cm arrives in the column of its middle."""
    answer = open_meteo_answer(hours=48)
    answer["hourly"]["soil_temperature_7_to_28cm"] = [4.0] * 48
    answer["hourly_units"]["soil_temperature_7_to_28cm"] = "°C"
    assert (parse_members(body_of(answer)).values["soil_temperature_18cm_c"] == 4.0).all()


# Earlier runs.


def _runs(hours: int = 48) -> dict[str, Any]:
    answer = open_meteo_answer(hours=hours)
    air = answer["hourly"]["temperature_2m"]
    for days, shift in ((1, 0.5), (2, 1.0), (3, None)):
        name = f"temperature_2m_previous_day{days}"
        answer["hourly"][name] = [None if shift is None else value + shift for value in air]
        answer["hourly_units"][name] = "°C"
    return answer


def test_each_earlier_run_is_a_series_of_its_own() -> None:
    """Runs of one and two days before; one of nulls is left out; the latest keeps cloud and wind."""
    runs = parse_previous_runs(body_of(_runs()))
    assert sorted(runs) == [0, 1, 2]
    np.testing.assert_allclose(
        runs[2].values["air_temperature_c"] - runs[0].values["air_temperature_c"], 1.0, atol=1e-9
    )
    assert "cloud_cover_percent" in runs[0].values and "cloud_cover_percent" not in runs[1].values


def test_an_answer_without_earlier_runs_is_refused() -> None:
    """A plain forecast is no answer to that question."""
    with pytest.raises(ForecastFormatError, match="no earlier runs"):
        parse_previous_runs(body_of(open_meteo_answer(hours=48)))


def test_recorded_earlier_runs(feeds: Path) -> None:
    """Read from the file by hand: three hours as forecast on the day, one and two days before."""
    entries = json.loads((feeds / "error_and_edge_bodies.json").read_text(encoding="utf-8"))
    body = next(entry["body"] for entry in entries if entry["id"] == "om-previous-runs")
    runs = parse_previous_runs(body_of(body))
    assert runs[0].values["air_temperature_c"][0].tolist() == [13.8, 13.3, 12.1]
    assert runs[1].values["air_temperature_c"][0].tolist() == [14.2, 12.9, 12.1]
    assert runs[2].values["air_temperature_c"][0].tolist() == [14.4, 14.2, 13.4]
    assert runs[2].values["precipitation_mm"][0].tolist() == [0.0, 0.0, 0.0]


# Places and heights.


def test_places_are_read_with_what_the_service_knows() -> None:
    """Height and zone where given; hits without coordinates are passed over; texts are one line."""
    hits = [
        {"id": 1, "name": "Terrace\nTown", "latitude": 46.05, "longitude": 14.51, "elevation": 298.0,
         "timezone": "Europe/Ljubljana", "country_code": "SI", "admin1": "Ljubljana"},
        {"id": 2, "name": "Nowhere", "latitude": None, "longitude": 1.0},
        {"id": 3, "name": "Bare", "latitude": -1.0, "longitude": 2.0},
    ]  # fmt: skip
    found = parse_places(body_of({"results": hits, "generationtime_ms": 0.3}))
    assert found[0] == Place("Terrace Town", "Ljubljana", "SI", 46.05, 14.51, 298.0, "Europe/Ljubljana")
    assert found[1] == Place("Bare", None, None, -1.0, 2.0, None, None) and len(found) == 2


def test_no_hit_is_an_empty_answer_not_an_error() -> None:
    """Without `results` nothing was found; an object of another kind is refused."""
    assert parse_places(b'{"generationtime_ms": 0.15}') == ()
    with pytest.raises(ForecastFormatError, match="no list of places"):
        parse_places(b'{"hello": 1}')
    assert places_query(" Terrace ", most=500) == {
        "name": "Terrace", "count": "100", "language": "en", "format": "json"
    }  # fmt: skip
    with pytest.raises(ValueError, match="two letters"):
        places_query("T")


def test_heights_are_read_and_impossible_ones_refused() -> None:
    """One height for one point, within what the Earth has."""
    assert elevation_query(46.05, 14.51) == {"latitude": "46.0500", "longitude": "14.5100"}
    assert parse_elevation(b'{"elevation": [298.0]}') == 298.0
    for body in (b'{"elevation": [99999]}', b'{"elevation": []}', b'{"elevation": [null]}', b"{}"):
        with pytest.raises(ForecastFormatError, match="no height"):
            parse_elevation(body)
