"""Which root balls stand for a pot, in which order, and what it costs to simulate one member's mean side only."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from frostguard.advice.layout import SeriesLayout, Side
from frostguard.advice.pot_run import _frozen_share, run_pots
from frostguard.advice.situation import as_it_stands
from frostguard.advice.state import TerraceState
from frostguard.advice.terrace import prepare_terrace
from frostguard.garden.catalogue import load_catalogue
from tests.unit.advice.terraces import CLEAR, big_pot, frosty_night, garden, pot

CATALOGUE = load_catalogue()

LAYOUT = SeriesLayout(3, np.arange(8), np.array([4, 5]))  # four members of two cases; the third is in the middle


@pytest.fixture(scope="module", autouse=True)
def coarse_engine() -> None:
    """What the short cut costs is shown with the engine as it is."""


def test_every_series_has_one_place():
    """Exposed sides of all pots and columns, and mean sides of the middle member, fill the batch once."""
    places = [LAYOUT.series(row, Side.EXPOSED, column) for row in range(3) for column in range(8)]
    places += [LAYOUT.series(row, Side.MEAN, column) for row in range(3) for column in (4, 5)]

    assert sorted(places) == list(range(LAYOUT.pot_of_series.size))
    for row in range(3):
        for column in range(8):
            exposed = LAYOUT.series(row, Side.EXPOSED, column)
            mean = LAYOUT.series(row, Side.MEAN, column)
            assert (LAYOUT.pot_of_series[exposed], LAYOUT.column_of_series[exposed]) == (row, column)
            # of a mean side the middle member's, in the same bounding case
            assert (LAYOUT.pot_of_series[mean], LAYOUT.column_of_series[mean]) == (row, 4 + column % 2)


def test_a_part_is_laid_out_like_a_run_of_its_own():
    """The places of some pots in some columns are those that a smaller run would have, in its order."""
    pots, columns = np.array([2, 0]), np.array([0, 1, 4, 5])
    smaller = SeriesLayout(2, columns, np.array([2, 3]))

    part = LAYOUT.part(pots, columns)

    assert LAYOUT.pot_of_series[part].tolist() == pots[smaller.pot_of_series].tolist()
    assert LAYOUT.column_of_series[part].tolist() == smaller.column_of_series.tolist()


def test_members_move_the_mean_side_as_they_move_the_exposed_one():
    """A member whose exposed side is a kelvin colder than the middle one's has a mean side a kelvin colder."""
    values = np.zeros((1, LAYOUT.pot_of_series.size))
    values[0, LAYOUT.series(1, Side.EXPOSED, 7)] = -1.0  # the fourth member in its second case
    values[0, LAYOUT.series(1, Side.MEAN, 5)] = 3.0  # the middle member in the second case

    mean = LAYOUT.mean(values)[0, 1]

    assert mean[7] == 2.0
    assert mean[5] == 3.0
    assert mean[4] == 0.0


def test_one_members_mean_side_stands_for_all_within_its_own_tolerance():
    """Members 1 K colder and warmer: their mean sides by the short cut and by simulation of their own."""
    where = garden(pot(), big_pot())
    situations = [as_it_stands(one, TerraceState(), CATALOGUE) for one in where.pots]
    sky = frosty_night(-6.0, past_h=0, **CLEAR)
    together = run_pots(prepare_terrace(where, sky), situations, CATALOGUE, 5.0, 0, 22)

    for member in range(3):
        alone = frosty_night(-6.0, past_h=0, members=1, **CLEAR)
        air = sky.values["air_temperature_c"][member : member + 1]
        dew_point = sky.values["dew_point_c"][member : member + 1]
        alone = replace(alone, values={**alone.values, "air_temperature_c": air, "dew_point_c": dew_point})
        true = run_pots(prepare_terrace(where, alone), situations, CATALOGUE, 5.0, 0, 22)

        # the engine itself is good to 0.15 K; whole-root limits have spreads of a kelvin and more
        for name in ("mean_c", "core_c"):
            short = getattr(together, name)[:, :, member]
            assert np.abs(short - getattr(true, name)[:, :, 0]).max() < 0.4, name


def test_no_ball_is_warm_and_half_frozen():
    """Where the exposed sides of members differ much, the frozen share of the mean side goes with its warmth."""
    layout = SeriesLayout(1, np.arange(3), np.array([1]))
    # exposed sides: colder, middle, milder; then the middle member's mean side in the sun
    mean = np.array([[-4.0, 0.5, 1.0, 8.0]])
    frozen = np.array([[0.9, 0.1, 0.0, 0.0]])
    told = _frozen_share(layout, SimpleNamespace(frozen_fraction=frozen), layout.mean(mean))
    np.testing.assert_allclose(layout.mean(mean)[0, 0], [3.5, 8.0, 8.5])
    np.testing.assert_allclose(told[0, 0], [0.125, 0.0, 0.0])
    cold = np.array([[-4.0, -0.5, 0.2, -0.3]])
    told = _frozen_share(layout, SimpleNamespace(frozen_fraction=frozen + 0.2), layout.mean(cold))
    assert told[0, 0, 0] == pytest.approx(1.0) and told[0, 0, 1] == pytest.approx(0.2)
