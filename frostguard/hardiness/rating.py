"""Hardiness ratings, and the rules that turn a rating or a shoot limit into limits of every tissue.

Both scales rate plants by the air temperature that they stand in open ground. Bands are closed at
their colder end and open at their warmer end: exactly 10 degF (-12.2 degC) belongs to zone 8a, and
exactly -10 degC to H4.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from frostguard.errors import FrostguardError
from frostguard.hardiness.basis import leaf_basis
from frostguard.hardiness.model import Mark, MovedLight
from frostguard.hardiness.taxon import Foliage, Habit, Limit, Sensitivity, StageRule, Taxon

TWO_ZONES_K = 20 / 1.8
"""Two USDA zones, 20 degF [K]: what a plant should have in hand to be grown in a pot."""

ROOTS_NEVER_COLDER_THAN_C = -12.0
YOUNG_ROOT_HARDY_C = -4.0
_TWO_ZONES = "rule: two USDA zones warmer than the shoots (advice of Brooklyn Botanic Garden)"
RATING_SOURCE = "rule: the warmer end of the rating's band"

_WARMEST_H = ("H1a", "H1b", "H1c", "H2", "H3", "H4", "H5", "H6", "H7")
_H_LOWER_C = (15.0, 10.0, 5.0, 1.0, -5.0, -10.0, -15.0, -20.0, -math.inf)
_H_UPPER_C = (math.inf, 15.0, 10.0, 5.0, 1.0, -5.0, -10.0, -15.0, -20.0)
_H1A_TOP_C = 20.0  # the open warm end, cut off here: warmer is no frost question (estimate)
_H7_BOTTOM_C = -30.0  # the open cold end, about zone 4b (estimate)


class UnknownRating(FrostguardError):
    """A hardiness rating that is on neither scale; `nearest` are ratings that look like it."""

    def __init__(self, rating: str, nearest: tuple[str, ...]) -> None:
        super().__init__(
            f'"{rating}" is neither a USDA zone nor a UK hardiness rating.',
            next_step='Give a USDA zone from "1a" to "13b" or a UK rating from "H1a" to "H7".',
        )
        self.nearest = nearest


@dataclass(frozen=True, slots=True)
class Band:
    """A rating and the temperatures it stands for [degC], the colder end included."""

    rating: str
    colder_c: float
    warmer_c: float


def usda_band(zone: str) -> Band:
    """The temperatures of a USDA half-zone such as "7b"; a whole zone "7" is read as its warmer half.

    Raises
    ------
    UnknownRating
        For anything but "1" to "13" with or without "a" or "b".

    References
    ----------
    USDA Plant Hardiness Zone Map: bands of 5 degF of the mean annual extreme minimum, from -60 degF
    (the scale from memory, recomputed).
    """
    match = re.fullmatch(r"(1[0-3]|[1-9])([ab]?)", zone.strip().lower())
    if match is None:
        raise UnknownRating(zone, ())
    number, half = int(match[1]), match[2] or "b"
    lower_f = -60 + 10 * (number - 1) + (5 if half == "b" else 0)
    return Band(f"{number}{half}", _celsius(lower_f), _celsius(lower_f + 5))


def uk_band(rating: str) -> Band:
    """The temperatures of a UK hardiness rating such as "H4"; open ends are cut at 20 and -30 degC.

    Raises
    ------
    UnknownRating
        For anything but H1a, H1b, H1c and H2 to H7.

    References
    ----------
    UK hardiness ratings sheet, H1a above 15 degC to H7 below -20 degC.
    """
    for name, lower_c, upper_c in zip(_WARMEST_H, _H_LOWER_C, _H_UPPER_C, strict=True):
        if name.lower() == rating.strip().lower():
            return Band(name, max(lower_c, _H7_BOTTOM_C), min(upper_c, _H1A_TOP_C))
    raise UnknownRating(rating, _WARMEST_H)


def band_of(rating: str) -> Band:
    """The temperatures of a rating on either scale: "7b", "zone 7b", "USDA 7b", "H4".

    Raises
    ------
    UnknownRating
        If it is on neither scale.
    """
    text = re.sub(r"^\s*(usda)?\s*(zone)?\s*|\s+", "", rating.strip().lower())
    return uk_band(text) if text.startswith("h") else usda_band(text)


def whole_root_by_rule_c(shoot_c: float) -> float:
    """Whole-root limit of a plant in a pot from what its shoots stand [degC].

    Two zones warmer than the shoots, but at the warmest -4 degC for plants that stand -5 degC or
    colder (H4 and hardier) and -2 degC for half-hardy ones (H3), and never colder than -12 degC;
    tender plants keep the limit of their shoots, -1 degC at the coldest.

    Parameters
    ----------
    shoot_c : float
        Limit of hardened leaves or wood, the middle where a range is given [degC].

    Notes
    -----
    Against measurements the rule is rough: whole roots stood 16 K less than the tops in American holly
    and 9 K less in firethorn. Err is to either side; see the spread that goes with it.

    It comes from woody plants and their roots. Not for hardy succulents, which make new roots from whatever rosette or
    pad is left: see the table.

    References
    ----------
    Brooklyn Botanic Garden, advice on overwintering potted plants: two zones hardier in a pot. The
    bounds are estimates.
    """
    return _whole_root_by_rule(shoot_c)[0]


def whole_root_rule_source(shoot_c: float) -> str:
    """What of the rule for whole roots gave the limit of a plant whose shoots stand that [degC]."""
    return _whole_root_by_rule(shoot_c)[1]


def _whole_root_by_rule(shoot_c: float) -> tuple[float, str]:
    if shoot_c > -1.0:
        return (
            max(min(shoot_c, 0.0), -1.0),
            "rule: whole roots of tender plants stand what their shoots do, -1 degC at the coldest (estimate)",
        )
    warmest_c = -4.0 if shoot_c <= -5.0 else -2.0
    zones_c = shoot_c + TWO_ZONES_K
    if zones_c > warmest_c:
        who = "plants that stand -5 degC and colder" if shoot_c <= -5.0 else "half-hardy plants"
        return warmest_c, f"{_TWO_ZONES}, but {warmest_c:.0f} degC at the warmest for {who} (estimate)"
    if zones_c < ROOTS_NEVER_COLDER_THAN_C:
        return (
            ROOTS_NEVER_COLDER_THAN_C,
            f"{_TWO_ZONES}, but {ROOTS_NEVER_COLDER_THAN_C:.0f} degC at the coldest (estimate)",
        )
    return zones_c, _TWO_ZONES


def young_root_by_rule_c(shoot_c: float) -> float:
    """Young-root limit of a plant in a pot from what its shoots stand [degC].

    -4 degC for every hardy plant (shoots to -10 degC or colder) however hardy its top; -2 degC for H4
    plants, -1 degC for half-hardy ones, 0 degC for tender ones (estimates).

    References
    ----------
    Dirr & Smith 1988, Ornamentals Northwest Archives 12(5):5-9: white roots of box and Japanese holly
    lost at -3.9 to -6.7 degC, of firethorn at -5.6 degC. Sword, Tinus & Barnett 1998, National Nursery
    Proceedings: longleaf pine seedlings -3.1 degC.
    """
    return _young_root_by_rule(shoot_c)[0]


def young_root_rule_source(shoot_c: float) -> str:
    """What of the rule for young roots gave the limit of a plant whose shoots stand that [degC]."""
    return _young_root_by_rule(shoot_c)[1]


def _young_root_by_rule(shoot_c: float) -> tuple[float, str]:
    if shoot_c <= -10.0:
        return (
            YOUNG_ROOT_HARDY_C,
            "rule: young roots near -4 degC for hardy plants, whatever the tops stand; measured ones cluster at"
            " -3 to -7 degC",
        )
    if shoot_c <= -5.0:
        return -2.0, "rule: young roots at -2 degC where the tops stand -5 to -10 degC (estimate)"
    if shoot_c <= -1.0:
        return -1.0, "rule: young roots of half-hardy plants at -1 degC (estimate)"
    return 0.0, "rule: young roots of tender plants go with the first ice, 0 degC (estimate)"


def whole_root_rule_spread_k(limit_c: float) -> float:
    """Standard deviation round a whole-root limit by rule: a quarter of the limit, 1.5 K at least [K].

    Estimate. Where roots were measured the rule was off by up to 5 K for the hardiest shrubs, to either
    side, and by less, mostly to the cautious side, for those with limits near -5 degC.
    """
    return max(1.5, 0.25 * abs(limit_c))


def capped_spread_k(temperature_c: float, spread_k: float) -> float:
    """The spread, made so narrow that hardly one plant in a hundred is hurt by cold without ice.

    Tissue does not freeze above 0 degC, so a wide spread round a limit just below must not reach
    over it. At least 0.3 K stays (estimate).
    """
    return min(spread_k, max(0.3, -temperature_c / 2.33))


def taxon_from_rating(rating: str) -> Taxon:
    """A stand-in for a plant of which only a hardiness rating is known.

    Every value is marked as derived by rule: leaves by the warmer end of the band, soft leaves -1 degC
    (the range seen for evergreens in growth is -1 to -5 degC), roots by the two rules of this module,
    chilling for bands that lie wholly above 4 degC.

    Parameters
    ----------
    rating : str
        USDA zone ("7b", "zone 7") or UK hardiness rating ("H4").

    Raises
    ------
    UnknownRating
        If it is on neither scale.
    """
    band = band_of(rating)
    middle_c = (band.colder_c + band.warmer_c) / 2
    root_c = whole_root_by_rule_c(middle_c)
    leaf_c = min(band.warmer_c, 0.0)
    name = f"plant of zone {band.rating}" if band.rating[0] != "H" else f"plant rated {band.rating}"
    return Taxon(
        key=f"rating-{band.rating.lower()}",
        botanical="",
        english=name,
        french=(f"plante de zone {band.rating}" if band.rating[0] != "H" else f"plante cotée {band.rating}"),
        synonyms=(),
        synonyms_french=(),
        group="rating",
        habit=Habit.WOODY if leaf_c <= -5.0 else Habit.TENDER,
        foliage=Foliage.EVERGREEN,  # the cautious case: leaves that can be lost
        stage_rule=StageRule.BY_HEAT if leaf_c <= -5.0 else StageRule.IN_FLUSHES,
        leaf_hardened=replace(
            _by_rule(leaf_c, 2.5, RATING_SOURCE, min(band.colder_c, 0.0)), basis=leaf_basis(Mark.BY_RULE)),
        leaf_soft=replace(
            _by_rule(max(leaf_c, -1.0), 1.0, "rule: soft growth near -1 degC, whatever the rating"),
            basis=leaf_basis(Mark.BY_RULE)),
        buds={},
        young_root=_by_rule(young_root_by_rule_c(middle_c), 1.5, young_root_rule_source(middle_c)),
        whole_root=_by_rule(root_c, whole_root_rule_spread_k(root_c), whole_root_rule_source(middle_c)),
        chill=None if band.colder_c < 4.0 else Limit(
            band.warmer_c, (band.warmer_c - band.colder_c) / 2, Mark.BY_RULE, RATING_SOURCE, band.colder_c),
        moved_light=MovedLight.BRIGHT if leaf_c > -10.0 else MovedLight.STAY_OUT,
        room_c=None,
        bulb=None,
        wet=Sensitivity.NORMAL,
        dry=Sensitivity.NORMAL,
        resents=(),
        poisonous=False,
        spiny=False,
        grafted=False,
        sprouts=False,
        value_shares={},
        bloom_heat_k_d=200.0,
    )


def _by_rule(temperature_c: float, spread_k: float, source: str, colder_c: float | None = None) -> Limit:
    return Limit(temperature_c, capped_spread_k(temperature_c, spread_k), Mark.BY_RULE, source, colder_c)


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8
