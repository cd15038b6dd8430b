"""What is known at the moment when it is asked whether somebody must be told something."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import Enum
from zoneinfo import ZoneInfo

from frostguard.advice.plan import AdvicePlan, Protection
from frostguard.garden.model import Garden
from frostguard.garden.settings import Settings
from frostguard.notify.brief import PlanBrief
from frostguard.notify.days import Day
from frostguard.notify.notice import unrung
from frostguard.report.measures import Clock

SHORT_LEAD = timedelta(hours=12)
"""Before a deadline that near a single forecast is told at once; practice of warning services (estimate)."""


class Look(Enum):
    """The looks of a day, each with its own question."""

    EVENING = "evening"  # what do the next day and night ask for?
    MORNING = "morning"  # does it still hold?
    LAST = "last"  # shortly before the hours of work: cancel or raise, nothing else
    SUNRISE = "sunrise"  # while covers are on: may they come off, must they?


@dataclass(frozen=True, slots=True)
class InForce:
    """A protection that is in place, as the logbook knows it."""

    pot: str
    label: str
    spot: str
    protection: Protection
    since: datetime
    undo_after: datetime | None = None


@dataclass(frozen=True, slots=True)
class Unseen:
    """Why there is no forecast, what to do by hand, and the night that cannot be seen; today's if not given.

    `guess` is the plan for the worst that is likely at this date, where one was made.
    """

    reason: str
    next_step: str
    night: date | None = None
    guess: AdvicePlan | None = None


@dataclass(frozen=True, slots=True)
class Moment:
    """Everything that decides which notice is owed.

    Parameters
    ----------
    now : datetime
        The clock, aware.
    look : Look
        Which look of the day this is.
    garden, settings
        What stands where, and what the person wants.
    plan : AdvicePlan or Unseen
        This run's plan, or why there is none.
    days : tuple of Day
        Days of the weather, past and coming; empty where it is not known.
    told : PlanBrief or None
        The plan as it was last told for the same night.
    before : PlanBrief or None
        The plan of the latest run that is six hours old or older.
    said : mapping of str to date
        Keys of all that was told, with the day on which it was.
    pushes : tuple of datetime
        When notices that interrupt went out in the last days.
    in_force : tuple of InForce
        Protections in place.
    done : frozenset of (pot id, Protection)
        Jobs of this night that were signed off.
    margin_without_k : mapping of pot id to mapping of date to float
        How far pots stay above their nearest limit in each coming night with their covers off, or back in their
        places [K]; pots and nights of which that is not known are left out.
    down : tuple of date
        Past nights of which nothing was told, and which have not been owned up to yet.
    """

    now: datetime
    look: Look
    garden: Garden
    settings: Settings
    plan: AdvicePlan | Unseen
    days: tuple[Day, ...] = ()
    told: PlanBrief | None = None
    before: PlanBrief | None = None
    said: Mapping[str, date] = field(default_factory=dict)
    pushes: tuple[datetime, ...] = ()
    in_force: tuple[InForce, ...] = ()
    done: frozenset[tuple[str, Protection]] = frozenset()
    margin_without_k: Mapping[str, Mapping[date, float]] = field(default_factory=dict)
    down: tuple[date, ...] = ()

    @property
    def zone(self) -> ZoneInfo:
        """The site's."""
        return ZoneInfo(self.garden.site.time_zone)

    @property
    def clock(self) -> Clock:
        """The site's clock, from which "today" is told."""
        return Clock(self.garden.site.time_zone, self.now)

    @property
    def today(self) -> date:
        """The date on the site's clock."""
        return self.now.astimezone(self.zone).date()

    @property
    def night(self) -> date:
        """The evening of the night that is asked about."""
        if isinstance(self.plan, Unseen) and self.plan.guess is not None:
            return self.plan.guess.night
        return self.plan.night or self.today

    @property
    def is_yet_to_ring(self) -> bool:
        """Whether it is the morning after an evening that told of this night without a ring, as one had rung before."""
        return self.look is Look.MORNING and self.is_said(unrung(self.night))

    def is_said(self, key: str) -> bool:
        """Whether this was told before."""
        return key in self.said

    def said_within(self, key: str, days: int) -> bool:
        """Whether this was told within so many days."""
        told_on = self.said.get(key)
        return told_on is not None and self.today - told_on < timedelta(days=days)

    def day(self, wanted: date) -> Day | None:
        """The weather of a day, None where it is not known."""
        return next((day for day in self.days if day.date == wanted), None)

    def is_done(self, pot: str, protection: Protection) -> bool:
        """Whether a job was signed off, or is in place anyway."""
        return (pot, protection) in self.done or any(
            one.pot == pot and one.protection is protection for one in self.in_force
        )
