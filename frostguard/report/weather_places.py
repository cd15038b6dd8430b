"""Places found by name, as lines to copy into a garden file."""

from __future__ import annotations

from collections.abc import Iterable

from frostguard.report.layout import page, paragraph
from frostguard.report.words import harmless, say
from frostguard.weather.open_meteo_places import Place

CREDIT = "Places: GeoNames, by way of Open-Meteo.com (CC BY 4.0)"
HEIGHT_CREDIT = "Height: Copernicus DEM of 90 m, by way of Open-Meteo.com (CC BY 4.0)"


def render_places(places: Iterable[Place]) -> str:
    """Each place with its country, then the lines of `site:` that it gives."""
    blocks = [paragraph(say("Copy the lines of the right place under site: in your garden file."))]
    blocks += [_place(place) for place in places]
    return page([*blocks, paragraph(CREDIT)])


def render_height(latitude_deg: float, longitude_deg: float, height_m: float) -> str:
    """The lines of `site:` for a point whose height was looked up; its time zone is not known."""
    lines = _site_lines(latitude_deg, longitude_deg, height_m, None)
    return page([lines, paragraph(HEIGHT_CREDIT)])


def _place(place: Place) -> list[str]:
    whereabouts = [part for part in (place.region, place.country_code) if part and part != place.name]
    heading = ", ".join([place.name, *whereabouts])
    return [
        *paragraph(harmless(heading)),
        *_site_lines(place.latitude_deg, place.longitude_deg, place.elevation_m, place.time_zone),
    ]


def _site_lines(latitude: float, longitude: float, height_m: float | None, zone: str | None) -> list[str]:
    lines = [f"  latitude: {latitude:.4f}", f"  longitude: {longitude:.4f}"]
    if height_m is not None:
        lines.append(f"  elevation_m: {height_m:.0f}")
    if zone is not None:
        lines.append(f"  time_zone: {harmless(zone)}")
    return lines
