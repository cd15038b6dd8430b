"""Candidates as they compete for what is scarce: what each saves, what it takes, and which rounds it settles."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from frostguard.advice.candidates import Candidate, margin_k
from frostguard.advice.evening import Evening
from frostguard.advice.option import Option, Step
from frostguard.advice.plan import CLEAR_MARGIN_K, Batch, Protection
from frostguard.advice.reach import ROOT_PROTECTIONS
from frostguard.advice.scarce import Offer
from frostguard.advice.state import Told

TOLD_EUR = 3.0
"""What a job that the person knows of already is worth more than another: a list that is another one at each look, as
scarce minutes go now here and now there, is not followed; estimate, ten minutes' work to read and fetch anew."""

TOLD_UNDER_TONIGHT_EUR = 0.01
"""By which what tonight asks for, too, is told under tonight."""


def offers_of(evening: Evening, candidates: Sequence[Candidate]) -> list[Offer]:
    """Candidates as they compete for what is scarce."""
    of_pot: dict[int, list[Candidate]] = defaultdict(list)
    for candidate in candidates:
        of_pot[candidate.pot].append(candidate)
    return [_offer(evening, candidate, of_pot[candidate.pot]) for candidate in candidates]


def _offer(evening: Evening, candidate: Candidate, of_pot: Sequence[Candidate]) -> Offer:
    """One candidate; it saves nothing where it hardly helps."""
    option, pot = candidate.option, evening.pots[candidate.pot]
    slots = _slots(candidate.round.occasion.batch, option)
    saves = candidate.saved_eur - candidate.effort_eur
    helps = candidate.helps
    if _stays_told(candidate, pot.id):
        helps, saves = True, max(saves, 0.0) + TOLD_EUR
    if len(slots) > 1 and saves > 0.0:  # what does not pay for its own nights is left to the others
        saves += _saves_on_others_too(candidate, of_pot, slots)
    if candidate.round.occasion.batch is Batch.AHEAD:
        saves -= _saved_by_lamp(candidate, of_pot) + TOLD_UNDER_TONIGHT_EUR
        helps = helps and option.by_day_only
    return Offer(
        pot=candidate.pot,
        slots=frozenset((candidate.pot, slot) for slot in slots),
        saves_eur=saves if helps else 0.0,
        needs=option.needs,
        minutes=option.minutes,
        window=candidate.round.window,
        count=option.situation.pot.count,
        leaves=pot.spot if option.to_spot is not None else None,
        groups_at=pot.spot if Protection.GROUP in option.protections else None,
    )


def _stays_told(candidate: Candidate, pot: str) -> bool:
    """Whether the person knows of this, and it does some good: it still pays, or the night is not yet harmless."""
    told = candidate.round.about.told
    if not told:
        return False
    known = all(Told(pot, step.protection, _to_spot(candidate.option, step)) in told for step in candidate.option.steps)
    if not known or not candidate.does_some_good or candidate.saved_eur <= 0.0:
        return False
    still_pays = candidate.saved_eur > candidate.effort_eur
    return still_pays or margin_k(candidate.without, candidate.round.occasion) < CLEAR_MARGIN_K


def _to_spot(option: Option, step: Step) -> str | None:
    return option.to_spot if step.protection is Protection.MOVE else None


def _saves_on_others_too(candidate: Candidate, of_pot: Sequence[Candidate], slots: frozenset[Batch]) -> float:
    """What it takes away of the loss of other rounds that it settles: as much as the same would there.

    Of the spell's for tonight's care for the roots, of later nights' for what is carried off tonight, and of tonight's
    for what is done by daylight for a later night.
    """
    batch = candidate.round.occasion.batch
    others = {Batch.TONIGHT: slots, Batch.AHEAD: frozenset({Batch.TONIGHT})}.get(batch, frozenset()) - {batch}
    saved = 0.0
    for other_batch in others:
        alike = [
            candidate.share * other.saved_eur / other.share
            for other in of_pot
            if other.round.occasion.batch is other_batch
            and (candidate.option.indoors or other.option.protections <= candidate.option.protections)
        ]
        saved += max([0.0, *alike])  # what would do harm then need not be done
    return saved


def _saved_by_lamp(candidate: Candidate, of_pot: Sequence[Candidate]) -> float:
    """The most that can still be saved when that night has come, by what is done by lamp."""
    later = [
        candidate.share * (other.saved_eur - other.effort_eur) / other.share
        for other in of_pot
        if other.round is candidate.round and other.helps and not other.option.by_day_only
    ]
    return max([0.0, *later])


def _slots(batch: Batch, option: Option) -> frozenset[Batch]:
    """Which rounds an option settles for its pot.

    Whose roots are cared for tonight needs nothing more for the spell, and what is carried off needs no fleece; a
    fleece alone leaves the roots to the spell, and later nights to their own evening. What is done by daylight for a
    later night is on tonight.
    """
    if Protection.MOVE in option.protections:
        return frozenset({batch, Batch.TONIGHT, Batch.AHEAD, Batch.BEFORE_SPELL})
    settled = {batch, Batch.TONIGHT} if batch is Batch.AHEAD else {batch}
    if batch in (Batch.TONIGHT, Batch.AHEAD) and option.protections & ROOT_PROTECTIONS:
        settled.add(Batch.BEFORE_SPELL)
    return frozenset(settled)
