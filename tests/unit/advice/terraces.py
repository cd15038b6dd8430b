"""Small invented terraces and short weathers for the tests of the advice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from frostguard.advice import readings
from frostguard.advice.advise import advise
from frostguard.advice.evening import Evening, look_ahead
from frostguard.advice.occasion import TONIGHT_TISSUES, Occasion, Round
from frostguard.advice.option import Circumstances
from frostguard.advice.plan import AdvicePlan, Batch
from frostguard.advice.planner import Choice, Chosen, choose_jobs
from frostguard.advice.scarce import AtHand
from frostguard.advice.state import TerraceState
from frostguard.advice.supplies import supplies_of
from frostguard.garden.catalogue import load_catalogue
from frostguard.garden.model import (
    BareStem,
    Beneath,
    CoverPiece,
    Garden,
    Light,
    Neighbours,
    Planting,
    Pot,
    Room,
    RoomKind,
    Shape,
    Site,
    Spot,
    Stage,
    Stem,
    Stock,
    Surroundings,
    Wetness,
)
from frostguard.garden.settings import Settings
from frostguard.hardiness.limits import load_limits
from frostguard.physics.root_ball import Resolution
from frostguard.weather.series import HOUR, Provenance, WeatherSeries, series_on_hours, utc_hour

ZONE = ZoneInfo("Europe/Ljubljana")
SITE = Site("Roof terrace", 46.05, 14.51, 298.0, "Europe/Ljubljana", 14.0, Surroundings.CITY)
ASKED = datetime(2026, 1, 14, 14, 0, tzinfo=ZONE)  # sunset is at about a quarter to five


CRUDE = Resolution(
    outer_cells=1, inner_cells=3, end_cells=1, between_cells=1, middle_cells=1, steps_per_hour=1
)


def simulate_coarsely(patch: pytest.MonkeyPatch) -> None:
    """Few cells and hourly steps for every simulation of the advice, until the patch is undone."""
    patch.setattr(readings, "STANDARD", CRUDE)
    patch.setattr(readings, "COARSE", CRUDE)


def at(hour: int, minute: int = 0, *, days: int = 0) -> datetime:
    """A time on the terrace's clock, so many days after the evening of the question."""
    return datetime(2026, 1, 14, hour, minute, tzinfo=ZONE) + timedelta(days=days)


def site(**changes: Any) -> Site:
    """The terrace in Ljubljana."""
    return replace(SITE, **changes)


def spot(name: str = "deck", **changes: Any) -> Spot:
    """An open deck without room for more pots."""
    usual = Spot(
        name=name,
        label=name,
        wind_fraction=0.45,
        sky_view=0.9,
        beneath=Beneath.DECKING,
        against_house_wall=False,
        facing_deg=None,
        free_floor_m2=None,
        room=None,
        escape_route=False,
    )
    return replace(usual, **changes)


def room(name: str = "wash room", *, lowest_c: float | None = 5.0, **changes: Any) -> Spot:
    """A frost-free dim room with two square metres free, or an unheated one where `lowest_c` is None."""
    light = changes.pop("light", Light.DIM)
    kind = RoomKind.UNHEATED if lowest_c is None else RoomKind.FROST_FREE
    inside = Room(kind=kind, light=light, lag_d=2.0, warmer_than_outdoors_k=5.0, lowest_c=lowest_c)
    return spot(name, **({"wind_fraction": 0.0, "sky_view": 0.0, "free_floor_m2": 2.0, "room": inside} | changes))


def planting(name: str = "citrus-limon", **changes: Any) -> Planting:
    """A lemon of half a metre that is worth 20 euro."""
    usual = Planting(
        name=name,
        taxon=name,
        rating=None,
        height_m=0.5,
        width_m=0.4,
        evergreen=None,
        stage=None,
        value_eur=20.0,
        irreplaceable=False,
    )
    return replace(usual, **changes)


def pot(name: str = "lemon", *plantings: Planting, **changes: Any) -> Pot:
    """A moist plastic pot of about 3 litres, light enough for one hand, on the deck."""
    usual = Pot(
        id=name,
        label=name.capitalize(),
        plantings=plantings or (planting(),),
        wall="plastic",
        wall_thickness_m=0.002,
        shape=Shape.ROUND,
        radius_m=0.08,
        height_m=0.16,
        volume_l=3.5,
        floor_m2=0.03,
        mix="multi-purpose",
        wetness=Wetness.MOIST,
        feet=False,
        saucer=False,
        drain_hole=True,
        mulch_m=0.0,
        covers_on=(),
        spot="deck",
        neighbours=Neighbours.ALONE,
        potted_this_autumn=False,
        count=1,
        line=1,
    )
    return replace(usual, **changes)


