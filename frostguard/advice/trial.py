"""What becomes of a pot on an occasion, left alone or with an option: simulated, judged, and put into money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import FINE_AHEAD_H, Evening, state_for, untouched_until
from frostguard.advice.occasion import Occasion
from frostguard.advice.option import Option
from frostguard.advice.outlook import Judgement, Stretch, judge_night, loss_of, night_hours, per_member
from frostguard.advice.pot_run import PotRun, run_pots
from frostguard.advice.situation import Situation
from frostguard.advice.unprotected import stood_through

CHANCE_CAP = 0.01
"""The chance of harm that an irreplaceable plant may be left with."""

BREACH_EUR = 1000.0
"""What a certain breach of that cap counts for; far above any effort."""

RANKING_QUANTILES = (0.1, 0.9)
"""Members that options are ranked on, beside the middle one; the chosen ones are verified on all."""


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


def left_alone(evening: Evening, occasion: Occasion, pot: int) -> Outcome:
    """The pot on that occasion without any job, from the evening's own run."""
    return _outcome(evening, occasion, evening.run, pot, pot, evening.now)


def simulate_distinct(
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
    inside = night_hours(terrace, evening.run, evening.nights[occasion.nights[0]], evening.now)
    air = terrace.outdoor.air_temperature_c[evening.run.first :][: inside.size][inside]
    order = np.argsort(terrace.colder(air.min(axis=0)))
    ranks = [round(quantile * (terrace.n_members - 1)) for quantile in RANKING_QUANTILES]
    members = {int(terrace.middle_columns[0]) // terrace.n_cases, *order[ranks].tolist()}
    ordered = np.array(sorted(members))
    return np.asarray((ordered[:, None] * terrace.n_cases + np.arange(terrace.n_cases)).ravel())
