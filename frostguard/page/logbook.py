"""What was: nights and what they came to, jobs and what was said of them, messages, losses."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from frostguard.garden.reader import load_garden
from frostguard.logbook.jobs import ListedJob, listed
from frostguard.page.frame import Part, answer, table
from frostguard.page.site import Site
from frostguard.page.tonight import state_word
from frostguard.report import measures
from frostguard.report.html.markup import Child, list_of, node
from frostguard.report.logbook import logbook_blocks
from frostguard.report.signing import job_words
from frostguard.report.words import say, unbroken

DAYS = 14


def logbook(site: Site, _request: Request) -> Response:
    """The last two weeks."""
    garden = load_garden(site.path)
    state, now = site.planner.look(), site.now()
    zone = ZoneInfo(garden.site.time_zone)
    since = (site.moment(state.shown) - timedelta(days=DAYS)).astimezone(zone).date()
    with site.book() as opened:
        blocks = logbook_blocks(opened, DAYS, now, zone)
        jobs = listed(opened, since)
    body: list[Child] = [site.trial_told(), node("p", say("The last two weeks, as far as they were put down."))]
    heads = (say("Night of"), say("Job"), say("How it stands"))
    rows = [_row(job) for job in sorted(jobs, key=lambda one: (one.night, one.number), reverse=True)]
    for heading, lines in blocks[:1]:
        body += [node("h2", heading), list_of(lines)]
    body += [node("h2", say("Jobs")), table(heads, rows, class_="free") if rows else node("p", say("None."))]
    for heading, lines in blocks[1:]:
        body += [node("h2", heading), list_of(lines)]
    return answer(say("Logbook"), body, Part.BOOK)


def _row(job: ListedJob) -> tuple[Child, ...]:
    words = job_words(job)
    return unbroken(measures.day_and_date(job.night)), words, state_word(job.state)