def peach(**changes: Any) -> Planting:
    """A peach in full flower, worth 100 euro: its flowers are all that a light frost can hurt."""
    usual = {"stage": Stage.OPEN_FLOWERS, "value_eur": 100.0}
    return planting("prunus-persica", **(usual | changes))


def big_pot(name: str = "olive", *plantings: Planting, **changes: Any) -> Pot:
    """A terracotta pot of some 40 litres and some 45 kg."""
    size = {"wall": "terracotta", "wall_thickness_m": 0.02, "radius_m": 0.18, "height_m": 0.38}
    return pot(name, *plantings, **({**size, "volume_l": 40.0, "floor_m2": 0.15} | changes))


def hoods(count: int, material: str = "fleece 30", width_m: float = 1.2) -> CoverPiece:
    """Fleece hoods that go over a middling plant."""
    return CoverPiece(material, "hood", width_m, 1.5 * width_m, None, count)


def sheets(count: int, width_m: float = 2.0, length_m: float = 2.0) -> CoverPiece:
    """Sheets of fleece to cut from or to spread over several pots of a spot."""
    return CoverPiece("fleece 30", "sheet", width_m, length_m, None, count)


def film(count: int = 1, length_m: float = 10.0) -> CoverPiece:
    """Rolls of bubble film, a metre wide."""
    return CoverPiece("bubble film", "roll", 1.0, length_m, None, count)


def bark(litres: float, count: int = 1) -> CoverPiece:
    """Bags of bark mulch."""
    return CoverPiece("bark mulch", "bag", None, None, litres, count)


def sleeves(count: int, length_m: float = 1.0) -> CoverPiece:
    """Foam sleeves for stems of up to 4 cm."""
    return CoverPiece("stem sleeve", "sleeve", 0.07, length_m, None, count)


def standard_rose(**changes: Any) -> Planting:
    """A rose of 1.4 m, grafted on top of a bare stem of 90 cm and 2 cm, worth 80 euro."""
    stem = BareStem(Stem.GRAFTED, 0.9, 0.02)
    return planting("rosa-modern", **({"height_m": 1.4, "bare_stem": stem, "value_eur": 80.0} | changes))


def shed(*covers: CoverPiece, pot_feet: int = 0, crates: int = 0) -> Stock:
    """A stated stock."""
    return Stock(covers=covers, pot_feet=pot_feet, crates=crates)


def garden(*pots: Pot, spots: Sequence[Spot] = (), stock: Stock | None = None, **site_changes: Any) -> Garden:
    """These pots on a deck, or at these spots, with an empty shed if none is given."""
    return Garden(
        path="terrace.yaml",
        site=site(**site_changes),
        spots=tuple(spots) or (spot(),),
        pots=pots or (pot(),),
        stock=shed() if stock is None else stock,
    )


def weather(
    air_c: float | Sequence[float] | Callable[[np.ndarray], np.ndarray],
    *,
    asked: datetime = ASKED,
    past_h: int = 12,
    ahead_h: int = 48,
    members: int = 1,
    without: Sequence[str] = (),
    **columns: Any,
) -> WeatherSeries:
    """Hours round a question, issued when it is asked: damp, cloudy and nearly calm unless changed.

    `air_c` is a number, one value for each hour, or a function of the hours since the midnight before
    the question, on the terrace's clock. With three members the second and third are 1 K colder and 1 K
    warmer from the question on.
    """
    now = utc_hour(asked.astimezone(UTC).replace(minute=0, second=0, microsecond=0))
    times = now + np.arange(-past_h, ahead_h + 1) * HOUR
    midnight = utc_hour(asked.astimezone(ZONE).replace(hour=0, minute=0, second=0, microsecond=0))
    clock = (times - midnight) / HOUR
    air = np.array(air_c(clock) if callable(air_c) else np.broadcast_to(air_c, times.shape), dtype=float)
    usual: dict[str, Any] = {
        "air_temperature_c": air,
        "dew_point_c": air - 1.0,
        "pressure_hpa": 980.0,
        "wind_speed_10m_m_s": 2.0,
        "wind_gust_10m_m_s": 4.0,
        "cloud_cover_percent": 100.0,
        "global_horizontal_w_m2": 0.0,
    } | columns
    offsets = np.array([0.0, -1.0, 1.0])[:members, None] * (times > now)
    moving = ("air_temperature_c", "dew_point_c")
    values = {
        name: np.broadcast_to(np.asarray(value, dtype=float), (members, times.size))
        + (offsets if name in moving else 0.0)
        for name, value in usual.items()
        if name not in without
    }
    source = Provenance("invented", None, None, asked.astimezone(UTC), "", 46.05, 14.51, 298.0)
    return series_on_hours(times, values, source)


