"""Why the plan says what it says about a pot, as text and as data."""

from __future__ import annotations

import json
from dataclasses import replace

import plans
import pytest
from plans import job, plan, tissue

from frostguard.advice.plan import NoJob, Protection
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Mark, Tissue
from frostguard.report.explain import render_explanation
from frostguard.report.json_text import render_error_json, render_json
from frostguard.report.layout import LINE_WIDTH, shown_width
from frostguard.report.terminal import render_answer


def text(of=None, units=Units.METRIC) -> str:
    """The explanation on one line."""
    shown = render_explanation(plans.frosty_plan(), of or plans.explanation(), units)
    return " ".join(shown.split())


def test_the_table_shows_each_moment_with_all_its_columns():
    """Air, wind, three rings, mean, core, frozen share and leaf, on the site's clock."""
    words = text()

    assert "time air wind top middle bottom mean core frozen leaf" in words
    assert "Thu 3 Dec 00:00 -2.0 1.2 -1.4 -0.6 -0.2 0.9 2.5 12 % -4.3" in words


def test_the_heat_bill_adds_up_its_faces():
    """Side, top and base, their sum, and the ways of transfer; what is lost is negative."""
    words = text()

    assert "through the side -210 through the top -80 through the base -30 together -321" in words
    assert (
        "by moving air (convection) -150" in words
        and "radiated as heat (long-wave) -201" in words
        and "from the sun 80" in words
        and "by what evaporates, or as dew -20" in words
    )


def test_a_limit_tells_its_source_and_is_rounded_toward_danger():
    """The coldest down, the limit up, to a tenth; stage, mark and source beside them."""
    words = text()

    assert "lemon, leaves or shoots: limit -3.0 °C, coldest -4.4 °C" in words
    assert "Measured: A. Author, On Lemons, 1990, table 2." in words


def test_a_limit_that_learned_says_from_what_and_by_how_much():
    """The gardener's losses are named beside what was believed before."""
    source = "2026-01-14; before that: A page"
    words = text(plans.explanation(limits=(tissue(mark=Mark.LEARNED, source=source, learned_k=1.24),)))

    assert "Learned from what you saw cold do to your own plants: 2026-01-14; before that: A page." in words
    assert "That moved it by +1.2" in words


@pytest.mark.parametrize("mark", Mark)
@pytest.mark.parametrize("source", ["A page", "estimate", "rule: A page.", ""])
@pytest.mark.parametrize("kind", Tissue)
def test_every_mark_is_worded_with_or_without_a_source(mark, source, kind):
    """Each mark says how much stands behind the value, without an empty "source"."""
    words = text(plans.explanation(limits=(tissue(tissue=kind, mark=mark, source=source, stage=""),)))

    assert ": ." not in words and ".." not in words and "rule: rule" not in words
    assert ("A page" in words) == ("A page" in source and mark is not Mark.WEAK_SOURCE)


def test_the_basis_of_a_leaf_limit_is_told():
    """A limit given as screen air says at which air that is; another of leaf or bud that it is the tissue's own."""
    aired = text(plans.explanation(limits=(tissue(limit_c=-9.5, screen_air_limit_c=-7.0),)))
    assert "limit -9.5 °C" in aired and "That is -7.0 °C at a weather station on a clear, calm night" in aired
    own = text(plans.explanation(limits=(tissue(),)))
    assert "The source tells it for the leaf or bud itself, not for the air." in own
    root = text(plans.explanation(limits=(tissue(tissue=Tissue.WHOLE_ROOT),)))
    assert "leaf or bud itself" not in root and "weather station" not in root


def test_weak_sources_are_called_weak_and_not_named():
    """A seller's page does not gain weight by being quoted."""
    words = text(plans.explanation(limits=(tissue(mark=Mark.WEAK_SOURCE, source="somebody's web shop"),)))

    assert "Weak source." in words and "web shop" not in words


def test_steps_and_assumptions_are_sentences_and_unknown_codes_are_shown():
    """What one step changes, with its sign; what was assumed; nothing is swallowed."""
    words = text()

    assert "a foam wall in place of this one: +0.8 °C" in words
    assert "kettle: -0.2 °C" in words
    assert "The wall is taken to be 12 mm thick" in words and "moon phase" in words


def test_the_second_pass_is_told():
    """How far the answer moves by a better wall surface is part of the explanation."""
    assert "the coldest that its outer roots get in a night moves by at most 0.1 °C" in text()


def test_the_pots_own_jobs_stand_first():
    """The explanation begins with what it explains, and leaves other pots' jobs out."""
    words = text()

    assert words.index("Lemon (front): slide or wheel to the cellar") < words.index("Limits today")
    assert "Fuchsia" not in words
    assert "No job for this pot." in " ".join(
        render_explanation(plan(), plans.explanation(), Units.METRIC).split()
    )


@pytest.mark.parametrize("units", Units)
def test_every_line_fits_even_with_extremes(units):
    """Eighty columns in both units, with missing values, arctic cold and a long label."""
    nothing = float("nan")
    rows = tuple(
        replace(row, air_c=-40.0, wind_at_pot_m_s=28.0, top_ring_c=-38.5, leaf_c=nothing, frozen_fraction=1.0)
        for row in plans.explanation().rows
    )
    of = plans.explanation(rows=rows, label="Lemon " * 30, assumed=("x" * 200,))
    shown = render_explanation(plans.frosty_plan(), of, units)

    assert max(shown_width(line) for line in shown.split("\n")) <= LINE_WIDTH
    assert "nan" not in shown
    if units is Units.IMPERIAL:
        assert "mph" in shown and "BTU" in shown and "°C" not in shown


