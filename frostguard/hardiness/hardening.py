"""How hard plants are today, from the temperatures of the past weeks.

One number for the tops and one for the roots, between 0 (soft, in growth) and 1 (as hard as in
mid-winter). They run day by day, at the pace of the plant's kind (`frostguard.hardiness.pace`):

- cold nights harden; the tops of woody plants of cold winters harden slowly while days are still long;
- warm days soften, about twice as fast as cold ones harden;
- after midwinter each warm day also lowers what can be won back, and once buds have broken (heat sum)
  nothing is won back until the next summer;
- roots do all this at half the pace or less, and know no day length.

Temperatures known are used as far back as they go; before that the same rules run over a smooth
climate of the latitude. In the southern hemisphere the year is shifted by six months.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import Enum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frostguard.hardiness.pace import WOODY, Pace

HEAT_BASE_C = 5.0
BUD_SWELL_HEAT_K_D = 50.0  # of a generic plant; taxa in flower have their own
BUD_BREAK_HEAT_K_D = 180.0
LONG_DAY_PACE = 0.3
"""Share of the pace at which woody tops harden while days are long; estimate."""

RIPENED_BY_SHORT_DAYS = 0.25
"""What short days alone give the tops of woody plants by autumn, however mild it is. Hardening has two stages, the
first set going by short days, the second by repeated cold (Dirr & Smith 1988, Ornamentals Northwest Archives
12(5):5-9); how much the first gives is an estimate."""

WINTER_HARDENING = 0.6  # tops harder than this count as in winter


class Season(Enum):
    """What cold threatens: unhardened plants, roots, or buds."""

    AUTUMN = "autumn"
    WINTER = "winter"
    SPRING = "spring"


@dataclass(frozen=True, slots=True)
class HardeningState:
    """How hard plants are on one day.

    `top` and `root` run from 0 (soft) to 1 (mid-winter). `ceiling` is the most that tops can reach
    again this winter. `heat_k_d` is the heat above 5 degC since midwinter [K d], 0 before it.
    `days_known` counts days with given temperatures, the rest was climate.
    """

    top: float
    root: float
    ceiling: float
    heat_k_d: float
    days_known: int

    @property
    def buds_broken(self) -> bool:
        """Whether a generic plant's buds have broken, after which it hardens no more."""
        return self.heat_k_d >= BUD_BREAK_HEAT_K_D


SOFT = HardeningState(top=0.0, root=0.0, ceiling=1.0, heat_k_d=0.0, days_known=0)
"""A plant in full growth."""


def hardening_state(daily_minimum_c: ArrayLike, daily_mean_c: ArrayLike, *, on: date,
                    latitude_deg: float, pace: Pace = WOODY) -> HardeningState:
    """How hard plants are on a day, from the days before it.

    Parameters
    ----------
    daily_minimum_c, daily_mean_c : array_like, shape (n_days,)
        Air temperatures at the plants, oldest first, the last one of the day before `on` [degC]. May
        be empty: then the climate of the latitude stands in. A day with NaN is filled from it too.
    on : date
        The day asked for.
    latitude_deg : float
        Latitude, north positive [deg].
    pace : Pace
        Of the plant's kind, from `pace_of`; that of hardy woody plants if not given.

    Returns
    -------
    HardeningState

    Raises
    ------
    ValueError
        If the two arrays differ in shape.

    Notes
    -----
    With 30 days known the start from the climate hardly matters for the tops (0.9 to the 30th is 4 %
    in a cold month) and somewhat for the roots. The heat since midwinter has to be known from then on: at a mild
    coast with 30 days known in early April a third of it is missing, and buds are told a week or so too late,
    which errs to the hard side. Days kept from look to look, and the gardener's word on the stage, mend that.
    """
    minima, means = np.asarray(daily_minimum_c, dtype=float), np.asarray(daily_mean_c, dtype=float)
    if minima.shape != means.shape or minima.ndim != 1:
        raise ValueError("daily minima and means must be one-dimensional and of equal length")
    first_day = on - timedelta(days=len(minima))
    state = climatological_state(first_day, latitude_deg, pace)
    known = 0
    for offset, (minimum_c, mean_c) in enumerate(zip(minima.tolist(), means.tolist(), strict=True)):
        day = first_day + timedelta(days=offset)
        if math.isnan(minimum_c) or math.isnan(mean_c):
            minimum_c, mean_c = _climate_c(season_day(day, latitude_deg), latitude_deg)
        else:
            known += 1
        state = next_day(state, day, minimum_c, mean_c, latitude_deg, pace)
    return replace(state, days_known=known)


def climatological_state(on: date, latitude_deg: float, pace: Pace = WOODY) -> HardeningState:
    """How hard plants are on a day in the smooth climate of the latitude, from midsummer on."""
    return _climatological_states(round(abs(latitude_deg)), pace)[season_day(on, latitude_deg)]


