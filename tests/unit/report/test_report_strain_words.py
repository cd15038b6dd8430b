"""Strains in sentences."""

from __future__ import annotations

import pytest

from frostguard.advice.strains import Strain
from frostguard.report.notes import note_sentence


@pytest.mark.parametrize("strain", list(Strain))
def test_every_strain_is_a_whole_sentence_that_names_its_plants(strain: Strain) -> None:
    """No code of a strain reaches the person, and the plants it meets do, freezing rain aside."""
    days = {Strain.DARK_ROOM: "10:", Strain.LOST_LATER: "2027-01-17:"}.get(strain, "")
    sentence = note_sentence(f"{strain.value}:{days}Box by the door:Bay")
    assert sentence[0].isupper() and sentence.endswith(".") and "Also noted" not in sentence
    assert strain is Strain.FREEZING_RAIN or ("Box by the door" in sentence and "Bay" in sentence)


def test_the_days_in_the_dark_are_told() -> None:
    """A plant in the dark comes with the days that it stands there."""
    assert "10 days" in note_sentence("dark room:10:Lemon")
    assert "about 3 days, less in warmth, and the cold lasts longer" in note_sentence("dark too long:3:Magnolia")
    assert note_sentence("dark room:0:Lemon").startswith("These have stood in the dark as long as they may: Lemon.")


def test_what_was_done_for_some_of_several_alike_is_told_with_their_number() -> None:
    """Whoever reads of one pot of six learns that five are done, or prepared."""
    assert note_sentence("set aside:Box by the door:5:6").startswith("Box by the door: 5 of 6 are done, and this is")
    assert note_sentence("part ready:Box:2:3").startswith("Box: 2 of 3 are prepared for the cold")


def test_the_night_that_may_kill_is_told_with_its_plants() -> None:
    """Day and plants, and what can be looked for now."""
    told = note_sentence("lost in a later night:2027-01-17:Lemon:Fig")

    assert told.startswith("The night of Sun 17 Jan is likely to kill these as they stand: Lemon and Fig.")
