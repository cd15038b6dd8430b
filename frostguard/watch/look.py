"""One look: from the clock to messages on their way. The file to read first here.

What is due is looked at, what is owed goes into the logbook in one step with all that must be known if it is,
and only then is it sent. So a machine that stops at any instant says everything, and at most one thing twice.
"""

from __future__ import annotations

import html
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

from frostguard.advice.plan import AdvicePlan
from frostguard.errors import ForecastFormatError, FrostguardError, LogbookUnusable, WeatherUnavailable
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings
from frostguard.logbook import jobs, nights, outbox
from frostguard.logbook.book import Logbook
from frostguard.logbook.dark import in_the_dark, keep_dark_stays
from frostguard.logbook.nights import Ended, Found
from frostguard.logbook.terrace import claim, standing
from frostguard.logbook.wetness import keep_wetness
from frostguard.nightly import Answer, Query, answer_by
from frostguard.notify.channels import Channel
from frostguard.notify.covers import AGAINST_COLD, uncovering
from frostguard.notify.days import days_of_weather
from frostguard.notify.delivery import Delivery, plain_notice, send
from frostguard.notify.moment import Look, Moment, Unseen
from frostguard.notify.notice import Notice, NoticeKind, joined, with_asides
from frostguard.notify.owed import owed, tells_the_plan
from frostguard.notify.ringing import has_rung_this_evening, quiet_until
from frostguard.report.words import harmless, say
from frostguard.watch import schedule
from frostguard.watch.attached import with_report
from frostguard.watch.covers_off import Margins, margins_without_k
from frostguard.watch.due import due_looks
from frostguard.watch.log import Log, log_to_stderr
from frostguard.watch.memory import PUSHES_SINCE, with_memory
from frostguard.watch.post import Send, channels_for, send_what_is_due
from frostguard.watch.schedule import Planned
from frostguard.watch.settings_in_use import settings_in_use, settings_notice

A_SECOND = timedelta(seconds=1)
"""As finely as the logbook keeps times."""

IS_NOW = timedelta(hours=1)
"""How far ahead of the clock a plan may stand and its wetness be kept as today's; the evening's stands at sunrise, when
rain may have fallen that is only foretold."""


@dataclass(frozen=True, slots=True)
class Watch:
    """What a look works with.

    Parameters
    ----------
    garden, settings, weather
        The files; without a weather file the services are asked.
    book : Logbook
        Open.
    channels : callable
        Opens the channels of the settings.
    now : callable
        The clock, aware.
    answer : callable
        Plans a night; as `nightly.answer_by`.
    margins : callable
        How pots would stand with their covers off; as `covers_off.margins_without_k`.
    send_one : callable
        Sends one notice through one channel.
    log : Log
        Told what happens.
    """

    garden: Path
    settings: Path | None
    weather: Path | None
    book: Logbook
    channels: Callable[[Settings], Sequence[Channel]]
    now: Callable[[], datetime]
    answer: Callable[..., Answer] = answer_by
    margins: Margins = margins_without_k
    send_one: Send = send
    log: Log = log_to_stderr


@dataclass(frozen=True, slots=True)
class Round:
    """What came of doing what was due: the looks that were made, and whether all went well."""

    looks: tuple[Planned, ...]
    well: bool
    sent: int
    site_clock: str | None  # time zone, None where the garden file cannot be read
    settings: Settings


