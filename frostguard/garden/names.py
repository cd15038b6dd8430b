"""Words that people write, compared with the words that are known."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from typing import TypeVar

T = TypeVar("T")


def folded(word: str) -> str:
    """The word as it is compared: small letters, no accents, one blank for blanks, dashes, underscores."""
    parts = unicodedata.normalize("NFKD", word.casefold())
    plain = "".join(character for character in parts if not unicodedata.combining(character))
    return " ".join(plain.replace("-", " ").replace("_", " ").split())


def by_name(word: str, named: Mapping[str, T]) -> T | None:
    """What goes by this name, compared folded; `named` has folded keys."""
    return named.get(folded(word))


def nearest(word: str, known: Iterable[str], *, at_most: int = 3) -> tuple[str, ...]:
    """Known words that look like this one, the likeliest first; empty if none does."""
    from difflib import SequenceMatcher, get_close_matches

    spelling = {folded(name): name for name in known}
    wanted = folded(word)[:80]  # the comparison's time grows with the square of the length
    matches = get_close_matches(wanted, spelling, n=at_most, cutoff=0.6)
    if not matches and len(wanted) >= 3:
        matches = [name for name in spelling if wanted in name or (len(name) >= 3 and name in wanted)]
        matches.sort(key=lambda name: -SequenceMatcher(None, wanted, name).ratio())
    return tuple(spelling[match] for match in matches[:at_most])
