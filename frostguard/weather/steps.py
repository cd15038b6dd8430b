"""Steps longer than an hour, and lowest values of a span, brought onto whole hours.

Some services give every sixth hour and the lowest temperature between; the night's minimum is then in
that number and not in any of the instants.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from frostguard.weather.series import Quality

Array = NDArray[np.float64]

LONGEST_STEP_H = 6
"""Longest step over which instants are joined by lines [h]: that of the services known here."""

NOTICEABLE_K = 0.05
"""Half of the last digit that services give; smaller differences are rounding."""


@dataclass(frozen=True, slots=True)
class Extremes:
    """Lowest and highest temperature from `row` to `row + hours`, or NaN; the instant at `row` may be in it or not."""

    row: int
    hours: int
    lowest_c: float
    highest_c: float


def hours_between(rows: NDArray[np.int64], values: Array) -> tuple[Array, NDArray[np.uint8]]:
    """Values at every hour from values at some hours, joined by lines over at most six hours.

    Parameters
    ----------
    rows : ndarray of int, shape (n_steps,)
        Hours of the steps after the first, rising, the first being 0.
    values : ndarray, shape (n_steps,)
        NaN where nothing is known.

    Returns
    -------
    tuple of ndarray, shape (n_hours,)
        Values, and INTERPOLATED between the steps.
    """
    hours = np.arange(int(rows[-1]) + 1)
    filled = np.full(hours.size, np.nan)
    filled[rows] = values
    quality = np.full(hours.size, Quality.GIVEN, dtype=np.uint8)
    known = np.flatnonzero(~np.isnan(filled))
    asked = np.isin(hours, rows)
    for before, after in pairwise(known):
        inside = np.arange(before + 1, after)
        if after - before > LONGEST_STEP_H or asked[inside].any():
            continue  # a step that is there but empty stays empty
        share = (inside - before) / (after - before)
        filled[inside] = filled[before] + share * (filled[after] - filled[before])
        quality[inside] = Quality.INTERPOLATED
    quality[np.isnan(filled)] = Quality.MISSING
    return filled, quality


def with_extremes(
    air_c: Array, quality: NDArray[np.uint8], spans: Sequence[Extremes]
) -> tuple[Array, NDArray[np.uint8]]:
    """The air temperature such that each span reaches its stated lowest (else highest) value.

    Parameters
    ----------
    air_c : ndarray, shape (n_hours,)
        Air temperature [degC], NaN where unknown.
    quality : ndarray of uint8, shape (n_hours,)
        Its codes.
    spans : sequence of Extremes
        Spans with their extremes, by row.

    Returns
    -------
    tuple of ndarray, shape (n_hours,)
        Temperatures, and codes, DERIVED where changed.

    Notes
    -----
    Within a span of interpolated hours the line is bent by a parabola that is nought at the span's ends,
    so that the hours beside the coldest are cold as well; between given hours only the coldest one is
    lowered. A span that should fall as well as rise is bent down: the colder reading. An extreme that the
    instant at the span's begin has already is reached: after a night's low every span but rises from there.
    """
    air_c, quality = air_c.copy(), quality.copy()
    for span in spans:
        rows = np.arange(span.row + 1, min(span.row + span.hours, air_c.size - 1) + 1)
        rows = rows[~np.isnan(air_c[rows])]
        if not rows.size:
            continue
        between = rows[quality[rows] != Quality.GIVEN]
        seen_c = air_c[np.append(rows, span.row)]
        if span.lowest_c < np.nanmin(seen_c) - NOTICEABLE_K:
            if between.size:
                changed = _bend(air_c, between, span, span.lowest_c)
            else:
                changed = rows[[air_c[rows].argmin()]]
                air_c[changed] = span.lowest_c
        elif between.size and span.highest_c > np.nanmax(seen_c) + NOTICEABLE_K:
            changed = _bend(air_c, between, span, span.highest_c)
        else:
            continue
        quality[changed] = Quality.DERIVED
    return air_c, quality


def _bend(air_c: Array, rows: NDArray[np.int64], span: Extremes, wanted_c: float) -> NDArray[np.int64]:
    """Bend the temperatures of `rows` in place until one of them just reaches `wanted_c`; the rows bent."""
    share = (rows - span.row) / span.hours
    parabola = 4.0 * share * (1.0 - share)
    rows, parabola = rows[parabola > 0.0], parabola[parabola > 0.0]
    if rows.size:
        reach = (wanted_c - air_c[rows]) / parabola
        air_c[rows] += parabola * (reach.max() if wanted_c < air_c[rows].min() else reach.min())
    return rows
