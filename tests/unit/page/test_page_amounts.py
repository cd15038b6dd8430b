"""Pages of somebody who reads gallons and feet."""

from __future__ import annotations

import pytest

from frostguard.garden.reader import load_garden, load_settings

IMPERIAL = "days: 1\nunits: imperial\n"


@pytest.fixture
def terrace(begun):
    """The small terrace of somebody who reads gallons and feet."""
    found = begun()
    found.task.settings.write_text(IMPERIAL)
    return found


def test_a_new_pot_is_written_in_gallons_and_kept_in_litres(terrace):
    """Six gallons are 22.71 litres in the file, and six gallons again in the form that changes the pot."""
    visitor = terrace.visitor()
    page = visitor.get("/new-pot").text
    assert "Gallons (US)" in page
    assert "Litres" not in page and "centimetres" not in page
    pot = {"plant": "lemon", "material": "terracotta", "volume_l": "6", "mulch_cm": "2", "spot": "deck",
           "version": visitor.field("/new-pot", "version")}  # fmt: skip
    assert visitor.send("/new-pot", pot).status_code == 303
    lemon = load_garden(terrace.garden).pots[-1]
    assert lemon.volume_l == pytest.approx(6 * 3.785411784, abs=0.01)
    assert "volume_l: 22.71" in terrace.garden.read_text()
    assert visitor.field("/pot/lemon/change", "volume_l") == "6"
    before = terrace.garden.read_text()
    same = {**pot, "label": "Mine", "version": visitor.field("/pot/lemon/change", "version")}
    assert visitor.send("/pot/lemon/change", same).status_code == 303
    after = terrace.garden.read_text()
    assert "Mine" in after
    assert all(line in after for line in before.splitlines())  # what was not touched stays to the letter


def test_pounds_of_the_settings_are_kept_in_kilograms(terrace):
    """Forty pounds are 18.14 kg in the file."""
    visitor = terrace.visitor()
    assert "in pounds" in visitor.get("/settings").text
    given = {name: visitor.field("/settings", name) for name in ("people", "effort_eur_per_hour", "days", "version")}
    assert visitor.send("/settings", {**given, "lift_alone_kg": "40", "units": "imperial"}).status_code == 303
    assert load_settings(terrace.task.settings).lift_alone_kg == pytest.approx(18.14)


def test_no_page_tells_metric_units_to_whoever_reads_imperial_ones(terrace):
    """Every page, forms and what is folded included."""
    import re

    visitor = terrace.answered()
    for address in ("/", "/report", "/nights", "/pots", "/pot/pelargonium", "/pot/pelargonium/change", "/new-pot",
                    "/new-spot", "/readings", "/taught", "/book", "/settings"):  # fmt: skip
        text = re.sub(r"<style>.*?</style>|<[^>]*>", " ", visitor.get(address).text)
        found = re.search(r"°C|\d\s*(?:kg|cm|mm|m|K|l)\b|[Ll]itres|kilograms|centimetres|\bmetres", text)
        assert found is None, (address, text[max(found.start() - 80, 0) : found.end() + 40])
