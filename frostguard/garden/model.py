"""What stands where: the records that a garden file is read into.

Everything is in SI units and plain enumerations here; litres and centimetres exist only in the file.
A value that the file did not give was filled by a stated rule, and the rule's name stands in `assumed`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Surroundings(Enum):
    """The land upwind, which slows the wind on its way from the open field."""

    OPEN_COUNTRY = "open country"
    SUBURB = "suburb"
    CITY = "city"


class Beneath(Enum):
    """What lies under the floor that a pot stands on."""

    GROUND = "ground"
    HEATED_ROOM = "slab over heated room"
    OPEN_AIR = "slab over open air"
    INSULATED_ROOF = "slab over insulated roof"
    DECKING = "decking"
    NOTHING = "nothing"


class RoomKind(Enum):
    """How an indoor spot follows the outdoors."""

    UNHEATED = "unheated"
    FROST_FREE = "frost-free"
    COLD_FRAME = "cold frame"
    GLAZED_BALCONY = "glazed balcony"


class Light(Enum):
    """Light for a plant that stands there in winter."""

    BRIGHT = "bright"
    DIM = "dim"
    DARK = "dark"


class Shape(Enum):
    """The shape of a pot."""

    ROUND = "round"
    SQUARE = "square"
    TROUGH = "trough"
    PAN = "shallow pan"
    HANGING = "hanging"
    RAILING_BOX = "railing box"


class Neighbours(Enum):
    """How pots stand to one another."""

    ALONE = "alone"
    ROW = "row"
    GROUP = "group"
    PACKED = "packed"  # a group with leaves, straw or bark in its gaps


class Wetness(Enum):
    """How wet the mix is."""

    DRY = "dry"
    MOIST = "moist"
    WET = "wet"


class Stage(Enum):
    """What the plant is doing, where the gardener knows better than the calendar."""

    DORMANT = "dormant"
    SWELLING_BUDS = "swelling buds"
    BUDS_IN_COLOUR = "buds in colour"
    OPEN_FLOWERS = "open flowers"
    NEW_SHOOTS = "new shoots"


class Stem(Enum):
    """A stem that stands bare below the head, and so in the frost."""

    STANDARD = "standard"  # a bare stem that carries a head
    GRAFTED = "grafted standard"  # the same, with the head grafted on top of it
    YOUNG_TRUNK = "young trunk"  # of a young tree, with thin bark


class SnowLies(Enum):
    """Whether snow that lies about can be relied on to lie on and round the pots of a spot."""

    NO = "no"  # swept, blown or melted off, or not known: the colder case
    ON_TOP = "on top"
    BURIES = "buries"


class CoverPlace(Enum):
    """Where a cover goes."""

    PLANT = "over the plant"
    POT = "round the pot"
    STEM = "round the stem"
    MIX = "on the mix"


@dataclass(frozen=True, slots=True)
class Site:
    """The place: position [deg, north and east positive], heights [m], time zone name, land upwind.

    `coldest_night_c` is the coldest night that anybody remembers there, None where the person does not say.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: str
    height_above_ground_m: float
    surroundings: Surroundings
    assumed: tuple[str, ...] = ()
    coldest_night_c: float | None = None


@dataclass(frozen=True, slots=True)
class Room:
    """An indoor spot: its kind, the light in it, and the days by which it lags the outdoors [d]."""

    kind: RoomKind
    light: Light
    lag_d: float
    warmer_than_outdoors_k: float
    lowest_c: float | None  # a frost-free room is held above this [degC]


@dataclass(frozen=True, slots=True)
class Spot:
    """A part of the terrace, or a room.

    `wind_fraction` is wind at the pots over wind at terrace height (0 to 1); `sky_view` the share of
    the open sky dome that the pots see (0 to 1); `facing_deg` the compass bearing that the spot looks
    to, or None where it is open all round; `free_floor_m2` room for pots moved here, or None when
    not stated (then nothing is moved here).
    """

    name: str
    label: str
    wind_fraction: float
    sky_view: float
    beneath: Beneath
    against_house_wall: bool
    facing_deg: float | None
    free_floor_m2: float | None
    room: Room | None
    escape_route: bool  # a shared escape route is never used for pots
    assumed: tuple[str, ...] = ()
    snow: SnowLies = SnowLies.NO
    horizon_deg: float = 0.0  # below this height the sun stays behind houses, hills or trees

    @property
    def dark(self) -> bool:
        """Whether it is a room without light for plants."""
        return self.room is not None and self.room.light is Light.DARK


