"""The answer: one plan that every rendering reads, and its versioned JSON form."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum
from typing import Any

from frostguard.hardiness.model import Mark, Tissue
from frostguard.weather.worst_case import SERVICE as WORST_CASE

PLAN_FORMAT = 1

RISK = 0.1
"""Chance of damage from which a pot counts as at risk, in a night and in the headline alike; estimate."""

LIKELY = 0.5
ALMOST_CERTAIN = 0.9
"""Chances of loss from which a job is more urgent than others on the way; estimates."""

CLEAR_MARGIN_K = 2.5
"""How far above the limit the coldest must stay before a job that was told is dropped, or a cover may come off: a
dead band, as alarms have one, or a forecast that wavers would turn it on and off; estimate."""

WARM_DAY_C = 10.0
"""Warmest air of a day from which fleece must come off: plants wake, mould grows; common practice."""

SAFE_AIR_C = 2.0
"""Covers come off when the air at leaf height is above this; common practice, extension advice."""

OUTER_ROOTS_RISK = 0.25
"""Chance of losing outer roots from which they count, and a night belongs to a cold spell; estimate."""


class Protection(Enum):
    """What can be done for a pot; each becomes a job with a deadline."""

    FLEECE = "fleece"  # one layer over the plant, down to the pot rim
    DOUBLE_FLEECE = "double fleece"
    WRAP = "wrap"  # round the pot wall
    MOVE = "move"
    RAISE = "raise"  # off the floor, on feet or a board
    GROUP = "group"  # tight among its neighbours
    MULCH = "mulch"
    PLUNGE = "plunge"  # the pot in a crate, filled round with bark, leaves or straw
    FILL_GAPS = "fill gaps"  # between the pots of a group, with the same
    SLEEVE = "sleeve"  # round a bare stem and the graft on it
    TIE_CROWN = "tie crown"  # leaves drawn up round the growing point of a palm or the like
    WATER = "water"
    SHADE = "shade"  # frozen buds from the morning sun
    TIE_UP = "tie up"  # an evergreen, before wet snow
    SECURE = "secure"  # against a gale: lay down, or tie
    UNCOVER = "uncover"  # take a hood off before a gale


class Batch(Enum):
    """When a job is due, and so under which heading it is told."""

    TONIGHT = "tonight"
    AHEAD = "ahead"  # by daylight today, for a night before which there is no more of it
    BEFORE_SPELL = "before spell"
    TOMORROW = "tomorrow"  # asked too late for today; do it in the next working window


class NoJob(Enum):
    """Why a pot that is at risk has no job."""

    TOO_HEAVY = "too heavy"  # for the hands there are, by day too
    TOO_DARK = "too dark"  # heavy or over a drop, and the hours of work before the night lie after sunset
    NO_ROOM = "no room"  # no indoor place, or none with floor and light left
    ROOM_TOO_COLD = "room too cold"  # it stands indoors already, and no other room is better
    TOO_LATE = "too late"  # nobody can work before it
    NO_TIME = "no time"  # other pots gain more in the time there is
    NO_COVERS = "no covers"  # other pots gain more by the covers there are
    NOTHING_HELPS = "nothing helps"  # nothing at hand that is worth its minutes
    LET_GO = "let it go"  # what may be lost is worth less than the work that would save it
    HARMED_ALREADY = "harmed already"  # rather than not, before any job could act


class Stay(Enum):
    """Why a job is not undone the day after, or nothing is said of when it may be."""

    NOT_IN_SIGHT = "not in sight"  # no night shown is harmless enough
    UNTIL_SPRING = "until spring"  # tender plants, once in, winter there
    FOR_THE_WINTER = "for the winter"  # wraps, mulch, feet and groups do no harm in mild weather
    WHILE_COLD = "while it is cold"  # fleece over plants at rest, opened at midday, as far as the forecast reaches
    FOR_THE_SEASON = "for the season"  # the same, and most nights in sight call for it


class PlanNote(Enum):
    """What the advice itself has to note about an answer; the weather's own notes stand beside these."""

    STOCK_ASSUMED = "stock assumed"
    NO_HANDS = "nobody can work before tonight"
    AFTER_DUSK = "asked after dusk"
    NOBODY_UNTIL = "nobody until"  # by the windows; followed by the evening of the last night before which nobody comes
    BY_LAMP = "work by lamp"
    TIME_SHORT = "more work than time"
    SHORT_HISTORY = "short history"  # less than ten days of past weather
    GUST_RECKONED = "gust from mean wind"
    SUN_RECKONED = "sun from cloud"
    TUNED = "tuned"  # to the readings of thermometers
    SURER = "surer"  # the forecast is taken to miss by less than it does elsewhere, as readings have taught
    SET_ASIDE = "set aside"  # some of several pots alike are done; followed by label, how many, of how many
    PART_READY = "part ready"  # some are prepared, and not reckoned so; followed by the same


