"""How a spot is called: its label says where something stands, its name whereto something goes.

A garden file may say `name: wash room` and `label: in the wash room`; so the lemon stands "(in the wash
room)" and is carried "to the wash room".
"""

from __future__ import annotations

from collections.abc import Callable

from frostguard.garden.model import Garden

SpotLabel = Callable[[str], str]
"""From a spot's name in the plan to what the person calls the place."""


def spot_labels(garden: Garden | None) -> SpotLabel:
    """A function from a spot's name to its label; a name without one stands for itself."""
    labels = {} if garden is None else {spot.name: spot.label for spot in garden.spots}
    return lambda name: labels.get(name, spot_name(name))


def spot_name(name: str) -> str:
    """A spot's name as one says it."""
    return name.replace("_", " ")
