"""Fleece of the catalogue as a cover over a plant, for tests of what is under it."""

from __future__ import annotations

from frostguard.garden.catalogue import load_catalogue
from frostguard.physics.plant_cover import CanopyCover, canopy_cover

WEIGHTS_G_M2 = (17.0, 30.0, 50.0)


def fleece(grams_m2: float, layers: int, *, wet: bool = False) -> CanopyCover:
    """Fleece of that weight, without frost on it."""
    cover = load_catalogue().covers[f"fleece {grams_m2:.0f}"]
    return canopy_cover(
        longwave_transmittance=cover.longwave_transmittance,
        solar_transmittance=cover.light_transmittance,
        wind_permeability=cover.wind_permeability,
        thickness_m=cover.thickness_m,
        layers=layers,
        wet=wet,
    )
