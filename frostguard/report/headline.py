"""The first words: what the evening asks for, or how near the nearest pot comes to harm."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from frostguard.advice.plan import AdvicePlan, Batch, Job, PotOutlook, TissueOutlook, WeatherCredit
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.jobs import in_batch, pot_name
from frostguard.report.measures import Clock
from frostguard.report.spots import SpotLabel
from frostguard.report.words import say, say_count

AT_RISK = 0.1
"""Chance of damage from which a pot counts as at risk, as in `NightOutlook.pots_at_risk`."""

OUTER_ROOTS_AT_RISK = 0.25
"""Chance of losing outer roots from which they count, as in `NightOutlook.young_roots_at_risk`."""

STALE_AFTER_H = 24.0
"""Age from which a forecast of the night's cold has lost most of its worth (estimate)."""

NO_HANDS = "nobody can work before tonight"
"""Note of a plan whose evening jobs nobody has time for."""


@dataclass(frozen=True, slots=True)
class LeftAtRisk:
    """A pot that stays at risk with the plan done, and the chance that is left."""

    pot: PotOutlook
    tissue: Tissue
    chance: float


def headline(plan: AdvicePlan, clock: Clock, units: Units, spot_label: SpotLabel) -> str:
    """One to four sentences, the weightiest first."""
    tonight = in_batch(plan.jobs, Batch.TONIGHT)
    before_spell = in_batch(plan.jobs, Batch.BEFORE_SPELL)
    tomorrow = in_batch(plan.jobs, Batch.TOMORROW)
    sentences = [_tonight(tonight, clock)] if tonight else []
    if before_spell:
        sentences.append(_before_spell(plan, before_spell, clock))
    if tomorrow:
        sentences.append(_tomorrow(tomorrow, clock))
    if plan.jobs and not tonight:
        sentences.append(say("Nothing else for tonight."))
    if tonight and asked_after_dusk(plan):
        sentences.append(say("It is dark: only what is light work, on a dry and lit floor."))
    if not plan.jobs:
        sentences.append(_nothing(plan, units, spot_label))
    left = sum(one.pot.count for one in left_at_risk(plan))
    if left:
        sentences.append(
            say_count("1 pot stays at risk; see below.", "{count} pots stay at risk; see below.", left)
        )
    if is_stale(plan.weather):
        sentences.append(say("Careful: the forecast is more than a day old."))
    return " ".join(sentences)


def is_stale(weather: WeatherCredit) -> bool:
    """Whether the forecast is too old to be told like a fresh one."""
    return weather.age_h is not None and weather.age_h >= STALE_AFTER_H


def closest_pot(plan: AdvicePlan) -> tuple[PotOutlook, TissueOutlook] | None:
    """The pot and tissue with the highest chance of damage, among equals the least to spare.

    Outer roots are passed over while anything else can be told: they are no matter of one night.
    """
    every = [(pot, outlook) for pot in plan.pots for outlook in pot.tissues]
    of_the_night = [pair for pair in every if pair[1].tissue is not Tissue.YOUNG_ROOT]
    return max(
        of_the_night or every, default=None, key=lambda pair: (round(pair[1].chance, 3), -pair[1].margin_c)
    )


def left_at_risk(plan: AdvicePlan) -> list[LeftAtRisk]:
    """Pots that a tenth or more of a chance of damage is left for, the highest first.

    Also every pot for which the plan says why it has no job. A pot with jobs counts by what its jobs leave,
    one without by its leaves, buds, whole root system and chilling. Where only outer roots are at risk,
    `outer_roots_left` tells it.
    """
    with_jobs = {job.pot for job in plan.jobs}
    left = []
    for pot in plan.pots:
        worst = _worst_of_the_night(pot)
        if worst is None or (worst.chance < AT_RISK and pot.no_job is None):
            continue
        done = pot.with_plan if pot.id in with_jobs else None
        chance = worst.chance if done is None else done.chance_of_damage
        if chance >= AT_RISK or pot.no_job is not None:
            left.append(LeftAtRisk(pot, worst.tissue, chance))
    return sorted(left, key=lambda one: -one.chance)


def outer_roots_left(plan: AdvicePlan) -> list[PotOutlook]:
    """Pots with jobs of which nothing but outer roots is at risk, and still is with the jobs done."""
    with_jobs = {job.pot for job in plan.jobs}
    left = []
    for pot in plan.pots:
        worst = _worst_of_the_night(pot)
        of_roots_only = worst is None or worst.chance < AT_RISK
        done = pot.with_plan if pot.id in with_jobs else None
        if of_roots_only and done is not None and done.chance_of_damage >= AT_RISK:
            left.append(pot)
    return left


def outer_roots_not_worth_it(plan: AdvicePlan) -> int:
    """How many pots that nothing is said about otherwise may lose outer roots tonight."""
    told = {job.pot for job in plan.jobs} | {one.pot.id for one in left_at_risk(plan)}
    return sum(
        pot.count
        for pot in plan.pots
        if pot.id not in told
        and any(one.tissue is Tissue.YOUNG_ROOT and one.chance >= OUTER_ROOTS_AT_RISK for one in pot.tissues)
    )


def _worst_of_the_night(pot: PotOutlook) -> TissueOutlook | None:
    """The tissue most at risk, outer roots apart."""
    return max(
        (outlook for outlook in pot.tissues if outlook.tissue is not Tissue.YOUNG_ROOT),
        default=None,
        key=lambda outlook: outlook.chance,
    )


