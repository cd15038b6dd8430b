"""The six weathers and the sample files hold what the end-to-end tests rely on."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from frostguard.weather.files import load_weather
from frostguard.weather.gates import night_is_complete, night_of, night_window
from frostguard.weather.series import HOUR, Quality, WeatherSeries, utc_hour
from tests.e2e.weathers import (
    AHEAD_DAYS,
    PAST_DAYS,
    SAMPLES,
    TIME_ZONE,
    WEATHERS,
    jfk_windy_freeze,
    thaw_after_long_freeze,
    write_samples,
)

SAMPLE_FOLDER = Path(__file__).parents[2] / "samples"
INVENTED = sorted(set(WEATHERS) - {"windy-freeze"})


def coldest_c(series: WeatherSeries, night: int, name: str) -> float:
    """Lowest air temperature of the n-th night from the moment of asking, the first being 0."""
    asked = WEATHERS[name][1] if name in WEATHERS else series.provenance.issued
    assert asked is not None
    begin, end = night_window(asked.date() + timedelta(days=night), TIME_ZONE)
    inside = (series.times > begin) & (series.times <= end)
    return float(np.nanmin(series.values["air_temperature_c"][0, inside]))


@pytest.mark.parametrize("name", INVENTED)
def test_invented_columns_agree_with_one_another(name: str) -> None:
    """Dew point not above air, humidity to match, no sun at night, gust above wind, nothing missing."""
    series = WEATHERS[name][0]()
    value = {column: array[0] for column, array in series.values.items()}
    assert not any(np.isnan(array).any() for array in value.values()) and series.notes == ()
    assert np.all(value["dew_point_c"] <= value["air_temperature_c"])
    assert np.all(value["wind_gust_10m_m_s"] >= value["wind_speed_10m_m_s"])
    hour = (series.times.astype("datetime64[h]").astype(int) % 24 + 1) % 24  # central European winter time
    dark = (hour <= 4) | (hour >= 21)
    for column in ("global_horizontal_w_m2", "direct_normal_w_m2", "diffuse_horizontal_w_m2"):
        assert value[column][dark].max() == 0.0 and value[column].max() > 50.0
    assert np.all(value["diffuse_horizontal_w_m2"] <= value["global_horizontal_w_m2"] + 1.0)
    assert np.all((value["snowfall_cm"] == 0.0) | (value["precipitation_mm"] > 0.0))


@pytest.mark.parametrize("name", INVENTED)
def test_invented_humidity_is_that_of_the_dew_point(name: str) -> None:
    """Humidity and dew point agree within the rounding of both, by an independent formula."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    series = WEATHERS[name][0]()
    air, dew, humidity = (
        series.values[column][0]
        for column in ("air_temperature_c", "dew_point_c", "relative_humidity_percent")
    )
    for k in np.flatnonzero(air > 0.5)[::97]:  # psychrolib takes the vapour pressure over ice below 0 degC
        if dew[k] > 0.0:
            expected = 100 * psychrolib.GetRelHumFromTDewPoint(air[k], dew[k])
            # 0.05 K of rounding in air and dew point is 0.7 %, the humidity's own rounding 0.5 %.
            assert humidity[k] == pytest.approx(expected, abs=1.5)


@pytest.mark.parametrize("name", INVENTED)
def test_invented_sun_is_that_of_the_place(name: str) -> None:
    """Under a clear sky the invented sun comes near an independent clear-sky model at the same place."""
    import pvlib

    series = WEATHERS[name][0]()
    middles = series.times - np.timedelta64(1800, "s")
    import pandas as pd

    index = pd.DatetimeIndex(middles, tz="UTC")
    zenith = pvlib.solarposition.get_solarposition(index, 46.05, 14.51, altitude=298)["apparent_zenith"]
    clear = pvlib.clearsky.haurwitz(zenith)["ghi"].to_numpy()
    cloud, sun = series.values["cloud_cover_percent"][0], series.values["global_horizontal_w_m2"][0]
    bright = (cloud < 20) & (clear > 100)
    # The cloud factor takes up to 0.5 % at 20 % cloud; the hour's middle is not its mean: 8 % in all.
    np.testing.assert_allclose(sun[bright], clear[bright], rtol=0.08, atol=5)
    assert np.all(sun <= clear + 30)


@pytest.mark.parametrize("name", INVENTED)
def test_invented_weathers_span_a_month_back_and_a_week_ahead(name: str) -> None:
    """Thirty days before asking, seven whole nights after it."""
    make, asked = WEATHERS[name]
    series = make()
    assert series.times[0] <= utc_hour(asked) - (PAST_DAYS * 24 - 1) * HOUR
    tonight = night_of(asked, TIME_ZONE)
    nights = [tonight + timedelta(days=ahead) for ahead in range(AHEAD_DAYS)]
    assert all(night_is_complete(series, night, TIME_ZONE, since=asked) for night in nights)
    assert series.provenance.service == "invented" and "Invented" in series.provenance.credit


