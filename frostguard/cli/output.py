"""Writing to the terminal or a pipe without ever falling over it."""

from __future__ import annotations

import os
import sys
import unicodedata
from typing import TextIO

_PLAIN = {"°": "", "–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "…": "...", "·": "-",
          "×": "x", "œ": "oe", "Œ": "OE"}
"""Stand-ins where the terminal has no such character."""


def print_out(text: str) -> None:
    """Write to standard output, with a line end."""
    _write(sys.stdout, text)


def print_err(text: str) -> None:
    """Write to standard error, with a line end."""
    _write(sys.stderr, text)


def in_encoding(text: str, encoding: str) -> str:
    """The text with each character that the encoding lacks put into the nearest plain one, or "?".

    Examples
    --------
    >>> in_encoding("Češnja -3 °C", "ascii")
    'Cesnja -3 C'
    """
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return text.translate({ord(character): _nearest(character, encoding) for character in set(text)})
    return text


def _nearest(character: str, encoding: str) -> str:
    for candidate in (character, _PLAIN.get(character), _without_accents(character)):
        if candidate is None:
            continue
        try:
            candidate.encode(encoding)
        except UnicodeEncodeError:
            continue
        return candidate
    return "?"


def _without_accents(character: str) -> str | None:
    parts = unicodedata.normalize("NFKD", character)
    return "".join(part for part in parts if not unicodedata.combining(part)) or None


def _write(stream: TextIO | None, text: str) -> None:
    if stream is None:  # closed by the caller, who does not want to read
        return
    try:
        stream.write(in_encoding(text, stream.encoding or "ascii") + "\n")
        stream.flush()
    except BrokenPipeError:
        # The reader (`head`, a pager) has seen enough. What is still buffered goes nowhere, so that
        # Python does not complain at exit; the exit code still tells what the command found.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
