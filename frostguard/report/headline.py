"""The first words: what the evening asks for, or how near the nearest pot comes to harm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from frostguard.advice.plan import (
    LIKELY,
    AdvicePlan,
    Batch,
    Job,
    NoJob,
    PlanNote,
    PotOutlook,
    TissueOutlook,
    WeatherCredit,
)
from frostguard.advice.reach import PLANT_LOST_WITH, reached_by
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.jobs import in_batch, pot_name
from frostguard.report.measures import Clock
from frostguard.report.spots import SpotLabel
from frostguard.report.words import all_of, say, say_count

STALE_AFTER_H = 24.0
"""Age from which a forecast of the night's cold has lost most of its worth (estimate)."""

MOST_NAMED = 3
"""Pots named in the headline; more are counted."""


@dataclass(frozen=True, slots=True)
class LeftAtRisk:
    """A pot that stays at risk with the plan done: the tissue that most is left for, and its chance.

    `plant` names whose tissue it is in a pot of several. `without_job` says of how many of several pots alike it is
    told, where the others have one, and `lacking` what there was not enough of for these.
    """

    pot: PotOutlook
    tissue: Tissue
    chance: float
    has_jobs: bool
    plant: str | None = None
    reached: bool = False  # by any of its jobs: others are for another part of it
    without_job: int | None = None
    lacking: NoJob | None = None

    @property
    def count(self) -> int:
        """Of how many pots it is told."""
        return self.pot.count if self.without_job is None else self.without_job

    @property
    def name(self) -> str:
        """The pot's label, with the number of pots where there are several alike."""
        if self.without_job is None:
            return pot_name(self.pot.label, self.pot.count)
        return say("{label} ({count} of {alike})", label=self.pot.label, count=self.without_job, alike=self.pot.count)


def headline(plan: AdvicePlan, clock: Clock, units: Units, spot_label: SpotLabel) -> str:
    """One to four sentences, the weightiest first."""
    tonight = in_batch(plan.jobs, Batch.TONIGHT)
    before_spell = in_batch(plan.jobs, Batch.BEFORE_SPELL)
    ahead = in_batch(plan.jobs, Batch.AHEAD)
    tomorrow = in_batch(plan.jobs, Batch.TOMORROW)
    sentences = [_not_seen(plan, units)] if plan.weather.is_guess else []
    if tonight:
        sentences.append(_tonight(tonight, clock))
    if any(job.comes_late for job in plan.jobs):
        sentences.append(
            say("Not all can be done in time by the hands there are: begin at once, in this order, or find a helper.")
        )
    if ahead:
        sentences.append(_ahead(ahead, clock))
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
    sentences += left_sentences(left_at_risk(plan))
    if is_stale(plan.weather):
        sentences.append(say("Careful: the forecast is more than a day old."))
    return " ".join(sentence for sentence in sentences if sentence)


def _not_seen(plan: AdvicePlan, units: Units) -> str:
    """Before everything else: that there is no forecast, and what the rest is reckoned for."""
    return say(
        "Cannot see tonight: no forecast could be had. What follows is for the worst that is likely at this "
        "date, air down to about {coldest}; look at a thermometer.",
        coldest=measures.coldest(plan.nights[0].coldest_air_c, units),
    )


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
    """Pots that are at risk with the plan done, and all for which the plan says why they have no job.

    First what is likely lost, what cannot be replaced before all; of it, and of the rest, those without a job and
    then those whose jobs do not suffice, each the greatest chance first. Where only outer roots are at risk,
    `outer_roots_left` tells it.
    """
    with_jobs = {job.pot for job in plan.jobs}
    some_without_job = {one.pot: one for one in plan.left_out if one.batch is Batch.TONIGHT and one.pot in with_jobs}
    left = []
    for pot in plan.pots:
        worst = _worst_of_the_night(pot.left.tissues)
        if worst is not None and (pot.left.at_risk or pot.no_job is not None):
            several = len({outlook.planting for outlook in pot.tissues}) > 1
            plant = worst.planting if several else None
            reached = any(job.pot == pot.id and worst.tissue in _reached(job) for job in plan.jobs)
            one = LeftAtRisk(pot, worst.tissue, worst.chance, pot.id in with_jobs, plant, reached)
            few = some_without_job.get(pot.id)
            if few is not None and few.count < pot.count:
                one = replace(one, has_jobs=False, reached=False, without_job=few.count, lacking=few.lacking)
            left.append(one)

    def rank(one: LeftAtRisk) -> tuple[bool, bool, bool, float]:
        chance = one.pot.left.chance_of_damage
        likely = chance >= LIKELY
        return not (one.pot.irreplaceable and likely), not likely, one.has_jobs, -chance

    return sorted(left, key=rank)


def _reached(job: Job) -> frozenset[Tissue]:
    told = job.loss_otherwise.tissue
    return reached_by(job.protection) | (frozenset[Tissue]() if told is None else frozenset({told}))


def outer_roots_left(plan: AdvicePlan) -> list[PotOutlook]:
    """Pots with jobs whose outer roots are at risk with the jobs done, and nothing else of them."""
    with_jobs = {job.pot for job in plan.jobs}
    told = {one.pot.id for one in left_at_risk(plan)}
    return [
        pot
        for pot in plan.pots
        if pot.id in with_jobs and pot.id not in told and pot.left.outer_roots_at_risk
    ]