def test_the_command_shows_the_plan_unless_an_explanation_was_asked_for():
    """With `--explain` the pot's explanation takes the place of the evening's list."""
    of = plans.frosty_plan()

    assert render_answer(of, None, None, Units.METRIC).startswith("3 jobs tonight")
    assert render_answer(of, plans.explanation(), None, Units.METRIC).startswith("Lemon: how the answer")


def test_json_is_the_plans_own_dictionary():
    """`--json` prints `AdvicePlan.to_dict()` and nothing else, in plain ASCII."""
    of = replace(plans.frosty_plan(), site="Terasa \u010de\u0161nje \x1b[2J")
    shown = render_json(of)

    assert json.loads(shown) == of.to_dict()
    assert shown.isascii() and "\x1b" not in shown


def test_json_knows_no_nan():
    """A number that does not exist is null, since strict readers refuse NaN."""
    of = plan(nights=(plans.night(0, float("nan")),))

    assert json.loads(render_json(of), parse_constant=pytest.fail)["nights"][0]["coldest_air_c"] is None


def test_json_carries_the_explanation_when_asked():
    """`--json --explain` adds the curves, heat, steps and assumptions under one key."""
    data = json.loads(render_json(plans.frosty_plan(), plans.explanation()))

    assert data["format"] == 1
    assert data["explanation"]["curves"][0]["time"] == "2026-12-02T21:00:00+01:00"
    assert data["explanation"]["heat_kj"]["side"] == -210.4
    assert data["explanation"]["sensitivities"][0] == {"what": "wall foam", "coldest_ring_change_k": 0.8}


def test_an_error_is_an_object_too():
    """A program that reads the answer gets the sentence and the next step."""
    assert json.loads(render_error_json("No forecast.", "Look outside.")) == {
        "format": 1,
        "error": "No forecast.",
        "next_step": "Look outside.",
    }


def test_a_job_of_another_pot_with_the_same_label_is_not_mixed_in():
    """Pots go by their id."""
    of = plan(jobs=(job("other", Protection.FLEECE, label="Lemon"),))
    assert "No job for this pot." in render_explanation(of, plans.explanation(), Units.METRIC)


def test_what_a_pot_was_reckoned_with_is_told():
    """Water from word to now, weight, gusts, resistances and sky stand in the long answer."""
    words = text()
    assert "Water: 31 % of the mix by volume, of which 26 % can freeze." in words
    assert "word stands for 27 %; in the weather's past days 12 mm of rain came in" in words
    assert "Weight: about 41 kg now; for lifting 46 kg is reckoned, soaked and on the heavy side." in words
    assert "a gust of 22.0 m/s at the pot tips it, 14.0 m/s under a hood" in words
    assert "others say 208 to 247" in words


def test_what_does_not_touch_a_pot_is_left_out_and_what_does_is_told():
    """Snow, corners, bulbs, thaws and dew have a sentence only where there are any."""
    plain = plans.explanation()
    assert not any(word in text(plain) for word in ("Snow counted", "Corners:", "Bulbs:", "thawed", "hoar"))
    rich = replace(
        plain.reckoned,
        snow_on_top_m=0.1,
        snow_beside_m=0.05,
        corner_k=1.5,
        bulbs_at_m=(0.07,),
        thaws_behind=3,
        dew_warms_k=0.6,
        water=replace(plain.reckoned.water, covers_wet=True),
    )
    words = text(replace(plain, reckoned=rich))
    for told in (
        "10 cm on the mix, 5 cm against the side",
        "Corners: 1.5 °C colder",
        "Bulbs: judged 7 cm deep",
        "frozen and thawed 3 times",
        "leaves 0.6 °C warmer",
        "Rain soaks fleece",
    ):
        assert told in words


def test_water_that_is_still_to_come_is_told():
    """Where rain until the frost changes what a pot holds, both shares are in the sentence."""
    plain = plans.explanation()
    assert "when the frost comes" not in text(plain)
    wetter = replace(plain.reckoned, water=replace(plain.reckoned.water, fraction=0.38, now=0.31))
    assert "Water: 38 % of the mix by volume when the frost comes (31 % now)" in text(replace(plain, reckoned=wetter))


def test_a_pot_in_a_room_has_no_sky_and_one_that_hangs_cannot_topple():
    """No sentence for what is not there; a sky that a service tells is said to be told."""
    plain = plans.explanation()
    inside = replace(plain.reckoned, sky=None, wind=replace(plain.reckoned.wind, topples_at_m_s=float("inf")))
    words = text(replace(plain, reckoned=inside))
    assert "Sky:" not in words and "Wind:" not in words
    assert plain.reckoned.sky is not None
    told = replace(plain.reckoned, sky=replace(plain.reckoned.sky, told=True))
    assert "as the weather service tells" in text(replace(plain, reckoned=told))


def test_a_pot_without_a_job_says_why():
    """Whoever asks about a pot at risk that has no job wants the reason first."""
    base = plans.explanation()
    outlook = plans.pot(base.pot, tissue(chance=0.9), no_job=NoJob.TOO_HEAVY)
    told = " ".join(render_explanation(plans.plan(pots=(outlook,)), base, Units.METRIC).split())

    assert "No job for this pot: too heavy for the hands there are" in told


def test_sources_are_told_with_the_sign_of_the_unit_and_without_jargon():
    """One way of writing degrees on a page, and what LT50 means."""
    told = text(plans.explanation(limits=(tissue(source="Smith 1990, LT50 of leaves -9.5 degC"),)))

    assert "LT50 (half is killed) of leaves -9.5 °C" in told and "degC" not in told
