"""Which jobs: for each pot at risk the set of protections with the least expected loss plus effort.

Two occasions. Tonight's jobs answer to leaf, bud, chill and the whole root system in the coming night.
Outer roots are a matter of cold spells: one batch of preparations before the spell, or none once it
has begun, since a frozen ball must not be wrapped and a slow spring is not worth a job every evening.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from frostguard.advice.evening import Evening
from frostguard.advice.occasion import TONIGHT_TISSUES, Occasion
from frostguard.advice.option import Circumstances, Option, Step
from frostguard.advice.outlook import loss_of
from frostguard.advice.plan import CLEAR_MARGIN_K, Batch, Protection
from frostguard.advice.protections import options_for
from frostguard.advice.reach import ABOVE_THE_MIX, LEAF_PROTECTIONS, ROOT_PROTECTIONS, STEM_PROTECTIONS
from frostguard.advice.sharing import AtHand, Offer, Scarce, Shared, pieces_given, share_out, short_of
from frostguard.advice.situation import Situation
from frostguard.advice.state import Told
from frostguard.advice.stay import first_night_too_cold, through_its_stay
from frostguard.advice.trial import (
    CHANCE_CAP,
    Outcome,
    Trial,
    in_members,
    left_alone,
    ranking_columns,
    simulate_trials,
)
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue

CHEAPEST_JOB_EUR = 0.25
"""A minute's work at 15 euro an hour: less expected loss than this can pay for no job."""

COLD_NIGHT_CHANCE = 0.1
"""Chance of harm that makes a night count for one trip over several nights; estimate."""

TOLD_EUR = 3.0
"""What a job that the person knows of already is worth more than another: a list that is another one at each look, as
scarce minutes go now here and now there, is not followed; estimate, ten minutes' work to read and fetch anew."""

MOST_SECOND_THOUGHTS = 2
"""Times that what is scarce is shared out anew because an option did not hold in all members."""

ALL_COUNTS = 6
"""Of up to so many pots alike any number may get a job, of more a quarter, half, three quarters or all."""

WORTHWHILE_SHARE = 0.05
"""A job must take away at least this share of the loss, or it is only busyness; estimate."""

WORTHWHILE_CHANCE = 0.02
"""And at least so much of a tissue's chance of harm, beside what the pot's other jobs do: for less nobody goes out,
however dear the plant, as limits and forecast are not known so well; estimate."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What was chosen for a pot on an occasion."""

    pot: int
    option: Option
    occasion: Occasion
    without: Outcome
    with_it: Outcome
    saved_eur: float  # loss and breach of the cap taken away
    too_cold_from: int | None  # the later night from which it is where the pot is carried to

    @property
    def count(self) -> int:
        """How many of the pots alike it is for."""
        return self.option.situation.pot.count


@dataclass(frozen=True, slots=True)
class Round:
    """An occasion with the pots that may get a job on it, what is open to them, and whose minutes it uses.

    `window` is the night before which the work is done: rounds of one window share its minutes.
    """

    occasion: Occasion
    about: Circumstances
    pots: tuple[int, ...]
    window: int = 0


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


@dataclass(slots=True)
class _Result:
    """What an option comes to where all pots alike get it: by the ranking members at first, once `verified` by all.

    `without` is the pot left alone, until then in the same members where these find a worse night than all do. Else
    the difference of the nights would count against the option, and one that looks too poor is never verified, while
    one that looks too good is found out.
    """

    outcome: Outcome
    without: Outcome
    verified: bool = False

    @property
    def saved_eur(self) -> float:
        """Loss and breach of the cap taken away."""
        return self.without.at_stake_eur - self.outcome.at_stake_eur


@dataclass(frozen=True, slots=True)
class _Candidate:
    """An option, for some or all of the pots alike, with what it comes to."""

    round: Round
    pot: int
    option: Option
    share: float  # of the pots alike
    one_trip_eur: float
    without: Outcome
    result: _Result
    occasion: Occasion  # that of the round, with the later nights where it is carried to

    @property
    def too_cold_from(self) -> int | None:
        """The first later night that is too cold for it where it is carried to."""
        return first_night_too_cold(self.occasion, self.result.outcome)

    @property
    def effort_eur(self) -> float:
        """What the work is worth: twice where it must be carried on before it may go back."""
        return self.one_trip_eur * (1.0 if self.too_cold_from is None else 2.0)

    @property
    def saved_eur(self) -> float:
        """Loss and breach of the cap taken away."""
        return self.share * self.result.saved_eur

    @property
    def does_some_good(self) -> bool:
        """Whether it takes away some of what there is to lose."""
        return self.result.saved_eur >= WORTHWHILE_SHARE * self.result.without.at_stake_eur

    @property
    def helps(self) -> bool:
        """Whether it takes away enough to be more than busyness."""
        taken = _chance_taken(self.result.without, self.result.outcome, self.round.occasion)
        return self.does_some_good and taken >= WORTHWHILE_CHANCE


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
    tried = _tried(evening, [_paying(evening, turn, at_hand, settings) for turn in rounds], at_hand)
    candidates = [candidate for one in tried for candidate in one.candidates]
    for _ in range(1 + MOST_SECOND_THOUGHTS):
        offers = _offers(evening, candidates)
        shared = share_out(offers, at_hand)
        unsure = [candidates[position] for position in shared.taken if not candidates[position].result.verified]
        if not unsure:
            break
        _verify(evening, unsure)
        offers = _offers(evening, candidates)
        if all(offers[position].saves_eur > 0.0 for position in shared.taken):
            break
    # whatever was not verified, or did not hold, is not advised
    offers = _offers(evening, candidates)
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