class Caution(Enum):
    """A standing warning that belongs to certain jobs."""

    HEAVY = "heavy"
    TWO_PEOPLE = "two people"
    ICE = "ice"
    GALE_HOODS = "gale hoods"
    FALLING_POTS = "falling pots"
    OVER_A_DROP = "over a drop"  # lifted off a railing or a hook, with the street or people below
    FLOOR_LOAD = "floor load"
    ESCAPE_ROUTE = "escape route"
    NO_FLAMES = "no flames"
    PLASTIC_OFF_LEAVES = "plastic off leaves"
    DARK_WORK = "dark work"
    DOOR = "door"
    POISON = "poison"
    SPINES = "spines"
    WATER_RUN_OFF = "water run-off"
    LOOSE_SLEEVE = "loose sleeve"  # what is tied round a stem cuts in, and keeps bark wet
    CANES = "canes"


@dataclass(frozen=True, slots=True)
class TissueOutlook:
    """One tissue of one pot in the coming night: its limit today and how cold it gets.

    `coldest_c` is the median over members of each member's coldest, `coldest_c_p10` the tenth
    percentile; `chance` the chance of damage to the tissue in that night; `learned_k` how far losses and
    survivals have moved the limit [K]. All are temperatures of the tissue; `screen_air_limit_c` is the limit as
    the trade tells it, None where it was told for the tissue.
    """

    tissue: Tissue
    planting: str
    limit_c: float
    coldest_c: float
    coldest_c_p10: float
    chance: float
    mark: Mark
    source: str
    stage: str
    learned_k: float = 0.0
    screen_air_limit_c: float | None = None

    @property
    def margin_c(self) -> float:
        """Kelvin by which the coldest stays above the limit; negative below it."""
        return self.coldest_c - self.limit_c


@dataclass(frozen=True, slots=True)
class Coldest:
    """The coldest of a pot within the night [degC]: medians over members, and tenth percentiles."""

    ring_c: float
    ring_c_p10: float
    mean_c: float
    mean_c_p10: float
    core_c: float
    core_c_p10: float
    leaf_c: float
    leaf_c_p10: float


class _Risk:
    """Whether a pot is at risk, by the chances that are told of it."""

    __slots__ = ()
    tissues: tuple[TissueOutlook, ...]
    chance_of_damage: float

    @property
    def at_risk(self) -> bool:
        """Whether it is, outer roots aside."""
        return self.chance_of_damage >= RISK

    @property
    def outer_roots_at_risk(self) -> bool:
        """Whether its outer roots are."""
        return any(one.tissue is Tissue.YOUNG_ROOT and one.chance >= OUTER_ROOTS_RISK for one in self.tissues)


@dataclass(frozen=True, slots=True)
class PotOutlook(_Risk):
    """One pot in the coming night, left as it is and, where jobs are planned, with them done.

    `chance_of_damage` leaves outer roots aside, which are told with the cold spell; `expected_loss_eur`
    counts them.
    """

    id: str
    label: str
    plant: str
    spot: str
    count: int
    coldest: Coldest
    frozen_fraction: float
    hours_ring_below_0: float
    tissues: tuple[TissueOutlook, ...]
    chance_of_damage: float
    expected_loss_eur: float
    with_plan: PotWithPlan
    water_fraction: float  # of the mix by volume when asked, after the rain and drying of the past days
    unattended: Unattended | None = None  # where nobody comes before later nights either
    no_job: NoJob | None = None  # why nothing is planned for a pot at risk, or nothing that is likely to save it
    irreplaceable: bool = False  # any of its plants
    harmed_already: bool = False  # rather than not, by the night that is under way
    off_the_floor: bool = False  # hangs or is fixed to a railing, so that no trolley helps

    @property
    def left(self) -> PotWithPlan | Unattended:
        """What is left at risk till somebody comes again: in the coming night, or in all before which nobody does."""
        return self.unattended or self.with_plan

    @property
    def loss_undone_eur(self) -> float:
        """What there is to lose till somebody comes again with nothing done."""
        return self.expected_loss_eur if self.unattended is None else self.unattended.loss_undone_eur


