"""Firsts and lasts of the season: each is told once, with the jobs that hang on it in this garden."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from frostguard.advice.plan import AdvicePlan, Caution, NightOutlook
from frostguard.notify.days import Day
from frostguard.notify.matter import Matter, Section
from frostguard.notify.moment import Look, Moment
from frostguard.notify.notice import NoticeKind
from frostguard.notify.season_jobs import FIRST_NIGHTS_C, first_night_jobs, last_frost_jobs, warm_night_jobs
from frostguard.report import measures
from frostguard.report.words import say

AHEAD_D = 2
"""Days ahead that count: "within 48 hours", as the waves of bringing in are timed (common practice)."""

AUTUMN_MONTHS = frozenset({8, 9, 10, 11, 12, 1, 2})
SPRING_MONTHS = frozenset({2, 3, 4, 5, 6})
"""Months of the northern half of the globe in which firsts and lasts are told; six months on in the south."""

UNWRAP_MEAN_C = 6.0
"""Mean of the coming days from which permanent wraps come off, before buds swell (practice: 5 to 7 degC)."""

HARDEN_OFF_DAY_C, HARDEN_OFF_NIGHT_C = 12.0, 7.0
"""Warmest of the day and coldest of the night from which young plants are hardened off (extension services
give days of 10 to 13 degC and nights of 7 degC)."""

CITRUS_OUT_C = 5.0
"""Citrus comes in at nights of 5 degC, so it goes out after the last of them (trade, with a source in practice)."""

FROST_NEAR_C = 2.0
"""Screen air under which leaves may freeze in a clear night (US frost advisories: 0.6 to 2.2 degC)."""

USUAL_LAST_FROST = (5, 15)
"""Mid-May, half a year later in the south: common practice where the place's own record is not known."""

MANY_D = 5
"""Days ahead that make "the coming days" or "the coming nights"; estimate."""

IN_A_ROW_D = 3
"""Days without thaw after which roots of every pot are in question; common practice."""


def season_matters(moment: Moment, plan: AdvicePlan) -> list[Matter]:
    """Every first and last that is due and was not told this season; in the evening only."""
    if moment.look is not Look.EVENING:
        return []
    month = _northern_month(moment)
    matters: list[Matter | None] = []
    if month in AUTUMN_MONTHS:
        matters.append(_first_night(moment, plan))
        matters += [_first_day_without_thaw(moment), _third_day_without_thaw(moment)]
    if month in SPRING_MONTHS:
        matters += [
            _unwrap(moment, plan),
            _harden_off(moment, plan),
            _last_cold_night(moment, plan),
            _last_frost(moment, plan),
        ]
    return [matter for matter in matters if matter is not None and not moment.is_said(matter.keys[0])]


# --- autumn and winter -----------------------------------------------------------------------------------


def _first_night(moment: Moment, plan: AdvicePlan) -> Matter | None:
    """The coldest mark that one of the next two nights passes; marks passed with it are told in one."""
    near = [night.coldest_air_c for night in plan.nights if night.date - moment.today < timedelta(days=AHEAD_D)]
    coldest = min(near, default=99.0)
    new = [mark for mark in FIRST_NIGHTS_C if coldest <= mark and not moment.is_said(_key(moment, f"night/{mark:g}"))]
    if not new:
        return None
    mark = measures.limit(min(new), moment.settings.units)
    items = [item for passed in new for item in first_night_jobs(passed, moment.garden)]
    subject = say("First night of {mark} this season.", mark=mark)
    return _matter([_key(moment, f"night/{one:g}") for one in sorted(new)], subject, "", items)


def _first_day_without_thaw(moment: Moment) -> Matter | None:
    coming = [day for day in moment.days if timedelta(0) <= day.date - moment.today <= timedelta(days=AHEAD_D)]
    frozen = next((day for day in coming if not day.thaws), None)
    if frozen is None:
        return None
    subject = say("First day without thaw this season: {day}.", day=measures.day_and_date(frozen.date))
    why = say("From now on it is the roots that count, and how many such days follow one another.")
    items = [
        say("Water nothing that is frozen; wait for a thaw."),
        say("Wrap no pot that is frozen through: the wrap would keep the cold in."),
    ]
    return _matter([_key(moment, "no-thaw/1")], subject, why, items)


def _third_day_without_thaw(moment: Moment) -> Matter | None:
    last = moment.today + timedelta(days=AHEAD_D)
    run: list[Day] = []
    for day in moment.days:
        follows = bool(run) and day.date - run[-1].date == timedelta(days=1)
        if day.thaws or day.date > last:
            if len(run) >= IN_A_ROW_D and run[-1].date >= moment.today:
                break
            run = []
            continue
        run = [*run, day] if follows else [day]
    if len(run) < IN_A_ROW_D or run[-1].date < moment.today:
        return None
    subject = say("Third day in a row without thaw: {day}.", day=measures.day_and_date(run[IN_A_ROW_D - 1].date))
    why = say("Small pots are frozen through, large ones freeze on, and evergreens cannot drink.")
    items = [
        say("Shade evergreens from wind and sun; they dry out while their roots are frozen."),
        say("Look into unheated rooms: they follow the cold with days of delay and may freeze now."),
        say("Carry nothing heavy over ice; what is frozen to the floor stays."),
    ]
    return _matter([_key(moment, "no-thaw/3")], subject, why, items)


