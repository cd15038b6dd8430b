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
from frostguard.physics.microclimate import SpotClimate, SpotHours, gather_hours
from frostguard.physics.root_ball import COARSE, RootBallHistory, simulate_root_balls
from frostguard.tuning.fit import Parameter
from frostguard.tuning.probe import Place

Array = NDArray[np.float64]

SITE = "site"


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


def parameters_for(situation: Situation, thermometers: Sequence[Thermometer], *, air_known: bool,
                   clear_calm_prior_k: float) -> tuple[Parameter, ...]:  # fmt: skip
    """What may differ from the garden file for one pot, with what is believed of it before any reading.

    Notes
    -----
    Spreads are half of the ranges that the README's table tries, which are estimates: wind film 6 to 25 W/m2K
    (a factor of two in wind), conductivity 30 %, freezable water 0.2 to 0.5, the floor 4 K, a wall of half or double
    resistance. Air: see `weather/night_errors`. A cheap thermometer is within 0.5 K (common practice).
    """
    spot, pot = f"spot/{situation.spot}", f"pot/{situation.pot.id}"
    found = [
        Parameter(spot, "wind_factor", 0.0, 0.5, np.log(0.1), np.log(4.0), is_factor=True),
        Parameter(spot, "sky_view_shift", 0.0, 0.2, -1.0, 1.0),
        Parameter(spot, "floor_offset_k", 0.0, 2.0),
        Parameter(pot, "wind_factor", 0.0, 0.2, np.log(0.25), np.log(4.0), is_factor=True),
        Parameter(pot, "side_resistance_m2_k_w", 0.0, 0.02, -0.05, 0.5),
        Parameter(pot, "water_factor", 0.0, 0.3, np.log(0.3), np.log(3.0), is_factor=True),
        Parameter(pot, "conductivity_factor", 0.0, 0.2, np.log(0.4), np.log(2.5), is_factor=True),
    ]
    if not air_known:
        found += [
            Parameter(SITE, "clear_calm_bias_k", clear_calm_prior_k, 1.0),
            Parameter(SITE, "bias_k", 0.0, 0.7),
        ]
    for one in thermometers:
        found.append(Parameter(f"thermometer/{one.series}", "offset_k", 0.0, 0.25))
        if one.place is Place.WALL:
            # how much of what sets the barest strip apart from the mean side this probe feels
            found.append(Parameter(f"thermometer/{one.series}", "bareness", 0.7, 0.3, 0.0, 1.0))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class PotModel:
    """The simulation of one pot as a function of its parameters.

    Parameters
    ----------
    terrace : Terrace
        One member, one case: the weather that happened.
    situation : Situation
        As the garden file has it.
    parameters : tuple of Parameter
    thermometers : tuple of Thermometer
    night_weight, clear_calm : ndarray, shape (n_hours,)
        How much of a night's bias acts at each hour, and whether it is a clear calm night's.
    first, last : int
        Hours that are simulated.
    """

    terrace: Terrace
    situation: Situation
    catalogue: Catalogue
    parameters: tuple[Parameter, ...]
    thermometers: tuple[Thermometer, ...]
    night_weight: Array
    clear_calm: NDArray[np.bool_]
    first: int
    last: int

    @property
    def observed(self) -> Array:
        """All numbers of all thermometers, one after the other."""
        return np.concatenate([one.temperature_c for one in self.thermometers])

    def __call__(self, values: Array) -> Array:
        """What the thermometers would read, shape (k, n_observations), for k sets of values in the fitted scale."""
        curves = self.curves(values)
        read = []
        for one in self.thermometers:
            offset_k = self._column(values, f"thermometer/{one.series}", "offset_k", 0.0)
            curve = self.probe_curve(values, curves, one) + offset_k
            if all(hours.size == 1 for hours in one.hours):
                read.append(curve[np.concatenate(one.hours) - self.first].T)
            else:
                read.append(np.array([curve[hours - self.first].min(axis=0) for hours in one.hours]).T)
        return np.concatenate(read, axis=1)

    def probe_curve(self, values: Array, curves: Mapping[str, Array], probe: Thermometer) -> Array:
        """True temperature at a probe, (n_hours, k): without the thermometer's own offset."""
        if probe.place is Place.CORE:
            return curves["core"]
        bare = self._column(values, f"thermometer/{probe.series}", "bareness", 1.0)
        return curves["shaded"] + bare * (curves["bare"] - curves["shaded"])

    def curves(self, values: Array) -> dict[str, Array]:
        """Core, and ring at half height of the bare and of the mean side, each (n_hours, k)."""
        k = values.shape[0]
        climates, offset_k = self._climates(values)
        situations = [self._situation(row) for row in values]
        both_climates = [*climates, *climates]
        surfaces = _joined(
            surfaces_of(situations, climates, Side.EXPOSED, self.catalogue),
            surfaces_of(situations, climates, Side.MEAN, self.catalogue),
        )
        index = np.arange(2 * k)
        hours = gather_hours(
            tuple(both_climates), index, np.zeros(2 * k, dtype=np.intp), slice(self.first, self.last + 1)
        )
        offsets = np.concatenate([offset_k, offset_k])
        hours = replace(hours, floor_c=hours.floor_c + offsets, under_pot_c=hours.under_pot_c + offsets)
        history = self._run([*situations, *situations], surfaces, hours)
        return {
            "core": history.core_c[:, k:],
            "bare": history.middle_ring_c[:, :k],
            "shaded": history.middle_ring_c[:, k:],
        }

    def _run(self, situations: Sequence[Situation], surfaces: PotSurfaces, hours: SpotHours) -> RootBallHistory:
        balls = root_balls_of(situations, self.catalogue)
        surface = estimated_surface_c(balls, hours)
        envelope, _, _ = build_envelope(surfaces, hours, surface, surface)
        start = hours.air_temperature_c[:START_MEAN_H].mean(axis=0)
        return simulate_root_balls(balls, envelope, start, resolution=COARSE)

    def _situation(self, row: Array) -> Situation:
        pot = f"pot/{self.situation.pot.id}"
        base, porosity = self.situation, self.catalogue.mixes[self.situation.pot.mix].porosity
        value = {
            one.name: float(np.exp(number) if one.is_factor else number)
            for one, number in zip(self.parameters, row, strict=True)
            if one.subject == pot
        }
        return replace(
            base,
            wind_factor=base.wind_factor * value.get("wind_factor", 1.0),
            side_resistance_m2_k_w=base.side_resistance_m2_k_w + value.get("side_resistance_m2_k_w", 0.0),
            water_fraction=min(base.water_fraction * value.get("water_factor", 1.0), porosity - 0.01),
            conductivity_factor=base.conductivity_factor * value.get("conductivity_factor", 1.0),
        )

    def _climates(self, values: Array) -> tuple[list[SpotClimate], Array]:
        """The spot's hours for each set, and by how much the floor is warmer; equal ones are made once."""
        spot = f"spot/{self.situation.spot}"
        wind = self._column(values, spot, "wind_factor", 1.0)
        sky = self._column(values, spot, "sky_view_shift", 0.0)
        calm = self._column(values, SITE, "clear_calm_bias_k", 0.0)
        other = self._column(values, SITE, "bias_k", 0.0)
        made: dict[tuple[float, ...], SpotClimate] = {}
        climates = []
        for key in zip(wind.tolist(), sky.tolist(), calm.tolist(), other.tolist(), strict=True):
            if key not in made:
                made[key] = self._climate(*key)
            climates.append(made[key])
        return climates, self._column(values, spot, "floor_offset_k", 0.0)

    def _climate(self, wind: float, sky: float, calm_k: float, other_k: float) -> SpotClimate:
        outdoor = self.terrace.outdoor
        shift = (self.night_weight * np.where(self.clear_calm, calm_k, other_k))[:, None]
        air = outdoor.air_temperature_c + shift
        longwave = outdoor.sky_longwave_w_m2 * ((air + 273.15) / (outdoor.air_temperature_c + 273.15)) ** 4
        moved = replace(outdoor, air_temperature_c=air, sky_longwave_w_m2=longwave)
        garden_spot = self.terrace.garden.spot(self.situation.spot)
        return spot_climate(garden_spot, moved, self.terrace.ground_c, SpotTuning(wind, sky))

    def _column(self, values: Array, subject: str, name: str, otherwise: float) -> Array:
        for index, one in enumerate(self.parameters):
            if (one.subject, one.name) == (subject, name):
                return _told(one, values[:, index])
        return np.full(values.shape[0], otherwise)


def _told(one: Parameter, number: Array) -> Array:
    return np.asarray(np.exp(number)) if one.is_factor else number


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
