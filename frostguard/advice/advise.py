"""The plan for one evening: look ahead, choose jobs, put times to them, say what is left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from frostguard.advice.deadlines import WorkTime, latest_starts, work_time
from frostguard.advice.evening import Evening, look_ahead
from frostguard.advice.gale import gale_jobs, gusts_by_spot, topple_with_hood
from frostguard.advice.jobs import jobs_of, undo_times
from frostguard.advice.nights import utc64
from frostguard.advice.outlook import Judgement, loss_of, night_hours, tissue_outlook
from frostguard.advice.plan import (
    AdvicePlan,
    Batch,
    Caution,
    Coldest,
    ColdSpell,
    Job,
    NightOutlook,
    NoJob,
    PotOutlook,
    PotWithPlan,
    Protection,
    WeatherCredit,
)
from frostguard.advice.planner import (
    CHANCE_CAP,
    SPELL_TISSUES,
    TONIGHT_TISSUES,
    Choice,
    Occasion,
    choose_jobs,
    simulate_options,
)
from frostguard.advice.protections import ROOT_PROTECTIONS, Circumstances, no_move_because
from frostguard.advice.state import TerraceState
from frostguard.advice.supplies import Supplies, supplies_of
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.garden.settings import Settings
from frostguard.hardiness.limits import load_limits
from frostguard.hardiness.model import Tissue
from frostguard.weather.series import WeatherSeries

RISK = 0.1
"""Chance of damage from which a pot counts as at risk in the outlook of nights."""

YOUNG_ROOT_RISK = 0.25
"""Chance of losing outer roots from which a night belongs to a cold spell; estimate."""

URGENT_CHANCE = 0.9
"""Chance of loss from which a job is done before others on the way; estimate."""

SPELL_SHARE = 0.25
"""Share of the outdoor pots whose outer roots are at risk that makes a night part of a spell; estimate."""

HURT_WITHIN_H = 48
"""Hours in which outer roots that passed their limit count as hurt by the spell that goes on; estimate."""

SPELL_AHEAD_NIGHTS = 5
"""A spell is prepared for when it begins within so many nights: forecasts beyond are too unsure."""

WINDY_M_S = 5.0
"""Mean wind over the terrace from which a night is called windy; estimate, a gentle to fresh breeze."""

MILD_ENOUGH_TO_WATER_C = 4.0
"""Water only while the air is above this; common practice."""

FROZEN = 0.3
"""Share of the freezable water from which a ball counts as frozen, so that a wrap would keep the cold in; a
skin of ice is not the ball; estimate."""

ICY = 0.05
"""Share from which water would freeze on top; estimate."""

LONE_NIGHT_SHARE = 0.5
"""Share of the outdoor pots at risk that makes even a single night worth preparing for; estimate."""


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
    catalogue, table = load_catalogue(), load_limits()
    evening = look_ahead(garden, weather, state, at, settings.days, catalogue, table)
    supplies = supplies_of(garden, catalogue)
    spell = _spell(evening)
    tonight, supplies = _tonight(evening, settings, supplies)
    before, supplies = _before_spell(evening, settings, spell, supplies, tonight)
    fitting, dropped = _that_fit(evening, settings, (*tonight, *before))
    tomorrow = _tomorrow(evening, settings, supplies, fitting)
    choices = (*fitting, *tomorrow)
    jobs = [*jobs_of(evening, choices), *gale_jobs(evening, choices)]
    dated = _with_times(evening, jobs, settings, spell, undo_times(evening, choices))
    return _plan(evening, weather, settings, dated, choices, dropped, spell), evening


def _work(evening: Evening, settings: Settings, night: int) -> WorkTime | None:
    return work_time(evening.nights[night], evening.at, settings, evening.terrace.zone)


def _tonight(evening: Evening, settings: Settings, supplies: Supplies) -> tuple[tuple[Choice, ...], Supplies]:
    """Jobs for the coming night; none where nobody can work before it."""
    work = _work(evening, settings, 0)
    if work is None:
        return (), supplies
    occasion = Occasion(Batch.TONIGHT, _start_hour(evening, work), (0,), TONIGHT_TISSUES)
    about = _circumstances(evening, settings, supplies, occasion, dark=work.dark)
    return choose_jobs(evening, about, occasion, range(len(evening.pots)), settings)


def _tomorrow(evening: Evening, settings: Settings, supplies: Supplies, chosen: Sequence[Choice]) -> tuple[Choice, ...]:
    """Asked too late for some or all of tonight's work: what to do by daylight before the next night."""
    tonight = _work(evening, settings, 0)
    if (tonight is not None and not tonight.dark) or len(evening.nights) < 2:
        return ()
    work = _work(evening, settings, 1)
    if work is None:
        return ()
    occasion = Occasion(Batch.TOMORROW, _start_hour(evening, work), (1,), TONIGHT_TISSUES)
    about = _circumstances(evening, settings, supplies, occasion, dark=work.dark)
    busy = {choice.pot for choice in chosen}
    pots = [pot for pot in range(len(evening.pots)) if pot not in busy]
    return choose_jobs(evening, about, occasion, pots, settings)[0]


