"""frostguard: frost advice for plants in pots, from open weather data.

The names below are what other programs may use. They are fetched when first asked for, so that
`frostguard --help` does not wait for numerics.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from frostguard.advice.advise import advise
    from frostguard.advice.plan import AdvicePlan
    from frostguard.advice.state import TerraceState
    from frostguard.errors import FrostguardError
    from frostguard.garden.model import Garden
    from frostguard.garden.reader import load_garden, load_settings
    from frostguard.garden.settings import Settings
    from frostguard.weather.client import open_weather_client
    from frostguard.weather.files import load_weather
    from frostguard.weather.forecast import fetch_forecast
    from frostguard.weather.series import WeatherSeries

__all__ = [
    "AdvicePlan",
    "FrostguardError",
    "Garden",
    "Settings",
    "TerraceState",
    "WeatherSeries",
    "advise",
    "fetch_forecast",
    "load_garden",
    "load_settings",
    "load_weather",
    "open_weather_client",
]

_HOMES = {
    "AdvicePlan": "frostguard.advice.plan",
    "FrostguardError": "frostguard.errors",
    "Garden": "frostguard.garden.model",
    "Settings": "frostguard.garden.settings",
    "TerraceState": "frostguard.advice.state",
    "WeatherSeries": "frostguard.weather.series",
    "advise": "frostguard.advice.advise",
    "fetch_forecast": "frostguard.weather.forecast",
    "load_garden": "frostguard.garden.reader",
    "load_settings": "frostguard.garden.reader",
    "load_weather": "frostguard.weather.files",
    "open_weather_client": "frostguard.weather.client",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'frostguard' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return __all__
