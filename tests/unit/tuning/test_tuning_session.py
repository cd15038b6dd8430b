"""From readings in the logbook to what may be learnt of them: wrong ones are found before anything is fitted."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, timedelta

import numpy as np
import pytest

from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import prepare_terrace
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Surroundings
from frostguard.logbook.measured import Reading
from frostguard.report.readings import render_session
from frostguard.tuning.gates import Trouble
from frostguard.tuning.probe import Place, Probe
from frostguard.tuning.session import Heard, learn, listen, with_measured_air
from frostguard.tuning.suggest import NIGHTS, suggest
from frostguard.tuning.terrace_model import Thermometer
from frostguard.tuning.tune import model_of
from frostguard.weather.night_errors import SiteHabits
from tests.unit.advice.terraces import ASKED, big_pot, garden, weather

from .terrace_with_probes import deck

HOURS = 24 * 8


def mild_week():
    """Eight days whose air swings by five degrees either way, with sun at noon."""
    clock = np.arange(-HOURS, 49)
    hour = (clock + 15) % 24
    return weather(
        lambda c: 3.0 + 5.0 * np.cos((c - 14.0) / 24.0 * 2.0 * np.pi) + np.sin(c / 30.0),
        past_h=HOURS,
        cloud_cover_percent=10.0,
        global_horizontal_w_m2=np.where((hour > 9) & (hour < 16), 300.0, 0.0),
    )


def readings(sky, values, place: str, *, pot=None, spot=None, shift=timedelta()) -> list[Reading]:
    """Hourly readings of one thermometer."""
    times = [time.astype("datetime64[s]").item().replace(tzinfo=UTC) + shift for time in sky.times]
    return [Reading("one", at, float(v), place, pot, spot) for at, v in zip(times, values, strict=True)]


def troubles(found: tuple[Heard, ...]) -> set[Trouble]:
    return {finding.trouble for one in found for finding in one.findings if finding.refuses}


@pytest.mark.parametrize(
    ("wrong", "trouble"),
    [
        (lambda air, sun: air + 8.0 * (sun > 150.0), Trouble.SUN),
        (lambda air, _sun: 1.8 * air + 32.0, Trouble.WRONG_UNIT),
        (lambda air, _sun: np.roll(air, 1), Trouble.CLOCK),
    ],
    ids=["sun", "Fahrenheit", "an hour off"],
)
def test_a_wrong_thermometer_of_the_air_is_refused(wrong, trouble):
    """In the sun, in Fahrenheit, an hour late: each is found by itself and nothing is learnt from it."""
    sky = mild_week()
    air, sun = sky.values["air_temperature_c"][0], sky.values["global_horizontal_w_m2"][0]
    there = garden()
    kept = readings(sky, wrong(air, sun) + 0.2, "air", spot="deck")
    assert troubles(listen(kept, there, sky, load_catalogue())) == {trouble}
    session = learn(there, sky, load_catalogue(), kept, pots=["lemon"])
    assert session.fit is None and session.habits is None and not session.values()


def test_a_sound_one_is_believed():
    """The same thermometer, half a kelvin too cold: no fault, and the air's habits come out of it."""
    sky = mild_week()
    kept = readings(sky, sky.values["air_temperature_c"][0] - 0.5, "air", spot="deck")
    assert troubles(listen(kept, garden(), sky, load_catalogue())) == set()
    session = learn(garden(), sky, load_catalogue(), kept, pots=["lemon"])
    assert session.habits is not None
    # ten nights of half a kelvin, shrunk by n / (n + 4); none of them is calm
    assert session.habits.bias_k == pytest.approx(-0.5 * 10 / 14)


def test_minima_by_hand_in_fahrenheit_are_refused():
    """Four mornings of 26 to 30 where the air was some degrees below zero: degrees Fahrenheit, and said so."""
    sky = weather(lambda c: -2.0 + 3.0 * np.cos((c - 14.0) / 24.0 * 2.0 * np.pi), past_h=24 * 6)
    mornings = [ASKED.replace(hour=8) - timedelta(days=day) for day in range(4)]
    place = str(Probe(Place.CORE, lowest=True))
    for values, expected in (((26.0, 28.0, 27.0, 30.0), {Trouble.WRONG_UNIT}), ((-3.0, -2.0, -2.5, -1.0), set())):
        kept = [Reading("core", at, value, place, "lemon") for at, value in zip(mornings, values, strict=True)]
        assert troubles(listen(kept, garden(), sky, load_catalogue())) == expected


def test_the_air_measured_at_a_spot_drives_the_model_there():
    """Where pots stand in colder air than the service's, the thermometer's air is met at the pots, not undercut."""
    sky = mild_week()
    there = garden(surroundings=Surroundings.OPEN_COUNTRY, height_above_ground_m=0.0)
    terrace = prepare_terrace(there, sky)
    measured = terrace.spots["deck"].hours.air_temperature_c[:, 0] - 1.5
    heard = Heard("one", Probe(Place.AIR), None, "deck", terrace.times, measured, ())
    moved = prepare_terrace(there, with_measured_air(sky, heard, terrace))
    np.testing.assert_allclose(moved.spots["deck"].hours.air_temperature_c[:, 0], measured, atol=0.15)


