"""The answer for one evening: look ahead, and in each round of planning choose what is to be done."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from frostguard.advice.assemble import assemble_plan
from frostguard.advice.deadlines import WorkTime
from frostguard.advice.evening import FROZEN, ICY, Evening, look_ahead
from frostguard.advice.gale import gale_jobs, gusts_by_spot, topple_on_feet, topple_with_hood
from frostguard.advice.jobs import jobs_of, undo_times
from frostguard.advice.nights import utc64
from frostguard.advice.occasion import SPELL_TISSUES, TONIGHT_TISSUES, Occasion, Round
from frostguard.advice.option import Circumstances
from frostguard.advice.order import with_times, work_before
from frostguard.advice.plan import AdvicePlan, Batch, Protection
from frostguard.advice.planner import Choice, Chosen, choose_jobs
from frostguard.advice.sharing import AtHand
from frostguard.advice.shelter import shelter_jobs
from frostguard.advice.spell import Spell, find_spell, outer_roots_hurt_already
from frostguard.advice.state import TerraceState, Told
from frostguard.advice.stay import briefly_in
from frostguard.advice.staying import with_staying
from frostguard.advice.supplies import supplies_of
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.garden.settings import Settings
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Tissue
from frostguard.weather.series import WeatherSeries
from frostguard.weather.worst_case import SERVICE as WORST_CASE

SPELL_AHEAD_NIGHTS = 5
"""A spell is prepared for when it begins within so many nights: forecasts beyond are too unsure."""

MILD_ENOUGH_TO_WATER_C = 4.0
"""Water only while the air is above this; common practice."""


def advise(
    garden: Garden,
    weather: WeatherSeries,
    state: TerraceState,
    at: datetime,
    *,
    settings: Settings | None = None,
) -> AdvicePlan:
    """What to do this evening, and what the coming nights bring.

    Parameters
    ----------
    garden : Garden
        What stands where.
    weather : WeatherSeries
        The past weeks and the nights ahead.
    state : TerraceState
        From the logbook; empty for a first query.
    at : datetime
        When the question is asked, aware.
    settings : Settings, optional
        Working windows, hands, effort; the usual ones if not given.

    Returns
    -------
    AdvicePlan

    Raises
    ------
    WeatherUnavailable
        If the weather does not reach over the coming night.
    """
    return plan_evening(garden, weather, state, at, settings or Settings())[0]


def plan_evening(
    garden: Garden, weather: WeatherSeries, state: TerraceState, at: datetime, settings: Settings
) -> tuple[AdvicePlan, Evening]:
    """The plan, and the simulated evening that it rests on."""
    reckoning = reckon_evening(garden, weather, state, at, settings)
    return reckoning.plan, reckoning.evening


@dataclass(frozen=True, slots=True)
class Reckoning:
    """The plan, the simulated evening that it rests on, and what was chosen for each pot."""

    plan: AdvicePlan
    evening: Evening
    choices: tuple[Choice, ...]


def reckon_evening(
    garden: Garden, weather: WeatherSeries, state: TerraceState, at: datetime, settings: Settings
) -> Reckoning:
    """The plan with everything that it came from, for those who draw or explain it."""
    catalogue, table = load_catalogue(), load_limits()
    settings = replace(settings, pace_of_work=state.pace_of_work)
    evening = look_ahead(garden, weather, state, at, settings.days, catalogue, table)
    # a guess is for the coming night: it says nothing of those after it
    guessed = weather.provenance.service == WORST_CASE
    spell = None if guessed else find_spell(evening)
    tonight = round_tonight(evening, settings, state.told)
    about = None if tonight is None else tonight.about
    rounds = _first_rounds(evening, settings, spell, state.told, tonight)
    first = choose_jobs(evening, rounds, _at_hand(evening, weather, settings, about), settings)
    later = _tomorrow(evening, settings, first, state.told)
    choices, missed = (*first.choices, *later.choices), (*first.missed, *later.missed)
    gale = gale_jobs(evening, choices, settings.pace_of_work)
    jobs = [*jobs_of(evening, choices), *gale, *shelter_jobs(evening, weather, choices, settings, about)]
    timed = with_times(evening, jobs, settings, spell, undo_times(evening, choices, gale))
    dated = timed if guessed else with_staying(evening, choices, timed, weather)
    plan = assemble_plan(evening, weather, settings, dated, choices, missed, spell, first.let_go)
    return Reckoning(plan, evening, choices)


def _at_hand(
    evening: Evening, weather: WeatherSeries, settings: Settings, about: Circumstances | None
) -> AtHand:
    """What there is before anything is shared out: the shed, the floor, hands, and who stands where.

    What gale, snow, morning sun and drought ask for tonight is done besides.
    """
    minutes = {}
    for night in range(len(evening.nights)):
        work = work_before(evening, settings, night)
        minutes[night] = 0.0 if work is None else settings.people * (work.ends - work.begins) / timedelta(minutes=1)
    besides = [*gale_jobs(evening, (), settings.pace_of_work), *shelter_jobs(evening, weather, (), settings, about)]
    minutes[0] = max(minutes[0] - sum(job.minutes for job in besides), 0.0)
    standing = Counter[str]()
    for pot in evening.pots:
        standing[pot.spot] += pot.count
    return AtHand(supplies_of(evening.garden, evening.catalogue), minutes, standing)


def round_tonight(
    evening: Evening, settings: Settings, told: frozenset[Told] = frozenset()
) -> Round | None:
    """The coming night's round of planning; None where nobody can work before it."""
    work = work_before(evening, settings, 0)
    if work is None:
        return None
    occasion = _occasion(evening, work, Batch.TONIGHT, (0,), TONIGHT_TISSUES)
    about = _circumstances(evening, settings, occasion, told, dark=work.dark)
    return Round(occasion, about, tuple(range(len(evening.pots))))


