"""Firsts and lasts of the season: each once, with the jobs that hang on it in this garden."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import plans
import pytest
from plans import ZONE

from frostguard.advice.plan import AdvicePlan, NightOutlook
from frostguard.garden.notice_settings import NoticeSettings
from frostguard.garden.settings import Settings
from frostguard.notify.days import Day
from frostguard.notify.moment import Look
from frostguard.notify.notice import Notice, NoticeKind
from frostguard.notify.owed import owed
from frostguard.notify.season_jobs import first_night_jobs
from tests.unit.notify.moments import garden, moment

MARKS = (12, 10, 7, 5, 2, 0, -2, -5)


def on(today: date, *coldest_c: float, **changes: Any) -> dict[str, Any]:
    """An evening with nights of these temperatures ahead, low ends two kelvin colder, and nothing said yet."""
    asked = plans.ASKED.replace(year=today.year, month=today.month, day=today.day).astimezone(ZONE)
    nights = tuple(
        NightOutlook(today + timedelta(days=n), c, c - 2.0, False, 0, 0, True) for n, c in enumerate(coldest_c)
    )
    plan = plans.plan(asked_at=asked, night=today, nights=nights)
    return {"now": asked, "plan": plan, **changes}


def season_of(today: date, *coldest_c: float, said: dict[str, date] | None = None, **changes: Any) -> Notice | None:
    """The season's notice of that evening, None where the message is about something else."""
    usual = moment(**on(today, *coldest_c, **changes))
    notice = owed(replace(usual, said=said or {}))
    return notice if notice is not None and any(key.startswith("season/") for key in notice.tells) else None


def passed(year: int, *marks: int) -> dict[str, date]:
    """Marks of that winter that were told."""
    return {f"season/{year}/night/{mark}": date(year, 9, 1) for mark in marks}


@pytest.mark.parametrize(
    ("mark", "today", "words"),
    [
        # 12: late nitrogen keeps growth soft (nursery trials of 1984); tropical plants suffer from about 12.5 degC
        (12, date(2026, 9, 10), "Stop feeding"),
        # 7: pots stay wet from a mean air of 7 to 10 degC (common practice): feet, saucers, reservoirs
        (7, date(2026, 10, 5), "Feet under pots that stand flat"),
        (7, date(2026, 10, 5), "Drain the water reservoirs, or they burst: Blueberry."),
        # 5: citrus comes in at +5 degC (citrus growers)
        (5, date(2026, 10, 12), "Bring in: Lemon by the door."),
        # 2: one night before the first frost (common practice)
        (2, date(2026, 10, 20), "Shut and drain taps, hoses, watering lines and barrels outdoors."),
        (2, date(2026, 10, 20), "Bring in: Pelargoniums x 4."),
        # -2: nurseries cover 30 to 45 days after the first frost, so that plants finish hardening
        (-2, date(2026, 11, 15), "Winter quarters"),
        # -5: Mediterranean plants as late as possible, only for hard frost (common practice)
        (-5, date(2026, 12, 1), "Bring in, or under a roof and wrapped, these last ones: Olive and Rosemary."),
    ],
)
def test_the_first_night_of_a_mark_brings_its_jobs(mark: int, today: date, words: str):
    """When one of the next two nights comes down to the mark, what hangs on it is told, and rings once."""
    warmer = passed(2026, *(other for other in MARKS if other > mark))

    notice = season_of(today, mark + 3.0, mark - 0.5, said=warmer)

    assert notice is not None
    assert notice.kind is NoticeKind.SEASON and notice.interrupts
    assert notice.tells == (f"season/2026/night/{mark}",)
    assert words in " ".join(notice.text.split())
    said = {**warmer, **dict.fromkeys(notice.tells, today)}
    assert season_of(today + timedelta(days=1), mark - 1.0, said=said) is None


def test_a_mark_without_a_job_in_this_garden_does_not_ring():
    """No plant here suffers at 10 degC, so the first such night is told and nothing rings."""
    notice = season_of(date(2026, 9, 25), 9.5, said=passed(2026, 12))

    assert notice is not None and not notice.interrupts
    assert first_night_jobs(10.0, garden()) == []


