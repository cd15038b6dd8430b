"""Which language the person reads, as the environment tells it."""

from __future__ import annotations

import os

LANGUAGE_VARIABLES = ("FROSTGUARD_LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
"""First one set wins; our own before the system's."""


def language_of_the_person() -> str | None:
    """A code such as "fr" or "fr_CH", None for the source language."""
    for variable in LANGUAGE_VARIABLES:
        value = os.environ.get(variable, "")
        if value:
            language = value.partition(".")[0].partition("@")[0]
            return None if language in ("C", "POSIX") else language
    return None
