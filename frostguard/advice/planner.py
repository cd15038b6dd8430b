"""Which jobs: for each pot at risk the set of protections with the least expected loss plus effort.

Two occasions. Tonight's jobs answer to leaf, bud, chill and the whole root system in the coming night.
Outer roots are a matter of cold spells: one batch of preparations before the spell, or none once it
has begun, since a frozen ball must not be wrapped and a slow spring is not worth a job every evening.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from frostguard.advice.candidates import Candidate, Tried, tried_options, verify
from frostguard.advice.evening import Evening
from frostguard.advice.occasion import Occasion, Round
from frostguard.advice.offers import offers_of
from frostguard.advice.option import Option
from frostguard.advice.plan import Batch
from frostguard.advice.scarce import AtHand, Offer, Scarce
from frostguard.advice.sharing import Shared, pieces_given, share_out, short_of
from frostguard.advice.trial import Outcome
from frostguard.garden.settings import Settings

MOST_SECOND_THOUGHTS = 2
"""Times that what is scarce is shared out anew because an option did not hold in all members."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What was chosen for a pot on an occasion."""

    pot: int
    option: Option
    occasion: Occasion
    without: Outcome
    with_it: Outcome
    saved_eur: float  # loss and breach of the cap taken away
    too_cold_from: int | None  # the later night from which it is in the room that the pot is carried to

    @property
    def count(self) -> int:
        """How many of the pots alike it is for."""
        return self.option.situation.pot.count


@dataclass(frozen=True, slots=True)
class Chosen:
    """The jobs of some rounds, what they leave, and what was lacking for pots that a job would have paid for.

    `let_go` are pots that something would help tonight, though by less than its work.
    """

    choices: tuple[Choice, ...]
    left: AtHand
    missed: tuple[Missed, ...]
    let_go: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Missed:
    """A pot without the job that would have paid for itself, since others make more of what is scarce."""

    pot: int
    occasion: Occasion
    lacking: Scarce
    without: Outcome
    count: int  # of the pots alike


def choose_jobs(evening: Evening, rounds: Sequence[Round], at_hand: AtHand, settings: Settings) -> Chosen:
    """The jobs of all rounds together that leave least expected loss plus effort.

    Options are ranked on few members; those that are chosen are verified on all. Where one does not hold what
    it promised, what is scarce is shared out anew, at most twice.

    Parameters
    ----------
    evening : Evening
        The terrace left as it is.
    rounds : sequence of Round
        Occasions that draw on the same shed, floor and hands.
    at_hand : AtHand
        What there is to share.
    settings : Settings
        Effort and hands.
    """
    tried = tried_options(evening, rounds, at_hand, settings)
    candidates = [candidate for one in tried for candidate in one.candidates]
    for _ in range(1 + MOST_SECOND_THOUGHTS):
        offers = offers_of(evening, candidates)
        shared = share_out(offers, at_hand)
        unsure = [candidates[position] for position in shared.taken if not candidates[position].result.verified]
        if not unsure:
            break
        verify(evening, unsure)
        offers = offers_of(evening, candidates)
        if all(offers[position].saves_eur > 0.0 for position in shared.taken):
            break
    # whatever was not verified, or did not hold, is not advised
    offers = offers_of(evening, candidates)
    sure = [
        offer if candidate.result.verified else replace(offer, saves_eur=0.0)
        for offer, candidate in zip(offers, candidates, strict=True)
    ]
    shared = share_out(sure, at_hand)
    taken = [candidates[position] for position in shared.taken]
    pieces = pieces_given([one.option.needs for one in taken], at_hand.supplies)
    choices = tuple(
        Choice(
            one.pot,
            one.option.cut_from(used),
            one.round.occasion,
            one.without,
            one.result.outcome,
            one.saved_eur,
            one.too_cold_from,
        )
        for one, used in zip(taken, pieces, strict=True)
    )
    return Chosen(choices, shared.left, _missed(evening, candidates, offers, shared), _let_go(tried))


def _let_go(tried: Sequence[Tried]) -> frozenset[int]:
    """Pots for which every option of the coming night that helps costs more than it saves."""
    tonight = [one for one in tried if one.round.occasion.batch is Batch.TONIGHT]
    helping = [candidate for one in tonight for candidate in one.candidates if candidate.helps]
    paying = {one.pot for one in helping if one.saved_eur > one.effort_eur}
    return frozenset(one.pot for one in helping).union(*(one.too_dear for one in tonight)) - paying


def _missed(
    evening: Evening, candidates: Sequence[Candidate], offers: Sequence[Offer], shared: Shared
) -> tuple[Missed, ...]:
    """For each pot whose slot stayed empty what was lacking for the best that it could have had, and for those of
    several alike that get nothing what was lacking for one more."""
    filled = {slot for position in shared.taken for slot in offers[position].slots}
    missed: dict[Hashable, Missed] = {}
    for position in shared.taken:
        taken, alike = candidates[position], evening.pots[candidates[position].pot].count
        if taken.share < 1.0:
            one_more = _one_more(candidates, offers, position)
            lacking = None if one_more is None else short_of(one_more, shared.left)
            slot = (taken.pot, taken.round.occasion.batch)
            missed[slot] = Missed(
                taken.pot,
                taken.round.occasion,
                lacking or Scarce.COVERS,
                taken.without,
                alike - taken.option.situation.pot.count,
            )
    for position in sorted(range(len(offers)), key=lambda position: -offers[position].saves_eur):
        candidate, offer = candidates[position], offers[position]
        if offer.saves_eur <= 0.0 or offer.slots & filled:
            continue
        lacking = short_of(offer, shared.left)
        if lacking is not None:
            slot = (candidate.pot, candidate.round.occasion.batch)
            occasion, alike = candidate.round.occasion, evening.pots[candidate.pot].count
            missed.setdefault(slot, Missed(candidate.pot, occasion, lacking, candidate.without, alike))
    return tuple(missed.values())


def _one_more(candidates: Sequence[Candidate], offers: Sequence[Offer], position: int) -> Offer | None:
    """What an option that some of the pots alike have would take for the fewest more."""
    few = [
        offers[other]
        for other, candidate in enumerate(candidates)
        if candidate.result is candidates[position].result
    ]
    return min(few, key=lambda offer: offer.count, default=None)