def _that_fit(
    evening: Evening, settings: Settings, choices: Sequence[Choice]
) -> tuple[tuple[Choice, ...], frozenset[int]]:
    """The choices that the coming window has time for, by what they save a minute, and the pots left out.

    What is due before a later night is not limited by tonight's window.
    """
    work = _work(evening, settings, 0)
    if work is None:
        return tuple(choices), frozenset()
    left = settings.people * (work.ends - work.begins) / timedelta(minutes=1)
    kept = []
    for choice in sorted(choices, key=lambda choice: -choice.saved_eur / max(choice.option.minutes, 1.0)):
        if choice.occasion.nights[0] > 0:
            kept.append(choice)
        elif choice.option.minutes <= left:
            left -= choice.option.minutes
            kept.append(choice)
    pots = {choice.pot for choice in kept}
    return (
        tuple(choice for choice in choices if choice in kept),
        frozenset(choice.pot for choice in choices if choice.pot not in pots),
    )


def _start_hour(evening: Evening, work: WorkTime) -> int:
    """The whole hour by which the work is done, and from which it acts; the horizon at the latest."""
    done = utc64(work.ends)
    hour = int(np.searchsorted(evening.terrace.times, done, side="left"))
    return min(max(hour, evening.now), evening.terrace.times.size - 2)


def _circumstances(
    evening: Evening, settings: Settings, supplies: Supplies, occasion: Occasion, *, dark: bool
) -> Circumstances:
    step = occasion.start_hour - evening.run.first
    frozen = np.median(evening.run.frozen_fraction[step], axis=1)
    until_then = slice(evening.now, occasion.start_hour + 1)
    warmest = np.median(evening.terrace.outdoor.air_temperature_c[until_then].max(axis=0))
    gusts = gusts_by_spot(evening, occasion.nights)
    return Circumstances(
        garden=evening.garden,
        catalogue=evening.catalogue,
        settings=settings,
        supplies=supplies,
        taxa=evening.taxa,
        frozen=frozenset(pot.id for pot, share in zip(evening.pots, frozen, strict=True) if share > FROZEN),
        icy=frozenset(pot.id for pot, share in zip(evening.pots, frozen, strict=True) if share > ICY),
        mild_enough_to_water=not dark and float(warmest) > MILD_ENOUGH_TO_WATER_C,
        dark=dark,
        topple_with_hood_m_s=topple_with_hood(evening),
        gust_m_s=gusts,
    )


# --- cold spells ----------------------------------------------------------------------------------------


def _spell(evening: Evening) -> tuple[int, int, bool] | None:
    """First and last night of the coming spell that outer roots will not stand, and whether it has begun."""
    outdoors = [
        row for row, situation in enumerate(evening.situations) if not evening.terrace.spots[situation.spot].indoors
    ]
    at_risk_on = [
        sum(_chance(night[row], Tissue.YOUNG_ROOT) >= YOUNG_ROOT_RISK for row in outdoors) / max(len(outdoors), 1)
        for night in evening.judgements
    ]
    found = _first_run([share >= SPELL_SHARE for share in at_risk_on])
    if found is None:
        return None
    first, last = found
    if first == last and at_risk_on[first] < LONE_NIGHT_SHARE:
        return None  # one short night is no spell
    at_risk = [
        row
        for row, judged in enumerate(evening.judgements[first])
        if _chance(judged, Tissue.YOUNG_ROOT) >= YOUNG_ROOT_RISK
    ]
    hurt = sum(_outer_roots_hurt_already(evening, row) for row in at_risk)
    return first, last, first == 0 and 2 * hurt > len(at_risk)


