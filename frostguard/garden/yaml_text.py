"""YAML as these files use it: mappings, lists and one-line texts, each with its line.

YAML can do far more than a garden file needs, and some of it bites: 18:00 becomes 1080, no becomes
false, the second of two equal keys silently wins, and a few aliases can fill the memory. So values stay
the text that was written, and whatever is not needed is refused with a sentence. Built on the parser's
events, one after the other, so that a hostile file is stopped where it begins to grow.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import yaml

from frostguard.errors import Fault

DEEPEST = 8
"""Levels of lists and mappings; a garden file needs five."""

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class Text:
    """A single value as written; `plain` means without quotation marks."""

    text: str
    plain: bool
    line: int

    @property
    def empty(self) -> bool:
        """Whether nothing was written, or one of YAML's words for nothing."""
        return self.plain and self.text.lower() in ("", "~", "null")


@dataclass(frozen=True, slots=True)
class Listing:
    """A list."""

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Table:
    """A mapping; `lines` holds the line of each key."""

    entries: Mapping[str, Node]
    lines: Mapping[str, int]
    line: int


Node: TypeAlias = Text | Listing | Table


MOST_FAULTS = 100
"""A person puts right no more at a time; a file with more is of another kind."""


class TooManyFaults(Exception):  # not an error of its own: the faults are noted, reading ends
    """There is no use in looking further."""


class Faults:
    """Everything found wrong so far."""

    def __init__(self) -> None:
        self._found: list[Fault] = []

    def add(self, line: int | None, sentence: str, **values: object) -> None:
        """Note a fault: a whole sentence with named placeholders, and what fills them.

        Raises
        ------
        TooManyFaults
            When it is the last one worth noting.
        """
        self._found.append(Fault(line, sentence.format(**values)))
        if len(self._found) == MOST_FAULTS:
            self._found.append(Fault(None, "there are more faults than these; put these right first."))
            raise TooManyFaults

    def near(self, line: int) -> bool:
        """Whether something was found in this line or the one before."""
        return any(fault.line in (line - 1, line) for fault in self._found)

    def __bool__(self) -> bool:
        return bool(self._found)

    def in_order(self) -> tuple[Fault, ...]:
        """All faults, each once, in the order of the file."""
        found = dict.fromkeys(self._found)
        return tuple(sorted(found, key=lambda fault: (fault.line is not None, fault.line or 0)))


def shown(text: str) -> str:
    """What was written, fit to stand in a sentence: short, and nothing that acts on a terminal."""
    safe = "".join(character if character.isprintable() else "?" for character in text)
    return safe if len(safe) <= 60 else f"{safe[:57]}..."


class _Stop(Exception):  # not an error of its own: the fault is noted, reading ends
    """The file cannot be read any further."""


def parse_yaml(text: str, faults: Faults) -> Node | None:
    """The one document of a YAML text as nodes, or None if it is empty or cannot be read.

    Parameters
    ----------
    text : str
        The whole file.
    faults : Faults
        Gets what is wrong; after a mistake in the YAML itself the rest of the file is not looked at.
    """
    events = _events(text, faults)
    try:
        return _document(events, faults)
    except _Stop:
        return None


def _document(events: Iterator[Any], faults: Faults) -> Node | None:
    node: Node | None = None
    documents = 0
    for event in events:
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                faults.add(
                    _line(event), "a second document begins here; take the line with three dashes out."
                )
                raise _Stop
        elif isinstance(event, yaml.NodeEvent):
            node = _node(event, events, faults, 0)
    return None if isinstance(node, Text) and node.empty else node


def _node(event: Any, events: Iterator[Any], faults: Faults, depth: int) -> Node:
    line = _line(event)
    _refuse_tricks(event, faults, line)
    if isinstance(event, yaml.ScalarEvent):
        return _text(event, faults, line)
    if depth >= DEEPEST:
        faults.add(
            line, "lists and keys are nested too deeply here; a garden file needs no more than five levels."
        )
        raise _Stop
    if isinstance(event, yaml.SequenceStartEvent):
        return Listing(tuple(_items(events, faults, depth)), line)
    return _table(events, faults, depth, line)


def _refuse_tricks(event: Any, faults: Faults, line: int) -> None:
    if isinstance(event, yaml.AliasEvent):
        faults.add(
            line,
            "the sign * refers to another place in the file, which is not supported; write the "
            "values out, or put a text that begins with * in quotation marks.",
        )
        raise _Stop
    if getattr(event, "anchor", None) is not None:
        faults.add(
            line,
            "the sign & names a place in the file, which is not supported; take it out, or put a "
            "text that begins with & in quotation marks.",
        )
    if getattr(event, "tag", None) is not None:
        faults.add(
            line,
            "the sign ! gives a value a type, which is not supported; take it out, or put a text "
            "that begins with ! in quotation marks.",
        )


