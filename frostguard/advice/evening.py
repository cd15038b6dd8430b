"""The terrace from its past to the last night ahead, left as it is: the ground that all advice stands on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.layout import SeriesLayout
from frostguard.advice.nights import Night, from_utc64, nights_from, utc64
from frostguard.advice.outlook import Judgement, Stretch, judge_pots, night_hours
from frostguard.advice.plan import PlanNote
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.advice.situation import Situation, as_it_stands, root_balls_of
from frostguard.advice.state import PartDone, TerraceState
from frostguard.advice.terrace import Terrace, prepare_terrace
from frostguard.advice.wetness import WaterNow, water_now
from frostguard.errors import WeatherUnavailable
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Garden, Planting, Pot
from frostguard.hardiness.hardening import (
    HardeningState,
    Season,
    daily_minimum_and_mean_c,
    hardening_state,
    season_on,
)
from frostguard.hardiness.limits import Limits, taxon_from_rating
from frostguard.hardiness.model import TissueLimit
from frostguard.hardiness.own import learned_today, with_own_limits
from frostguard.hardiness.pace import WOODY, Pace, pace_of
from frostguard.hardiness.taxon import Taxon
from frostguard.hardiness.today import limits_today
from frostguard.physics.root_ball import (
    RootBallState,
    select,
    state_at_temperature,
    temperature_field_c,
)
from frostguard.weather.gates import night_is_complete
from frostguard.weather.night_errors import is_surer, usual_habits
from frostguard.weather.series import WeatherSeries
from frostguard.weather.uncertainty import with_error_curves

Array = NDArray[np.float64]

SETTLED_H = 96
"""Hours after which a ball without ice has forgotten how it began: six times the slowest mode of a ball of
20 cm, R^2 / (5.8 alpha) = 15 h, which leaves a four-hundredth of what was wrong."""

START_MEAN_H = 48
"""Hours whose mean air a ball is taken to begin with; estimate."""

FROZEN = 0.3
"""Share of the freezable water from which a ball counts as frozen, so that a wrap would keep the cold in; a
skin of ice is not the ball; estimate."""

ICY = 0.05
"""Share from which water would freeze on top; estimate."""


@dataclass(frozen=True, slots=True)
class Evening:
    """Everything known when the question is asked.

    `run` goes from hour `now` to the horizon, unprotected, in all weather columns; `limits` holds for
    each pot its plants with today's limits; `judgements[k][p]` are those of night k and pot p.
    """

    terrace: Terrace
    catalogue: Catalogue
    at: datetime
    now: int
    nights: tuple[Night, ...]
    complete: tuple[bool, ...]
    situations: tuple[Situation, ...]
    water: tuple[WaterNow, ...]
    taxa: Mapping[str, tuple[Taxon, ...]]
    season: Season
    limits: tuple[tuple[tuple[Planting, tuple[TissueLimit, ...]], ...], ...]
    past: PotRun  # the weeks to now, in the columns of one member
    run: PotRun
    judgements: tuple[tuple[tuple[Judgement, ...], ...], ...]
    notes: tuple[str, ...]
    dark_days_spent: Mapping[str, float]  # by pot id, days in dark rooms that still weigh on it

    @property
    def fine_until(self) -> int:
        """The hour up to which balls are simulated with the standard resolution, see `_fine_until`."""
        return _fine_until(self.terrace, self.nights)

    @property
    def garden(self) -> Garden:
        """The garden file."""
        return self.terrace.garden

    @property
    def pots(self) -> tuple[Pot, ...]:
        """The pots, in the order of the file."""
        return self.garden.pots


def look_ahead(
    garden: Garden,
    weather: WeatherSeries,
    state: TerraceState,
    at: datetime,
    days: int,
    catalogue: Catalogue,
    table: Limits,
) -> Evening:
    """Simulate the terrace from the first hour of the weather to the last night, and judge every night.

    Raises
    ------
    WeatherUnavailable
        If the weather does not reach over the coming night, or does not cover the time of asking.
    """
    habits = state.tuned.habits or usual_habits(garden.site)
    members = with_error_curves(weather, at, garden.site.time_zone, habits=habits)
    terrace = prepare_terrace(garden, members, state.tuned)
    nights, complete = _nights(terrace, members, at, days)
    now = terrace.hour_at(at)
    water = water_now(terrace, garden.pots, state, catalogue, now)
    situations = tuple(
        as_it_stands(pot, state, catalogue, water_fraction=one.at_frost, covers_wet=one.covers_wet)
        for pot, one in zip(garden.pots, water, strict=True)
    )
    past = past_of(terrace, situations, catalogue, now)
    ahead = branch_now(past, np.arange(len(situations)), terrace.columns)
    last = int(np.flatnonzero(nights[-1].hours_in(terrace.times))[-1])
    dusks = [hour for night in nights if now < (hour := _dusk_hour(terrace, night)) < last]
    run = run_pots(
        terrace, situations, catalogue, ahead, now, last, fine_until=_fine_until(terrace, nights), states_at=dusks
    )
    rows = np.arange(len(situations))
    taxa = {pot.id: tuple(taxon_of(planting, table) for planting in pot.plantings) for pot in garden.pots}
    season, limits = _limits_today(terrace, state, at, now, taxa)
    return Evening(
        terrace=terrace,
        catalogue=catalogue,
        at=at,
        now=now,
        nights=nights,
        complete=complete,
        situations=situations,
        water=water,
        taxa=taxa,
        season=season,
        limits=limits,
        past=past,
        run=run,
        judgements=tuple(
            tuple(
                judge_pots(
                    terrace,
                    run.columns,
                    garden.pots,
                    limits,
                    [
                        so_far(terrace, past, rows, night, run.columns),
                        Stretch(run, rows, night_hours(terrace, run, night, now), np.arange(run.columns.size)),
                    ],
                )
            )
            for night in nights
        ),
        notes=(
            *members.notes,
            *terrace.notes,
            *((PlanNote.SHORT_HISTORY.value,) if now < 10 * 24 else ()),
            *(() if state.tuned.is_empty else (PlanNote.TUNED.value,)),
            *((PlanNote.SURER.value,) if is_surer(habits) else ()),
            *(_part_note(one) for one in state.in_part),
        ),
        dark_days_spent=state.dark_days_spent,
    )


def _part_note(one: PartDone) -> str:
    note = PlanNote.SET_ASIDE if one.set_aside else PlanNote.PART_READY
    return f"{note.value}:{one.label.replace(':', ' ')}:{one.done}:{one.alike}"


def _nights(
    terrace: Terrace, series: WeatherSeries, at: datetime, days: int
) -> tuple[tuple[Night, ...], tuple[bool, ...]]:
    """The coming nights that the weather reaches, and which of them it covers well enough."""
    first, last = (from_utc64(terrace.times[hour], terrace.zone) for hour in (0, -1))
    now = terrace.hour_at(at)
    if now < 0 or now >= terrace.times.size - 1:
        raise WeatherUnavailable(
            f"The weather runs from {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} on the site's clock, which "
            f"does not cover {at.astimezone(terrace.zone):%Y-%m-%d %H:%M}.",
            next_step="Ask for a time inside it with --at, or fetch a new forecast.",
        )
    site = terrace.garden.site
    asked = nights_from(at, site, days)
    complete = [night_is_complete(series, night.date, site.time_zone, since=at) for night in asked]
    if not complete[0]:
        raise WeatherUnavailable(
            f"The weather leaves out too many hours of the coming night ({asked[0].date:%d %B}).",
            next_step="Treat tender plants as if it froze hard: bring them in or cover them before dark.",
        )
    reached = [bool(np.any(night.hours_in(terrace.times, after=at))) for night in asked]
    known = [pair for pair, is_reached in zip(zip(asked, complete, strict=True), reached, strict=True) if is_reached]
    return tuple(night for night, _ in known), tuple(whole for _, whole in known)


def _fine_until(terrace: Terrace, nights: Sequence[Night]) -> int:
    """The last hour of the coming night.

    The coarse resolution serves the weeks before, which are forgotten, and later nights, which the forecast misses
    by 2 K and more; with a job as without one, so that what it gains is no matter of cells.
    """
    return int(np.flatnonzero(nights[0].hours_in(terrace.times))[-1])


def _dusk_hour(terrace: Terrace, night: Night) -> int:
    """The whole hour at or after sunset, by which most evenings' work is done; that of its start without one."""
    return int(np.searchsorted(terrace.times, utc64(night.sunset or night.begins), side="left"))


