"""What has gone wrong with weather services in the wild, and the tests that hold what is done about it.

Each failure was reported by users of a service, or stands in a recorded answer. The table names tests of this
folder, or of another after a slash; one that is renamed or lost makes the table fail.
"""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest

from frostguard.garden.settings import WeatherService
from tests.e2e.command import DEMO_GARDEN, SAMPLES, frostguard
from tests.unit.weather.payloads import ASKED, met_norway_answer, open_meteo_answer
from tests.unit.weather.test_forecast_chain import MET_NORWAY, OPEN_METEO, Town, giving
from tests.unit.weather.test_forecast_chain import town as town  # a fixture
from tests.unit.weather.test_requests import REQUESTS

UNIT = Path(__file__).parents[1]

FAILURES: dict[str, tuple[str, ...]] = {
    "1 resets and timeouts for hours": (
        "test_the_person_is_told_in_time_what_the_service_did", "test_an_hour_of_server_errors_is_lived_through",
    ),
    "2 bad gateway under load": (
        "test_passing_faults_are_tried_again_and_forgotten", "test_jitter_spreads_the_callers",
    ),
    "3 too many requests although idle": (
        "test_one_connection_at_a_time", "test_one_process_at_a_time_asks_and_the_other_uses_its_answer",
        "test_a_service_that_says_when_is_not_asked_before",
    ),
    "4 ensembles eat the quota": (
        "test_ensemble_requests_name_their_model_and_few_variables",
        "test_a_spread_beside_the_forecast_sizes_the_doubt",
    ),
    "5 nulls behind the horizon": (
        "test_empty_hours_behind_the_horizon_are_cut_off_and_noted", "test_a_null_inside_stays_missing",
        "test_a_night_needs_twenty_hours_and_no_long_gap", "test_a_night_with_gaps_is_no_all_clear",
    ),
    "6 a whole column of nulls": (
        "test_a_column_without_any_value_is_as_if_not_there", "advice/test_missing_humidity_is_reckoned_dry_and_noted",
        "advice/test_missing_cloud_gives_a_clear_and_an_overcast_case",
    ),
    "7 one fixed offset through a clock change": (
        "test_local_labels_carry_one_offset_for_the_whole_answer",
        "test_a_night_runs_from_noon_to_noon_on_the_local_clock", "test_nights_of_a_clock_change_are_whole",
    ),
    "8 the same local hour twice": ("test_times_with_an_offset_through_the_clock_change",),
    "9 daily values begin at 23:00": ("test_no_daily_value_is_asked_for",),
    "10 renamed variables": ("test_other_names_of_variables_are_understood",),
    "11 renamed ensemble models": ("test_a_model_that_was_renamed_is_told_and_the_next_service_answers",),
    "12 an interface that ends": (
        "test_an_interface_that_will_end_is_noted", "test_a_stand_in_older_than_a_day_is_noted_loudly",
    ),
    "13 a frozen run, well-formed": (
        "test_a_frozen_old_run_is_no_forecast", "test_a_run_that_repeats_itself_for_a_day_is_found_out",
        "test_well_formed_but_old_answers_are_found_out",
    ),
    "14 servers with different runs": ("test_an_answer_of_a_slightly_older_run_is_accepted",),
    "15 another height": ("test_a_service_that_worked_at_another_height_is_noted",),
    "16 a cell of the sea": ("test_a_cell_of_the_sea_gives_itself_away",),
    "17 a slip in the sign of the longitude": (
        "test_request_south_and_west_keeps_signs", "test_each_faulty_answer_is_told_in_one_sentence",
    ),
    "18 forbidden, and asked every minute": (
        "test_a_service_that_forbids_is_left_alone_for_a_day", "test_coordinates_are_cut_not_rounded",
        "test_the_caller_says_who_it_is", "test_services_that_want_a_contact_are_not_asked_without",
    ),
    "19 expiry forgotten between processes": (
        "test_nobody_is_asked_before_an_answer_expires", "test_an_expired_answer_is_asked_about_by_its_exact_date",
    ),
    "20 server errors and expired grids": ("test_a_problem_document_is_told_by_its_title",),
    "21 an old grid out of a cache": ("test_a_grid_left_lying_is_not_used",),
    "22 layers with axes of their own": (
        "test_merged_hours_are_expanded_and_totals_divided", "test_a_hole_in_a_layer_stays_a_hole",
    ),
    "23 humidity null in forecast rows": ("test_nulls_stay_unknown_in_their_part",),
    "24 the hour before taken for the hour behind": (
        "test_sun_of_the_hour_before_sunrise_is_none", "test_periods_begin_at_their_time_and_end_an_hour_later",
        "test_rows_are_the_ends_of_their_hours",
    ),
    "25 status 200 without JSON": (
        "test_a_body_that_is_no_json_is_told_as_that", "test_unreadable_answers_are_asked_for_again",
    ),
    "26 units": (
        "test_units_are_read_from_the_answer", "test_a_strange_temperature_unit_refuses_the_answer",
        "test_a_frost_in_fahrenheit_is_no_mild_night",
    ),
    "27 dew point above the air, gust below the mean": (
        "test_dew_point_is_brought_down_to_the_air", "test_gust_is_brought_up_to_the_mean_wind",
        "test_humidity_a_little_outside_is_clamped_and_counted",
    ),
}  # fmt: skip


