"""Where a thermometer lies, and what its numbers are: moments, or the lowest of a night."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Place(Enum):
    """Where a thermometer lies. In a pot: at the wall, in the middle; else in the air or on a leaf."""

    WALL = "wall"
    CORE = "core"
    AIR = "air"
    LEAF = "leaf"

    @property
    def in_pot(self) -> bool:
        """Whether it lies in the mix of a pot."""
        return self in (Place.WALL, Place.CORE)


@dataclass(frozen=True, slots=True)
class Probe:
    """A place, and whether a number is the lowest since the noon before it was read."""

    place: Place
    lowest: bool = False

    def __str__(self) -> str:
        return f"{self.place.value} lowest" if self.lowest else self.place.value


def probe_of(text: str) -> Probe:
    """The probe of a word as the logbook keeps it ("core", "air lowest"); ValueError for another word."""
    word, _, rest = text.partition(" ")
    if rest not in ("", "lowest"):
        raise ValueError(f"{text!r} is no place of a thermometer")
    return Probe(Place(word), rest == "lowest")
