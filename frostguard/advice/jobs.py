"""Choices into jobs: one for each thing to do, with what is lost otherwise and when it may be undone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from frostguard.advice.evening import Evening
from frostguard.advice.nights import from_utc64
from frostguard.advice.outlook import loss_of
from frostguard.advice.plan import Job, Loss, Protection
from frostguard.advice.planner import Choice, Outcome
from frostguard.advice.protections import pot_weight_kg
from frostguard.hardiness.model import Tissue

SAFE_AIR_C = 2.0
"""Covers come off when the air at leaf height is above this; common practice, extension advice."""

SAFE_CHANCE = 0.05
"""Chance of harm below which a pot that was carried in may go back for the night; estimate."""

AFTER_SUNRISE = timedelta(hours=2)
"""Nothing is undone before the sun has been up for a while; common practice."""

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
            minutes=step.minutes,
            people=step.people,
            weight_kg=pot_weight_kg(evening.situations[choice.pot], evening.catalogue)
            if step.protection in WEIGHED
            else None,
            covers=step.covers,
            litres=step.litres,
            loss_otherwise=_loss(choice.without, choice),
            cautions=step.cautions,
            undo_after=None,
            count=evening.pots[choice.pot].count,
        )
        for choice in choices
        for step in choice.option.steps
    ]


def _loss(without: Outcome, choice: Choice) -> Loss:
    """The tissue that costs most, its chance, and the whole loss to be expected."""
    counting = [
        judgement for judgement in without.judgements if judgement.limit.tissue in choice.occasion.tissues
    ]
    worst = max(
        counting,
        key=lambda judgement: (
            float(judgement.chance.mean()) * judgement.limit.value_share * judgement.planting.value_eur
        ),
    )
    return Loss(worst.limit.tissue, float(worst.chance.mean()), without.loss_eur)


def undo_times(evening: Evening, choices: Sequence[Choice]) -> dict[tuple[str, Protection], datetime | None]:
    """From when each job may be undone; absent for what stays for the winter."""
    times: dict[tuple[str, Protection], datetime | None] = {}
    for choice in choices:
        pot = evening.pots[choice.pot]
        for step in choice.option.steps:
            if step.protection in (Protection.FLEECE, Protection.DOUBLE_FLEECE):
                times[pot.id, step.protection] = _uncover_at(evening)
            elif step.protection is Protection.MOVE:
                times[pot.id, step.protection] = _carry_back_at(evening, choice)
    return times


def _uncover_at(evening: Evening) -> datetime | None:
    """The first hour after the night's sunrise at which nearly every member is well above freezing."""
    night = evening.nights[0]
    if night.sunrise is None:
        return None
    terrace = evening.terrace
    window = slice(evening.run.first, evening.run.first + evening.run.ring_c.shape[0])
    air = terrace.colder(terrace.outdoor.air_temperature_c[window])
    cautious = np.quantile(air, 0.1, axis=1)
    for hour, temperature in zip(terrace.times[window], cautious, strict=True):
        moment = from_utc64(hour, terrace.zone)
        if moment > night.sunrise + timedelta(hours=14):
            return None  # a day without thaw: the cover stays on
        if moment >= night.sunrise + AFTER_SUNRISE / 2 and temperature > SAFE_AIR_C:
            return moment
    return None


def _carry_back_at(evening: Evening, choice: Choice) -> datetime | None:
    """Noon before the first later night in which the pot would come to no harm where it stood."""
    last = choice.occasion.nights[-1]
    for night, judged in list(zip(evening.nights, evening.judgements, strict=True))[last + 1 :]:
        of_the_night = [
            judgement for judgement in judged[choice.pot] if judgement.limit.tissue is not Tissue.YOUNG_ROOT
        ]
        if loss_of(of_the_night, 1)[0] < SAFE_CHANCE:
            return night.begins
    return None
