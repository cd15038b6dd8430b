"""Nights of the site: noon to noon on its own clock, 23 or 25 hours long when the clocks change."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from frostguard.garden.model import Site
from frostguard.physics.sun import solar_position, sunrise_sunset
from frostguard.weather.gates import FIRST_MORNING_HOUR


@dataclass(frozen=True, slots=True)
class Night:
    """One night, dated by its evening; times aware.

    `sunup` is the sunrise of the day that ends in the night, `sunset` and `sunrise` are its own. They are
    None where the sun stays up or down, and `midday_dark` tells which.
    """

    date: date
    begins: datetime
    ends: datetime
    sunup: datetime | None
    sunset: datetime | None
    sunrise: datetime | None
    midday_dark: bool

    def hours_in(self, times: NDArray[np.datetime64], after: datetime | None = None) -> NDArray[np.bool_]:
        """Which of the whole hours lie in the night, and later than `after` (the start is never counted)."""
        first = self.begins if after is None else max(self.begins, after)
        return np.asarray((times > utc64(first)) & (times <= utc64(self.ends)))


def utc64(moment: datetime) -> np.datetime64:
    """An aware time as numpy sees it, in UTC without a zone."""
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def from_utc64(moment: np.datetime64, zone: ZoneInfo) -> datetime:
    """A numpy UTC time on the site's clock."""
    naive: datetime = moment.astype("datetime64[s]").item()
    return naive.replace(tzinfo=UTC).astimezone(zone)


def night_of(evening: date, site: Site) -> Night:
    """The night that begins at noon of that date."""
    zone = ZoneInfo(site.time_zone)
    morning = evening + timedelta(days=1)
    sunup, sunset = sunrise_sunset(evening, site.latitude_deg, site.longitude_deg)
    sunrise, _ = sunrise_sunset(morning, site.latitude_deg, site.longitude_deg)
    noon = datetime.combine(evening, time(12), tzinfo=zone)
    height = solar_position(np.array([utc64(noon)]), site.latitude_deg, site.longitude_deg).elevation_deg
    return Night(
        date=evening,
        begins=noon,
        ends=datetime.combine(morning, time(12), tzinfo=zone),
        sunup=None if sunup is None else sunup.astimezone(zone),
        sunset=None if sunset is None else sunset.astimezone(zone),
        sunrise=None if sunrise is None else sunrise.astimezone(zone),
        midday_dark=bool(height[0] < 0.0),
    )


def nights_from(at: datetime, site: Site, count: int) -> tuple[Night, ...]:
    """The coming nights: asked before noon, the one still running is over for planning unless it is dark.

    Before sunrise, and before six, the running night is the first; from then to noon the next evening's is, since
    nothing can be done any more for the one that ends, and whoever is up calls the coming evening tonight.
    """
    local = at.astimezone(ZoneInfo(site.time_zone))
    running = night_of(local.date() - timedelta(days=1), site)
    morning = running.sunrise or running.ends - timedelta(hours=6)
    still_on = local < min(morning, running.ends) and local.hour < FIRST_MORNING_HOUR
    first = running.date if still_on else local.date()
    return tuple(night_of(first + timedelta(days=day), site) for day in range(count))
