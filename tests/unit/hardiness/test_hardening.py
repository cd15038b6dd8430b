"""How hard plants are: the direction, pace and limits of hardening and softening."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostguard.hardiness.hardening import (
    RIPENED_BY_SHORT_DAYS,
    SOFT,
    HardeningState,
    Season,
    climatological_state,
    daily_minimum_and_mean_c,
    hardening_state,
    next_day,
    season_day,
    season_on,
)
from tests.hardened import HARD

LJUBLJANA_DEG = 46.05
DAYS = st.lists(st.floats(min_value=-15, max_value=20), min_size=1, max_size=40)


def run(state: HardeningState, first: date, days: int, minimum_c: float, mean_c: float,
        latitude_deg: float = LJUBLJANA_DEG) -> HardeningState:
    """The state after some days alike."""
    for offset in range(days):
        state = next_day(state, first + timedelta(days=offset), minimum_c, mean_c, latitude_deg)
    return state


def test_three_weeks_of_cold_nights_in_late_autumn_harden_a_soft_plant() -> None:
    """A soft plant is nearly hard after three weeks of nights at 3 degC, but not after one."""
    one_week = run(SOFT, date(2026, 11, 1), 7, 3.0, 6.0)
    three_weeks = run(SOFT, date(2026, 11, 1), 21, 3.0, 6.0)
    assert one_week.top < 0.6
    assert three_weeks.top > 0.8


def test_mild_nights_do_not_harden() -> None:
    """Nights that stay above 7 degC leave a plant as soft as short days let it be, and its roots soft."""
    mild = run(SOFT, date(2026, 11, 1), 30, 8.0, 12.0)
    assert mild.top == RIPENED_BY_SHORT_DAYS and mild.root == 0.0
    assert run(SOFT, date(2026, 7, 1), 30, 8.0, 12.0).top < 0.05


def test_short_days_ripen_wood_in_autumn_only() -> None:
    """From July to November the first stage comes with the days, in March nothing comes of short days alone."""
    by_month = [run(SOFT, date(2025, month, 1), 5, 12.0, 18.0).top for month in (7, 9, 10, 11)]
    assert by_month == sorted(by_month) and by_month[0] == 0.0 and by_month[-1] == RIPENED_BY_SHORT_DAYS
    assert run(SOFT, date(2026, 2, 1), 5, 12.0, 18.0).top == 0.0


def test_long_days_slow_hardening() -> None:
    """The same cold nights harden more in November than in August."""
    in_august = run(SOFT, date(2026, 8, 1), 10, 3.0, 6.0)
    in_november = run(SOFT, date(2026, 11, 1), 10, 3.0, 6.0)
    assert in_august.top < in_november.top


def test_roots_harden_later_than_tops() -> None:
    """Through autumn roots lag behind."""
    state = run(SOFT, date(2026, 11, 1), 14, 2.0, 5.0)
    assert 0 < state.root < state.top


def test_a_warm_spell_softens_and_a_hotter_one_softens_faster() -> None:
    """Five days at 16 degC take more than five at 11 degC, and both take much."""
    warm = run(HARD, date(2026, 1, 10), 5, 6.0, 11.0)
    hot = run(HARD, date(2026, 1, 10), 5, 10.0, 16.0)
    assert hot.top < warm.top < 0.7


def test_what_a_winter_warm_spell_took_is_won_back_only_in_part() -> None:
    """Weeks of cold after a January warm spell lead back up, but not to where the plant was."""
    softened = run(HARD, date(2026, 1, 10), 6, 6.0, 12.0)
    again = run(softened, date(2026, 1, 16), 40, -2.0, 1.0)
    assert softened.top < again.top < 0.9
    assert again.top == pytest.approx(again.ceiling, abs=0.05)


def test_an_autumn_warm_spell_leaves_no_trace() -> None:
    """Before midwinter a plant can still harden in full."""
    softened = run(HARD, date(2025, 11, 10), 6, 6.0, 12.0)
    assert run(softened, date(2025, 11, 16), 40, -2.0, 1.0).top > 0.95


def test_after_bud_break_cold_hardens_nothing() -> None:
    """Once the heat sum has broken the buds a week of frost leaves the tops as they are."""
    broken = HardeningState(top=0.2, root=0.3, ceiling=0.5, heat_k_d=250.0, days_known=0)
    assert broken.buds_broken
    assert run(broken, date(2026, 4, 20), 7, -3.0, 2.0).top == pytest.approx(0.2)


def test_everything_begins_anew_at_midsummer() -> None:
    """The heat sum and the ceiling of the past winter are forgotten on 1 July, on 1 January in the south."""
    tired = HardeningState(top=0.0, root=0.0, ceiling=0.1, heat_k_d=900.0, days_known=0)
    assert next_day(tired, date(2026, 7, 1), 15.0, 20.0, LJUBLJANA_DEG).heat_k_d == 0.0
    assert next_day(tired, date(2026, 1, 1), 15.0, 20.0, -38.0).ceiling == 1.0


def test_without_temperatures_the_climate_gives_soft_summers_and_hard_winters() -> None:
    """With no days known a July plant is soft, a January one hard, and a May one soft again."""
    def at(month: int) -> HardeningState:
        return hardening_state([], [], on=date(2026, month, 20), latitude_deg=LJUBLJANA_DEG)

    assert at(7).top == 0.0
    assert at(1).top > 0.9
    assert at(5).top < 0.1
    assert at(1).days_known == 0


def test_the_south_is_half_a_year_away() -> None:
    """The climate's state at 46 deg south is the north's, six months on."""
    north = climatological_state(date(2026, 1, 20), 46.0)
    south = climatological_state(date(2026, 7, 21), -46.0)
    assert south.top == pytest.approx(north.top, abs=0.01)
    assert season_on(south, date(2026, 7, 21), -46.0) is Season.WINTER
    assert season_day(date(2026, 7, 1), 46.0) == season_day(date(2026, 1, 1), -46.0) == 0


def test_known_days_count_and_missing_ones_are_filled_from_the_climate() -> None:
    """A day without a value neither stops nor spoils the state."""
    minima = np.full(20, 0.0)
    minima[[3, 11]] = np.nan
    state = hardening_state(minima, np.full(20, 4.0), on=date(2026, 12, 10), latitude_deg=LJUBLJANA_DEG)
    assert state.days_known == 18
    assert 0.8 < state.top <= 1.0


def test_arrays_of_unlike_length_are_a_mistake_of_ours() -> None:
    """Minima and means must belong to the same days."""
    with pytest.raises(ValueError, match="equal length"):
        hardening_state([1.0, 2.0], [1.0], on=date(2026, 1, 1), latitude_deg=46.0)


@settings(max_examples=60, deadline=None)
@given(DAYS, st.integers(min_value=0, max_value=364), st.floats(min_value=0, max_value=6))
def test_warmer_weeks_never_leave_harder_plants(means: list[float], start: int, warmer_k: float) -> None:
    """Raising every day's temperature never raises the hardening of tops, roots or the ceiling."""
    first = date(2025, 7, 2) + timedelta(days=start)
    cold = warm = climatological_state(first, 46.0)
    for offset, mean_c in enumerate(means):
        day = first + timedelta(days=offset)
        cold = next_day(cold, day, mean_c - 4, mean_c, 46.0)
        warm = next_day(warm, day, mean_c - 4 + warmer_k, mean_c + warmer_k, 46.0)
        assert warm.top <= cold.top + 1e-12
        assert warm.root <= cold.root + 1e-12
        assert warm.ceiling <= cold.ceiling + 1e-12


