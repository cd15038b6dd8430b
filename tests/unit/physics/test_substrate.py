"""Potting mixes: conductivity, heat capacity, freezing water."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.errors import PhysicsInputError
from frostguard.garden.catalogue import load_catalogue
from frostguard.physics.substrate import (
    FREEZING_END_C,
    FREEZING_START_C,
    LATENT_HEAT_J_M3,
    ORGANIC_SOLIDS_CONDUCTIVITY_W_M_K,
    ORGANIC_SOLIDS_HEAT_CAPACITY_J_M3_K,
    PEAT,
    PEAT_BOUND_WATER_FRACTION,
    SAND,
    cote_konrad_conductivity_w_m_k,
    cote_konrad_dry_conductivity_w_m_k,
    cote_konrad_kersten,
    cote_konrad_saturated_conductivity_w_m_k,
    cote_konrad_saturated_frozen_conductivity_w_m_k,
    freezable_water_fraction,
    mix_properties,
    volumetric_heat_capacity_j_m3_k,
    wetter_below,
)


def peat(water_fraction, *, porosity=0.9, bound=0.0):
    """A peat mix at a given wetness."""
    return mix_properties(
        porosity=porosity,
        solids_heat_capacity_j_m3_k=ORGANIC_SOLIDS_HEAT_CAPACITY_J_M3_K,
        solids_conductivity_w_m_k=ORGANIC_SOLIDS_CONDUCTIVITY_W_M_K,
        dry_conductivity_w_m_k=cote_konrad_dry_conductivity_w_m_k(porosity),
        kersten_unfrozen=PEAT.kersten_unfrozen,
        kersten_frozen=PEAT.kersten_frozen,
        unfreezable_water_fraction=bound,
        water_fraction=water_fraction,
    )


@pytest.mark.parametrize(
    ("porosity", "saturation", "dry", "unfrozen", "frozen"),
    [
        (0.90, 0.25, 0.0494, 0.1287, 0.1840),
        (0.90, 0.50, 0.0494, 0.2277, 0.3993),
        (0.90, 0.75, 0.0494, 0.3551, 0.7992),
        (0.90, 1.00, 0.0494, 0.5249, 1.7989),
        (0.80, 0.60, 0.0604, 0.2608, 0.4380),
    ],
)
def test_peat_follows_the_model_of_cote_and_konrad(porosity, saturation, dry, unfrozen, frozen):
    """Dry, moist and frozen conductivities of peat are those of an independent computation of the model."""
    # Cote and Konrad 2005, organic set; all water freezing. Half of the last digit.
    assert cote_konrad_dry_conductivity_w_m_k(porosity) == pytest.approx(dry, abs=6e-5)
    mix = peat(porosity * saturation, porosity=porosity)
    assert mix.conductivity_unfrozen_w_m_k == pytest.approx(unfrozen, abs=6e-5)
    assert mix.conductivity_frozen_w_m_k == pytest.approx(frozen, abs=6e-5)


@pytest.mark.parametrize(("water_fraction", "conductivity"), [(0.0, 0.04), (0.45, 0.27), (0.90, 0.50)])
def test_thawed_peat_conducts_as_measured(water_fraction, conductivity):
    """Peat from dry to saturated conducts as tabulated from measurements, within a fair 25 %."""
    # Moene and van Dam 2014, table 2.2 (de Vries 1963). The model itself claims no better than 25 %.
    assert peat(water_fraction).conductivity_unfrozen_w_m_k == pytest.approx(conductivity, rel=0.25)


def test_frozen_peat_conducts_as_measured():
    """Frozen peat conducts 0.43 to 0.67 as found in the field, and 1.48 W/mK when saturated, within 25 %."""
    # Kujala et al. 2008, palsa peat: a natural moist sample is taken as half full of water.
    assert 0.75 * 0.43 < peat(0.45, bound=PEAT_BOUND_WATER_FRACTION).conductivity_frozen_w_m_k < 1.25 * 0.67
    saturated = peat(0.90, bound=PEAT_BOUND_WATER_FRACTION).conductivity_frozen_w_m_k
    assert saturated == pytest.approx(1.485, rel=0.25)
    # Bound water brings the model nearer to the measurement.
    assert saturated < peat(0.90).conductivity_frozen_w_m_k


@pytest.mark.parametrize(("water_fraction", "conductivity"), [(0.0, 0.24), (0.2, 2.1), (0.4, 2.5)])
def test_sandy_soil_conducts_as_measured(water_fraction, conductivity):
    """A loose sandy soil conducts as tabulated, within the model's 25 %."""
    # Moene and van Dam 2014, table 2.2, porosity 0.4; quartz grains 8.8 W/mK of the same table.
    ours = cote_konrad_conductivity_w_m_k(
        cote_konrad_dry_conductivity_w_m_k(0.4, SAND),
        cote_konrad_saturated_conductivity_w_m_k(0.4, 8.8),
        water_fraction / 0.4,
        SAND.kersten_unfrozen,
    )
    assert ours == pytest.approx(conductivity, rel=0.25)


