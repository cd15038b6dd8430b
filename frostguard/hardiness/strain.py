"""Harm that no limit tells: drought over frozen roots, sun on frozen buds, snow, ice, soaked mix, rooms.

Each function says how much of it there is; from when it is worth a word stands beside it. No chance is given:
nobody has measured one for plants in pots.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.hardiness.model import MovedLight
from frostguard.hardiness.taxon import Sensitivity

BALL_FROZEN = 0.5
"""Share of the freezable water from which roots give leaves next to no water; estimate."""

DRYING_SUN_W_M2, DRYING_WIND_M_S = 150.0, 3.0
"""Sun on the level or wind from which an hour dries leaves in the cold; estimates."""

DROUGHT_TOLD_H = {Sensitivity.HIGH: 6, Sensitivity.NORMAL: 12, Sensitivity.LOW: 24}
"""Drying hours over a frozen ball from which an evergreen is told, by how it takes drought; estimates."""

FROZEN_BUD_C = -1.0
THAWING_BEAM_W_M2 = 100.0
THAWS_WITHIN_H = 2
"""Sun straight on buds that were so cold so many hours before; estimates."""

WET_SNOW_AIR_C = (-1.0, 1.0)
WET_SNOW_TOLD_CM = 5.0
"""Snow that sticks falls near 0 degC; branches of evergreens are in danger from about 5 cm (estimates)."""

FREEZING_RAIN_TOLD_MM = 1.0
"""Rain on frozen wood: 1 mm glazes twigs (estimate); it loads them as wet snow does."""

SOAKING_RAIN_MM_WEEK = 25.0
"""Rain of a week that keeps an open pot in winter soaked if it cannot run off; estimate."""

SOAKED_FROZEN = 0.3
"""Share of the freezable water frozen from which soaked roots are in trouble; estimate."""

CLAY_CYCLES_TOLD = 3
"""Freezings and thawings of wet clay from which cracks are to be looked for. Estimate; terracotta is said to
hold a first winter and rarely a second (weak source)."""

SOFTENING_ROOM_C = 10.0
"""Rooms warmer than this undo hardening within days (common practice: back out after one to three nights)."""


def drying_hours(frozen_fraction: ArrayLike, sun_w_m2: ArrayLike, wind_speed_m_s: ArrayLike) -> NDArray[np.int_]:
    """Hours in which sun or wind draws water from leaves while the ball is frozen.

    Parameters
    ----------
    frozen_fraction : ndarray, shape (n_hours, ...)
        Share of the ball's freezable water that is ice.
    sun_w_m2, wind_speed_m_s : ndarray, shape (n_hours, ...)
        Sun on the level and wind at the plant [W/m2, m/s].

    Returns
    -------
    ndarray of int, shape (...)

    References
    ----------
    The predictor is common practice: hours of sun or wind with the ball at or below 0 degC.
    """
    frozen = np.asarray(frozen_fraction) >= BALL_FROZEN
    drying = (np.asarray(sun_w_m2) >= DRYING_SUN_W_M2) | (np.asarray(wind_speed_m_s) >= DRYING_WIND_M_S)
    return np.asarray(np.count_nonzero(frozen & drying, axis=0))


def sun_thaws_buds(bud_c: ArrayLike, beam_w_m2: ArrayLike) -> NDArray[np.bool_]:
    """Whether straight sun meets buds that are frozen, or were within the last two hours.

    Parameters
    ----------
    bud_c, beam_w_m2 : ndarray, shape (n_hours, ...)
        Bud temperature, and direct sun where the plant stands [degC, W/m2].

    Returns
    -------
    ndarray of bool, shape (...)

    References
    ----------
    Common practice: camellias, magnolias and early rhododendrons on an east side lose their flowers to quick
    thawing. For frozen root balls the opposite was found: slow thawing does not help (Perry, University of
    Vermont Extension COH31).
    """
    frozen = np.asarray(bud_c, dtype=float) <= FROZEN_BUD_C
    lately = frozen.copy()
    for hours in range(1, THAWS_WITHIN_H + 1):
        lately[hours:] |= frozen[:-hours]
    return np.asarray(np.any(lately & (np.asarray(beam_w_m2) >= THAWING_BEAM_W_M2), axis=0))


def wet_snow_cm(snowfall_cm: ArrayLike, air_temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Snow that falls near freezing and sticks [cm], summed over the first axis."""
    air = np.asarray(air_temperature_c, dtype=float)
    sticks = (air >= WET_SNOW_AIR_C[0]) & (air <= WET_SNOW_AIR_C[1])
    return np.asarray(np.sum(np.where(sticks, np.nan_to_num(snowfall_cm), 0.0), axis=0))


