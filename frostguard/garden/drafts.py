"""One answer of a person at a time, judged by the strict reader before the next question is asked.

What is not known yet is stood in for by an ordinary place, spot or pot, so that the reader, which knows only whole
garden files, can be asked about a part. So there is one set of rules, whoever asks: terminal or page.
"""

from __future__ import annotations

from collections.abc import Sequence

from frostguard.errors import GardenFileError
from frostguard.garden.reader import garden_in
from frostguard.garden.writing import new_garden
from frostguard.garden.yaml_edit import Entry

USUAL_SITE: Entry = {"latitude": "46.05", "longitude": "14.51", "elevation_m": "298", "time_zone": "Europe/Ljubljana"}
USUAL_SPOT: Entry = {"name": "terrace"}
USUAL_POT: Entry = {"plant": "lemon", "material": "terracotta", "volume_l": "10"}


def faults_of_site(site: Entry) -> tuple[str, ...]:
    """What is wrong with what is known of the site so far."""
    usual = dict(USUAL_SITE)
    if "longitude" in site and "time_zone" not in site:
        hours = _hours_east(str(site["longitude"]))
        usual["time_zone"] = f"Etc/GMT{-hours:+d}" if hours else "Etc/GMT"
    elif "time_zone" in site and "longitude" not in site:
        usual.pop("longitude")
    return _faults({**usual, **site}, [USUAL_SPOT], [{**USUAL_POT, "spot": "terrace"}])


def faults_of_spot(spots: Sequence[Entry], spot: Entry) -> tuple[str, ...]:
    """What is wrong with what is known of a spot so far, beside the spots that are there."""
    anywhere = {"name": "anywhere else"}
    return _faults(USUAL_SITE, [*spots, {**USUAL_SPOT, **spot}, anywhere], [{**USUAL_POT, "spot": "anywhere else"}])


def faults_of_pot(spots: Sequence[Entry], pot: Entry) -> tuple[str, ...]:
    """What is wrong with what is known of a pot so far."""
    usual = dict(USUAL_POT) | {"spot": str(spots[0]["name"])}
    if "plants" in pot:
        usual.pop("plant")
    if not {"diameter_cm", "width_cm"}.isdisjoint(pot):
        usual.pop("volume_l")
    return _faults(USUAL_SITE, spots, [{**usual, **pot}])


def _faults(site: Entry, spots: Sequence[Entry], pots: Sequence[Entry]) -> tuple[str, ...]:
    try:
        garden_in(new_garden(site, spots, pots), "")
    except GardenFileError as error:
        return tuple(fault.sentence for fault in error.faults)
    return ()


def _hours_east(longitude: str) -> int:
    try:
        return max(-12, min(12, round(float(longitude) / 15.0)))
    except ValueError:
        return 0
