"""The evening's answer as text for a terminal: 80 columns, no colour, plain words."""

from __future__ import annotations

from datetime import timedelta
from itertools import groupby
from math import ceil, floor, isnan

from frostguard.advice.explanation import Explanation
from frostguard.advice.plan import AdvicePlan, Batch, Job, LeftOut, NoJob, PieceKind, PlanNote, WeatherCredit
from frostguard.advice.supplies import piece_size_m
from frostguard.garden.model import Garden
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.cautions import caution_sentences, cautions_of
from frostguard.report.coming_nights import coming_nights
from frostguard.report.headline import (
    LeftAtRisk,
    asked_after_dusk,
    headline,
    is_stale,
    left_at_risk,
    minutes_of,
    outer_roots_left,
    outer_roots_not_worth_it,
)
from frostguard.report.jobs import (
    ahead_heading,
    grouped,
    harm_sentence,
    in_batch,
    job_line,
    odds_of,
    of_plant,
    pot_name,
    undo_lines,
)
from frostguard.report.layout import page, paragraph, section
from frostguard.report.measures import Clock
from frostguard.report.notes import note_sentence, note_sentences, service_name
from frostguard.report.pieces import piece_list
from frostguard.report.spots import SpotLabel, spot_labels
from frostguard.report.words import all_of, harmless, say, say_count

MOST_LEFT_AT_RISK = 8
"""Pots listed as still at risk; a longer list is not read in an evening."""


def render_answer(
    plan: AdvicePlan, explanation: Explanation | None, garden: Garden | None, units: Units
) -> str:
    """What the command prints: the plan, or why the plan says what it says about one pot."""
    if explanation is None:
        return render_plan(plan, units, garden=garden)
    from frostguard.report.explain import render_explanation

    return render_explanation(plan, explanation, units, garden=garden)


def render_plan(plan: AdvicePlan, units: Units, *, garden: Garden | None = None) -> str:
    """The plan as lines of at most 80 columns.

    Parameters
    ----------
    plan : AdvicePlan
        What to tell.
    units : Units
        Units for reading.
    garden : Garden, optional
        Where the labels of the spots come from; without it a spot is called by its name in the file.
    """
    clock = Clock(plan.time_zone, plan.asked_at)
    spot_label = spot_labels(garden)
    blocks = [
        paragraph(headline(plan, clock, units, spot_label)) + paragraph(where_and_when(plan, clock)),
        *_batches(plan, clock, units, spot_label),
        paragraph(saving) if (saving := what_it_saves(plan)) else [],
        section(say("Fetch first"), fetch_lines(plan, garden, units)),
        section(say("Still at risk"), left_at_risk_items(plan, spot_label)),
        _nothing_needed(plan),
        coming_nights(plan, units),
        section(say("Undo"), undo_lines(plan.jobs, clock, units)),
        _write_it_down(plan),
        section(say("Take care"), caution_sentences(cautions_of(plan))),
        section(say("Notes"), note_sentences(notes_to_tell(plan))),
        [line for told in weather_told(plan.weather, clock) for line in paragraph(told)],
    ]
    return page(blocks)


def where_and_when(plan: AdvicePlan, clock: Clock) -> str:
    """Which terrace, which night, and when it was asked."""
    return say(
        "{site}, night of {evening} to {morning}; asked {asked}.",
        site=plan.site,
        evening=measures.day_and_date(plan.night),
        morning=measures.day_and_date(plan.night + timedelta(days=1)),
        asked=f"{measures.day_and_date(clock.local(plan.asked_at).date())} {clock.at(plan.asked_at)}",
    )


def _batches(plan: AdvicePlan, clock: Clock, units: Units, spot_label: SpotLabel) -> list[list[str]]:
    blocks = []
    for batch in Batch:
        jobs = in_batch(plan.jobs, batch)
        lines = [
            job_line(group, clock, units, spot_label)
            for group in grouped(jobs, across=batch is not Batch.TONIGHT)
        ]
        blocks.append(section(batch_heading(batch, plan, minutes_of(jobs)), lines))
    return blocks


