"""How long pots have stood in the dark, from look to look."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from frostguard.advice.plan import Protection
from frostguard.garden.model import Garden
from frostguard.hardiness.strain import DarkStay, days_spent_in_the_dark
from frostguard.logbook.book import Logbook
from frostguard.logbook.measured import moment, stamp
from frostguard.notify.moment import InForce

KEPT = timedelta(days=90)
"""Stays that ended before are forgotten: no plant counts so many days."""

BETWEEN_LOOKS = timedelta(days=1)
"""What was carried out between two looks is taken to have stayed until the later, but no longer than this: too many
hours in the dark rather than too few; estimate."""


def in_the_dark(garden: Garden, in_force: Iterable[InForce]) -> dict[str, datetime | None]:
    """The pots that stand in a dark room, each with the time at which it was carried there, where that is known.

    Parameters
    ----------
    garden : Garden
        As the jobs signed off have left it.
    in_force : iterable of InForce
        The protections in place.
    """
    dark = {spot.name for spot in garden.spots if spot.dark}
    carried = {one.pot: one.since for one in in_force if one.protection is Protection.MOVE}
    return {pot.id: carried.get(pot.id) for pot in garden.pots if pot.spot in dark}


def keep_dark_stays(connection: sqlite3.Connection, pots: Mapping[str, datetime | None], at: datetime) -> None:
    """Put down which pots stand in the dark now, and that the others do not; within a transaction.

    A stay begins when the pot was carried there, or else when it was first seen there.
    """
    connection.executemany(
        "UPDATE dark_stays SET seen = :at WHERE pot = :pot AND goes_on",
        [{"pot": pot, "at": stamp(at)} for pot in pots],
    )
    going_on = {
        row["pot"]: moment(row["seen"]) for row in connection.execute("SELECT pot, seen FROM dark_stays WHERE goes_on")
    }
    connection.executemany(
        "UPDATE dark_stays SET goes_on = 0, seen = :seen WHERE pot = :pot AND goes_on",
        [
            {"pot": pot, "seen": stamp(min(at, seen + BETWEEN_LOOKS))}
            for pot, seen in going_on.items()
            if pot not in pots
        ],
    )
    connection.executemany(
        "INSERT OR REPLACE INTO dark_stays (pot, since, seen, goes_on) VALUES (:pot, :since, :at, 1)",
        [
            {"pot": pot, "since": stamp(min(since or at, at)), "at": stamp(at)}
            for pot, since in pots.items()
            if pot not in going_on
        ],
    )
    connection.execute("DELETE FROM dark_stays WHERE seen < ?", (stamp(at - KEPT),))


def dark_days_spent(book: Logbook, pots: Mapping[str, datetime | None], now: datetime) -> dict[str, float]:
    """Days that each pot has spent in the dark, less those in the light since then [d]; without those of none.

    Parameters
    ----------
    book : Logbook
        Of the looks before.
    pots : mapping of pot id to datetime or None
        From `in_the_dark`: what was carried there since the last look counts from then.
    now : datetime
        Aware.
    """
    stays: dict[str, list[DarkStay]] = {}
    for row in book.rows("SELECT * FROM dark_stays"):
        stays_there = row["goes_on"] and row["pot"] in pots
        stay = DarkStay(moment(row["since"]), None if stays_there else moment(row["seen"]))
        stays.setdefault(row["pot"], []).append(stay)
    for pot, since in pots.items():
        if since is not None:
            stays.setdefault(pot, []).append(DarkStay(since))
    spent = {pot: days_spent_in_the_dark(of_pot, now) for pot, of_pot in stays.items()}
    return {pot: days for pot, days in spent.items() if days > 0.0}