def next_day(state: HardeningState, day: date, minimum_c: float, mean_c: float, latitude_deg: float,
             pace: Pace = WOODY) -> HardeningState:
    """The state after a day of given minimum and mean temperature [degC]."""
    return _step(state, season_day(day, latitude_deg), minimum_c, mean_c, abs(latitude_deg), pace)


def season_on(state: HardeningState, on: date, latitude_deg: float) -> Season:
    """The season as far as cold is concerned.

    From midsummer to midwinter it is autumn until the tops have hardened, then winter; from midwinter
    to midsummer it is winter until buds of a generic plant swell, then spring.
    """
    if season_day(on, latitude_deg) < _MIDWINTER:
        return Season.WINTER if state.top >= WINTER_HARDENING else Season.AUTUMN
    return Season.SPRING if state.heat_k_d >= BUD_SWELL_HEAT_K_D else Season.WINTER


def season_day(on: date, latitude_deg: float) -> int:
    """Days since midsummer, 0 to 365: since 1 July in the north and 1 January in the south."""
    start_month = 7 if latitude_deg >= 0 else 1
    start_year = on.year if on.month >= start_month else on.year - 1
    return (on - date(start_year, start_month, 1)).days


_MIDWINTER = 184  # 1 January in the north; 3 or 4 July in the south


def _step(state: HardeningState, day: int, minimum_c: float, mean_c: float, latitude_deg: float,
          pace: Pace) -> HardeningState:
    """One day on; `day` since midsummer, `latitude_deg` without sign."""
    if day == 0:
        state = replace(state, ceiling=1.0, heat_k_d=0.0)
    after_midwinter = day >= _MIDWINTER
    softening = pace.softening(mean_c)
    cold = pace.cold(minimum_c)
    shortness = _shortness(day, latitude_deg)
    short_days = LONG_DAY_PACE + (1.0 - LONG_DAY_PACE) * shortness if pace.waits_for_short_days else 1.0
    ripened = RIPENED_BY_SHORT_DAYS * shortness if pace.waits_for_short_days and not after_midwinter else 0.0
    over = pace.ends_at_bud_break and state.buds_broken
    hardening = 0.0 if over else pace.hardening_per_day * cold * short_days
    root_softening = pace.root_softening(mean_c)
    return HardeningState(
        top=max(state.top + hardening * max(state.ceiling - state.top, 0.0) - softening * state.top, ripened),
        root=state.root + pace.root_hardening_per_day * cold * (1.0 - state.root) - root_softening * state.root,
        ceiling=state.ceiling * (1.0 - pace.lost_for_good * softening) if after_midwinter else 1.0,
        heat_k_d=state.heat_k_d + max(mean_c - HEAT_BASE_C, 0.0) if after_midwinter else 0.0,
        days_known=state.days_known,
    )


def _shortness(day: int, latitude_deg: float) -> float:
    """How far days are short enough to harden: 1 below 11 h of daylight, 0 above 14 h."""
    declination = math.radians(23.44) * math.cos(2 * math.pi * (day + 10) / 365.25)  # 21 June is day -10
    cosine = -math.tan(math.radians(min(latitude_deg, 66.0))) * math.tan(declination)
    daylight_h = 24 / math.pi * math.acos(min(max(cosine, -1.0), 1.0))
    return 1.0 - min(max((daylight_h - 11.0) / 3.0, 0.0), 1.0)


def _climate_c(day: int, latitude_deg: float) -> tuple[float, float]:
    """Daily minimum and mean of a smooth climate between coast and inland [degC] (estimate).

    Annual mean by a line through 13.6 degC at 40 deg and 6.4 degC at 60 deg, summer and winter 10 K
    from it (less below 40 deg); the coldest day is 15 January, the night 4 K below the mean.
    """
    latitude_deg = min(abs(latitude_deg), 70.0)
    annual_c = 28.0 - 0.36 * latitude_deg
    swing_k = min(10.0, 0.25 * latitude_deg)
    mean_c = annual_c - swing_k * math.cos(2 * math.pi * (day - 198) / 365.25)
    return mean_c - 4.0, mean_c


@lru_cache(maxsize=32)
def _climatological_states(latitude_deg: int, pace: Pace) -> tuple[HardeningState, ...]:
    """The state at the start of each day since midsummer, 366 of them."""
    states = [SOFT]
    for day in range(366):
        states.append(_step(states[-1], day, *_climate_c(day, latitude_deg), latitude_deg, pace))
    return tuple(states)


def daily_minimum_and_mean_c(air_temperature_c: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Daily minima and means from hourly temperatures, whole days counted back from the last hour.

    Parameters
    ----------
    air_temperature_c : array_like, shape (n_hours,)
        Hourly values, oldest first [degC]. Hours before the first whole day are left out.

    Returns
    -------
    tuple of ndarray, shape (n_hours // 24,)
        Minima and means [degC]; NaN for a day with a value missing.
    """
    hourly = np.asarray(air_temperature_c, dtype=float)
    days = hourly[hourly.size % 24:].reshape(-1, 24)
    return days.min(axis=1), days.mean(axis=1)