@pytest.mark.parametrize(("water_fraction", "capacity"), [(0.0, 0.25e6), (0.45, 2.13e6), (0.90, 4.01e6)])
def test_peat_stores_heat_as_tabulated(water_fraction, capacity):
    """Heat capacity of peat from dry to saturated is as tabulated, within 3 %."""
    # Moene and van Dam 2014, table 2.2; its water is 4.18, ours 4.217 MJ/m3K, which is 1 %.
    assert peat(water_fraction).heat_capacity_unfrozen_j_m3_k == pytest.approx(capacity, rel=0.03)


@pytest.mark.parametrize(("water_fraction", "capacity"), [(0.0, 1.28e6), (0.2, 2.12e6), (0.4, 2.96e6)])
def test_sandy_soil_stores_heat_as_tabulated(water_fraction, capacity):
    """Heat capacity of a loose sandy soil is as tabulated, within 3 %."""
    # Same table: quartz 2660 kg/m3 and 800 J/kgK.
    assert volumetric_heat_capacity_j_m3_k(0.4, 2660.0 * 800.0, water_fraction) == pytest.approx(
        capacity, rel=0.03
    )


def test_moist_peat_thawed_frozen_and_its_latent_heat():
    """Peat half full of water stores 2.13 thawed, 1.195 MJ/m3K frozen, and 150.1 MJ/m3 in freezing."""
    mix = peat(0.45)
    assert mix.heat_capacity_unfrozen_j_m3_k == pytest.approx(2.131e6, rel=0.03)
    assert mix.heat_capacity_frozen_j_m3_k == pytest.approx(1.195e6, rel=0.03)
    latent_j_m3 = mix.freezable_water_fraction * LATENT_HEAT_J_M3
    assert latent_j_m3 == pytest.approx(150.1e6, rel=1e-3)
    # The same as some 70 K of cooling without freezing.
    assert latent_j_m3 / mix.heat_capacity_unfrozen_j_m3_k == pytest.approx(70.0, abs=1.0)


def test_bound_water_of_peat_is_what_its_retention_curve_leaves():
    """At -0.8 degC, where the model calls peat frozen, its retention curve leaves the bound water."""
    # Kujala et al. 2008: the water of peat freezes between 0 and -0.8 degC. Curve of Letts et al. 2000.
    suction_m = 1.221e6 * -FREEZING_END_C / (999.8 * 9.80665)
    assert FREEZING_START_C == 0.0
    assert 0.9 * (suction_m / 0.0103) ** (-1.0 / 2.7) == pytest.approx(PEAT_BOUND_WATER_FRACTION, abs=0.001)
    assert peat(0.45, bound=PEAT_BOUND_WATER_FRACTION).freezable_water_fraction > 0.9 * 0.45


@given(st.floats(0.3, 0.97), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 0.1))
def test_wetter_conducts_stores_and_freezes_more(porosity, first, second, bound):
    """Conductivity, heat capacity and freezable water never fall as a mix gets wetter."""
    mix = peat(porosity * np.sort([first, second]), porosity=porosity, bound=bound)
    for name in (
        "conductivity_unfrozen_w_m_k",
        "conductivity_frozen_w_m_k",
        "heat_capacity_unfrozen_j_m3_k",
        "heat_capacity_frozen_j_m3_k",
        "freezable_water_fraction",
    ):
        drier, wetter = getattr(mix, name)
        assert drier <= wetter * (1.0 + 1e-12), name


@given(st.floats(0.7, 0.97), st.floats(0.1, 1.0))
def test_frozen_peat_conducts_better_and_stores_less(porosity, saturation):
    """Ice conducts better than water and stores less heat."""
    mix = peat(porosity * saturation, porosity=porosity)
    assert mix.conductivity_frozen_w_m_k > mix.conductivity_unfrozen_w_m_k
    assert mix.heat_capacity_frozen_j_m3_k < mix.heat_capacity_unfrozen_j_m3_k