def _first_run(flags: Sequence[bool]) -> tuple[int, int] | None:
    """First and last position of the first run of true flags, longer runs before single ones."""
    runs: list[tuple[int, int]] = []
    for position, flag in enumerate(flags):
        if flag and runs and runs[-1][1] == position - 1:
            runs[-1] = (runs[-1][0], position)
        elif flag:
            runs.append((position, position))
    return next((run for run in runs if run[1] > run[0]), runs[0] if runs else None)


def _outer_roots_hurt_already(evening: Evening, row: int) -> bool:
    """Whether the outer roots of a pot passed their limit lately."""
    coldest = float(evening.past.ring_c[-HURT_WITHIN_H:, row].min())
    return any(
        coldest <= limit.limit_c
        for _, tissue_limits in evening.limits[row]
        for limit in tissue_limits
        if limit.tissue is Tissue.YOUNG_ROOT
    )


def _chance(judged: Sequence[Judgement], tissue: Tissue) -> float:
    return max(
        (float(judgement.chance.mean()) for judgement in judged if judgement.limit.tissue is tissue),
        default=0.0,
    )


def _before_spell(
    evening: Evening,
    settings: Settings,
    spell: tuple[int, int, bool] | None,
    supplies: Supplies,
    tonight: Sequence[Choice],
) -> tuple[tuple[Choice, ...], Supplies]:
    """One batch of preparations, unless the spell lies too far ahead.

    Once it has begun outer roots are past caring for; only what endangers whole plants still counts.
    """
    if spell is None:
        return (), supplies
    first, last, began = spell
    work = _work(evening, settings, first)
    if first > SPELL_AHEAD_NIGHTS or work is None:
        return (), supplies
    nights = tuple(range(first, last + 1))
    tissues = frozenset({Tissue.WHOLE_ROOT}) if began else SPELL_TISSUES
    occasion = Occasion(Batch.BEFORE_SPELL, _start_hour(evening, work), nights, tissues)
    # whose roots are cared for tonight needs nothing more; a fleece alone leaves the roots to the spell
    cared_for = {choice.pot for choice in tonight if choice.option.protections & ROOT_PROTECTIONS}
    pots = [
        pot for pot in range(len(evening.pots)) if pot not in cared_for and not _outer_roots_hurt_already(evening, pot)
    ]
    about = _circumstances(evening, settings, supplies, occasion, dark=work.dark)
    return choose_jobs(evening, about, occasion, pots, settings)


# --- times ----------------------------------------------------------------------------------------------


def _with_times(
    evening: Evening,
    jobs: Sequence[Job],
    settings: Settings,
    spell: tuple[int, int, bool] | None,
    undo: Mapping[tuple[str, Protection], datetime | None],
) -> tuple[Job, ...]:
    """Jobs in the order of doing, each with its latest start and the time from which it may be undone.

    Batches that share an evening are one after the other in it.
    """
    night_of = {Batch.TONIGHT: 0, Batch.BEFORE_SPELL: 0 if spell is None else spell[0], Batch.TOMORROW: 1}
    ordered = [job for batch in Batch for job in _walk(evening, jobs, batch)]
    dated: list[Job] = []
    for night in sorted({night_of[job.batch] for job in ordered}):
        work = _work(evening, settings, night)
        mine = [job for job in ordered if night_of[job.batch] == night]
        # a gale's jobs are told even where nobody has a window: by sunset, or now
        local = evening.at.astimezone(evening.terrace.zone)
        window = work or WorkTime(local, max(evening.nights[night].sunset or local, local), dark=False)
        starts = latest_starts([job.minutes * job.people / settings.people for job in mine], window)
        dated += [
            replace(
                job,
                start_by=start,
                undo_after=undo.get((job.pot, job.protection)),
                cautions=(*job.cautions, *((Caution.DARK_WORK,) if window.dark else ())),
            )
            for job, start in zip(mine, starts, strict=True)
        ]
    return tuple(dated)


