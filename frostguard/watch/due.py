"""Which looks are due by what the logbook knows of earlier ones."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.logbook import jobs, nights
from frostguard.logbook.book import Logbook
from frostguard.logbook.nights import Ended
from frostguard.watch import schedule
from frostguard.watch.schedule import Planned

AGAIN_AFTER_BLINDNESS = timedelta(hours=1)
"""When a look that could not see is made again; a service that is down is often back by then (estimate)."""


def due_looks(book: Logbook, site: Site, settings: Settings, now: datetime) -> tuple[Planned, ...]:
    """The looks that are due; one that could not see is due again after a while, one that was stopped at once."""
    runs = nights.runs(book, now - timedelta(days=3))

    def is_done(planned: Planned) -> bool:
        return any(
            run.ended is Ended.WELL or (run.ended is not None and abs(now - run.started) < AGAIN_AFTER_BLINDNESS)
            for run in runs
            if run.look is planned.look and run.night == planned.night
        )

    def is_looked_at(night: date) -> bool:
        return any(run.night == night and run.ended is not None for run in runs)

    covers_on = any(not one.is_off_by_itself(now) for one in jobs.in_force(book))
    return schedule.due(
        now, site, settings, is_done=is_done, is_looked_at=is_looked_at, covers_on=covers_on
    )
