"""Degrees Fahrenheit that are taken for degrees Celsius would give an all-clear; they are found out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.garden.reader import load_garden
from frostguard.weather.another_unit import refuse_impossible_warmth, warm_day_c
from frostguard.weather.files import load_weather, load_weather_of
from tests.e2e.command import frostguard
from tests.unit.weather.test_weather_gates import series_of

SAMPLES = sorted(path for path in Path("samples").glob("*.csv") if path.name != "thermometer.csv")


def ljubljana() -> Site:
    return load_garden(Path("config/garden.yaml")).site


def written(path: Path, air: list[float], *others: str, start: str = "2026-01-14T00") -> Path:
    """A table of an air column and constant other columns, written as name=value."""
    times = np.datetime64(start, "h") + np.arange(len(air))
    names = ",".join(["time", "air_temperature_c", *(one.split("=")[0] for one in others)])
    rest = "".join("," + one.split("=")[1] for one in others)
    rows = [f"{time}:00:00Z,{value:.1f}{rest}" for time, value in zip(times, air, strict=True)]
    path.write_text("\n".join([names, *rows]) + "\n", encoding="utf-8")
    return path


def frost_in_f(lowest_f: float = 22.0, days: int = 4) -> list[float]:
    hours = np.arange(24 * days)
    return (lowest_f + 7.0 - 7.0 * np.cos((hours % 24 - 5) * np.pi / 12)).tolist()


@pytest.mark.parametrize("air", [frost_in_f(), frost_in_f(18.0), [50.0] * 72, frost_in_f()[:12]])
def test_a_frost_in_fahrenheit_is_no_mild_night(tmp_path: Path, air: list[float]) -> None:
    """January air of 22 to 36, or a constant 50, is refused at 46 N and told as what it looks like."""
    with pytest.raises(ForecastFormatError, match="looks like degrees Fahrenheit") as raised:
        load_weather_of(written(tmp_path / "f.csv", air), ljubljana())
    assert "/ 1.8" in raised.value.next_step


@pytest.mark.parametrize(("lowest_f", "told"), [(5.0, True), (1.0, True), (-2.0, False)])
def test_a_very_hard_frost_in_fahrenheit_that_reads_as_a_mild_day_is_told(
    tmp_path: Path, lowest_f: float, told: bool
) -> None:
    """-15 to -7 degC stand as 5 to 19: possible in January, so told and not refused; what shows frost anyway is not."""
    series = load_weather_of(written(tmp_path / "f.csv", frost_in_f(lowest_f)), ljubljana())
    assert ("unit-in-doubt" in series.notes) is told


@pytest.mark.parametrize(
    ("air", "others"),
    [([3.0, 6.0] * 36, ()), ([9.0, 15.0] * 36, ("dew_point_c=5", "relative_humidity_percent=60"))],
)
def test_ordinary_and_proven_days_are_not_doubted(tmp_path: Path, air: list[float], others: tuple[str, ...]) -> None:
    """An ordinary January day at 46 N, and a mild one whose humidity fits degrees Celsius alone."""
    assert load_weather_of(written(tmp_path / "c.csv", air, *others), ljubljana()).notes == ()


def test_a_heading_of_ones_own_does_not_settle_the_unit(tmp_path: Path) -> None:
    """Twelve degrees in January are doubted under the name of any station; a service says its unit."""
    path = written(tmp_path / "f.csv", [12.0, 12.5] * 36)
    table = path.read_text(encoding="utf-8")
    for service, doubted in (("my weather station", True), ("met-norway", False)):
        path.write_text(f"# service: {service}\n{table}", encoding="utf-8")
        assert ("unit-in-doubt" in load_weather_of(path, ljubljana()).notes) is doubted


def test_a_spring_frost_in_fahrenheit_is_refused(tmp_path: Path) -> None:
    """Twenty-eight to 42 degF in April, when buds are out."""
    path = written(tmp_path / "f.csv", frost_in_f(28.0), start="2026-04-18T00")
    with pytest.raises(ForecastFormatError, match="Fahrenheit"):
        load_weather_of(path, ljubljana())


def test_moisture_tells_the_unit_without_a_place(tmp_path: Path) -> None:
    """Dew point -6 degC at 80 % cannot go with 26 degC; a dew point of 20 cannot go with air of -3 degC."""
    with pytest.raises(ForecastFormatError, match="air temperature looks like degrees Fahrenheit"):
        load_weather(written(tmp_path / "a.csv", [26.0] * 48, "dew_point_c=-6", "relative_humidity_percent=80"))
    with pytest.raises(ForecastFormatError, match="dew point stands above"):
        load_weather(written(tmp_path / "b.csv", [-3.0] * 48, "dew_point_c=20"))


def test_the_command_gives_no_all_clear(tmp_path: Path) -> None:
    """The evening's question leaves with 1 and the way out, not with nothing to do."""
    path = written(tmp_path / "f.csv", frost_in_f())
    call = ("tonight", "--garden", "config/garden.yaml", "--weather", path, "--at", "2026-01-15T14:00", "--days", "1")
    reply = frostguard(*call)
    assert reply.exit_code == 1 and reply.stdout == "" and "looks like degrees Fahrenheit" in reply.stderr