def _let_go(tried: Sequence[_Tried]) -> frozenset[int]:
    """Pots for which every option of the coming night that helps costs more than it saves."""
    tonight = [one for one in tried if one.round.occasion.batch is Batch.TONIGHT]
    helping = [candidate for one in tonight for candidate in one.candidates if candidate.helps]
    paying = {one.pot for one in helping if one.saved_eur > one.effort_eur}
    return frozenset(one.pot for one in helping).union(*(one.too_dear for one in tonight)) - paying


@dataclass(frozen=True, slots=True)
class _Paying:
    """The options of a round that may pay, each with its pot and effort [euro], and pots open to dearer ones only."""

    round: Round
    options: tuple[tuple[int, Option, float], ...]
    too_dear: frozenset[int]
    without: Mapping[int, Outcome]


@dataclass(frozen=True, slots=True)
class _Tried:
    """The options of a round that may pay, and pots open to others that cost more than there is to lose."""

    round: Round
    candidates: tuple[_Candidate, ...]
    too_dear: frozenset[int]


def _paying(evening: Evening, turn: Round, at_hand: AtHand, settings: Settings) -> _Paying:
    """Every option open to the pots of a round that are at risk, and that costs less than there is to lose."""
    occasion = turn.occasion
    about = replace(turn.about, supplies=at_hand.supplies)
    without = left_alone(evening, occasion, turn.pots)
    told = {one.pot for one in about.told}
    wavering = {
        pot
        for pot in turn.pots
        if evening.pots[pot].id in told and _margin_k(without[pot], occasion) < CLEAR_MARGIN_K
    }
    nights = {pot: _cold_nights(evening, pot) for pot in turn.pots}
    found = [
        (pot, option, evening.pots[pot].count * option.effort_eur(settings, nights[pot]))
        for pot in turn.pots
        if _worth_a_look(without[pot]) or pot in wavering
        for option in options_for(
            _one_of(evening.situations[pot]),
            about,
            _that_can_help(without[pot], occasion, CLEAR_MARGIN_K if pot in wavering else None),
            rooms=_indoors_is_a_choice(without[pot], occasion),
        )
    ]
    # nothing saves more than there is to lose: what costs more need not be simulated
    may_pay = tuple(one for one in found if one[0] in wavering or one[2] < without[one[0]].at_stake_eur)
    too_dear = frozenset(pot for pot, _, _ in found) - {pot for pot, _, _ in may_pay}
    return _Paying(turn, may_pay, too_dear, without)


def _tried(evening: Evening, rounds: Sequence[_Paying], at_hand: AtHand) -> list[_Tried]:
    """Options ranked on few members, for some or all of the pots alike."""
    trials = [_ranking_trials(evening, of_round) for of_round in rounds]
    outcomes = iter(simulate_trials(evening, [trial for of_round in trials for trial in of_round]))
    tried = []
    for of_round, its_trials in zip(rounds, trials, strict=True):
        found = [
            (trial, pot, option, outcome)
            for trial in its_trials
            for (pot, option), outcome in zip(trial.tried, next(outcomes), strict=True)
        ]
        candidates = tuple(_candidates(evening, of_round, found, at_hand))
        tried.append(_Tried(of_round.round, candidates, of_round.too_dear))
    return tried


def _ranking_trials(evening: Evening, of_round: _Paying) -> list[Trial]:
    """The options of a round, apart by the later nights that a pot stays where it is carried to."""
    occasion = of_round.round.occasion
    of_occasion: dict[Occasion, list[tuple[int, Option]]] = defaultdict(list)
    for pot, option, _ in of_round.options:
        of_occasion[through_its_stay(evening, occasion, pot, option)].append((pot, option))
    columns = ranking_columns(evening, occasion)
    return [Trial(long, tuple(tried), columns, coarse=True) for long, tried in of_occasion.items()]


