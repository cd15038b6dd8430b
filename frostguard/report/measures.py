"""Numbers, times and chances as a person reads them.

One rule for every temperature: to a tenth of a degree, toward danger: what is expected down, a limit up. So a
night reads the same in every line, table, picture and message. A chance is rounded up, and its words are those
of the per cent that stand beside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil, floor, isnan, log
from zoneinfo import ZoneInfo

from frostguard.garden.settings import Units
from frostguard.report.words import decimal, say, say_count, say_in, unbroken

# Exact by definition: the international avoirdupois pound and the mile; the US liquid gallon.
KG_PER_POUND = 0.45359237
LITRES_PER_GALLON = 3.785411784
M_S_PER_MPH = 0.44704
CM_PER_INCH = 2.54
M_PER_FOOT = 0.3048
KJ_PER_BTU = 1.05505585262  # International Table British thermal unit, exact by definition

_NOISE = 1e-6
"""Below this a number counts as on the step: 0.1 + 0.2 must not be rounded up to 0.4."""


def coldest(value_c: float, units: Units) -> str:
    """An expected temperature with its unit, rounded down to a tenth of a degree."""
    return _degrees(_down(_in_unit(value_c, units)), units)


def limit(value_c: float, units: Units) -> str:
    """A limit with its unit, rounded up to a tenth of a degree."""
    return _degrees(_up(_in_unit(value_c, units)), units)


def round_degrees(value_c: float, units: Units) -> str:
    """A temperature to go by at a thermometer, in whole degrees with its unit."""
    return unbroken(f"{decimal(_in_unit(value_c, units), 0)} {degree_unit(units)}")


def coldest_number(value_c: float, units: Units) -> str:
    """The same as `coldest` without its unit, for tables; "-" if not known."""
    return "-" if isnan(value_c) else decimal(_down(_in_unit(value_c, units)), 1)


def limit_number(value_c: float, units: Units) -> str:
    """The same as `limit` without its unit, for tables."""
    return decimal(_up(_in_unit(value_c, units)), 1)


def measured_number(value_c: float, units: Units) -> str:
    """What a thermometer showed, or a mark on an axis, to the nearest tenth without its unit; "-" if not known."""
    return "-" if isnan(value_c) else decimal(_in_unit(value_c, units), 1)


def to_spare(coldest_c: float, limit_c: float, units: Units) -> str:
    """How far a coldest value stays above its limit, in words, by the numbers as shown."""
    margin = _down(_in_unit(coldest_c, units)) - _up(_in_unit(limit_c, units))
    margin = round(margin, 1)  # the difference of two numbers of tenths
    if margin >= 10:
        return say("at least 10 degrees to spare")
    whole = floor(abs(margin) + _NOISE)
    if margin >= 1:
        return say_count("about 1 degree to spare", "about {count} degrees to spare", whole)
    if margin > -1:
        return say("hardly a degree to spare") if margin > 0 else say("nothing to spare")
    return say_count("about 1 degree too cold", "about {count} degrees too cold", ceil(-margin))


def degree_unit(units: Units) -> str:
    """The sign of the temperature unit."""
    return "°F" if units is Units.IMPERIAL else "°C"


def temperature_change(change_k: float, units: Units) -> str:
    """A difference of temperatures with its sign and unit, to a tenth of a degree."""
    shown = difference(change_k, units)
    return shown if shown.startswith("-") else f"+{shown}"


def difference(change_k: float, units: Units) -> str:
    """A difference of temperatures with its unit, to a tenth of a degree."""
    change = change_k * 1.8 if units is Units.IMPERIAL else change_k
    return unbroken(f"{decimal(change, 1)} {degree_unit(units)}")


def difference_at_most(change_k: float, units: Units) -> str:
    """The same of a bound, rounded up."""
    change = change_k * 1.8 if units is Units.IMPERIAL else change_k
    return unbroken(f"{decimal(_up(change), 1)} {degree_unit(units)}")


def wind(speed_m_s: float, units: Units) -> str:
    """A wind speed without its unit, for tables; "-" if not known."""
    if isnan(speed_m_s):
        return "-"
    return decimal(speed_m_s / M_S_PER_MPH if units is Units.IMPERIAL else speed_m_s, 1)


def energy(kj: float, units: Units) -> str:
    """An amount of heat without its unit, to a whole kJ or BTU."""
    return "-" if isnan(kj) else decimal(kj / KJ_PER_BTU if units is Units.IMPERIAL else kj, 0)


def weight(kg: float, units: Units) -> str:
    """A weight to lift, rounded up to a whole kilogram or pound."""
    if units is Units.IMPERIAL:
        return unbroken(say("{number} lb", number=decimal(ceil(kg / KG_PER_POUND - _NOISE), 0)))
    return unbroken(say("{number} kg", number=decimal(ceil(kg - _NOISE), 0)))


def liquid(litres: float, units: Units) -> str:
    """Water or mulch to be poured, to half a litre or a tenth of a US gallon, never nothing."""
    if units is Units.IMPERIAL:
        tenths = max(1, round(litres / LITRES_PER_GALLON * 10))
        return say_count(
            "{number} gallon (US)",
            "{number} gallons (US)",
            1 if tenths == 10 else 2,
            number=_shortest(tenths / 10),
        )
    halves = max(1, round(litres * 2))
    return say_count(
        "{number} litre", "{number} litres", 1 if halves == 2 else 2, number=_shortest(halves / 2)
    )


def planting_depth(shallow_cm: float, deep_cm: float, units: Units) -> str:
    """From where to where bulbs are planted, in centimetres or whole inches."""
    if units is Units.IMPERIAL:
        shallow, deep = (decimal(cm / CM_PER_INCH, 0) for cm in (shallow_cm, deep_cm))
        return unbroken(say("{shallow} to {deep} inches", shallow=shallow, deep=deep))
    return unbroken(say("{shallow} to {deep} cm", shallow=_shortest(shallow_cm), deep=_shortest(deep_cm)))


def flat_size(width_m: float, length_m: float, units: Units) -> str:
    """What a piece of cloth or film measures laid flat, to a tenth of a metre or half a foot."""
    if units is Units.IMPERIAL:
        width, length = (_shortest(round(side / M_PER_FOOT * 2) / 2) for side in (width_m, length_m))
        return unbroken(say("{width} x {length} ft", width=width, length=length))
    width, length = (_shortest(round(side, 1)) for side in (width_m, length_m))
    return unbroken(say("{width} x {length} m", width=width, length=length))


def minutes(amount: float) -> str:
    """Minutes of work, rounded up; hours and minutes from an hour and a half on."""
    whole = ceil(amount - _NOISE)
    if whole < 90:
        return unbroken(say("{number} min", number=str(whole)))
    return unbroken(say("{hours} h {number} min", hours=str(whole // 60), number=str(whole % 60)))


def chance(share: float) -> str:
    """A chance in words and per cent, rounded up.

    The words are the nearest of a few plain fractions to the per cent as shown, by odds.
    """
    percent = ceil(share * 100 - _NOISE)
    if share < 0.01:
        return say("less than 1 chance in 100")
    if share > 0.99:
        return say("almost certain, over 99\u00a0%")
    if percent >= 95:
        return say("almost certain, {percent}\u00a0%", percent=percent)
    nearest = min(_FRACTIONS, key=lambda pair: abs(_log_odds(pair[0] / pair[1]) - _log_odds(percent / 100)))
    if nearest == (1, 2):
        return say("an even chance, {percent}\u00a0%", percent=percent)
    return say_count(
        "about 1 chance in {of}, {percent}\u00a0%",
        "about {count} chances in {of}, {percent}\u00a0%",
        nearest[0],
        of=nearest[1],
        percent=percent,
    )


def per_cent(share: float) -> str:
    """A chance as a bare figure, rounded up, never "0 %"."""
    return say("{percent}\u00a0%", percent=min(max(ceil(share * 100 - _NOISE), 1), 99))


def per_cent_or_none(share: float) -> str:
    """A share of something as a bare figure, rounded up; nothing at all is "0 %"."""
    return say("{percent}\u00a0%", percent=ceil(share * 100 - _NOISE))


_FRACTIONS = (
    (1, 100),
    (1, 50),
    (1, 30),
    (1, 20),
    (1, 10),
    (1, 7),
    (1, 5),
    (1, 4),
    (1, 3),
    (2, 5),
    (1, 2),
    (3, 5),
    (2, 3),
    (3, 4),
    (4, 5),
    (9, 10),
)


@dataclass(frozen=True, slots=True)
class Clock:
    """The site's clock, and the moment from which "today" and "now" are told."""

    time_zone: str
    asked_at: datetime

    def local(self, moment: datetime) -> datetime:
        """The moment on the site's clock."""
        return moment.astimezone(ZoneInfo(self.time_zone))

    def is_past(self, moment: datetime) -> bool:
        """Whether a deadline has come already."""
        return moment <= self.asked_at

    def at(self, moment: datetime) -> str:
        """The time of day, with the day where it is not the day of asking."""
        local, today = self.local(moment), self.local(self.asked_at).date()
        time = f"{local:%H:%M}"
        if local.date() == today:
            return time
        return unbroken(say("{day} {time}", day=self.day(local.date()), time=time))

    def start_by(self, deadline: datetime) -> str:
        """When work is to be begun at the latest: "start by 15:50", or "now"."""
        return say("now") if self.is_past(deadline) else unbroken(say("start by {time}", time=self.at(deadline)))

    def start_first_by(self, deadline: datetime, jobs: int) -> str:
        """When the first of some jobs is to be begun at the latest."""
        if jobs == 1 or self.is_past(deadline):
            return self.start_by(deadline)
        return say("start the first by {time}", time=self.at(deadline))

    def day(self, day: date) -> str:
        """A short day: the weekday alone within the coming six days, else with its date."""
        ahead = day - self.local(self.asked_at).date()
        if timedelta(0) <= ahead <= timedelta(days=6):
            return short_weekday(day)
        return day_and_date(day)


