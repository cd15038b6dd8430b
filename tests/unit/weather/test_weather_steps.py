"""Long steps on whole hours: what the lowest and highest of a span say of the hours inside it."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from frostguard.weather.met_norway import parse_met_norway
from frostguard.weather.series import Quality
from frostguard.weather.steps import Extremes, hours_between, with_extremes


def long_steps(*instants_c: float) -> tuple[np.ndarray, np.ndarray]:
    """Instants every six hours, joined by lines."""
    return hours_between(np.arange(len(instants_c)) * 6, np.array(instants_c))


def test_a_span_that_only_rises_keeps_its_line() -> None:
    """From the night's low of -5 the morning rises: the span's lowest is that very instant, so nothing is bent."""
    air, code = with_extremes(*long_steps(-5.0, 4.0), [Extremes(0, 6, -5.0, 4.0)])
    np.testing.assert_allclose(air, np.linspace(-5.0, 4.0, 7))
    assert Quality.DERIVED not in code


def test_a_span_that_only_falls_keeps_its_line() -> None:
    """An evening's highest is the instant at its begin; hours behind it are not made warmer for it."""
    air, code = with_extremes(*long_steps(0.0, -6.0), [Extremes(0, 6, -6.0, 0.0)])
    np.testing.assert_allclose(air, np.linspace(0.0, -6.0, 7))
    assert Quality.DERIVED not in code


def test_a_low_between_two_instants_is_reached_once() -> None:
    """From -3 by -5 to -2: one hour is as cold as stated, none colder, and the instants stay."""
    air, code = with_extremes(*long_steps(-3.0, -2.0), [Extremes(0, 6, -5.0, -2.0)])
    assert air.min() == pytest.approx(-5.0) and air[0] == -3.0 and air[6] == -2.0
    assert code[[0, 6]].tolist() == [Quality.GIVEN] * 2 and (code[1:6] == Quality.DERIVED).all()


def test_a_span_whose_begin_is_unknown_goes_by_the_rest() -> None:
    """Without the first instant the hours that are known are lowered to what is stated."""
    given = np.full(4, Quality.GIVEN, dtype=np.uint8)
    air, _ = with_extremes(np.array([math.nan, 1.0, 0.0, 2.0]), given, [Extremes(0, 3, -1.0, math.nan)])
    assert air[1:].tolist() == [1.0, -1.0, 2.0]


def test_recorded_mornings_and_evenings_of_long_steps(feeds: Path) -> None:
    """London, 23 July 2020: stated from 6:00 on are 13.5 (the instant at 6:00) to 22.4, and 22.5 come at noon, so the
    morning is a line; likewise the evening from 20.5 at 18:00, its highest, to 14.4 at midnight, stated 14.5."""
    recorded = json.loads((feeds / "metno_complete_london_2020-07.json").read_text(encoding="utf-8"))
    series = parse_met_norway(json.dumps(recorded["data"]).encode())
    air, times = series.values["air_temperature_c"][0], series.times
    for begin, first_c, last_c in (("2020-07-23T06", 13.5, 22.5), ("2020-07-23T18", 20.5, 14.4)):
        at = int(np.flatnonzero(times == np.datetime64(begin))[0])
        np.testing.assert_allclose(air[at : at + 7], np.linspace(first_c, last_c, 7))
