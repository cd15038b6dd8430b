"""From values to places in a picture, and the marks along an axis."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, isfinite

import numpy as np
from numpy.typing import NDArray

from frostguard.garden.settings import Units
from frostguard.report.html.markup import DECIMALS, number
from frostguard.report.words import decimal

NICE_STEPS = (1, 2, 5, 10, 20)
"""Degrees between marks."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: `low` lies at `start`, `high` at `end`."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value lies."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark of an axis: the temperature [degC], and what is written beside it in the person's unit."""

    value_c: float
    label: str


def degree_ticks(low_c: float, high_c: float, units: Units, *, most: int) -> list[Tick]:
    """Marks at whole degrees of the person's unit from below `low_c` to above `high_c`, one of them at freezing.

    Parameters
    ----------
    low_c, high_c : float
        What must lie between the first and the last mark [degC].
    units : Units
        Celsius or Fahrenheit.
    most : int
        No more marks than these, unless the widest step needs more.
    """
    zero, per_k = (32.0, 1.8) if units is Units.IMPERIAL else (0.0, 1.0)
    for step in NICE_STEPS:
        first, last = floor(low_c * per_k / step), ceil(high_c * per_k / step)
        if last - first < most or step == NICE_STEPS[-1]:
            break
    last = max(last, first + 1)
    return [Tick(k * step / per_k, decimal(zero + k * step, 0)) for k in range(first, last + 1)]


def span(*series: Iterable[float]) -> tuple[float, float]:
    """The least and the greatest of all finite values."""
    finite = [float(value) for values in series for value in values if isfinite(value)]
    return min(finite), max(finite)


def line(xs: Sequence[float], ys: Sequence[float], *, closed: bool = False) -> str:
    """A path through the points: the first one absolute, the others as steps between rounded places."""
    places = [(round(x, DECIMALS), round(y, DECIMALS)) for x, y in zip(xs, ys, strict=True)]
    steps = [
        f"{number(x - before_x)} {number(y - before_y)}"
        for (before_x, before_y), (x, y) in pairwise(places)
    ]
    if not places:
        return ""
    path = f"M{number(places[0][0])} {number(places[0][1])}"
    return path + ("l" + " ".join(steps) if steps else "") + ("z" if closed else "")


def thinned(points: NDArray[np.float64], tolerance: float) -> NDArray[np.float64]:
    """The points of a line, shape (n, 2), without those that lie within `tolerance` of the line through the others.

    The first and the last stay (Ramer 1972; Douglas and Peucker 1973).
    """
    if len(points) < 3:
        return points
    along = points[-1] - points[0]
    length = float(np.hypot(*along))
    away = points - points[0]
    distance = np.hypot(*away.T) if length == 0.0 else np.abs(along[0] * away[:, 1] - along[1] * away[:, 0]) / length
    farthest = int(np.argmax(distance))
    if distance[farthest] <= tolerance:
        return points[[0, -1]]
    before, after = thinned(points[: farthest + 1], tolerance), thinned(points[farthest:], tolerance)
    return np.concatenate([before[:-1], after])


def apart(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """The places moved as little as needed to lie `gap` apart within `low` to `high`, in their order."""
    order = sorted(range(len(places)), key=lambda k: places[k])
    moved = [min(max(places[k], low), high) for k in order]
    for k in range(1, len(moved)):
        moved[k] = max(moved[k], moved[k - 1] + gap)
    if moved and moved[-1] > high:
        moved[-1] = high
        for k in range(len(moved) - 2, -1, -1):
            moved[k] = min(moved[k], moved[k + 1] - gap)
    placed = [0.0] * len(places)
    for k, place in zip(order, moved, strict=True):
        placed[k] = place
    return placed
