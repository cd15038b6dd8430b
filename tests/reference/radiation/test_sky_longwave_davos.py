"""The default sky against ten years of measured half-hours at Davos.

Data: site CH-DAV, 2013 to 2022, long-wave, air, humidity, pressure and sun; an example file of the package
diive 0.90 (GPL-3; the origin's own licence is not stated in the file, so it is read and never copied).
The file's own path may stand in the environment variable FROSTGUARD_DAVOS; else it is looked for as told in
tests/reference/measured/archives.py.
"""

from __future__ import annotations

import io
import os
from pathlib import Path

import numpy as np
import pytest

from frostguard.physics.humidity import saturation_vapour_pressure_water_hpa
from frostguard.physics.radiation import (
    black_body_w_m2,
    brunt_sky_emissivity,
    brutsaert_sky_emissivity,
    default_sky_longwave_w_m2,
    idso_1981_sky_emissivity,
    konzelmann_cloudy_emissivity,
    prata_sky_emissivity,
    unsworth_monteith_sky_emissivity,
)
from frostguard.physics.sun import extraterrestrial_normal_w_m2, solar_position
from tests.reference.measured.archives import measured_file

pytestmark = pytest.mark.data

FORMULAS = {
    "Brunt": brunt_sky_emissivity,
    "Brutsaert": brutsaert_sky_emissivity,
    "Prata": prata_sky_emissivity,
    "Idso 1981": idso_1981_sky_emissivity,
}
PATTERN = "exampledata_PARQUET_CH-DAV_*2013-2022*.parquet"


def _measurements() -> Path | io.BytesIO:
    given = os.environ.get("FROSTGUARD_DAVOS")
    return measured_file("diive", PATTERN) if given is None else Path(given)


@pytest.fixture(scope="module")
def davos():
    """Columns as arrays, with the sun's elevation, the measured emissivity and what the default says."""
    pandas = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    table = pandas.read_parquet(_measurements())
    times = table.index.to_numpy().astype("datetime64[s]") - np.timedelta64(3600, "s")  # Central European
    air_c, humidity = table["Tair_orig"].to_numpy(), np.maximum(table["RH"].to_numpy(), 1.0)
    vapour_hpa = humidity / 100.0 * saturation_vapour_pressure_water_hpa(air_c)
    emissivity = table["LW_IN"].to_numpy() / black_body_w_m2(air_c)
    spread = pandas.Series(emissivity, index=times).rolling(9, center=True, min_periods=8).std().to_numpy()
    return {
        "air_c": air_c,
        "vapour_hpa": vapour_hpa,
        "pressure_hpa": table["PA"].to_numpy(),
        "longwave": table["LW_IN"].to_numpy(),
        "sun": table["Rg_orig"].to_numpy(),
        "emissivity": emissivity,
        "spread": spread,
        "elevation_deg": solar_position(times, 46.815, 9.856).elevation_deg,
        "above_air": extraterrestrial_normal_w_m2(times),
    }


def _bias(davos, chosen, cloud) -> float:
    sky = default_sky_longwave_w_m2(
        davos["air_c"][chosen], davos["vapour_hpa"][chosen], davos["pressure_hpa"][chosen], cloud
    )
    error = sky - davos["longwave"][chosen]
    others = {
        name: round(float(np.nanmean(_cloudy(formula, davos, chosen, cloud) - davos["longwave"][chosen])), 1)
        for name, formula in FORMULAS.items()
    }
    bias, rmse = float(np.nanmean(error)), float(np.sqrt(np.nanmean(error**2)))
    print(f"\nDavos: n {chosen.sum()}, bias {bias:.1f}, RMSE {rmse:.1f} W/m2; other skies: {others}")
    return bias


def _cloudy(formula, davos, chosen, cloud):
    clear = formula(davos["air_c"][chosen], davos["vapour_hpa"][chosen])
    return konzelmann_cloudy_emissivity(clear, cloud) * black_body_w_m2(davos["air_c"][chosen])


@pytest.mark.parametrize(("low_c", "high_c"), [(-25, -10), (-10, -5), (-5, 0), (0, 5), (5, 12)])
def test_steady_clear_nights(davos, low_c, high_c):
    """On steady clear nights the default sky is within 5 W/m2 of the mean, in every class of temperature."""
    # Clear: emissivity steady to 0.008 over four hours and below 0.80, so that a closed deck is left out.
    # The goal of 5 W/m2 is what the accuracy of a pyrgeometer allows to tell.
    chosen = (davos["elevation_deg"] < -3.0) & (davos["spread"] < 0.008) & (davos["emissivity"] < 0.80)
    chosen &= (davos["air_c"] >= low_c) & (davos["air_c"] < high_c)
    assert chosen.sum() > 400
    assert abs(_bias(davos, chosen, 0.0)) <= 5.0


@pytest.mark.parametrize(
    ("low", "high"), [(0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 1.01)]
)
def test_days_by_cloud(davos, low, high):
    """By day, with cloud told by the sun, the default sky is within 5 W/m2 of the mean in every class."""
    pandas = pytest.importorskip("pandas")
    elevation = davos["elevation_deg"]
    high_sun = elevation > 8.0
    clearness = davos["sun"] / (davos["above_air"] * np.sin(np.radians(np.maximum(elevation, 1.0))))
    band = (elevation // 2).astype(int)
    best = {k: np.nanpercentile(clearness[high_sun & (band == k)], 93) for k in np.unique(band[high_sun])}
    relative = np.clip(clearness / np.array([best.get(k, np.nan) for k in band]), 0.0, 1.0)
    relative[~high_sun] = np.nan
    smooth = pandas.Series(relative).rolling(5, center=True).mean().to_numpy()
    # the cloud share at which Kasten & Czeplak 1980 let this much sun through
    cloud = (np.clip(1.0 - smooth, 0.0, 0.75) / 0.75) ** (1.0 / 3.4)
    chosen = (cloud >= low) & (cloud < high) & (davos["air_c"] < 12.0)
    assert chosen.sum() > 900
    assert abs(_bias(davos, chosen, cloud[chosen])) <= 5.0


def test_other_formula_would_be_noticed(davos):
    """A formula by temperature alone misses the coldest class by more than the goal."""
    chosen = (davos["elevation_deg"] < -3.0) & (davos["spread"] < 0.008) & (davos["emissivity"] < 0.80)
    chosen &= davos["air_c"] < -10.0
    air_c = davos["air_c"][chosen]
    sky = unsworth_monteith_sky_emissivity(air_c, davos["vapour_hpa"][chosen]) * black_body_w_m2(air_c)
    assert abs(float(np.nanmean(sky - davos["longwave"][chosen]))) > 10.0
