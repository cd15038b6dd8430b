"""What is to be drawn of an evening: the coming nights, and of each pot its curves and a cut through its root ball.

Only arrays of the simulation, nothing smoothed: the middle member's hours for a pot, in the bounding case in which
its outer roots get coldest, and the spread over all members beside them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.advise import Reckoning
from frostguard.advice.evening import FINE_AHEAD_H, Evening, branch_now, state_for, untouched_until
from frostguard.advice.layout import Side
from frostguard.advice.nights import from_utc64
from frostguard.advice.outlook import night_hours, tissue_outlook
from frostguard.advice.plan import Batch, TissueOutlook
from frostguard.advice.planner import Choice
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.physics.root_ball import select, temperature_field_c
from frostguard.physics.root_ball_grid import RING_WIDTH_M, build_grid

Array = NDArray[np.float64]

LONGEST_CURVES_H = 48
"""Hours that a pot's curves show at most: two nights can still be read on a telephone."""

MANY = 30
"""Pots from which on curves show the coming night only, so that a page of sixty pots stays small."""

LOW, HIGH = 0.1, 0.9
"""Quantiles over members that a band spans: eight chances in ten."""


@dataclass(frozen=True, slots=True)
class Curves:
    """Hours of one pot in the middle member [degC], arrays (n_hours,)."""

    ring_c: Array
    core_c: Array
    leaf_c: Array


@dataclass(frozen=True, slots=True)
class Band:
    """Tenth and ninetieth percentile over members at each hour [degC], arrays (n_hours,)."""

    low_c: Array
    high_c: Array


@dataclass(frozen=True, slots=True)
class Cut:
    """Temperatures inside a root ball left as it is, at the hour at which its outer roots are coldest.

    `exposed_c` is the side bare to wind and sky, `mean_c` the mean of all sides; both (axial cells, radial cells),
    from the top down and from the axis outward [degC], at the centres of their cells. Edges begin at the axis and
    at the mix surface. The outer roots sit in the outermost `ring_width_m`. `corner_k` is how far the corner of a
    square pot lies below what is drawn.
    """

    time: datetime
    radial_edges_m: Array
    axial_edges_m: Array
    radial_centres_m: Array
    axial_centres_m: Array
    exposed_c: Array
    mean_c: Array
    ring_c: float  # the coldest ring of the exposed side, without the corner
    ring_width_m: float
    corner_k: float


@dataclass(frozen=True, slots=True)
class PotPicture:
    """Everything drawn for one pot; times are on the site's clock.

    `with_jobs` begins at the hour `done_at` at which the jobs are done, and ends with the other curves. Of a pot with
    jobs for tonight and others for a cold spell only tonight's are in it, as in the plan; `more_jobs` says so.
    """

    pot: str
    row: int
    hours: tuple[datetime, ...]
    air_c: Array
    alone: Curves
    ring_band: Band
    leaf_band: Band
    with_jobs: Curves | None
    done_at: datetime | None
    more_jobs: bool
    limits: tuple[TissueOutlook, ...]
    cut: Cut


@dataclass(frozen=True, slots=True)
class NightsPicture:
    """The outdoor air of all nights ahead: median and band over members [degC], and the hours of dark."""

    hours: tuple[datetime, ...]
    air_c: Array
    band: Band
    dark: tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True, slots=True)
class Pictures:
    """What is drawn of an evening; pots in the order of the garden file."""

    nights: NightsPicture
    pots: tuple[PotPicture, ...]


def pictures_of(reckoning: Reckoning, *, pots: Iterable[str] | None = None) -> Pictures:
    """The pictures of an evening.

    Parameters
    ----------
    reckoning : Reckoning
        The plan and what it came from.
    pots : iterable of str, optional
        Ids of the pots to draw; those at risk tonight, and those with a job, if not given.
    """
    evening = reckoning.evening
    wanted = frozenset(worth_a_picture(reckoning) if pots is None else pots)
    rows = [row for row, pot in enumerate(evening.pots) if pot.id in wanted]
    return Pictures(nights_picture(evening), tuple(_pot_pictures(evening, rows, reckoning.choices)))


