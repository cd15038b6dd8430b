"""A language in which every letter is a dot: what is still readable in it bypasses the catalogue."""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator
from contextlib import contextmanager

from frostguard.report import words


class _Dots(gettext.NullTranslations):
    """Every letter a dot; placeholders stay."""

    def gettext(self, message: str) -> str:
        return re.sub(r"(\{\w+\})|[A-Za-z]", lambda found: found.group(1) or ".", message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        return self.gettext(message)


@contextmanager
def language_of_dots() -> Iterator[None]:
    """All that is said meanwhile is said in dots."""
    token = words._catalogue.set(_Dots())
    try:
        yield
    finally:
        words._catalogue.reset(token)