def test_dry_heat_and_foehn_are_believed(tmp_path: Path) -> None:
    """Desert air of 42 degC with a dew point of 2 (8 %), and foehn of 15 degC in January at 46 N, stand."""
    load_weather(written(tmp_path / "a.csv", [42.0] * 48, "dew_point_c=2", "relative_humidity_percent=8"))
    load_weather_of(written(tmp_path / "b.csv", [15.0] * 48), ljubljana())


def test_summers_are_warm_on_both_halves_of_the_earth() -> None:
    """A January day of 33 degC is believed at 34 S, not at 46 N; a July day the reverse."""
    january = series_of("2026-01-14T00:00:00", air_temperature_c=[33.0] * 72)
    july = series_of("2026-07-14T00:00:00", air_temperature_c=[33.0] * 72)
    refuse_impossible_warmth(january, -34.0, "test")
    refuse_impossible_warmth(july, 46.0, "test")
    for series, latitude in ((january, 46.0), (july, -34.0)):
        with pytest.raises(ForecastFormatError):
            refuse_impossible_warmth(series, latitude, "test")


@pytest.mark.parametrize(
    ("latitude_deg", "day", "mean_c"),
    [  # warmest days or months on record, from memory
        (36.5, "2018-07-15", 42.3),  # Death Valley, the whole month
        (50.2, "2021-06-29", 36.0),  # Lytton
        (51.5, "2022-07-19", 32.0),  # London
        (23.0, "2018-06-26", 42.6),  # Quriyat, lowest of the night
        (47.0, "2023-01-01", 15.0),  # north of the Alps at New Year
        (28.0, "2020-02-22", 26.0),  # Canary Islands with dust
        (-38.0, "2009-02-07", 34.0),  # Melbourne
    ],
)
def test_records_lie_within_the_envelope(latitude_deg: float, day: str, mean_c: float) -> None:
    """What has been measured is never called impossible."""
    assert warm_day_c(latitude_deg, np.datetime64(day)) >= mean_c


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_samples_are_believed(path: Path) -> None:
    """The samples are read for the demo garden; their air in degrees Fahrenheit is not."""
    series = load_weather_of(path, ljubljana())
    in_f = {**series.values, "air_temperature_c": series.values["air_temperature_c"] * 1.8 + 32.0}
    with pytest.raises(ForecastFormatError):
        refuse_impossible_warmth(replace(series, values=in_f), 46.05, "test")


@pytest.mark.parametrize(
    ("name", "latitude_deg"),
    [
        ("brightsky_weather_berlin_2025-09.json", 52.5),
        ("nws_gridpoint_TAE_2022-02.json", 30.4),
        ("openmeteo_ensemble_geps_whistler_2025-12_excerpt.json", 50.1),
        ("openmeteo_forecast_toronto_2026-03.json", 43.7),
    ],
)
def test_recorded_answers_are_believed(feeds: Path, name: str, latitude_deg: float) -> None:
    """No recorded answer is refused at the place that it was asked for."""
    refuse_impossible_warmth(load_weather(feeds / name), latitude_deg, name)
