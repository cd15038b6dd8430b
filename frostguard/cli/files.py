"""Which files a command reads where none is named, and in which units it tells."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from frostguard import places
from frostguard.errors import Fault, FrostguardError, GardenFileError
from frostguard.garden.settings import Units
from frostguard.report.words import say

if TYPE_CHECKING:
    from frostguard.nightly import Query


def existing_garden(named: Path | None) -> Path:
    """The garden file to read: the one named, else the usual one, which must be there."""
    if named is not None:
        return named
    usual = places.garden_file()
    if not usual.exists():
        raise GardenFileError(
            str(usual),
            (Fault(None, say("there is no garden file here yet.")),),
            next_step=say(
                "Begin one with 'frostguard garden new', or name your file with --garden."
            ),
        )
    return usual


def site_clock(named: Path | None = None) -> tzinfo:
    """The site's clock; the machine's where the usual garden file cannot be read, which is no reason to fail."""
    from zoneinfo import ZoneInfo

    from frostguard.garden.reader import load_garden

    try:
        return ZoneInfo(load_garden(existing_garden(named)).site.time_zone)
    except FrostguardError:
        if named is not None:
            raise
        return datetime.now().astimezone().tzinfo or UTC


def query_of(
    garden: Path | None,
    settings: Path | None,
    weather: Path | None,
    at: str | None,
    days: int | None,
    *,
    explain: str | None = None,
) -> Query:
    """The question that a command asks: files where they usually lie where none is named."""
    from frostguard.nightly import Query

    return Query(
        garden=existing_garden(garden),
        settings=places.settings_file() if settings is None else settings,
        weather=weather,
        at=at,
        days=days,
        explain=explain,
    )


def wished_units(named: Units | None = None) -> Units:
    """The units named, else those of the settings file, else metric."""
    if named is not None:
        return named
    settings = places.settings_file()
    if settings is None:
        return Units.METRIC
    from frostguard.garden.reader import load_settings

    return load_settings(settings).units
