"""Which jobs: for each pot at risk the set of protections with the least expected loss plus effort.

Two occasions. Tonight's jobs answer to leaf, bud, chill and the whole root system in the coming night.
Outer roots are a matter of cold spells: one batch of preparations before the spell, or none once it
has begun, since a frozen ball must not be wrapped and a slow spring is not worth a job every evening.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import FINE_AHEAD_H, Evening, state_for, untouched_until
from frostguard.advice.outlook import Judgement, Stretch, judge_night, loss_of, night_hours, per_member
from frostguard.advice.plan import CLEAR_MARGIN_K, Batch, Protection
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.advice.protections import (
    LEAF_PROTECTIONS,
    ROOT_PROTECTIONS,
    Circumstances,
    Option,
    Step,
    options_for,
)
from frostguard.advice.sharing import AtHand, Offer, Scarce, Shared, pieces_given, share_out, short_of
from frostguard.advice.situation import Situation
from frostguard.advice.state import Told
from frostguard.advice.unprotected import crossing_hour, stood_through
from frostguard.garden.settings import Settings
from frostguard.hardiness.model import Tissue

Array = NDArray[np.float64]

TONIGHT_TISSUES = frozenset({Tissue.LEAF, Tissue.BUD, Tissue.CHILL, Tissue.WHOLE_ROOT})
SPELL_TISSUES = frozenset({Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT})
ABOVE_THE_MIX = frozenset({Tissue.LEAF, Tissue.BUD, Tissue.CHILL})

CHEAPEST_JOB_EUR = 0.25
"""A minute's work at 15 euro an hour: less expected loss than this can pay for no job."""

CHANCE_CAP = 0.01
"""The chance of harm that an irreplaceable plant may be left with."""

BREACH_EUR = 1000.0
"""What a certain breach of that cap counts for; far above any effort."""

COLD_NIGHT_CHANCE = 0.1
"""Chance of harm that makes a night count for one trip over several nights; estimate."""

RANKING_QUANTILES = (0.1, 0.9)
"""Members that options are ranked on, beside the middle one; the chosen ones are verified on all."""

TOLD_EUR = 0.5
"""What a job that the person knows of already is worth more than another: plans that change for pennies are
not followed; estimate, two minutes' work."""


MOST_SECOND_THOUGHTS = 2
"""Times that what is scarce is shared out anew because an option did not hold in all members."""

ALL_COUNTS = 6
"""Of up to so many pots alike any number may get a job, of more a quarter, half, three quarters or all."""

WORTHWHILE_SHARE = 0.05
"""A job must take away at least this share of the loss, or it is only busyness; estimate."""


@dataclass(frozen=True, slots=True)
class Occasion:
    """A round of planning: which nights and tissues count, and from which hour the jobs act.

    Jobs act from `start_hour`, by which all are done; what passes its limit before is done first, from
    `earliest_hour` on. Nights `before` are stood through as the pot is, and count for what they do.
    """

    batch: Batch
    start_hour: int
    nights: tuple[int, ...]
    tissues: frozenset[Tissue]
    earliest_hour: int | None = None  # as `start_hour` where None
    done_hour: int | None = None  # the last whole hour before all are done; as `start_hour` where None
    before: tuple[int, ...] = ()

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
        """The last hour of its last night."""
        night = evening.nights[self.nights[-1]]
        return int(np.flatnonzero(night.hours_in(evening.terrace.times))[-1])


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a pot fares: chance of damage, expected loss, and breach of the cap, by the tissues that count."""

    chance: float
    loss_eur: float
    breach_eur: float
    judgements: tuple[Judgement, ...]
    coldest_ring_c: float
    coldest_leaf_c: float
    first_night: FirstNight

    @property
    def at_stake_eur(self) -> float:
        """Loss and breach of the cap together."""
        return self.loss_eur + self.breach_eur


@dataclass(frozen=True, slots=True)
class FirstNight:
    """The first of an occasion's nights alone, every tissue of the pot."""

    judgements: tuple[Judgement, ...]
    coldest_ring_c: float
    coldest_leaf_c: float


@dataclass(frozen=True, slots=True)
class Choice:
    """What was chosen for a pot on an occasion."""

    pot: int
    option: Option
    occasion: Occasion
    without: Outcome
    with_it: Outcome
    saved_eur: float  # loss and breach of the cap taken away

    @property
    def count(self) -> int:
        """How many of the pots alike it is for."""
        return self.option.situation.pot.count


def worst_of_nights(nights: Sequence[Sequence[Judgement]]) -> tuple[Judgement, ...]:
    """The same tissues over several nights: per member the coldest, and the greatest chance."""
    return tuple(
        replace(
            same[0],
            coldest_c=np.min([judgement.coldest_c for judgement in same], axis=0),
            chance=np.max([judgement.chance for judgement in same], axis=0),
        )
        for same in zip(*nights, strict=True)
    )


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
    """What an option comes to where all pots alike get it: by the ranking members at first, once `verified` by all."""

    outcome: Outcome
    verified: bool = False


