"""Jobs in the order of doing, and the latest start of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time
from enum import IntEnum

import numpy as np

from frostguard.advice.deadlines import Doing, WorkTime, latest_starts, order_in_time
from frostguard.advice.evening import Evening
from frostguard.advice.hands import window_for, work_before
from frostguard.advice.plan import ALMOST_CERTAIN, LIKELY, Batch, Caution, Job, Protection, Stay
from frostguard.advice.reach import ABOVE_THE_MIX, LEAF_PROTECTIONS, ROOT_PROTECTIONS
from frostguard.advice.spell import Spell
from frostguard.advice.unprotected import crossing_hour, moment_of
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue

ICY_FLOOR_C = 1.0
"""Air in the hours of work from which on floors may be icy: frost forms under a clear sky while the air at 2 m is
still at +1 to +3 degC (a French forecaster); the colder end, as decks are not grass (estimate)."""

WATER_BY = time(12)
"""Water in the morning, at noon at the latest, so that it soaks in and floor and wall dry before the frost; common
practice. Asked later it is the first thing done."""


class Urgency(IntEnum):
    """Few classes, so that the order follows the way over the terrace and not a difference of pennies."""

    IRREPLACEABLE = 0  # what money cannot buy again, and is at risk
    ALMOST_CERTAIN = 1
    LIKELY = 2
    POSSIBLE = 3


def with_times(
    evening: Evening,
    jobs: Sequence[Job],
    settings: Settings,
    spell: Spell | None,
    undo: Mapping[tuple[str, Protection], datetime | Stay],
) -> tuple[Job, ...]:
    """Jobs in the order of doing, each with its latest start and the time from which it may be undone.

    Batches that share an evening are one after the other in it, but where a job has to go before another one to
    be done by its own deadline.
    """
    before_spell = 0 if spell is None else window_for(evening, settings, spell.first) or 0
    night_of = {Batch.TONIGHT: 0, Batch.AHEAD: 0, Batch.BEFORE_SPELL: before_spell, Batch.TOMORROW: 1}
    ordered = [job for batch in Batch for job in _walk(evening, jobs, batch)]
    dated: list[Job] = []
    for night in sorted({night_of[job.batch] for job in ordered}):
        work = work_before(evening, settings, night)
        mine = [job for job in ordered if night_of[job.batch] == night]
        # a gale's jobs are told even where nobody has a window: by sunset, or now
        local = evening.at.astimezone(evening.terrace.zone)
        window = work or WorkTime(local, max(evening.nights[night].sunset or local, local), dark=False)
        icy = _floor_freezes(evening, window)
        due = _done_by(evening, mine, night, window)
        minutes = [job.minutes * job.people / settings.people for job in mine]
        done_by = [_watered_by(due[job.pot], window) if _waters(job) else due[job.pot] for job in mine]
        precious = {job.pot for job in mine if job.goes_first and job.batch is Batch.TONIGHT}
        first = next((place for place, job in enumerate(mine) if job.pot not in precious), len(mine))
        given = Doing(tuple(range(len(mine))), {})
        doing = order_in_time(minutes, window, done_by, first=first) if work else given
        starts = latest_starts(
            [minutes[position] for position in doing.order],
            window,
            [doing.late.get(position, done_by[position]) for position in doing.order],
        )
        dated += [
            replace(
                job,
                start_by=start,
                undo_after=ends if isinstance(ends, datetime) else None,
                stays=ends if isinstance(ends, Stay) else None,
                cautions=(*job.cautions, *_of_the_hour(job, window, icy=icy)),
                comes_late=position in doing.late,
            )
            for position, start in zip(doing.order, starts, strict=True)
            for job in [mine[position]]
            for ends in [undo.get((job.pot, job.protection))]
        ]
    return tuple(dated)


def _of_the_hour(job: Job, window: WorkTime, *, icy: bool) -> tuple[Caution, ...]:
    """What to mind at that hour beside what belongs to the job at any."""
    ice = icy and (job.weight_kg is not None or job.protection is Protection.PLUNGE)
    return (*((Caution.ICE,) if ice else ()), *((Caution.DARK_WORK,) if window.dark else ()))


def _floor_freezes(evening: Evening, window: WorkTime) -> bool:
    """Whether a wet floor may be icy by the time that somebody walks there with a pot."""
    first, last = (evening.terrace.hour_at(moment) for moment in (window.begins, window.ends))
    air = evening.terrace.outdoor.air_temperature_c[max(first, evening.now) : max(last, evening.now) + 1]
    return float(np.median(air.min(axis=0))) <= ICY_FLOOR_C


def _waters(job: Job) -> bool:
    return job.protection is Protection.WATER


def _watered_by(due: datetime, window: WorkTime) -> datetime:
    """Noon, before what else there is to do; as soon as the work begins where that is later."""
    noon = datetime.combine(window.begins.date(), WATER_BY, window.begins.tzinfo)
    return min(due, max(noon, window.begins))


def _done_by(evening: Evening, jobs: Sequence[Job], night: int, window: WorkTime) -> dict[str, datetime]:
    """By when the jobs of each pot must be done: the window's end, or before what they save passes its limit."""
    rows = {pot.id: row for row, pot in enumerate(evening.pots)}
    since = max(evening.now, evening.terrace.hour_at(window.begins))
    due = {job.pot: window.ends for job in jobs}
    for job in jobs:
        for tissue in _reached(job):
            passed = crossing_hour(evening, rows[job.pot], {tissue}, night, since)
            # what is past saving sets no deadline, unless it is what the job is told for
            if passed is not None and (passed > since or tissue is job.loss_otherwise.tissue):
                due[job.pot] = max(min(due[job.pot], moment_of(evening, passed)), window.begins)
    return due


