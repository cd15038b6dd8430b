"""Choices into jobs: one for each thing to do, with what is lost otherwise and when it may be undone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta

import numpy as np

from frostguard.advice.evening import Evening
from frostguard.advice.nights import from_utc64
from frostguard.advice.option import pot_weight_kg
from frostguard.advice.outlook import Judgement, loss_of
from frostguard.advice.plan import Job, Loss, Protection, Stay
from frostguard.advice.planner import Choice
from frostguard.hardiness.hardening import Season
from frostguard.hardiness.model import MovedLight
from frostguard.hardiness.taxon import Taxon

SAFE_AIR_C = 2.0
"""Covers come off when the air at leaf height is above this; common practice, extension advice."""

SAFE_CHANCE = 0.05
"""Chance of harm below which a pot that was carried in may go back for the night; estimate."""

AFTER_SUNRISE = timedelta(hours=1)
UNCOVER_FROM, UNCOVER_UNTIL = time(8), time(15)
"""Nothing is undone before the sun has been up for a while, nor late in the day; common practice."""

TENDER_C = -4.0
"""Plants whose leaves stand no more than this winter indoors: citrus, pelargoniums, fuchsias; estimate."""

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
            loss_otherwise=_loss(choice, evening.pots[choice.pot].count),
            cautions=step.cautions,
            undo_after=None,
            count=choice.count,
            alike=evening.pots[choice.pot].count,
            irreplaceable=any(planting.irreplaceable for planting in evening.pots[choice.pot].plantings),
        )
        for choice in choices
        for step in choice.option.steps
    ]


def _loss(choice: Choice, alike: int) -> Loss:
    """The tissue that the jobs save most of, its chance before and after, and the whole loss without them."""
    pairs = [
        (before, after)
        for before, after in zip(choice.without.judgements, choice.with_it.judgements, strict=True)
        if before.limit.tissue in choice.occasion.tissues
    ]

    def saved(pair: tuple[Judgement, Judgement]) -> float:
        before, after = pair
        gain = float(before.chance.mean() - after.chance.mean())
        return gain * before.limit.value_share * before.planting.value_eur

    before, after = max(pairs, key=saved)
    expected_eur = choice.without.loss_eur * choice.count / alike
    return Loss(before.limit.tissue, float(before.chance.mean()), expected_eur, float(after.chance.mean()))


def undo_times(evening: Evening, choices: Sequence[Choice]) -> dict[tuple[str, Protection], datetime | Stay]:
    """From when each job may be undone, or why that is not told; absent where there is nothing to undo."""
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
                    | Protection.RAISE
                    | Protection.GROUP
                    | Protection.MULCH
                    | Protection.PLUNGE
                    | Protection.FILL_GAPS
                    | Protection.TIE_CROWN
                ):
                    times[pot.id, step.protection] = Stay.FOR_THE_WINTER
                case Protection.WATER | Protection.SHADE | Protection.TIE_UP | Protection.SECURE | Protection.UNCOVER:
                    pass
    return times


def _uncover_at(evening: Evening, choice: Choice) -> datetime | Stay:
    """The first daytime hour after the night at which nearly every member is well above freezing."""
    terrace = evening.terrace
    window = slice(evening.run.first, evening.run.first + evening.run.ring_c.shape[0])
    cautious = np.quantile(terrace.colder(terrace.outdoor.air_temperature_c[window]), 0.1, axis=1, method="hazen")
    night = evening.nights[choice.occasion.nights[-1]]
    sunrise = night.sunrise or night.ends
    for hour, temperature in zip(terrace.times[window], cautious, strict=True):
        moment = from_utc64(hour, terrace.zone)
        by_day = UNCOVER_FROM <= moment.time() <= UNCOVER_UNTIL
        if moment >= sunrise + AFTER_SUNRISE and by_day and temperature > SAFE_AIR_C:
            return moment
    return Stay.NOT_IN_SIGHT


def _carry_back_at(evening: Evening, choice: Choice) -> datetime | Stay:
    """Noon before the first of the nights that are all harmless outdoors, up to the last one in sight."""
    if evening.season is not Season.SPRING and any(
        winters_indoors(taxon) for taxon in evening.taxa[evening.pots[choice.pot].id]
    ):
        return Stay.UNTIL_SPRING
    back: datetime | Stay = Stay.NOT_IN_SIGHT
    for night, judged in list(zip(evening.nights, evening.judgements, strict=True))[::-1]:
        if loss_of(judged[choice.pot], 1)[0] >= SAFE_CHANCE:
            return back
        back = night.begins
    return back


def winters_indoors(taxon: Taxon) -> bool:
    """Tender plants, once in for the winter, are not carried out again for a mild spell."""
    return taxon.moved_light is not MovedLight.STAY_OUT and taxon.leaf_hardened.temperature_c > TENDER_C