def do_what_is_due(watch: Watch) -> Round:
    """Make the looks whose time has come, and send everything that is owed.

    A garden file that cannot be read, and even a fault of our own, is told to the person: then nobody can see.
    """
    in_use = settings_in_use(watch.settings, watch.book.path)
    if in_use.fault is not None:
        watch.log("settings", ended="failed", why=str(in_use.fault))
    watch, settings = replace(watch, settings=in_use.file), in_use.settings
    channels = watch.channels(settings)
    try:
        garden = load_garden(watch.garden)
        claim(watch.book, garden)
    except (FrostguardError, OSError) as exc:
        here = watch.now().astimezone()  # without a place the machine's clock counts
        evening = datetime.combine(here.date(), settings.nightly.evening).astimezone()
        if watch.book.on_disk or timedelta(0) <= watch.now() - evening <= schedule.UNREMEMBERED:
            _tell_that_nobody_sees(watch, settings, channels, exc, evening.date(), here.tzinfo or UTC)
        return Round((), False, 0, None, settings)
    zone = ZoneInfo(garden.site.time_zone)
    _tell_once(watch, channels, settings_notice(in_use, watch.now().astimezone(zone)))
    looks, taken = due_looks(watch.book, garden.site, settings, watch.now()), Taken(well=True)
    until = schedule.next_message(watch.now(), garden.site, settings)
    until = quiet_until(until, settings.notices) or until
    sent = len(_send(watch, channels, zone, until, asides_wait=bool(looks)))  # what an earlier run left
    for planned in looks:
        taken = take_look(watch, garden, settings, channels, planned, taken)
    deliveries = _send(watch, channels, zone, until)
    sent += sum(one.delivered for one in deliveries)
    well = taken.well and (not deliveries or any(one.delivered for one in deliveries))
    return Round(looks, well and watch.book.on_disk, sent, garden.site.time_zone, settings)


@dataclass(frozen=True, slots=True)
class Taken:
    """How the looks of a round went so far, and the message that waits for the next one's to go out with it."""

    well: bool
    waiting: Notice | None = None


def take_look(
    watch: Watch,
    garden: Garden,
    settings: Settings,
    channels: Sequence[Channel],
    planned: Planned,
    before: Taken,
) -> Taken:
    """Plan the night, put down what is owed, and all that belongs to it; one message for all looks of a round."""
    book, now = watch.book, watch.now()
    run = nights.begin_run(book, planned.look, planned.night, now)
    if not book.on_disk and schedule.is_unremembered(planned.at, now):
        return replace(before, well=False)
    waiting = before.waiting
    if waiting is not None and waiting.not_before is not None:
        waiting = None  # tonight's, held by the quiet hours, comes too late; tomorrow's goes its own way
    try:
        moment, answer = _look_at(watch, garden, settings, planned, now)
        if waiting is not None:  # what goes out with it rings with it
            others = tuple(pushed for pushed in moment.pushes if abs(pushed - waiting.made_at) >= A_SECOND)
            moment = replace(moment, pushes=others)
        notice = with_report(_with_trouble(owed(moment), book.trouble), answer, channels, watch.log)
        asides: tuple[Notice, ...] = ()
        if notice is not None:
            asides = outbox.asides(book)
            rings = not has_rung_this_evening(moment.pushes, moment.clock.local(now))
            notice = with_asides(notice, asides, rings=rings)
        found, ended = _found(moment, notice), _ended(moment)

        def put_down(connection: sqlite3.Connection) -> None:
            _put_down(connection, run, moment, answer, notice, waiting, found, channels, planned)
            for aside in asides:
                outbox.withdraw(connection, aside.key)
            nights.end_run(connection, run, ended, watch.now(), "" if notice is None else notice.key)

        book.write(put_down)
    except Exception as exc:
        failure = type(exc).__name__
        book.write(lambda connection: nights.end_run(connection, run, Ended.FAILED, watch.now(), failure))
        watch.log("look", look=planned.look.value, night=planned.night, ended="failed", why=repr(exc))
        _tell_that_nobody_sees(watch, settings, channels, exc, planned.night, ZoneInfo(garden.site.time_zone))
        return Taken(well=False)
    watch.log(
        "look",
        look=planned.look.value,
        night=planned.night,
        ended=ended.value,
        found=found.value,
        notice=None if notice is None else notice.key,
    )
    if notice is None or waiting is None:
        return replace(before, waiting=notice or waiting)
    return replace(before, waiting=joined(waiting, notice))


