"""The order of the weather services and the names of their models."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from frostguard.errors import GardenFileError
from frostguard.garden.settings import USUAL_SERVICES, Settings, WeatherService

ReadSettings = Callable[[str], Settings]


def test_services_are_taken_in_their_order_each_once(read_settings: ReadSettings) -> None:
    """A list, or one word; a service named twice is asked once."""
    settings = read_settings("weather_services: [met-norway, Open-Meteo, met-norway]\n")
    assert settings.weather_services == (WeatherService.MET_NORWAY, WeatherService.OPEN_METEO)
    assert read_settings("weather_services: nws\n").weather_services == (WeatherService.NWS,)


def test_without_a_word_the_usual_order_stands(read_settings: ReadSettings) -> None:
    """Open-Meteo first, then those that cover the place."""
    assert read_settings("people: 1\n").weather_services == USUAL_SERVICES
    assert USUAL_SERVICES[0] is WeatherService.OPEN_METEO


def test_models_can_be_named(read_settings: ReadSettings) -> None:
    """Names change at the service, so they are settings."""
    settings = read_settings("ensemble_model: ecmwf_ifs025_ensemble\nspread_model: ecmwf_ifs025_ensemble_mean\n")
    assert settings.ensemble_model == "ecmwf_ifs025_ensemble"
    assert settings.spread_model == "ecmwf_ifs025_ensemble_mean"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("weather_services: [open-mateo]", 'perhaps "open-meteo"'),
        ("weather_services: [crystal-ball]", "is not known"),
        ('ensemble_model: "x&y=1"', "no name of a weather model"),
        ("spread_model: A B", "no name of a weather model"),
    ],
)
def test_faults(read_settings: ReadSettings, text: str, says: str) -> None:
    """Each mistake is told once."""
    with pytest.raises(GardenFileError) as caught:
        read_settings(text)
    (fault,) = caught.value.faults
    assert says in fault.sentence
