"""The first page: what is to be done, what was done, and what changed since yesterday."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from xml.etree.ElementTree import Element
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from frostguard.advice.plan import Batch, Job, Protection
from frostguard.garden.reader import load_garden
from frostguard.logbook.jobs import JobState, ListedJob, Placed, Word, in_force, listed, sign_off
from frostguard.logbook.jobs import numbered as job_of_number
from frostguard.notify.brief import brief_of_job
from frostguard.notify.job_words import few_words
from frostguard.page.frame import Part, answer, button, fields, form, hidden, sent, trouble_told
from frostguard.page.planner import State
from frostguard.page.site import Site, problem, to, waiting
from frostguard.page.work import Shown
from frostguard.report import measures
from frostguard.report.cautions import caution_sentences, cautions_of
from frostguard.report.headline import headline, minutes_of
from frostguard.report.html.markup import Child, list_of, node
from frostguard.report.html.sheets import hands_and_weight, what_to_do
from frostguard.report.jobs import JobGroup, grouped, in_batch, job_name, number_fact, undo_lines, what_is_lost
from frostguard.report.measures import Clock
from frostguard.report.signing import job_words
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import (
    batch_heading,
    fetch_lines,
    left_at_risk_items,
    weather_told,
    what_it_saves,
    where_and_when,
)
from frostguard.report.words import all_of, decimal, say, say_count

Numbered = Mapping[tuple[str, Protection], ListedJob]


def numbered(jobs: Iterable[ListedJob], night: date) -> Numbered:
    """The jobs of a night in the logbook by what they are."""
    return {(job.pot, job.protection): job for job in jobs if job.night == night}


KEPT_AT_MOST = timedelta(hours=24)
"""A tick that waited longer on a device without a connection counts from now."""

MOST_SAID = 60
"""Jobs told at once as just said."""


def page(site: Site, request: Request) -> Response:
    """What to do tonight."""
    if not site.path.exists():
        return to("/begin")
    load_garden(site.path)  # a faulty file is told at once
    state = site.planner.look()
    if state.shown is None:
        return waiting(say("Tonight"), state, Part.TONIGHT)
    shown, now = state.shown, site.moment(state.shown)
    with site.book() as opened:
        today = now.astimezone(ZoneInfo(shown.plan.time_zone)).date()
        known = listed(opened, min(today, shown.plan.night))
        placed = [one for one in in_force(opened) if not one.is_off_by_itself(now)]
    body = [*tonight_body(request, state, shown, known, placed), site.trial_told()]
    return answer(say("Tonight"), body, Part.TONIGHT)


def put_said(site: Site, request: Request) -> Response:
    """What a person says of jobs."""
    given = fields(request)
    numbers = dict.fromkeys(value for name, value in given if name == "job")
    word = next((one for one in Word if ("word", one.value) in given), None)
    with site.book() as opened:
        jobs = [
            job
            for number in numbers
            if number.isascii() and number.isdigit() and (job := job_of_number(opened, int(number[:18]))) is not None
        ]
        if word is None or not jobs or len(jobs) < len(numbers):
            return problem(400, say("No job is known by that number."), say("Load the page anew."))
        state = site.planner.look()
        sign_off(opened, jobs, word, "", _said_at(site, sent(request).get("at", ""), state))
    site.planner.look()  # sets the next answer going
    return to(f"/?said={'-'.join(str(job.number) for job in jobs[:MOST_SAID])}#jobs")


def _said_at(site: Site, written: str, state: State) -> datetime:
    """When it was said: now, or while the device had no connection."""
    now = site.moment(state.shown)
    if site.planner.task.weather is not None or not written:
        return now
    try:
        at = datetime.fromisoformat(written).astimezone(UTC)
    except (ValueError, OverflowError):
        return now
    return at if now - KEPT_AT_MOST <= at <= now else now


def tonight_body(
    request: Request, state: State, shown: Shown, known: Sequence[ListedJob], placed: Sequence[Placed]
) -> list[Child]:
    """The page: what to do on the left of a wide screen, and what belongs to it on the right."""
    plan, units = shown.plan, shown.settings.units
    clock = Clock(plan.time_zone, plan.asked_at)
    by_job = numbered(known, plan.night)
    labels = spot_labels(shown.garden)
    saving = what_it_saves(plan)
    jobs: list[Child] = [_just_said(request, known)]
    for batch in Batch:
        jobs += _batch(request, batch, shown, by_job, clock)
    jobs += _said(request, known, placed, plan.night, clock)
    beside: list[Child] = [
        *_listed(say("Fetch first"), fetch_lines(plan, shown.garden, units)),
        *_listed(say("Still at risk"), left_at_risk_items(plan, labels, most=None)),
        *_listed(say("Undo"), undo_lines(plan.jobs, clock, units)),
        *_listed(say("Take care"), caution_sentences(cautions_of(plan))),
    ]
    return [
        on_its_way(state, "/"),
        trouble_told(state.trouble),
        trouble_told(shown.unseen),
        _figures([job for job in plan.jobs if _open(by_job, job)], clock),
        node("p", headline(plan, clock, units, labels), class_="headline"),
        node("p", where_and_when(plan, clock), class_="when"),
        node("p", node("a", say("Job sheets to print, and the whole report"), href="/report"), class_="links"),
        _changes(shown),
        node("div", node("div", *jobs, id="jobs"), node("aside", *beside), class_="beside"),
        node("p", saving) if saving else None,
        *(node("p", line, class_="soft") for line in weather_told(plan.weather, clock)),
        trouble_told(shown.trouble),
    ]


def _figures(jobs: Sequence[Job], clock: Clock) -> Element | None:
    """How much there is still to do, to be read from afar."""
    if not jobs:
        return None
    first = min(job.start_by for job in jobs)
    told = (
        (str(len(jobs)), say_count("job", "jobs", len(jobs))),
        (decimal(sum(job.minutes for job in jobs), 0), say("minutes")),
        (say("now") if clock.is_past(first) else clock.at(first), say("start by")),
    )
    figures = (node("div", node("dt", name), node("dd", figure)) for figure, name in told)
    return node("dl", *figures, class_="figures-row")


def on_its_way(state: State, here: str) -> Element | None:
    """A word where a newer answer is being worked out."""
    if not state.working:
        return None
    return node(
        "p",
        say("A newer answer is being worked out; it takes some seconds."),
        " ",
        node("a", say("Show it"), href=here),
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
    return node("details", summary, list_of(lines) if lines else node("p", say("Nothing that matters.")))


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
    facts = [measures.minutes(sum(job.minutes for job in group.jobs)), *hands_and_weight(group, units)]
    facts += [told] if (told := number_fact(group.jobs)) else []
    listed = [one for job in group.jobs if (one := by_job.get((job.pot, job.protection))) is not None]
    label = spot_labels(shown.garden)(group.first.spot)
    several = [
        node("li", node("strong", say("{pot}, job {number}", pot=job_name(job), number=str(one.number))),
             _words(request, [one]))
        for job in group.jobs
        if len(group.jobs) > 1 and (one := by_job.get((job.pot, job.protection))) is not None
    ]
    return node(
        "li",
        node("p", clock.start_by(group.first.start_by), class_="time"),
        node(
            "div",
            node("p", node("strong", all_of([job_name(job) for job in group.jobs])), " ",
                 node("span", label, class_="soft")),
            node("p", what_to_do(group, units), class_="what"),
            node("p", " · ".join(facts), class_="facts"),
            node("p", loss, class_="soft"),
            _words(request, listed),
            node("details", node("summary", say("One by one")), node("ul", *several)) if several else None,
        ),
    )  # fmt: skip


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


def _just_said(request: Request, known: Sequence[ListedJob]) -> Element | None:
    """What was said a moment ago, as the address has it, with its way back."""
    numbers = {int(one[:9]) for one in request.query_params.get("said", "").split("-")[:MOST_SAID] if one.isdecimal()}
    jobs = [job for job in known if job.number in numbers and job.state is not JobState.OPEN]
    if not jobs:
        return None
    told = [node("p", _state_told(job)) for job in jobs]
    done = all(job.state is JobState.FINISHED for job in jobs)
    back = button(say("Take back"), "word", Word.TAKE_BACK.value) if done else None
    ask = button(say("Ask again"), "word", Word.ASK_AGAIN.value)
    return node("div", *told, _form(request, jobs, *(one for one in (back, ask) if one is not None)), class_="way",
                role="status")  # fmt: skip


def _state_told(job: ListedJob) -> str:
    return say("{job}, {state}.", job=job_words(job), state=state_word(job.state))


def state_word(state: JobState) -> str:
    """How a job stands, in a word."""
    match state:
        case JobState.OPEN:
            return say("open")
        case JobState.FINISHED:
            return say("done")
        case JobState.NOT_TONIGHT:
            return say("not tonight")
        case JobState.TAKEN_BACK:
            return say("taken back")
        case JobState.DROPPED:
            return say("no longer asked for")


def _said(
    request: Request, known: Sequence[ListedJob], placed: Sequence[Placed], night: date, clock: Clock
) -> list[Child]:
    """What was said of this night's jobs, and what still stands from earlier nights, each with its way back."""
    ask = button(say("Ask again"), "word", Word.ASK_AGAIN.value)
    off = button(say("Take back"), "word", Word.TAKE_BACK.value)
    items = []
    for job in known:
        if job.night != night or job.state not in (JobState.FINISHED, JobState.NOT_TONIGHT, JobState.TAKEN_BACK):
            continue
        ways = (off, ask) if job.state is JobState.FINISHED else (ask,)
        items.append(node("li", node("p", _state_told(job)), _form(request, [job], *ways)))
    for one in placed:
        if one.job.night == night:
            continue
        since = measures.day_and_date(clock.local(one.since).date())
        items.append(
            node("li", node("p", say("{job}, in place since {day}.", job=job_words(one.job), day=since)),
                 _form(request, [one.job], off))
        )
    if not items:
        return []
    told = say("Take back: the cover is off again, or the pot stands where it stood. Ask again: that was said by "
               "mistake, and the job is open.")  # fmt: skip
    heading = node("h2", say("Said of jobs, and what is in place"), id="said")
    return [heading, node("p", told, class_="soft"), node("ul", *items, class_="said")]
