"""A mistake in the YAML itself, mended in memory so that the rest of the file can be looked at.

A guess at what was meant, never used for advice: the file has a fault whatever comes of it. Each guess
keeps what was written, and the one that lets the parser come furthest is taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import yaml

LARGEST_MENDED = 200_000
"""Characters of a file that is still mended: each guess reads the file once more."""

MOST_INDENTS = 4
"""Depths of lists that are tried for an entry that stands under none."""

_KEY = re.compile(r"^(?P<head>\s*(?:- +)?[\w-]+) *:(?P<value>.*)$")
_TAB_INDENT = re.compile(r"^ *\t[ \t]*(?=\S)", re.MULTILINE)


def mended(text: str, error: yaml.MarkedYAMLError, loader: Any) -> tuple[str, int] | None:
    """The text with the mistake mended that stopped the parser, and the line (from 1) that was changed.

    Parameters
    ----------
    text : str
        The whole file.
    error : yaml.MarkedYAMLError
        What stopped the parser.
    loader : type
        The parser's loader.

    Returns
    -------
    tuple of str and int, or None
        None where no guess lets the parser come further.
    """
    if len(text) > LARGEST_MENDED:
        return None
    stopped = stopped_at(text, error)
    lines = text.split("\n")
    best: tuple[str, int] | None = None
    furthest: float = stopped
    for number, guess in _guesses(lines, error, stopped):
        changed = "\n".join([*lines[: number - 1], guess, *lines[number:]])
        reached = _reached(changed, loader)
        if reached > furthest:
            best, furthest = (changed, number), reached
    return best


def without_tabs(text: str, loader: Any) -> str:
    """The text with tabs at the beginnings of its lines made blanks, by the width that reads best."""
    widths = (2, 4, 8, 1)
    expanded = [_TAB_INDENT.sub(lambda found, width=width: found[0].expandtabs(width), text) for width in widths]  # type: ignore[misc]
    return max(expanded, key=lambda changed: _reached(changed, loader))


def tab_lines(text: str) -> list[int]:
    """The lines (from 1) that are indented with a tab."""
    return [text.count("\n", 0, found.start()) + 1 for found in _TAB_INDENT.finditer(text)]


def stopped_at(text: str, error: yaml.MarkedYAMLError) -> int:
    """The line (from 1) where a mistake can be put right: where a bracket or quotation mark was opened, a key begun."""
    problem = error.problem or ""
    last = text.rstrip().count("\n") + 1
    opened = any(sign in problem for sign in ("end of stream", "' or '", "':'"))
    mark = error.context_mark if opened and error.context_mark is not None else error.problem_mark or error.context_mark
    return last if mark is None else min(mark.line + 1, last)


def _reached(text: str, loader: Any) -> float:
    """The line at which the parser stops; endless where it comes through."""
    try:
        for _ in yaml.parse(text, Loader=loader):
            pass
    except yaml.MarkedYAMLError as error:
        return stopped_at(text, error)
    except (yaml.YAMLError, UnicodeError):
        return 0
    return float("inf")


def _guesses(lines: list[str], error: yaml.MarkedYAMLError, stopped: int) -> Iterator[tuple[int, str]]:
    """Lines as they may have been meant, the least changed first."""
    marks = (error.problem_mark, error.context_mark)
    numbers = [stopped, *(mark.line + 1 for mark in marks if mark is not None), stopped - 1]
    for number in dict.fromkeys(number for number in numbers if 1 <= number <= len(lines)):
        line = lines[number - 1].rstrip()
        if line:
            yield from ((number, guess) for guess in _of_the_signs(line))
            yield from ((number, guess) for guess in _of_the_indent(lines, number))


def _of_the_signs(line: str) -> Iterator[str]:
    """The line with blank, colon, bracket or quotation marks put right."""
    found = _KEY.match(line)
    if found is not None and found["value"] and not found["value"].startswith(" "):
        yield f"{found['head']}: {found['value']}"
    for opened, closed in (("[", "]"), ("{", "}")):
        if line.count(opened) > line.count(closed):
            yield line + closed
    for mark in ('"', "'"):
        if line.count(mark) % 2:
            yield line + mark
            yield line.replace(mark, "")
    if found is not None and found["value"].strip():
        value = found["value"].partition(" #")[0].strip().strip("\"'")
        if value[:1] in "@`%&*!|>":
            yield f"{found['head']}: {value[1:]}"
        yield f"{found['head']}: '" + value.replace("'", "''") + "'"
    if found is None:
        word = re.match(r"^(\s*(?:- +)?[\w-]+)(?: +(.*))?$", line)
        if word is not None:
            yield f"{word[1]}: {word[2] or ''}"
    dash = re.match(r"^(\s*)-(\S.*)$", line)
    if dash is not None:
        yield f"{dash[1]}- {dash[2]}"


def _of_the_indent(lines: list[str], number: int) -> Iterator[str]:
    """The line under its neighbours; left out, where it is a key among others, as a last resort."""
    line = lines[number - 1]
    written = line.strip()
    after = next((other for other in lines[number:] if _tells(other)), "")
    before = next((other for other in reversed(lines[: number - 1]) if _tells(other)), "")
    dashed = written.startswith("-")
    if dashed:
        listed = (*reversed(lines[: number - 1]), *lines[number:])
        indents = dict.fromkeys(_indent(other) for other in listed if other.lstrip().startswith("- "))
        yield from (" " * indent + written for indent in list(indents)[:MOST_INDENTS])
    for neighbour in (after, before):
        if neighbour.strip().startswith("-") == dashed:
            yield " " * _indent(neighbour) + written
        elif not dashed:
            yield " " * (_indent(neighbour) + 2) + written
    if line.startswith(" ") and not dashed:
        yield ""


def _tells(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())
