"""The engine on a coarse grid with hourly steps: what is decided here does not hang on a tenth of a kelvin."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.unit.advice.terraces import simulate_coarsely


@pytest.fixture(scope="module", autouse=True)
def coarse_engine() -> Iterator[None]:
    """Every simulation of the advice in few cells."""
    with pytest.MonkeyPatch.context() as patch:
        simulate_coarsely(patch)
        yield