@dataclass(frozen=True, slots=True)
class PotWithPlan(_Risk):
    """The same night with the pot's jobs done; the pot as it stands where it has none for that night."""

    coldest_ring_c: float
    coldest_leaf_c: float
    tissues: tuple[TissueOutlook, ...]
    chance_of_damage: float
    expected_loss_eur: float


@dataclass(frozen=True, slots=True)
class Unattended(_Risk):
    """A pot in the coming night and those after it before which nobody comes, taken together, with its jobs done.

    As it stands where it has none; `loss_undone_eur` is what there is to lose with nothing done.
    """

    nights: tuple[date, ...]
    tissues: tuple[TissueOutlook, ...]
    chance_of_damage: float
    expected_loss_eur: float
    loss_undone_eur: float


@dataclass(frozen=True, slots=True)
class CoverUse:
    """A piece from the shed that a job needs, with its size laid flat [m]; of a sheet or roll the share it takes.

    Feet and mulch have no size.
    """

    material: str
    piece: str
    count: float
    width_m: float | None = None
    length_m: float | None = None

    @property
    def kind(self) -> PieceKind:
        """What tells it from other pieces."""
        return self.material, self.piece, self.width_m, self.length_m


PieceKind = tuple[str, str, float | None, float | None]
"""Material, piece, width and length [m]: pieces that are alike, one as good as the other."""


@dataclass(frozen=True, slots=True)
class Loss:
    """What is lost without the job: the tissue that the job saves most of, and the money to be expected.

    `chance` is without the pot's jobs, `chance_with_jobs` with them, `expected_eur` the whole loss without
    them [euro]. `tissue` is None where the pot itself would go over in a gale, and what is left with the jobs
    is not reckoned then. `plant` names whose tissue it is in a pot of several.
    """

    tissue: Tissue | None
    chance: float
    expected_eur: float
    chance_with_jobs: float | None = None
    plant: str | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """One thing to do at one pot.

    Times are aware and in the site's time zone. `with_job` holds the other protections that the chance with the
    jobs takes for granted, since they are for the same part of the pot. `litres` is for watering. `undo_after` is
    when the job may be undone safely; where it is None, `stays` says why, if there is anything to undo at all.
    `comes_late` says that the hands there are finish it only after what it is to save has got too cold.
    `too_cold_there_from` is the evening of the first night, of those that a pot stays where it is carried to, that is
    too cold for it there. `for_night` is the evening of the first night that would harm the pot, of those that the job
    is for. `there_again` is when, by the hours of work, somebody is first there to undo what may be undone earlier, and
    `warm_till_then` says that a day in between is too warm under a cover.
    """

    pot: str
    label: str
    spot: str
    protection: Protection
    batch: Batch
    to_spot: str | None
    start_by: datetime
    minutes: float
    people: int
    weight_kg: float | None
    covers: tuple[CoverUse, ...]
    litres: float | None
    loss_otherwise: Loss
    cautions: tuple[Caution, ...]
    undo_after: datetime | None
    stays: Stay | None = None
    count: int = 1
    irreplaceable: bool = False
    comes_late: bool = False
    with_job: tuple[Protection, ...] = ()
    alike: int = 1  # pots under this name, of which the job is for `count`
    left_on_by_day: bool = False  # a cover that the day after the night is too cold to take off
    season_ends: date | None = None  # for what stays: when buds swell in a usual year
    there_again: datetime | None = None
    warm_till_then: bool = False
    too_cold_there_from: date | None = None
    for_night: date | None = None
    number: int | None = None  # by which it is signed off; None while no logbook knows it

    @property
    def goes_first(self) -> bool:
        """Whether it goes before all that money can buy again: at risk, and not for a chance of a few in a hundred."""
        return self.irreplaceable and self.loss_otherwise.chance >= RISK


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A job that would have paid for itself, had others not made more of what is scarce; and what that risks."""

    pot: str
    label: str
    spot: str
    batch: Batch
    lacking: NoJob
    loss: Loss
    count: int = 1


@dataclass(frozen=True, slots=True)
class NightOutlook:
    """One of the coming nights, noon to noon on the site's clock, dated by its evening."""

    date: date
    coldest_air_c: float
    coldest_air_c_p10: float
    windy: bool
    pots_at_risk: int  # by `RISK`, left as they are
    young_roots_at_risk: int
    complete: bool  # False where the forecast leaves hours of this night out