def worth_a_picture(reckoning: Reckoning) -> Iterator[str]:
    """Ids of the pots at risk tonight, and of those with a job."""
    with_jobs = {job.pot for job in reckoning.plan.jobs}
    for pot in reckoning.plan.pots:
        if pot.at_risk or pot.outer_roots_at_risk or pot.id in with_jobs:
            yield pot.id


def _first_choices(choices: Sequence[Choice]) -> dict[int, Choice]:
    """One choice for each pot: that of tonight before one for later nights."""
    later_first = sorted(choices, key=lambda choice: choice.occasion.batch is Batch.TONIGHT)
    return {choice.pot: choice for choice in later_first}


def nights_picture(evening: Evening) -> NightsPicture:
    """The outdoor air from the question to the last night ahead."""
    terrace, run = evening.terrace, evening.run
    window = slice(run.first, run.first + run.ring_c.shape[0])
    air = terrace.colder(terrace.outdoor.air_temperature_c[window])
    return NightsPicture(
        hours=_hours(evening, window),
        air_c=np.median(air, axis=1),
        band=_band(air),
        dark=tuple(
            (night.sunset, night.sunrise)
            for night in evening.nights
            if night.sunset is not None and night.sunrise is not None
        ),
    )


def _pot_pictures(evening: Evening, rows: Sequence[int], chosen: Sequence[Choice]) -> Iterator[PotPicture]:
    choices, many = _first_choices(chosen), Counter(choice.pot for choice in chosen)
    columns = {row: _coldest_column(evening, row) for row in rows}
    longest_h = LONGEST_CURVES_H if len(rows) < MANY else 0
    ends = {row: _last_hour(evening, choices.get(row), longest_h) for row in rows}
    cuts = _cuts(evening, {row: _coldest_hour(evening, row, columns[row], ends[row]) for row in rows}, columns)
    done = _with_jobs(evening, {row: choices[row] for row in rows if row in choices}, columns, ends)
    for row in rows:
        run, column = evening.run, columns[row]
        shown = slice(0, ends[row] - run.first + 1)
        choice = choices.get(row)
        yield PotPicture(
            pot=evening.pots[row].id,
            row=row,
            hours=_hours(evening, slice(run.first, ends[row] + 1)),
            air_c=_air(evening, row, column)[shown],
            alone=_curves(run, row, column, shown),
            ring_band=_band(evening.terrace.colder(run.ring_c[shown, row])),
            leaf_band=_band(evening.terrace.colder(run.leaf_c[shown, row])),
            with_jobs=done.get(row),
            done_at=None if choice is None else _moment(evening, choice.occasion.start_hour),
            more_jobs=many[row] > 1,
            limits=_limits(evening, row),
            cut=cuts[row],
        )


def _coldest_column(evening: Evening, row: int) -> int:
    """The middle member's bounding case in which the pot's outer roots get coldest."""
    columns = evening.terrace.middle_columns
    return int(columns[np.argmin(evening.run.ring_c[:, row, columns].min(axis=0))])


def _last_hour(evening: Evening, choice: Choice | None, longest_h: int) -> int:
    """The last hour to show: the end of the coming night, or of the nights that the jobs are for."""
    tonight = int(np.flatnonzero(night_hours(evening.terrace, evening.run, evening.nights[0], evening.now))[-1])
    until = evening.run.first + tonight
    if choice is not None:
        until = max(until, min(choice.occasion.last_hour(evening), evening.now + longest_h))
    return until


def _coldest_hour(evening: Evening, row: int, column: int, last: int) -> int:
    ring = evening.run.ring_c[1 : last - evening.run.first + 1, row, column]
    return evening.run.first + 1 + int(np.argmin(ring))


def _limits(evening: Evening, row: int) -> tuple[TissueOutlook, ...]:
    return tuple(tissue_outlook(judgement) for judgement in evening.judgements[0][row])


