"""Nothing of the person who runs the tests is read or written: every place is a folder of the tests' own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from frostguard import places


@pytest.fixture(scope="module", autouse=True)
def places_of_our_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Empty folders for configuration, data and cache, and no file named by the environment."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as environment:
        for variable in (places.CONFIG_VARIABLE, places.DATA_VARIABLE, places.CACHE_VARIABLE):
            environment.setenv(variable, str(home / variable))
        for variable in (places.GARDEN_VARIABLE, places.SETTINGS_VARIABLE):
            environment.delenv(variable, raising=False)
        yield
