"""The answer for one evening: look ahead, and in each round of planning choose what is to be done."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from frostguard.advice.assemble import assemble_plan
from frostguard.advice.evening import Evening, look_ahead
from frostguard.advice.gale import gale_jobs
from frostguard.advice.hands import work_before
from frostguard.advice.jobs import jobs_of, undo_times
from frostguard.advice.option import Circumstances
from frostguard.advice.order import with_times
from frostguard.advice.plan import AdvicePlan, Batch, Protection
from frostguard.advice.planner import Choice, Chosen, Missed, choose_jobs
from frostguard.advice.rounds import round_ahead, round_before, round_tomorrow, round_tonight
from frostguard.advice.scarce import AtHand
from frostguard.advice.shelter import shelter_jobs
from frostguard.advice.spell import find_spell
from frostguard.advice.state import TerraceState, Told
from frostguard.advice.staying import with_staying
from frostguard.advice.supplies import supplies_of
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.garden.settings import Settings
from frostguard.hardiness.limits import load_limits
from frostguard.weather.series import WeatherSeries
from frostguard.weather.worst_case import SERVICE as WORST_CASE


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
    rounds = (
        tonight,
        None if guessed else round_ahead(evening, settings, state.told),
        round_before(evening, settings, spell, state.told),
    )
    at_hand = _at_hand(evening, weather, settings, about)
    first = choose_jobs(evening, [turn for turn in rounds if turn is not None], at_hand, settings)
    later = _tomorrow(evening, settings, first, state.told)
    choices = (*first.choices, *later.choices)
    seen_to = {choice.pot for choice in later.choices}  # what there is no time for tonight, and is done next
    missed = (*(one for one in first.missed if one.pot not in seen_to or _is_of_tonight(one)), *later.missed)
    gale = gale_jobs(evening, choices, settings.pace_of_work)
    jobs = [*jobs_of(evening, choices), *gale, *shelter_jobs(evening, weather, choices, settings, about)]
    timed = with_times(evening, jobs, settings, spell, undo_times(evening, choices, gale))
    dated = timed if guessed else with_staying(evening, choices, timed, weather, settings)
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


def _is_of_tonight(missed: Missed) -> bool:
    return missed.occasion.batch is Batch.TONIGHT


def _tomorrow(evening: Evening, settings: Settings, first: Chosen, told: frozenset[Told]) -> Chosen:
    """Asked too late for some or all of tonight's work: what to do by daylight before the next night."""
    # a crown tied by lamp saves what it can tonight, and is no reason not to carry the plant in tomorrow
    again = frozenset({Protection.TIE_CROWN})
    busy = {choice.pot for choice in first.choices if choice.option.protections != again}
    turn = round_tomorrow(evening, settings, busy, told)
    if turn is None:
        return Chosen((), first.left, ())
    chosen = choose_jobs(evening, [turn], first.left, settings)
    tied = {choice.pot for choice in first.choices}.difference(busy)
    once = tuple(one for one in chosen.choices if one.pot not in tied or one.option.protections != again)
    return replace(chosen, choices=once)
