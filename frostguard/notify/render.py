"""Matters as a notice: subject, plain text, short form, page, and a calendar of the jobs."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from frostguard.advice.plan import Job
from frostguard.notify.brief import JobBrief
from frostguard.notify.calendar_file import Entry, calendar_attachment
from frostguard.notify.job_words import few_words
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import Moment, Unseen
from frostguard.notify.notice import Notice, shortened
from frostguard.report.cautions import caution_sentences
from frostguard.report.jobs import JobGroup, job_line
from frostguard.report.layout import page, paragraph, section
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import weather_told
from frostguard.report.words import NO_BREAK_SPACE, harmless, say

STYLE = (
    "body{font:16px/1.45 sans-serif;color:#111;background:#fff;max-width:42em;margin:1em auto;padding:0 1em}"
    "h1{font-size:1.25em}h2{font-size:1.05em;margin-bottom:.2em}ul{margin-top:.2em;padding-left:1.2em}"
    "li{margin:.4em 0}footer{color:#444;font-size:.9em}"
)


INTO_THE_NIGHT = timedelta(hours=6)
"""What is to be done so long after midnight belongs to the evening before."""


def notice_of(matters: Sequence[Matter], moment: Moment, *, preface: str = "") -> Notice:
    """One notice that tells all these matters, the first of them first.

    Parameters
    ----------
    matters : sequence of Matter
        At least one, the weightiest first; its kind, identity and subject are the notice's.
    moment : Moment
        For the clock, the labels of places and the weather's credit.
    preface : str
        Stands before everything in the text.
    """
    leading = matters[0]
    subject = plain_spaces(harmless(leading.subject))
    leads = tuple(lead for lead in (preface, *(matter.lead for matter in matters)) if lead)
    sections = _sections(matters)
    footer = _footer(moment)
    entries = _entries(matters, moment)
    return Notice(
        key=leading.keys[0],
        kind=leading.kind,
        night=moment.night,
        made_at=moment.now,
        subject=subject,
        text=_text(leads, sections, footer),
        short=shortened(_for_a_text_message(" ".join(_short_parts(matters)))),
        html=_page(subject, leads, sections, footer),
        interrupts=any(matter.interrupts for matter in matters),
        tells=tuple(dict.fromkeys(key for matter in matters for key in matter.keys)),
        attachments=(calendar_attachment(entries, moment.night, moment.now),) if entries else (),
    )


def _short_parts(matters: Sequence[Matter]) -> list[str]:
    """What the short form holds, as far as it goes: all subjects, then the jobs in a few words."""
    parts = [matter.subject for matter in matters] + [matter.brief for matter in matters]
    return [part for part in parts if part]


def _for_a_text_message(text: str) -> str:
    """Without the degree sign, which the GSM alphabet lacks: one such letter would halve what a message holds."""
    return plain_spaces(text).replace("°", "")


def plain_spaces(text: str) -> str:
    """The text with ordinary spaces: telephones show others as boxes."""
    return text.replace(NO_BREAK_SPACE, " ")


def _sections(matters: Sequence[Matter]) -> tuple[Section, ...]:
    """All sections with something in them, what an earlier matter told left out, and the cautions once at the end."""
    told: set[str] = set()
    sections = []
    for matter in matters:
        mine = [replace(part, items=tuple(item for item in part.items if item not in told)) for part in matter.sections]
        told.update(item for part in mine for item in part.items)
        sections += mine
    of_jobs = (caution for matter in matters for job in matter.jobs for caution in job.cautions)
    cautions = dict.fromkeys((*of_jobs, *(caution for matter in matters for caution in matter.cautions)))
    sections.append(Section(say("Take care"), tuple(caution_sentences(cautions))))
    return tuple(part for part in sections if part.items)


def _footer(moment: Moment) -> tuple[str, ...]:
    """Where it was, and where the weather comes from."""
    site = say("{site}, told {time}.", site=moment.garden.site.name, time=moment.clock.at(moment.now))
    if isinstance(moment.plan, Unseen):
        return (site,)
    return (site, *weather_told(moment.plan.weather, moment.clock))


def _text(leads: Sequence[str], sections: Sequence[Section], footer: Sequence[str]) -> str:
    blocks = [paragraph(lead) for lead in leads]
    blocks += [section(part.heading, part.items) for part in sections]
    blocks.append([line for sentence in footer for line in paragraph(sentence)])
    return page(blocks)


def _page(subject: str, leads: Sequence[str], sections: Sequence[Section], footer: Sequence[str]) -> str:
    """An HTML page that stands alone: nothing is fetched, everything that came from a file is escaped."""
    under_the_heading = (plain_spaces(lead).removeprefix(subject).strip() for lead in leads)
    parts = [f"<h1>{_escaped(subject)}</h1>", *(f"<p>{_escaped(lead)}</p>" for lead in under_the_heading if lead)]
    for part in sections:
        items = "\n".join(f"<li>{_escaped(item)}</li>" for item in part.items)
        parts.append(f"<h2>{_escaped(part.heading)}</h2>\n<ul>\n{items}\n</ul>")
    told = "<br/>\n".join(_escaped(sentence) for sentence in footer)
    parts.append(f"<footer><p>{told}</p></footer>")
    body = "\n".join(parts)
    return (
        f'<!DOCTYPE html>\n<html>\n<head>\n<meta charset="utf-8"/>\n'
        f'<meta name="viewport" content="width=device-width"/>\n<title>{_escaped(subject)}</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _escaped(text: str) -> str:
    return html.escape(harmless(text))


def _entries(matters: Sequence[Matter], moment: Moment) -> list[Entry]:
    """An entry for each job, and for each that is called off; one that two matters name stands there once.

    What was told of a job that still has an entry of that day is no longer there, and needs no end.
    """
    jobs = dict.fromkeys(job for matter in matters for job in matter.jobs)
    called_off = dict.fromkeys(job for matter in matters for job in matter.called_off)
    entries = [_entry(job, moment) for job in jobs]
    if isinstance(moment.plan, Unseen):
        guessed = say("On a guess, without a forecast.")
        entries = [replace(one, description=f"{one.description} {guessed}") for one in entries]
    stay = {(entry.identity, entry.day) for entry in entries}
    ends = [_called_off(job, moment) for job in called_off]
    return entries + [entry for entry in ends if (entry.identity, entry.day) not in stay]


def _entry(job: Job, moment: Moment) -> Entry:
    label_of = spot_labels(moment.garden)
    line = plain_spaces(job_line(JobGroup((job,)), moment.clock, moment.settings.units, label_of))
    what = line.partition(". ")[0].removesuffix(".")
    return Entry(
        identity=_identity(job, moment),
        day=_day(job, moment),
        start_by=job.start_by,
        minutes=job.minutes,
        summary=what,
        place=label_of(job.spot),
        description=line,
    )


def _called_off(job: JobBrief, moment: Moment) -> Entry:
    what = plain_spaces(few_words(job.protection, job.label, job.to_spot))
    return Entry(
        identity=_identity(job, moment),
        day=_day(job, moment),
        start_by=job.start_by,
        minutes=0.0,
        summary=what,
        place="",
        description=say("{what}: not to be done after all, or otherwise; see the last message.", what=what),
        called_off=True,
    )


def _identity(job: Job | JobBrief, moment: Moment) -> tuple[str, ...]:
    return moment.garden.site.name, job.pot, job.protection.value, job.to_spot or ""


def _day(job: Job | JobBrief, moment: Moment) -> date:
    return moment.clock.local(job.start_by - INTO_THE_NIGHT).date()