def batch_heading(batch: Batch, plan: AdvicePlan, minutes: str) -> str:
    """What the jobs of a batch stand under."""
    match batch:
        case Batch.TONIGHT:
            if asked_after_dusk(plan):
                return say("What still helps tonight ({minutes})", minutes=minutes)
            return say("Tonight ({minutes})", minutes=minutes)
        case Batch.AHEAD:
            return ahead_heading(in_batch(plan.jobs, batch), minutes)
        case Batch.BEFORE_SPELL:
            if plan.spell is None or plan.spell.began:
                return say("For the cold spell, in one go ({minutes})", minutes=minutes)
            if plan.spell.first_night <= plan.night:
                return say("For tonight's cold spell, in one go ({minutes})", minutes=minutes)
            return say(
                "Before the cold spell of {day}, in one go ({minutes})",
                day=measures.day_and_date(plan.spell.first_night),
                minutes=minutes,
            )
        case Batch.TOMORROW:
            return say("Too late for tonight, for your next working hours ({minutes})", minutes=minutes)


def what_it_saves(plan: AdvicePlan) -> str:
    """In one number what doing nothing would cost; empty where the jobs change nothing of it."""
    undone = ceil(sum(pot.loss_undone_eur for pot in plan.pots))
    done = ceil(sum(pot.left.expected_loss_eur for pot in plan.pots))
    if not plan.jobs or undone <= done:
        return ""
    if any(pot.unattended is not None for pot in plan.pots):
        return say(
            "Till somebody comes again, with nothing done, expect to lose about {undone} euro worth of plants; with "
            "these jobs about {done}.",
            undone=undone,
            done=done,
        )
    if any(job.for_night is not None and job.for_night > plan.night for job in plan.jobs):
        return say(
            "Tonight alone, with nothing done, expect to lose about {undone} euro worth of plants; with these jobs "
            "about {done}.",
            undone=undone,
            done=done,
        )
    return say(
        "With nothing done, expect to lose about {undone} euro worth of plants; with these jobs about {done}.",
        undone=undone,
        done=done,
    )


def in_the_shed(garden: Garden | None) -> dict[PieceKind, float]:
    """Pieces at hand by kind; mulch is counted in litres and not among them."""
    pieces: dict[PieceKind, float] = {}
    for cover in garden.stock.covers if garden is not None else ():
        if cover.litres is None:
            key = (cover.material, cover.piece, *piece_size_m(cover))
            pieces[key] = pieces.get(key, 0.0) + cover.count
    return pieces


def fetch_lines(plan: AdvicePlan, garden: Garden | None, units: Units) -> list[str]:
    """What to bring from the shed, a sentence for each batch."""
    at_hand = in_the_shed(garden)
    assumed = PlanNote.STOCK_ASSUMED.value
    lists: dict[Batch, list[str]] = {}
    brought: list[Job] = []
    for batch in Batch:
        jobs = in_batch(plan.jobs, batch)
        lists[batch] = piece_list(jobs, at_hand, units, brought)
        brought += jobs
    named = {batch: all_of(pieces) for batch, pieces in lists.items() if pieces}
    if len(named) == 1:
        lines = [say("{pieces}.", pieces=pieces) for pieces in named.values()]
    else:
        lines = [_fetch_for(batch, pieces) for batch, pieces in named.items()]
    if lines and assumed in plan.notes:
        lines.append(note_sentence(assumed))
    return lines


def _fetch_for(batch: Batch, pieces: str) -> str:
    match batch:
        case Batch.TONIGHT:
            return say("For tonight: {pieces}.", pieces=pieces)
        case Batch.AHEAD:
            return say("By daylight today: {pieces}.", pieces=pieces)
        case Batch.BEFORE_SPELL:
            return say("For the cold spell: {pieces}.", pieces=pieces)
        case Batch.TOMORROW:
            return say("For your next working hours: {pieces}.", pieces=pieces)


