"""Reading the keys of one mapping strictly: every value is checked, every fault is noted, reading goes on.

A method returns None both for a key that is not there and for one that is faulty; in the second case the
fault is noted and the file will be refused, so whatever stands in for the value is never used.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TypeVar

from frostguard.garden.names import folded, nearest
from frostguard.garden.yaml_text import Faults, Listing, Node, Table, Text, shown

T = TypeVar("T")

FEW = 12
"""Words that can be listed in a sentence."""

LONGEST_TEXT = 80
"""Letters in a name or label; longer ones would break every line they stand in."""

_YES_NO = {"yes": True, "true": True, "no": False, "false": False}
_SWITCH_WORDS = frozenset(("yes", "no", "true", "false", "on", "off", "y", "n"))


def _alike(key: str, known: Iterable[str]) -> tuple[str, ...]:
    """Known keys that may be meant: those of the same thing before those that are spelt alike.

    Of the same thing in the same unit there is only one.
    """
    words = folded(key).split()
    of_the_thing = [one for one in known if len(words) > 1 and folded(one).split()[0] == words[0]]
    in_the_unit = [one for one in of_the_thing if folded(one).split()[-1] == words[-1]]
    if len(in_the_unit) == 1:
        return tuple(in_the_unit)
    alike = nearest(key, known)
    return alike if set(alike) & set(of_the_thing) else (*of_the_thing, *alike)[:3]


class Block:
    """The keys of one mapping.

    Parameters
    ----------
    table : Table
        What stands in the file.
    known : iterable of str
        Keys that may stand there; any other is a fault.
    where : str
        How a sentence names the place, such as 'pot "lemon"'.
    faults : Faults
        Gets what is wrong.
    """

    def __init__(self, table: Table, known: Iterable[str], where: str, faults: Faults) -> None:
        self.where = where
        self.line = table.line
        self.faults = faults
        self._entries = table.entries
        self._lines = table.lines
        self._meant: set[str] = set()
        self._refuse_unknown(tuple(known))

    def _refuse_unknown(self, known: tuple[str, ...]) -> None:
        for key, line in self._lines.items():
            if key in known:
                continue
            alike = _alike(key, known)
            self._meant.update(alike)
            if alike:
                sentence = '{where}: no key is called "{key}"; perhaps {alike} is meant.'
            elif len(known) <= FEW:
                sentence = '{where}: no key is called "{key}"; take the line out, possible are {known}.'
            else:
                sentence = (
                    '{where}: no key is called "{key}"; take the line out, the example file shows all keys.'
                )
            self.faults.add(
                line,
                sentence,
                where=self.where,
                key=shown(key),
                alike=or_list(alike),
                known=", ".join(known),
            )

    def has(self, key: str) -> bool:
        """Whether the key stands there, with or without a usable value."""
        return key in self._entries

    def missing(self, *keys: str) -> bool:
        """Whether none of the keys stands there, nor a misspelt key that may be one of them."""
        return self._entries.keys().isdisjoint(keys) and self._meant.isdisjoint(keys)

    def line_of(self, key: str) -> int:
        """The line of the key, or of the whole block where the key is missing."""
        return self._lines.get(key, self.line)

    def fault(self, key: str | None, sentence: str, **values: object) -> None:
        """Note a fault at a key; `{where}` in the sentence is the name of the place."""
        line = self.line if key is None else self.line_of(key)
        self.faults.add(line, sentence, where=self.where, key=key or "", **values)

    def require(self, key: str, example: str) -> None:
        """Note a fault if the key is missing."""
        if self.missing(key):
            self.fault(
                None,
                "{where} does not say its {missing}; add a line such as {example}.",
                missing=key,
                example=f"{key}: {example}",
            )

    def node(self, key: str) -> Node | None:
        """What stands behind the key, whatever it is; None and a fault where nothing does."""
        node = self._entries.get(key)
        if isinstance(node, Text) and node.empty:
            self.fault(key, '{where}: "{key}" has no value; write one or take the line out.')
            return None
        return node

    def scalar(self, key: str) -> Text | None:
        """The single value behind the key."""
        node = self.node(key)
        if node is None or isinstance(node, Text):
            return node
        self.fault(key, '{where}: "{key}" takes a single value, not a list or further keys.')
        return None

    def number(self, key: str, low: float, high: float, unit: str = "") -> float | None:
        """The number behind the key, from `low` to `high`."""
        scalar = self.scalar(key)
        if scalar is None:
            return None
        return self.number_in(key, scalar.text, low, high, unit)

    def number_in(self, key: str, text: str, low: float, high: float, unit: str = "") -> float | None:
        """The number that a text stands for, where the text was written behind the key."""
        sentence = _not_a_number(text)
        if sentence is not None:
            self.fault(
                key,
                sentence,
                unit=f" ({unit})" if unit else "",
                text=shown(text),
                point=text.replace(",", "."),
                written_out=_written_out(text),
            )
            return None
        value = float(text)
        if not low <= value <= high:
            self.fault(
                key,
                '{where}: "{key}" is {text}{unit}, which cannot be; it goes from {low} to {high}.',
                text=shown(text),
                unit=f" {unit}" if unit else "",
                low=f"{low:g}",
                high=f"{high:g}",
            )
            return None
        return value

    def whole(self, key: str, low: int, high: int) -> int | None:
        """The whole number behind the key."""
        value = self.number(key, low, high)
        if value is None:
            return None
        if value != int(value):
            self.fault(key, '{where}: "{key}" counts things and must be a whole number.')
            return None
        return int(value)

    def switch(self, key: str) -> bool | None:
        """Yes or no."""
        scalar = self.scalar(key)
        if scalar is None:
            return None
        value = _YES_NO.get(scalar.text.strip().casefold())
        if value is None:
            self.fault(
                key, '{where}: "{key}" is answered by yes or no, not by "{text}".', text=shown(scalar.text)
            )
        return value

    def text(self, key: str) -> str | None:
        """A name or label."""
        scalar = self.scalar(key)
        return None if scalar is None else self.text_in(key, scalar)

    def text_in(self, key: str, scalar: Text) -> str | None:
        """A name or label that was written behind the key, alone or in a list."""
        text = " ".join(scalar.text.split())
        if scalar.plain and text.casefold() in _SWITCH_WORDS:
            self.faults.add(
                scalar.line,
                '{where}: "{key}" is a text, but "{text}" without quotation marks means '
                'yes or no; write it as "{text}" with them if that is its name.',
                where=self.where,
                key=key,
                text=shown(text),
            )
        elif not text:
            self.faults.add(
                scalar.line,
                '{where}: "{key}" is empty; write something or take the line out.',
                where=self.where,
                key=key,
            )
        elif len(text) > LONGEST_TEXT:
            self.faults.add(
                scalar.line,
                '{where}: "{key}" is {length} letters long; keep it to {longest}.',
                where=self.where,
                key=key,
                length=len(text),
                longest=LONGEST_TEXT,
            )
        elif not text.isprintable():
            self.faults.add(
                scalar.line,
                '{where}: "{key}" has characters in it that cannot be shown; retype it.',
                where=self.where,
                key=key,
            )
        else:
            return text
        return None

    def word(self, key: str, words: Mapping[str, T], known: Iterable[str] = ()) -> T | None:
        """One of some words; `words` has them folded, `known` the spellings to suggest."""
        scalar = self.scalar(key)
        return None if scalar is None else self.word_in(key, scalar, words, known)

    def word_in(self, key: str, scalar: Text, words: Mapping[str, T], known: Iterable[str] = ()) -> T | None:
        """One of some words, written behind the key alone or in a list."""
        name = folded(scalar.text)
        if name in words:
            return words[name]
        suggestions = tuple(known) or tuple(words)
        usual = {words[folded(word)]: word for word in reversed(suggestions) if folded(word) in words}
        alike = tuple(dict.fromkeys(usual.get(words[near], near) for near in nearest(scalar.text, words)))
        if alike:
            sentence = '{where}: {key} "{text}" is not known; perhaps {alike} is meant.'
        elif len(suggestions) <= FEW:
            sentence = '{where}: {key} "{text}" is not known; known are {known}.'
        else:
            sentence = '{where}: {key} "{text}" is not known; known are {known} and others.'
        self.faults.add(
            scalar.line,
            sentence,
            where=self.where,
            text=shown(scalar.text),
            key=key.replace("_", " "),
            alike=or_list(alike),
            known=", ".join(suggestions[:FEW]),
        )
        return None

    def number_or_word(
        self, key: str, low: float, high: float, words: Mapping[str, float], known: Iterable[str] = ()
    ) -> float | None:
        """A number, or one of some words that stand for one."""
        scalar = self.scalar(key)
        if scalar is None:
            return None
        if re.match(r"[-+.]?[0-9]", scalar.text):
            return self.number_in(key, scalar.text, low, high)
        return self.word_in(key, scalar, words, known)

    def texts(self, key: str) -> tuple[Text, ...]:
        """The values behind a key that takes one value or a list of them."""
        node = self.node(key)
        if node is None:
            return ()
        items = node.items if isinstance(node, Listing) else (node,)
        if not all(isinstance(item, Text) for item in items):
            self.fault(key, '{where}: "{key}" takes one word or a list of words.')
        texts = tuple(item for item in items if isinstance(item, Text))
        for item in texts:
            if item.empty:
                self.faults.add(
                    item.line,
                    '{where}: a line of the list "{key}" is empty; take it out.',
                    where=self.where,
                    key=key,
                )
        return tuple(item for item in texts if not item.empty)

    def listing(self, key: str, of_what: str) -> tuple[Node, ...]:
        """The items of a list."""
        node = self.node(key)
        if node is None:
            return ()
        if not isinstance(node, Listing):
            self.fault(
                key, '"{key}" is a list of {of_what}; begin each with a dash and a blank.', of_what=of_what
            )
            return ()
        return node.items

    def table(self, key: str) -> Table | None:
        """The mapping behind the key."""
        node = self.node(key)
        if node is None or isinstance(node, Table):
            return node
        self.fault(key, '"{key}" holds further keys; write them below it, indented by two blanks.')
        return None


_NO_NUMBERS = (
    (
        r"[-+]?[0-9]+,[0-9]+",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; write it with a point, {point}.',
    ),
    (
        r"[-+]?[0-9]+(:[0-9]+)+",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; a time of day does not belong here.',
    ),
    (
        r"(?i:yes|no|true|false|on|off|y|n)",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; '
        "write 0 or take the line out if there is none.",
    ),
    (
        r"[-+]?[0-9]*\.?[0-9]+[eE][-+]?[0-9]{1,2}",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; write it out, {written_out}.',
    ),
    (
        r"0[0-9]+(\.[0-9]+)?",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; leave out the nought at its beginning.',
    ),
    (
        r"[−–—]\s*[0-9].*",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; write minus as the simple sign -.',
    ),
    (
        r"[-+]?[0-9][0-9_' ]*[0-9]",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; '
        "write its digits without anything between them.",
    ),
    (
        r"[-+]?[0-9][0-9.,]*\s*[^\W\d_].*",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; '
        "write the number alone, the unit stands in the key.",
    ),
    (
        r".*",
        '{where}: "{key}" is a number{unit}, and "{text}" is none; '
        "write digits, with a point for the decimals.",
    ),
)
"""What stands where a number should be, and what to say of it; the first that fits counts."""


def _not_a_number(text: str) -> str | None:
    """The sentence on something that is no plain number; None for a number."""
    if re.fullmatch(r"[-+]?([1-9][0-9]{0,8}|0)?(\.[0-9]{1,12})?", text) and re.search("[0-9]", text):
        return None
    return next(sentence for pattern, sentence in _NO_NUMBERS if re.fullmatch(pattern, text, re.DOTALL))


def _written_out(text: str) -> str:
    """A number such as 1e3 without its exponent; empty where that makes no sense."""
    if re.fullmatch(r"[-+]?[0-9]*\.?[0-9]+[eE][-+]?[0-9]{1,2}", text) is None:
        return ""
    return f"{float(text):f}".rstrip("0").rstrip(".")


def or_list(words: tuple[str, ...]) -> str:
    """Words in quotation marks, as in: "a", "b" or "c"."""
    quoted = [f'"{word}"' for word in words]
    return "".join(quoted) if len(quoted) < 2 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"