@dataclass(frozen=True, slots=True)
class ColdSpell:
    """A run of nights that outer roots will not stand unprotected."""

    first_night: date
    last_night: date
    began: bool  # already under way when asked
    pots: int


@dataclass(frozen=True, slots=True)
class WeatherCredit:
    """Where the weather comes from, and how old it is."""

    service: str
    model: str | None
    issued: datetime | None
    fetched: datetime | None
    age_h: float | None
    credit: str
    members: int
    from_store: bool

    @property
    def is_guess(self) -> bool:
        """Whether there is no forecast at all: the plan holds for the worst that is likely at this date."""
        return self.service == WORST_CASE


@dataclass(frozen=True, slots=True)
class AdvicePlan:
    """Everything that frostguard has to say for one evening.

    `notes` are codes of what was assumed or repaired for this answer: `PlanNote`, and those of the weather
    (missing wind, incomplete night); renderers turn them into sentences.
    """

    site: str
    time_zone: str
    asked_at: datetime
    night: date
    sunset: datetime | None
    weather: WeatherCredit
    jobs: tuple[Job, ...]
    pots: tuple[PotOutlook, ...]
    nights: tuple[NightOutlook, ...]
    spell: ColdSpell | None
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    garden_assumed: tuple[tuple[str, tuple[str, ...]], ...]  # pot id, what was assumed for it
    left_out: tuple[LeftOut, ...] = ()
    pace_of_work: float = 1.0  # that the jobs' minutes are reckoned with, from sign-offs

    @property
    def fetch_first(self) -> tuple[CoverUse, ...]:
        """Whole pieces to bring from the shed for all jobs."""
        return pieces_to_fetch(self.jobs)

    @property
    def asks_something(self) -> bool:
        """Whether a person has something to do: a job, or to find another way for a pot that has none."""
        return bool(self.jobs) or any(pot.no_job is not None for pot in self.pots)

    @property
    def minutes(self) -> float:
        """Minutes of all jobs."""
        return sum(job.minutes for job in self.jobs)

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain data, JSON format 1: ISO 8601 times with offset, degC, euro, minutes."""
        from frostguard.advice.plan_data import plan_dict

        return plan_dict(self)


MEASURED_OUT = frozenset({"litres"})
"""What is fetched by measure, not by the piece."""

COUNTED = frozenset({"hood", "sleeve"})
"""Pieces that are used whole, one for each plant and layer."""

SPREAD = frozenset({"sheet"})
"""Pieces that are spread over plants, so that one serves a single spot; a roll is cut."""


def pieces_to_fetch(jobs: Iterable[Job]) -> tuple[CoverUse, ...]:
    """The whole pieces that these jobs need: shares are cut from as few as they fit into, spot by spot."""
    uses: dict[PieceKind, dict[str, list[float]]] = {}
    for job in jobs:
        for use in job.covers:
            place = job.spot if use.piece in SPREAD else ""
            uses.setdefault(use.kind, {}).setdefault(place, []).append(use.count)
    return tuple(
        CoverUse(
            material,
            piece,
            sum(sum(shares) if piece in MEASURED_OUT else _whole(shares) for shares in by_place.values()),
            width_m,
            length_m,
        )
        for (material, piece, width_m, length_m), by_place in uses.items()
    )


def _whole(shares: Iterable[float]) -> int:
    """How many pieces these shares are cut from, each from the first one that has enough left."""
    left: list[float] = []
    whole = 0
    for share in shares:
        if share >= 1.0:
            whole += math.ceil(share - 1e-9)
            continue
        fits = next((k for k, rest in enumerate(left) if rest >= share - 1e-9), None)
        if fits is None:
            left.append(1.0 - share)
        else:
            left[fits] -= share
    return whole + len(left)
