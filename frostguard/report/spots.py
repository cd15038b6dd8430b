"""What the person calls a spot."""

from __future__ import annotations

from collections.abc import Callable

from frostguard.garden.model import Garden

SpotLabel = Callable[[str], str]
"""From a spot's name in the plan to what the person calls it."""


def spot_labels(garden: Garden | None) -> SpotLabel:
    """A function from a spot's name to its label; a name without one stands for itself."""
    labels = {} if garden is None else {spot.name: spot.label for spot in garden.spots}
    return lambda name: labels.get(name, name)
