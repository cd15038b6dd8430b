"""Settings of the person, apart from what stands on the terrace: working windows, effort, contact."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from enum import Enum


class Units(Enum):
    """Units for reading; inside, everything is metric."""

    METRIC = "metric"
    IMPERIAL = "imperial"


@dataclass(frozen=True, slots=True)
class WorkingWindow:
    """A time of day when the person can work on the terrace, and whether it is lit after dark."""

    days: frozenset[int]  # Monday 0 to Sunday 6
    begins: time
    ends: time
    lit: bool


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
    units: Units = Units.METRIC
    contact: str | None = None  # mail or page, for services that ask who calls
    days: int = 7
