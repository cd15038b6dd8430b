"""Lines that fit: widths as a terminal shows them, paragraphs, columns."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from contextvars import ContextVar
from functools import cache

from frostguard.report.words import NO_BREAK_SPACE

LINE_WIDTH = 80
"""Columns of a line; a wider terminal has no longer ones, which are harder to read."""

LEAST_WIDTH = 40
"""Columns below which sentences fall into pieces."""

_width: ContextVar[int] = ContextVar("width", default=LINE_WIDTH)


def use_width(columns: int) -> None:
    """Fit lines into a terminal of so many columns from here on, but never below 40 nor above 80."""
    _width.set(min(max(columns, LEAST_WIDTH), LINE_WIDTH))


def line_width() -> int:
    """Columns of a line here."""
    return _width.get()


def shown_width(text: str) -> int:
    """Columns that a text takes: two for a wide East Asian character, none for a combining mark."""
    return len(text) if text.isascii() else sum(_character_width(character) for character in text)


def padded(text: str, width: int) -> str:
    """The text with spaces after it up to a width; a longer one as it is."""
    return text + " " * max(0, width - shown_width(text))


def right_aligned(text: str, width: int) -> str:
    """The text with spaces before it up to a width; a longer one as it is."""
    return " " * max(0, width - shown_width(text)) + text


def cut_to(text: str, width: int) -> str:
    """The text if it fits a width, else its beginning and "…"."""
    if shown_width(text) <= width:
        return text
    return _cut(text, width - 1)[0] + "…"


def paragraph(text: str, *, first: str = "", rest: str | None = None, width: int | None = None) -> list[str]:
    """The text broken into lines that fit.

    Parameters
    ----------
    text : str
        Words parted by spaces; a word too long for a line is cut. A no-break space holds its neighbours
        together and is written as a space.
    first, rest : str
        What the first and the other lines begin with; `rest` is spaces as wide as `first` if not given.
    width : int, optional
        Columns of a line; those of `use_width` if not given.
    """
    width = line_width() if width is None else width
    rest = " " * shown_width(first) if rest is None else rest
    lines: list[str] = []
    line, begins = first, True
    for word in text.split(" "):
        for piece in _cut(word, width - shown_width(rest)):
            gap = "" if begins else " "
            if not begins and shown_width(line) + 1 + shown_width(piece) > width:
                lines.append(line)
                line, gap = rest, ""
            line, begins = line + gap + piece, False
    return [written.replace(NO_BREAK_SPACE, " ").rstrip() for written in (*lines, line)]


def section(heading: str, items: Iterable[str]) -> list[str]:
    """A heading with its items as indented paragraphs; no lines at all without items."""
    lines = [line for item in items for line in paragraph(item, first="  ", rest="    ")]
    return [*paragraph(heading), *lines] if lines else []


def page(blocks: Iterable[list[str]]) -> str:
    """Blocks of lines as one text, an empty line between them; empty blocks are left out."""
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _cut(word: str, width: int) -> list[str]:
    if shown_width(word) <= width:
        return [word]
    pieces, piece = [], ""
    for character in word:
        if shown_width(piece) + _character_width(character) > width:
            pieces.append(piece)
            piece = ""
        piece += character
    return [*pieces, piece]


@cache
def _character_width(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in ("W", "F") else 1
