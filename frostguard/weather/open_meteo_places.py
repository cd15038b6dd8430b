"""Open-Meteo's look-ups of places: by name, and the ground's height at a point.

References
----------
Open-Meteo, documentation of the geocoding and elevation interfaces, state of August 2026. Without a hit the
answer has status 200 and no `results` at all (recorded answer).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from frostguard.errors import ForecastFormatError
from frostguard.weather.json_answer import (
    OTHER_SOURCE,
    answer_object,
    is_number,
    on_earth,
    shortened,
)

GEOCODING_URL = "https://geocoding-api.open-meteo.com/v1/search"
ELEVATION_URL = "https://api.open-meteo.com/v1/elevation"
MOST_HITS = 100
LOWEST_M, HIGHEST_M = -500.0, 9000.0


@dataclass(frozen=True, slots=True)
class Place:
    """A place that a name may mean; what the service leaves out is None."""

    name: str
    region: str | None
    country_code: str | None
    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None
    time_zone: str | None


def places_query(name: str, *, language: str = "en", most: int = 10) -> dict[str, str]:
    """The query for places of a name; two letters must match wholly, three or more begin the name."""
    if len(name.strip()) < 2:
        raise ValueError("a place's name has at least two letters")
    return {
        "name": name.strip(),
        "count": str(max(1, min(MOST_HITS, most))),
        "language": language,
        "format": "json",
    }


def parse_places(body: bytes, source: str = "The place search of Open-Meteo") -> tuple[Place, ...]:
    """The places found, best first; none where the name is not known.

    Raises
    ------
    ForecastFormatError
        If it is no such answer. Hits without name or coordinates are passed over.
    """
    answer = answer_object(body, source)
    hits = answer.get("results", [])
    if not isinstance(hits, list) or ("results" not in answer and "generationtime_ms" not in answer):
        raise ForecastFormatError(f"{source} gave no list of places.", next_step=OTHER_SOURCE)
    found = (_place(hit) for hit in hits[:MOST_HITS])
    return tuple(place for place in found if place is not None)


def _place(hit: Any) -> Place | None:
    if not isinstance(hit, dict):
        return None
    name, latitude, longitude = hit.get("name"), hit.get("latitude"), hit.get("longitude")
    if not (isinstance(name, str) and name.strip() and on_earth(latitude, longitude)):
        return None
    height = hit.get("elevation")
    return Place(
        name=shortened(name, 80),
        region=_text(hit.get("admin1")),
        country_code=_text(hit.get("country_code")),
        latitude_deg=float(hit["latitude"]),
        longitude_deg=float(hit["longitude"]),
        elevation_m=float(height) if is_number(height) and LOWEST_M <= height <= HIGHEST_M else None,
        time_zone=_text(hit.get("timezone")),
    )


def _text(entry: Any) -> str | None:
    return shortened(entry, 80) if isinstance(entry, str) and entry.strip() else None


def elevation_query(latitude_deg: float, longitude_deg: float) -> dict[str, str]:
    """The query for the ground's height at a point."""
    return {"latitude": f"{latitude_deg:.4f}", "longitude": f"{longitude_deg:.4f}"}


def parse_elevation(body: bytes, source: str = "The height model of Open-Meteo") -> float:
    """The ground's height [m above the sea], of a model with cells of 90 m.

    Raises
    ------
    ForecastFormatError
        If the answer holds no height that the Earth has.
    """
    answer = answer_object(body, source)
    heights = answer.get("elevation")
    height = heights[0] if isinstance(heights, list) and len(heights) == 1 else None
    if not is_number(height) or not LOWEST_M <= height <= HIGHEST_M:
        raise ForecastFormatError(f"{source} gave no height for this place.", next_step=OTHER_SOURCE)
    return float(height)
