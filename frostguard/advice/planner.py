"""Which jobs: for each pot at risk the set of protections with the least expected loss plus effort.

Two occasions. Tonight's jobs answer to leaf, bud, chill and the whole root system in the coming night.
Outer roots are a matter of cold spells: one batch of preparations before the spell, or none once it
has begun, since a frozen ball must not be wrapped and a slow spring is not worth a job every evening.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import FINE_AHEAD_H, Evening, state_for, untouched_until
from frostguard.advice.outlook import (
    Judgement,
    PotRun,
    judge_night,
    loss_of,
    night_hours,
    per_member,
    run_pots,
)
from frostguard.advice.plan import Batch, Protection
from frostguard.advice.protections import (
    LEAF_PROTECTIONS,
    ROOT_PROTECTIONS,
    Circumstances,
    Option,
    options_for,
)
from frostguard.advice.supplies import Supplies
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue

Array = NDArray[np.float64]

TONIGHT_TISSUES = frozenset({Tissue.LEAF, Tissue.BUD, Tissue.CHILL, Tissue.WHOLE_ROOT})
SPELL_TISSUES = frozenset({Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT})
ABOVE_THE_MIX = frozenset({Tissue.LEAF, Tissue.BUD, Tissue.CHILL})

CHEAPEST_JOB_EUR = 0.25
"""A minute's work at 15 euro an hour: less expected loss than this can pay for no job."""

CHANCE_CAP = 0.01
"""The chance of harm that an irreplaceable plant may be left with."""

BREACH_EUR = 1000.0
"""What a certain breach of that cap counts for; far above any effort."""

COLD_NIGHT_CHANCE = 0.1
"""Chance of harm that makes a night count for one trip over several nights; estimate."""

RANKING_QUANTILES = (0.1, 0.9)
"""Members that options are ranked on, beside the middle one; the chosen ones are verified on all."""

WORTHWHILE_SHARE = 0.05
"""A job must take away at least this share of the loss, or it is only busyness; estimate."""


@dataclass(frozen=True, slots=True)
class Occasion:
    """A round of planning: which nights and tissues count, and from which hour the jobs act."""

    batch: Batch
    start_hour: int
    nights: tuple[int, ...]
    tissues: frozenset[Tissue]

    def last_hour(self, evening: Evening) -> int:
        """The last hour of its last night."""
        night = evening.nights[self.nights[-1]]
        return int(np.flatnonzero(night.hours_in(evening.terrace.times))[-1])


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a pot fares: chance of damage, expected loss, and breach of the cap, by the tissues that count."""

    chance: float
    loss_eur: float
    breach_eur: float
    judgements: tuple[Judgement, ...]
    coldest_ring_c: float
    coldest_leaf_c: float
    first_night: FirstNight


@dataclass(frozen=True, slots=True)
class FirstNight:
    """The first of an occasion's nights alone, every tissue of the pot."""

    judgements: tuple[Judgement, ...]
    coldest_ring_c: float
    coldest_leaf_c: float


@dataclass(frozen=True, slots=True)
class Choice:
    """What was chosen for a pot on an occasion."""

    pot: int
    option: Option
    occasion: Occasion
    without: Outcome
    with_it: Outcome
    saved_eur: float  # loss and breach of the cap taken away


def worst_of_nights(nights: Sequence[Sequence[Judgement]]) -> tuple[Judgement, ...]:
    """The same tissues over several nights: per member the coldest, and the greatest chance."""
    return tuple(
        replace(
            same[0],
            coldest_c=np.min([judgement.coldest_c for judgement in same], axis=0),
            chance=np.max([judgement.chance for judgement in same], axis=0),
        )
        for same in zip(*nights, strict=True)
    )