def test_marks_that_pass_together_are_one_message():
    """Whoever begins in December gets one list, headed by the coldest mark."""
    notice = season_of(date(2026, 12, 1), -2.4)

    assert notice is not None
    assert notice.subject.startswith("First night of -2")
    assert len(notice.tells) == 7
    assert notice.text.count("Bring in") == 3


def test_a_cold_night_three_days_off_is_no_first_yet():
    """The waves of bringing in go by the next 48 hours (common practice)."""
    assert season_of(date(2026, 10, 20), 8.0, 8.0, 1.0, said=passed(2026, 12, 10)) is None


def test_no_first_night_is_told_in_spring_or_summer():
    """A night of 5 degC in May is a last, not a first."""
    for today in (date(2027, 4, 20), date(2027, 7, 3)):
        assert season_of(today, 4.0, 4.0) is None


def test_tubers_are_lifted_at_the_first_frost():
    """Once tops are black and before the pot freezes (extension services): outdoors only."""
    place = garden()
    tubers = next(pot for pot in place.pots if "Dahlia" in pot.label)
    outdoors = replace(place, pots=(replace(tubers, spot="deck"),))

    assert first_night_jobs(0.0, outdoors) == [
        "Lift tubers once their tops are black, and store them frost-free: Dahlia tubers x 3."
    ]
    assert first_night_jobs(0.0, replace(place, pots=(tubers,))) == []  # they lie in the wash room


def test_saucers_come_off():
    """No pot stands in ice (common practice)."""
    place = garden()
    with_saucer = replace(place.pots[0], saucer=True, feet=True, wall="terracotta")

    assert any("Saucers off" in job for job in first_night_jobs(7.0, replace(place, pots=(with_saucer,))))


def test_each_season_has_its_own_firsts():
    """What was told last winter is told again in the next; July parts them."""
    today = date(2027, 10, 20)

    assert season_of(today, 1.5, said=passed(2026, *MARKS)) is not None
    assert season_of(today, 1.5, said=passed(2027, *MARKS)) is None


def test_the_southern_half_of_the_globe_is_half_a_year_on():
    """April is autumn there, and October spring."""
    south = replace(garden(), site=replace(garden().site, latitude_deg=-37.0))

    assert season_of(date(2027, 4, 20), 1.5, garden=south) is not None
    assert season_of(date(2027, 10, 20), 1.5, garden=south) is None


# --- days without thaw -----------------------------------------------------------------------------------


def days_of(today: date, *warmest_c: float, first: int = 0) -> tuple[Day, ...]:
    """Days from so many after today."""
    return tuple(Day(today + timedelta(days=first + n), c - 6.0, c, 4.0, False) for n, c in enumerate(warmest_c))


COLD_MARKS = passed(2026, *MARKS)


def test_the_first_day_without_thaw():
    """From now on roots count, and such days in a row: several nights running destroy pots (horticulture teaching)."""
    today = date(2026, 12, 20)

    notice = season_of(today, -6.0, said=COLD_MARKS, days=days_of(today, 1.0, -1.0, 2.0))

    assert notice is not None
    assert notice.subject == "First day without thaw this season: Mon 21 Dec."
    assert "Water nothing that is frozen" in notice.text
    assert season_of(today, -6.0, said=COLD_MARKS, days=days_of(today, 1.0, 0.5, 2.0, -3.0)) is None


@pytest.mark.parametrize(
    ("warmest_c", "first", "is_told"),
    [
        ((-1.0, -2.0, -1.0), -1, True),  # yesterday, today, tomorrow
        ((-1.0, -2.0, -1.0), 0, True),  # three days to come
        ((-1.0, 0.5, -1.0, -2.0), -1, False),  # a thaw between
        ((-1.0, -2.0, -1.0, 3.0), -4, False),  # over already
        ((-1.0, -2.0, -1.0), 1, False),  # the third lies further off than 48 hours
    ],
)
def test_the_third_day_in_a_row_without_thaw(warmest_c: tuple[float, ...], first: int, is_told: bool):
    """Small pots are frozen through, evergreens cannot drink (common practice: three days, no source)."""
    today = date(2026, 12, 20)
    said = {**COLD_MARKS, "season/2026/no-thaw/1": today}

    notice = season_of(today, -6.0, said=said, days=days_of(today, *warmest_c, first=first))

    assert (notice is not None) is is_told
    if notice is not None:
        assert "Third day in a row without thaw" in notice.subject


