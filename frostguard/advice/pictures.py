"""What is to be drawn of an evening: the coming nights, and of each pot its curves and a cut through its root ball.

Only arrays of the simulation, nothing smoothed: the hours of the member that comes out tonight as the words tell, and
the spread over all members beside them. What is told of leaves and of outer roots are medians of their own, so each
has its own member, which mostly is the same one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.advise import Reckoning
from frostguard.advice.assemble import with_jobs_done
from frostguard.advice.drawn_course import Course, Curves, OwnRun, course_of, helped_by, helped_curves, own_runs
from frostguard.advice.evening import Evening, so_far
from frostguard.advice.layout import Side
from frostguard.advice.nights import from_utc64
from frostguard.advice.outlook import night_hours, tissue_outlook
from frostguard.advice.plan import Batch, PotWithPlan, TissueOutlook
from frostguard.advice.planner import Choice
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

    The hours begin at the question, or at dusk where that is past. `with_jobs` begins at the hour `done_at` at which
    the jobs are done, and ends with the other curves; `done_for` says for how many of several pots alike, and `served`
    how the night comes out for those. Of a pot with jobs for tonight and others for a cold spell only tonight's are
    in it, as in the plan; `more_jobs` says so, and `after_tonight` that those drawn are for later nights only.
    `beside_k` is how far the coldest that is drawn may lie from the medians told: more than nothing only where the
    number of members is even.
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
    done_for: int
    served: PotWithPlan | None
    after_tonight: bool
    more_jobs: bool
    beside_k: float
    limits: tuple[TissueOutlook, ...]
    cut: Cut


@dataclass(frozen=True, slots=True)
class NightsPicture:
    """The outdoor air of all nights ahead: median and band over members [degC], and the hours of dark.

    `beside_k` is how far the lowest of that median may lie from a night's coldest air as it is told, the median of
    the members' own coldest: they are coldest at different hours.
    """

    hours: tuple[datetime, ...]
    air_c: Array
    band: Band
    dark: tuple[tuple[datetime, datetime], ...]
    beside_k: float = 0.0


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
    nights = [night_hours(terrace, run, night, evening.now) for night in evening.nights]
    return NightsPicture(
        hours=_hours(evening, window),
        air_c=np.median(air, axis=1),
        band=_band(air),
        dark=tuple(
            (night.sunset, night.sunrise)
            for night in evening.nights
            if night.sunset is not None and night.sunrise is not None
        ),
        beside_k=max(
            float(abs(np.median(air[inside], axis=1).min() - np.median(air[inside].min(axis=0))))
            for inside in nights
            if inside.any()
        ),
    )


def _pot_pictures(evening: Evening, rows: Sequence[int], chosen: Sequence[Choice]) -> Iterator[PotPicture]:
    choices, many = _first_choices(chosen), Counter(choice.pot for choice in chosen)
    longest_h = LONGEST_CURVES_H if len(rows) < MANY else 0
    courses = {row: course_of(evening, row, _last_hour(evening, choices.get(row), longest_h)) for row in rows}
    helped = {row: helped_by(evening, courses[row], choices[row]) for row in rows if row in choices}
    own = own_runs(evening, courses.values(), helped.values())
    done = helped_curves(evening, helped.values(), own)
    for row in rows:
        course, with_jobs = courses[row], helped.get(row)
        seen = _Seen(evening, row, course.last_hour)
        yield PotPicture(
            pot=evening.pots[row].id,
            row=row,
            hours=seen.hours(),
            air_c=seen.air_c(course.leaf),
            alone=_alone(seen, course, own),
            ring_band=_band(evening.terrace.colder(seen.curves_c("ring_c"))),
            leaf_band=_band(evening.terrace.colder(seen.curves_c("leaf_c"))),
            with_jobs=done.get(row),
            done_at=None if with_jobs is None else _moment(evening, with_jobs.start),
            done_for=0 if with_jobs is None else with_jobs.choice.count,
            served=None if with_jobs is None else with_jobs_done(with_jobs.choice, with_jobs.choice.count),
            after_tonight=with_jobs is not None and with_jobs.choice.occasion.nights[0] > 0,
            more_jobs=many[row] > 1,
            beside_k=max(course.beside_k, 0.0 if with_jobs is None else with_jobs.beside_k),
            limits=_limits(evening, row),
            cut=_cut(evening, course, own),
        )


@dataclass(frozen=True, slots=True)
class _Seen:
    """The hours that a pot's picture shows: since dusk where that is past, else from now on, to the last one."""

    evening: Evening
    row: int
    last_hour: int

    @property
    def before(self) -> int:
        """Hours that are past, the hour of the question left aside."""
        evening = self.evening
        stretch = so_far(evening.terrace, evening.past, np.array([self.row]), evening.nights[0], evening.run.columns)
        return max(int(np.count_nonzero(stretch.inside)) - 1, 0)

    def hours(self) -> tuple[datetime, ...]:
        return _hours(self.evening, slice(self.evening.now - self.before, self.last_hour + 1))

    def curves_c(self, name: str) -> Array:
        """A curve of the pot in all weather columns, (n_hours, n_columns)."""
        run, past = self.evening.run, self.evening.past
        case = run.columns % past.columns.size
        return self.joined_c(getattr(past, name)[:, self.row][:, case], getattr(run, name)[:, self.row])

    def air_c(self, column: int) -> Array:
        """The air at the pot."""
        run, past = self.evening.run, self.evening.past
        parts = (
            one.hours.air_temperature_c[:, one.layout.series(self.row, Side.EXPOSED, place)]
            for one, place in ((past, column % past.columns.size), (run, column))
        )
        return self.joined_c(*parts)

    def joined_c(self, past: Array, ahead: Array) -> Array:
        """The past to the hour before now, and what is ahead."""
        upto = past.shape[0] - 1
        shown = self.last_hour - self.evening.run.first + 1
        return np.concatenate([past[upto - self.before : upto], ahead[:shown]])


