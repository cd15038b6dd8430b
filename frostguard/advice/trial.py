"""What becomes of a pot on an occasion, left alone or with an option: simulated, judged, and put into money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import repeat

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import Evening, state_for, untouched_until
from frostguard.advice.occasion import Occasion
from frostguard.advice.option import Option
from frostguard.advice.outlook import Judgement, Stretch, judge_pots, loss_of, night_hours, per_member
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.advice.situation import Situation
from frostguard.advice.unprotected import stood_through
from frostguard.garden.model import Pot
from frostguard.side_by_side import side_by_side

Array = NDArray[np.float64]

CHANCE_CAP = 0.01
"""The chance of harm that an irreplaceable plant may be left with."""

BREACH_EUR = 1000.0
"""What a certain breach of that cap counts for; far above any effort."""

RANKING_QUANTILES = (0.1, 0.9)
"""Members that options are ranked on, beside the middle one; the chosen ones are verified on all."""

COARSE_HOUR = 0.2
"""Time that an hour of the coarse resolution takes beside one of the standard resolution; measured."""

WORTH_FORKING = 500.0
"""Series-hours of the standard resolution from which a second process pays for its start; measured."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a pot fares: chance of damage, expected loss, and breach of the cap, by the tissues that count.

    `later_chances` are the chances of damage, of the same tissues, in each later night of the occasion.
    """

    chance: float
    loss_eur: float
    breach_eur: float
    judgements: tuple[Judgement, ...]
    coldest_ring_c: float
    coldest_leaf_c: float
    first_night: FirstNight
    later_chances: tuple[float, ...] = ()

    @property
    def at_stake_eur(self) -> float:
        """Loss and breach of the cap together."""
        return self.loss_eur + self.breach_eur


@dataclass(frozen=True, slots=True)
class FirstNight:
    """The first of an occasion's nights alone, every tissue of the pot; the coldest of each member."""

    judgements: tuple[Judgement, ...]
    ring_c: Array  # (n_members,)
    leaf_c: Array  # (n_members,)

    @property
    def coldest_ring_c(self) -> float:
        """Median over members."""
        return float(np.median(self.ring_c))

    @property
    def coldest_leaf_c(self) -> float:
        """Median over members."""
        return float(np.median(self.leaf_c))


def left_alone(evening: Evening, occasion: Occasion, pots: Sequence[int]) -> dict[int, Outcome]:
    """Each of these pots on that occasion without any job, from the evening's own run."""
    rows = np.array(pots, dtype=np.intp)
    return dict(zip(pots, _outcomes(evening, occasion, evening.run, rows, rows, evening.now), strict=True))


@dataclass(frozen=True, slots=True)
class Trial:
    """Options of an occasion, each with the pot it is for, to be simulated in some weather columns.

    To rank options the coarse resolution will do for the coming night as well.
    """

    occasion: Occasion
    tried: tuple[tuple[int, Option], ...]
    columns: NDArray[np.intp]
    coarse: bool = False


@dataclass(frozen=True, slots=True)
class _Start:
    """Options of a trial whose jobs are done at one hour, and for each its positions in the trial."""

    trial: Trial
    hour: int
    positions: tuple[list[int], ...]

    def series_hours(self, evening: Evening) -> float:
        """How long it takes to simulate, in series-hours of the standard resolution."""
        hours = self.trial.occasion.last_hour(evening) - self.hour
        fine = 0 if self.trial.coarse else min(max(evening.fine_until - self.hour, 0), hours)
        return len(self.trial.tried) * self.trial.columns.size * (fine + COARSE_HOUR * (hours - fine))


def simulate_trials(evening: Evening, trials: Sequence[Trial]) -> list[list[Outcome]]:
    """For each trial the outcome of each option, from the hour its jobs are done to the end of the occasion.

    Options that differ only in the piece they use are simulated once, and what begins at different hours or on
    different occasions side by side.
    """
    starts = [_starts(evening, trial) for trial in trials]
    calls = [partial(_simulate_start, evening, start) for of_trial in starts for start in of_trial]
    costs = [start.series_hours(evening) for of_trial in starts for start in of_trial]
    pays = sum(costs) - max(costs, default=0.0) >= WORTH_FORKING
    found = iter(side_by_side(calls, costs) if pays else [call() for call in calls])
    answers = []
    for trial, of_trial in zip(trials, starts, strict=True):
        outcomes: dict[int, Outcome] = {}
        for start in of_trial:
            for positions, outcome in zip(start.positions, next(found), strict=True):
                outcomes |= dict.fromkeys(positions, outcome)
        answers.append([outcomes[position] for position in range(len(trial.tried))])
    return answers


def _starts(evening: Evening, trial: Trial) -> list[_Start]:
    """The different options of a trial, by the hour their jobs are done."""
    acting = {pot: trial.occasion.acting_hour(evening, pot) for pot in {pot for pot, _ in trial.tried}}
    alike: dict[tuple[int, Situation, float], list[int]] = {}
    for position, (pot, option) in enumerate(trial.tried):
        alike.setdefault((pot, option.situation, option.added_water_fraction), []).append(position)
    by_hour: dict[int, list[list[int]]] = {hour: [] for hour in sorted(set(acting.values()))}
    for (pot, *_), positions in alike.items():
        by_hour[acting[pot]].append(positions)
    return [
        _Start(replace(trial, tried=tuple(trial.tried[positions[0]] for positions in places)), hour, tuple(places))
        for hour, places in by_hour.items()
    ]


