"""Changing a garden file's text where it must change, and nowhere else: comments, blank lines and order stay.

ruamel.yaml finds the place of every entry and writes the new ones. The text between is never written anew, so that
what a person has laid out by hand, down to a comment behind a value, is there afterwards byte for byte.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from io import StringIO
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ruamel.yaml import YAML

Value = str | Sequence[str]
"""What is written behind a key, as a person types it; a sequence becomes a list in one line."""

Entry = Mapping[str, Value]

_NUMBER = re.compile(r"[-+]?([1-9][0-9]*|0)?(\.[0-9]+)?(?<=[0-9])")
_SWITCHES = ("yes", "no")
_SWITCH_KEYS = (
    "house_wall", "escape_route", "feet", "board", "saucer", "drain_hole", "potted_this_autumn", "fed_late",
    "evergreen",
)  # fmt: skip


def added(text: str, key: str, entries: Sequence[Entry]) -> tuple[str, int]:
    """The text with entries put behind the last one of a list.

    Parameters
    ----------
    text : str
        A whole file that the strict reader has read.
    key : str
        The list at the outermost level.
    entries : sequence of mapping
        Keys with what is written behind them, each on a line of its own.

    Returns
    -------
    text : str
    first_line : int
        Of the first new entry, counted from 1.
    """
    listing = _at(_root(text), key)
    if listing.flow_style:
        inside = ", ".join(f"{{{', '.join(_lines(entry))}}}" for entry in entries)
        end = listing.end_mark.index - 1
        between = ", " if listing.value else ""
        return f"{text[:end].rstrip()}{between}{inside}{text[end:]}", listing.end_mark.line + 1
    dash = " " * listing.start_mark.column
    spaced = "\n\n" in text[listing.start_mark.index : listing.end_mark.index].rstrip()
    block = ""
    for entry in entries:
        lines = _lines(entry)
        block += "\n" if spaced else ""
        block += f"{dash}- {lines[0]}\n" + "".join(f"{dash}  {line}\n" for line in lines[1:])
    place = _line_end(text, _last_index(listing))
    before = text[:place] if text[:place].endswith("\n") else f"{text[:place]}\n"
    return before + block + text[place:], before.count("\n") + 1 + (1 if spaced else 0)


def changed(text: str, key: str, row: int, values: Mapping[str, Value | None]) -> str:
    """The text with some keys of one entry set anew, added, or (None) taken out.

    `row` counts the list's entries from 0. A value that stays as it was is not touched.
    """
    there = {str(name.value): node for name, node in _at(_root(text), key).value[row].value}
    for name, value in values.items():
        stays = name not in there if value is None else name in there and _same(there[name], value)
        if not stays:  # each change moves what comes behind it, so places are looked up anew
            text = _with_value(text, key, row, name, value)
    return text


def removed(text: str, key: str, row: int) -> str:
    """The text without one entry of a list; comments above it stay, those within its lines go with it.

    `row` counts the list's entries from 0. The last entry of a list leaves an empty list behind.
    """
    listing = _at(_root(text), key)
    entry = listing.value[row]
    if listing.flow_style:
        start, end = entry.start_mark.index, entry.end_mark.index
        rest = text[end:].lstrip()
        if rest.startswith(","):
            return text[:start] + rest[1:].lstrip()
        return text[:start].rstrip().removesuffix(",") + text[end:]
    start = text.rindex("\n", 0, entry.start_mark.index) + 1
    end = _line_end(text, _last_index(entry))
    while text[end:].startswith("\n"):  # blank lines behind it part it from the next
        end += 1
    if len(listing.value) == 1:
        return f"{text[:start].rstrip()} []\n{text[end:]}"
    return text[:start] + text[end:]


def changed_above(text: str, values: Mapping[str, Value | None]) -> str:
    """The text with some keys at its outermost level set anew, added, or (None) taken out; an empty text is a file."""
    for name, value in values.items():
        root = _root(text)
        there = {} if root is None else {str(key.value): node for key, node in root.value}
        if value is None and name not in there:
            continue
        if root is None:
            begins = text if not text or text.endswith("\n") else f"{text}\n"  # comments, perhaps
            text = f"{begins}{name}: {_in_place(name, value or '')}\n"
        elif value is None or name not in there or not _same(there[name], value):
            text = _with_value_in(text, root, name, value)
    return text


def written_above(text: str) -> dict[str, Value]:
    """What stands behind the keys at the outermost level; lists of plain words as such, anything deeper left out."""
    root = _root(text)
    return {} if root is None else _plain(root)


def written(text: str, key: str, row: int) -> dict[str, Value]:
    """What stands behind the keys of one entry; lists of plain words as such, anything deeper left out."""
    return _plain(_at(_root(text), key).value[row])


def _plain(entry: Any) -> dict[str, Value]:
    found: dict[str, Value] = {}
    for name, node in entry.value:
        if isinstance(node.value, str):
            found[str(name.value)] = node.value
        elif all(isinstance(item, type(name)) for item in node.value):
            found[str(name.value)] = tuple(str(item.value) for item in node.value)
    return found


def has_key(text: str, key: str, row: int, name: str) -> bool:
    """Whether an entry has that key, whatever stands behind it."""
    return any(str(found.value) == name for found, _ in _at(_root(text), key).value[row].value)


def whole(parts: Mapping[str, Entry | Sequence[Entry]]) -> str:
    """A new file's text: each part a mapping, or a list of them."""
    blocks = []
    for key, part in parts.items():
        if isinstance(part, Mapping):
            blocks.append("".join([f"{key}:\n", *(f"  {line}\n" for line in _lines(part))]))
            continue
        items = []
        for entry in part:
            lines = _lines(entry)
            items.append(f"  - {lines[0]}\n" + "".join(f"    {line}\n" for line in lines[1:]))
        blocks.append(f"{key}:\n" + "\n".join(items))
    return "\n".join(blocks)


