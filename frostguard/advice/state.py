"""What is known of the terrace beyond the garden file: read from the logbook, empty for a first query."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

from frostguard.advice.plan import Protection
from frostguard.advice.tuned import NOTHING_TUNED, Tuned
from frostguard.hardiness.own import Sighting


class Told(NamedTuple):
    """A job as it was last told."""

    pot: str
    protection: Protection
    to_spot: str | None


class PartDone(NamedTuple):
    """A job that was done for some of several pots alike.

    Those `set_aside` are left out of what is reckoned, which is about the others. Else all are reckoned as if it had
    not been done.
    """

    label: str
    done: int
    alike: int
    set_aside: bool


class KeptWetness(NamedTuple):
    """Water in a pot as it was reckoned at a time, aware [m3/m3]."""

    at: datetime
    water_fraction: float


@dataclass(frozen=True, slots=True)
class TerraceState:
    """What happened and what was learnt so far.

    Parameters
    ----------
    covers_in_force : mapping of pot id to tuple of cover keys
        Covers put on since the garden file was written; replaces `covers_on` of those pots.
    watered_at : mapping of pot id to datetime
        When a pot was last watered, aware, as far as it was signed off.
    wetness : mapping of pot id to KeptWetness
        What the last plan reckoned; for where the weather reaches back a few days only.
    daily_minimum_c, daily_mean_c : tuple of float
        Air of past days before the weather series begins, oldest first [degC].
    told : frozenset of Told
        Jobs that the person has been told for the coming night and has not signed off.
    tuned : Tuned
        What readings have taught.
    seen : tuple of Sighting
        What cold has done to plants of this garden, and what they stood.
    pace_of_work : float
        Minutes that jobs took over those that they were reckoned with, from sign-offs; 1 where none tell.
    in_part : tuple of PartDone
        What was done for some of several pots alike.
    dark_days_spent : mapping of pot id to float
        Days that a pot has spent in dark rooms, less those in the light since then.
    """

    covers_in_force: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    watered_at: Mapping[str, datetime] = field(default_factory=dict)
    wetness: Mapping[str, KeptWetness] = field(default_factory=dict)
    daily_minimum_c: tuple[float, ...] = ()
    daily_mean_c: tuple[float, ...] = ()
    told: frozenset[Told] = frozenset()
    tuned: Tuned = NOTHING_TUNED
    seen: tuple[Sighting, ...] = ()
    pace_of_work: float = 1.0
    in_part: tuple[PartDone, ...] = ()
    dark_days_spent: Mapping[str, float] = field(default_factory=dict)