def asked_after_dusk(plan: AdvicePlan) -> bool:
    """Whether the sun of that evening is down already."""
    return plan.sunset is not None and plan.asked_at >= plan.sunset


def minutes_of(jobs: list[Job]) -> str:
    """Minutes of all these jobs."""
    return measures.minutes(sum(job.minutes for job in jobs))


def _tonight(jobs: list[Job], clock: Clock) -> str:
    first, last = jobs[0].start_by, jobs[-1].start_by
    values = {"minutes": minutes_of(jobs), "first": clock.at(first), "last": clock.at(last)}
    if clock.is_past(first) and not clock.is_past(last):
        return say(
            "{count} jobs tonight, {minutes}: begin now, the last by {last}.", count=len(jobs), **values
        )
    if first == last or clock.is_past(last):
        return say_count(
            "1 job tonight, {minutes}, {when}.",
            "{count} jobs tonight, {minutes}, {when}.",
            len(jobs),
            when=clock.by(last),
            **values,
        )
    return say(
        "{count} jobs tonight, {minutes}: the first by {first}, the last by {last}.",
        count=len(jobs),
        **values,
    )


def _first_by(jobs: list[Job], clock: Clock) -> str:
    first = jobs[0].start_by
    if len(jobs) == 1 or clock.is_past(first):
        return clock.by(first)
    return say("the first by {time}", time=clock.at(first))


def _before_spell(plan: AdvicePlan, jobs: list[Job], clock: Clock) -> str:
    values = {"minutes": minutes_of(jobs), "when": _first_by(jobs, clock)}
    count, spell = len(jobs), plan.spell
    if spell is None:
        return say_count(
            "Before the cold spell: 1 job, {minutes}, {when}.",
            "Before the cold spell: {count} jobs, {minutes}, {when}.",
            count,
            **values,
        )
    if spell.began:
        return say_count(
            "The cold spell has begun; 1 job still helps, {minutes}, {when}.",
            "The cold spell has begun; {count} jobs still help, {minutes}, {when}.",
            count,
            **values,
        )
    if spell.first_night <= plan.night:
        return say_count(
            "Before tonight's cold spell: 1 job, {minutes}, {when}.",
            "Before tonight's cold spell: {count} jobs, {minutes}, {when}.",
            count,
            **values,
        )
    if spell.first_night - clock.local(plan.asked_at).date() > timedelta(days=6):
        return say_count(
            "Before the cold spell of {day}: 1 job, {minutes}, {when}.",
            "Before the cold spell of {day}: {count} jobs, {minutes}, {when}.",
            count,
            day=measures.day_and_date(spell.first_night),
            **values,
        )
    return say_count(
        "Before {weekday}'s cold spell: 1 job, {minutes}, {when}.",
        "Before {weekday}'s cold spell: {count} jobs, {minutes}, {when}.",
        count,
        weekday=measures.weekday(spell.first_night),
        **values,
    )


def _tomorrow(jobs: list[Job], clock: Clock) -> str:
    return say_count(
        "Too late today for 1 job, {minutes}: do it in your next hours, {when}.",
        "Too late today for {count} jobs, {minutes}: do them in your next hours, {when}.",
        len(jobs),
        minutes=minutes_of(jobs),
        when=_first_by(jobs, clock),
    )


def _nothing(plan: AdvicePlan, units: Units, spot_label: SpotLabel) -> str:
    closest = closest_pot(plan)
    if NO_HANDS in plan.notes:
        if not left_at_risk(plan):
            return say("Nothing to do tonight.")
        return say(
            "Nobody has time before tonight's cold by the hours you work. What you can still carry in "
            "safely, by a dry and lit way, carry in now."
        )
    if left_at_risk(plan):
        return say("Nothing is worth doing tonight, or nothing safe helps.")
    if closest is None:
        return say("Nothing to do tonight.")
    pot, outlook = closest
    values: dict[str, object] = {
        "pot": pot_name(pot.label, pot.count),
        "spot": spot_label(pot.spot),
        "coldest": measures.coldest(outlook.coldest_c, units),
        "limit": measures.limit(outlook.limit_c, units),
        "spare": measures.to_spare(outlook.coldest_c, outlook.limit_c, units),
    }
    match outlook.tissue:
        case Tissue.LEAF:
            return say(
                "Nothing to do tonight. Closest to harm: {pot} ({spot}). Leaves or shoots come down to about "
                "{coldest}, their limit is {limit}: {spare}.",
                **values,
            )
        case Tissue.BUD:
            return say(
                "Nothing to do tonight. Closest to harm: {pot} ({spot}). Buds or flowers come down to about "
                "{coldest}, their limit is {limit}: {spare}.",
                **values,
            )
        case Tissue.YOUNG_ROOT:
            return say(
                "Nothing to do tonight. Closest to harm: {pot} ({spot}). Outer roots come down to about "
                "{coldest}, their limit is {limit}: {spare}.",
                **values,
            )
        case Tissue.WHOLE_ROOT:
            return say(
                "Nothing to do tonight. Closest to harm: {pot} ({spot}). Roots come down to about "
                "{coldest}, their limit is {limit}: {spare}.",
                **values,
            )
        case Tissue.CHILL:
            return say(
                "Nothing to do tonight. Closest to harm: {pot} ({spot}). The air there comes down to about "
                "{coldest}, and cold harms from {limit}: {spare}.",
                **values,
            )
