"""Where a thermometer would tell most: how much less unsure tonight's answer would be after some nights of it.

Everything is taken as linear about what is believed now and as Gaussian, so that what a night of readings tells is a
matrix that adds up: n nights make the inverse covariance of the parameters greater by n times it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.nights import from_utc64
from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import Terrace, prepare_terrace
from frostguard.errors import TuningFailed
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import Garden
from frostguard.logbook.measured import TunedValue
from frostguard.report.words import say
from frostguard.tuning.fit import Parameter, Slopes, sloped
from frostguard.tuning.noise import AT_FIRST, Readout
from frostguard.tuning.probe import Place
from frostguard.tuning.session import NIGHT_HOURS
from frostguard.tuning.terrace_model import SITE, TerraceModel, Thermometer
from frostguard.tuning.tune import model_of, night_numbers
from frostguard.weather.night_errors import usual_habits
from frostguard.weather.series import WeatherSeries

Array = NDArray[np.float64]

NIGHTS = (3, 7, 14, 30)
"""Stays of a thermometer that are compared."""

MOST_OF_IT = 0.8
"""Share of what the longest stay tells that is enough; estimate."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A thermometer that could be hung.

    Parameters
    ----------
    pot, spot : str or None
        Where: in a pot, or in the air of a spot.
    place : Place
    nights : int
        For how long: the fewest of `NIGHTS` that tell most of what the longest tells.
    spread_k : tuple of float
        How unsure tonight's coldest outer roots would be after each of `NIGHTS`, as the root of the mean square over
        pots, each weighed by the value of its plants [K].
    """

    pot: str | None
    spot: str | None
    place: Place
    nights: int
    spread_k: tuple[float, ...]

    @property
    def at_last_k(self) -> float:
        """After the stay that is proposed [K]."""
        return self.spread_k[NIGHTS.index(self.nights)]


@dataclass(frozen=True, slots=True)
class Suggestion:
    """How unsure tonight's coldest outer roots are now, the forecast's own doubt aside, and what would help most."""

    now_k: float
    candidates: tuple[Candidate, ...]  # the best first


def suggest(
    garden: Garden,
    weather: WeatherSeries,
    catalogue: Catalogue,
    tuned: Iterable[TunedValue],
    *,
    pots: Sequence[str],
    at: datetime,
) -> Suggestion:
    """Compare a thermometer at the wall and in the core of every pot, and one in the air.

    Parameters
    ----------
    garden : Garden
    weather : WeatherSeries
        Tonight, and before it some nights that stand for those to come.
    catalogue : Catalogue
    tuned : iterable of TunedValue
        What was learnt already: its values, and its spreads.
    pots : sequence of str
        The pots that matter.
    at : datetime
        The moment of asking, aware.

    Raises
    ------
    TuningFailed
        If no pot stands out of doors, or the weather holds too few nights.
    """
    terrace = prepare_terrace(garden, weather)
    indoors = {spot.name for spot in garden.spots if spot.room is not None}
    situations = [
        as_it_stands(pot, TerraceState(), catalogue)
        for pot in garden.pots
        if pot.id in pots and pot.spot not in indoors
    ]
    nights = _nights(terrace, at)
    if not situations or len(nights) < 2:
        raise TuningFailed(
            say("There is too little to compare: {pots} pots out of doors, {nights} nights.", pots=len(situations),
                nights=len(nights)),
            next_step=say("Name a file of weather that holds some days before tonight with --weather."),
        )  # fmt: skip
    probes = [
        Thermometer(f"{one.pot.id} {place.value}", one.pot.id, place, hours, np.zeros(len(hours)))
        for one in situations
        for place in (Place.WALL, Place.CORE)
        for hours in [tuple(np.array([hour]) for night in nights[:-1] for hour in night)]
    ]
    tonight = [
        Thermometer(f"tonight {one.pot.id}", one.pot.id, Place.WALL, (nights[-1],), np.zeros(1)) for one in situations
    ]
    model = model_of(
        terrace,
        weather,
        situations,
        [*probes, *tonight],
        catalogue,
        air_known=False,
        habits=usual_habits(garden.site),
    )
    return _compared(_with_learnt(model, tuned), len(probes))


def _compared(model: TerraceModel, n_probes: int) -> Suggestion:
    prior = np.array([one.prior for one in model.parameters])
    believed = np.array([one.spread for one in model.parameters])
    told, readout = sloped(model, model.parameters)(prior), model.readout(prior)
    # what is told of tonight is the ring itself, bare: the doubts of a probe are none of it
    own = [one.subject.startswith("thermometer/") for one in model.parameters]
    targets = np.flatnonzero(readout.thermometer >= n_probes)
    wanted = np.where(own, 0.0, told.slopes[targets])
    weights = _weights(model)
    inverse = np.diag(1.0 / believed**2)

    def unsure_k(information: Array, nights: int) -> float:
        covariance = np.linalg.inv(inverse + nights * information)
        return float(np.sqrt(weights @ np.einsum("ij,jk,ik->i", wanted, covariance, wanted)))

    candidates = []
    offers: list[tuple[str | None, str | None, Place, Array]] = [
        (probe.pot, None, probe.place, _of_probe(told, readout, number))
        for number, probe in enumerate(model.thermometers[:n_probes])
    ]
    # what the air of one spot tells holds for all of them, so any will do
    offers.append((None, model.situations[0].spot, Place.AIR, _of_air(model, readout)))
    now = unsure_k(np.zeros_like(inverse), 0)
    for pot, spot, place, information in offers:
        after = tuple(unsure_k(information, nights) for nights in NIGHTS)
        enough = now - MOST_OF_IT * (now - after[-1])
        nights = next(n for n, left in zip(NIGHTS, after, strict=True) if left <= enough + 1e-12)
        candidates.append(Candidate(pot, spot, place, nights, after))
    return Suggestion(now, tuple(sorted(candidates, key=lambda one: one.at_last_k)))


def _of_probe(told: Slopes, readout: Readout, number: int) -> Array:
    """What one night of a thermometer tells: the inverse covariance it adds, in the mean over the nights."""
    rows = np.flatnonzero(readout.thermometer == number)
    covariance = readout.part(rows).covariance(AT_FIRST[False])
    slopes = told.slopes[rows]
    return np.asarray(slopes.T @ np.linalg.solve(covariance, slopes) / np.unique(readout.night[rows]).size)


def _of_air(model: TerraceModel, readout: Readout) -> Array:
    """What one night of a thermometer of the air tells: that kind of night's bias, but for the night's own miss."""
    nights = np.unique(readout.night[readout.thermometer == 0])
    share = float(np.mean(readout.clear_calm[nights]))
    sizes = AT_FIRST[False]
    information = np.zeros(len(model.parameters))
    for name, often, miss_k in (
        ("clear_calm_bias_k", share, sizes.clear_calm_k),
        ("bias_k", 1.0 - share, sizes.other_k),
    ):
        column = model.columns.get((SITE, name))
        if column is not None:
            information[column] = often / (miss_k**2 + sizes.reading_k**2)
    return np.diag(information)


def _weights(model: TerraceModel) -> Array:
    """Of each pot: the value of what grows in it, a plant without one counting as a cheap one; they add up to one."""
    values = np.array(
        [
            one.pot.count * sum(max(planting.value_eur or 0.0, 1.0) for planting in one.pot.plantings)
            for one in model.situations
        ]
    )
    return np.asarray(values / values.sum())


def _with_learnt(model: TerraceModel, tuned: Iterable[TunedValue]) -> TerraceModel:
    """The model whose priors are what was learnt."""
    known = {(one.subject, one.name): one for one in tuned}

    def updated(one: Parameter) -> Parameter:
        found = known.get((one.subject, one.name))
        if found is None or found.value is None or (one.is_factor and found.value <= 0.0):
            return one
        value = float(np.log(found.value)) if one.is_factor else found.value
        spread = found.spread / found.value if one.is_factor else found.spread
        return replace(one, prior=min(max(value, one.low), one.high), spread=min(max(spread, 1e-3), one.spread))

    return replace(model, parameters=tuple(updated(one) for one in model.parameters))


def _nights(terrace: Terrace, at: datetime) -> list[NDArray[np.intp]]:
    """Every other hour of each whole night, the coming one last."""
    numbers = night_numbers(terrace)
    kept = np.array([from_utc64(time, terrace.zone).hour in NIGHT_HOURS for time in terrace.times])
    kept &= np.arange(kept.size) % 2 == 0
    tonight = numbers[min(max(terrace.hour_at(at) + 1, 0), numbers.size - 1)]
    nights = [np.flatnonzero((numbers == number) & kept) for number in range(tonight + 1)]
    return [night for night in nights if night.size >= 7]
