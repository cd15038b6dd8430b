"""The error tree: what a person is told when something outside our own code is wrong.

FrostguardError
├── GardenFileError       the garden or settings file cannot be used as it stands
├── WeatherUnavailable    no service answered, and nothing usable is stored
├── ForecastFormatError   an answer or weather file cannot be read
├── PhysicsInputError     numbers that no pot or sky can have
├── FastEngineUnusable    the compiler is there but does not work; everything is computed without it
├── NotificationFailed    a message could not be delivered
├── LogbookUnusable       the logbook cannot be read or written
└── TuningFailed          readings do not support a fit

Mistakes in our own code stay ordinary exceptions with a traceback.
"""

from __future__ import annotations

from dataclasses import dataclass


class FrostguardError(Exception):
    """One plain sentence on what is wrong and where, and what to do next.

    Parameters
    ----------
    message : str
        What is wrong, with file and line, service or pot where there is one.
    next_step : str
        What the person on the terrace should do now.
    """

    def __init__(self, message: str, *, next_step: str) -> None:
        super().__init__(message)
        self.message = message
        self.next_step = next_step


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a file: where (line counted from 1, or None) and what, as one sentence."""

    line: int | None
    sentence: str


class GardenFileError(FrostguardError):
    """The garden or settings file cannot be used; holds every fault found, not just the first.

    Parameters
    ----------
    path : str
        The file, as the person named it.
    faults : tuple of Fault
        All faults, in the order of the file.
    next_step : str
        What to do now.
    """

    def __init__(self, path: str, faults: tuple[Fault, ...], *, next_step: str) -> None:
        lines = [f"{path}, line {fault.line}: {fault.sentence}" if fault.line is not None
                 else f"{path}: {fault.sentence}" for fault in faults]
        super().__init__("\n".join(lines), next_step=next_step)
        self.path = path
        self.faults = faults


class WeatherUnavailable(FrostguardError):
    """No service answered in time, and no stored answer can stand in."""


class ForecastFormatError(FrostguardError):
    """A weather answer or file cannot be read as what it claims to be."""


class PhysicsInputError(FrostguardError):
    """Numbers outside what a pot, a plant or a sky can have."""


class FastEngineUnusable(FrostguardError):
    """The compiled heat engine is installed but does not work here."""


class NotificationFailed(FrostguardError):
    """A message could not be delivered."""


class LogbookUnusable(FrostguardError):
    """The logbook cannot be read or written; the check goes on without it."""


class TuningFailed(FrostguardError):
    """Readings do not support a fit."""
