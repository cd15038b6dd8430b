"""A winter lived through from October to April, by the scheduler and the code that decides when to look."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest

from frostguard.logbook import nights
from frostguard.logbook.nights import Outcome
from tests.unit.notify.test_winter import HARD_FROST_C
from tests.unit.watch.driven import live
from tests.unit.watch.station import ZONE, Station


def assert_sound(station: Station, first: date, last: date) -> None:
    """Every night has come to one of three ends, nothing was said twice, and it rang seldom."""
    ended = Counter()
    with station.book() as book:
        found = nights.outcomes(book, first)
        assert nights.untold_nights(book, last, 400) == ()
        assert book.rows("PRAGMA integrity_check")[0][0] == "ok"
    wanted = [first + timedelta(days=k) for k in range((last - first).days + 1)]
    for night in wanted:
        assert found[night] in (Outcome.PLAN_SENT, Outcome.NOTHING_TO_DO, Outcome.CANNOT_SEE_SENT), night
        ended[found[night]] += 1
    keys = station.ears[0].keys
    assert len(keys) == len(set(keys))
    rang = [notice.made_at.astimezone(ZONE) for notice in station.ears[0].heard if notice.interrupts]
    evenings = Counter(one.date() for one in rang if one.hour >= 17)
    assert not evenings or max(evenings.values()) == 1
    assert ended[Outcome.PLAN_SENT] and ended[Outcome.NOTHING_TO_DO]


def rings_in_mild_weeks(station: Station, first: date, last: date) -> float:
    """Messages that rang a week, on average over weeks without hard frost."""
    weeks = Counter(
        (notice.made_at.astimezone(ZONE).date() - first).days // 7
        for notice in station.ears[0].heard
        if notice.interrupts
    )
    mild = [
        week
        for week in range((last - first).days // 7)
        if all(station.truth(first + timedelta(days=7 * week + k))[0] > HARD_FROST_C for k in range(8))
    ]
    return sum(weeks[week] for week in mild) / max(len(mild), 1)


def test_a_fortnight_with_a_change_of_clocks_and_two_blind_days(tmp_path: Path) -> None:
    """From late October on: every night ends in exactly one way, also the one of 25 hours, and no look is left out."""
    first, last = date(2026, 10, 22), date(2026, 11, 3)
    station = Station(tmp_path, seed=2)
    rounds = live(station, first, last, frozenset({date(2026, 10, 30), date(2026, 10, 31)}))
    assert_sound(station, first, last)
    assert rounds >= 24 * 13 + 1
    with station.book() as book:
        ended = nights.outcomes(book, first)
    assert ended[date(2026, 11, 1)] is Outcome.CANNOT_SEE_SENT or ended[date(2026, 10, 31)] is Outcome.CANNOT_SEE_SENT


@pytest.mark.long
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_whole_winter(tmp_path: Path, seed: int, capsys: pytest.CaptureFixture[str]) -> None:
    """October to April: every night ends in exactly one way, and outside hard frost it rings thrice a week at most."""
    first, last = date(2026, 10, 1), date(2027, 4, 30)
    station = Station(tmp_path, seed=seed)
    live(station, first, last)
    assert_sound(station, first, last)
    average = rings_in_mild_weeks(station, first, last)
    rang = sum(notice.interrupts for notice in station.ears[0].heard)
    with capsys.disabled():
        print(f"\nseed {seed}: {len(station.ears[0].heard)} messages, {rang} rang, {average:.2f} a mild week")
    assert average <= 3.0