@dataclass(frozen=True, slots=True)
class _Candidate:
    """An option, for some or all of the pots alike, with what it comes to."""

    round: Round
    pot: int
    option: Option
    share: float  # of the pots alike
    effort_eur: float
    without: Outcome
    result: _Result

    @property
    def saved_eur(self) -> float:
        """Loss and breach of the cap taken away."""
        return self.share * (self.without.at_stake_eur - self.result.outcome.at_stake_eur)

    @property
    def helps(self) -> bool:
        """Whether it takes away enough to be more than busyness."""
        return self.saved_eur >= WORTHWHILE_SHARE * self.share * self.without.at_stake_eur


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
    tried = [_tried(evening, turn, at_hand, settings) for turn in rounds]
    candidates = [candidate for one in tried for candidate in one.candidates]
    for _ in range(1 + MOST_SECOND_THOUGHTS):
        offers = _offers(evening, candidates)
        shared = share_out(offers, at_hand)
        unsure = [candidates[position] for position in shared.taken if not candidates[position].result.verified]
        if not unsure:
            break
        for turn in rounds:
            _verify(evening, turn, [candidate for candidate in unsure if candidate.round is turn])
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
        Choice(one.pot, one.option.cut_from(used), one.round.occasion, one.without, one.result.outcome, one.saved_eur)
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
class _Tried:
    """The options of a round that may pay, and pots open to others that cost more than there is to lose."""

    round: Round
    candidates: tuple[_Candidate, ...]
    too_dear: frozenset[int]


def _tried(evening: Evening, turn: Round, at_hand: AtHand, settings: Settings) -> _Tried:
    """Every option open to the pots of a round that are at risk, ranked on few members."""
    occasion = turn.occasion
    about = replace(turn.about, supplies=at_hand.supplies)
    without = {pot: _left_alone(evening, occasion, pot) for pot in turn.pots}
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
    may_pay = [one for one in found if one[0] in wavering or one[2] < without[one[0]].at_stake_eur]
    too_dear = frozenset(pot for pot, _, _ in found) - {pot for pot, _, _ in may_pay}
    options = [(pot, option) for pot, option, _ in may_pay]
    outcomes = _simulated(evening, occasion, options, _ranking_columns(evening, occasion), fine_hours=0)
    candidates = []
    for (pot, option, effort), outcome in zip(may_pay, outcomes, strict=True):
        alike, result = evening.pots[pot].count, _Result(outcome)
        for count in _counts(alike, option):
            if at_hand.supplies.can_give(option.needs.times(count)):
                share = count / alike
                some = option.for_pots(count)
                candidates.append(_Candidate(turn, pot, some, share, share * effort, without[pot], result))
    return _Tried(turn, tuple(candidates), too_dear)


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


def _verify(evening: Evening, turn: Round, candidates: Sequence[_Candidate]) -> None:
    """Simulate what was chosen in every member."""
    if not candidates:
        return
    tried = [(candidate.pot, candidate.option) for candidate in candidates]
    outcomes = _simulated(evening, turn.occasion, tried, evening.terrace.columns)
    for candidate, outcome in zip(candidates, outcomes, strict=True):
        candidate.result.outcome, candidate.result.verified = outcome, True


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
    """Whether the person knows of this already, it does some good, and the night is not yet clearly harmless."""
    told = candidate.round.about.told
    if not told:
        return False
    known = all(Told(pot, step.protection, _to_spot(candidate.option, step)) in told for step in candidate.option.steps)
    if not known or not candidate.helps or candidate.saved_eur <= 0.0:
        return False
    return _margin_k(candidate.without, candidate.round.occasion) < CLEAR_MARGIN_K


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
    alike = (
        candidate.share * other.saved_eur / other.share
        for other in of_pot
        if other.round.occasion.batch is Batch.BEFORE_SPELL
        and (candidate.option.indoors or other.option.protections <= candidate.option.protections)
    )
    return max(alike, default=0.0)


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


def _simulated(
    evening: Evening,
    occasion: Occasion,
    tried: Sequence[tuple[int, Option]],
    columns: NDArray[np.intp],
    *,
    fine_hours: int = FINE_AHEAD_H,
) -> list[Outcome]:
    """As `simulate_options`, with options that differ only in the piece they use simulated once."""
    places: dict[tuple[int, Situation, float], int] = {}
    distinct: list[tuple[int, Option]] = []
    index = []
    for pot, option in tried:
        key = (pot, option.situation, option.added_water_fraction)
        if key not in places:
            places[key] = len(distinct)
            distinct.append((pot, option))
        index.append(places[key])
    outcomes = simulate_options(evening, occasion, distinct, columns, fine_hours=fine_hours)
    return [outcomes[place] for place in index]


