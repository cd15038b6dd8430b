"""Settings of the person, apart from what stands on the terrace: working windows, effort, contact."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import time
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from frostguard.garden.nightly_settings import NightlySettings
    from frostguard.garden.notice_settings import ChannelSettings, NoticeSettings


class Units(Enum):
    """Units for reading; inside, everything is metric."""

    METRIC = "metric"
    IMPERIAL = "imperial"


class WeatherService(Enum):
    """The weather services that can be asked, by the words of the settings file."""

    OPEN_METEO = "open-meteo"
    OPEN_METEO_ENSEMBLE = "open-meteo-ensemble"  # many possible forecasts
    OPEN_METEO_SPREAD = "open-meteo-spread"  # their mean, and how far they lie apart
    MET_NORWAY = "met-norway"
    NWS = "nws"
    BRIGHT_SKY = "bright-sky"


USUAL_SERVICES = (
    WeatherService.OPEN_METEO,
    WeatherService.MET_NORWAY,
    WeatherService.NWS,
    WeatherService.BRIGHT_SKY,
)
"""The order in which services are asked; those that do not cover a place or need a contact are passed over."""


@dataclass(frozen=True, slots=True)
class WorkingWindow:
    """A time of day when the person can work on the terrace, and whether it is lit after dark."""

    days: frozenset[int]  # Monday 0 to Sunday 6
    begins: time
    ends: time
    lit: bool


def _usual_notices() -> NoticeSettings:
    from frostguard.garden.notice_settings import NoticeSettings  # late: help and units need none of it

    return NoticeSettings()


def _usual_nightly() -> NightlySettings:
    from frostguard.garden.nightly_settings import NightlySettings  # late, too

    return NightlySettings()


@dataclass(frozen=True, slots=True)
class Settings:
    """What the person wants and can do.

    An empty `windows` means: any time between sunrise and sunset. Effort: 15 euro an hour (estimate,
    about a low wage), lift alone up to 10 kg (floor-to-knuckle filter for men, from memory).
    """

    windows: tuple[WorkingWindow, ...] = ()
    effort_eur_h: float = 15.0
    lift_alone_kg: float = 10.0
    people: int = 1
    pace_of_work: float = 1.0  # minutes taken over minutes reckoned: learnt from sign-offs, in no file
    units: Units = Units.METRIC
    contact: str | None = None  # mail or page, for services that ask who calls
    days: int = 7
    weather_services: tuple[WeatherService, ...] = USUAL_SERVICES
    ensemble_model: str = "icon_seamless_eps"  # names change now and then, so they are settings
    spread_model: str = "dwd_icon_eps_ensemble_mean_seamless"
    notices: NoticeSettings = field(default_factory=_usual_notices)
    channels: tuple[ChannelSettings, ...] = ()  # none: the terminal
    nightly: NightlySettings = field(default_factory=_usual_nightly)
