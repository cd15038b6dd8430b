"""Where things are kept, and how the environment changes it."""

from __future__ import annotations

from pathlib import Path

import pytest

from frostguard import places
from frostguard.errors import FrostguardError

VARIABLES = (
    places.GARDEN_VARIABLE,
    places.SETTINGS_VARIABLE,
    places.CONFIG_VARIABLE,
    places.DATA_VARIABLE,
    places.CACHE_VARIABLE,
)


@pytest.fixture(autouse=True)
def _bare_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for variable in VARIABLES:
        monkeypatch.delenv(variable, raising=False)


def test_the_usual_places_are_the_platforms_own():
    """Configuration, data and cache each lie in a folder of their own named after the program."""
    folders = {places.config_folder(), places.data_folder(), places.cache_folder()}

    assert len(folders) == 3
    assert all("frostguard" in folder.parts for folder in folders)


def test_every_place_can_be_moved(monkeypatch, tmp_path):
    """Each folder follows its variable, and what lies in it moves along."""
    monkeypatch.setenv(places.CONFIG_VARIABLE, str(tmp_path / "config"))
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path / "data"))
    monkeypatch.setenv(places.CACHE_VARIABLE, str(tmp_path / "cache"))

    assert places.garden_file() == tmp_path / "config" / "garden.yaml"
    assert places.data_folder() == tmp_path / "data"
    assert places.weather_store() == tmp_path / "cache" / "weather"


def test_an_empty_variable_is_as_good_as_none(monkeypatch):
    """An empty variable must not send everything into the current folder."""
    usual = places.config_folder()
    monkeypatch.setenv(places.CONFIG_VARIABLE, "")

    assert places.config_folder() == usual


def test_the_tilde_is_the_home_folder(monkeypatch):
    """A variable set where the shell does not expand the tilde still works."""
    monkeypatch.setenv(places.GARDEN_VARIABLE, "~/garden.yaml")

    assert places.garden_file() == Path.home() / "garden.yaml"


def test_settings_are_optional_unless_named(monkeypatch, tmp_path):
    """No settings file is fine; a named one that is missing is handed on, so that the mistake is told."""
    monkeypatch.setenv(places.CONFIG_VARIABLE, str(tmp_path))
    assert places.settings_file() is None

    (tmp_path / "settings.yaml").write_text("")
    assert places.settings_file() == tmp_path / "settings.yaml"

    monkeypatch.setenv(places.SETTINGS_VARIABLE, str(tmp_path / "missing.yaml"))
    assert places.settings_file() == tmp_path / "missing.yaml"


def test_nothing_is_created_by_asking(monkeypatch, tmp_path):
    """Asking where things are writes nothing."""
    monkeypatch.setenv(places.CACHE_VARIABLE, str(tmp_path / "cache"))
    places.weather_store()

    assert list(tmp_path.iterdir()) == []


def test_a_home_folder_that_nobody_has_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """The variable is named, and what to put into it."""
    monkeypatch.setenv(places.CACHE_VARIABLE, "~nobody-of-this-name/cache")
    with pytest.raises(FrostguardError, match=places.CACHE_VARIABLE):
        places.cache_folder()