def simulate_options(
    evening: Evening,
    occasion: Occasion,
    tried: Sequence[tuple[int, Option]],
    columns: NDArray[np.intp],
    *,
    fine_hours: int = FINE_AHEAD_H,
) -> list[Outcome]:
    """Each option simulated from the hour its jobs are done to the end of the occasion.

    `fine_hours` are simulated with the standard resolution, later ones with the coarse one; to rank options
    the coarse one will do.
    """
    acting = {pot: occasion.acting_hour(evening, pot) for pot in {pot for pot, _ in tried}}
    outcomes: dict[int, Outcome] = {}
    for hour in sorted(set(acting.values())):
        mine = [position for position, (pot, _) in enumerate(tried) if acting[pot] == hour]
        simulated = _simulate_from(
            evening, occasion, hour, [tried[position] for position in mine], columns, fine_hours
        )
        outcomes |= dict(zip(mine, simulated, strict=True))
    return [outcomes[position] for position in range(len(tried))]


def _simulate_from(
    evening: Evening,
    occasion: Occasion,
    hour: int,
    tried: Sequence[tuple[int, Option]],
    columns: NDArray[np.intp],
    fine_hours: int,
) -> list[Outcome]:
    """Options that all act from the same hour."""
    terrace, catalogue = evening.terrace, evening.catalogue
    pots = sorted({pot for pot, _ in tried})
    untouched = untouched_until(evening, hour, np.asarray(pots), columns)
    changed = [option.situation for _, option in tried]
    start = state_for(
        untouched,
        np.array([pots.index(pot) for pot, _ in tried]),
        np.arange(columns.size),
        changed,
        [option.added_water_fraction for _, option in tried],
        catalogue,
    )
    run = run_pots(
        terrace,
        changed,
        catalogue,
        start,
        hour,
        occasion.last_hour(evening),
        columns=columns,
        fine_until=hour + fine_hours,
    )
    return [_outcome(evening, occasion, run, position, pot, hour) for position, (pot, _) in enumerate(tried)]


def _outcome(evening: Evening, occasion: Occasion, run: PotRun, position: int, pot: int, after: int) -> Outcome:
    """What one situation of a run comes to for the pot: as it is until hour `after`, then by that run."""
    terrace = evening.terrace
    stretches: dict[int, tuple[Stretch, ...]] = {}
    for night in (*occasion.before, *occasion.nights):
        inside = night_hours(terrace, run, evening.nights[night], after)
        then = Stretch(run, position, inside, np.arange(run.columns.size))
        stretches[night] = (*stood_through(evening, pot, night, occasion.bare_until(after), run), then)
    judged = {
        night: judge_night(terrace, run, position, evening.limits[pot], last.inside, earlier)
        for night, (*earlier, last) in stretches.items()
    }

    def coldest(name: str, nights: Sequence[int]) -> float:
        curves = [one.part(getattr(one.run, name)[:, one.situation]) for night in nights for one in stretches[night]]
        return float(np.median(per_member(terrace, run, np.concatenate(curves).min(axis=0))))

    worst, first = worst_of_nights(list(judged.values())), occasion.nights[0]
    counting = [judgement for judgement in worst if judgement.limit.tissue in occasion.tissues]
    chance, loss = loss_of(counting, evening.pots[pot].count)
    return Outcome(
        chance,
        loss,
        _breach_eur(counting),
        worst,
        coldest("ring_c", occasion.nights),
        coldest("leaf_c", occasion.nights),
        FirstNight(judged[first], coldest("ring_c", (first,)), coldest("leaf_c", (first,))),
    )


def _left_alone(evening: Evening, occasion: Occasion, pot: int) -> Outcome:
    """The pot on that occasion without any job, from the evening's own run."""
    return _outcome(evening, occasion, evening.run, pot, pot, evening.now)


def _breach_eur(judgements: Sequence[Judgement]) -> float:
    """What chances above the cap count for where a plant cannot be replaced, tissue by tissue [euro]."""
    return BREACH_EUR * sum(
        max(float(judgement.chance.mean()) - CHANCE_CAP, 0.0) * judgement.limit.value_share
        for judgement in judgements
        if judgement.planting.irreplaceable
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
    if at_risk & ABOVE_THE_MIX:
        wanted |= LEAF_PROTECTIONS
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


def _ranking_columns(evening: Evening, occasion: Occasion) -> NDArray[np.intp]:
    """Weather columns of a cold, the middle and a mild member, with all their bounding cases."""
    terrace = evening.terrace
    inside = night_hours(terrace, evening.run, evening.nights[occasion.nights[0]], evening.now)
    air = terrace.outdoor.air_temperature_c[evening.run.first :][: inside.size][inside]
    order = np.argsort(terrace.colder(air.min(axis=0)))
    ranks = [round(quantile * (terrace.n_members - 1)) for quantile in RANKING_QUANTILES]
    members = {int(terrace.middle_columns[0]) // terrace.n_cases, *order[ranks].tolist()}
    ordered = np.array(sorted(members))
    return np.asarray((ordered[:, None] * terrace.n_cases + np.arange(terrace.n_cases)).ravel())