@given(st.floats(0.01, 5.0))
def test_kersten_number_runs_from_dry_to_saturated(constant):
    """The Kersten number is 0 for a dry and 1 for a saturated mix, whatever the texture."""
    assert cote_konrad_kersten([0.0, 1.0], constant) == pytest.approx([0.0, 1.0], abs=1e-9)


def test_unfrozen_water_lowers_the_frozen_conductivity():
    """With all its water liquid, the frozen formula gives the thawed conductivity."""
    assert cote_konrad_saturated_frozen_conductivity_w_m_k(0.9, 0.25, 0.9) == pytest.approx(
        float(cote_konrad_saturated_conductivity_w_m_k(0.9, 0.25)), rel=1e-12
    )


def test_a_mix_drier_than_its_bound_water_does_not_freeze():
    """Where all water is bound nothing freezes, and heat capacity does not change in frost."""
    mix = peat(0.02, bound=0.03)
    assert mix.freezable_water_fraction == 0.0
    assert mix.heat_capacity_frozen_j_m3_k == mix.heat_capacity_unfrozen_j_m3_k
    assert freezable_water_fraction(0.02, 0.03) == 0.0


def test_many_mixes_at_once_are_as_each_alone():
    """Arrays of wetness give arrays of the same shape, freezing interval included, each entry as if alone."""
    wetness = np.array([[0.1, 0.3], [0.5, 0.8]])
    many = peat(wetness, bound=0.03)
    alone = peat(0.5, bound=0.03)
    for name in type(many).__slots__:
        assert getattr(many, name).shape == (2, 2), name
        assert getattr(many, name)[1, 0] == pytest.approx(float(getattr(alone, name)), rel=1e-12), name
    assert np.all(many.freezing_start_c - many.freezing_end_c >= 0.1)


@pytest.mark.parametrize(
    "wrong",
    [
        {"porosity": 1.0},
        {"porosity": 0.0},
        {"water_fraction": 0.95},
        {"water_fraction": -0.1},
        {"unfreezable_water_fraction": -0.01},
        {"dry_conductivity_w_m_k": 0.0},
        {"kersten_frozen": 0.0},
        {"solids_heat_capacity_j_m3_k": -1.0},
    ],
)
def test_a_mix_that_cannot_be_is_refused(wrong):
    """A mix with impossible pores, water or properties is refused."""
    values = {
        "porosity": 0.9,
        "solids_heat_capacity_j_m3_k": 2.5e6,
        "solids_conductivity_w_m_k": 0.25,
        "dry_conductivity_w_m_k": 0.05,
        "kersten_unfrozen": 0.6,
        "kersten_frozen": 0.25,
        "unfreezable_water_fraction": 0.03,
        "water_fraction": 0.45,
    }
    mix_properties(**values)
    with pytest.raises(PhysicsInputError):
        mix_properties(**(values | wrong))


def line_through(water_at, height_cm):
    """Half the fall of a straight line through a profile of water by height, over its mean."""
    heights = np.linspace(0.0, height_cm, 2001)
    water = water_at(heights)
    return -np.polyfit(heights, water, 1)[0] * height_cm / 2.0 / water.mean()


def test_the_share_of_bark_is_that_of_two_container_heights():
    """Owen & Altland 2008: 15.2 cm of medium bark hold 20 % less than 3.8 cm; water falls evenly with height."""
    # mean water up to a height is a - b height, so what a height adds is a - 2 b height
    fall = 0.2 / (15.2 - 0.8 * 3.8)
    assert load_catalogue().mixes["bark-based"].wetter_below == pytest.approx(
        line_through(lambda height: 1.0 - 2.0 * fall * height, 15.2), abs=0.01
    )


@pytest.mark.parametrize("height_cm", [15.0, 30.0])
def test_the_share_of_peat_is_that_of_its_retention_curve(height_cm):
    """Letts et al. 2000, hemic peat: saturated up to 1.02 cm above the hole, from there by the power -1/6.1."""
    share = line_through(lambda height: np.maximum(height / 1.02, 1.0) ** (-1.0 / 6.1), height_cm)
    assert load_catalogue().mixes["multi-purpose"].wetter_below == pytest.approx(share, abs=0.02)


def test_a_dry_pot_and_a_drowned_one_are_even():
    """The share falls as a pot dries, and where all pores are full there is room for no more below."""
    shares = wetter_below([0.0, 0.3, 0.6, 0.8, 0.9], 0.6, 0.9, 0.3)
    np.testing.assert_allclose(shares, [0.0, 0.15, 0.3, 0.125, 0.0], atol=1e-6)
