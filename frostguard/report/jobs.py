"""Jobs as lines: what and where, the verb, minutes, deadline, and what is lost otherwise."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from frostguard.advice.plan import SAFE_AIR_C, WARM_DAY_C, Batch, Caution, Job, Protection, Stay
from frostguard.advice.reach import AS_WELL_IN_SUMMER, COVERS
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.measures import Clock
from frostguard.report.pieces import taken
from frostguard.report.spots import SpotLabel, spot_name
from frostguard.report.words import all_of, say, say_count, say_in

FEW = 2
"""Pots with one chance that are named beside it; of more it is told for "the others"; estimate."""


@dataclass(frozen=True, slots=True)
class JobGroup:
    """Equal jobs at pots of one spot with one deadline, told in one line."""

    jobs: tuple[Job, ...]

    @property
    def first(self) -> Job:
        """The job that stands for all in what they share."""
        return self.jobs[0]

    @property
    def pots(self) -> int:
        """How many pots the line is about."""
        return sum(job.count for job in self.jobs)


def in_batch(jobs: Iterable[Job], batch: Batch) -> list[Job]:
    """The jobs of a batch, the most urgent first, then in the plan's order (the way one walks)."""
    return sorted((job for job in jobs if job.batch is batch), key=lambda job: job.start_by)


def grouped(jobs: Iterable[Job], *, across: bool = False) -> list[JobGroup]:
    """Equal jobs at one spot put together, each group where its first job stood.

    Parameters
    ----------
    jobs : iterable of Job
        Of one batch, in order.
    across : bool
        Also put together what is not next to each other. For preparations that are done in one go; not
        for an evening's jobs, where it would let a less urgent pot go before a more urgent one.
    """
    groups: list[tuple[tuple[object, ...], list[Job]]] = []
    for job in jobs:
        alike = _alike(job)
        candidates = groups if across else groups[-1:]
        same = next((members for key, members in candidates if key == alike), None)
        if same is None:
            groups.append((alike, [job]))
        else:
            same.append(job)
    return [JobGroup(tuple(members)) for _, members in groups]


def _alike(job: Job) -> tuple[object, ...]:
    """What jobs must share to be told in one line."""
    litres_each = None if job.litres is None else round(job.litres / job.count * 2)
    heavy = Caution.HEAVY in job.cautions
    return (
        job.spot,
        job.protection,
        job.to_spot,
        job.people,
        job.loss_otherwise.tissue,
        job.loss_otherwise.plant,
        heavy,
        Caution.OVER_A_DROP in job.cautions,
        litres_each,
        _goes_first(job),
        job.comes_late,
        len(job.with_job),
        tuple(use.kind for use in job.covers),
    )


def _goes_first(job: Job) -> bool:
    """Whether the order of an evening needs a word; preparations are done in one go."""
    return job.goes_first and job.batch is Batch.TONIGHT