def day_and_date(day: date) -> str:
    """A day as "Wed 2 Dec"."""
    return say("{weekday} {day} {month}", weekday=short_weekday(day), day=day.day, month=_month(day))


def short_weekday(day: date) -> str:
    """The weekday in three letters."""
    names = (
        say_in("weekday", "Mon"),
        say_in("weekday", "Tue"),
        say_in("weekday", "Wed"),
        say_in("weekday", "Thu"),
        say_in("weekday", "Fri"),
        say_in("weekday", "Sat"),
        say_in("weekday", "Sun"),
    )
    return names[day.weekday()]


def weekday(day: date) -> str:
    """The weekday's name."""
    names = (
        say("Monday"),
        say("Tuesday"),
        say("Wednesday"),
        say("Thursday"),
        say("Friday"),
        say("Saturday"),
        say("Sunday"),
    )
    return names[day.weekday()]


def _month(day: date) -> str:
    names = (
        say_in("month", "Jan"),
        say_in("month", "Feb"),
        say_in("month", "Mar"),
        say_in("month", "Apr"),
        say_in("month", "May"),
        say_in("month", "Jun"),
        say_in("month", "Jul"),
        say_in("month", "Aug"),
        say_in("month", "Sep"),
        say_in("month", "Oct"),
        say_in("month", "Nov"),
        say_in("month", "Dec"),
    )
    return names[day.month - 1]


def _in_unit(value_c: float, units: Units) -> float:
    return value_c * 1.8 + 32 if units is Units.IMPERIAL else value_c


def _down(value: float) -> float:
    """The value rounded down to a tenth; NaN stays NaN."""
    return value if isnan(value) else floor(value * 10 + _NOISE) / 10


def _up(value: float) -> float:
    """The value rounded up to a tenth; NaN stays NaN."""
    return -_down(-value)


def _degrees(value: float, units: Units) -> str:
    return say("not known") if isnan(value) else unbroken(f"{decimal(value, 1)} {degree_unit(units)}")


def _shortest(value: float) -> str:
    return decimal(value, 0 if value == int(value) else 1)


def _log_odds(share: float) -> float:
    return log(share / (1 - share))


def pieces(count: float) -> str:
    """A number of pieces, rounded up to a half."""
    return _shortest(ceil(count * 2 - _NOISE) / 2)