def past_of(terrace: Terrace, situations: Sequence[Situation], catalogue: Catalogue, now: int) -> PotRun:
    """From when no ball can have held ice to now, in the middle member: members differ only from now on."""
    columns = terrace.middle_columns
    first = thawed_hour(terrace.outdoor.air_temperature_c[:, columns].min(axis=1), now)
    before = slice(max(first - START_MEAN_H, 0), first + 1)
    at_start = np.array(
        [terrace.spots[situation.spot].hours.air_temperature_c[before].mean() for situation in situations]
    )
    layout = SeriesLayout(len(situations), columns, np.arange(columns.size))
    return run_pots(
        terrace,
        situations,
        catalogue,
        at_start[layout.pot_of_series],
        first,
        now,
        columns=columns,
        fine_until=0,
    )


def thawed_hour(air_temperature_c: Array, now: int) -> int:
    """The last hour, four days ago or earlier, at which no ball can have held ice; 0 if there was none.

    Kelvin-hours of frost are counted up from the first hour, with the air taken 1 K colder than it is for
    the sky, and worked off by half as many of thaw, since thawed mix conducts half as well as frozen.

    Parameters
    ----------
    air_temperature_c : ndarray, shape (n_hours,)
        Outdoor air [degC].
    now : int
        The hour of the question.
    """
    frost_k_h = 0.0
    last = 0
    for hour in range(max(now - SETTLED_H, 0) + 1):
        air = float(air_temperature_c[hour])
        frost_k_h = max(frost_k_h + (1.0 - air if air < 1.0 else -0.5 * air), 0.0)
        if frost_k_h == 0.0:
            last = hour
    return last