def job_line(group: JobGroup, clock: Clock, units: Units, spot_label: SpotLabel) -> str:
    """The whole line of a group of jobs."""
    sentences = [
        _what_to_do(group, clock, units, spot_label),
        _how_heavy(group, units),
        taken(group.jobs, units),
        what_is_lost(group),
        say("Not to be replaced, so it goes first.") if _goes_first(group.first) else "",
        say("With what stands before it this comes late: a helper could do it at once.")
        if group.first.comes_late
        else "",
        _numbers_told(group),
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _numbers_told(group: JobGroup) -> str:
    told = numbers_of(group.jobs)
    return say_count("Job {numbers}.", "Jobs {numbers}.", len(told), numbers=all_of(told)) if told else ""


def number_fact(jobs: Sequence[Job]) -> str:
    """The numbers by which jobs are signed off, beside other facts; empty where no logbook knows them."""
    told = numbers_of(jobs)
    return say_count("job {numbers}", "jobs {numbers}", len(told), numbers=all_of(told)) if told else ""


def numbers_of(jobs: Iterable[Job]) -> list[str]:
    """The numbers by which jobs are signed off, of those that have one."""
    return [str(job.number) for job in jobs if job.number is not None]


def ahead_heading(jobs: Sequence[Job], minutes: str) -> str:
    """What jobs stand under that are done by daylight for a later night."""
    nights = [job.for_night for job in jobs if job.for_night is not None]
    if not nights:
        return say("By daylight today, for a later night ({minutes})", minutes=minutes)
    return say(
        "By daylight today, for the night of {day} ({minutes})", day=measures.day_and_date(min(nights)), minutes=minutes
    )


def pot_name(label: str, count: int) -> str:
    """A pot's label, with the number of pots where there are several alike."""
    if count == 1:
        return label
    return say("{label} x {count}", label=label, count=count)


def job_name(job: Job) -> str:
    """The pot of a job; where it is for some of several alike, how many of them."""
    if job.count >= job.alike:
        return pot_name(job.label, job.count)
    return say("{label} ({count} of {alike})", label=job.label, count=job.count, alike=job.alike)


def undo_lines(jobs: Collection[Job], clock: Clock, units: Units) -> list[str]:
    """What may be undone from when on, a line for each time, and what stays for how long."""
    by_end: dict[datetime | Stay | None, dict[tuple[object, ...], list[Job]]] = {}
    for job in jobs:
        back_to = job.spot if job.protection is Protection.MOVE else None
        end = job.stays if job.stays is Stay.WHILE_COLD else job.undo_after or job.stays
        alike = by_end.setdefault(end, {})
        comes_off = Protection.FLEECE if job.protection is Protection.DOUBLE_FLEECE else job.protection
        alike.setdefault((comes_off, back_to), []).append(job)
    lines = []
    for time in sorted(end for end in by_end if isinstance(end, datetime)):
        lines += _undo_from(clock.at(time), list(by_end[time].values()), units)
    if Stay.NOT_IN_SIGHT in by_end:
        what = _undone(by_end[Stay.NOT_IN_SIGHT].values())
        lines.append(say("Not within these nights: {what}.", what=what))
    if Stay.UNTIL_SPRING in by_end:
        inside = [job for alike in by_end[Stay.UNTIL_SPRING].values() for job in alike]
        pots = [job_name(job) for job in inside if job.too_cold_there_from is None]
        lines += [say("Staying in until spring: {pots}.", pots=all_of(pots))] if pots else []
    lines += _too_cold_there(jobs)
    if Stay.WHILE_COLD in by_end:
        lines.append(_while_cold([job for alike in by_end[Stay.WHILE_COLD].values() for job in alike], clock))
    lines += _till_somebody_comes(jobs, clock, units)
    left_on = [job_name(job) for job in jobs if job.left_on_by_day and job.stays is not Stay.WHILE_COLD]
    if left_on:
        lines.append(
            say(
                "On by day as well, as the day is too cold to uncover: {pots}. If you are there at midday, open the "
                "side away from the wind, for light and air.",
                pots=all_of(list(dict.fromkeys(left_on))),
            )
        )
    if Stay.FOR_THE_SEASON in by_end:
        lines.append(_for_the_season(by_end[Stay.FOR_THE_SEASON].values()))
    kept = {job.protection for alike in by_end.get(Stay.FOR_THE_WINTER, {}).values() for job in alike}
    if kept and kept <= AS_WELL_IN_SUMMER:
        lines.append(say("What is raised or grouped may stay so."))
    elif kept:
        lines.append(say("What is wrapped, mulched, raised or grouped may stay so for the winter."))
    return lines


def _undo_from(time: str, alike: Sequence[list[Job]], units: Units) -> list[str]:
    """What may be undone from one time on; covers by the thermometer, too, as a morning may be late to warm."""
    covers = [jobs for jobs in alike if jobs[0].protection in COVERS]
    others = [jobs for jobs in alike if jobs[0].protection not in COVERS]
    lines = []
    if off := _undone(covers):
        lines.append(
            say(
                "From {time}, with the air above {degrees}: {what}.",
                time=time,
                degrees=measures.round_degrees(SAFE_AIR_C, units),
                what=off,
            )
        )
    if what := _undone(others):
        lines.append(say("From {time}: {what}.", time=time, what=what))
    return lines


def _till_somebody_comes(jobs: Collection[Job], clock: Clock, units: Units) -> list[str]:
    """Covers that may come off while nobody is there: when somebody is, and what a warm day before asks for."""
    waiting: dict[tuple[datetime, bool], list[str]] = {}
    for job in jobs:
        if job.there_again is not None:
            waiting.setdefault((job.there_again, job.warm_till_then), []).append(job_name(job))
    warm = measures.round_degrees(WARM_DAY_C, units)
    return [
        say(
            "By your hours you are there only from {time}, and before that it gets warmer than {degrees}: have "
            "somebody take the fleece off {pots}, or at least open it.",
            time=clock.at(there),
            degrees=warm,
            pots=all_of(pots),
        )
        if too_warm
        else say(
            "By your hours you are there from {time}: till then the fleece may stay on {pots}, as no day before it is "
            "warm.",
            time=clock.at(there),
            pots=all_of(pots),
        )
        for (there, too_warm), pots in sorted(waiting.items())
    ]


def _too_cold_there(jobs: Collection[Job]) -> list[str]:
    """Where pots that are carried off may not stay as long as they are away, place by place and evening by evening."""
    places: dict[tuple[date, str], list[str]] = {}
    for job in jobs:
        if job.too_cold_there_from is not None and job.to_spot is not None:
            places.setdefault((job.too_cold_there_from, job.to_spot), []).append(job_name(job))
    return [
        say(
            "Warm enough in the {spot} only for the nights before {date}: {pots}. By that evening find a warmer place.",
            spot=spot_name(spot),
            date=measures.day_and_date(evening),
            pots=all_of(pots),
        )
        for (evening, spot), pots in sorted(places.items())
    ]


def _while_cold(jobs: Sequence[Job], clock: Clock) -> str:
    """What stays under fleece day and night, how it is kept healthy there, and when that ends."""
    until = min(job.undo_after for job in jobs if job.undo_after is not None)
    ends = min(job.season_ends for job in jobs if job.season_ends is not None)
    return say(
        "Fleece may stay on day and night, as most nights ahead ask for it and no day is warm, till {time}: {pots}. "
        "Open the side away from the wind every midday that you are there, look under it for mould, and take it off on "
        "a mild or wet day, and for good when buds swell, in a usual year about {date}.",
        time=clock.at(until),
        pots=all_of(list(dict.fromkeys(job_name(job) for job in jobs))),
        date=measures.day_and_date(ends),
    )


def _for_the_season(alike: Collection[list[Job]]) -> str:
    """What is protected for the season, why, and when that ends."""
    what = _undone(alike)
    ends = min((job.season_ends for jobs in alike for job in jobs if job.season_ends is not None), default=None)
    if ends is None:
        return say("Protected for the season, as most nights ahead call for it. When buds swell: {what}.", what=what)
    return say(
        "Protected for the season, as most nights ahead call for it. When buds swell, in a usual year about {date}: "
        "{what}.",
        date=measures.day_and_date(ends),
        what=what,
    )


def _undone(alike: Iterable[list[Job]]) -> str:
    return say_in("between things to undo", "; ").join(part for part in map(_undo, alike) if part)


def _loss_sentence(tissue: Tissue | None, odds: str) -> str:
    """What is lost if nothing is done, with its chance; no tissue stands for the pot as a whole."""
    match tissue:
        case Tissue.LEAF:
            return say("Else leaves or shoots are lost ({chance}).", chance=odds)
        case Tissue.BUD:
            return say("Else buds and flowers are lost ({chance}).", chance=odds)
        case Tissue.HEART:
            return say("Else it is killed beyond growing again ({chance}).", chance=odds)
        case Tissue.STEM:
            return say("Else the stem is killed, and its head with it ({chance}).", chance=odds)
        case Tissue.YOUNG_ROOT:
            return say("Else outer roots are lost and spring comes slowly ({chance}).", chance=odds)
        case Tissue.WHOLE_ROOT:
            return say("Else the roots are lost, and the plant with them ({chance}).", chance=odds)
        case Tissue.CHILL:
            return say("Else the cold harms it, even without frost ({chance}).", chance=odds)
        case None:
            return say("Else it may go over in the gale ({chance}).", chance=odds)


def of_plant(plant: str | None, odds: str) -> str:
    """The chance with the plant that it is for, in a pot of several."""
    return odds if plant is None else say("{plant}: {chance}", plant=plant, chance=odds)


def odds_of(pots: Sequence[tuple[str, int, float]]) -> str:
    """The chance of each of some pots (name, how many, chance), told once for those where it is the same."""
    alike: dict[str, list[str]] = {}
    for name, _, chance in pots:
        alike.setdefault(measures.chance(chance), []).append(name)
    if len(alike) == 1:
        (odds,) = alike
        return odds if sum(count for _, count, _ in pots) == 1 else say("{chance} each", chance=odds)
    most = max(alike, key=lambda odds: len(alike[odds]))
    told = [
        say("{pots}: {chance}", pots=all_of(names), chance=odds)
        for odds, names in alike.items()
        if odds != most or len(names) <= FEW
    ]
    if len(alike[most]) > FEW:
        told.append(say("the others: {chance} each", chance=most))
    return say_in("between chances of pots", "; ").join(told)


def harm_sentence(tissue: Tissue, odds: str) -> str:
    """What may be lost of a pot that is left as it is, with its chance."""
    match tissue:
        case Tissue.LEAF:
            return say("Leaves or shoots may be lost ({chance}).", chance=odds)
        case Tissue.BUD:
            return say("Buds and flowers may be lost ({chance}).", chance=odds)
        case Tissue.HEART:
            return say("It may be killed beyond growing again ({chance}).", chance=odds)
        case Tissue.STEM:
            return say("The stem may be killed, and its head with it ({chance}).", chance=odds)
        case Tissue.YOUNG_ROOT:
            return say("Outer roots may be lost ({chance}).", chance=odds)
        case Tissue.WHOLE_ROOT:
            return say("The roots may be lost, and the plant with them ({chance}).", chance=odds)
        case Tissue.CHILL:
            return say("The cold may harm it, even without frost ({chance}).", chance=odds)


def _what_to_do(group: JobGroup, clock: Clock, units: Units, spot_label: SpotLabel) -> str:
    job = group.first
    spot = spot_label(job.spot)
    values: dict[str, object] = {
        "pots": all_of([job_name(job) for job in group.jobs]),
        "spot": spot,
        "minutes": _minutes(group),
        "when": clock.start_by(job.start_by),
    }
    match job.protection:
        case Protection.FLEECE:
            return say("{pots} ({spot}): cover with fleece down to the pot rim, {minutes}, {when}.", **values)
        case Protection.DOUBLE_FLEECE:
            return say(
                "{pots} ({spot}): cover with two layers of fleece down to the pot rim, {minutes}, {when}.",
                **values,
            )
        case Protection.WRAP:
            return say_count(
                "{pots} ({spot}): wrap the pot all round, {minutes}, {when}.",
                "{pots} ({spot}): wrap the pots all round, {minutes}, {when}.",
                group.pots,
                **values,
            )
        case Protection.MOVE:
            return _carry(job, values)
        case Protection.RAISE:
            return say(
                "{pots} ({spot}): raise off the floor, on feet or a board, {minutes}, {when}.", **values
            )
        case Protection.GROUP:
            return say_count(
                "{pots} ({spot}): push tight against its neighbours, {minutes}, {when}.",
                "{pots} ({spot}): push tight together, {minutes}, {when}.",
                group.pots,
                **values,
            )
        case Protection.MULCH:
            return say("{pots} ({spot}): cover the mix with mulch, {minutes}, {when}.", **values)
        case Protection.PLUNGE:
            return say(
                "{pots} ({spot}): stand in a crate and fill round with bark, leaves or straw, {minutes}, {when}.",
                **values,
            )
        case Protection.FILL_GAPS:
            return say("{pots} ({spot}): fill the gaps with leaves, straw or bark, {minutes}, {when}.", **values)
        case Protection.SLEEVE:
            return say(
                "{pots} ({spot}): put a sleeve round the stem, from the mix up over the graft, {minutes}, {when}.",
                **values,
            )
        case Protection.TIE_CROWN:
            return say("{pots} ({spot}): tie the leaves up round the heart, {minutes}, {when}.", **values)
        case Protection.WATER:
            return _water(group, values, units)
        case Protection.SECURE:
            if Caution.OVER_A_DROP in job.cautions:
                return say("{pots} ({spot}): take down, or tie fast against the gale, {minutes}, {when}.", **values)
            if Caution.HEAVY in job.cautions:
                return say(
                    "{pots} ({spot}): tie against the gale, or lay down with a helper, {minutes}, {when}.", **values
                )
            return say("{pots} ({spot}): lay down or tie against the gale, {minutes}, {when}.", **values)
        case Protection.SHADE:
            return say("{pots} ({spot}): shade from the morning sun until thawed, {minutes}, {when}.", **values)
        case Protection.TIE_UP:
            return say("{pots} ({spot}): tie up loosely before the wet snow, {minutes}, {when}.", **values)
        case Protection.UNCOVER:
            return say("{pots} ({spot}): take the cover off before the gale, {minutes}, {when}.", **values)


def _carry(job: Job, values: dict[str, object]) -> str:
    target = "" if job.to_spot is None else spot_name(job.to_spot)
    if Caution.OVER_A_DROP in job.cautions:
        return say(
            "{pots} ({spot}): lift off and carry to the {to_spot}, {minutes}, {when}.", to_spot=target, **values
        )
    if Caution.HEAVY in job.cautions:
        return say(
            "{pots} ({spot}): slide or wheel to the {to_spot}, {minutes}, {when}.", to_spot=target, **values
        )
    return say("{pots} ({spot}): carry to the {to_spot}, {minutes}, {when}.", to_spot=target, **values)


def _water(group: JobGroup, values: dict[str, object], units: Units) -> str:
    litres = group.first.litres
    if litres is None:
        return say("{pots} ({spot}): water if the mix feels dry, {minutes}, {when}.", **values)
    return say_count(
        "{pots} ({spot}): water with {amount} if the mix feels dry, {minutes}, {when}.",
        "{pots} ({spot}): water with {amount} each if the mix feels dry, {minutes}, {when}.",
        group.pots,
        amount=measures.liquid(litres / group.first.count, units),
        **values,
    )


def _how_heavy(group: JobGroup, units: Units) -> str:
    job = group.first
    weights = [job.weight_kg for job in group.jobs if job.weight_kg is not None]
    if job.people < 2 and Caution.HEAVY not in job.cautions:
        return ""
    if not weights:
        return say("Two people.") if job.people > 1 else ""
    heaviest = measures.weight(max(weights), units)
    if job.people > 1:
        return say_count(
            "Two people: about {weight}.", "Two people: up to {weight} each.", group.pots, weight=heaviest
        )
    return say_count(
        "It weighs about {weight}.", "They weigh up to {weight} each.", group.pots, weight=heaviest
    )


def what_is_lost(group: JobGroup) -> str:
    """What is lost without the job and what chance of it is left with it, pot by pot where they differ."""
    pots = [(job_name(job), job.count, job.loss_otherwise.chance) for job in group.jobs]
    odds = of_plant(group.first.loss_otherwise.plant, odds_of(pots))
    if group.first.protection is Protection.UNCOVER:
        return say("Else the wind may tear it off, or throw the pot over ({chance}).", chance=odds)
    lost = _loss_sentence(group.first.loss_otherwise.tissue, odds)
    left = [
        (job_name(job), measures.per_cent(job.loss_otherwise.chance_with_jobs))
        for job in group.jobs
        if job.loss_otherwise.chance_with_jobs is not None
    ]
    if not left:
        return lost
    others = len(group.first.with_job)
    return f"{lost} {_with_all(left, group.pots, others) if others else _with_it(left, group.pots)}"


def _with_all(left: Sequence[tuple[str, str]], pots: int, others: int) -> str:
    """The chance that this and the other jobs leave that belong to it: neither does it alone."""
    if len({chance for _, chance in left}) == 1:
        chance = left[0][1] if pots == 1 else say("{chance} each", chance=left[0][1])
    else:
        chance = all_of([say("{pot} {chance}", pot=name, chance=chance) for name, chance in left])
    return say_count(
        "It takes its other job as well: with both {chance}.",
        "It takes its other jobs as well: with all {chance}.",
        others,
        chance=chance,
    )


def _with_it(left: Sequence[tuple[str, str]], pots: int) -> str:
    """The chance that the job leaves."""
    if len({chance for _, chance in left}) == 1:
        return say_count("With it {chance}.", "With it {chance} each.", pots, chance=left[0][1])
    named = [say("{pot} {chance}", pot=name, chance=chance) for name, chance in left]
    return say("With it {pots}.", pots=all_of(named))


def _minutes(group: JobGroup) -> str:
    told = measures.minutes(sum(job.minutes for job in group.jobs))
    return told if group.pots == 1 else say("{minutes} in all", minutes=told)


def _undo(jobs: list[Job]) -> str:
    """How equal jobs are undone; water is not taken back."""
    job = jobs[0]
    pots = all_of([job_name(job) for job in jobs])
    match job.protection:
        case Protection.FLEECE | Protection.DOUBLE_FLEECE:
            return say("fleece off {pots}", pots=pots)
        case Protection.WRAP:
            return say("wrap off {pots}", pots=pots)
        case Protection.MOVE:
            return say("{pots} back to the {spot}", pots=pots, spot=spot_name(job.spot))
        case Protection.RAISE | Protection.GROUP:
            return say("{pots} as before", pots=pots)
        case Protection.MULCH:
            return say("mulch off {pots}", pots=pots)
        case Protection.PLUNGE:
            return say("{pots} out of the crate", pots=pots)
        case Protection.FILL_GAPS:
            return say("leaves out from between {pots}", pots=pots)
        case Protection.SLEEVE:
            return say("sleeve off the stem of {pots}", pots=pots)
        case Protection.TIE_CROWN:
            return say("{pots} untied", pots=pots)
        case Protection.SECURE:
            if all(Caution.OVER_A_DROP in one.cautions for one in jobs):
                return say("{pots} back in place", pots=pots)
            return say("{pots} upright again", pots=pots)
        case Protection.UNCOVER:
            return say("cover {pots} again", pots=pots)
        case Protection.SHADE:
            return say("shade off {pots}", pots=pots)
        case Protection.TIE_UP:
            return say("{pots} untied", pots=pots)
        case Protection.WATER:
            return ""
