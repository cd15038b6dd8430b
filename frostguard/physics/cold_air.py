"""Air beside the pots on clear calm nights: colder than the air at screen height that a forecast tells.

Over open land the ground radiates its heat away and chills the air that lies on it, the lower the colder.
Where wind stirs it, or walls and roofs stand about, little of that is left.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

SCREEN_M = 2.0
"""Height of forecast air temperatures; World Meteorological Organization, Guide No. 8: 1.25 to 2 m."""

GRASS_M = 0.05
"""Height of a grass-minimum thermometer; the same guide."""

DEEPEST_DEFICIT_K = 6.5
"""Air at 5 cm below air at 2 m on a clear calm night [K]. With it an alfalfa field (US-Tw3, 2013 to 2018) comes out
right on the average of its calm clear nights from autumn to spring; summer nights would have 4.6, and so had the
largest night of a station forecast of the German weather service (MOSMIX_L of 12 April 2023, 10 nights). Winter
nights are half as long again as those, and growth is lower. Grass 4 to 5 K below the screen is common, 10 K over
snow (R. Brugge, Weather 66, 2011, on grass minima)."""

CLEAR_NIGHT_LOSS_W_M2 = 90.0
"""Net long-wave loss of the ground on such a night: 90 to 100 W/m2 under a clear sky, R. L. Snyder and J. P. de
Melo-Abreu, Frost Protection, FAO, 2005 (from memory)."""

CALM_M_S, STIRRED_M_S = 1.5, 6.0
"""Wind at 10 m up to which all of the deficit is there, and from which none is left; estimates: radiation frost
is forecast below some 2 m/s, and from a moderate breeze on the lowest metres are mixed."""


def near_ground_deficit_k(
    height_m: ArrayLike, wind_speed_10m_m_s: ArrayLike, net_loss_w_m2: ArrayLike
) -> FloatArray:
    """How much colder than at screen height the air near open ground is.

    Parameters
    ----------
    height_m : array_like
        Height above the ground; held within 0.05 to 2 m [m].
    wind_speed_10m_m_s : array_like
        Wind over open land at 10 m [m/s].
    net_loss_w_m2 : array_like
        Net radiation that the ground loses [W/m2]; a gain (negative, by day) makes no deficit.

    Returns
    -------
    ndarray, broadcast shape
        Deficit, 0 or more [K].

    Notes
    -----
    Logarithmic in height between 5 cm and 2 m; in proportion to the loss, up to that of a clear night and a
    quarter more; linear in wind between calm and stirred. Snow-covered land goes further (errs warm there), moist
    bare soil and water less far. Checked on an alfalfa field, 2013 to 2018: `tests/reference/measured`.
    """
    held = np.clip(np.asarray(height_m, dtype=np.float64), GRASS_M, SCREEN_M)
    by_height = np.log(SCREEN_M / held) / np.log(SCREEN_M / GRASS_M)
    by_loss = np.clip(np.asarray(net_loss_w_m2, dtype=np.float64) / CLEAR_NIGHT_LOSS_W_M2, 0.0, 1.25)
    wind = np.asarray(wind_speed_10m_m_s, dtype=np.float64)
    by_wind = np.clip((STIRRED_M_S - wind) / (STIRRED_M_S - CALM_M_S), 0.0, 1.0)
    deficit: FloatArray = DEEPEST_DEFICIT_K * by_height * by_loss * by_wind
    return deficit