def _reached(job: Job) -> set[Tissue]:
    """Tissues whose limits set the deadline of a job."""
    told = job.loss_otherwise.tissue
    if told is None:
        return set()
    above = ABOVE_THE_MIX if job.protection in LEAF_PROTECTIONS else frozenset[Tissue]()
    return {told, *above, *({Tissue.WHOLE_ROOT} if job.protection in ROOT_PROTECTIONS else ())}


def _walk(evening: Evening, jobs: Sequence[Job], batch: Batch) -> list[Job]:
    """The jobs of a batch, after what cannot be replaced the can, then urgent first and from spot to spot.

    Tonight's jobs at a pot are together; of what is done in one go, what is alike at a spot and as urgent.
    """
    places = {spot.name: position for position, spot in enumerate(evening.garden.spots)}
    rows = {pot.id: position for position, pot in enumerate(evening.pots)}
    mine = [job for job in jobs if job.batch is batch]
    urgency = {
        name: min(_urgency(job) for job in mine if job.pot == name)
        for name in {job.pot for job in mine}
    }

    def alike(job: Job) -> tuple[bool, int, str]:
        tissue = job.loss_otherwise.tissue
        stays = job.protection is not Protection.MOVE  # what goes leaves room to work
        return stays, list(Protection).index(job.protection), "" if tissue is None else tissue.value

    def way(job: Job) -> tuple[object, ...]:
        together = () if batch is Batch.TONIGHT else alike(job)
        precious = urgency[job.pot] is Urgency.IRREPLACEABLE
        return not precious, not _waters(job), urgency[job.pot], places[job.spot], *together, rows[job.pot]

    return sorted(mine, key=way)


def _urgency(job: Job) -> Urgency:
    chance = job.loss_otherwise.chance
    if job.goes_first:
        return Urgency.IRREPLACEABLE
    if chance >= ALMOST_CERTAIN:
        return Urgency.ALMOST_CERTAIN
    return Urgency.LIKELY if chance >= LIKELY else Urgency.POSSIBLE
