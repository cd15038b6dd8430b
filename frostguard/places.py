"""Where frostguard keeps things on this machine; every place can be set by an environment variable.

Nothing is written anywhere else. A variable that is set but empty counts as not set.
"""

from __future__ import annotations

import os
from pathlib import Path

from frostguard.errors import FrostguardError

GARDEN_VARIABLE = "FROSTGUARD_GARDEN"
SETTINGS_VARIABLE = "FROSTGUARD_SETTINGS"
CONFIG_VARIABLE = "FROSTGUARD_CONFIG_DIR"
DATA_VARIABLE = "FROSTGUARD_DATA_DIR"
CACHE_VARIABLE = "FROSTGUARD_CACHE_DIR"

_APPLICATION = "frostguard"


def config_folder() -> Path:
    """The folder of the garden and settings files: what the person writes."""
    return _from_environment(CONFIG_VARIABLE) or _platform_folder("user_config_dir")


def data_folder() -> Path:
    """The folder of what happened: the logbook. Worth a backup."""
    return _from_environment(DATA_VARIABLE) or _platform_folder("user_data_dir")


def cache_folder() -> Path:
    """The folder of what can be fetched again: the last weather answers."""
    return _from_environment(CACHE_VARIABLE) or _platform_folder("user_cache_dir")


def logbook_file() -> Path:
    """The logbook; it need not exist yet."""
    return data_folder() / "logbook.sqlite3"


def nightly_lock() -> Path:
    """The lock of the process that waits for the next look."""
    return data_folder() / "nightly.lock"


def trial_logbook_file() -> Path:
    """The logbook of checks that are only tried out with a weather file."""
    return data_folder() / "trial.sqlite3"


def weather_store() -> Path:
    """The folder of the last good answer of each weather service."""
    return cache_folder() / "weather"


def report_file() -> Path:
    """The page that a report is written to when the command names no file; it can be made again."""
    return cache_folder() / "report.html"


def garden_file() -> Path:
    """The garden file to use when the command names none; it need not exist."""
    return _from_environment(GARDEN_VARIABLE) or config_folder() / "garden.yaml"


def settings_file() -> Path | None:
    """The settings file to use when the command names none.

    Returns
    -------
    Path or None
        A file named by the environment even if it is missing, so that the mistake is told; the one in
        the configuration folder only if it is there, since settings are optional.
    """
    named = _from_environment(SETTINGS_VARIABLE)
    if named is not None:
        return named
    usual = config_folder() / "settings.yaml"
    return usual if usual.is_file() else None


def _from_environment(variable: str) -> Path | None:
    value = os.environ.get(variable, "")
    try:
        return Path(value).expanduser() if value else None
    except RuntimeError:
        raise FrostguardError(
            f"{variable} names {value}, and no such home folder is known.",
            next_step=f"Put a whole path into {variable}.",
        ) from None


def _platform_folder(kind: str) -> Path:
    import platformdirs  # late: a command that is told all its files needs none of this

    folder: str = getattr(platformdirs, kind)(_APPLICATION, appauthor=False)
    return Path(folder)