def _candidates(
    evening: Evening, of_round: _Paying, found: Sequence[tuple[Trial, int, Option, Outcome]], at_hand: AtHand
) -> Iterator[_Candidate]:
    """What was found of a round's options, for so many of the pots alike as there are pieces for."""
    told = {one.pot for one in of_round.round.about.told}
    one_trip_eur = {id(option): effort for _, option, effort in of_round.options}
    of_pot: dict[int, list[tuple[Option, Outcome]]] = defaultdict(list)
    for _, pot, option, outcome in found:
        of_pot[pot].append((option, outcome))
    for trial, pot, option, outcome in found:
        new = evening.pots[pot].id not in told
        if new and _one_too_many(option, outcome, of_pot[pot], trial.occasion):
            continue
        alike, without = evening.pots[pot].count, of_round.without[pot]
        in_ranking = in_members(evening, trial.occasion, pot, without, trial.columns)
        result = _Result(outcome, max(without, in_ranking, key=lambda one: one.at_stake_eur))
        for count in _counts(alike, option):
            if at_hand.supplies.can_give(option.needs.times(count)):
                share = count / alike
                yield _Candidate(
                    of_round.round,
                    pot,
                    option.for_pots(count),
                    share,
                    share * one_trip_eur[id(option)],
                    without,
                    result,
                    trial.occasion,
                )


def _one_too_many(
    option: Option, outcome: Outcome, of_pot: Sequence[tuple[Option, Outcome]], occasion: Occasion
) -> bool:
    """Whether some of its jobs alone do as much, or hardly less."""
    return any(
        fewer.protections < option.protections and _chance_taken(with_fewer, outcome, occasion) < WORTHWHILE_CHANCE
        for fewer, with_fewer in of_pot
    )


def _chance_taken(before: Outcome, after: Outcome, occasion: Occasion) -> float:
    """The most that any tissue's chance of harm falls by."""
    return max(
        (
            float(one.chance.mean() - other.chance.mean())
            for one, other in zip(before.judgements, after.judgements, strict=True)
            if one.limit.tissue in occasion.tissues
        ),
        default=0.0,
    )


def _one_of(situation: Situation) -> Situation:
    """One of several pots alike."""
    return situation if situation.pot.count == 1 else replace(situation, pot=replace(situation.pot, count=1))


