"""Sentences that bring their numbers along, such as a source's words, in the units of whoever reads them."""

from __future__ import annotations

import re
from collections.abc import Callable

from frostguard.garden.settings import Units
from frostguard.report.measures import CM_PER_INCH, M_PER_FOOT
from frostguard.report.words import decimal

_NUMBER = r"-?\d+(?:\.\d+)?"


def in_units(text: str, units: Units) -> str:
    """The text with temperatures, lengths and differences in these units, each to as many decimals as it was told.

    Parameters
    ----------
    text : str
        With amounts written as a number, or a range such as "-3 to -7", and °C, °F, K, mm, cm or m.
    units : Units
        Of the reader.
    """
    if units is Units.METRIC:
        return _rewritten(text, "°F", "°C", lambda value: (value - 32.0) / 1.8)
    text = _rewritten(text, "°C", "°F", lambda value: value * 1.8 + 32.0)
    text = _rewritten(text, "K", "°F", lambda value: value * 1.8)
    text = _rewritten(text, "mm", "in", lambda value: value / (10.0 * CM_PER_INCH), least=1)
    text = _rewritten(text, "cm", "in", lambda value: value / CM_PER_INCH, least=1)
    return _rewritten(text, "m", "ft", lambda value: value / M_PER_FOOT)


def _rewritten(text: str, old: str, new: str, to_new: Callable[[float], float], *, least: int = 0) -> str:
    """Every amount in the old unit in the new one, with at least so many decimals."""

    def told(number: str) -> str:
        decimals = max(len(number.partition(".")[2]), least)
        return decimal(to_new(float(number)), decimals)

    def replaced(found: re.Match[str]) -> str:
        return re.sub(_NUMBER, lambda one: told(one[0]), found[1]) + found[2] + new

    return re.sub(rf"(?<![\w.-])({_NUMBER}(?: to {_NUMBER})?)([ \u00a0]){old}(?![\w/])", replaced, text)
