"""Amounts in forms and questions: files are metric, and whoever reads feet, pounds and gallons writes them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import floor, isfinite, log10

from frostguard.garden.settings import Units
from frostguard.report.measures import CM_PER_INCH, KG_PER_POUND, LITRES_PER_GALLON, M_PER_FOOT

_FILE_PER_WRITTEN = {
    "volume_l": LITRES_PER_GALLON,
    "litres": LITRES_PER_GALLON,
    "diameter_cm": CM_PER_INCH,
    "width_cm": CM_PER_INCH,
    "length_cm": CM_PER_INCH,
    "height_cm": CM_PER_INCH,
    "plant_height_cm": CM_PER_INCH,
    "plant_width_cm": CM_PER_INCH,
    "mulch_cm": CM_PER_INCH,
    "stem_cm": CM_PER_INCH,
    "stem_thickness_cm": CM_PER_INCH,
    "free_floor_m2": M_PER_FOOT**2,
    "elevation_m": M_PER_FOOT,
    "height_above_ground_m": M_PER_FOOT,
    "lift_alone_kg": KG_PER_POUND,
}
"""The file's unit in the one that is written, for readers of imperial units."""

KEPT_DIGITS, SHOWN_DIGITS = 4, 3
"""Figures of a converted amount: kept finer than shown, so that what was written is shown as it was."""


def to_write(values: Mapping[str, str], units: Units) -> dict[str, str]:
    """Amounts of a file as a form has them; what is no number stays as it is."""
    return _converted(values, units, lambda name, value: _plain(value / _FILE_PER_WRITTEN[name], SHOWN_DIGITS))


def to_keep(values: Mapping[str, str], units: Units) -> dict[str, str]:
    """Amounts of a form as the file has them; what is no number stays, for the reader to tell."""
    return _converted(values, units, lambda name, value: _plain(value * _FILE_PER_WRITTEN[name], KEPT_DIGITS))


def label(units: Units, metric: str, imperial: str) -> str:
    """What a field for an amount is called."""
    return imperial if units is Units.IMPERIAL else metric


def _converted(values: Mapping[str, str], units: Units, change: Callable[[str, float], str]) -> dict[str, str]:
    found = dict(values)
    if units is Units.METRIC:
        return found
    for name in found.keys() & _FILE_PER_WRITTEN.keys():
        try:
            found[name] = change(name, float(found[name]))
        except (ValueError, OverflowError):
            continue
    return found


def _plain(value: float, figures: int) -> str:
    if not isfinite(value):
        raise ValueError(value)
    digits = max(figures - 1 - floor(log10(abs(value))), 0) if value else 0
    told = f"{value:.{digits}f}"
    return told.rstrip("0").rstrip(".") if "." in told else told
