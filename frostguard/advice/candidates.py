"""What may pay on a round: every option open to the pots at risk, ranked on few members, verified on all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from frostguard.advice.evening import Evening
from frostguard.advice.occasion import TONIGHT_TISSUES, Occasion, Round
from frostguard.advice.option import Option
from frostguard.advice.outlook import loss_of
from frostguard.advice.plan import CLEAR_MARGIN_K, Batch, Protection
from frostguard.advice.protections import options_for
from frostguard.advice.reach import ABOVE_THE_MIX, LEAF_PROTECTIONS, ROOT_PROTECTIONS, STEM_PROTECTIONS
from frostguard.advice.scarce import AtHand
from frostguard.advice.situation import Situation
from frostguard.advice.stay import first_harmless_night, first_night_too_cold, through_its_stay
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

ALL_COUNTS = 6
"""Of up to so many pots alike any number may get a job, of more a quarter, half, three quarters or all."""

WORTHWHILE_SHARE = 0.05
"""A job must take away at least this share of the loss, or it is only busyness; estimate."""

WORTHWHILE_CHANCE = 0.02
"""And at least so much of a tissue's chance of harm, beside what the pot's other jobs do: for less nobody goes out,
however dear the plant, as limits and forecast are not known so well; estimate."""


@dataclass(slots=True)
class Result:
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
class Candidate:
    """An option, for some or all of the pots alike, with what it comes to."""

    round: Round
    pot: int
    option: Option
    share: float  # of the pots alike
    one_trip_eur: float
    without: Outcome
    result: Result
    occasion: Occasion  # that of the round, with the later nights in the room that it is carried to

    @property
    def too_cold_from(self) -> int | None:
        """The first later night that is too cold for it in the room that it is carried to."""
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
        taken = chance_taken(self.result.without, self.result.outcome, self.round.occasion)
        return self.does_some_good and taken >= WORTHWHILE_CHANCE


@dataclass(frozen=True, slots=True)
class _Paying:
    """The options of a round that may pay, each with its pot and effort [euro], and pots open to dearer ones only."""

    round: Round
    options: tuple[tuple[int, Option, float], ...]
    too_dear: frozenset[int]
    without: Mapping[int, Outcome]


@dataclass(frozen=True, slots=True)
class Tried:
    """The options of a round that may pay, and pots open to others that cost more than there is to lose."""

    round: Round
    candidates: tuple[Candidate, ...]
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
        if evening.pots[pot].id in told and margin_k(without[pot], occasion) < CLEAR_MARGIN_K
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


def tried_options(
    evening: Evening, rounds: Sequence[Round], at_hand: AtHand, settings: Settings
) -> list[Tried]:
    """The options of every round that may pay, ranked on few members, for some or all of the pots alike."""
    paying = [_paying(evening, turn, at_hand, settings) for turn in rounds]
    trials = [_ranking_trials(evening, of_round) for of_round in paying]
    outcomes = iter(simulate_trials(evening, [trial for of_round in trials for trial in of_round]))
    tried = []
    for of_round, its_trials in zip(paying, trials, strict=True):
        found = [
            (trial, pot, option, outcome)
            for trial in its_trials
            for (pot, option), outcome in zip(trial.tried, next(outcomes), strict=True)
        ]
        candidates = tuple(_candidates(evening, of_round, found, at_hand))
        tried.append(Tried(of_round.round, candidates, of_round.too_dear))
    return tried


def _ranking_trials(evening: Evening, of_round: _Paying) -> list[Trial]:
    """The options of a round, apart by the later nights that a pot stays in the room that it is carried to."""
    occasion = of_round.round.occasion
    of_occasion: dict[Occasion, list[tuple[int, Option]]] = defaultdict(list)
    carried = {pot for pot, option, _ in of_round.options if option.indoors}
    back = {pot: first_harmless_night(evening, pot, occasion.nights, occasion.tissues) for pot in carried}
    for pot, option, _ in of_round.options:
        of_occasion[through_its_stay(evening, occasion, pot, option, back.get(pot))].append((pot, option))
    columns = ranking_columns(evening, occasion)
    return [Trial(long, tuple(tried), columns, coarse=True) for long, tried in of_occasion.items()]


def _candidates(
    evening: Evening, of_round: _Paying, found: Sequence[tuple[Trial, int, Option, Outcome]], at_hand: AtHand
) -> Iterator[Candidate]:
    """What was found of a round's options, for so many of the pots alike as there are pieces for."""
    told = {one.pot for one in of_round.round.about.told}
    one_trip_eur = {id(option): effort for _, option, effort in of_round.options}
    of_pot: dict[int, list[tuple[frozenset[Protection], Outcome]]] = defaultdict(list)
    for _, pot, option, outcome in found:
        of_pot[pot].append((option.protections, outcome))
    for trial, pot, option, outcome in found:
        new = evening.pots[pot].id not in told
        if new and _one_too_many(option.protections, outcome, of_pot[pot], trial.occasion):
            continue
        alike, without = evening.pots[pot].count, of_round.without[pot]
        in_ranking = in_members(evening, trial.occasion, pot, without, trial.columns)
        result = Result(outcome, max(without, in_ranking, key=lambda one: one.at_stake_eur))
        for count in _counts(alike, option):
            if at_hand.supplies.can_give(option.needs.times(count)):
                share = count / alike
                yield Candidate(
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
    protections: frozenset[Protection],
    outcome: Outcome,
    of_pot: Sequence[tuple[frozenset[Protection], Outcome]],
    occasion: Occasion,
) -> bool:
    """Whether some of its jobs alone do as much, or hardly less."""
    return any(
        fewer < protections and chance_taken(with_fewer, outcome, occasion) < WORTHWHILE_CHANCE
        for fewer, with_fewer in of_pot
    )


def chance_taken(before: Outcome, after: Outcome, occasion: Occasion) -> float:
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


def verify(evening: Evening, chosen: Sequence[Candidate]) -> None:
    """Simulate what was chosen in every member."""
    of_occasion: dict[Occasion, list[Candidate]] = defaultdict(list)
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


def margin_k(outcome: Outcome, occasion: Occasion) -> float:
    """How far the coldest expected stays above the nearest limit that counts [K]."""
    return min(
        (
            float(np.median(judgement.coldest_c)) - judgement.limit.limit_c
            for judgement in outcome.judgements
            if judgement.limit.tissue in occasion.tissues
        ),
        default=np.inf,
    )


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
    if Tissue.STEM in at_risk and occasion.batch is not Batch.BEFORE_SPELL:
        wanted |= STEM_PROTECTIONS
    if at_risk - ABOVE_THE_MIX:
        wanted |= ROOT_PROTECTIONS
    return wanted


def _indoors_is_a_choice(outcome: Outcome, occasion: Occasion) -> bool:
    """Nobody carries a hardy shrub indoors for its outer roots; for its life, or for tonight's leaves, yes."""
    return occasion.batch is not Batch.BEFORE_SPELL or any(
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
