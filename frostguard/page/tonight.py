"""The first page: what is to be done, what was done, and what changed since yesterday."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from xml.etree.ElementTree import Element

from starlette.requests import Request

from frostguard.advice.plan import Batch, Job, Protection
from frostguard.logbook.jobs import JobState, ListedJob, Placed, Word
from frostguard.notify.brief import brief_of_job
from frostguard.notify.job_words import few_words
from frostguard.page.frame import button, form, hidden, trouble_told
from frostguard.page.planner import State
from frostguard.page.work import Shown
from frostguard.report import measures
from frostguard.report.cautions import caution_sentences, cautions_of
from frostguard.report.headline import headline, minutes_of
from frostguard.report.html.markup import Child, list_of, node
from frostguard.report.html.sheets import what_to_do
from frostguard.report.jobs import JobGroup, grouped, in_batch, pot_name, undo_lines, what_is_lost
from frostguard.report.measures import Clock
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import (
    batch_heading,
    fetch_lines,
    left_at_risk_items,
    weather_told,
    what_it_saves,
    where_and_when,
)
from frostguard.report.words import all_of, say

Numbered = Mapping[tuple[str, Protection], ListedJob]


def numbered(jobs: Iterable[ListedJob], night: date) -> Numbered:
    """The jobs of a night in the logbook by what they are."""
    return {(job.pot, job.protection): job for job in jobs if job.night == night}


def tonight_body(
    request: Request, state: State, shown: Shown, known: Sequence[ListedJob], placed: Sequence[Placed]
) -> list[Child]:
    """The page."""
    plan, units = shown.plan, shown.settings.units
    clock = Clock(plan.time_zone, plan.asked_at)
    by_job = numbered(known, plan.night)
    parts: list[Child] = [
        on_its_way(state),
        trouble_told(state.trouble),
        trouble_told(shown.unseen),
        node("p", headline(plan, clock, units, spot_labels(shown.garden)), class_="headline"),
        node("p", where_and_when(plan, clock), class_="when"),
        _changes(shown),
    ]
    for batch in Batch:
        parts += _batch(request, batch, shown, by_job, clock)
    parts += _said(request, known, placed, plan.night, clock)
    saving = what_it_saves(plan)
    parts += [node("p", saving) if saving else None]
    parts += _listed(say("Fetch first"), fetch_lines(plan, shown.garden, units))
    parts += _listed(say("Still at risk"), left_at_risk_items(plan, spot_labels(shown.garden)))
    parts += _listed(say("Undo"), undo_lines(plan.jobs, clock))
    parts += _listed(say("Take care"), caution_sentences(cautions_of(plan)))
    parts += [node("p", line, class_="soft") for line in weather_told(plan.weather, clock)]
    parts += [trouble_told(shown.trouble)]
    return parts


def on_its_way(state: State) -> Element | None:
    """A word where a newer answer is being worked out."""
    if not state.working:
        return None
    return node(
        "p",
        say("A newer answer is being worked out; it takes some seconds."),
        " ",
        node("a", say("Show it"), href="/"),
        class_="way",
        role="status",
    )


def _listed(heading: str, lines: Iterable[str]) -> list[Child]:
    lines = list(lines)
    return [node("h2", heading), list_of(lines)] if lines else []


def _changes(shown: Shown) -> Element:
    """How the jobs differ from those of a day ago."""
    summary = node("summary", say("Changed since yesterday"))
    before = shown.before
    if before is None:
        return node("details", summary, node("p", say("No answer of yesterday is known.")))
    told = {job.what: job for job in before.jobs}
    now = {brief_of_job(job).what: job for job in shown.plan.jobs}
    lines = [
        say("New: {job}.", job=few_words(job.protection, job.label, job.to_spot))
        for what, job in now.items()
        if what not in told
    ] + [
        say("No longer asked for: {job}.", job=few_words(old.protection, old.label, old.to_spot))
        for what, old in told.items()
        if what not in now
    ]
    nights = {night.date for night in shown.plan.nights if night.pots_at_risk > 0}
    seen = {night.date for night in shown.plan.nights}
    lines += [say("A night with pots at risk is new: {day}.", day=measures.day_and_date(day))
              for day in sorted(nights - before.nights_at_risk)]  # fmt: skip
    lines += [say("No pot is at risk any more: {day}.", day=measures.day_and_date(day))
              for day in sorted((before.nights_at_risk & seen) - nights)]  # fmt: skip
    return node("details", summary, list_of(lines) or node("p", say("Nothing that matters.")))


def _batch(request: Request, batch: Batch, shown: Shown, by_job: Numbered, clock: Clock) -> list[Child]:
    jobs = [job for job in in_batch(shown.plan.jobs, batch) if _open(by_job, job)]
    if not jobs:
        return []
    groups = grouped(jobs, across=batch is not Batch.TONIGHT)
    items = [_item(request, group, shown, by_job, clock) for group in groups]
    return [
        node("h2", batch_heading(batch, shown.plan, minutes_of(jobs))),
        node("ol", *items, class_="jobs"),
    ]


def _open(by_job: Numbered, job: Job) -> bool:
    listed = by_job.get((job.pot, job.protection))
    return listed is None or listed.state in (JobState.OPEN, JobState.DROPPED)


def _item(request: Request, group: JobGroup, shown: Shown, by_job: Numbered, clock: Clock) -> Element:
    """A job, or equal jobs at one spot, with what can be said of it."""
    units = shown.settings.units
    loss = what_is_lost(group)
    weights = [job.weight_kg for job in group.jobs if job.weight_kg is not None]
    facts = [clock.start_by(group.first.start_by), measures.minutes(sum(job.minutes for job in group.jobs))]
    facts += [say("two people")] if group.first.people > 1 else []
    facts += [say("up to {weight}", weight=measures.weight(max(weights), units))] if weights else []
    listed = [one for job in group.jobs if (one := by_job.get((job.pot, job.protection))) is not None]
    label = spot_labels(shown.garden)(group.first.spot)
    several = [
        node("li", node("strong", pot_name(job.label, job.count)), _words(request, [one]))
        for job in group.jobs
        if len(group.jobs) > 1 and (one := by_job.get((job.pot, job.protection))) is not None
    ]
    return node(
        "li",
        node("p", node("strong", all_of([pot_name(job.label, job.count) for job in group.jobs])), " ", label),
        node("p", what_to_do(group, units), class_="what"),
        node("p", " · ".join(facts), class_="facts"),
        node("p", loss, class_="soft"),
        _words(request, listed),
        node("details", node("summary", say("One by one")), node("ul", *several)) if several else None,
    )


def _words(request: Request, jobs: Sequence[ListedJob]) -> Element | None:
    """What can be said of open jobs."""
    if not jobs:
        return None
    done = say("Finished") if len(jobs) == 1 else say("All finished")
    return _form(
        request,
        jobs,
        button(done, "word", Word.FINISHED.value, class_="main"),
        button(say("Not tonight"), "word", Word.NOT_TONIGHT.value),
    )


def _form(request: Request, jobs: Sequence[ListedJob], *buttons: Element) -> Element:
    numbers = [hidden("job", str(job.number)) for job in jobs]
    return form(request, "/say", *numbers, *buttons, class_="tick")


def _said(
    request: Request, known: Sequence[ListedJob], placed: Sequence[Placed], night: date, clock: Clock
) -> list[Child]:
    """What was said of this night's jobs, and what still stands from earlier nights, each with its way back."""
    ask = button(say("Ask again"), "word", Word.ASK_AGAIN.value)
    off = button(say("Take back"), "word", Word.TAKE_BACK.value)
    items = []
    for job in known:
        words = few_words(job.protection, job.label, job.to_spot)
        if job.night != night:
            continue
        match job.state:
            case JobState.FINISHED:
                items.append(node("li", say("{job}: done.", job=words), _form(request, [job], off, ask)))
            case JobState.NOT_TONIGHT:
                items.append(node("li", say("{job}: not tonight.", job=words), _form(request, [job], ask)))
            case JobState.TAKEN_BACK:
                items.append(node("li", say("{job}: taken back.", job=words), _form(request, [job], ask)))
            case _:
                continue
    for one in placed:
        if one.job.night == night:
            continue
        words = few_words(one.job.protection, one.job.label, one.job.to_spot)
        since = measures.day_and_date(clock.local(one.since).date())
        items.append(
            node("li", say("{job}: in place since {day}.", job=words, day=since), _form(request, [one.job], off))
        )
    return [node("h2", say("Done, and still in place"), id="said"), node("ul", *items, class_="said")] if items else []