@dataclass(frozen=True, slots=True)
class OwnLimits:
    """What the gardener has seen his own plant stand in its pot, hardened in midwinter [degC].

    Where a value is given it wins over the limits table; None leaves the table's.
    """

    leaf_c: float | None = None  # leaves, or the wood of a leafless plant
    flower_c: float | None = None  # buds in colour and open flowers
    young_root_c: float | None = None
    whole_root_c: float | None = None


@dataclass(frozen=True, slots=True)
class BareStem:
    """The bare stem of a standard or young tree: what it is, and its length and thickness [m]."""

    kind: Stem
    length_m: float
    thickness_m: float


@dataclass(frozen=True, slots=True)
class Planting:
    """One plant in a pot: the taxon's key in the limits table, and what the gardener knows of it.

    `name` is as written in the file. `taxon` is a key of the limits table, or None where only a
    rating is known; `rating` is a USDA zone or UK hardiness rating such as "7b" or "H4".
    """

    name: str
    taxon: str | None
    rating: str | None
    height_m: float
    width_m: float
    evergreen: bool | None  # None: by the taxon
    stage: Stage | None  # None: by season
    value_eur: float
    irreplaceable: bool
    bulb_depth_m: float | None = None
    own_limits: OwnLimits = OwnLimits()
    bare_stem: BareStem | None = None

    @property
    def key(self) -> str:
        """What it has in common with others of its kind: the taxon, or the name where there is none."""
        return self.taxon or self.name


@dataclass(frozen=True, slots=True)
class Pot:
    """One pot, or `count` pots alike, with all its plants.

    Root-ball sizes are inner sizes of the mix: `radius_m` and `height_m` of the cylinder that stands
    for it (same ratio of side area to volume for troughs and square pots). `volume_l` is the pot's
    volume to the rim, as it is sold, for display; `floor_m2` what it covers of the floor.
    `wall_thickness_m` goes with `wall`, a key of the wall catalogue, as `mix` and `covers_on` are keys
    of theirs.
    """

    id: str
    label: str
    plantings: tuple[Planting, ...]
    wall: str
    wall_thickness_m: float
    shape: Shape
    radius_m: float
    height_m: float
    volume_l: float
    floor_m2: float
    mix: str
    wetness: Wetness
    feet: bool
    saucer: bool
    drain_hole: bool
    mulch_m: float
    covers_on: tuple[str, ...]
    spot: str
    neighbours: Neighbours
    potted_this_autumn: bool
    count: int
    line: int  # of the garden file, for messages
    assumed: tuple[str, ...] = ()
    fed_late: bool = False  # with nitrogen, after mid-August
    board: bool = False  # stands on an insulating board
    set_aside: int = 0  # pots alike besides `count`, for which this night's job is done


@dataclass(frozen=True, slots=True)
class CoverPiece:
    """Pieces in the shed: a key of the cover catalogue, what one piece measures [m], and how many."""

    material: str
    piece: str  # "hood", "sheet", "roll", "sleeve", "bag"
    width_m: float | None
    length_m: float | None
    litres: float | None
    count: int


@dataclass(frozen=True, slots=True)
class Stock:
    """What is at hand to protect with: covers, pot feet by count, and crates that take a pot with a hand to spare.

    `stated` is False where the garden file says nothing of it; then usual covers are taken as at hand.
    """

    covers: tuple[CoverPiece, ...]
    pot_feet: int
    stated: bool = True
    crates: int = 0


@dataclass(frozen=True, slots=True)
class Garden:
    """A whole garden file, checked: pots refer only to spots, walls, mixes and covers that exist."""

    path: str
    site: Site
    spots: tuple[Spot, ...]  # in walking order
    pots: tuple[Pot, ...]
    stock: Stock

    def spot(self, name: str) -> Spot:
        """The spot of that name; KeyError for a name that is not in the file."""
        for spot in self.spots:
            if spot.name == name:
                return spot
        raise KeyError(name)
