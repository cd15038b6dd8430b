"""Fits on invented readings that the model itself made at known parameters: is the known found, and harm refused?"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import prepare_terrace
from frostguard.errors import TuningFailed
from frostguard.garden.catalogue import load_catalogue
from frostguard.tuning import terrace_model
from frostguard.tuning.noise import Sizes
from frostguard.tuning.probe import Place
from frostguard.tuning.terrace_model import Thermometer
from frostguard.tuning.tune import NightCheck, PotCheck, told_values, tune_terrace
from frostguard.weather.night_errors import SiteHabits
from tests.unit.advice.terraces import CRUDE

from .terrace_with_probes import deck, model, probes, told_by

KNOWN = {("spot/deck", "floor_offset_k"): 2.5, ("pot/lemon", "side_resistance_m2_k_w"): 0.01}


@pytest.fixture(autouse=True)
def few_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    """A grid on which a fit takes a moment."""
    monkeypatch.setattr(terrace_model, "COARSE", CRUDE)


def fitted(thermometers: list[Thermometer]):
    """What `tune` makes of these."""
    where, sky = deck()
    catalogue = load_catalogue()
    situations = [as_it_stands(one, TerraceState(), catalogue) for one in where.pots]
    return tune_terrace(
        prepare_terrace(where, sky),
        sky,
        [one for one in situations if one.pot.id in {probe.pot for probe in thermometers}],
        thermometers,
        catalogue,
        air_known=True,
        habits=SiteHabits(),
    )


def test_two_pots_of_one_spot_are_fitted_as_one():
    """Both tell of the spot, and there is one value for it, true within its own doubt."""
    where, sky = deck()
    both = told_by(model(probes(prepare_terrace(where, sky))), KNOWN, noise_k=0.1)
    together = told_values(fitted(both))
    name = ("spot/deck", "floor_offset_k")
    # within two of its own standard deviations, as 95 of 100 honest intervals are
    assert abs(together[name][0] - 2.5) <= 2.0 * together[name][1]
    assert {subject for subject, _ in together} == {"spot/deck", "pot/lemon", "pot/bay"}


def test_a_pot_that_comes_out_worse_is_left_out():
    """A third of the nights 4 K warmer than the file says, the others 2 K colder: each tells wrong of the others."""
    where, sky = deck()
    lemon, bay = told_by(model(probes(prepare_terrace(where, sky))), KNOWN, noise_k=0.1)
    prior = model([bay])
    night = prior.night_of_reading
    third = np.isin(night, np.unique(night)[2::3])
    usual = prior(np.array([[one.prior for one in prior.parameters]]))[0]
    broken = Thermometer(bay.series, "bay", Place.CORE, bay.hours, usual + np.where(third, 4.0, -2.0))
    found = fitted([lemon, broken])
    checks = {one.pot: one for one in found.pots}
    assert checks["lemon"].helps and not checks["bay"].helps
    assert not [subject for subject, _ in told_values(found) if subject == "pot/bay"]


def test_a_pot_that_spoils_its_neighbour_is_left_out():
    """A probe that jumps by 5 K from night to night: not worse for its own pot, but it takes the air along."""
    where, sky = deck()
    lemon, bay = told_by(model(probes(prepare_terrace(where, sky))), KNOWN, noise_k=0.1)
    prior = model([bay])
    night = prior.night_of_reading
    third = np.isin(night, np.unique(night)[2::3])
    usual = prior(np.array([[one.prior for one in prior.parameters]]))[0]
    jumping = Thermometer(bay.series, "bay", Place.CORE, bay.hours, usual - np.where(third, 0.0, 5.0))
    checks = {one.pot: one for one in fitted([lemon, jumping]).pots}
    assert checks["lemon"].helps and checks["lemon"].rmse_k(after=True) < 0.2
    assert not checks["bay"].helps


@pytest.mark.parametrize(("unfitted_c", "helps"), [(0.5, False), (2.0, True), (None, True)])
def test_what_measured_air_gains_is_no_merit_of_the_fit(unfitted_c: float | None, helps: bool):
    """Five kelvins off without a thermometer and one with all of it: refused where the air alone leaves half of one."""
    nights = (NightCheck("lemon", date(2026, 1, day), "one", 0.0, 5.0, 1.0, -1.0, 3.0, unfitted_c) for day in (1, 2, 3))
    assert PotCheck("lemon", tuple(nights)).helps is helps


def test_a_clock_that_is_off_is_noticed_and_one_that_is_right_is_not():
    """Two quiet probes at the wall, one two hours late: it is named, with most of them, and the other is not."""
    where, sky = deck()
    own = probes(prepare_terrace(where, sky), Place.WALL)
    lemon, bay = told_by(model(own), KNOWN, noise_k=0.02)
    late = replace(lemon, hours=tuple(hours + 2 for hours in lemon.hours))
    assert not fitted([lemon, bay]).clocks_ahead_h
    ahead = fitted([late, bay]).clocks_ahead_h
    assert set(ahead) == {lemon.series}
    assert 1.0 <= ahead[lemon.series] <= 2.5  # part of it passes for a slower pot


def test_too_few_nights_are_said():
    """Five nights of a pot teach nothing of it, and the sentence names the pot and what is missing."""
    where, sky = deck()
    (lemon, _) = probes(prepare_terrace(where, sky))
    few = lemon.hours[: 5 * 7]
    with pytest.raises(TuningFailed, match=r"5 nights for Lemon; 6 are needed"):
        fitted([Thermometer("lemon core", "lemon", Place.CORE, few, np.zeros(len(few)))])


def test_a_night_moves_only_its_own_readings():
    """A warmer air of one night is felt in that night, a little in the next, and not before."""
    where, sky = deck()
    made = model(probes(prepare_terrace(where, sky))[:1])
    readout = made.readout(np.array([one.prior for one in made.parameters]))
    own = readout.air_response[np.arange(readout.night.size), readout.night]
    assert 0.1 < own.mean() < 1.0
    later = readout.air_response[:, 1:][readout.night[:, None] < np.arange(1, readout.air_response.shape[1])]
    assert np.abs(later).max() == 0.0
    assert np.diag(readout.covariance(Sizes(0.2, 0.2, 1.0, 0.5))).min() > 0.08 - 1e-12
