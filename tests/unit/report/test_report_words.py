"""Words: looked up, filled in, made harmless, laid out in lines."""

from __future__ import annotations

import gettext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostguard.report import words
from frostguard.report.layout import LINE_WIDTH, padded, paragraph, shown_width
from frostguard.report.words import all_of, decimal, harmless, say, say_count

HOSTILE = "Le\x1b[2Jmon\r\n\x07by\tthe\u202edoor\x9b31m\u2028end\ud800"


def test_a_hostile_name_cannot_act_on_the_terminal():
    """Escapes, bells, carriage returns, line separators and reading-direction marks lose their effect."""
    shown = say("{pot}: cover.", pot=HOSTILE)

    assert shown == "Le?[2Jmon ?by the?door?31m end?: cover."


def test_a_name_with_braces_is_not_filled_in():
    """Braces in a name are shown and never taken for a placeholder."""
    assert say("{pot}: cover.", pot="{minutes} {0.__class__}") == "{minutes} {0.__class__}: cover."


@given(st.text())
def test_what_is_harmless_has_no_control_characters_and_one_line(text):
    """Whatever a file holds, one printable line comes out, and making it harmless again changes nothing."""
    shown = harmless(text)

    assert all(ord(character) >= 32 and not 0x7F <= ord(character) <= 0x9F for character in shown)
    assert len(shown.splitlines()) <= 1
    assert harmless(shown) == shown


def test_a_catalogue_translates_whole_sentences_with_their_placeholders():
    """A translated sentence may put its placeholders in another order, and choose its own plural."""
    french = _Catalogue(
        {
            "{pots}: cover, {minutes}.": "{minutes} : couvrir {pots}.",
            ("{count} job", "{count} jobs"): "{count} tâche(s)",
        }
    )
    token = words._catalogue.set(french)
    try:
        assert say("{pots}: cover, {minutes}.", pots="citron", minutes="3 min") == "3 min : couvrir citron."
        assert say_count("{count} job", "{count} jobs", 2) == "2 tâche(s)"
    finally:
        words._catalogue.reset(token)


def test_a_language_without_a_catalogue_is_english():
    """Asking for a language that is not there, or for none, leaves the English sentences."""
    words.use_language("tlh")
    assert say("Stopped.") == "Stopped."
    words.use_language(None)
    assert say("Stopped.") == "Stopped."


def test_minus_nought_is_written_as_nought():
    """A temperature a hair below zero is no "-0.0"."""
    assert decimal(-0.04, 1) == "0.0"
    assert decimal(-0.06, 1) == "-0.1"


@pytest.mark.parametrize(
    ("items", "shown"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")]
)
def test_lists_read_like_a_sentence(items, shown):
    """The last of several is joined with "and"."""
    assert all_of(items) == shown


@given(
    st.text(alphabet=st.characters(exclude_categories=["Cs", "Cc"]), max_size=400),
    st.sampled_from(["", "  ", "  - "]),
)
def test_no_line_is_wider_than_the_terminal(text, first):
    """Whatever the words, wide characters and long ones included, every line fits."""
    for line in paragraph(harmless(text), first=first, rest="    "):
        assert shown_width(line) <= LINE_WIDTH


def test_a_paragraph_keeps_every_word_and_hangs_its_later_lines():
    """Nothing is lost in breaking lines, and the second line is indented."""
    text = " ".join(f"word{number}" for number in range(40))
    lines = paragraph(text, first="  ", rest="    ")

    assert " ".join(line.strip() for line in lines) == text
    assert all(line.startswith("    word") for line in lines[1:])


def test_a_number_is_not_parted_from_its_unit():
    """A no-break space keeps "15" and "min" on one line and is written as a plain space."""
    for width in range(8, 30):
        for line in paragraph("cover the lemon 15\u00a0min by noon", width=width):
            assert ("15" in line) == ("15 min" in line)


def test_wide_and_combining_characters_count_as_shown():
    """A wide character takes two columns, a combining accent none."""
    assert shown_width("柠檬") == 4
    assert shown_width("e\u0301") == 1
    assert shown_width(padded("柠檬", 6)) == 6


class _Catalogue(gettext.NullTranslations):
    def __init__(self, sentences):
        super().__init__()
        self._sentences = sentences

    def gettext(self, message):
        return self._sentences.get(message, message)

    def ngettext(self, msgid1, msgid2, n):
        return self._sentences.get((msgid1, msgid2), msgid1 if n == 1 else msgid2)