COMING_NIGHT_C = {"clear-calm-night": -5.0, "mild": 7.0, "spring-night": -2.5, "thaw": -2.5, "gale": -4.0}


@pytest.mark.parametrize(("name", "lowest_c"), COMING_NIGHT_C.items())
def test_the_coming_night_is_as_cold_as_its_name_says(name: str, lowest_c: float) -> None:
    """The first night's minimum is the one that the weather was made for."""
    assert coldest_c(WEATHERS[name][0](), 0, name) == pytest.approx(lowest_c, abs=0.11)


def test_the_gale_blows_and_the_clear_night_is_still() -> None:
    """The strongest gust is 28 m/s, in the frosty night; the clear night has little wind and cloud."""
    make, asked = WEATHERS["gale"]
    series = make()
    gust = series.values["wind_gust_10m_m_s"][0]
    assert gust.max() == pytest.approx(28.0)
    begin, end = night_window(asked.date(), TIME_ZONE)
    assert begin < series.times[gust.argmax()] <= end
    make, asked = WEATHERS["clear-calm-night"]
    series = make()
    begin, end = night_window(asked.date(), TIME_ZONE)
    deep = (series.times > begin + 9 * HOUR) & (series.times <= begin + 19 * HOUR)
    assert series.values["wind_speed_10m_m_s"][0, deep].max() < 2.0
    assert series.values["cloud_cover_percent"][0, deep].max() < 30.0


def test_the_thaw_follows_weeks_of_frost() -> None:
    """Of the thirty days before asking at least twenty stay below zero all day; the last two do not."""
    series = thaw_after_long_freeze()
    air = series.values["air_temperature_c"][0, : 30 * 24].reshape(30, 24)
    assert (air.max(axis=1) < 0.0).sum() >= 20
    assert np.all(air[-2:].max(axis=1) > 3.0)


def test_the_measured_freeze_lasts_six_days_with_wind_and_real_gaps() -> None:
    """JFK, 22 to 27 January 2013: 137 hours below zero, coldest -11.1 degC, windy, gaps left as they are."""
    series = jfk_windy_freeze()
    air = series.values["air_temperature_c"][0]
    # Counted in the package's table: the longest unbroken run of temperatures below 32 F at JFK.
    below = np.diff(np.flatnonzero(np.concatenate(([True], ~(air < 0.0), [True])))) - 1
    assert below.max() == pytest.approx(137, abs=1)
    assert np.nanmin(air) == -11.1
    assert np.nanmean(series.values["wind_speed_10m_m_s"]) > 4.0
    assert np.isnan(air).sum() == 1 and np.isnan(series.values["wind_gust_10m_m_s"]).sum() > 500
    assert "cloud_cover_percent" not in series.values and "global_horizontal_w_m2" not in series.values
    coldest = series.times[np.nanargmin(air)].astype("datetime64[h]").astype(int) % 24 + 1
    assert coldest in (3, 4, 5)  # on the terrace's clock, as on the airport's


@pytest.mark.parametrize("name", SAMPLES)
def test_sample_files_are_what_the_generator_makes(name: str, tmp_path: Path) -> None:
    """The files in samples/ read back to the generated weather, and say that they are invented."""
    path = SAMPLE_FOLDER / name
    assert path.read_text(encoding="utf-8").startswith("# note: Invented weather")
    series, made = load_weather(path), SAMPLES[name]()
    np.testing.assert_array_equal(series.times, made.times)
    for column, array in made.values.items():
        np.testing.assert_array_equal(series.values[column], array)
        assert set(series.quality[column].ravel()) == {Quality.GIVEN}
    assert series.provenance == made.provenance and series.provenance.issued is not None
    written = write_samples(tmp_path)
    assert {file.name for file in written} <= {file.name for file in SAMPLE_FOLDER.iterdir()}


def test_reading_a_sample_needs_no_table_library() -> None:
    """Start-up stays short: loading a weather file and parsing an answer import neither pandas nor httpx."""
    import subprocess
    import sys

    code = (
        "import sys; from frostguard.weather.files import load_weather;"
        f"load_weather({str(SAMPLE_FOLDER / 'mild.csv')!r});"
        "import frostguard.weather.forecast, frostguard.weather.uncertainty;"
        "assert not {'pandas', 'httpx', 'scipy', 'platformdirs'} & set(sys.modules), 'heavy'"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
