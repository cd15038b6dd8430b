"""YAML as these files use it: mappings, lists and one-line texts, each with its line.

YAML can do far more than a garden file needs, and some of it bites: 18:00 becomes 1080, no becomes
false, the second of two equal keys silently wins, and a few aliases can fill the memory. So values stay
the text that was written, and whatever is not needed is refused with a sentence. Built on the parser's
events, one after the other, so that a hostile file is stopped where it begins to grow.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import yaml

from frostguard.errors import Fault
from frostguard.garden.yaml_mend import mended, stopped_at, tab_lines, without_tabs

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
        self._guessed: set[int] = set()

    def add(self, line: int | None, sentence: str, **values: object) -> None:
        """Note a fault: a whole sentence with named placeholders, and what fills them.

        Raises
        ------
        TooManyFaults
            When it is the last one worth noting.
        """
        if line in self._guessed:
            return
        self._found.append(Fault(line, sentence.format(**values)))
        if len(self._found) == MOST_FAULTS:
            self._found.append(Fault(None, "there are more faults than these; put these right first."))
            raise TooManyFaults

    def nothing_more_on(self, line: int) -> None:
        """What stands in that line is a guess from here on, so nothing more is told of it."""
        self._guessed.add(line)

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


class _Unreadable(Exception):  # not an error of its own: the fault is noted, the line may be mended
    """A mistake in the YAML itself."""

    def __init__(self, error: yaml.MarkedYAMLError) -> None:
        self.error = error


MOST_MENDED = 20
"""Mistakes in the YAML itself that are mended to see what comes after; a file with more is of another kind."""


def parse_yaml(text: str, faults: Faults) -> Node | None:
    """The one document of a YAML text as nodes, or None if it is empty or cannot be read.

    Parameters
    ----------
    text : str
        The whole file.
    faults : Faults
        Gets what is wrong. A mistake in the YAML itself is noted and mended by a guess, so that the rest of
        the file is looked at too; where no guess helps, reading ends there.
    """
    for _ in range(MOST_MENDED):
        try:
            return _document(_events(text, faults), faults)
        except _Stop:
            return None
        except _Unreadable as stop:
            better = _mended(text, stop.error, faults)
            if better is None:
                return None
            text = better
    return None


def _mended(text: str, error: yaml.MarkedYAMLError, faults: Faults) -> str | None:
    tabs = tab_lines(text)
    if tabs and tabs[0] <= stopped_at(text, error) + 1:
        for line in tabs:
            faults.nothing_more_on(line)
        return without_tabs(text, _Loader)
    found = mended(text, error, _Loader)
    if found is None:
        return None
    better, line = found
    faults.nothing_more_on(line)
    return better


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
        raise _Unreadable(error) from error
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
    line = stopped_at(text, error)
    tabs = tab_lines(text)
    if tabs and tabs[0] <= line + 1:
        if len(tabs) == 1:
            faults.add(tabs[0], "this line begins with a tab; use blanks to indent.")
        else:
            faults.add(
                tabs[0],
                "this line begins with a tab, and {count} more lines do; use blanks to indent.",
                count=len(tabs) - 1,
            )
        return
    if faults.near(line):
        return  # the same mistake, already told in other words
    for sign, sentence in _PROBLEMS:
        if sign in problem:
            faults.add(line, sentence)
            return
    faults.add(line, "this line cannot be read; check its indentation, its colon and its quotation marks.")


def _line(event: Any) -> int:
    return int(event.start_mark.line) + 1