def branch_now(past: PotRun, pots: NDArray[np.intp], columns: NDArray[np.intp]) -> RootBallState:
    """The state now of some pots for some weather columns: each takes that of its bounding case."""
    case = columns % past.columns.size
    return select(past.readings.final_state, past.layout.part(pots, case))


def so_far(
    terrace: Terrace, past: PotRun, pots: NDArray[np.intp], night: Night, columns: NDArray[np.intp]
) -> Stretch:
    """What some pots have stood through since dusk of a night that is under way; no hours before its dusk.

    Each weather column takes the past of its bounding case, as members differ only from now on.
    """
    index = past.first + np.arange(past.ring_c.shape[0])
    since_dusk = index >= _dusk_hour(terrace, night)
    return Stretch(past, pots, since_dusk, columns % past.columns.size)


def untouched_until(evening: Evening, hour: int, pots: NDArray[np.intp], columns: NDArray[np.intp]) -> PotRun:
    """Some pots left as they are until that hour, in some weather columns; only the end is of interest.

    It begins at the last hour before whose state is known, which is mostly the hour itself.
    """
    known = {evening.now: branch_now(evening.past, pots, columns)} | {
        kept: select(state, evening.run.layout.part(pots, np.searchsorted(evening.run.columns, columns)))
        for kept, state in evening.run.states.items()
        if kept <= hour
    }
    begins = max(known)
    return run_pots(
        evening.terrace,
        [evening.situations[pot] for pot in pots],
        evening.catalogue,
        known[begins],
        begins,
        hour,
        columns=columns,
        fine_until=evening.fine_until,
    )