@settings(max_examples=60, deadline=None)
@given(DAYS, st.integers(min_value=0, max_value=364))
def test_the_state_stays_between_soft_and_hard(means: list[float], start: int) -> None:
    """Whatever the weather, every share stays between 0 and 1 and heat never falls below 0."""
    state = hardening_state(np.array(means) - 4, means, on=date(2025, 8, 15) + timedelta(days=start),
                            latitude_deg=46.0)
    assert 0 <= state.top <= 1 and 0 <= state.root <= 1 and 0 <= state.ceiling <= 1 and state.heat_k_d >= 0


def test_seasons_follow_the_plants_and_not_the_date_alone() -> None:
    """November is autumn for soft plants and winter for hard ones; March is spring once buds swell."""
    assert season_on(SOFT, date(2026, 11, 20), 46.0) is Season.AUTUMN
    assert season_on(HARD, date(2026, 11, 20), 46.0) is Season.WINTER
    swelling = HardeningState(top=0.7, root=0.8, ceiling=0.9, heat_k_d=80.0, days_known=30)
    assert season_on(swelling, date(2026, 3, 25), 46.0) is Season.SPRING
    assert season_on(HARD, date(2026, 3, 25), 46.0) is Season.WINTER


def test_days_are_counted_back_from_the_last_hour() -> None:
    """Hourly values give whole days ending now; the odd hours at the beginning are left out."""
    hourly = np.concatenate([np.full(5, 99.0), np.arange(24.0), np.full(24, 7.0)])
    minima, means = daily_minimum_and_mean_c(hourly)
    assert minima.tolist() == [0.0, 7.0]
    assert means.tolist() == [11.5, 7.0]