def _text(event: Any, faults: Faults, line: int) -> Text:
    if event.style in ("|", ">"):
        faults.add(line, "a value must stand on one line, after the colon.")
    elif event.start_mark.line != event.end_mark.line:
        faults.add(
            line,
            'the value "{value}" runs on over the next line; if that line is a key of its own, look at its '
            "indentation and at the quotation marks.",
            value=shown(event.value),
        )
    return Text(event.value, not event.style, line)


def _items(events: Iterator[Any], faults: Faults, depth: int) -> Iterator[Node]:
    for event in events:
        if isinstance(event, yaml.SequenceEndEvent):
            return
        yield _node(event, events, faults, depth + 1)


def _table(events: Iterator[Any], faults: Faults, depth: int, line: int) -> Table:
    entries: dict[str, Node] = {}
    lines: dict[str, int] = {}
    for event in events:
        if isinstance(event, yaml.MappingEndEvent):
            break
        key = _node(event, events, faults, depth + 1)
        value = _node(next(events), events, faults, depth + 1)
        if not isinstance(key, Text):
            faults.add(key.line, "a key must be a single word before the colon.")
        elif key.text in entries:
            faults.add(
                key.line,
                '"{key}" stands here a second time, first in line {first}; keep one of the two.',
                key=shown(key.text),
                first=lines[key.text],
            )
        else:
            entries[key.text], lines[key.text] = value, key.line
    return Table(entries, lines, line)


def _events(text: str, faults: Faults) -> Iterator[Any]:
    """The parser's events; what the parser cannot read becomes a fault."""
    try:
        yield from yaml.parse(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        _explain(error, text, faults)
        raise _Stop from error
    except (yaml.YAMLError, UnicodeError) as error:
        position = getattr(error, "position", None)
        line = None if position is None else text.count("\n", 0, position) + 1
        faults.add(line, "here is a character that no text should have; retype the line.")
        raise _Stop from error


_PROBLEMS = (
    (
        "mapping values are not allowed",
        "a colon stands where none can be; check that the line begins under its neighbours, that each "
        "key: has a blank after its colon, and put a text with a colon in quotation marks.",
    ),
    (
        "block sequence entries are not allowed",
        "a dash stands where no list can begin; begin the list on the next "
        "line, or put a text that begins with a dash in quotation marks.",
    ),
    (
        "cannot start any token",
        "a value begins with a sign that YAML keeps for itself; put the value in quotation marks.",
    ),
    (
        "expected '-' indicator",
        "this line does not stand under the lines of its list; check the blanks at its beginning.",
    ),
    ("expected key", "this line does not stand under its neighbours; check the blanks at its beginning."),
    ("expected ':'", "a colon, or the blank after it, is missing behind the key; write it as key: value."),
    ("',' or ']'", "a list in square brackets is not closed; add a ]."),
    ("',' or '}'", "a pair of curly brackets is not closed; add a }}, or put the text in quotation marks."),
    ("unexpected end of stream", "a quotation mark is opened here and never closed."),
    (
        "unknown escape character",
        "after a backslash in double quotation marks comes a letter that means nothing; "
        "use single quotation marks.",
    ),
    ("nesting", "lists and keys are nested too deeply here; a garden file needs no more than five levels."),
)


def _explain(error: yaml.MarkedYAMLError, text: str, faults: Faults) -> None:
    """One sentence on a mistake in the YAML itself, at the line where it can be put right."""
    problem = error.problem or ""
    mark = error.problem_mark or error.context_mark
    last = text.rstrip().count("\n") + 1
    line = last if mark is None else min(mark.line + 1, last)
    tab = _tab_line(text)
    if tab is not None and tab <= line + 1:
        faults.add(tab, "this line begins with a tab; use blanks to indent.")
        return
    if error.context_mark is not None and any(sign in problem for sign in ("end of stream", "' or '", "':'")):
        line = (
            error.context_mark.line + 1
        )  # where the key stands, or the bracket or quotation mark was opened
    if faults.near(line):
        return  # the same mistake, already told in other words
    for sign, sentence in _PROBLEMS:
        if sign in problem:
            faults.add(line, sentence)
            return
    faults.add(line, "this line cannot be read; check its indentation, its colon and its quotation marks.")


def _tab_line(text: str) -> int | None:
    """The first line that is indented with a tab, counted from 1."""
    found = re.search(r"^[ ]*\t[ \t]*\S", text, re.MULTILINE)
    return None if found is None else text.count("\n", 0, found.start()) + 1


def _line(event: Any) -> int:
    return int(event.start_mark.line) + 1