def _alone(seen: _Seen, course: Course, own: Mapping[int, OwnRun]) -> Curves:
    """Ring and leaf as the plan has them; the core by the member's own mean side."""
    evening = seen.evening
    mine = own[course.ring // evening.terrace.n_cases]
    case, past = course.ring % evening.terrace.n_cases, evening.past
    core = seen.joined_c(past.core_c[:, course.row, case], mine.run.core_c[:, mine.places[course.row], case])
    return Curves(
        ring_c=seen.curves_c("ring_c")[:, course.ring],
        core_c=core,
        leaf_c=seen.curves_c("leaf_c")[:, course.leaf],
    )


def _last_hour(evening: Evening, choice: Choice | None, longest_h: int) -> int:
    """The last hour to show: the end of the coming night, or of the nights that the jobs are for."""
    tonight = int(np.flatnonzero(night_hours(evening.terrace, evening.run, evening.nights[0], evening.now))[-1])
    until = evening.run.first + tonight
    if choice is not None:
        until = max(until, min(choice.occasion.last_hour(evening), evening.now + longest_h))
    return until


def _limits(evening: Evening, row: int) -> tuple[TissueOutlook, ...]:
    return tuple(tissue_outlook(judgement) for judgement in evening.judgements[0][row])


def _cut(evening: Evening, course: Course, own: Mapping[int, OwnRun]) -> Cut:
    """The field of both sides at the hour of the cut, in the pot's own member."""
    mine = own[course.ring // evening.terrace.n_cases]
    run, place, case = mine.run, mine.places[course.row], course.ring % evening.terrace.n_cases
    series = np.array([run.layout.series(place, side, case) for side in (Side.EXPOSED, Side.MEAN)])
    balls, state = select(run.root_balls, series), select(run.states[course.cut_hour], series)
    exposed, mean = temperature_field_c(balls, state)
    grid = build_grid(balls, state.resolution)
    told = evening.run  # the same series; its number is the one in words, to the last digit
    hour = course.cut_hour - told.first
    ring = float(told.readings.coldest_ring_c[hour, told.layout.series(course.row, Side.EXPOSED, course.ring)])
    return Cut(
        time=_moment(evening, course.cut_hour),
        radial_edges_m=grid.radial_edges_m[:, 0],
        axial_edges_m=grid.axial_edges_m[:, 0],
        radial_centres_m=grid.radial_centres_m[:, 0],
        axial_centres_m=grid.axial_centres_m[:, 0],
        exposed_c=exposed,
        mean_c=mean,
        ring_c=ring,
        ring_width_m=RING_WIDTH_M,
        corner_k=ring - float(told.ring_c[hour, course.row, course.ring]),
    )


def _band(members_c: Array) -> Band:
    low, high = np.quantile(members_c, [LOW, HIGH], axis=1, method="hazen")
    return Band(low, high)


def _hours(evening: Evening, window: slice) -> tuple[datetime, ...]:
    return tuple(from_utc64(time, evening.terrace.zone) for time in evening.terrace.times[window])


def _moment(evening: Evening, hour: int) -> datetime:
    return from_utc64(evening.terrace.times[hour], evening.terrace.zone)