def _counts(alike: int, option: Option) -> list[int]:
    """For how many of the pots alike an option may be chosen, all of them first; a group is pushed together whole."""
    if Protection.GROUP in option.protections:
        return [alike]
    if alike <= ALL_COUNTS:
        return list(range(alike, 0, -1))
    return [alike, *(max(alike * quarters // 4, 1) for quarters in (3, 2, 1))]


def _verify(evening: Evening, chosen: Sequence[_Candidate]) -> None:
    """Simulate what was chosen in every member."""
    of_occasion: dict[Occasion, list[_Candidate]] = defaultdict(list)
    for candidate in chosen:
        of_occasion[candidate.occasion].append(candidate)
    trials = [
        Trial(occasion, tuple((one.pot, one.option) for one in alike), evening.terrace.columns)
        for occasion, alike in of_occasion.items()
    ]
    for alike, outcomes in zip(of_occasion.values(), simulate_trials(evening, trials), strict=True):
        for candidate, outcome in zip(alike, outcomes, strict=True):
            candidate.result.outcome, candidate.result.without = outcome, candidate.without
            candidate.result.verified = True


def _offers(evening: Evening, candidates: Sequence[_Candidate]) -> list[Offer]:
    """Candidates as they compete for what is scarce."""
    of_pot: dict[int, list[_Candidate]] = defaultdict(list)
    for candidate in candidates:
        of_pot[candidate.pot].append(candidate)
    return [_offer(evening, candidate, of_pot[candidate.pot]) for candidate in candidates]


def _offer(evening: Evening, candidate: _Candidate, of_pot: Sequence[_Candidate]) -> Offer:
    """One candidate; it saves nothing where it hardly helps."""
    option, pot = candidate.option, evening.pots[candidate.pot]
    slots = _slots(candidate.round.occasion.batch, option)
    saves = candidate.saved_eur - candidate.effort_eur
    helps = candidate.helps
    if _stays_told(candidate, pot.id):
        helps, saves = True, max(saves, 0.0) + TOLD_EUR
    if len(slots) > 1 and saves > 0.0:  # what does not pay for tonight is left to the spell
        saves += _saves_in_the_spell_too(candidate, of_pot)
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


def _stays_told(candidate: _Candidate, pot: str) -> bool:
    """Whether the person knows of this, and it does some good: it still pays, or the night is not yet harmless."""
    told = candidate.round.about.told
    if not told:
        return False
    known = all(Told(pot, step.protection, _to_spot(candidate.option, step)) in told for step in candidate.option.steps)
    if not known or not candidate.does_some_good or candidate.saved_eur <= 0.0:
        return False
    still_pays = candidate.saved_eur > candidate.effort_eur
    return still_pays or _margin_k(candidate.without, candidate.round.occasion) < CLEAR_MARGIN_K


def _to_spot(option: Option, step: Step) -> str | None:
    return option.to_spot if step.protection is Protection.MOVE else None


def _margin_k(outcome: Outcome, occasion: Occasion) -> float:
    """How far the coldest expected stays above the nearest limit that counts [K]."""
    return min(
        (
            float(np.median(judgement.coldest_c)) - judgement.limit.limit_c
            for judgement in outcome.judgements
            if judgement.limit.tissue in occasion.tissues
        ),
        default=np.inf,
    )


def _saves_in_the_spell_too(candidate: _Candidate, of_pot: Sequence[_Candidate]) -> float:
    """What tonight's care for the roots takes away of the spell's loss: as much as the same would then."""
    if candidate.round.occasion.batch is not Batch.TONIGHT:
        return 0.0
    alike = [
        candidate.share * other.saved_eur / other.share
        for other in of_pot
        if other.round.occasion.batch is Batch.BEFORE_SPELL
        and (candidate.option.indoors or other.option.protections <= candidate.option.protections)
    ]
    return max([0.0, *alike])  # what would do harm then need not be done


def _slots(batch: Batch, option: Option) -> frozenset[Batch]:
    """Which rounds an option settles for its pot.

    Whose roots are cared for tonight needs nothing more for the spell, and what is carried off before the
    spell needs no fleece; a fleece alone leaves the roots to the spell.
    """
    if batch is Batch.TONIGHT and option.protections & ROOT_PROTECTIONS:
        return frozenset({Batch.TONIGHT, Batch.BEFORE_SPELL})
    if batch is Batch.BEFORE_SPELL and Protection.MOVE in option.protections:
        return frozenset({Batch.TONIGHT, Batch.BEFORE_SPELL})
    return frozenset({batch})


def _missed(
    evening: Evening, candidates: Sequence[_Candidate], offers: Sequence[Offer], shared: Shared
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


def _one_more(candidates: Sequence[_Candidate], offers: Sequence[Offer], position: int) -> Offer | None:
    """What an option that some of the pots alike have would take for the fewest more."""
    few = [
        offers[other]
        for other, candidate in enumerate(candidates)
        if candidate.result is candidates[position].result
    ]
    return min(few, key=lambda offer: offer.count, default=None)


def _that_can_help(outcome: Outcome, occasion: Occasion, margin_k: float | None = None) -> frozenset[Protection]:
    """Protections that reach the tissues at risk: fleece does not reach roots, a wrap no leaf.

    With a margin, tissues that come so near to their limit count as well.
    """
    at_risk = {
        judgement.limit.tissue
        for judgement in outcome.judgements
        if judgement.limit.tissue in occasion.tissues
        and (
            float(judgement.chance.mean()) > CHANCE_CAP
            or (margin_k is not None and np.median(judgement.coldest_c) - judgement.limit.limit_c < margin_k)
        )
    }
    wanted: frozenset[Protection] = frozenset()
    if at_risk & ABOVE_THE_MIX and occasion.batch is not Batch.BEFORE_SPELL:
        wanted |= LEAF_PROTECTIONS
    if Tissue.STEM in at_risk:
        wanted |= STEM_PROTECTIONS
    if at_risk - ABOVE_THE_MIX:
        wanted |= ROOT_PROTECTIONS
    return wanted


def _indoors_is_a_choice(outcome: Outcome, occasion: Occasion) -> bool:
    """Nobody carries a hardy shrub indoors for its outer roots; for its life, or for tonight's leaves, yes."""
    return occasion.batch is Batch.TONIGHT or any(
        judgement.limit.tissue is Tissue.WHOLE_ROOT and float(judgement.chance.mean()) > CHANCE_CAP
        for judgement in outcome.judgements
    )


def _worth_a_look(outcome: Outcome) -> bool:
    return outcome.loss_eur >= CHEAPEST_JOB_EUR or outcome.breach_eur > 0.0


def _cold_nights(evening: Evening, pot: int) -> int:
    """Nights in sight that would hurt the pot as it stands, at least 1."""
    return max(
        1,
        sum(
            loss_of([j for j in night[pot] if j.limit.tissue in TONIGHT_TISSUES], 1)[0] >= COLD_NIGHT_CHANCE
            for night in evening.judgements
        ),
    )
