"""The one door through which every word for a person goes: look up, fill in, make harmless.

English is the source. A sentence is looked up whole and filled by named placeholders, so that a
translator can put the parts in another order. Catalogues are ordinary gettext files,
`locale/<language>/LC_MESSAGES/frostguard.mo` beside this module; to collect the sentences, tell the
extractor the keywords `say:1`, `say_count:1,2` and `say_in:1c,2`.

Values that fill a sentence may come from a file that somebody else wrote. A control character in a pot's
name could clear the screen or hide a line, so every text value is made harmless here, at the one place
that none can pass by.
"""

from __future__ import annotations

import gettext
import unicodedata
from contextvars import ContextVar
from pathlib import Path

_DOMAIN = "frostguard"
_LOCALE = Path(__file__).parent / "locale"
_ENGLISH = gettext.NullTranslations()
_catalogue: ContextVar[gettext.NullTranslations] = ContextVar("catalogue", default=_ENGLISH)

NO_BREAK_SPACE = "\u00a0"

_DIRECTION_MARKS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the reading direction; they can make a line read as another one."""


def use_language(language: str | None) -> None:
    """Use the catalogue of a language such as "fr" from here on; English where there is none."""
    wanted = [] if language is None else [language]
    _catalogue.set(gettext.translation(_DOMAIN, str(_LOCALE), languages=wanted, fallback=True))


def say(sentence: str, **values: object) -> str:
    """The sentence in the person's language, its placeholders filled.

    Parameters
    ----------
    sentence : str
        English, whole, with named placeholders as in `str.format`.
    **values : object
        What fills the placeholders; texts are made harmless, see `harmless`.
    """
    return _fill(_catalogue.get().gettext(sentence), values)


def say_count(one: str, many: str, count: int, **values: object) -> str:
    """As `say`, choosing the form for a count; the sentence may use `{count}`."""
    return _fill(_catalogue.get().ngettext(one, many, count), {"count": count, **values})


def say_in(context: str, sentence: str, **values: object) -> str:
    """As `say`, for a short word that needs a context to be translated rightly."""
    return _fill(_catalogue.get().pgettext(context, sentence), values)


def harmless(text: str) -> str:
    """The text on one line, with nothing in it that acts on a terminal.

    Line breaks, tabs and runs of spaces become one space; a no-break space stays. Every other control
    character, half of a broken character pair and mark that turns the reading direction becomes "?"; an
    escape sequence so loses its escape and stands there as plain letters, for the person to see.
    """
    return " ".join(word for word in harmless_characters(text).split(" ") if word)


def harmless_characters(text: str) -> str:
    """The text with its harmful characters made harmless, its spaces as they are."""
    return "".join(_harmless_character(character) for character in text)


def unbroken(text: str) -> str:
    """The text with its spaces made no-break ones, so that "15 min" stays on one line."""
    return text.replace(" ", NO_BREAK_SPACE)


def decimal(value: float, digits: int) -> str:
    """A number with that many digits after the decimal mark of the person's language."""
    shown = f"{value:.{digits}f}"
    if shown.startswith("-") and not shown.strip("-0."):
        shown = shown[1:]  # minus nought is no temperature
    return shown.replace(".", say_in("decimal mark", "."))


def all_of(items: list[str]) -> str:
    """The items as a list in one sentence: "a", "a and b", "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    comma = say_in("between items of a list", ",")
    return say("{first} and {last}", first=f"{comma} ".join(items[:-1]), last=items[-1])


def _fill(sentence: str, values: dict[str, object]) -> str:
    return sentence.format(
        **{name: harmless(value) if isinstance(value, str) else value for name, value in values.items()}
    )


def _harmless_character(character: str) -> str:
    if character == NO_BREAK_SPACE:
        return character
    if character.isspace():
        return " "
    if character in _DIRECTION_MARKS or unicodedata.category(character) in ("Cc", "Cs"):
        return "?"
    return character
