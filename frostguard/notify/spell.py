"""Before a cold spell: prepare days ahead, water in the morning before, make things fast before a gale."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

from frostguard.advice.plan import AdvicePlan, Batch, Job, Protection
from frostguard.notify.job_words import in_few_words, job_lines, job_sections
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import Look, Moment
from frostguard.notify.notice import NoticeKind
from frostguard.report import measures
from frostguard.report.headline import outer_roots_left
from frostguard.report.jobs import grouped, job_name, pot_name
from frostguard.report.pieces import piece_list
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import in_the_shed, left_at_risk_items
from frostguard.report.words import all_of, say, say_count

MOST_AHEAD = timedelta(days=5)
"""How long before a spell it is told: what is missing must still be bought (practice: materials need five days)."""

SURE_AT = timedelta(days=3)
"""A spell nearer than this is told on one forecast's word; one further off when two runs agree (estimate)."""

SAME_SPELL_D = 4
"""A spell whose first night moves by less is the same spell; estimate."""

WATERED_BY = time(11)
"""Water is given in the morning, so that wall and floor are dry before it freezes; common practice."""


def spell_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """Preparations for a spell some days ahead, and what is missing for them; told once for each spell."""
    spell = plan.spell
    if moment.look is not Look.EVENING or spell is None or spell.began:
        return None
    ahead = spell.first_night - moment.today
    jobs = tuple(job for job in plan.jobs if job.batch is Batch.BEFORE_SPELL)
    if not timedelta(0) < ahead <= MOST_AHEAD or spell.first_night <= plan.night or not jobs:
        return None
    if _told_already(moment, spell.first_night) or not _persists(moment, spell.first_night, ahead):
        return None
    subject = say_count(
        "Cold spell from {day} on: 1 job before it, {minutes}.",
        "Cold spell from {day} on: {count} jobs before it, {minutes}.",
        len(jobs),
        day=measures.day_and_date(spell.first_night),
        minutes=measures.minutes(sum(job.minutes for job in jobs)),
    )
    lead = say_count(
        "{subject} Outer roots of 1 pot are at risk. There is time to get what is missing.",
        "{subject} Outer roots of {count} pots are at risk. There is time to get what is missing.",
        spell.pots,
        subject=subject,
    )
    to_do, fetch = job_sections(jobs, moment)
    minutes = measures.minutes(sum(job.minutes for job in jobs))
    return Matter(
        kind=NoticeKind.BEFORE_SPELL,
        keys=(f"spell/{spell.first_night.isoformat()}",),
        subject=subject,
        lead=lead,
        brief=in_few_words(jobs),
        sections=(
            replace(to_do, heading=say("Before the cold spell ({minutes})", minutes=minutes)),
            replace(fetch, heading=say("Fetch or buy for the cold spell")),
            Section(say("Missing"), _missing(moment, plan, jobs)),
        ),
        jobs=jobs,
        interrupts=True,
    )


def _told_already(moment: Moment, first_night: date) -> bool:
    for key in moment.said:
        name, _, told = key.partition("/")
        if name == "spell" and abs(date.fromisoformat(told) - first_night) < timedelta(days=SAME_SPELL_D):
            return True
    return False


def _persists(moment: Moment, first_night: date, ahead: timedelta) -> bool:
    """Whether an earlier run saw the spell too, or it is too near to wait for another."""
    if ahead < SURE_AT or moment.before is None:
        return True
    begins = moment.before.spell_begins
    return begins is not None and abs(begins - first_night) <= timedelta(days=1)


def _missing(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...]) -> tuple[str, ...]:
    """What the shed does not hold: all of it in use, and pots that nothing is left for."""
    told = []
    shed = in_the_shed(moment.garden)
    if not moment.garden.stock.stated:
        pieces = piece_list(jobs, {}, moment.settings.units)
        if pieces:
            told.append(say("Your file says nothing of your shed: have {pieces} ready.", pieces=all_of(pieces)))
    else:
        used_up = [
            use for use in plan.fetch_first if use.count >= shed.get(use.kind, float("inf"))
        ]
        roots = outer_roots_left(plan)
        if used_up and roots:
            told.append(
                say(
                    "Every piece is in use; with more of the same these would fare better: {pots}.",
                    pots=all_of([pot_name(pot.label, pot.count) for pot in roots]),
                )
            )
    return (*told, *left_at_risk_items(plan, spot_labels(moment.garden)))


def water_matter(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """Pots to be watered in the morning before the freeze, with litres; told once for each freeze."""
    thirsty = [job for job in plan.jobs if job.protection is Protection.WATER]
    if not thirsty or moment.look not in (Look.EVENING, Look.MORNING):
        return None
    in_spell = thirsty[0].batch is Batch.BEFORE_SPELL and plan.spell is not None
    freeze = plan.spell.first_night if in_spell and plan.spell is not None else plan.night
    morning = moment.today if moment.look is Look.MORNING else moment.today + timedelta(days=1)
    if freeze - morning not in (timedelta(0), timedelta(days=1)):
        return None
    by = datetime.combine(morning, WATERED_BY, tzinfo=moment.zone)
    jobs = tuple(replace(job, start_by=by, undo_after=None) for job in thirsty)
    subject = say_count(
        "Water 1 pot before it freezes, {when}.",
        "Water {count} pots before it freezes, {when}.",
        sum(job.count for job in jobs),
        when=moment.clock.start_first_by(by, len(jobs)),
    )
    reason = say("A moist root ball freezes later, and evergreens drink before the cold; never on frozen mix.")
    return Matter(
        kind=NoticeKind.WATER_FIRST,
        keys=(f"water/{freeze.isoformat()}",),
        subject=subject,
        lead=f"{subject} {reason}",
        sections=(Section(say("Water first, if the mix feels dry"), _amounts(moment, jobs)),),
        jobs=jobs,
        interrupts=True,
    )


def _amounts(moment: Moment, jobs: tuple[Job, ...]) -> tuple[str, ...]:
    label_of = spot_labels(moment.garden)
    lines = []
    for group in grouped(jobs, across=True):
        pots = all_of([job_name(job) for job in group.jobs])
        litres = group.first.litres
        values = {"pots": pots, "spot": label_of(group.first.spot)}
        if litres is None:
            lines.append(say("{pots} ({spot}).", **values))
            continue
        amount = measures.liquid(litres / group.first.count, moment.settings.units)
        lines.append(
            say_count(
                "{pots} ({spot}): {amount}.", "{pots} ({spot}): {amount} each.", group.pots, amount=amount, **values
            )
        )
    return tuple(lines)


def gale_matter(moment: Moment, plan: AdvicePlan, jobs: tuple[Job, ...]) -> Matter | None:
    """Pots to be laid down or tied, and hoods to come off, before a gale; told once for each night."""
    if not jobs:
        return None
    subject = say_count(
        "Gale in the night of {day}: 1 job before it, {when}.",
        "Gale in the night of {day}: {count} jobs before it, {when}.",
        len(jobs),
        day=measures.day_and_date(plan.night),
        when=moment.clock.start_first_by(min(job.start_by for job in jobs), len(jobs)),
    )
    return Matter(
        kind=NoticeKind.GALE,
        keys=(f"gale/{plan.night.isoformat()}",),
        subject=subject,
        lead=subject + " " + say("Do it before the wind rises, and leave what the wind has hold of already."),
        brief=in_few_words(jobs),
        sections=(Section(say("Before the gale"), job_lines(jobs, moment)),),
        jobs=jobs,
        interrupts=True,
    )