def state_for(
    run: PotRun,
    pots: NDArray[np.intp],
    columns: NDArray[np.intp],
    changed: Sequence[Situation],
    added: Sequence[float],
    catalogue: Catalogue,
    *,
    at_hour: int | None = None,
) -> RootBallState:
    """The end state of a run for changed situations of some of its pots, in some of its columns.

    Parameters
    ----------
    run : PotRun
        Ends at the hour at which the changes begin, or kept the state of `at_hour`.
    pots : ndarray of int
        For each changed situation the position of its pot in `run`.
    columns : ndarray of int
        Positions in `run.columns`.
    changed : sequence of Situation
        The situations from now on.
    added : sequence of float
        Water added to each [m3/m3], at 10 degC (a tap in winter; estimate).
    catalogue : Catalogue
    at_hour : int, optional
        The hour of the terrace at which the changes begin; the last of the run if not given.
    """
    index = run.layout.part(pots, columns)
    state = select(run.readings.final_state if at_hour is None else run.states[at_hour], index)
    water = np.asarray(added)
    pot_of_series = SeriesLayout(len(changed), run.columns[columns], run.layout.middle).pot_of_series
    watered = np.flatnonzero(water[pot_of_series] > 0.0)
    if watered.size == 0:
        return state
    old = select(run.root_balls, index[watered])
    field = temperature_field_c(old, select(state, watered))
    balls = select(root_balls_of(changed, catalogue), pot_of_series[watered])
    share = 4.19e6 * water[pot_of_series[watered]] / balls.heat_capacity_unfrozen_j_m3_k
    mixed = field + share[:, None, None] * (10.0 - field)
    enthalpy, wall = state.enthalpy_j_m3.copy(), state.wall_c
    enthalpy[..., watered] = state_at_temperature(balls, mixed, state.resolution).enthalpy_j_m3
    return replace(state, enthalpy_j_m3=enthalpy, wall_c=wall)


def taxon_of(planting: Planting, table: Limits) -> Taxon:
    """What the table, or else the rating, and the gardener's own limits say of a plant."""
    if planting.taxon is not None:
        taxon = table.taxon(planting.taxon)
    else:
        assert planting.rating is not None, "the reader lets no plant through without taxon or rating"
        taxon = taxon_from_rating(planting.rating)
    return with_own_limits(taxon, planting.own_limits)


def _limits_today(
    terrace: Terrace, state: TerraceState, at: datetime, now: int, taxa: Mapping[str, tuple[Taxon, ...]]
) -> tuple[Season, tuple[tuple[tuple[Planting, tuple[TissueLimit, ...]], ...], ...]]:
    """The season for cold, and what each plant of each pot stands after the weeks before, where it stands."""
    today = at.astimezone(terrace.zone).date()
    latitude = terrace.garden.site.latitude_deg

    @cache
    def hardening(room: str | None, pace: Pace) -> HardeningState:
        air = terrace.outdoor if room is None else terrace.spots[room].hours
        minimum, mean = daily_minimum_and_mean_c(air.air_temperature_c[: now + 1, 0])
        return hardening_state(
            [*state.daily_minimum_c, *minimum],
            [*state.daily_mean_c, *mean],
            on=today,
            latitude_deg=latitude,
            pace=pace,
        )

    season = season_on(hardening(None, WOODY), today, latitude)
    return season, tuple(
        tuple(
            (
                planting,
                learned_today(
                    limits_today(
                        own,
                        hardening=hardening(pot.spot if terrace.spots[pot.spot].indoors else None, pace_of(own)),
                        season=season,
                        stage=planting.stage,
                        evergreen=planting.evergreen,
                        potted_this_autumn=pot.potted_this_autumn,
                        fed_late=pot.fed_late,
                        stem=None if planting.bare_stem is None else planting.bare_stem.kind,
                    ),
                    [one for one in state.seen if one.plant == planting.key],
                ),
            )
            for planting, own in zip(pot.plantings, taxa[pot.id], strict=True)
        )
        for pot in terrace.garden.pots
    )
