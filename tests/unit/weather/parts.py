"""Parts of series put together for tests: some of the hours, several series as members of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from frostguard.weather.series import WeatherSeries


def select_hours(series: WeatherSeries, first: np.datetime64, last: np.datetime64) -> WeatherSeries:
    """The hours from `first` to `last`, both included; ValueError if the series has none of them."""
    kept = (series.times >= first) & (series.times <= last)
    if not kept.any():
        raise ValueError(f"no hour between {first} and {last}")
    return replace(
        series,
        times=series.times[kept],
        values={name: array[:, kept] for name, array in series.values.items()},
        quality={name: array[:, kept] for name, array in series.quality.items()},
    )


def stack_members(parts: Sequence[WeatherSeries]) -> WeatherSeries:
    """One series with the members of all `parts`, which must share their hours and columns."""
    head = parts[0]
    for part in parts[1:]:
        if not np.array_equal(part.times, head.times) or set(part.values) != set(head.values):
            raise ValueError("members must share their hours and columns")
    return replace(
        head,
        values={name: np.concatenate([part.values[name] for part in parts]) for name in head.values},
        quality={name: np.concatenate([part.quality[name] for part in parts]) for name in head.quality},
        notes=tuple(dict.fromkeys(note for part in parts for note in part.notes)),
    )