def _walk(evening: Evening, jobs: Sequence[Job], batch: Batch) -> list[Job]:
    """The jobs of a batch, urgent first, then along the way from spot to spot."""
    places = {spot.name: position for position, spot in enumerate(evening.garden.spots)}
    rows = {pot.id: position for position, pot in enumerate(evening.pots)}
    return sorted(
        (job for job in jobs if job.batch is batch),
        key=lambda job: (_rank(evening, rows[job.pot], job), places[job.spot], rows[job.pot]),
    )


def _rank(evening: Evening, pot: int, job: Job) -> int:
    """What cannot be replaced first, then what is almost certainly lost, then the rest by the way."""
    if any(planting.irreplaceable for planting in evening.pots[pot].plantings):
        return 0
    return 1 if job.loss_otherwise.chance >= URGENT_CHANCE else 2


# --- the plan -------------------------------------------------------------------------------------------


def _plan(
    evening: Evening,
    weather: WeatherSeries,
    settings: Settings,
    jobs: tuple[Job, ...],
    choices: Sequence[Choice],
    dropped: frozenset[int],
    spell: tuple[int, int, bool] | None,
) -> AdvicePlan:
    site = evening.garden.site
    work = _work(evening, settings, 0)
    local = evening.at.astimezone(evening.terrace.zone)
    notes = list(evening.notes)
    if not evening.garden.stock.stated:
        notes.append("stock assumed")
    if work is None:
        notes.append("nobody can work before tonight")
    elif work.dark:
        notes.append("asked after dusk" if not settings.windows else "work by lamp")
    if dropped:
        notes.append("more work than time")
    with_plans = _with_plans(evening, choices)
    busy = {choice.pot for choice in choices}
    return AdvicePlan(
        site=site.name,
        time_zone=site.time_zone,
        asked_at=local,
        night=evening.nights[0].date,
        sunset=evening.nights[0].sunset,
        weather=_credit(evening, weather),
        jobs=jobs,
        pots=tuple(
            _pot_outlook(
                evening,
                pot,
                with_plans.get(pot),
                None if pot in busy else _no_job(evening, settings, pot, dropped, work),
            )
            for pot in range(len(evening.pots))
        ),
        nights=tuple(_night_outlook(evening, night) for night in range(len(evening.nights))),
        spell=None if spell is None else _spell_outlook(evening, spell),
        cautions=tuple(dict.fromkeys(caution for job in jobs for caution in job.cautions)),
        notes=tuple(dict.fromkeys(notes)),
        garden_assumed=tuple((pot.id, pot.assumed) for pot in evening.pots),
    )


def _credit(evening: Evening, weather: WeatherSeries) -> WeatherCredit:
    source = weather.provenance
    said = source.issued or source.fetched
    age = None if said is None else max((evening.at.astimezone(UTC) - said) / timedelta(hours=1), 0.0)
    return WeatherCredit(
        service=source.service,
        model=source.model,
        issued=source.issued,
        fetched=source.fetched,
        age_h=age,
        credit=source.credit,
        members=evening.terrace.n_members,
        from_store=source.from_store,
    )


def _night_outlook(evening: Evening, night: int) -> NightOutlook:
    terrace = evening.terrace
    inside = night_hours(terrace, evening.run, evening.nights[night], evening.now)
    window = slice(evening.run.first, evening.run.first + inside.size)
    air = terrace.colder(terrace.outdoor.air_temperature_c[window][inside].min(axis=0))
    wind = terrace.outdoor.wind_speed_terrace_m_s[window][inside]
    judged = evening.judgements[night]
    of_the_night = [
        [judgement for judgement in pot if judgement.limit.tissue is not Tissue.YOUNG_ROOT] for pot in judged
    ]
    return NightOutlook(
        date=evening.nights[night].date,
        coldest_air_c=float(np.median(air)),
        coldest_air_c_p10=float(np.quantile(air, 0.1, method="hazen")),
        windy=bool(np.median(wind) > WINDY_M_S),
        pots_at_risk=sum(
            pot.count for pot, tissues in zip(evening.pots, of_the_night, strict=True) if loss_of(tissues, 1)[0] >= RISK
        ),
        young_roots_at_risk=sum(
            pot.count
            for pot, tissues in zip(evening.pots, judged, strict=True)
            if _chance(tissues, Tissue.YOUNG_ROOT) >= YOUNG_ROOT_RISK
        ),
        complete=evening.complete[night],
    )


