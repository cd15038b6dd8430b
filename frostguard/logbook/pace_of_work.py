"""How fast a person works beside the minutes that jobs are reckoned with, from when they were signed off."""

from __future__ import annotations

from itertools import groupby, pairwise

from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment

BELIEVED_MIN = 60.0
"""Minutes of work that the estimates weigh for when sign-offs speak against them; estimate."""

A_PAUSE, ALL_AT_ONCE = 3.0, 0.25
"""Longer than so many times the reckoned minutes is a pause, shorter than that share of them is ticked off
afterwards: neither tells how long the work took; estimates."""

SLOWEST, FASTEST = 2.5, 0.5
"""Bounds of what is learnt: beyond them it is the sign-offs that are odd; estimate."""

REMEMBERED = 300
"""Sign-offs that count, the newest: some winters' work."""


def pace_of_work(book: Logbook) -> float:
    """Minutes taken over minutes reckoned; 1 as long as nothing was signed off one after the other.

    The time from one sign-off to the next of the same person is the time that the next job took. Jobs that are
    signed off in the same moment count as one.
    """
    rows = book.rows(
        "SELECT sign_offs.name AS name, sign_offs.at AS at, jobs.minutes / jobs.pace AS minutes FROM sign_offs "
        "JOIN jobs ON jobs.number = sign_offs.job WHERE word = 'finished' ORDER BY sign_offs.id DESC LIMIT ?",
        (REMEMBERED,),
    )
    signed = sorted((row["name"], moment(row["at"]), float(row["minutes"])) for row in rows)
    ticks = [
        (name, at, sum(minutes for _, _, minutes in same))
        for (name, at), same in groupby(signed, key=lambda one: one[:2])
    ]
    taken = reckoned = BELIEVED_MIN
    for (before, began, _), (name, ended, minutes) in pairwise(ticks):
        needed = (ended - began).total_seconds() / 60.0
        if before == name and ALL_AT_ONCE * minutes <= needed <= A_PAUSE * minutes:
            taken, reckoned = taken + needed, reckoned + minutes
    return min(max(taken / reckoned, FASTEST), SLOWEST)