def left_at_risk_items(
    plan: AdvicePlan, spot_label: SpotLabel, *, most: int | None = MOST_LEFT_AT_RISK
) -> list[str]:
    """A line on each pot that stays at risk, or several alike at one spot, the worst first; only the first `most`."""
    left = left_at_risk(plan)
    told_alike = groupby(left, lambda one: (one.pot.spot, one.tissue, one.plant, _why_at_risk(one)))
    groups = [(alike, list(several)) for alike, several in told_alike]
    items = [
        say(
            "{pots} ({spot}): {reason} {harm}",
            pots=all_of([one.name for one in several]),
            spot=spot_label(spot),
            reason=reason,
            harm=harm_sentence(
                tissue,
                of_plant(
                    plant,
                    odds_of([(one.name, one.count, one.chance) for one in several]),
                ),
            ),
        )
        for (spot, tissue, plant, reason), several in groups[:most]
    ]
    more = [one for _, several in groups[len(items) :] for one in several]
    if more:
        items.append(
            say_count(
                "And 1 more: 'frostguard report' tells of every pot.",
                "And {count} more: 'frostguard report' tells of every pot.",
                sum(one.count for one in more),
            )
        )
    if any(_not_worth_it(one) for one in left):
        items.append(
            say("If such a plant is dear to you, give it a higher value in the garden file (value:) and ask again.")
        )
    items += _left_out(plan, spot_label)
    roots = outer_roots_left(plan)
    if roots:
        items.append(
            say(
                "Even with the jobs done some outer roots may be lost, which means a slow spring: {pots}.",
                pots=all_of([pot_name(pot.label, pot.count) for pot in roots]),
            )
        )
    return items


def _left_out(plan: AdvicePlan, spot_label: SpotLabel) -> list[str]:
    """Preparations and later jobs that there was not enough for; tonight's are told pot by pot."""
    alike: dict[tuple[NoJob, Tissue], list[LeftOut]] = {}
    for one in plan.left_out:
        if one.batch is not Batch.TONIGHT and one.loss.tissue is not None:
            alike.setdefault((one.lacking, one.loss.tissue), []).append(one)
    return [
        say(
            "{pots}: {reason} {harm}",
            pots=all_of([f"{pot_name(one.label, one.count)} ({spot_label(one.spot)})" for one in several]),
            reason=why_no_job(lacking),
            harm=harm_sentence(
                tissue, odds_of([(pot_name(one.label, one.count), one.count, one.loss.chance) for one in several])
            ),
        )
        for (lacking, tissue), several in alike.items()
    ]


def _write_it_down(plan: AdvicePlan) -> list[str]:
    """What the tool cannot see: a job that was done."""
    if not plan.jobs:
        return []
    return paragraph(
        say(
            "What you have done, write into the garden file (spot, covers, mulch, wetness); otherwise it is asked "
            "of you again tomorrow."
        )
    )


def _not_worth_it(one: LeftAtRisk) -> bool:
    """Whether a higher value might bring it a job."""
    return one.pot.no_job is NoJob.LET_GO and not one.pot.harmed_already


def _why_at_risk(one: LeftAtRisk) -> str:
    if one.pot.harmed_already:
        return why_no_job(NoJob.HARMED_ALREADY)
    if one.has_jobs and one.pot.no_job is NoJob.TOO_HEAVY:
        if one.pot.off_the_floor:
            return say(
                "its jobs will hardly save it, and it is too heavy to be lifted off by the hands there are: find a "
                "helper, by daylight."
            )
        return say(
            "its jobs will hardly save it, and it is too heavy to be carried in by the hands there are: find a helper "
            "or a trolley, by daylight."
        )
    if one.has_jobs and one.pot.no_job is NoJob.TOO_DARK:
        if one.pot.off_the_floor:
            return say(
                "its jobs will hardly save it; over a drop, it is not for the dark: lift it off by daylight if you "
                "can, with a helper if it is heavy."
            )
        return say(
            "its jobs will hardly save it; heavy or over a drop, it is not for the dark: take it in by daylight if you "
            "can, what is heavy on a trolley or with a helper."
        )
    if one.lacking is not None:
        return why_no_job(one.lacking, off_the_floor=one.pot.off_the_floor)
    if one.reached:
        return say("even the jobs may not be enough.")
    if one.has_jobs:
        return say("what is planned is for another part of it; for this nothing at hand that is worth its work helps.")
    return why_no_job(one.pot.no_job, off_the_floor=one.pot.off_the_floor)