def choose_jobs(
    evening: Evening, about: Circumstances, occasion: Occasion, pots: Sequence[int], settings: Settings
) -> tuple[tuple[Choice, ...], Supplies]:
    """The jobs of one occasion, most valuable first, and what they leave in the shed.

    Parameters
    ----------
    evening : Evening
        The terrace left as it is.
    about : Circumstances
        What is open tonight.
    occasion : Occasion
        Nights, tissues and start.
    pots : sequence of int
        Pots that may get a job.
    settings : Settings
        Effort and hands.
    """
    without = {pot: _left_alone(evening, occasion, pot) for pot in pots}
    at_risk = [pot for pot in pots if _worth_a_look(without[pot])]
    tried = [
        (pot, option)
        for pot in at_risk
        for option in options_for(
            evening.situations[pot],
            about,
            _that_can_help(without[pot], occasion),
            rooms=_indoors_is_a_choice(without[pot], occasion),
        )
    ]
    if not tried:
        return (), about.supplies
    few = _ranking_columns(evening, occasion)
    outcomes = simulate_options(evening, occasion, tried, few, fine_hours=0)
    ranked = {
        pot: sorted(
            (
                (_cost(evening, pot, outcome, option, settings), position)
                for position, ((owner, option), outcome) in enumerate(zip(tried, outcomes, strict=True))
                if owner == pot
            ),
        )
        for pot in at_risk
    }
    picked = _share_out(evening, about.supplies, tried, ranked, without)
    verified = _verify(evening, occasion, picked, without, settings)
    left = about.supplies
    for choice in verified:
        left = left.without(choice.option.needs)
    return verified, left


def _share_out(
    evening: Evening,
    supplies: Supplies,
    tried: Sequence[tuple[int, Option]],
    ranked: dict[int, list[tuple[float, int]]],
    without: dict[int, Outcome],
) -> list[tuple[int, Option]]:
    """Give what is in the shed to the pots that gain most by it, each its best option that is left."""

    def gain(pot: int) -> float:
        best = min((cost for cost, _ in ranked[pot]), default=np.inf)
        return without[pot].breach_eur + without[pot].loss_eur - best

    picked = []
    for pot in sorted(ranked, key=gain, reverse=True):
        nothing = without[pot].loss_eur + without[pot].breach_eur
        for cost, position in ranked[pot]:
            option = tried[position][1]
            if cost >= nothing:
                break
            if supplies.can_give(option.needs):
                picked.append((pot, option))
                supplies = supplies.without(option.needs)
                break
    return picked


def _verify(
    evening: Evening,
    occasion: Occasion,
    picked: Sequence[tuple[int, Option]],
    without: dict[int, Outcome],
    settings: Settings,
) -> tuple[Choice, ...]:
    """Simulate what was picked in every member; keep what truly pays."""
    if not picked:
        return ()
    columns = evening.terrace.columns
    outcomes = simulate_options(evening, occasion, picked, columns)
    choices = []
    for (pot, option), outcome in zip(picked, outcomes, strict=True):
        nothing = without[pot].loss_eur + without[pot].breach_eur
        pays = _cost(evening, pot, outcome, option, settings) < nothing
        left = outcome.loss_eur + outcome.breach_eur
        helps = left <= (1.0 - WORTHWHILE_SHARE) * nothing
        if pays and helps:
            choices.append(Choice(pot, option, occasion, without[pot], outcome, nothing - left))
    return tuple(choices)


def simulate_options(
    evening: Evening,
    occasion: Occasion,
    tried: Sequence[tuple[int, Option]],
    columns: NDArray[np.intp],
    *,
    fine_hours: int = FINE_AHEAD_H,
) -> list[Outcome]:
    """Each option simulated from the hour its jobs are done to the end of the occasion.

    `fine_hours` are simulated with the standard resolution, later ones with the coarse one; to rank options
    the coarse one will do.
    """
    terrace, catalogue = evening.terrace, evening.catalogue
    pots = sorted({pot for pot, _ in tried})
    untouched = untouched_until(evening, occasion.start_hour, np.asarray(pots), columns)
    changed = [option.situation for _, option in tried]
    start = state_for(
        untouched,
        np.array([pots.index(pot) for pot, _ in tried]),
        np.arange(columns.size),
        changed,
        [option.added_water_fraction for _, option in tried],
        catalogue,
    )
    run = run_pots(
        terrace,
        changed,
        catalogue,
        start,
        occasion.start_hour,
        occasion.last_hour(evening),
        columns=columns,
        fine_until=occasion.start_hour + fine_hours,
    )
    return [
        _outcome(evening, occasion, run, position, pot, occasion.start_hour)
        for position, (pot, _) in enumerate(tried)
    ]