def test_the_lag_of_a_big_pot_is_no_wrong_clock():
    """The middle of 90 litres follows the air by most of a day, as its own simulation says: a sound thermometer."""
    where, sky, hours = garden(big_pot()), mild_week(), np.arange(48, HOURS)
    made = model_of(
        prepare_terrace(where, sky),
        sky,
        [as_it_stands(where.pots[0], TerraceState(), load_catalogue())],
        [probe := Thermometer("one", where.pots[0].id, Place.CORE, tuple(hours[:, None]), np.zeros(hours.size))],
        load_catalogue(),
        air_known=True,
        habits=SiteHabits(),
    )
    read = made(np.array([[one.prior for one in made.parameters]]))[0]
    read = read + np.random.default_rng(2).normal(0.0, 0.2, read.size)
    times = [sky.times[hours[0]].astype("datetime64[s]").item().replace(tzinfo=UTC) for hours in probe.hours]
    kept = [Reading("one", at, float(v), "core", where.pots[0].id) for at, v in zip(times, read, strict=True)]
    assert troubles(listen(kept, where, sky, load_catalogue())) == set()
    late = [replace(one, at=one.at + timedelta(hours=8)) for one in kept]
    fahrenheit = [replace(one, temperature_c=1.8 * one.temperature_c + 32.0) for one in kept]
    assert Trouble.CLOCK in troubles(listen(late, where, sky, load_catalogue()))
    assert Trouble.WRONG_UNIT in troubles(listen(fahrenheit, where, sky, load_catalogue()))


def test_an_own_thermometer_of_the_air_takes_the_place_of_the_service():
    """It need not have hung there before the pots' first reading; then no bias of the air is sought."""
    sky = mild_week()
    air = sky.values["air_temperature_c"][0]
    late = slice(24, None)  # the weather begins a day before all readings
    of_pot = readings(sky, 0.5 * np.roll(air, 3) + 2.0, "core", pot="lemon")[late]
    of_air = [replace(one, series="air") for one in readings(sky, air - 0.4, "air", spot="deck")][late]
    with_air, without = (
        learn(garden(), sky, load_catalogue(), kept, pots=["lemon"]).fit for kept in ([*of_pot, *of_air], of_pot)
    )
    assert with_air is not None and without is not None
    subjects = [{one.subject for one in fit.fitted.parameters} for fit in (with_air, without)]
    assert "thermometer/air" in subjects[0] and "site" not in subjects[0]
    assert "site" in subjects[1]
    # before any thermometer both are told by the service's air, or a fit would be held against a step of its own way
    told = [[(one.night, one.before_c) for one in fit.pots[0].held_back] for fit in (with_air, without)]
    assert [night for night, _ in told[0]] == [night for night, _ in told[1]]
    np.testing.assert_allclose([before for _, before in told[0]], [before for _, before in told[1]], atol=1e-6)


def test_gaps_in_the_weather_are_not_learnt_from():
    """Nights of a week without weather leave nothing to fit, and that is said."""
    sky = mild_week()
    air = sky.values["air_temperature_c"].copy()
    air[:, 30:170] = np.nan
    broken = replace(sky, values={**sky.values, "air_temperature_c": air})
    kept = readings(sky, 0.5 * np.roll(sky.values["air_temperature_c"][0], 3) + 2.0, "core", pot="lemon")
    session = learn(garden(), broken, load_catalogue(), kept, pots=["lemon"])
    assert session.fit is None and len(session.failures) == 1
    assert "are needed" in session.failures[0].message


def test_a_probe_in_the_pot_asked_about_tells_most():
    """Every stay narrows the answer, longer ones more; the best place is in the pot, not in the air."""
    where, sky = deck()
    found = suggest(where, sky, load_catalogue(), (), pots=["bay"], at=ASKED)
    best = found.candidates[0]
    assert best.pot == "bay" and best.nights in NIGHTS
    for one in found.candidates:
        assert found.now_k >= one.spread_k[0] >= one.spread_k[-1] > 0.0
    assert best.at_last_k < 0.8 * found.now_k


def test_what_came_of_it_is_told_with_a_chart_and_at_the_plants_limits():
    """Every night kept back has its line with what was read and told; nights below freezing and root limits count."""
    sky = mild_week()
    kept = readings(sky, 0.5 * np.roll(sky.values["air_temperature_c"][0], 3) - 4.0, "core", pot="lemon")[24:]
    session = learn(garden(), sky, load_catalogue(), kept, pots=["lemon"])
    assert session.fit is not None and min(session.root_limits_c["lemon"]) < 0.0
    told = render_session(session, stored=session.fit.helps)
    check = session.fit.pots[0]
    lines = [line for line in told.splitlines() if " x" in line or "x-" in line or "-x" in line]
    assert sum(f"{one.night:%Y-%m-%d}" in line for one in check.held_back for line in lines) == len(check.held_back)
    assert "Below 0.0 °C" in " ".join(told.split()) and "x read, o told" in told
    # what the readings told comes in words and in its unit, and no logarithm
    told = " ".join(told.split())
    assert "wind, times what was assumed" in told and "_factor" not in told and "logarithm" not in told