def _look_at(
    watch: Watch, garden: Garden, settings: Settings, planned: Planned, now: datetime
) -> tuple[Moment, Answer | None]:
    """Everything that decides what is owed."""
    book = watch.book
    at = schedule.asked_from(planned, now, garden.site)
    query = Query(watch.garden, watch.settings, watch.weather, at.isoformat(), None, None)
    answer: Answer | None = None
    plan: AdvicePlan | Unseen
    try:
        answer = _with_numbers(book, watch.answer(book, query, now=now), planned.look)
    except (WeatherUnavailable, ForecastFormatError) as exc:
        plan = Unseen(exc.message, exc.next_step, planned.night)
        in_force = standing(book, garden, load_catalogue(), now).in_force
    else:
        garden, in_force = answer.garden, answer.in_force
        if answer.unseen is None:
            plan = _aged(answer.plan, at - now)
        else:  # the guess is told as one, and nothing is learnt from its weather
            plan = Unseen(answer.unseen.message, answer.unseen.next_step, planned.night, guess=answer.plan)
            answer = None
    zone = garden.site.time_zone
    moment = Moment(
        now=now,
        look=planned.look,
        garden=garden,
        settings=settings,
        plan=plan,
        days=() if answer is None else days_of_weather(answer.weather, zone),
    )
    moment = with_memory(moment, book, planned.night, in_force)
    pots = {one.pot for one in uncovering(moment) if one.protection in AGAINST_COLD}
    if answer is not None and pots:
        moment = replace(moment, margin_without_k=watch.margins(book, garden, answer, at, pots, now=now))
    return moment, answer


def _with_numbers(book: Logbook, answer: Answer, look: Look) -> Answer:
    """The answer with the numbers by which its jobs will be signed off; at sunrise no new ones are given."""
    if look is not Look.SUNRISE:
        book.write(lambda connection: jobs.reserve_numbers(connection, answer.plan))
    return replace(answer, plan=jobs.with_numbers(book, answer.plan))


def _aged(plan: AdvicePlan, ahead: timedelta) -> AdvicePlan:
    """The plan with its weather's age as of now, not as of the sunrise that it stands at."""
    age_h = plan.weather.age_h
    if age_h is None:
        return plan
    return replace(plan, weather=replace(plan.weather, age_h=max(age_h - ahead / timedelta(hours=1), 0.0)))


def _ended(moment: Moment) -> Ended:
    return Ended.CANNOT_SEE if isinstance(moment.plan, Unseen) else Ended.WELL


def _found(moment: Moment, notice: Notice | None) -> Found:
    """What the night comes to by this look."""
    if isinstance(moment.plan, Unseen) or (notice is not None and notice.kind is NoticeKind.CANNOT_SEE):
        return Found.CANNOT_SEE
    if notice is not None and (tells_the_plan(notice) or notice.kind is NoticeKind.NOTHING_NEW):
        return Found.PLAN
    return Found.NOTHING_TO_DO


