"""What would come of taking covers off and carrying pots back: reckoned when somebody may be told that they can."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import date, datetime

from frostguard.advice.taken_back import margins_as_they_stand_k
from frostguard.errors import WeatherUnavailable
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import Garden
from frostguard.logbook.book import Logbook
from frostguard.logbook.terrace import standing, with_days_before
from frostguard.nightly import Answer
from frostguard.notify.covers import AGAINST_COLD

Margins = Callable[..., Mapping[str, Mapping[date, float]]]


def margins_without_k(
    book: Logbook, garden: Garden, answer: Answer, at: datetime, pots: Collection[str], *, now: datetime
) -> Mapping[str, Mapping[date, float]]:
    """How far these pots stay above their nearest limit in each coming night without what protects them now [K].

    Parameters
    ----------
    book : Logbook
        What was signed off.
    garden : Garden
        As the file describes it.
    answer : Answer
        This look's, for its weather.
    at : datetime
        From when on, aware.
    pots : collection of str
        Ids.
    now : datetime
        The clock, aware.

    Returns
    -------
    mapping of pot id to mapping of date to float
        Empty where that cannot be seen.
    """
    bare = standing(
        book, garden, load_catalogue(), now, without={(pot, kind) for pot in pots for kind in AGAINST_COLD}
    )
    state = with_days_before(bare.state, book, answer.weather, garden.site.time_zone)
    try:
        return margins_as_they_stand_k(bare.garden, answer.weather, state, at, pots, answer.settings.days)
    except WeatherUnavailable:
        return {}