def outer_roots_not_worth_it(plan: AdvicePlan) -> int:
    """How many pots that nothing is said about otherwise may lose outer roots tonight."""
    told = {job.pot for job in plan.jobs} | {one.pot.id for one in left_at_risk(plan)}
    told |= {one.pot for one in plan.left_out}
    return sum(pot.count for pot in plan.pots if pot.id not in told and pot.outer_roots_at_risk)


def _worst_of_the_night(tissues: Iterable[TissueOutlook]) -> TissueOutlook | None:
    """The tissue most at risk, outer roots apart; before all that with which the plant is rather lost than not."""
    return max(
        (outlook for outlook in tissues if outlook.tissue is not Tissue.YOUNG_ROOT),
        default=None,
        key=lambda outlook: (outlook.tissue in PLANT_LOST_WITH and outlook.chance >= LIKELY, outlook.chance),
    )


def left_sentences(left: list[LeftAtRisk]) -> list[str]:
    """What stays at risk: by name what is rather lost than not, with a job or without; the rest counted."""
    lost = sorted(
        (one for one in left if one.pot.left.chance_of_damage >= LIKELY),
        key=lambda one: (not one.pot.irreplaceable, -one.pot.left.chance_of_damage),
    )
    sentences = _lost_sentences(lost)
    others = sum(one.count for one in left if one not in lost)
    if others and lost:
        sentences.append(say_count("1 more pot stays at risk.", "{count} more pots stay at risk.", others))
    elif others:
        sentences.append(
            say_count("1 pot stays at risk; see below.", "{count} pots stay at risk; see below.", others)
        )
    return sentences


def _lost_sentences(lost: Sequence[LeftAtRisk]) -> list[str]:
    """By name: what no job helps enough, what its job helps but does not save, what the night has harmed already.

    What holds a plant that cannot be replaced comes first.
    """
    harmed = [one for one in lost if one.pot.harmed_already]
    helped = [one for one in lost if one.has_jobs and one not in harmed]
    alone = [one for one in lost if one not in harmed and one not in helped]
    told = []
    if alone:
        sentence = say_count(
            "{pots} is likely to be harmed, and no job is planned for it: see below.",
            "{pots} are likely to be harmed, and no job is planned for them: see below.",
            sum(one.count for one in alone),
            pots=_named(alone),
        )
        told.append((alone, sentence))
    if helped:
        sentence = say_count(
            "{pots} is likely to be harmed even with its jobs done: see below.",
            "{pots} are likely to be harmed even with their jobs done: see below.",
            sum(one.count for one in helped),
            pots=_named(helped),
        )
        told.append((helped, sentence))
    if harmed:
        told.append((harmed, say("Probably harmed already: {pots}; see below.", pots=_named(harmed))))
    first = sorted(told, key=lambda pair: not any(one.pot.irreplaceable for one in pair[0]))
    return [sentence for _, sentence in first]


def _named(several: Sequence[LeftAtRisk]) -> str:
    """The first few by name, the others counted."""
    names = [one.name for one in several[:MOST_NAMED]]
    more = sum(one.count for one in several[MOST_NAMED:])
    if more:
        names.append(say_count("1 more", "{count} more", more))
    return all_of(names)


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
            when=clock.start_by(last),
            **values,
        )
    return say(
        "{count} jobs tonight, {minutes}: start the first by {first}, the last by {last}.",
        count=len(jobs),
        **values,
    )


def _before_spell(plan: AdvicePlan, jobs: list[Job], clock: Clock) -> str:
    values = {"minutes": minutes_of(jobs), "when": clock.start_first_by(jobs[0].start_by, len(jobs))}
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


def _ahead(jobs: list[Job], clock: Clock) -> str:
    return say_count(
        "By daylight today, as there is none to work by before a later night: 1 job, {minutes}, {when}.",
        "By daylight today, as there is none to work by before a later night: {count} jobs, {minutes}, {when}.",
        len(jobs),
        minutes=minutes_of(jobs),
        when=clock.start_first_by(jobs[0].start_by, len(jobs)),
    )


def _tomorrow(jobs: list[Job], clock: Clock) -> str:
    return say_count(
        "Too late tonight for 1 job, {minutes}: do it in your next working hours, {when}.",
        "Too late tonight for {count} jobs, {minutes}: do them in your next working hours, {when}.",
        len(jobs),
        minutes=minutes_of(jobs),
        when=clock.start_first_by(jobs[0].start_by, len(jobs)),
    )


def _nothing(plan: AdvicePlan, units: Units, spot_label: SpotLabel) -> str:
    closest = closest_pot(plan)
    if plan.weather.is_guess and not left_at_risk(plan):
        return say("Even then no pot seems to need a job; but this is no all-clear.")
    if PlanNote.NO_HANDS.value in plan.notes:
        if not left_at_risk(plan):
            return say("Nothing to do tonight.")
        return say(
            "Nobody has time before the cold by the hours you work. What you can still carry in "
            "safely, by a dry and lit way, carry in now."
        )
    left = left_at_risk(plan)
    if left:
        told_by_name = any(one.pot.left.chance_of_damage >= LIKELY for one in left)
        return "" if told_by_name else say("Tonight there is no job that is safe and would help enough.")
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
        case Tissue.HEART:
            return say(
                "Nothing to do tonight. Closest to harm: {pot} ({spot}). What it would grow again from comes "
                "down to about {coldest}, the limit is {limit}: {spare}.",
                **values,
            )
        case Tissue.STEM:
            return say(
                "Nothing to do tonight. Closest to harm: {pot} ({spot}). Its bare stem comes down to about "
                "{coldest}, the limit is {limit}: {spare}.",
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
