"""Choices into jobs: one for each thing to do, with what is lost otherwise and when it may be undone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta

import numpy as np

from frostguard.advice.candidates import WORTHWHILE_CHANCE
from frostguard.advice.evening import Evening
from frostguard.advice.gale import strong_gusts
from frostguard.advice.nights import from_utc64
from frostguard.advice.option import Step, pot_weight_kg
from frostguard.advice.outlook import Judgement
from frostguard.advice.plan import RISK, SAFE_AIR_C, Job, Loss, Protection, Stay
from frostguard.advice.planner import Choice
from frostguard.advice.reach import reached_by
from frostguard.advice.stay import first_harmless_night, stays_for_the_winter
from frostguard.hardiness.hardening import Season

AFTER_SUNRISE = timedelta(hours=1)
UNCOVER_FROM, UNCOVER_UNTIL = time(8), time(15)
"""Nothing is undone before the sun has been up for a while, nor late in the day; common practice."""

CALM_AHEAD_H = 24
"""Hours without such gusts that must lie ahead before a pot is stood up again after a gale; estimate."""

WEIGHED = frozenset({Protection.MOVE, Protection.RAISE, Protection.GROUP})


def jobs_of(evening: Evening, choices: Sequence[Choice]) -> list[Job]:
    """The jobs of these choices, not yet put in order or dated."""
    return [
        Job(
            pot=evening.pots[choice.pot].id,
            label=evening.pots[choice.pot].label,
            spot=evening.pots[choice.pot].spot,
            protection=step.protection,
            batch=choice.occasion.batch,
            to_spot=choice.option.to_spot if step.protection is Protection.MOVE else None,
            start_by=evening.at,
            minutes=step.whole_minutes,
            people=step.people,
            weight_kg=pot_weight_kg(evening.situations[choice.pot], evening.catalogue)
            if step.protection in WEIGHED
            else None,
            covers=step.covers,
            litres=step.litres,
            loss_otherwise=loss,
            cautions=step.cautions,
            undo_after=None,
            count=choice.count,
            alike=evening.pots[choice.pot].count + evening.pots[choice.pot].set_aside,
            irreplaceable=any(planting.irreplaceable for planting in evening.pots[choice.pot].plantings),
            with_job=_belonging_together(choice, step, loss),
            too_cold_there_from=None
            if choice.too_cold_from is None or step.protection is not Protection.MOVE
            else evening.nights[choice.too_cold_from].date,
            for_night=evening.nights[_first_harm(evening, choice)].date,
        )
        for choice in choices
        for step in choice.option.steps
        for loss in [_loss(choice, evening.pots[choice.pot].count, step.protection)]
    ]


def _first_harm(evening: Evening, choice: Choice) -> int:
    """The first night of its occasion that would harm the pot as it stands, else the first."""
    for night in choice.occasion.nights:
        counting = [
            one for one in evening.judgements[night][choice.pot] if one.limit.tissue in choice.occasion.tissues
        ]
        if any(float(one.chance.mean()) >= RISK for one in counting):
            return night
    return choice.occasion.nights[0]


def _belonging_together(choice: Choice, step: Step, loss: Loss) -> tuple[Protection, ...]:
    """The other steps for the tissue that a step is told for, without which its chance would be another."""
    others = (one.protection for one in choice.option.steps if one.protection is not step.protection)
    return tuple(other for other in others if loss.tissue in reached_by(other))


def _loss(choice: Choice, alike: int, protection: Protection) -> Loss:
    """The tissue that the jobs save most of, its chance before and after, and the whole loss without them.

    Each is told for what it reaches itself: nobody wraps a pot for its leaves, nor lays fleece on them for the roots.
    Where it hardly helps that, it is told for what it does help.
    """
    pairs = [
        (before, after)
        for before, after in zip(choice.without.judgements, choice.with_it.judgements, strict=True)
        if before.limit.tissue in choice.occasion.tissues
    ]

    def saved(pair: tuple[Judgement, Judgement]) -> float:
        before, after = pair
        gain = float(before.chance.mean() - after.chance.mean())
        return gain * before.limit.value_share * before.planting.value_eur

    reached = reached_by(protection)
    helped = [pair for pair in pairs if float(pair[0].chance.mean() - pair[1].chance.mean()) >= WORTHWHILE_CHANCE]
    own = [pair for pair in helped if pair[0].limit.tissue in reached]
    before, after = max(own or helped or pairs, key=saved)
    expected_eur = choice.without.loss_eur * choice.count / alike
    several = len({one.planting.key for one, _ in pairs}) > 1
    return Loss(
        before.limit.tissue,
        float(before.chance.mean()),
        expected_eur,
        float(after.chance.mean()),
        before.planting.name if several else None,
    )


def undo_times(
    evening: Evening, choices: Sequence[Choice], gale: Sequence[Job] = ()
) -> dict[tuple[str, Protection], datetime | Stay]:
    """From when each job may be undone, or why that is not told; absent where there is nothing to undo.

    Parameters
    ----------
    evening : Evening
    choices : sequence of Choice
    gale : sequence of Job
        What is to be done against tonight's gale.
    """
    times: dict[tuple[str, Protection], datetime | Stay] = {}
    for choice in choices:
        pot = evening.pots[choice.pot]
        for step in choice.option.steps:
            match step.protection:
                case Protection.FLEECE | Protection.DOUBLE_FLEECE:
                    times[pot.id, step.protection] = _uncover_at(evening, choice)
                case Protection.MOVE:
                    times[pot.id, step.protection] = _carry_back_at(evening, choice)
                case (
                    Protection.WRAP
                    | Protection.PLUNGE
                    | Protection.MULCH
                    | Protection.FILL_GAPS
                    | Protection.SLEEVE
                    | Protection.TIE_CROWN
                ) if evening.season is Season.SPRING:
                    times[pot.id, step.protection] = _off_in_spring(evening, choice)
                case (
                    Protection.WRAP
                    | Protection.RAISE
                    | Protection.GROUP
                    | Protection.MULCH
                    | Protection.PLUNGE
                    | Protection.FILL_GAPS
                    | Protection.TIE_CROWN
                    | Protection.SLEEVE
                ):
                    times[pot.id, step.protection] = Stay.FOR_THE_WINTER
                case Protection.WATER | Protection.SHADE | Protection.TIE_UP | Protection.SECURE | Protection.UNCOVER:
                    pass
    carried = {evening.pots[choice.pot].id for choice in choices if choice.option.to_spot is not None}
    ends = {
        (job.pot, job.protection): _after_the_gale(evening, job)
        for job in gale
        if job.protection is not Protection.UNCOVER or job.pot not in carried  # by then it is under a roof
    }
    return times | ends


def _uncover_at(evening: Evening, choice: Choice) -> datetime | Stay:
    """The first daytime hour after the night at which nearly every member is well above freezing."""
    terrace = evening.terrace
    window = slice(evening.run.first, evening.run.first + evening.run.ring_c.shape[0])
    cautious = np.quantile(terrace.colder(terrace.outdoor.air_temperature_c[window]), 0.1, axis=1, method="hazen")
    for hour, moment in daytime_after(evening, choice.occasion.nights[-1]):
        if cautious[hour] > SAFE_AIR_C:
            return moment
    return Stay.NOT_IN_SIGHT


def _off_in_spring(evening: Evening, choice: Choice) -> datetime | Stay:
    """Noon before the first of the nights that are all harmless to the pot as it stood: roots wake in the warm."""
    back = first_harmless_night(evening, choice.pot, choice.occasion.nights, choice.occasion.tissues)
    return Stay.NOT_IN_SIGHT if back is None else evening.nights[back].begins


def _after_the_gale(evening: Evening, job: Job) -> datetime | Stay:
    """The first daytime hour after the night with no gust for a day that would tip the pot again."""
    strong = strong_gusts(evening, job.pot, hooded=job.protection is Protection.UNCOVER)
    for hour, moment in daytime_after(evening, 0):
        ahead = strong[hour : hour + CALM_AHEAD_H]
        if ahead.size == CALM_AHEAD_H and not ahead.any():
            return moment
    return Stay.NOT_IN_SIGHT


def daytime_after(evening: Evening, night: int) -> Iterator[tuple[int, datetime]]:
    """The hours by day, well after sunrise, that follow a night: their positions in the run, and when they are."""
    terrace = evening.terrace
    window = slice(evening.run.first, evening.run.first + evening.run.ring_c.shape[0])
    sunrise = evening.nights[night].sunrise or evening.nights[night].ends
    for position, hour in enumerate(terrace.times[window]):
        moment = from_utc64(hour, terrace.zone)
        if moment >= sunrise + AFTER_SUNRISE and UNCOVER_FROM <= moment.time() <= UNCOVER_UNTIL:
            yield position, moment


def _carry_back_at(evening: Evening, choice: Choice) -> datetime | Stay:
    """Noon before the first of the nights that are all harmless outdoors, up to the last one in sight.

    Never before the nights are over that it is carried in for.
    """
    nights, tissues = choice.occasion.nights, choice.occasion.tissues
    back = first_harmless_night(evening, choice.pot, nights, tissues)
    if stays_for_the_winter(evening, choice.pot, choice.option):
        return Stay.UNTIL_SPRING
    return Stay.NOT_IN_SIGHT if back is None else evening.nights[back].begins
