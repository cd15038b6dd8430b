"""The process that waits for the next look; each round is made by a process of its own.

So the waiting one stays small, and whatever goes wrong in a round, it lives to see the next.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import FrameType
from typing import Any
from zoneinfo import ZoneInfo

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.schedulers.base import BaseScheduler
from apscheduler.schedulers.blocking import BlockingScheduler
from apscheduler.triggers.base import BaseTrigger
from apscheduler.triggers.combining import OrTrigger
from apscheduler.triggers.interval import IntervalTrigger

from frostguard import places
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.logbook import outbox
from frostguard.logbook.book import open_logbook
from frostguard.logbook.damage import Condition, condition_of
from frostguard.watch import schedule
from frostguard.watch.log import Log

LOOKS_ROUND_MINUTES = 10
"""How often it is seen whether something is left over: a failed message, a look missed in the machine's sleep."""

LONGEST_ROUND_S = 900.0
"""A round takes a minute or two; one that hangs is ended, and the next finds what it left."""

TIME_TO_STOP_S = 20.0


class LooksTrigger(BaseTrigger):  # type: ignore[misc]  # the library has no types
    """Fires at each look of the schedule."""

    def __init__(self, site: Site, settings: Settings) -> None:
        self._site = site
        self._settings = settings

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        """The next look after the previous one; what was missed is not fired one by one."""
        after = now if previous_fire_time is None else max(previous_fire_time, now - schedule.GRACE)
        return next(schedule.coming(after, self._site, self._settings)).at


def _machine_clock() -> datetime:
    return datetime.now(UTC)


def put_in(
    scheduler: BaseScheduler,
    round_: Callable[[], None],
    site: Site,
    settings: Settings,
    log: Log,
    *,
    now: Callable[[], datetime] = _machine_clock,
) -> None:
    """Give the scheduler its one job, with everything that the library would otherwise guess said in so many words."""
    zone = ZoneInfo(site.time_zone)
    often = IntervalTrigger(minutes=LOOKS_ROUND_MINUTES, timezone=zone)
    scheduler.add_job(
        round_,
        OrTrigger([LooksTrigger(site, settings), often]),
        id="looks",
        misfire_grace_time=int(schedule.GRACE / timedelta(seconds=1)),
        coalesce=True,
        max_instances=1,
        next_run_time=now().astimezone(zone),  # what was missed while nothing ran is made up for at once
    )

    def report(event: JobExecutionEvent) -> None:
        missed = event.code == EVENT_JOB_MISSED
        log("scheduler", ended="missed" if missed else "failed", why=None if missed else repr(event.exception))

    scheduler.add_listener(report, EVENT_JOB_ERROR | EVENT_JOB_MISSED)


@dataclass
class Service:
    """The waiting process.

    Parameters
    ----------
    garden, settings_file
        As named on the command line, for the rounds.
    site, settings
        As they were read at the start; a change of place or times needs a new start.
    log : Log
        Told what happens.
    """

    garden: Path
    settings_file: Path | None
    site: Site
    settings: Settings
    log: Log
    _at_work: subprocess.Popen[bytes] | None = None
    _stopping: threading.Event = field(default_factory=threading.Event)

    def run(self) -> None:
        """Wait and look, until the process is told to stop."""
        scheduler = BlockingScheduler(timezone=ZoneInfo(self.site.time_zone))
        put_in(scheduler, self.make_round, self.site, self.settings, self.log)

        def stop(number: int, _frame: FrameType | None) -> None:
            if self._stopping.is_set():
                return
            self._stopping.set()
            self.log("service", ended="stopping", signal=number)
            if self._at_work is not None:
                self._at_work.terminate()
            # not from within the signal: the scheduler's own lock may be held by the thread that was interrupted
            threading.Thread(target=_shut_down, args=(scheduler,), daemon=True).start()

        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, stop)
        coming = next(schedule.coming(datetime.now(UTC), self.site, self.settings))
        next_at = coming.at.isoformat(timespec="minutes")
        self.log("service", ended="waiting", next_look=coming.look.value, next_at=next_at)
        scheduler.start()
        if self._at_work is not None:
            self._end(self._at_work)
        self.log("service", ended="stopped")

    def make_round(self) -> None:
        """Do what is due in a process of its own, if there is anything."""
        if self._stopping.is_set() or not self._something_is_due():
            return
        command: list[Any] = [sys.executable, "-m", "frostguard", "nightly", "--once", "--garden", self.garden]
        if self.settings_file is not None:
            command += ["--settings", self.settings_file]
        self._at_work = subprocess.Popen([str(part) for part in command], stdin=subprocess.DEVNULL)
        try:
            code = self._at_work.wait(LONGEST_ROUND_S)
        except subprocess.TimeoutExpired:
            self._end(self._at_work)
            self.log("round", ended="took too long and was ended")
            return
        finally:
            self._at_work = None
        if code != 0 and not self._stopping.is_set():
            self.log("round", ended="failed", code=code)

    def _something_is_due(self) -> bool:
        from frostguard.watch.due import due_looks

        path = places.logbook_file()
        if not path.exists() or condition_of(path) is not Condition.SOUND:
            return True  # the round makes, mends or reports it
        with open_logbook(path) as book:
            now = datetime.now(UTC)
            return bool(outbox.due(book, now)) or bool(due_looks(book, self.site, self.settings, now))

    def _end(self, process: subprocess.Popen[bytes]) -> None:
        process.terminate()
        try:
            process.wait(TIME_TO_STOP_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _shut_down(scheduler: BaseScheduler) -> None:
    """Stop the scheduler, which may be only about to start."""
    while not scheduler.running:
        time.sleep(0.05)
    scheduler.shutdown(wait=False)
