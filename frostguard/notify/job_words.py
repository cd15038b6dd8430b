"""Jobs in words: a subject, a line each, two or three words each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from frostguard.advice.plan import AdvicePlan, Job, Protection
from frostguard.notify.brief import JobBrief
from frostguard.notify.matter import Section
from frostguard.notify.moment import Moment
from frostguard.report import measures
from frostguard.report.headline import left_at_risk
from frostguard.report.jobs import grouped, job_line, job_name
from frostguard.report.pieces import piece_list
from frostguard.report.spots import spot_labels, spot_name
from frostguard.report.terminal import in_the_shed
from frostguard.report.words import all_of, say, say_count


def jobs_subject(jobs: Sequence[Job], plan: AdvicePlan, night: date, moment: Moment) -> str:
    """How many jobs, how long, when to begin, for which night."""
    clock = moment.clock
    if not jobs:
        left = left_at_risk(plan)
        last = max((one.pot.unattended.nights[-1] for one in left if one.pot.unattended is not None), default=None)
        if last is not None:
            return say_count(
                "1 pot is at risk in the nights till {day}, before which nobody comes, and no job helps it.",
                "{count} pots are at risk in the nights till {day}, before which nobody comes, and no job helps them.",
                sum(one.count for one in left),
                day=measures.day_and_date(last),
            )
        return say_count(
            "1 pot is at risk in the night of {day}, and no job helps it.",
            "{count} pots are at risk in the night of {day}, and no job helps them.",
            sum(one.count for one in left),
            day=measures.day_and_date(plan.night),
        )
    return say_count(
        "1 job for the night of {day}: {minutes}, {when}.",
        "{count} jobs for the night of {day}: {minutes}, {when}.",
        len(jobs),
        day=measures.day_and_date(night),
        minutes=measures.minutes(sum(job.minutes for job in jobs)),
        when=clock.start_first_by(min(job.start_by for job in jobs), len(jobs)),
    )


def job_sections(jobs: Sequence[Job], moment: Moment) -> tuple[Section, ...]:
    """The jobs, and what to fetch for them."""
    minutes = measures.minutes(sum(job.minutes for job in jobs))
    return (
        Section(say("To do ({minutes})", minutes=minutes), job_lines(jobs, moment)),
        fetch_section(jobs, moment),
    )


def job_lines(jobs: Sequence[Job], moment: Moment) -> tuple[str, ...]:
    """A line for each group of equal jobs."""
    label_of = spot_labels(moment.garden)
    return tuple(job_line(group, moment.clock, moment.settings.units, label_of) for group in grouped(jobs))


def fetch_section(jobs: Sequence[Job], moment: Moment) -> Section:
    """What to bring from the shed."""
    pieces = piece_list(jobs, in_the_shed(moment.garden), moment.settings.units)
    return Section(say("Fetch first"), (say("{pieces}.", pieces=all_of(pieces)),) if pieces else ())


def told_lines(jobs: Sequence[JobBrief]) -> tuple[str, ...]:
    """Told jobs by pot and verb, a line each."""
    return tuple(f"{few_words(job.protection, job.label, job.to_spot)}." for job in jobs)


def in_few_words(jobs: Sequence[Job]) -> str:
    """The jobs as short as they can be told: "Lemon: to the cellar; Fuchsia: fleece.\""""
    if not jobs:
        return ""
    told = [few_words(job.protection, job_name(job), job.to_spot) for job in jobs]
    return "; ".join(dict.fromkeys(told)) + "."


_VERBS: dict[Protection, Callable[[str, str], str]] = {
    Protection.FLEECE: lambda pot, _: say("{pot}: fleece", pot=pot),
    Protection.DOUBLE_FLEECE: lambda pot, _: say("{pot}: two layers of fleece", pot=pot),
    Protection.WRAP: lambda pot, _: say("{pot}: wrap the pot", pot=pot),
    Protection.MOVE: lambda pot, spot: say("{pot}: to the {spot}", pot=pot, spot=spot),
    Protection.RAISE: lambda pot, _: say("{pot}: off the floor", pot=pot),
    Protection.GROUP: lambda pot, _: say("{pot}: push together", pot=pot),
    Protection.MULCH: lambda pot, _: say("{pot}: mulch", pot=pot),
    Protection.PLUNGE: lambda pot, _: say("{pot}: into a crate of bark", pot=pot),
    Protection.FILL_GAPS: lambda pot, _: say("{pot}: fill the gaps", pot=pot),
    Protection.SLEEVE: lambda pot, _: say("{pot}: sleeve on the stem", pot=pot),
    Protection.TIE_CROWN: lambda pot, _: say("{pot}: tie the crown", pot=pot),
    Protection.WATER: lambda pot, _: say("{pot}: water", pot=pot),
    Protection.SHADE: lambda pot, _: say("{pot}: shade from the morning sun", pot=pot),
    Protection.TIE_UP: lambda pot, _: say("{pot}: tie up before the snow", pot=pot),
    Protection.SECURE: lambda pot, _: say("{pot}: secure it", pot=pot),
    Protection.UNCOVER: lambda pot, _: say("{pot}: cover off", pot=pot),
}


def few_words(protection: Protection, pot: str, to_spot: str | None) -> str:
    """One job in two or three words."""
    return _VERBS[protection](pot, "" if to_spot is None else spot_name(to_spot))