def _simulate_start(evening: Evening, start: _Start) -> list[Outcome]:
    """Options that all act from the same hour."""
    terrace, catalogue = evening.terrace, evening.catalogue
    trial, hour = start.trial, start.hour
    pots = sorted({pot for pot, _ in trial.tried})
    untouched = untouched_until(evening, hour, np.asarray(pots), trial.columns)
    changed = [option.situation for _, option in trial.tried]
    state = state_for(
        untouched,
        np.array([pots.index(pot) for pot, _ in trial.tried]),
        np.arange(trial.columns.size),
        changed,
        [option.added_water_fraction for _, option in trial.tried],
        catalogue,
    )
    run = run_pots(
        terrace,
        changed,
        catalogue,
        state,
        hour,
        trial.occasion.last_hour(evening),
        columns=trial.columns,
        fine_until=hour if trial.coarse else evening.fine_until,
    )
    of_pots = np.array([pot for pot, _ in trial.tried])
    return _outcomes(evening, trial.occasion, run, np.arange(len(trial.tried)), of_pots, hour)


def _outcomes(
    evening: Evening,
    occasion: Occasion,
    run: PotRun,
    situations: NDArray[np.intp],
    pots: NDArray[np.intp],
    after: int,
) -> list[Outcome]:
    """What situations of a run come to for their pots: each as it is until hour `after`, then by that run."""
    terrace = evening.terrace
    stretches: dict[int, tuple[Stretch, ...]] = {}
    for night in (*occasion.before, *occasion.nights, *occasion.later):
        inside = night_hours(terrace, run, evening.nights[night], after)
        then = Stretch(run, situations, inside, np.arange(run.columns.size))
        stretches[night] = (*stood_through(evening, pots, night, occasion.bare_until(after), run), then)
    limits = [evening.limits[pot] for pot in pots]
    of_pots = [run.situations[situation].pot for situation in situations]
    judged = [judge_pots(terrace, run.columns, of_pots, limits, through) for through in stretches.values()]
    first = occasion.nights[0]
    first_judged = judged[list(stretches).index(first)]
    until = len(judged) - len(occasion.later)
    chances = [[_chance(occasion, of_pot) for of_pot in night] for night in judged[until:]]
    later = zip(*chances, strict=True) if chances else repeat((), len(pots))

    def coldest_c(name: str, nights: Sequence[int]) -> Array:
        curves = [one.part(getattr(one.run, name)) for night in nights for one in stretches[night]]
        return per_member(terrace, run.columns, np.concatenate(curves).min(axis=0))

    by_night = zip(first_judged, coldest_c("ring_c", (first,)), coldest_c("leaf_c", (first,)), strict=True)
    return [
        _outcome(
            occasion,
            evening.pots[pot],
            worst_of_nights(nights),
            float(np.median(ring_c)),
            float(np.median(leaf_c)),
            FirstNight(*alone),
            tuple(later_chances),
        )
        for pot, nights, ring_c, leaf_c, alone, later_chances in zip(
            pots,
            zip(*judged[:until], strict=True),
            coldest_c("ring_c", occasion.nights),
            coldest_c("leaf_c", occasion.nights),
            by_night,
            later,
            strict=True,
        )
    ]


def _chance(occasion: Occasion, judged: Sequence[Judgement]) -> float:
    """The chance of damage to the tissues that count."""
    return loss_of([one for one in judged if one.limit.tissue in occasion.tissues], 1)[0]


def in_members(
    evening: Evening, occasion: Occasion, pot: int, outcome: Outcome, columns: NDArray[np.intp]
) -> Outcome:
    """An outcome in every member as it is in those of some weather columns alone; the first night stays as it was."""
    members = np.unique(columns // evening.terrace.n_cases)
    judgements = tuple(
        replace(one, coldest_c=one.coldest_c[members], chance=one.chance[members]) for one in outcome.judgements
    )
    counting = [judgement for judgement in judgements if judgement.limit.tissue in occasion.tissues]
    chance, loss = loss_of(counting, evening.pots[pot].count)
    return replace(
        outcome, chance=chance, loss_eur=loss, breach_eur=_breach_eur(counting), judgements=judgements
    )


def _outcome(
    occasion: Occasion,
    pot: Pot,
    worst: tuple[Judgement, ...],
    ring_c: float,
    leaf_c: float,
    first: FirstNight,
    later_chances: tuple[float, ...],
) -> Outcome:
    counting = [judgement for judgement in worst if judgement.limit.tissue in occasion.tissues]
    chance, loss = loss_of(counting, pot.count)
    return Outcome(chance, loss, _breach_eur(counting), worst, ring_c, leaf_c, first, later_chances)


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


def _breach_eur(judgements: Sequence[Judgement]) -> float:
    """What chances above the cap count for where a plant cannot be replaced, tissue by tissue [euro]."""
    return BREACH_EUR * sum(
        max(float(judgement.chance.mean()) - CHANCE_CAP, 0.0) * judgement.limit.value_share
        for judgement in judgements
        if judgement.planting.irreplaceable
    )


def ranking_columns(evening: Evening, occasion: Occasion) -> NDArray[np.intp]:
    """Weather columns of a cold, the middle and a mild member, with all their bounding cases."""
    terrace = evening.terrace
    nights = [night_hours(terrace, evening.run, evening.nights[night], evening.now) for night in occasion.nights]
    inside = np.any(nights, axis=0)
    air = terrace.outdoor.air_temperature_c[evening.run.first :][: inside.size][inside]
    order = np.argsort(terrace.colder(air.min(axis=0)))
    ranks = [round(quantile * (terrace.n_members - 1)) for quantile in RANKING_QUANTILES]
    members = {int(terrace.middle_columns[0]) // terrace.n_cases, *order[ranks].tolist()}
    ordered = np.array(sorted(members))
    return np.asarray((ordered[:, None] * terrace.n_cases + np.arange(terrace.n_cases)).ravel())
