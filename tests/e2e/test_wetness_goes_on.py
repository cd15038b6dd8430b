"""How wet a pot is, from one day's look to the next: through the logbook, with the real planner and a weather file."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import plans
import pytest

from frostguard.advice.plan import Protection
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.reader import load_garden
from frostguard.logbook import jobs
from frostguard.logbook.book import Logbook, open_logbook
from frostguard.logbook.jobs import Word
from frostguard.logbook.wetness import last_wetness
from frostguard.watch.look import Watch, do_what_is_due
from frostguard.weather.csv_file import write_weather_csv
from frostguard.weather.files import load_weather_of
from frostguard.weather.series import HOUR, series_on_hours, utc_hour
from tests.e2e.command import SAMPLES
from tests.e2e.test_nightly_once import GARDEN
from tests.unit.advice.terraces import simulate_coarsely
from tests.unit.watch.station import ZONE, Ear, in_silence, send_once

DRY_GARDEN = GARDEN.replace("value: high", "wetness: dry")


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """A time of that January."""
    return datetime(2026, 1, day, hour, minute, tzinfo=ZONE)


@pytest.mark.parametrize("past_d", [4, 30])
def test_water_that_was_signed_off_is_in_the_pot_at_the_next_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, past_d: int
) -> None:
    """A pot kept dry is dry at one look, is watered, and is moist at the next day's and the one after; whether the
    weather tells a month of the past, or so little that the logbook must be gone on from."""
    simulate_coarsely(monkeypatch)
    file = tmp_path / "garden.yaml"
    file.write_text(DRY_GARDEN, encoding="utf-8")
    lemon = load_garden(file).pots[0]
    mix = load_catalogue().mixes[lemon.mix]
    with open_logbook(tmp_path / "logbook.sqlite3", now=at(13, 12)) as book:
        assert looked(book, file, at(13, 14), past_d) == pytest.approx(mix.water_fraction["dry"], abs=0.02)
        water(book, at(13, 15))
        assert looked(book, file, at(14, 14), past_d) == pytest.approx(mix.water_fraction["moist"], abs=0.03)
        assert looked(book, file, at(15, 14), past_d) == pytest.approx(mix.water_fraction["moist"], abs=0.05)


def looked(book: Logbook, garden: Path, now: datetime, past_d: int) -> float:
    """The wetness that the logbook has of the lemon once what is due at that time was looked at [m3/m3]."""
    weather = load_weather_of(SAMPLES / "clear-calm-night.csv", load_garden(garden).site, year=2026)
    known = weather.times >= utc_hour(now) - past_d * 24 * HOUR
    values = {name: column[:, known] for name, column in weather.values.items()}
    file = garden.with_name("weather.csv")
    write_weather_csv(file, series_on_hours(weather.times[known], values, weather.provenance))
    watch = Watch(
        garden=garden,
        settings=None,
        weather=file,
        book=book,
        channels=lambda _: [Ear()],
        now=lambda: now,
        send_one=send_once,
        log=in_silence,
    )
    assert do_what_is_due(watch).well
    return last_wetness(book)["lemon"].water_fraction


def water(book: Logbook, now: datetime) -> None:
    """The lemon is watered and that is signed off."""
    plan = plans.plan(night=now.date(), jobs=(plans.job("lemon", Protection.WATER, litres=0.5, start_by=now),))
    book.write(lambda connection: jobs.keep_jobs(connection, plan, replace_told=False, today=now.date()))
    (job,) = (one for one in jobs.listed(book, now.date()) if one.protection is Protection.WATER)
    jobs.sign_off(book, [job], Word.FINISHED, "Ana", now)
