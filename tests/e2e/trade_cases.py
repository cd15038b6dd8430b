"""Some seventy situations that every experienced grower knows, with what a professional would say.

None has a published answer; "common practice, no source" stands behind every reason that names nothing else.
Each case is one pot in one of a few gardens, each garden under one invented weather, asked in the afternoon.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from frostguard.weather.series import WeatherSeries
from tests.e2e.weathers import (
    AHEAD_DAYS,
    CLEAR_CALM_ASKED,
    GALE_ASKED,
    PAST_DAYS,
    SPRING_ASKED,
    THAW_ASKED,
    TIME_ZONE,
    WINDY_ASKED,
    Day,
    clear_calm_night,
    day_like,
    gale_with_frost,
    invented_weather,
    spring_night,
    thaw_after_long_freeze,
    windy_freeze,
)

SITE = """
site: {latitude: 46.05, longitude: 14.51, elevation_m: 298, time_zone: Europe/Ljubljana, height_above_ground_m: 14, surroundings: suburb}
spots:
  - {name: deck, wind: partly, sky: open, beneath: decking, free_floor_m2: 3}
  - {name: wall, wind: sheltered, sky: under eaves, beneath: slab over heated room, house_wall: yes, facing: south, free_floor_m2: 1}
  - {name: east, wind: partly, sky: open, beneath: slab over insulated roof, facing: east}
  - {name: railing, wind: exposed, sky: open, beneath: nothing}
  - {name: wash room, room: unheated, light: dim, lag_days: 2, warmer_k: 5, free_floor_m2: 3}
  - {name: stove room, room: frost-free, light: dark, lowest_c: 14, warmer_k: 10}
stock:
  covers:
    - {cover: light fleece, piece: hood, width_m: 1.2, length_m: 1.6, count: 6}
    - {cover: bubble film, piece: roll, width_m: 1, length_m: 20, count: 1}
    - {cover: stem sleeve, piece: sleeve, length_m: 1, width_m: 0.08, count: 2}
