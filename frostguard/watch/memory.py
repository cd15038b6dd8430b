"""What the logbook remembers when it is asked what is owed: what was said, planned, done and missed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from frostguard.logbook import jobs, nights, outbox
from frostguard.logbook.book import Logbook
from frostguard.notify.moment import InForce, Moment

EARLIER_RUN = timedelta(hours=6)
"""Two runs so far apart are two forecasts: every model is run at least that often."""

PUSHES_SINCE = timedelta(days=8)


def with_memory(moment: Moment, book: Logbook, night: date, in_force: Sequence[InForce]) -> Moment:
    """The moment with everything that decides whether a thing is said again.

    Parameters
    ----------
    moment : Moment
        By the forecast alone.
    book : Logbook
        Read, not written.
    night : date
        The evening of the night that is looked at.
    in_force : sequence of InForce
        Protections in place, as `logbook.terrace.standing` tells them.
    """
    said = outbox.said(book)
    return replace(
        moment,
        told=nights.told(book, night),
        before=nights.plan_before(book, moment.now, EARLIER_RUN),
        said=said,
        pushes=outbox.pushes(book, moment.now - PUSHES_SINCE),
        in_force=tuple(in_force),
        done=jobs.finished_on(book, night),
        down=tuple(one for one in nights.untold_nights(book, moment.today) if f"down/{one.isoformat()}" not in said),
    )