def why_no_job(reason: NoJob | None, *, off_the_floor: bool = False) -> str:
    """Why a pot at risk has no job, and what may be done instead; no trolley for what is `off_the_floor`."""
    if off_the_floor and reason is NoJob.TOO_HEAVY:
        return say("too heavy to be lifted off by the hands there are: find a helper, by daylight.")
    if off_the_floor and reason is NoJob.TOO_DARK:
        return say(
            "over a drop, so not for the dark, and your hours before this night are after sunset: lift it off by "
            "daylight if you can, with a helper if it is heavy."
        )
    sentences = {
        NoJob.TOO_HEAVY: say("too heavy for the hands there are: find a helper or a trolley, by daylight."),
        NoJob.TOO_DARK: say(
            "heavy or over a drop, so not for the dark, and your hours before this night are after sunset: take it in "
            "by daylight if you can, what is heavy on a trolley or with a helper."
        ),
        NoJob.NO_ROOM: say(
            "nothing outdoors helps enough, and no room in your file is free and light enough: any cool indoor "
            "place would do; a heavy pot is not for one alone."
        ),
        NoJob.ROOM_TOO_COLD: say(
            "it stands indoors already, and no other room in your file that is warmer has floor and light for it: any "
            "frost-free place would do."
        ),
        NoJob.NO_COVERS: say("the covers there are go round others, which gain more by them."),
        NoJob.TOO_LATE: say("none of your working hours is left before that."),
        NoJob.NO_TIME: say("there is no time left; others gain more."),
        NoJob.NOTHING_HELPS: say("nothing safe at hand would help much."),
        NoJob.LET_GO: say("by the value in your garden file, helping would cost more work than it can save."),
        NoJob.HARMED_ALREADY: say(
            "probably harmed already, before any job could help. Keep cool, rather dry and out of the sun, cut "
            "nothing back, and judge in spring."
        ),
    }
    return sentences[reason or NoJob.NOTHING_HELPS]


def _nothing_needed(plan: AdvicePlan) -> list[str]:
    busy = {job.pot for job in plan.jobs} | {one.pot.id for one in left_at_risk(plan)}
    busy |= {one.pot for one in plan.left_out}
    idle = sum(pot.count for pot in plan.pots if pot.id not in busy)
    roots = outer_roots_not_worth_it(plan)
    sentences = []
    if idle and not busy:
        sentences.append(say_count("The only pot needs nothing.", "All {count} pots need nothing.", idle))
    elif idle:
        sentences.append(say_count("1 other pot needs nothing.", "The other {count} pots need nothing.", idle))
    if roots and roots == idle:
        sentences.append(
            say_count(
                "It may lose some outer roots and start late in spring; a job would gain little.",
                "They may lose some outer roots and start late in spring; jobs would gain little.",
                roots,
            )
        )
    elif roots:
        sentences.append(
            say_count(
                "1 of them may lose some outer roots and start late in spring; a job would gain little.",
                "{count} of them may lose some outer roots and start late in spring; jobs would gain little.",
                roots,
            )
        )
    return paragraph(" ".join(sentences)) if sentences else []


def notes_to_tell(plan: AdvicePlan) -> list[str]:
    """The plan's notes but those that stand elsewhere: with the weather, or with what to fetch."""
    fetched = any(job.covers for job in plan.jobs)
    return [
        code
        for code in plan.notes
        if not (plan.weather.from_store and code.startswith("stored-answer"))
        and not (fetched and code == PlanNote.STOCK_ASSUMED.value)
    ]


def weather_told(weather: WeatherCredit, clock: Clock) -> list[str]:
    """Where the weather comes from and how old it is, and the credit that is owed for it."""
    sentences = [
        say("Weather: {service}.", service=service_name(weather.service))
        if weather.model is None
        else say(
            "Weather: {service}, model {model}.", service=service_name(weather.service), model=weather.model
        ),
    ]
    if weather.issued is not None:
        sentences.append(say("Issued {time}.", time=clock.at(weather.issued)))
    if weather.fetched is not None:
        sentences.append(say("Fetched {time}.", time=clock.at(weather.fetched)))
    if weather.issued is not None and weather.issued > clock.asked_at:
        sentences.append(say("That is after the time asked about: who asked then knew less."))
    else:
        sentences.append(_age(weather))
    if weather.from_store:
        sentences.append(say("No new forecast could be fetched: this is the last one kept."))
    credit = harmless(weather.credit)
    return [" ".join(sentences), *([credit] if credit else [])]


def _age(weather: WeatherCredit) -> str:
    age_h = weather.age_h
    if age_h is None or isnan(age_h):
        return say("Its age is not known.")
    if is_stale(weather):
        return say_count(
            "It is {count} hour old: treat tender plants as if the night were colder.",
            "It is {count} hours old: treat tender plants as if the night were colder.",
            round(age_h),
        )
    if age_h < 1:
        return say("It is less than an hour old.")
    return say_count("It is {count} hour old.", "It is {count} hours old.", floor(age_h))