pots:
"""  # noqa: E501  one spot a line reads best


def _asked(year: int, month: int, day: int) -> datetime:
    return datetime(year, month, day, 15, tzinfo=ZoneInfo(TIME_ZONE))


AUTUMN_ASKED, CHILLY_ASKED = _asked(2025, 10, 8), _asked(2025, 9, 24)
OCTOBER_ASKED = _asked(2025, 10, 27)
WARM_SPELL_ASKED, SNOW_ASKED = _asked(2026, 1, 22), _asked(2026, 1, 12)


def first_frost() -> WeatherSeries:
    """Early October after soft, mild weeks: the first clear night, to -2.5 degC."""
    past = [day_like(9.0 + k % 3, 18.0 + k % 4, "fair", 8.0) for k in range(PAST_DAYS)]
    ahead = [day_like(4.0, 11.0, "clear", -2.0), day_like(-2.5, 12.0, "clear", -4.0)]
    ahead += [day_like(4.0, 14.0, "fair", 3.0) for _ in range(AHEAD_DAYS - 1)]
    return invented_weather("first frost", AUTUMN_ASKED, past, ahead)


def october_frost() -> WeatherSeries:
    """Late October after an ordinary autumn, nights from 12 down to 4 degC: a clear night to -2 degC."""
    past = [day_like(12.0 - 8.0 * k / PAST_DAYS + k % 3 - 1, 20.0 - 8.0 * k / PAST_DAYS, "fair", 4.0)
            for k in range(PAST_DAYS)]
    ahead = [day_like(3.0, 11.0, "clear", -2.0), day_like(-2.0, 11.0, "clear", -4.0)]
    ahead += [day_like(3.0, 12.0, "fair", 2.0) for _ in range(AHEAD_DAYS - 1)]
    return invented_weather("October frost", OCTOBER_ASKED, past, ahead)


def chilly_night() -> WeatherSeries:
    """Late September: nights of 4 to 6 degC, no frost anywhere."""
    past = [day_like(11.0 + k % 3, 20.0 + k % 3, "fair", 9.0) for k in range(PAST_DAYS)]
    ahead = [day_like(8.0, 14.0, "cloudy", 6.0), day_like(4.5, 14.0, "cloudy", 4.0)]
    ahead += [day_like(6.0, 15.0, "cloudy", 5.0) for _ in range(AHEAD_DAYS - 1)]
    return invented_weather("chilly night", CHILLY_ASKED, past, ahead)


def cold_after_warm_spell() -> WeatherSeries:
    """Late January: ten days near 12 degC, then two clear nights to -8 degC."""
    cold = [day_like(-2.0 + k % 3, 3.0, "cloudy", -3.0) for k in range(PAST_DAYS - 10)]
    warm = [day_like(8.0, 16.0, "fair", 6.0) for _ in range(10)]
    ahead = [day_like(0.0, 4.0, "clear", -5.0), day_like(-8.0, 0.0, "clear", -9.0), day_like(-7.0, 2.0, "fair", -8.0)]
    ahead += [day_like(-1.0, 5.0, "cloudy", -1.0) for _ in range(AHEAD_DAYS - 2)]
    return invented_weather("cold after a warm spell", WARM_SPELL_ASKED, cold + warm, ahead)


def wet_snow() -> WeatherSeries:
    """Mid-January: a night at 0 degC with 20 mm that fall as snow."""
    past = [day_like(-1.0 + k % 3, 4.0, "cloudy", -1.0, rain_mm=3.0) for k in range(PAST_DAYS)]
    ahead = [day_like(-0.5, 0.4, "cloudy", 0.0, rain_mm=12.0), day_like(-0.6, 0.4, "cloudy", 0.0, rain_mm=20.0)]
    ahead += [day_like(-4.0, 0.0, "fair", -5.0) for _ in range(2)]
    ahead += [day_like(-1.0, 3.0, "cloudy", -1.0) for _ in range(AHEAD_DAYS - 3)]
    return invented_weather("wet snow", SNOW_ASKED, past, ahead)


def no_thaw_by_day() -> WeatherSeries:
    """Mid-January: three clear nights of -5 degC, and days that hardly rise above zero."""
    past = [day_like(1.0, 6.0, "cloudy", 1.0) for _ in range(PAST_DAYS)]
    ahead = [day_like(0.0, 3.0, "clear", -4.0), *(day_like(-5.0, 1.0, "clear", -6.0) for _ in range(3))]
    ahead += [day_like(-1.0, 6.0, "cloudy", 0.0) for _ in range(AHEAD_DAYS - 3)]
    return invented_weather("no thaw by day", SNOW_ASKED, past, ahead)


def freeze_after_a_mild_day() -> WeatherSeries:
    """Mid-January: 8 degC in the afternoon, and from the next night on days of windy frost without a thaw."""
    past = [day_like(2.0, 7.0, "cloudy", 1.0) for _ in range(PAST_DAYS)]
    ahead = [day_like(2.0, 8.0, "cloudy", 1.0), *(day_like(-7.0, -2.0, "windy", -10.0) for _ in range(5))]
    ahead += [day_like(-1.0, 4.0, "cloudy", -2.0) for _ in range(AHEAD_DAYS - 5)]
    return invented_weather("before a freeze", SNOW_ASKED, past, ahead)


def thaw_and_frost_by_turns() -> WeatherSeries:
    """January: frost every night and thaw every day."""
    def day(low_c: float) -> Day:
        return day_like(low_c, 9.0, "fair", low_c - 1.0)
    past = [day(-4.0 - k % 2) for k in range(PAST_DAYS)]
    return invented_weather("frost and thaw", SNOW_ASKED, past, [day(-4.0) for _ in range(AHEAD_DAYS + 1)])


EVENINGS: dict[str, tuple[Callable[[], WeatherSeries], datetime]] = {
    "clear calm night": (clear_calm_night, CLEAR_CALM_ASKED),
    "windy freeze": (windy_freeze, WINDY_ASKED),
    "spring night": (spring_night, SPRING_ASKED),
    "first frost": (first_frost, AUTUMN_ASKED),
    "October frost": (october_frost, OCTOBER_ASKED),
    "chilly night": (chilly_night, CHILLY_ASKED),
    "after a warm spell": (cold_after_warm_spell, WARM_SPELL_ASKED),
    "wet snow": (wet_snow, SNOW_ASKED),
    "frost and thaw": (thaw_and_frost_by_turns, SNOW_ASKED),
    "no thaw by day": (no_thaw_by_day, SNOW_ASKED),
    "before a freeze": (freeze_after_a_mild_day, SNOW_ASKED),
    "thaw": (thaw_after_long_freeze, THAW_ASKED),
    "gale": (gale_with_frost, GALE_ASKED),
}

QUICK = (
    "clear calm night", "windy freeze", "spring night", "first frost", "October frost", "chilly night",
    "no thaw by day", "before a freeze",
)  # fmt: skip
"""The evenings of the default suite; the others are run with the thorough tests."""


@dataclass(frozen=True)
class Case:
    """One situation: a pot (its line of the garden file), the evening, and what must be said of it.

    `safe`: at no risk tonight, outer roots aside. `lost`: tissues in real danger (a chance of a quarter or more);
    `kept`: tissues that are not (below a tenth); `spared`: tissues that may be hurt, but hardly (below a quarter).
    `job`: what is to be done; `never`: what must not be, whatever else is. `note`: a strain that names it; `no_note`:
    one that must not. `why`: why nothing is done for what is in danger. `on_by_day`: whether its cover stays on by
    day; `for_the_season`: whether what is done stays for the season.
    """

    id: str
    evening: str
    pot: str
    reason: str
    safe: bool | None = None
    lost: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    spared: tuple[str, ...] = ()
    job: str | None = None
    never: tuple[str, ...] = ()
    note: str | None = None
    no_note: str | None = None
    no_job: bool = False
    why: str | None = None
    on_by_day: bool | None = None
    for_the_season: bool | None = None


CASES = (
    # --- a clear calm night of -5 degC in January, hardened plants -------------------------------------------
    Case("pelargonium-carried-in", "clear calm night", "plant: pelargonium, material: plastic, volume_l: 3, spot: deck",
         "zonal pelargoniums die with the first real frost", lost=("leaf",), job="move"),
    Case("apple-left-alone", "clear calm night", "plant: apple, material: wood, volume_l: 50, spot: deck",
         "a hardened fruit tree in a big tub does not notice -5 degC", safe=True, no_job=True),
    Case("box-left-alone", "clear calm night", "plant: box, material: terracotta, volume_l: 25, spot: deck, feet: yes",
         "box leaves stand -20 degC in January", safe=True, kept=("leaf", "whole root"), no_job=True),
    Case("houseleek-left-alone", "clear calm night", "plant: houseleek, material: stone, volume_l: 8, spot: deck",
         "houseleeks stand any frost if dry", safe=True, no_job=True),
    Case("pansies-left-alone", "clear calm night", "plant: pansy, material: plastic, volume_l: 5, spot: deck",
         "hardened winter pansies stand -9 to -12 degC for hours: nobody covers them for a night of -5",
         kept=("whole root",), spared=("leaf",), no_job=True),
    Case("violas-left-alone", "clear calm night", "plant: viola, material: plastic, volume_l: 5, spot: deck",
         "nobody covers violas for a night of -5 degC; they hang limp and stand up by noon", kept=("leaf",),
         no_job=True),
    Case("pansies-by-the-wall", "clear calm night", "plant: pansy, material: plastic, volume_l: 5, spot: wall",
         "nor pansies under the eaves", spared=("leaf",), no_job=True),
    Case("camellia-hardened", "clear calm night", "plant: camellia, material: plastic, volume_l: 15, spot: deck",
         "leaves of a hardened camellia are not marked by -5 degC of air, nor is its root ball", no_job=True,
         kept=("leaf", "whole root")),
    Case("oleander-left-out", "clear calm night", "plant: oleander, material: plastic, volume_l: 15, spot: deck",
         "oleander leaves burn near -5 degC of air: what the night's air reaches is still told", lost=("leaf",)),
    Case("lemon-outside", "clear calm night", "plant: lemon, material: plastic, volume_l: 8, spot: deck",
         "lemon leaves are lost at -2 to -3 degC (Texas AgriLife Extension)", lost=("leaf",), job="move"),
    Case("olive-by-the-wall", "clear calm night", "plant: olive, material: terracotta, volume_l: 45, spot: wall",
         "a hardened olive by a wall comes through a single night of -5 degC", kept=("whole root",)),
    Case("dahlia-pot-left-out", "clear calm night", "plant: dahlia, material: plastic, volume_l: 10, spot: deck",
         "dahlia tubers do not stand freezing: the pot should be indoors", lost=("whole root",), job="move"),
    Case("tulips-in-a-small-pot", "clear calm night", "plant: tulip, material: plastic, volume_l: 2, spot: railing",
         "bulbs root in winter, and a small pot at the railing freezes through in a night", lost=("young root",)),
    Case("fuchsia-outside", "clear calm night", "plant: fuchsia, material: plastic, volume_l: 4, spot: deck",
         "tender fuchsias are stored frost-free from the first frost on", lost=("leaf",), job="move"),
    Case("bay-standard-sleeved", "clear calm night",
         "plant: bay, stem: grafted standard, stem_cm: 80, stem_thickness_cm: 4, material: terracotta, volume_l: 40, "
         "spot: deck, value: 60",
         "the bare stem of a standard, with its graft, is sleeved before frost; the pot matters more", job="sleeve"),
    Case("rose-standard-left-alone", "clear calm night",
         "plant: rose, stem: grafted standard, stem_cm: 90, material: plastic, volume_l: 30, spot: deck",
         "a ripe standard rose is sleeved against ten degrees of frost and more, not against five",
         kept=("stem",), no_job=True),
    Case("fuchsia-standard-carried-in", "clear calm night",
         "plant: fuchsia, stem: standard, material: plastic, volume_l: 6, spot: deck",
         "a fuchsia grown as a standard is lost with its stem, so it comes in first", lost=("stem",), job="move"),
    Case("lemon-too-heavy", "clear calm night",
         "plant: lemon, material: terracotta, volume_l: 90, spot: deck, value: 150",
         "nobody carries 150 kg: the plan says so, and that the leaves go", lost=("leaf",), no_job=True,
         why="too heavy"),
    Case("palm-left-alone", "clear calm night", "plant: windmill palm, material: terracotta, volume_l: 60, spot: deck",
         "a windmill palm stands twice that cold, crown and all", safe=True, no_job=True),
    # --- five days of windy frost to -10 degC ----------------------------------------------------------------
    Case("outer-roots-of-hardy-shrubs", "windy freeze",
         "plant: Japanese holly, material: plastic, volume_l: 10, spot: deck",
         "white roots of Japanese holly die at -4 to -7 degC while its top stands -20 (Dirr & Smith 1988)",
         lost=("young root",), kept=("leaf",)),
    Case("maple-outer-roots", "windy freeze", "plant: Japanese maple, material: terracotta, volume_l: 20, spot: deck",
         "outer roots go near -4 degC whatever the wood stands", lost=("young root",), kept=("leaf",)),
    Case("spruce-in-a-tub", "windy freeze", "plant: dwarf spruce, material: wood, volume_l: 40, spot: deck",
         "a dwarf spruce in a big wooden tub lives through five days of -10 degC", kept=("leaf", "whole root")),
    Case("rhododendron-dries-out", "windy freeze",
         "plant: rhododendron, material: terracotta, volume_l: 70, spot: deck",
         "frozen balls give no water while wind pulls at the leaves; rhododendron and box suffer most",
         note="evergreen drought"),
    Case("box-dries-out", "windy freeze", "plant: box, material: terracotta, volume_l: 70, spot: deck",
         "winter drought is the commonest loss of potted box", note="evergreen drought"),
    Case("dry-box-too-late", "windy freeze",
         "plant: box, material: terracotta, volume_l: 40, spot: deck, wetness: dry, value: 60",
         "at +1 degC with the frost at the door it is too late to water", note="evergreen drought", never=("water",)),
    Case("agapanthus-evergreen", "windy freeze", "plant: agapanthus, material: plastic, volume_l: 10, spot: deck",
         "evergreen agapanthus comes in at 0 degC", lost=("leaf", "whole root"), job="move"),
    Case("bay-in-the-wind", "windy freeze", "plant: bay, material: terracotta, volume_l: 25, spot: deck",
         "potted bay loses its roots in a long freeze though the label says -8 to -10", lost=("young root",)),
    Case("lavender-in-clay", "windy freeze", "plant: lavender, material: terracotta, volume_l: 6, spot: railing",
         "a label of H5 does not save lavender in a small pot in days of wind frost", lost=("young root",)),
    Case("geranium-in-small-pot", "windy freeze",
         "plant: Geranium 'Dilys', material: plastic, volume_l: 0.7, spot: railing",
         "hardy cranesbills in small pots mostly died below -8 degC (Luchini 2005)", lost=("whole root",)),
    Case("hibiscus-moscheutos-in-pot", "windy freeze",
         "plant: rose mallow, material: plastic, volume_l: 10, spot: deck",
         "hardy hibiscus passes for hardy and died in pots at every freezing treatment (Univ. of Vermont trial)",
         lost=("whole root",)),
    # --- a clear night of -2.5 degC in mid-April --------------------------------------------------------------
    Case("apple-blossom", "spring night", "plant: apple, material: wood, volume_l: 50, spot: deck, stage: open flowers",
         "a tenth of open apple blossom goes at -2.2 degC, nine tenths at -3.9 (WSU)", lost=("bud",)),
    Case("apple-dormant-in-april", "spring night",
         "plant: apple, material: wood, volume_l: 50, spot: deck, stage: dormant",
         "the same tree with closed buds takes no harm: the gardener's word on the stage wins", safe=True, no_job=True),
    Case("maple-opening-leaves", "spring night",
         "plant: Japanese maple, material: terracotta, volume_l: 20, spot: deck, stage: new shoots",
         "opening leaves of Japanese maple blacken in an April frost", lost=("leaf",)),
    Case("hydrangea-shoots", "spring night",
         "plant: hydrangea, material: plastic, volume_l: 15, spot: deck, stage: new shoots",
         "hortensia shoots and flower buds are lost to April frosts", lost=("leaf",)),
    Case("strawberry-in-flower", "spring night",
         "plant: strawberry, material: plastic, volume_l: 5, spot: deck, stage: open flowers",
         "open strawberry flowers go at -1.1 degC (Univ. of Delaware Extension)", lost=("bud",)),
    Case("tomato-put-out-early", "spring night", "plant: tomato, material: plastic, volume_l: 3, spot: deck",
         "tomatoes are not put out before mid-May", lost=("leaf",), job="move"),
    Case("camellia-morning-sun", "spring night",
         "plant: camellia, material: glazed stoneware, volume_l: 20, spot: east, stage: open flowers",
         "camellias facing east lose frozen flowers to the morning sun", lost=("bud",),
         note="morning sun on frozen buds"),
    Case("hosta-still-down", "spring night",
         "plant: hosta, material: terracotta, volume_l: 10, spot: deck, stage: dormant",
         "what has not come up cannot be frosted", safe=True, no_job=True),
    Case("houseleek-in-spring", "spring night", "plant: houseleek, material: stone, volume_l: 8, spot: deck",
         "houseleeks need nothing in April either", safe=True, no_job=True),
    # --- the first frost on soft plants, early October --------------------------------------------------------
    Case("basil-first-frost", "first frost", "plant: basil, material: plastic, volume_l: 2, spot: deck",
         "basil is gone with the first frost", lost=("leaf",)),
    Case("bedding-lost-without-regret", "first frost",
         "plant: French marigold, material: plastic, volume_l: 5, spot: deck, value: 0.2",
         "October bedding is let go: it is not worth the minutes", lost=("leaf",), no_job=True, why="let it go"),
    Case("camellia-soft", "first frost", "plant: camellia, material: plastic, volume_l: 15, spot: deck",
         "the root system is safe in the first night frost, the ball is warm", kept=("whole root",)),
    Case("camellia-first-frost-under-eaves", "first frost",
         "plant: camellia, material: plastic, volume_l: 15, spot: wall",
         "nobody moves a camellia for a first frost of -2.5 degC", kept=("whole root",), spared=("leaf",),
         no_job=True),
    Case("soft-lemon-first-frost", "first frost", "plant: lemon, material: plastic, volume_l: 8, spot: deck",
         "soft citrus leaves go with the first frost", lost=("leaf",), job="move"),
    Case("box-first-frost", "first frost", "plant: box, material: terracotta, volume_l: 15, spot: deck",
         "the ball of a box is still warm in the first light frost",
         kept=("whole root",), spared=("leaf",), no_job=True),
    Case("bought-last-week", "first frost",
         "plant: oleander, material: plastic, volume_l: 10, spot: deck, potted_this_autumn: yes",
         "fresh from the nursery and soft: treat as tender", lost=("leaf",)),
    # --- a frost late in an ordinary October: lemon and oleander come in, olive and bay are left out --------------
    Case("olive-in-october", "October frost", "plant: olive, material: terracotta, volume_l: 30, spot: deck",
         "olive, bay and fig are brought in only if hard frost is forecast", kept=("whole root",), no_job=True),
    Case("bay-in-october", "October frost", "plant: bay, material: terracotta, volume_l: 30, spot: deck",
         "olive, bay and fig are brought in only if hard frost is forecast", kept=("whole root",), no_job=True),
    Case("oleander-in-october", "October frost", "plant: oleander, material: plastic, volume_l: 10, spot: deck",
         "oleander comes in when -2 degC is announced (seller's page)", job="move"),
    Case("lemon-in-october", "October frost", "plant: lemon, material: plastic, volume_l: 8, spot: deck",
         "citrus come in at 5 degC (French citrus growers), at the latest before a frost", lost=("leaf",), job="move"),
    # --- chilly nights without frost --------------------------------------------------------------------------
    Case("hibiscus-chilled", "chilly night",
         "plant: Hibiscus rosa-sinensis, material: plastic, volume_l: 5, spot: deck",
         "Chinese hibiscus comes in when nights near 10 degC", lost=("chill",)),
    Case("basil-chilled", "chilly night", "plant: basil, material: plastic, volume_l: 2, spot: deck",
         "basil blackens below 7 to 10 degC without any frost", lost=("chill",)),
    Case("lemon-not-chilled", "chilly night", "plant: lemon, material: plastic, volume_l: 15, spot: deck",
         "5 degC in September does a lemon no harm", safe=True, no_job=True),
    Case("box-in-september", "chilly night", "plant: box, material: terracotta, volume_l: 15, spot: deck",
         "nothing is to be done for box in September", safe=True, no_job=True),
    # --- cold after a January warm spell ----------------------------------------------------------------------
    Case("olive-softened", "after a warm spell", "plant: olive, material: plastic, volume_l: 15, spot: deck",
         "an olive that stood -7 degC at New Year is hurt at -8 after ten warm days", lost=("leaf",)),
    Case("hydrangea-softened", "after a warm spell", "plant: hydrangea, material: plastic, volume_l: 15, spot: railing",
         "flower buds of hortensias deharden faster than stems (Pagter & Williams 2011)", lost=("bud",)),
    Case("indoors-too-warm", "after a warm spell",
         "plant: camellia, material: plastic, volume_l: 10, spot: stove room",
         "a camellia in a warm dark room softens and drops its leaves", note="warm room"),
    Case("indoors-too-dark", "after a warm spell", "plant: lemon, material: plastic, volume_l: 10, spot: stove room",
         "citrus needs light all winter (French gardening guide)", note="dark room"),
    # --- wet snow, and a month of frost by night and thaw by day ----------------------------------------------
    Case("snow-on-evergreens", "wet snow", "plant: bay, height_cm: 160, material: terracotta, volume_l: 30, spot: deck",
         "wet snow bends evergreens open: tie before, brush upwards after (Iowa State Extension)", note="wet snow",
         job="tie up"),
    Case("snow-on-bare-twigs", "wet snow", "plant: apple, height_cm: 160, material: wood, volume_l: 30, spot: deck",
         "wet snow falls through bare twigs: nobody ties an apple", no_note="wet snow", never=("tie up",)),
    Case("lavender-soaked", "wet snow",
         "plant: lavender, material: terracotta, volume_l: 2, spot: railing, wetness: wet, saucer: yes, value: 1",
         "wet kills lavender before cold does", note="soaked before frost"),
    Case("clay-cracks", "frost and thaw",
         "plant: apple, material: terracotta, volume_l: 10, spot: deck, wetness: wet",
         "wet low-fired clay spalls with every frost; it rarely holds a second winter", note="clay freezes and thaws"),
    Case("plastic-does-not-crack", "frost and thaw",
         "plant: apple, material: plastic, volume_l: 10, spot: deck, wetness: wet",
         "plastic takes up no water: no crack to warn of", safe=True, no_note="clay freezes and thaws"),
    # --- frost by night, and days near zero ------------------------------------------------------------------
    Case("bay-covered-by-day", "no thaw by day",
         "plant: bay, material: terracotta, volume_l: 25, spot: deck, value: 90",
         "if it stays below zero all day the fleece stays on, open to the lee at midday: common practice, no source",
         job="fleece", on_by_day=True),
    Case("bay-wrapped-for-the-season", "no thaw by day",
         "plant: bay, material: terracotta, volume_l: 30, spot: deck, value: 120",
         "a pot whose roots are in danger night after night is wrapped once, for the winter, and unwrapped when buds "
         "swell: common practice, no source", job="wrap", for_the_season=True),
    Case("oleander-uncovered-in-spring", "spring night",
         "plant: oleander, material: plastic, volume_l: 40, spot: wall, value: 120",
         "in April the fleece comes off every morning and nothing stays for the season: common practice, no source",
         on_by_day=False, for_the_season=False),
    # --- a mild afternoon before days of windy frost ----------------------------------------------------------
    Case("dry-box-watered", "before a freeze",
         "plant: box, material: terracotta, volume_l: 40, spot: deck, wetness: dry, value: 60",
         "even moisture through winter counts most: what is dry and evergreen is watered before the ball freezes "
         "(Rutgers FS528)", note="evergreen drought", job="water"),
    Case("dry-lavender-left-dry", "before a freeze",
         "plant: lavender, material: terracotta, volume_l: 20, spot: deck, wetness: dry, value: 60",
         "what rots in the wet is not watered in winter", never=("water",)),
    # --- a light frost on half-frozen balls, and a gale -------------------------------------------------------
    Case("hardy-in-thaw", "thaw", "plant: blueberry, material: plastic, volume_l: 30, spot: deck",
         "a light frost after the great freeze changes nothing for a blueberry, and a wrap would keep the ice in",
         safe=True, no_job=True, note="still frozen"),
    Case("frozen-bay-not-wrapped", "thaw",
         "plant: bay, material: terracotta, volume_l: 40, spot: deck, wetness: dry, value: 100",
         "a frozen ball is neither wrapped, watered nor mulched, however dry: it would keep the ice in",
         note="still frozen", never=("wrap", "water", "mulch", "plunge", "fill gaps")),
    Case("oleander-in-gale", "gale", "plant: oleander, material: plastic, volume_l: 6, spot: deck",
         "no hood in a gale: an oleander in -4 degC and storm is carried in", job="move",
         never=("fleece", "double fleece")),
    Case("apple-in-gale", "gale", "plant: apple, material: wood, volume_l: 60, spot: wall",
         "frost and gale together do a heavy, hardy tub no harm", kept=("leaf", "whole root")),
)
