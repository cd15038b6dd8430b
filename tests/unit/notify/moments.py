"""Moments made by hand for the tests of the notices: an invented terrace, and what is known of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import plans

from frostguard.garden.model import Garden
from frostguard.garden.notice_settings import NoticeSettings
from frostguard.garden.reader import load_garden
from frostguard.garden.settings import Settings
from frostguard.notify.days import Day
from frostguard.notify.moment import Look, Moment
from frostguard.notify.notice import Notice
from frostguard.notify.owed import owed

GARDEN = Path(__file__).parents[3] / "config" / "garden.yaml"
TODAY = plans.NIGHT  # a Wednesday in December


@cache
def garden() -> Garden:
    """The invented terrace that comes with the project."""
    return load_garden(GARDEN)


def all_season_told(today: date = TODAY) -> dict[str, date]:
    """Every first and last of the winter as told long ago, so that tests of other notices are not about them."""
    year = today.year if today.month >= 7 else today.year - 1
    whats = [f"night/{mark}" for mark in (12, 10, 7, 5, 2, 0, -2, -5)]
    whats += ["no-thaw/1", "no-thaw/3", "unwrap", "harden-off", "last-night/5", "last-frost"]
    return {f"season/{year}/{what}": date(year, 7, 1) for what in whats}


def moment(**changes: Any) -> Moment:
    """The evening look at a mild day, all of the season's firsts told, and no weekly letter wanted."""
    said = changes.pop("said", {})
    usual = Moment(
        now=plans.ASKED,
        look=Look.EVENING,
        garden=garden(),
        settings=Settings(notices=NoticeSettings(weekly_letter=None)),
        plan=plans.plan(),
        said=all_season_told(),
    )
    changed = replace(usual, **changes)
    return replace(changed, said={**changed.said, **said})


def told(**changes: Any) -> Notice:
    """The notice that is owed, which must be one."""
    notice = owed(moment(**changes))
    assert notice is not None
    return notice


def day(ahead: int, coldest_c: float, warmest_c: float, **changes: Any) -> Day:
    """A dull day so many days from today."""
    return replace(Day(TODAY + timedelta(days=ahead), coldest_c, warmest_c, 5.0, False), **changes)