def round_now(evening: Evening, settings: Settings) -> Round:
    """As if what is done were done at once, by daylight: for trying out where nobody has time."""
    occasion = Occasion(Batch.TONIGHT, evening.now, (0,), TONIGHT_TISSUES)
    about = _circumstances(evening, settings, occasion, frozenset(), dark=False)
    return Round(occasion, about, tuple(range(len(evening.pots))))


def _first_rounds(
    evening: Evening, settings: Settings, spell: Spell | None, told: frozenset[Told], tonight: Round | None
) -> list[Round]:
    """The coming night and, unless it lies too far ahead, the coming spell: none where nobody can work."""
    rounds = [] if tonight is None else [tonight]
    work = None if spell is None else work_before(evening, settings, spell.first)
    if spell is not None and work is not None and spell.first <= SPELL_AHEAD_NIGHTS:
        # once it has begun outer roots are past caring for; only what endangers whole plants still counts
        tissues = SPELL_TISSUES - {Tissue.YOUNG_ROOT} if spell.began else SPELL_TISSUES
        occasion = _occasion(evening, work, Batch.BEFORE_SPELL, spell.nights, tissues)
        pots = tuple(pot for pot in range(len(evening.pots)) if not outer_roots_hurt_already(evening, pot))
        about = _circumstances(evening, settings, occasion, told, dark=work.dark)
        rounds.append(Round(occasion, about, pots, window=spell.first))
    return rounds


def _tomorrow(evening: Evening, settings: Settings, first: Chosen, told: frozenset[Told]) -> Chosen:
    """Asked too late for some or all of tonight's work: what to do by daylight before the next night."""
    nothing = Chosen((), first.left, ())
    tonight = work_before(evening, settings, 0)
    if (tonight is not None and not tonight.dark) or len(evening.nights) < 2:
        return nothing
    work = work_before(evening, settings, 1)
    if work is None:
        return nothing
    # what tonight does to them is done by then
    occasion = replace(_occasion(evening, work, Batch.TOMORROW, (1,), TONIGHT_TISSUES), before=(0,))
    about = _circumstances(evening, settings, occasion, told, dark=work.dark)
    # a crown tied by lamp saves what it can tonight, and is no reason not to carry the plant in tomorrow
    busy = {choice.pot for choice in first.choices if choice.option.protections != {Protection.TIE_CROWN}}
    pots = tuple(pot for pot in range(len(evening.pots)) if pot not in busy)
    chosen = choose_jobs(evening, [Round(occasion, about, pots, window=1)], first.left, settings)
    tied = {choice.pot for choice in first.choices}.difference(busy)
    again = frozenset({Protection.TIE_CROWN})
    once = tuple(one for one in chosen.choices if one.pot not in tied or one.option.protections != again)
    return replace(chosen, choices=once)


def _occasion(
    evening: Evening, work: WorkTime, batch: Batch, nights: tuple[int, ...], tissues: frozenset[Tissue]
) -> Occasion:
    """A round's occasion whose jobs are done in that window."""
    return Occasion(
        batch,
        _start_hour(evening, work),
        nights,
        tissues,
        earliest_hour=_earliest_hour(evening, work),
        done_hour=max(evening.terrace.hour_at(work.ends), evening.now),
    )


def _start_hour(evening: Evening, work: WorkTime) -> int:
    """The whole hour by which the work is done, and from which it acts; the horizon at the latest."""
    done = utc64(work.ends)
    hour = int(np.searchsorted(evening.terrace.times, done, side="left"))
    return min(max(hour, evening.now), evening.terrace.times.size - 2)


def _earliest_hour(evening: Evening, work: WorkTime) -> int:
    """The whole hour nearest to when work can begin, from which what is done first acts."""
    half_an_hour_before = utc64(work.begins - timedelta(minutes=29))
    return max(int(np.searchsorted(evening.terrace.times, half_an_hour_before, side="left")), evening.now)


def _circumstances(
    evening: Evening, settings: Settings, occasion: Occasion, told: frozenset[Told], *, dark: bool
) -> Circumstances:
    step = occasion.start_hour - evening.run.first
    frozen = np.median(evening.run.frozen_fraction[step], axis=1)
    first = evening.now if occasion.earliest_hour is None else min(occasion.earliest_hour, occasion.start_hour)
    at_work = slice(first, occasion.start_hour + 1)
    warmest = np.median(evening.terrace.outdoor.air_temperature_c[at_work].max(axis=0))
    gusts = gusts_by_spot(evening, occasion.nights)
    return Circumstances(
        garden=evening.garden,
        catalogue=evening.catalogue,
        settings=settings,
        supplies=supplies_of(evening.garden, evening.catalogue),
        taxa=evening.taxa,
        frozen=frozenset(pot.id for pot, share in zip(evening.pots, frozen, strict=True) if share > FROZEN),
        icy=frozenset(pot.id for pot, share in zip(evening.pots, frozen, strict=True) if share > ICY),
        mild_enough_to_water=not dark and float(warmest) > MILD_ENOUGH_TO_WATER_C,
        dark=dark,
        topple_with_hood_m_s=topple_with_hood(evening),
        topple_on_feet_m_s=topple_on_feet(evening),
        gust_m_s=gusts,
        told=told,
        briefly_in=frozenset(
            pot.id
            for row, pot in enumerate(evening.pots)
            if briefly_in(evening, row, occasion.nights, occasion.tissues)
        ),
    )
