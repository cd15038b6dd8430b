"""Several answers about the same nights: how far they lie apart, and what one can lend to another."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from frostguard.weather.gates import Note, coming_night, night_window
from frostguard.weather.series import HOUR, Quality, WeatherSeries, utc_hour, with_notes

NOTABLE_DIFFERENCE_K = 3.0
"""Two services further apart than this tonight are told of [K]: one and a half times the usual spread of the
first night (estimate)."""

LONGEST_GAP = timedelta(days=7)
"""Longest gap between kept hours and a forecast over which the kept ones still help a big root ball."""


def with_difference(
    series: WeatherSeries, other: WeatherSeries, now: datetime, time_zone: str
) -> WeatherSeries:
    """The series with how far the other service's nights lie from its own, where that is notable.

    Parameters
    ----------
    series, other : WeatherSeries
        The answer that is used, and the second opinion.
    now : datetime
        Aware; tonight is the night that comes.
    time_zone : str
        The site's.

    Returns
    -------
    WeatherSeries
        With `service_difference_k` in the hours of nights that differ by more than 3 K, and a note if
        tonight is one of them. The uncertainty widens by it; the temperatures stay.
    """
    tonight = coming_night(now, time_zone)
    apart = np.full(series.n_hours, np.nan)
    night, of_tonight = tonight, float("nan")
    while night_window(night, time_zone)[0] < min(series.times[-1], other.times[-1]):
        rest_only = night == tonight
        difference_k = _difference_k(series, other, night, time_zone, now if rest_only else None)
        if abs(difference_k) > NOTABLE_DIFFERENCE_K:
            begin, end = night_window(night, time_zone)
            apart[(series.times > begin) & (series.times <= end)] = difference_k
            of_tonight = difference_k if rest_only else of_tonight
        night += timedelta(days=1)
    if np.isnan(apart).all():
        return series
    values = np.repeat(apart[None, :], series.n_members, axis=0)
    code = np.where(np.isnan(values), Quality.MISSING, Quality.DERIVED).astype(np.uint8)
    series = replace(
        series,
        values={**series.values, "service_difference_k": values},
        quality={**series.quality, "service_difference_k": code},
    )
    series = _credited(series, other)
    if np.isnan(of_tonight):
        return series
    return with_notes(
        series, Note.SERVICES_DIFFER.of(other.provenance.service, f"{of_tonight:+.1f}")
    )


def _difference_k(
    series: WeatherSeries, other: WeatherSeries, night: date, time_zone: str, since: datetime | None
) -> float:
    """The other's night minimum less this one's, over the hours that both know; NaN if too few are."""
    begin, end = night_window(night, time_zone)
    if since is not None:
        begin = max(begin, utc_hour(since))
    shared, mine, theirs = np.intersect1d(series.times, other.times, return_indices=True)
    inside = (shared > begin) & (shared <= end)
    first = series.values["air_temperature_c"][:, mine[inside]].mean(axis=0)
    second = other.values["air_temperature_c"][:, theirs[inside]].mean(axis=0)
    known = ~np.isnan(first) & ~np.isnan(second)
    if known.sum() < 0.9 * ((end - begin) / HOUR) - 1.0 or not known.any():
        return float("nan")
    return float(second[known].min() - first[known].min())


def completed_from(series: WeatherSeries, other: WeatherSeries, *, columns: bool) -> WeatherSeries:
    """The series with the past hours of another answer before its own, and columns that it lacks.

    Parameters
    ----------
    series : WeatherSeries
        The answer that is used; its own numbers all stay.
    other : WeatherSeries
        An answer for the same place, perhaps kept from yesterday; its mean over members is taken.
    columns : bool
        Whether to take columns too: from the same house, whose models agree with one another.

    Returns
    -------
    WeatherSeries
        Lent values are coded FILLED; notes say so. Nothing changes where the other ends more than a
        week before the series begins, or adds no hour and no column.
    """
    first = min(series.times[0], other.times[0])
    if other.times[-1] + np.timedelta64(LONGEST_GAP) < series.times[0]:
        return series
    axis = np.arange(first, series.times[-1] + HOUR, HOUR)
    begins = int((series.times[0] - first) / HOUR)
    shared, mine, theirs = np.intersect1d(axis, other.times, return_indices=True)
    lent_hours = (shared < series.times[0]).any()
    lent_columns = [name for name in other.values if name not in series.values] if columns else []
    if not lent_hours and not lent_columns:
        return series
    values: dict[str, NDArray[np.float64]] = {}
    quality: dict[str, NDArray[np.uint8]] = {}
    names = [*series.values, *(name for name in other.values if name not in series.values)]
    for name in names:
        block = np.full((series.n_members, axis.size), np.nan)
        code = np.full(block.shape, Quality.MISSING, dtype=np.uint8)
        if name in other.values:
            lent = np.full(shared.size, True) if name in lent_columns else shared < series.times[0]
            given = other.values[name].mean(axis=0)[theirs[lent]]
            block[:, mine[lent]] = given
            code[:, mine[lent]] = np.where(np.isnan(given), Quality.MISSING, Quality.FILLED)
        if name in series.values:
            block[:, begins:] = series.values[name]
            code[:, begins:] = series.quality[name]
        if not np.isnan(block).all():
            values[name], quality[name] = block, code
    notes = []
    if lent_hours and other.provenance.service != series.provenance.service:
        notes.append(Note.HISTORY_OTHER.of(other.provenance.service))
    if lent_columns and not set(lent_columns) <= {"air_temperature_spread_k"}:
        notes.append(Note.COLUMNS_OTHER.of(other.provenance.service))
    lent = _credited(replace(series, times=axis, values=values, quality=quality), other)
    return with_notes(lent, *notes)


def _credited(series: WeatherSeries, other: WeatherSeries) -> WeatherSeries:
    """The series with the credit that is owed to the other as well."""
    mine, theirs = series.provenance.credit, other.provenance.credit
    if theirs in mine:
        return series
    credit = f"{mine}; {theirs}" if mine else theirs
    return replace(series, provenance=replace(series.provenance, credit=credit))
