"""What thermometers would read if the terrace had these parameters: many sets of them in one run of the engine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from frostguard.advice.evening import START_MEAN_H, thawed_hour
from frostguard.advice.layout import Side
from frostguard.advice.pot_run import estimated_surface_c
from frostguard.advice.situation import Situation, root_balls_of, surfaces_of
from frostguard.advice.terrace import Terrace, spot_climate
from frostguard.advice.tuned import SpotTuning
from frostguard.garden.catalogue import Catalogue
from frostguard.physics.envelope import PotSurfaces, build_envelope
from frostguard.physics.microclimate import SpotClimate, gather_hours
from frostguard.physics.root_ball import COARSE, RootBallHistory, simulate_root_balls
from frostguard.tuning.fit import Parameter
from frostguard.tuning.noise import Readout
from frostguard.tuning.probe import Place

Array = NDArray[np.float64]

SITE = "site"

AIR = "thermometer/air"
"""The thermometer that measured the air which drives the model."""

NIGHTS_APART = 3
"""Nights whose own misses are told apart in one run: a ball forgets the night before last."""


@dataclass(frozen=True, slots=True)
class Thermometer:
    """One thermometer of a pot: its series, where it lies, and the hours of the terrace that it has numbers for.

    `hours` holds for each number the hours that it stands for: one, or all of a night whose lowest it is.
    """

    series: str
    pot: str
    place: Place
    hours: tuple[NDArray[np.intp], ...]
    temperature_c: Array

    @property
    def subject(self) -> str:
        """What its own parameters belong to."""
        return f"thermometer/{self.series}"


def parameters_for(
    situations: Sequence[Situation], thermometers: Sequence[Thermometer], *, air_known: bool, clear_calm_prior_k: float
) -> tuple[Parameter, ...]:
    """What may differ from the garden file, with what is believed of it before any reading.

    Notes
    -----
    Spreads are half of the ranges that the README's table tries, which are estimates: wind film 6 to 25 W/m2K
    (a factor of two in wind), conductivity 30 %, freezable water 0.2 to 0.5, the floor 4 K, a wall of half or double
    resistance. Air: see `weather/night_errors`. A cheap thermometer is within 0.5 K (common practice). A probe said to
    be at the wall is a centimetre or two within it, and lies at a side that is neither the barest nor the mean of all
    (estimates).
    """
    found = []
    for spot in dict.fromkeys(f"spot/{one.spot}" for one in situations):
        found += [
            Parameter(spot, "wind_factor", 0.0, 0.5, np.log(0.1), np.log(4.0), is_factor=True),
            Parameter(spot, "sky_view_shift", 0.0, 0.2, -1.0, 1.0),
            Parameter(spot, "floor_offset_k", 0.0, 2.0),
        ]
    for pot in (f"pot/{one.pot.id}" for one in situations):
        found += [
            Parameter(pot, "wind_factor", 0.0, 0.2, np.log(0.25), np.log(4.0), is_factor=True),
            Parameter(pot, "side_resistance_m2_k_w", 0.0, 0.02, -0.05, 0.5),
            Parameter(pot, "water_factor", 0.0, 0.3, np.log(0.3), np.log(3.0), is_factor=True),
            Parameter(pot, "conductivity_factor", 0.0, 0.2, np.log(0.4), np.log(2.5), is_factor=True),
        ]
    if air_known:
        found.append(Parameter(AIR, "offset_k", 0.0, 0.25))
    else:
        found += [
            Parameter(SITE, "clear_calm_bias_k", clear_calm_prior_k, 1.0),
            Parameter(SITE, "bias_k", 0.0, 0.7),
        ]
    for one in thermometers:
        found.append(Parameter(one.subject, "offset_k", 0.0, 0.25))
        if one.place is Place.WALL:
            found.append(Parameter(one.subject, "deeper_m", 0.01, 0.006, 0.0, 0.03))
            found.append(Parameter(one.subject, "bareness", 0.7, 0.3, 0.0, 1.0))
    return tuple(found)


RING_OFF_WALL_M, INNER_OFF_WALL_M = 0.005, 0.025
"""How far within the wall the middle of the outer ring lies, and where the mix is read a second time: a probe said to
be at the wall lies between them."""


@dataclass(frozen=True, slots=True)
class PotCurves:
    """What can be read in one pot, each (n_hours, k): its core, and at half height the outer ring of the bare and of
    the mean side, and `INNER_OFF_WALL_M` within these (`inner_depth_m` deeper than the ring)."""

    core_c: Array
    bare_ring_c: Array
    shaded_ring_c: Array
    bare_inner_c: Array
    shaded_inner_c: Array
    inner_depth_m: float


@dataclass(frozen=True, slots=True)
class _Case:
    """One pot under one set of parameters."""

    situation: Situation
    climate: SpotClimate
    floor_offset_k: float


@dataclass(frozen=True, slots=True)
class TerraceModel:
    """The simulation of some pots as a function of their parameters.

    Parameters
    ----------
    terrace : Terrace
        One member, one case: the weather that happened.
    situations : tuple of Situation
        The pots, as the garden file has them.
    parameters : tuple of Parameter
    thermometers : tuple of Thermometer
    night_weight, night, clear_calm : ndarray, shape (n_hours,)
        How much of a night's miss acts at each hour, the number of the night, and whether it is a clear calm one.
    first, last : int
        Hours that are simulated.
    """

    terrace: Terrace
    situations: tuple[Situation, ...]
    catalogue: Catalogue
    parameters: tuple[Parameter, ...]
    thermometers: tuple[Thermometer, ...]
    night_weight: Array
    night: NDArray[np.intp]
    clear_calm: NDArray[np.bool_]
    first: int
    last: int
    ring_itself: bool = False  # tell the ring, or the middle, that a probe is meant to read, not what it reads

    @property
    def observed(self) -> Array:
        """All numbers of all thermometers, one after the other."""
        return np.concatenate([one.temperature_c for one in self.thermometers])

    @property
    def night_of_reading(self) -> NDArray[np.intp]:
        """The number of the night of each reading."""
        # the middle of them: the noon at which a night ends is the beginning of the next
        return np.array([self.night[hours[hours.size // 2]] for one in self.thermometers for hours in one.hours])

    @property
    def thermometer_of_reading(self) -> NDArray[np.intp]:
        """Which thermometer each reading is of."""
        return np.repeat(np.arange(len(self.thermometers)), [one.temperature_c.size for one in self.thermometers])

    @property
    def columns(self) -> Mapping[tuple[str, str], int]:
        """The column of each parameter by subject and name."""
        return {(one.subject, one.name): column for column, one in enumerate(self.parameters)}

    def __call__(self, values: Array) -> Array:
        """What the thermometers would read, shape (k, n_observations), for k sets of values in the fitted scale."""
        return self._read(values, self.curves(values))

    def readout(self, values: Array) -> Readout:
        """Where each reading belongs, and how it moves with the air of each night, at these values (n_parameters,)."""
        n_nights = int(self.night.max()) + 1
        moved = np.array([self.night % NIGHTS_APART == turn for turn in range(NIGHTS_APART)], dtype=np.float64)
        shifts = np.vstack([np.zeros((1, self.night.size)), moved * self.night_weight])
        same = np.repeat(values[None], shifts.shape[0], axis=0)
        answers = self._read(same, self.curves(same, shifts))
        change = (answers[1:] - answers[0]).T  # (n_observations, NIGHTS_APART)
        night = self.night_of_reading
        response = np.zeros((night.size, n_nights))
        for back in range(NIGHTS_APART):
            rows = np.flatnonzero(night >= back)
            response[rows, night[rows] - back] = change[rows, (night[rows] - back) % NIGHTS_APART]
        calm = np.zeros(n_nights, dtype=np.bool_)
        calm[self.night] = self.clear_calm
        return Readout(night, self.thermometer_of_reading, calm, response)

    def clock_slopes(self, values: Array) -> Array:
        """Kelvins that readings change by for every hour that a thermometer's clock is ahead, at these values.

        Shape (n_observations, n_thermometers); nothing for the lowest of a night, which has no hour.
        """
        curves = self.curves(values[None])
        found = np.zeros((self.thermometer_of_reading.size, len(self.thermometers)))
        for number, one in enumerate(self.thermometers):
            per_hour = np.gradient(self.probe_curve(values[None], curves[one.pot], one)[:, 0])
            found[self.thermometer_of_reading == number, number] = [
                -per_hour[hours[0] - self.first] if hours.size == 1 else 0.0 for hours in one.hours
            ]
        return found

    def probe_curve(self, values: Array, curves: PotCurves, probe: Thermometer) -> Array:
        """What a probe reads, (n_hours, k), or with `ring_itself` the ring or middle at its side of the pot."""
        offset = 0.0 if self.ring_itself else self._column(values, probe.subject, "offset_k", 0.0)
        if probe.place is Place.CORE:
            return np.asarray(curves.core_c + offset)
        bare = self._column(values, probe.subject, "bareness", 1.0)
        ring = curves.shaded_ring_c + bare * (curves.bare_ring_c - curves.shaded_ring_c)
        if self.ring_itself:
            return np.asarray(ring)
        inner = curves.shaded_inner_c + bare * (curves.bare_inner_c - curves.shaded_inner_c)
        inwards = self._column(values, probe.subject, "deeper_m", 0.0) / curves.inner_depth_m
        return np.asarray(ring + inwards * (inner - ring) + offset)

    def curves(self, values: Array, shift_k: Array | None = None) -> dict[str, PotCurves]:
        """What can be read in each pot; with `shift_k`, (k, n_hours), the air of each set is so much warmer."""
        k = values.shape[0]
        shift = np.zeros((k, self.night.size)) if shift_k is None else shift_k
        which = np.unique(shift, axis=0, return_inverse=True)[1].reshape(-1) if shift_k is not None else np.zeros(k)
        cases: list[_Case] = []
        rows: dict[str, NDArray[np.intp]] = {}
        climates: dict[tuple[float | str, ...], SpotClimate] = {}
        for situation in self.situations:
            own = [column for (subject, _), column in self.columns.items() if subject in self._subjects(situation)]
            # sets that differ only in what a thermometer or another pot is like are simulated once
            _, first, inverse = np.unique(
                np.column_stack([values[:, own], which]), axis=0, return_index=True, return_inverse=True
            )
            rows[situation.pot.id] = len(cases) + inverse.reshape(-1)
            cases += [self._case(situation, values[row], shift[row], climates) for row in first]
        history = self._run(cases)
        n = len(cases)
        return {
            one.pot.id: PotCurves(
                core_c=history.core_c[:, n + mine],
                bare_ring_c=history.middle_ring_c[:, mine],
                shaded_ring_c=history.middle_ring_c[:, n + mine],
                bare_inner_c=history.depths_c[:, mine, number],
                shaded_inner_c=history.depths_c[:, n + mine, number],
                inner_depth_m=min(INNER_OFF_WALL_M, one.pot.radius_m) - RING_OFF_WALL_M,
            )
            for number, one in enumerate(self.situations)
            for mine in [rows[one.pot.id]]
        }

    def _read(self, values: Array, curves: Mapping[str, PotCurves]) -> Array:
        read = []
        for one in self.thermometers:
            curve = self.probe_curve(values, curves[one.pot], one)
            if all(hours.size == 1 for hours in one.hours):
                read.append(curve[np.concatenate(one.hours) - self.first].T)
            else:
                read.append(np.array([curve[hours - self.first].min(axis=0) for hours in one.hours]).T)
        return np.concatenate(read, axis=1)

    @staticmethod
    def _subjects(situation: Situation) -> frozenset[str]:
        return frozenset({SITE, AIR, f"spot/{situation.spot}", f"pot/{situation.pot.id}"})

    def _run(self, cases: Sequence[_Case]) -> RootBallHistory:
        """All cases, first with their bare side all round, then with the mean of their sides."""
        situations, climates = [one.situation for one in cases], [one.climate for one in cases]
        surfaces = _joined(
            surfaces_of(situations, climates, Side.EXPOSED, self.catalogue),
            surfaces_of(situations, climates, Side.MEAN, self.catalogue),
        )
        made = list({id(climate): climate for climate in climates}.values())
        place = {id(climate): position for position, climate in enumerate(made)}
        index = np.array([place[id(climate)] for climate in climates] * 2)
        hours = gather_hours(tuple(made), index, np.zeros_like(index), slice(self.first, self.last + 1))
        offsets = np.array([one.floor_offset_k for one in cases] * 2)
        hours = replace(hours, floor_c=hours.floor_c + offsets, under_pot_c=hours.under_pot_c + offsets)
        balls = root_balls_of([*situations, *situations], self.catalogue)
        surface = estimated_surface_c(balls, hours)
        envelope, _, _ = build_envelope(surfaces, hours, surface, surface)
        start = hours.air_temperature_c[:START_MEAN_H].mean(axis=0)
        return simulate_root_balls(
            balls,
            envelope,
            start,
            depths_m=[0.5 * one.pot.height_m for one in self.situations],
            off_wall_m=INNER_OFF_WALL_M,
            resolution=COARSE,
        )

    def _case(
        self, base: Situation, row: Array, shift_k: Array, climates: dict[tuple[float | str, ...], SpotClimate]
    ) -> _Case:
        """One pot under one set; climates that were made already are taken again."""

        def told(subject: str, name: str, otherwise: float) -> float:
            return float(self._column(row[None], subject, name, otherwise)[0])

        pot, spot = f"pot/{base.pot.id}", f"spot/{base.spot}"
        key = (
            base.spot,
            told(spot, "wind_factor", 1.0),
            told(spot, "sky_view_shift", 0.0),
            told(SITE, "clear_calm_bias_k", 0.0),
            told(SITE, "bias_k", 0.0),
            told(AIR, "offset_k", 0.0),
            shift_k.tobytes().hex() if shift_k.any() else "",
        )
        if key not in climates:
            bias = self.night_weight * np.where(self.clear_calm, key[3], key[4])
            # a thermometer that shows too much made the air too warm
            climates[key] = self._climate(base.spot, SpotTuning(key[1], key[2]), bias - key[5] + shift_k)
        porosity = self.catalogue.mixes[base.pot.mix].porosity
        situation = replace(
            base,
            wind_factor=base.wind_factor * told(pot, "wind_factor", 1.0),
            side_resistance_m2_k_w=base.side_resistance_m2_k_w + told(pot, "side_resistance_m2_k_w", 0.0),
            water_fraction=min(base.water_fraction * told(pot, "water_factor", 1.0), porosity - 0.01),
            conductivity_factor=base.conductivity_factor * told(pot, "conductivity_factor", 1.0),
        )
        return _Case(situation, climates[key], told(spot, "floor_offset_k", 0.0))

    def _climate(self, spot: str, tuning: SpotTuning, shift_k: Array) -> SpotClimate:
        outdoor = self.terrace.outdoor
        air = outdoor.air_temperature_c + shift_k[:, None]
        longwave = outdoor.sky_longwave_w_m2 * ((air + 273.15) / (outdoor.air_temperature_c + 273.15)) ** 4
        moved = replace(outdoor, air_temperature_c=air, sky_longwave_w_m2=longwave)
        return spot_climate(self.terrace.garden.spot(spot), moved, self.terrace.ground_c, tuning)

    def _column(self, values: Array, subject: str, name: str, otherwise: float) -> Array:
        column = self.columns.get((subject, name))
        if column is None:
            return np.full(values.shape[0], otherwise)
        number = values[:, column]
        return np.asarray(np.exp(number)) if self.parameters[column].is_factor else number


def _joined(one: PotSurfaces, other: PotSurfaces) -> PotSurfaces:
    return PotSurfaces(
        **{
            field.name: np.concatenate([getattr(one, field.name), getattr(other, field.name)])
            for field in fields(PotSurfaces)
        }
    )


def first_hour(terrace: Terrace, first_reading: int) -> int:
    """Where the simulation begins: no ice by then, and forgotten when the first reading is made."""
    return thawed_hour(terrace.outdoor.air_temperature_c.min(axis=1), first_reading)
