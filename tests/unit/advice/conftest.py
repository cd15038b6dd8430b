"""The engine on a coarse grid with hourly steps: what is decided here does not hang on a tenth of a kelvin."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from frostguard.advice import evening, outlook
from frostguard.physics.root_ball import Resolution

COARSE = Resolution(
    outer_cells=1, inner_cells=3, end_cells=1, between_cells=1, middle_cells=1, steps_per_hour=1
)


@pytest.fixture(scope="module", autouse=True)
def coarse_engine() -> Iterator[None]:
    """Every simulation of the advice in few cells."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(outlook, "STANDARD", COARSE)
        patch.setattr(outlook, "SPIN_UP", COARSE)
        patch.setattr(evening, "STANDARD", COARSE)
        yield