# --- spring ----------------------------------------------------------------------------------------------


def _unwrap(moment: Moment, plan: AdvicePlan) -> Matter | None:
    coming = [day for day in moment.days if day.date > moment.today][:MANY_D]
    if len(coming) < MANY_D or sum(day.mean_c for day in coming) / MANY_D <= UNWRAP_MEAN_C:
        return None
    if any(night.young_roots_at_risk for night in plan.nights[:MANY_D]):
        return None  # wraps are for roots, and some are still needed
    subject = say("Spring begins: unwrap, vent, and water again.")
    why = say("The coming days are mild enough for buds to swell, and covered buds swell too early.")
    items = [
        say("Take permanent wraps off plants that drop their leaves before their buds swell; keep fleece at hand."),
        say("Open or take off what covers evergreens by day."),
        say("Water again where the mix is dry; do not feed yet."),
    ]
    return _matter([_key(moment, "unwrap")], subject, why, items)


def _harden_off(moment: Moment, plan: AdvicePlan) -> Matter | None:
    days = [day for day in moment.days if day.date > moment.today][:IN_A_ROW_D]
    nights = _coming(plan, IN_A_ROW_D)
    mild = (
        len(days) == IN_A_ROW_D == len(nights)
        and all(day.warmest_c >= HARDEN_OFF_DAY_C for day in days)
        and all(night.coldest_air_c >= HARDEN_OFF_NIGHT_C for night in nights)
    )
    if not mild:
        return None
    subject = say("Mild enough to harden off young plants.")
    why = say("It takes one to two weeks: some hours in shade and shelter first, then longer, then the nights.")
    items = [
        say("Begin with seedlings and whatever wintered in the warm; in again for nights under {limit}.",
            limit=measures.limit(HARDEN_OFF_NIGHT_C, moment.settings.units)),
    ]
    return _matter([_key(moment, "harden-off")], subject, why, items)


def _last_cold_night(moment: Moment, plan: AdvicePlan) -> Matter | None:
    nights = _coming(plan, MANY_D)
    if len(nights) < MANY_D or _northern_month(moment) < 4 or any(
        night.coldest_air_c_p10 <= CITRUS_OUT_C for night in nights
    ):
        return None
    mark = measures.limit(CITRUS_OUT_C, moment.settings.units)
    subject = say("The last night of {mark} is probably past.", mark=mark)
    items = warm_night_jobs(moment.garden)
    return _matter([_key(moment, "last-night/5")], subject, "", items) if items else None


def _last_frost(moment: Moment, plan: AdvicePlan) -> Matter | None:
    nights = _coming(plan, MANY_D)
    last_frost = _last_frost_day(moment)
    if len(nights) < MANY_D or moment.today < last_frost:
        return None
    tonight = moment.day(moment.today + timedelta(days=1))  # the plan begins with tomorrow's night
    if tonight is not None and tonight.coldest_c <= FROST_NEAR_C:
        return None
    if any(night.coldest_air_c_p10 <= FROST_NEAR_C for night in nights):
        return None
    subject = say("The last frost is probably past: plant out.")
    day = measures.day_and_date(last_frost)
    known = moment.settings.notices.last_frost is not None
    date_told = (
        say("The date of the last frost in your settings, {day}, has come.", day=day)
        if known
        else say("The usual date of the last frost, {day}, has come; yours may be another: last_frost in the settings.",
                 day=day)
    )  # fmt: skip
    ahead = say(
        "No night in sight comes near frost. That is a date and a forecast, no promise: keep a fleece at hand for two "
        "weeks more."
    )
    why = f"{date_told} {ahead}"
    return _matter([_key(moment, "last-frost")], subject, why, last_frost_jobs(moment.garden))


def _coming(plan: AdvicePlan, count: int) -> Sequence[NightOutlook]:
    return [night for night in plan.nights if night.complete][:count]


# --- the year of the plants ------------------------------------------------------------------------------


def _matter(keys: Sequence[str], subject: str, why: str, items: Sequence[str]) -> Matter:
    return Matter(
        kind=NoticeKind.SEASON,
        keys=tuple(keys),
        subject=subject,
        lead=" ".join(part for part in (subject, why) if part),
        brief=items[0] if items else "",
        sections=(Section(say("What hangs on it, once this season"), tuple(items)),),
        cautions=(Caution.HEAVY, Caution.FLOOR_LOAD, Caution.ESCAPE_ROUTE) if items else (),
        interrupts=bool(items),
    )


def _is_north(moment: Moment) -> bool:
    return moment.garden.site.latitude_deg >= 0


def _northern_month(moment: Moment) -> int:
    """The month that is as far into the year of the plants in the northern half of the globe."""
    month = moment.today.month
    return month if _is_north(moment) else (month + 5) % 12 + 1


def _key(moment: Moment, what: str) -> str:
    """A key that is good for one winter: autumn, the winter, and the spring after it."""
    first_month = 7 if _is_north(moment) else 1
    year = moment.today.year if moment.today.month >= first_month else moment.today.year - 1
    return f"season/{year}/{what}"


def _last_frost_day(moment: Moment) -> date:
    month, day = moment.settings.notices.last_frost or USUAL_LAST_FROST
    if not _is_north(moment) and moment.settings.notices.last_frost is None:
        month = (month + 5) % 12 + 1
    return date(moment.today.year, month, day)
