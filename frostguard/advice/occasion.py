"""A round of planning: which nights and tissues count, and from which hour its jobs act."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from frostguard.advice.evening import Evening
from frostguard.advice.option import Circumstances
from frostguard.advice.plan import Batch
from frostguard.advice.unprotected import crossing_hour
from frostguard.hardiness.model import Tissue

TONIGHT_TISSUES = frozenset(Tissue) - {Tissue.YOUNG_ROOT}
SPELL_TISSUES = frozenset({Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT, Tissue.HEART, Tissue.STEM})
"""Hearts and grafted stems count so that no roots are saved of what is dead above them; what saves these is a matter of
tonight."""


@dataclass(frozen=True, slots=True)
class Occasion:
    """A round of planning: which nights and tissues count, and from which hour the jobs act.

    Jobs act from `start_hour`, by which all are done; what passes its limit before is done first, from
    `earliest_hour` on. Nights `before` are stood through as the pot is, and count for what they do. Nights `later` are
    stood through in the room that the pot is carried to, and judged by themselves.
    """

    batch: Batch
    start_hour: int
    nights: tuple[int, ...]
    tissues: frozenset[Tissue]
    earliest_hour: int | None = None  # as `start_hour` where None
    done_hour: int | None = None  # the last whole hour before all are done; as `start_hour` where None
    before: tuple[int, ...] = ()
    later: tuple[int, ...] = ()

    def acting_hour(self, evening: Evening, pot: int) -> int:
        """From which whole hour the jobs of a pot act: the urgent one's is done first."""
        if self.earliest_hour is None or self.earliest_hour >= self.start_hour:
            return self.start_hour
        passed = crossing_hour(evening, pot, self.tissues, self.nights[0], self.earliest_hour)
        return self.start_hour if passed is None else min(self.start_hour, int(passed))

    def bare_until(self, acting_hour: int) -> int:
        """The last hour that a pot stands through without jobs that act from that hour."""
        return acting_hour if self.done_hour is None else min(acting_hour, self.done_hour)

    def last_hour(self, evening: Evening) -> int:
        """The last hour of its last night, or of the last one that a pot stays away from its place."""
        night = evening.nights[(*self.nights, *self.later)[-1]]
        return int(np.flatnonzero(night.hours_in(evening.terrace.times))[-1])


@dataclass(frozen=True, slots=True)
class Round:
    """An occasion with the pots that may get a job on it, what is open to them, and whose minutes it uses.

    `window` is the night before which the work is done: rounds of one window share its minutes.
    """

    occasion: Occasion
    about: Circumstances
    pots: tuple[int, ...]
    window: int = 0