# --- spring ----------------------------------------------------------------------------------------------


def spring(today: date, night_c: float, warmest_c: float, **changes: Any) -> Notice | None:
    """An evening in spring with seven such nights and days ahead."""
    return season_of(today, *[night_c] * 7, days=days_of(today, *[warmest_c] * 8), **changes)


def test_unwrap_when_the_days_ahead_are_mild():
    """Permanent wraps come off at a mean of 5 to 7 degC, before buds swell: trials lost plants uncovered too late."""
    notice = spring(date(2027, 3, 5), 3.0, 10.0)

    assert notice is not None and notice.tells == ("season/2026/unwrap",)
    assert "unwrap, vent, and water again" in notice.subject
    assert "do not feed yet" in notice.text
    assert spring(date(2027, 3, 5), 0.0, 6.0) is None

    still_cold = on(date(2027, 3, 5), 3.0, -6.0, days=days_of(date(2027, 3, 5), *[10.0] * 8))
    roots = tuple(replace(night, young_roots_at_risk=3) for night in still_cold["plan"].nights)
    waits = moment(**{**still_cold, "plan": replace(still_cold["plan"], nights=roots)})
    notice = owed(replace(waits, said={}))
    assert notice is not None and "season/2026/unwrap" not in notice.tells


def test_harden_off_when_days_and_nights_are_mild():
    """Days of 12, nights of 7 degC (extension services: days of 10 to 13, nights of 7 for tomatoes)."""
    said = {"season/2026/unwrap": date(2027, 3, 1)}

    notice = spring(date(2027, 4, 10), 7.5, 14.0, said=said)

    assert notice is not None and "season/2026/harden-off" in notice.tells
    assert "harden off" in notice.subject
    assert spring(date(2027, 4, 10), 6.5, 14.0, said=said) is None


def test_citrus_goes_out_after_the_last_night_of_five():
    """They come in at 5 degC, so they go out when no night ahead comes down to it, on a dull day (scorch)."""
    said = {"season/2026/unwrap": date(2027, 3, 1), "season/2026/harden-off": date(2027, 4, 10)}

    notice = spring(date(2027, 5, 2), 8.0, 18.0, said=said)

    assert notice is not None and notice.tells == ("season/2026/last-night/5",)
    assert "on a dull day" in notice.text and "Lemon by the door" in notice.text
    assert spring(date(2027, 5, 2), 6.0, 18.0, said=said) is None  # the low end is 4


def test_plant_out_when_the_date_and_the_nights_agree():
    """Mid-May is common practice, the date can be set; no night ahead may come near frost. "Ice saints" are no rule."""
    said = {f"season/2026/{what}": date(2027, 5, 1) for what in ("unwrap", "harden-off", "last-night/5")}

    assert spring(date(2027, 5, 14), 9.0, 20.0, said=said) is None
    notice = spring(date(2027, 5, 15), 9.0, 20.0, said=said)
    assert notice is not None and notice.tells == ("season/2026/last-frost",)
    for words in ("plant out", "Tubers out into their pots: Dahlia tubers x 3.", "Pelargoniums x 4", "Wash, dry"):
        assert words in notice.text, words
    assert "The usual date of the last frost, Sat 15 May, has come" in " ".join(notice.text.split())
    assert spring(date(2027, 5, 20), 3.5, 15.0, said=said) is None  # the low end is 1.5

    early = Settings(notices=NoticeSettings(last_frost=(4, 20), weekly_letter=None))
    notice = spring(date(2027, 4, 21), 9.0, 20.0, said=said, settings=early)
    assert notice is not None and "in your settings, Tue 20 Apr" in " ".join(notice.text.split())


def test_firsts_and_lasts_are_told_in_the_evening_only():
    """One push an evening, none at other times for what can wait."""
    assert season_of(date(2026, 10, 20), 1.5, look=Look.MORNING) is None


def test_a_plan_is_never_asked_for_what_it_lacks():
    """Without nights or days nothing is said of the season."""
    plan: AdvicePlan = plans.plan(nights=())

    notice = owed(replace(moment(plan=plan), said={}))

    assert notice is not None and notice.kind is NoticeKind.CANNOT_SEE
