"""What each weather service can do for a site, and how its last answer stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import Enum

from frostguard.errors import ForecastFormatError
from frostguard.garden.model import Site
from frostguard.garden.settings import Settings
from frostguard.weather.outlook import lacking_columns
from frostguard.weather.services import SERVICES, Service
from frostguard.weather.store import ForecastStore, UnreadableStoreError


class SourceState(Enum):
    """Whether a service is asked, and if not, why."""

    ASKED = "asked"
    NO_CONTACT = "no-contact"  # it wants to know who calls, and the settings have no contact
    NOT_HERE = "not-here"  # it does not cover the site
    RESTING = "resting"  # it has refused and is left alone for a while
    NOT_WANTED = "not-wanted"  # the settings do not name it


@dataclass(frozen=True, slots=True)
class Source:
    """A service as it stands for a site; `place` counts from 1 in the settings' order, None if not named.

    `lacking` is what its kept answer leaves out of the hours ahead although the service can give it elsewhere.
    """

    service: Service
    place: int | None
    state: SourceState
    rests_until: datetime | None
    fetched: datetime | None  # of the kept answer
    kept_unreadable: bool
    lacking: tuple[str, ...] = ()


def sources_for(
    site: Site, settings: Settings, store: ForecastStore, now: datetime
) -> tuple[Source, ...]:
    """All services, those of the settings first and in their order."""
    wanted = list(dict.fromkeys(service.value for service in settings.weather_services))
    codes = [*wanted, *(code for code in SERVICES if code not in wanted)]
    return tuple(
        _source(
            SERVICES[code], wanted.index(code) + 1 if code in wanted else None, site, settings, store, now
        )
        for code in codes
    )


def _source(
    service: Service,
    place: int | None,
    site: Site,
    settings: Settings,
    store: ForecastStore,
    now: datetime,
) -> Source:
    where = (site.latitude_deg, site.longitude_deg)
    rests_until = store.rests_until(service.code, *where)
    resting = rests_until is not None and rests_until > now
    if place is None:
        state = SourceState.NOT_WANTED
    elif not service.covers(site):
        state = SourceState.NOT_HERE
    elif service.needs_contact and settings.contact is None:
        state = SourceState.NO_CONTACT
    else:
        state = SourceState.RESTING if resting else SourceState.ASKED
    lacking: tuple[str, ...] = ()
    try:
        stored = store.read(service.code, *where) or store.archived(service.code, *where)
        unreadable = False
        if stored is not None:
            series = service.parse(stored.answer.body, service.name, fetched=stored.answer.fetched)
            lacking = tuple(name for name in lacking_columns(series, now) if name not in service.lacks)
    except (UnreadableStoreError, ForecastFormatError):
        stored, unreadable = None, True
    return Source(
        service=service,
        place=place,
        state=state,
        rests_until=rests_until if resting else None,
        fetched=None if stored is None else stored.answer.confirmed or stored.answer.fetched,
        kept_unreadable=unreadable,
        lacking=lacking,
    )