def _put_down(
    connection: sqlite3.Connection,
    run: int,
    moment: Moment,
    answer: Answer | None,
    notice: Notice | None,
    waiting: Notice | None,
    found: Found,
    channels: Sequence[Channel],
    planned: Planned,
) -> None:
    """All that this look leaves in the logbook, in one transaction."""
    plan = moment.plan
    told = notice is not None and tells_the_plan(notice)
    carries = notice is not None and found is not Found.NOTHING_TO_DO
    if notice is not None and waiting is not None and outbox.is_untouched(connection, waiting.key):
        notice = joined(waiting, notice)
        outbox.enlarge(connection, notice, channels_for(channels, notice), moment.today, moment.now)
    elif notice is not None:
        outbox.owe(connection, notice, channels_for(channels, notice), moment.today, moment.now)
    if isinstance(plan, AdvicePlan):
        nights.keep_plan(connection, run, plan, moment.now)
        if planned.look is not Look.SUNRISE:
            jobs.keep_jobs(connection, plan, replace_told=told, today=moment.today)
        if told:
            nights.keep_told(connection, plan, moment.now)
    elif told and plan.guess is not None:
        # its jobs can be signed off, and the next look says what has become of them; what was told before stands
        jobs.keep_jobs(connection, plan.guess, replace_told=False, today=moment.today)
        nights.keep_told(connection, plan.guess, moment.now)
    if answer is not None:
        past = [day for day in moment.days if day.date < moment.today]
        nights.keep_days(connection, [(day.date, day.coldest_c, day.mean_c) for day in past])
        if answer.plan.asked_at - moment.now <= IS_NOW:
            keep_wetness(connection, answer.water_fraction, moment.now)
            keep_dark_stays(connection, in_the_dark(answer.garden, answer.in_force), moment.now)
    if planned.look is not Look.SUNRISE:
        key = notice.key if notice is not None and carries else None
        nights.keep_night(connection, planned.night, found, key, moment.now)


def _with_trouble(notice: Notice | None, trouble: LogbookUnusable | None) -> Notice | None:
    """The notice with what is wrong with the logbook, which the person would not learn otherwise."""
    if notice is None or trouble is None:
        return notice
    text = harmless(f"{trouble.message} {trouble.next_step}")
    shown = notice.html.replace("</body>", f"<p>{html.escape(text)}</p>\n</body>", 1)
    return replace(notice, text=f"{notice.text}\n\n{text}", html=shown)


def _send(
    watch: Watch,
    channels: Sequence[Channel],
    zone: tzinfo,
    next_message: datetime | None = None,
    *,
    asides_wait: bool = False,
) -> list[Delivery]:
    return send_what_is_due(
        watch.book,
        channels,
        now=watch.now,
        zone=zone,
        log=watch.log,
        send_one=watch.send_one,
        next_message=next_message,
        asides_wait=asides_wait,
    )


def _tell_once(watch: Watch, channels: Sequence[Channel], notice: Notice | None) -> None:
    if notice is None or notice.key in outbox.said(watch.book):
        return
    names = channels_for(channels, notice)
    watch.book.write(lambda connection: outbox.owe(connection, notice, names, notice.night, notice.made_at))


def _tell_that_nobody_sees(
    watch: Watch, settings: Settings, channels: Sequence[Channel], cause: Exception, night: date, zone: tzinfo
) -> None:
    """A message where not even a look could be made, once a night; the check may go on failing."""
    now = watch.now()
    key = f"check-failed/{night.isoformat()}"
    watch.log("check", ended="failed", why=repr(cause))
    if key not in outbox.said(watch.book):
        _owe_that_nobody_sees(watch, settings, channels, cause, night, now.astimezone(zone), key)
    _send(watch, channels, zone)


def _owe_that_nobody_sees(
    watch: Watch,
    settings: Settings,
    channels: Sequence[Channel],
    cause: Exception,
    night: date,
    local: datetime,
    key: str,
) -> None:
    subject = say("Cannot see tonight: the check could not be made. Look yourself.")
    if isinstance(cause, FrostguardError):
        reason = f"{cause.message} {cause.next_step}"
    else:
        reason = say("The system said: {reason}.", reason=f"{type(cause).__name__}: {cause}")
    rings = not has_rung_this_evening(outbox.pushes(watch.book, local - PUSHES_SINCE), local)
    notice = plain_notice(NoticeKind.CANNOT_SEE, (key,), subject, [subject, reason], local, night, interrupts=rings)
    notice = replace(notice, not_before=quiet_until(local, settings.notices))
    names = channels_for(channels, notice)

    def put_down(connection: sqlite3.Connection) -> None:
        outbox.owe(connection, notice, names, night, local)
        nights.keep_night(connection, night, Found.CANNOT_SEE, key, local)

    watch.book.write(put_down)