def _outcome(evening: Evening, occasion: Occasion, run: PotRun, position: int, pot: int, after: int) -> Outcome:
    """What one column of a run comes to for the pot on that occasion, in its hours after `after`."""
    masks = [night_hours(evening.terrace, run, evening.nights[night], after) for night in occasion.nights]
    judged = [judge_night(evening.terrace, run, position, evening.limits[pot], mask) for mask in masks]

    def coldest(curves_c: Array, inside: NDArray[np.bool_]) -> float:
        return float(np.median(per_member(evening.terrace, run, curves_c[inside, position].min(axis=0))))

    worst, inside = worst_of_nights(judged), np.any(masks, axis=0)
    counting = [judgement for judgement in worst if judgement.limit.tissue in occasion.tissues]
    chance, loss = loss_of(counting, evening.pots[pot].count)
    return Outcome(
        chance,
        loss,
        _breach_eur(counting),
        worst,
        coldest(run.ring_c, inside),
        coldest(run.leaf_c, inside),
        FirstNight(judged[0], coldest(run.ring_c, masks[0]), coldest(run.leaf_c, masks[0])),
    )


def _left_alone(evening: Evening, occasion: Occasion, pot: int) -> Outcome:
    """The pot on that occasion without any job, from the evening's own run, hours after the jobs' start."""
    return _outcome(evening, occasion, evening.run, pot, pot, max(occasion.start_hour, evening.now))


def _breach_eur(judgements: Sequence[Judgement]) -> float:
    """What chances above the cap count for where a plant cannot be replaced, tissue by tissue [euro]."""
    return BREACH_EUR * sum(
        max(float(judgement.chance.mean()) - CHANCE_CAP, 0.0) * judgement.limit.value_share
        for judgement in judgements
        if judgement.planting.irreplaceable
    )


def _that_can_help(outcome: Outcome, occasion: Occasion) -> frozenset[Protection]:
    """Protections that reach the tissues at risk: fleece does not reach roots, a wrap no leaf."""
    at_risk = {
        judgement.limit.tissue
        for judgement in outcome.judgements
        if judgement.limit.tissue in occasion.tissues and float(judgement.chance.mean()) > CHANCE_CAP
    }
    wanted: frozenset[Protection] = frozenset()
    if at_risk & ABOVE_THE_MIX:
        wanted |= LEAF_PROTECTIONS
    if at_risk - ABOVE_THE_MIX:
        wanted |= ROOT_PROTECTIONS
    return wanted


def _indoors_is_a_choice(outcome: Outcome, occasion: Occasion) -> bool:
    """Nobody carries a hardy shrub indoors for its outer roots; for its life, or for tonight's leaves, yes."""
    return occasion.batch is Batch.TONIGHT or any(
        judgement.limit.tissue is Tissue.WHOLE_ROOT and float(judgement.chance.mean()) > CHANCE_CAP
        for judgement in outcome.judgements
    )


def _worth_a_look(outcome: Outcome) -> bool:
    return outcome.loss_eur >= CHEAPEST_JOB_EUR or outcome.breach_eur > 0.0


def _cost(evening: Evening, pot: int, outcome: Outcome, option: Option, settings: Settings) -> float:
    """The one objective: expected loss plus effort."""
    effort = option.effort_eur(settings, _cold_nights(evening, pot))
    return outcome.loss_eur + outcome.breach_eur + effort


def _cold_nights(evening: Evening, pot: int) -> int:
    """Nights in sight that would hurt the pot as it stands, at least 1."""
    return max(
        1,
        sum(
            loss_of([j for j in night[pot] if j.limit.tissue in TONIGHT_TISSUES], 1)[0] >= COLD_NIGHT_CHANCE
            for night in evening.judgements
        ),
    )


def _ranking_columns(evening: Evening, occasion: Occasion) -> NDArray[np.intp]:
    """Weather columns of a cold, the middle and a mild member, with all their bounding cases."""
    terrace = evening.terrace
    inside = night_hours(terrace, evening.run, evening.nights[occasion.nights[0]], evening.now)
    air = terrace.outdoor.air_temperature_c[evening.run.first :][: inside.size][inside]
    order = np.argsort(terrace.colder(air.min(axis=0)))
    ranks = [round(quantile * (terrace.n_members - 1)) for quantile in RANKING_QUANTILES]
    members = {int(terrace.middle_columns[0]) // terrace.n_cases, *order[ranks].tolist()}
    ordered = np.array(sorted(members))
    return np.asarray((ordered[:, None] * terrace.n_cases + np.arange(terrace.n_cases)).ravel())