@pytest.mark.parametrize("failure", FAILURES)
def test_each_failure_has_its_tests(failure: str) -> None:
    """The tests that the table names are there."""
    for name in FAILURES[failure]:
        part, _, test = name.rpartition("/")
        there = {
            found
            for path in (UNIT / (part or "weather")).glob("test_*.py")
            for found in re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
        }
        assert test in there, name


def test_the_table_is_whole() -> None:
    """Twenty-seven failures, in their order."""
    assert [int(name.split()[0]) for name in FAILURES] == list(range(1, 28))


# What no other test holds.


def test_a_night_with_gaps_is_no_all_clear(tmp_path: Path) -> None:
    """The mild sample without the hours from midnight to six: could not tell (1), and what to do."""
    lines = (SAMPLES / "mild.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not re.match(r"2025-11-13T0[0-5]", line)]
    assert len(lines) - len(kept) == 6
    (tmp_path / "gaps.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    reply = frostguard("tonight", "--garden", str(DEMO_GARDEN), "--weather", str(tmp_path / "gaps.csv"))
    assert reply.exit_code == 1 and "leaves out too many hours of the coming night" in " ".join(reply.stderr.split())
    assert "in or cover them before dark" in " ".join(reply.stderr.split()) and not reply.stdout


@pytest.mark.parametrize("request_name", REQUESTS)
def test_no_daily_value_is_asked_for(request_name: str, town: Town) -> None:
    """Days of a service begin by its own offset; nights are made from hours in UTC."""
    _, request = REQUESTS[request_name]
    _, query = request(town.site, 7)
    assert "daily" not in query and query.get("timezone", "GMT") == "GMT" and query.get("tz", "Etc/UTC") == "Etc/UTC"


def test_a_model_that_was_renamed_is_told_and_the_next_service_answers(town: Town) -> None:
    """Status 400 with the service's words; the deterministic forecast behind it serves, and it is said."""
    order = (WeatherService.OPEN_METEO_ENSEMBLE, WeatherService.OPEN_METEO)
    town.settings = town.settings.__class__(contact="me@example.org", weather_services=order)
    reason = "Cannot initialize ensemble model from invalid String value icon_seamless_eps"
    town.hosts = {
        "ensemble-api.open-meteo.com": giving({"error": True, "reason": reason}, status=400),
        OPEN_METEO: giving(open_meteo_answer()),
    }
    series = town.ask()
    assert series.provenance.service == "open-meteo" and "other-service:open-meteo-ensemble" in series.notes
    assert town.hosts_asked.count("ensemble-api.open-meteo.com") == 1  # asking again would not help


def test_an_answer_of_a_slightly_older_run_is_accepted(town: Town) -> None:
    """The next server's data are twenty minutes older than those that are kept: good all the same."""
    town.settings = town.settings.__class__(contact="me@example.org", weather_services=(WeatherService.MET_NORWAY,))
    newer = met_norway_answer()
    town.hosts[MET_NORWAY] = giving(newer)
    first = town.ask()
    assert first.provenance.issued is not None
    older = met_norway_answer()
    meta = older["properties"]["meta"]
    meta["updated_at"] = f"{first.provenance.issued - timedelta(minutes=20):%Y-%m-%dT%H:%M:%SZ}"
    older["properties"]["timeseries"][30]["data"]["instant"]["details"]["air_temperature"] += 0.1
    town.hosts[MET_NORWAY] = giving(older)
    second = town.ask(ASKED + timedelta(hours=2))
    assert not second.provenance.from_store
    assert second.provenance.issued == first.provenance.issued - timedelta(minutes=20)
