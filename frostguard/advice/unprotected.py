"""What a pot stands through as it is: harm before any job can act, and when a limit is passed."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import Evening, so_far
from frostguard.advice.nights import from_utc64
from frostguard.advice.outlook import Stretch, judge_pots, loss_of, night_hours, place_of
from frostguard.advice.pot_run import PotRun
from frostguard.hardiness.model import Tissue

COLD_QUANTILE = 0.1
"""The member that deadlines go by: one in ten is colder; estimate, as everywhere in the plan."""


def stood_through(
    evening: Evening, pots: NDArray[np.intp], night: int, until: int, run: PotRun
) -> tuple[Stretch, ...]:
    """Some pots as they are from dusk, if that is past, or else from now, to hour `until`, in the columns of `run`.

    Nothing where no hour of that night lies before `until`.
    """
    terrace, own = evening.terrace, evening.run
    hours = night_hours(terrace, own, evening.nights[night], evening.now)
    hours &= own.first + np.arange(hours.size) <= until
    stretches = (
        so_far(terrace, evening.past, pots, evening.nights[night], run.columns),
        Stretch(own, pots, hours, np.searchsorted(own.columns, run.columns)),
    )
    return tuple(one for one in stretches if one.inside.any())


def harm_by(evening: Evening, pot: int, tissues: Collection[Tissue], until: int) -> float:
    """Chance that the coming night has harmed the pot, as it stands, by hour `until`."""
    stretches = stood_through(evening, np.array([pot]), 0, until, evening.run)
    if not stretches:
        return 0.0
    (judged,) = judge_pots(evening.terrace, evening.run.columns, [evening.pots[pot]], [evening.limits[pot]], stretches)
    return loss_of([one for one in judged if one.limit.tissue in tissues], 1)[0]


def crossing_hour(
    evening: Evening, pot: int, tissues: Collection[Tissue], night: int, since: int
) -> float | None:
    """When the first of these tissues passes its limit in a cold member, in hours of the terrace.

    Parameters
    ----------
    evening : Evening
        The terrace left as it is.
    pot : int
        Its row.
    tissues : collection of Tissue
        Those at stake.
    night : int
        The night to look in.
    since : int
        Hour from which to look; it is told itself where the limit is passed by then.

    Returns
    -------
    float or None
        Between whole hours by a straight line; None where no limit is passed in that night.
    """
    terrace, run = evening.terrace, evening.run
    inside = night_hours(terrace, run, evening.nights[night], since - 1)
    hours = run.first + np.flatnonzero(inside)
    found = []
    for planting, limits in evening.limits[pot]:
        for limit in limits:
            if limit.tissue not in tissues or hours.size == 0:
                continue
            curve = terrace.colder(place_of(evening.pots[pot], planting, limit.tissue).curves_c(run)[inside, pot])
            above_k = np.quantile(curve, COLD_QUANTILE, axis=1, method="hazen") - limit.limit_c
            below = np.flatnonzero(above_k < 0.0)
            if below.size == 0:
                continue
            first = int(below[0])
            share = 0.0 if first == 0 else above_k[first - 1] / (above_k[first - 1] - above_k[first])
            found.append(float(hours[first]) if first == 0 else float(hours[first - 1] + share))
    return min(found, default=None)


def moment_of(evening: Evening, hour: float) -> datetime:
    """An hour of the terrace on the site's clock."""
    whole = int(hour)
    return from_utc64(evening.terrace.times[whole], evening.terrace.zone) + timedelta(hours=hour - whole)