def _cuts(evening: Evening, hours: Mapping[int, int], columns: Mapping[int, int]) -> dict[int, Cut]:
    """The pots' fields, each at its own hour; those of one hour are simulated together.

    From the hour of the question on, as the evening's own run was, so that field and curves agree.
    """
    middle = evening.terrace.middle_columns
    cuts = {}
    for hour in sorted(set(hours.values())):
        rows = np.array([row for row, its in hours.items() if its == hour])
        run = run_pots(
            evening.terrace,
            [evening.situations[row] for row in rows],
            evening.catalogue,
            branch_now(evening.past, rows, middle),
            evening.now,
            hour,
            columns=middle,
            fine_until=evening.now + FINE_AHEAD_H,
        )
        for place, row in enumerate(rows.tolist()):
            cuts[row] = _cut(evening, run, place, row, columns[row], hour)
    return cuts


def _cut(evening: Evening, run: PotRun, place: int, row: int, column: int, hour: int) -> Cut:
    case = int(np.searchsorted(run.columns, column))
    series = np.array([run.layout.series(place, side, case) for side in (Side.EXPOSED, Side.MEAN)])
    balls, state = select(run.root_balls, series), select(run.readings.final_state, series)
    exposed, mean = temperature_field_c(balls, state)
    grid = build_grid(balls, state.resolution)
    ring = float(run.readings.coldest_ring_c[-1, series[0]])
    return Cut(
        time=_moment(evening, hour),
        radial_edges_m=grid.radial_edges_m[:, 0],
        axial_edges_m=grid.axial_edges_m[:, 0],
        radial_centres_m=grid.radial_centres_m[:, 0],
        axial_centres_m=grid.axial_centres_m[:, 0],
        exposed_c=exposed,
        mean_c=mean,
        ring_c=ring,
        ring_width_m=RING_WIDTH_M,
        corner_k=ring - float(run.ring_c[-1, place, case]),
    )


def _with_jobs(
    evening: Evening, choices: Mapping[int, Choice], columns: Mapping[int, int], ends: Mapping[int, int]
) -> dict[int, Curves]:
    """The middle member's curves of the pots with their jobs done, from the hour at which they are."""
    middle = evening.terrace.middle_columns
    curves = {}
    for start in sorted({choice.occasion.start_hour for choice in choices.values()}):
        rows = [row for row, choice in choices.items() if choice.occasion.start_hour == start]
        options = [choices[row].option for row in rows]
        situations = [option.situation for option in options]
        untouched = untouched_until(evening, start, np.asarray(rows), middle)
        state = state_for(
            untouched,
            np.arange(len(rows)),
            np.arange(middle.size),
            situations,
            [option.added_water_fraction for option in options],
            evening.catalogue,
        )
        last = max(start, *(ends[row] for row in rows))
        run = run_pots(
            evening.terrace,
            situations,
            evening.catalogue,
            state,
            start,
            last,
            columns=middle,
            fine_until=start + FINE_AHEAD_H,
        )
        for place, row in enumerate(rows):
            case = int(np.searchsorted(middle, columns[row]))
            curves[row] = _curves(run, place, case, slice(0, max(ends[row] - start + 1, 0)))
    return curves


def _curves(run: PotRun, place: int, column: int, hours: slice) -> Curves:
    return Curves(
        ring_c=run.ring_c[hours, place, column],
        core_c=run.core_c[hours, place, column],
        leaf_c=run.leaf_c[hours, place, column],
    )


def _air(evening: Evening, row: int, column: int) -> Array:
    """The air at the pot from the question on."""
    run = evening.run
    air: Array = run.hours.air_temperature_c[:, run.layout.series(row, Side.EXPOSED, column)]
    return air


def _band(members_c: Array) -> Band:
    low, high = np.quantile(members_c, [LOW, HIGH], axis=1, method="hazen")
    return Band(low, high)


def _hours(evening: Evening, window: slice) -> tuple[datetime, ...]:
    return tuple(from_utc64(time, evening.terrace.zone) for time in evening.terrace.times[window])


def _moment(evening: Evening, hour: int) -> datetime:
    return from_utc64(evening.terrace.times[hour], evening.terrace.zone)