def _spell_outlook(evening: Evening, spell: tuple[int, int, bool]) -> ColdSpell:
    first, last, began = spell
    nights = range(first, last + 1)
    pots = sum(
        pot.count
        for row, pot in enumerate(evening.pots)
        if any(_chance(evening.judgements[night][row], Tissue.YOUNG_ROOT) >= YOUNG_ROOT_RISK for night in nights)
    )
    return ColdSpell(evening.nights[first].date, evening.nights[last].date, began, pots)


def _no_job(
    evening: Evening, settings: Settings, row: int, dropped: frozenset[int], work: WorkTime | None
) -> NoJob | None:
    """Why a pot that is at risk tonight has no job; None for one that is not at risk."""
    of_the_night = [j for j in evening.judgements[0][row] if j.limit.tissue in TONIGHT_TISSUES]
    irreplaceable = any(planting.irreplaceable for planting in evening.pots[row].plantings)
    if loss_of(of_the_night, 1)[0] < (CHANCE_CAP if irreplaceable else RISK):
        return None
    if row in dropped:
        return NoJob.NO_TIME
    if work is None:
        return NoJob.TOO_LATE
    taxa = evening.taxa[evening.pots[row].id]
    return no_move_because(evening.situations[row], taxa, evening.garden, evening.catalogue, settings, work.dark)


def _pot_outlook(evening: Evening, row: int, with_plan: PotWithPlan | None, no_job: NoJob | None) -> PotOutlook:
    terrace, run, pot = evening.terrace, evening.run, evening.pots[row]
    inside = night_hours(terrace, run, evening.nights[0], evening.now)
    judged = evening.judgements[0][row]
    chance, loss = loss_of(judged, pot.count)
    below = np.count_nonzero(run.ring_c[inside, row] < 0.0, axis=0)
    return PotOutlook(
        id=pot.id,
        label=pot.label,
        plant=", ".join(dict.fromkeys(planting.name for planting in pot.plantings)),
        spot=pot.spot,
        count=pot.count,
        coldest=_coldest(evening, row, inside),
        frozen_fraction=float(np.median(run.frozen_fraction[inside, row].max(axis=0))),
        hours_ring_below_0=float(np.median(below)),
        tissues=tuple(tissue_outlook(judgement) for judgement in judged),
        chance_of_damage=chance,
        expected_loss_eur=loss,
        with_plan=with_plan,
        no_job=no_job,
    )


def _coldest(evening: Evening, row: int, inside: np.ndarray) -> Coldest:
    values: dict[str, float] = {}
    for name in ("ring_c", "mean_c", "core_c", "leaf_c"):
        minima = evening.terrace.colder(getattr(evening.run, name)[inside, row].min(axis=0))
        values[name] = float(np.median(minima))
        values[f"{name}_p10"] = float(np.quantile(minima, 0.1, method="hazen"))
    return Coldest(**values)


def _with_plans(evening: Evening, choices: Sequence[Choice]) -> dict[int, PotWithPlan]:
    """The coming night of each pot with its jobs done; left out where they come after it."""
    mine = {
        choice.pot: choice
        for choice in sorted(choices, key=lambda choice: choice.occasion.batch is Batch.TONIGHT)
        if choice.occasion.nights[0] == 0
    }
    columns = evening.terrace.columns
    told: dict[int, PotWithPlan] = {}
    for start_hour in {choice.occasion.start_hour for choice in mine.values()}:
        together = [choice for choice in mine.values() if choice.occasion.start_hour == start_hour]
        night = Occasion(Batch.TONIGHT, start_hour, (0,), frozenset(Tissue))
        outcomes = simulate_options(evening, night, [(choice.pot, choice.option) for choice in together], columns)
        for choice, outcome in zip(together, outcomes, strict=True):
            told[choice.pot] = PotWithPlan(
                outcome.coldest_ring_c, outcome.coldest_leaf_c, outcome.chance, outcome.loss_eur
            )
    return told
