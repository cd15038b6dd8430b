"""A winter lived through by the scheduler of the waiting process, library and all, with a clock set by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from apscheduler.executors import base as executors
from apscheduler.executors.debug import DebugExecutor
from apscheduler.schedulers import base as schedulers
from apscheduler.schedulers.base import BaseScheduler
from apscheduler.triggers import interval

from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings
from frostguard.watch import service
from tests.unit.watch.station import ZONE, Station

HOURLY = 60
A_MOMENT = timedelta(seconds=1)


class WokenByHand(BaseScheduler):  # type: ignore[misc]  # the library has no types
    """The library's scheduler without its thread: whoever holds the clock wakes it."""

    def wakeup(self) -> None:
        """Nobody sleeps here."""

    def shutdown(self, wait: bool = True) -> None:
        """Leave; what it needed is put back by the patch."""
        super().shutdown(wait)


def live(
    station: Station,
    first: date,
    last: date,
    blind: frozenset[date] = frozenset(),
    each_day: Callable[[datetime], None] = lambda _: None,
) -> int:
    """Every look at its time and a round every hour; at three in the afternoon the open jobs are done.

    `each_day` is called once a day before the first round of that day. Returns how many rounds there were.
    """
    rounds = 0
    ends = datetime.combine(last + timedelta(days=1), time(0), tzinfo=ZONE).astimezone(UTC)
    station.clock = datetime.combine(first, time(0), tzinfo=ZONE)
    day: date | None = None
    worked: date | None = None

    class Clock(datetime):
        """What the library takes for the machine's clock."""

        @classmethod
        def now(cls, tz: Any = None) -> Any:
            return station.clock.astimezone(tz)

    def round_() -> None:
        nonlocal rounds, day, worked
        local = station.clock.astimezone(ZONE)
        if local.date() != day:
            day = local.date()
            each_day(local)
        if local.hour >= 15 and worked != local.date():
            worked = local.date()
            station.work()
        station.blind = local.date() in blind
        station.round()
        rounds += 1

    def must_not(event: str, **values: object) -> None:
        pytest.fail(f"{event}: {values}")

    with pytest.MonkeyPatch.context() as patch:
        for module in (executors, schedulers, interval):
            patch.setattr(module, "datetime", Clock)
        patch.setattr(service, "LOOKS_ROUND_MINUTES", HOURLY)
        scheduler = WokenByHand(timezone=ZONE, executors={"default": DebugExecutor()})
        site = load_garden(station.garden).site
        service.put_in(scheduler, round_, site, Settings(), must_not, now=lambda: station.clock)
        scheduler.start()
        while station.clock.astimezone(UTC) < ends:
            wait_s = scheduler._process_jobs()
            assert wait_s is not None, "the scheduler has nothing more to do"
            station.clock = (station.clock.astimezone(UTC) + max(timedelta(seconds=wait_s), A_MOMENT)).astimezone(ZONE)
        scheduler.shutdown(wait=False)
    return rounds