def _with_value(text: str, key: str, row: int, name: str, value: Value | None) -> str:
    return _with_value_in(text, _at(_root(text), key).value[row], name, value)


def _with_value_in(text: str, entry: Any, name: str, value: Value | None) -> str:
    pair = next((pair for pair in entry.value if str(pair[0].value) == name), None)
    if pair is None:
        return text if value is None else _with_new_key(text, entry, f"{name}: {_in_place(name, value)}")
    node = pair[1]
    if value is None:
        return _without_key(text, entry, pair)
    shown = _in_place(name, value)
    if not isinstance(node.value, str) and not node.flow_style:  # a list over several lines
        start, end = pair[0].end_mark.index + 1, _last_index(node)
        return f"{text[:start]} {shown}{text[end:]}"
    return text[: node.start_mark.index] + shown + text[node.end_mark.index :]


def _with_new_key(text: str, entry: Any, line: str) -> str:
    if entry.flow_style:
        end = entry.end_mark.index - 1
        return f"{text[:end].rstrip()}, {line}{text[end:]}"
    place = _line_end(text, _last_index(entry))
    before = text[:place] if text[:place].endswith("\n") else f"{text[:place]}\n"
    return f"{before}{' ' * entry.start_mark.column}{line}\n{text[place:]}"


def _without_key(text: str, entry: Any, pair: tuple[Any, Any]) -> str:
    start, end = pair[0].start_mark.index, _last_index(pair[1])
    if entry.flow_style:
        rest = text[end:].lstrip()
        return text[:start] + (rest[1:].lstrip() if rest.startswith(",") else text[end:])
    if pair is entry.value[0]:  # the line of the dash: the next key moves up to it
        return text[:start] + text[_line_end(text, end) :].lstrip(" ")
    return text[: text.rindex("\n", 0, start) + 1] + text[_line_end(text, end) :]


def _same(node: Any, value: Value) -> bool:
    if isinstance(node.value, str):
        return bool(node.value == value)
    return not isinstance(value, str) and [item.value for item in node.value] == list(value)


def _at(root: Any, key: str) -> Any:
    return next(node for name, node in root.value if str(name.value) == key)


def _last_index(node: Any) -> int:
    """Where the last word of a node ends."""
    if isinstance(node.value, str) or node.flow_style or not node.value:
        index: int = node.end_mark.index
        return index
    last = node.value[-1]
    return _last_index(last[1] if isinstance(last, tuple) else last)


def _line_end(text: str, index: int) -> int:
    """Behind the line break of the line in which a word ends, so that a comment there stays with it."""
    if index and text[index - 1] == "\n":
        return index
    found = text.find("\n", index)
    return len(text) if found < 0 else found + 1


@lru_cache(maxsize=4)
def _root(text: str) -> Any:
    """The file as nodes with their places; kept, since one change asks for it several times. Never changed."""
    return _yaml().compose(StringIO(text))


def _lines(entry: Entry) -> list[str]:
    return [f"{key}: {_in_place(key, value)}" for key, value in entry.items()]


def _in_place(key: str, value: Value) -> str:
    """What is written behind a key; a word that could be taken for a number or a switch gets quotation marks."""
    if not isinstance(value, str):
        return f"[{', '.join(_scalar(item, plain=False) for item in value)}]"
    return _scalar(value, plain=(key in _SWITCH_KEYS and value in _SWITCHES) or _NUMBER.fullmatch(value) is not None)


def _scalar(value: str, *, plain: bool) -> str:
    if plain:
        return value
    if re.fullmatch(r"[^\W\d_][\w .()'+-]*[\w).]", value) and value.casefold() not in _TAKEN_OTHERWISE:
        return value
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    out = StringIO()
    _yaml().dump([DoubleQuotedScalarString(value)], out)
    return out.getvalue().strip().removeprefix("- ").removesuffix("\n...")


_TAKEN_OTHERWISE = frozenset(("yes", "no", "true", "false", "on", "off", "y", "n", "null", "none"))


def _yaml() -> YAML:
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt")
    yaml.width = 10_000  # an entry keeps to its line
    yaml.allow_unicode = True
    return yaml