def freezing_rain_mm(
    precipitation_mm: ArrayLike, snowfall_cm: ArrayLike, air_temperature_c: ArrayLike
) -> NDArray[np.float64]:
    """Rain, not snow, that falls while the air is below -0.5 degC [mm], summed over the first axis.

    Notes
    -----
    Where a source tells snow by temperature alone there is none to be seen.
    """
    rain = (np.nan_to_num(snowfall_cm) <= 0.0) & (np.asarray(air_temperature_c, dtype=float) < -0.5)
    return np.asarray(np.sum(np.where(rain, np.nan_to_num(precipitation_mm), 0.0), axis=0))


def is_soaked(*, wet: bool, drains: bool, rain_week_mm: float) -> bool:
    """Whether a pot goes into the frost soaked: said to be wet, or rained on and unable to drain."""
    return wet or (not drains and rain_week_mm >= SOAKING_RAIN_MM_WEEK)


@dataclass(frozen=True, slots=True)
class DarkStay:
    """A time in a dark room, aware; `until` is None where it goes on."""

    since: datetime
    until: datetime | None = None


def dark_days(light: MovedLight, *, keeps_leaves: bool) -> int | None:
    """Days that a plant stands in the dark without lasting harm; None for as long as it rests.

    Common practice, for cool rooms: evergreens lose leaves after one to two weeks, and sooner in warmth; what
    rests leafless, or is kept nearly dry, sees no difference until it shoots.
    """
    if light in (MovedLight.DARK_OK, MovedLight.BRIGHT_OR_DARK):
        return None
    return 10 if keeps_leaves else 21 if light is MovedLight.STAY_OUT else 7


def days_spent_in_the_dark(stays: Iterable[DarkStay], now: datetime) -> float:
    """Days in the dark that still weigh on a plant: each day in the light since then takes one back (estimate).

    Parameters
    ----------
    stays : iterable of DarkStay
        Of one pot, in any order; where they overlap, the time counts once.
    now : datetime
        Aware.

    Returns
    -------
    float
        0 or more [d].
    """
    spent, lit_since = timedelta(0), datetime.min.replace(tzinfo=UTC)
    for stay in sorted(stays, key=lambda one: one.since):
        until = now if stay.until is None else min(stay.until, now)
        since = max(stay.since, lit_since)
        if until > since:
            spent = max(spent - (since - lit_since), timedelta(0)) + (until - since)
            lit_since = until
    return max(spent - (now - lit_since), timedelta(0)) / timedelta(days=1)


def dark_days_left(stands: int | None, spent_d: float) -> int | None:
    """Whole days more that a plant stands the dark which stands so many, after those spent there; 0 where none is left.

    None, for what rests, stays None.
    """
    return None if stands is None else max(stands - math.floor(spent_d), 0)


class BallShare(Enum):
    """How much of a root ball lies below a limit."""

    NONE = "none"
    OUTER_ROOTS = "outer roots"  # up to a third
    HALF = "half"
    WHOLE = "whole"  # from two thirds on


def share_below(limit_c: ArrayLike, ring_c: ArrayLike, mean_c: ArrayLike, core_c: ArrayLike) -> NDArray[np.float64]:
    """Share of a ball's volume that is colder than a limit, from its outer centimetre, mean and core.

    Parameters
    ----------
    limit_c, ring_c, mean_c, core_c : array_like
        All of one moment [degC].

    Returns
    -------
    ndarray
        0 to 1.

    Notes
    -----
    Between the outer ring and the core the temperature is taken to follow a power of the volume enclosed,
    chosen so that the mean comes out right. Exact for ring, mean and core; a ball that thaws from outside is
    told by its mean alone.
    """
    limit, ring, mean, core = (np.asarray(value, dtype=float) for value in (limit_c, ring_c, mean_c, core_c))
    cooling = core - ring > 1e-6
    rise = np.where(cooling, core - ring, 1.0)
    from_ring = np.clip(mean - ring, 0.02 * rise, 0.98 * rise)
    # T(v) = ring + rise * v^p over the volume share v from the outside: mean = ring + rise / (p + 1)
    power = rise / from_ring - 1.0
    share = np.clip((limit - ring) / rise, 0.0, 1.0) ** (1.0 / power)
    return np.where(cooling, share, (mean < limit).astype(float))


def ball_share(share: float) -> BallShare:
    """The word for a share of the ball."""
    if share <= 0.0:
        return BallShare.NONE
    return BallShare.OUTER_ROOTS if share < 1 / 3 else BallShare.HALF if share < 2 / 3 else BallShare.WHOLE