def frosty_night(coldest_c: float, **more: Any) -> WeatherSeries:
    """Mild until two in the afternoon; then the air falls to `coldest_c` by two, and is mild again by noon."""
    clock_and_air = ([14, 18, 26, 30, 36], [5.0, min(2.0, 5.0 + coldest_c), coldest_c, coldest_c, 5.0])
    return weather(lambda clock: np.interp(clock, *clock_and_air), **({"ahead_h": 24, "members": 3} | more))


def frosty_nights(coldest_c: float, count: int, **more: Any) -> WeatherSeries:
    """Mild days of 6 degrees, and so many coming nights of `coldest_c` from two to six."""

    def air_c(clock: np.ndarray) -> np.ndarray:
        cold = np.interp(clock % 24.0, [2, 6, 12, 16, 26], [coldest_c, coldest_c, 6.0, 6.0, coldest_c])
        return np.where(clock > 14.0, cold, 6.0)

    return weather(air_c, **({"ahead_h": 24 * count, "members": 3} | more))


CLEAR = {"cloud_cover_percent": 0.0}
"""A clear sky, under which leaves fall below the air and fleece is of use."""


def evening_of(
    where: Garden, sky: WeatherSeries, asked: datetime = ASKED, days: int = 1, state: TerraceState | None = None
) -> Evening:
    """The terrace left as it is."""
    return look_ahead(where, sky, state or TerraceState(), asked, days, load_catalogue(), load_limits())


def plan_of(
    where: Garden,
    sky: WeatherSeries,
    asked: datetime = ASKED,
    state: TerraceState | None = None,
    **settings: Any,
) -> AdvicePlan:
    """The plan, with these settings changed; one night ahead unless `days` says more."""
    wanted = Settings(**({"days": 1} | settings))
    return advise(where, sky, state or TerraceState(), asked, settings=wanted)




def occasion_tonight(found: Evening) -> Occasion:
    """Work done by four in the afternoon, for the coming night."""
    start = found.terrace.hour_at(found.at.astimezone(ZONE).replace(hour=16, minute=0))
    return Occasion(Batch.TONIGHT, max(start, found.now), (0,), TONIGHT_TISSUES)


def circumstances(found: Evening, **changes: Any) -> Circumstances:
    """A calm afternoon by daylight with what the garden's shed holds; nothing frozen."""
    usual = Circumstances(
        garden=found.garden,
        catalogue=found.catalogue,
        settings=Settings(),
        supplies=supplies_of(found.garden, found.catalogue),
        taxa=found.taxa,
        frozen=frozenset(),
        icy=frozenset(),
        mild_enough_to_water=True,
        dark=False,
    )
    return replace(usual, **changes)


def chosen_of(found: Evening, pots: Sequence[int] | None = None, **changes: Any) -> Chosen:
    """What is chosen for tonight, for all pots or some, with all the time there is; and what it leaves."""
    about = circumstances(found, **changes)
    rows = tuple(range(len(found.pots)) if pots is None else pots)
    standing: dict[str, int] = {}
    for one in found.pots:
        standing[one.spot] = standing.get(one.spot, 0) + one.count
    turn = Round(occasion_tonight(found), about, rows)
    return choose_jobs(found, [turn], AtHand(about.supplies, {}, standing), about.settings)


def choices_of(found: Evening, **changes: Any) -> tuple[Choice, ...]:
    """What is chosen for tonight, for all pots."""
    return chosen_of(found, **changes).choices
