"""The plan put together: pots with and without their jobs, nights, the weather's credit, notes."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import UTC, timedelta

import numpy as np

from frostguard.advice.candidates import CHEAPEST_JOB_EUR
from frostguard.advice.deadlines import WorkTime
from frostguard.advice.evening import Evening
from frostguard.advice.hands import work_before
from frostguard.advice.middle_course import coldest_by_column
from frostguard.advice.moving import OFF_THE_FLOOR, no_move_because
from frostguard.advice.occasion import TONIGHT_TISSUES
from frostguard.advice.outlook import loss_of, night_hours, tissue_outlook
from frostguard.advice.plan import (
    LIKELY,
    OUTER_ROOTS_RISK,
    RISK,
    AdvicePlan,
    Batch,
    Coldest,
    Job,
    LeftOut,
    Loss,
    NightOutlook,
    NoJob,
    PlanNote,
    PotOutlook,
    PotWithPlan,
    Unattended,
    WeatherCredit,
)
from frostguard.advice.planner import Choice, Missed
from frostguard.advice.scarce import Scarce
from frostguard.advice.spell import Spell, outer_root_chance, spell_outlook
from frostguard.advice.stay import briefly_in, first_harmless_night, may_stand_warm
from frostguard.advice.strains import first_night_lost, lost_later, strain_notes
from frostguard.advice.trial import CHANCE_CAP
from frostguard.advice.unattended import TillSomebodyComes, till_somebody_comes
from frostguard.advice.unprotected import harm_by
from frostguard.garden.settings import Settings
from frostguard.weather.series import WeatherSeries
from frostguard.weather.worst_case import SERVICE as WORST_CASE

BETTER_MOVED = frozenset({NoJob.TOO_HEAVY, NoJob.TOO_DARK})
LACKING = {Scarce.TIME: NoJob.NO_TIME, Scarce.ROOM: NoJob.NO_ROOM, Scarce.COVERS: NoJob.NO_COVERS}

WINDY_M_S = 5.0
"""Mean wind over the terrace from which a night is called windy; estimate, a gentle to fresh breeze."""


def assemble_plan(
    evening: Evening,
    weather: WeatherSeries,
    settings: Settings,
    jobs: tuple[Job, ...],
    choices: Sequence[Choice],
    missed: Sequence[Missed],
    spell: Spell | None,
    let_go: frozenset[int] = frozenset(),
) -> AdvicePlan:
    """Everything found out, as the one plan that every rendering reads."""
    site = evening.garden.site
    work = work_before(evening, settings, 0)
    local = evening.at.astimezone(evening.terrace.zone)
    guessed = weather.provenance.service == WORST_CASE
    with_plans = _with_plans(evening, choices)
    busy = {choice.pot for choice in choices}
    moved = {choice.pot for choice in choices if choice.option.to_spot is not None}
    till_then = till_somebody_comes(evening, settings)
    pots = tuple(
        _pot_outlook(
            evening,
            pot,
            with_plans.get(pot),
            till_then.of_pot(pot, choices),
            _not_carried(till_then, settings, pot, choices, None if pot in moved else with_plans.get(pot), work)
            if pot in busy
            else _no_job(till_then, settings, pot, missed, work, pot in let_go),
        )
        for pot in range(len(evening.pots))
    )
    told = _told(pots, choices, missed)
    return AdvicePlan(
        site=site.name,
        time_zone=site.time_zone,
        asked_at=local,
        night=evening.nights[0].date,
        sunset=evening.nights[0].sunset,
        weather=_credit(evening, weather),
        jobs=jobs,
        pots=pots,
        nights=tuple(_night_outlook(evening, night) for night in range(1 if guessed else len(evening.nights))),
        spell=None if spell is None else spell_outlook(evening, spell),
        cautions=tuple(dict.fromkeys(caution for job in jobs for caution in job.cautions)),
        notes=tuple(
            dict.fromkeys(
                (
                    *strain_notes(evening, weather, choices),
                    *(() if guessed else lost_later(evening, _nowhere_to_go(evening, settings, told))),
                    *evening.notes,
                    *_notes(evening, settings, work, missed, pots),
                )
            )
        ),
        garden_assumed=tuple((pot.id, pot.assumed) for pot in evening.pots),
        left_out=tuple(_left_out(evening, one) for one in missed if one.lacking in LACKING),
        pace_of_work=settings.pace_of_work,
    )


def _nowhere_to_go(evening: Evening, settings: Settings, told: Collection[int]) -> dict[int, int]:
    """Pots that a later night is likely to kill, and that cannot be carried in before it, with that night.

    There is time to find a place or a hand for them; what can be carried in gets its job in the hours before it.
    """
    found = {}
    for row in range(len(evening.pots)):
        night = None if row in told else first_night_lost(evening, row)
        if night:
            work, its_night = work_before(evening, settings, night), TillSomebodyComes(evening, (night,))
            if work is None or _why_not_moved(its_night, settings, row, work) is not NoJob.NOTHING_HELPS:
                found[row] = night
    return found


def _told(pots: Sequence[PotOutlook], choices: Sequence[Choice], missed: Sequence[Missed]) -> frozenset[int]:
    """The pots that have a job, or of which is told why they have none."""
    told = {row for row, pot in enumerate(pots) if pot.no_job is not None or pot.unattended is not None}
    return frozenset(told | {choice.pot for choice in choices} | {one.pot for one in missed})


def _notes(
    evening: Evening,
    settings: Settings,
    work: WorkTime | None,
    missed: Sequence[Missed],
    pots: Sequence[PotOutlook],
) -> Iterator[str]:
    if not evening.garden.stock.stated:
        yield PlanNote.STOCK_ASSUMED.value
    if work is None:
        yield PlanNote.NO_HANDS.value
    elif work.dark:
        yield (PlanNote.BY_LAMP if settings.windows else PlanNote.AFTER_DUSK).value
    till_then = [pot.unattended for pot in pots if pot.unattended is not None]
    if any(one.loss_undone_eur >= CHEAPEST_JOB_EUR for one in till_then):
        yield f"{PlanNote.NOBODY_UNTIL.value}:{till_then[0].nights[-1].isoformat()}"
    if any(one.lacking is Scarce.TIME for one in missed):
        yield PlanNote.TIME_SHORT.value


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
    return NightOutlook(
        date=evening.nights[night].date,
        coldest_air_c=float(np.median(air)),
        coldest_air_c_p10=float(np.quantile(air, 0.1, method="hazen")),
        windy=bool(np.median(wind) > WINDY_M_S),
        pots_at_risk=sum(
            pot.count for pot, tissues in zip(evening.pots, judged, strict=True) if loss_of(tissues, 1)[0] >= RISK
        ),
        young_roots_at_risk=sum(
            pot.count
            for pot, tissues in zip(evening.pots, judged, strict=True)
            if outer_root_chance(tissues) >= OUTER_ROOTS_RISK
        ),
        complete=evening.complete[night],
    )


def _no_job(
    till_then: TillSomebodyComes,
    settings: Settings,
    row: int,
    missed: Sequence[Missed],
    work: WorkTime | None,
    costs_more: bool,
) -> NoJob | None:
    """Why a pot that is at risk till somebody comes again has no job; None for one that is not at risk."""
    evening = till_then.evening
    of_the_night = [j for j in till_then.undone(row) if j.limit.tissue in TONIGHT_TISSUES]
    irreplaceable = any(planting.irreplaceable for planting in evening.pots[row].plantings)
    if loss_of(of_the_night, 1)[0] < (CHANCE_CAP if irreplaceable else RISK):
        return None
    if harm_by(evening, row, TONIGHT_TISSUES, evening.now) >= LIKELY:
        return NoJob.HARMED_ALREADY
    lacking = next((one.lacking for one in missed if one.pot == row and one.occasion.nights[0] == 0), None)
    if work is None:
        return NoJob.TOO_LATE
    moving = _why_not_moved(till_then, settings, row, work)
    if moving in BETTER_MOVED and loss_of(of_the_night, 1)[0] >= LIKELY:
        return moving  # covers would hardly save it, hands or daylight would
    if lacking in LACKING:
        return LACKING[lacking]
    too_little = loss_of(of_the_night, evening.pots[row].count)[1] < CHEAPEST_JOB_EUR and not irreplaceable
    if costs_more or too_little:
        return NoJob.LET_GO
    return moving


def _not_carried(
    till_then: TillSomebodyComes,
    settings: Settings,
    row: int,
    choices: Sequence[Choice],
    with_plan: PotWithPlan | None,
    work: WorkTime | None,
) -> NoJob | None:
    """What keeps a pot where its jobs hardly save it, if hands or daylight would; else None."""
    left = till_then.of_pot(row, choices) or with_plan
    if with_plan is None or left is None or left.chance_of_damage < LIKELY or work is None:
        return None
    moving = _why_not_moved(till_then, settings, row, work)
    return moving if moving in BETTER_MOVED else None


def _why_not_moved(till_then: TillSomebodyComes, settings: Settings, row: int, work: WorkTime) -> NoJob:
    evening, nights = till_then.evening, till_then.nights
    back = first_harmless_night(evening, row, nights, TONIGHT_TISSUES)
    return no_move_because(
        evening.situations[row],
        evening.taxa[evening.pots[row].id],
        evening.garden,
        evening.catalogue,
        settings,
        work.dark,
        briefly_in=briefly_in(evening, row, nights, back),
        stands_warm=may_stand_warm(evening, row, nights, back),
    )


def _left_out(evening: Evening, missed: Missed) -> LeftOut:
    """A job that there was not enough for, with the tissue that most may be lost of."""
    counting = [one for one in missed.without.judgements if one.limit.tissue in missed.occasion.tissues]
    worst = max(counting, key=lambda one: float(one.chance.mean()) * one.limit.value_share * one.planting.value_eur)
    pot = evening.pots[missed.pot]
    return LeftOut(
        pot=pot.id,
        label=pot.label,
        spot=pot.spot,
        batch=missed.occasion.batch,
        lacking=LACKING[missed.lacking],
        loss=Loss(
            worst.limit.tissue, float(worst.chance.mean()), missed.without.loss_eur * missed.count / pot.count
        ),
        count=missed.count,
    )


def _pot_outlook(
    evening: Evening, row: int, with_plan: PotWithPlan | None, unattended: Unattended | None, no_job: NoJob | None
) -> PotOutlook:
    terrace, run, pot = evening.terrace, evening.run, evening.pots[row]
    inside = night_hours(terrace, run, evening.nights[0], evening.now)
    judged = evening.judgements[0][row]
    chance, loss = loss_of(judged, pot.count)
    coldest = _coldest(evening, row)
    tissues = tuple(tissue_outlook(judgement) for judgement in judged)
    below = np.count_nonzero(run.ring_c[inside, row] < 0.0, axis=0)
    return PotOutlook(
        id=pot.id,
        label=pot.label,
        plant=", ".join(dict.fromkeys(planting.name for planting in pot.plantings)),
        spot=pot.spot,
        count=pot.count,
        coldest=coldest,
        frozen_fraction=float(np.median(run.frozen_fraction[inside, row].max(axis=0))),
        hours_ring_below_0=float(np.median(below)),
        tissues=tissues,
        chance_of_damage=chance,
        expected_loss_eur=loss,
        water_fraction=evening.water[row].fraction,
        with_plan=with_plan or PotWithPlan(coldest.ring_c, coldest.leaf_c, tissues, chance, loss),
        unattended=unattended,
        no_job=no_job,
        irreplaceable=any(planting.irreplaceable for planting in pot.plantings),
        harmed_already=harm_by(evening, row, TONIGHT_TISSUES, evening.now) >= LIKELY,
        off_the_floor=pot.shape in OFF_THE_FLOOR,
    )


def _coldest(evening: Evening, row: int) -> Coldest:
    values: dict[str, float] = {}
    for name in ("ring_c", "mean_c", "core_c", "leaf_c"):
        minima = evening.terrace.colder(coldest_by_column(evening, name, row))
        values[name] = float(np.median(minima))
        values[f"{name}_p10"] = float(np.quantile(minima, 0.1, method="hazen"))
    return Coldest(**values)


def _with_plans(evening: Evening, choices: Sequence[Choice]) -> dict[int, PotWithPlan]:
    """The coming night of each pot with its jobs done; left out where they come after it."""
    told: dict[int, PotWithPlan] = {}
    for choice in sorted(choices, key=lambda choice: choice.occasion.batch is Batch.TONIGHT):
        if choice.occasion.nights[0] != 0 or choice.count < evening.pots[choice.pot].count:
            continue  # where some of several alike get nothing, the others stand as they do
        told[choice.pot] = with_jobs_done(choice, evening.pots[choice.pot].count)
    return told


def with_jobs_done(choice: Choice, count: int) -> PotWithPlan:
    """The coming night of a pot, of `count` alike, that gets those jobs."""
    night = choice.with_it.first_night
    chance, loss = loss_of(night.judgements, count)
    return PotWithPlan(
        coldest_ring_c=night.coldest_ring_c,
        coldest_leaf_c=night.coldest_leaf_c,
        tissues=tuple(tissue_outlook(judgement) for judgement in night.judgements),
        chance_of_damage=chance,
        expected_loss_eur=loss,
    )
