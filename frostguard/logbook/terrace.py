"""The terrace as the jobs that were signed off have left it: for the next question, and for the notices."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from frostguard import places
from frostguard.advice.plan import COUNTED, SPREAD, PieceKind, Protection
from frostguard.advice.protections import CRATE_OF_BARK, MULCH_M, TIED_CROWN
from frostguard.advice.state import PartDone, TerraceState, Told
from frostguard.advice.supplies import WRAP_LAYERS, piece_size_m
from frostguard.advice.tuned import tuned_from
from frostguard.errors import FrostguardError
from frostguard.garden.catalogue import Catalogue
from frostguard.garden.model import CoverPiece, CoverPlace, Garden, Neighbours, Pot, Stock
from frostguard.logbook.book import Logbook
from frostguard.logbook.dark import dark_days_spent, in_the_dark
from frostguard.logbook.floor import floor_as_left
from frostguard.logbook.in_parts import in_parts
from frostguard.logbook.jobs import Placed, in_force, last_watered
from frostguard.logbook.losses import sightings
from frostguard.logbook.nights import days_before, told
from frostguard.logbook.pace_of_work import pace_of_work
from frostguard.logbook.wetness import last_wetness
from frostguard.notify.moment import InForce
from frostguard.report.words import say
from frostguard.weather.night_errors import usual_habits
from frostguard.weather.series import WeatherSeries


@dataclass(frozen=True, slots=True)
class Standing:
    """The garden with every signed-off job done, and what else is known beyond the file."""

    garden: Garden
    state: TerraceState
    in_force: tuple[InForce, ...]


def is_of(book: Logbook, garden: Garden) -> bool:
    """Whether the logbook tells of this garden, or of none yet."""
    rows = book.rows("SELECT place FROM belongs")
    return not rows or rows[0]["place"] == _place(garden)


def claim(book: Logbook, garden: Garden) -> None:
    """Let the logbook be this garden's; what is said and signed off belongs to one garden.

    Raises
    ------
    FrostguardError
        If it is another one's, some kilometre or more away.
    """
    if not is_of(book, garden):
        raise FrostguardError(
            say("The logbook {path} belongs to a garden at another place.", path=str(book.path)),
            next_step=say(
                "Name another data folder for this garden in {variable}.", variable=places.DATA_VARIABLE
            ),
        )
    book.write(
        lambda connection: connection.execute(
            "INSERT INTO belongs (place) SELECT ? WHERE NOT EXISTS (SELECT 1 FROM belongs)", (_place(garden),)
        )
    )


def _place(garden: Garden) -> str:
    """The place to about a kilometre: names are changed, and coordinates made more exact."""
    return f"{garden.site.latitude_deg:.2f} {garden.site.longitude_deg:.2f}"


def standing(
    book: Logbook,
    garden: Garden,
    catalogue: Catalogue,
    now: datetime,
    *,
    without: Collection[tuple[str, Protection]] = (),
) -> Standing:
    """The terrace as it stands.

    Parameters
    ----------
    book : Logbook
        What was signed off; one of another garden tells nothing of this one.
    garden : Garden
        As the file describes it; jobs for pots or spots that are no longer in it are passed over.
    catalogue : Catalogue
        Covers and mixes.
    now : datetime
        Aware.
    without : collection of (pot id, Protection), optional
        What is taken as undone, to see what would come of it.
    """
    if not is_of(book, garden):
        return Standing(garden, TerraceState(), ())
    pots = {pot.id: pot for pot in garden.pots}
    spots = {spot.name for spot in garden.spots}
    placed = [
        one
        for one in in_force(book)
        if one.job.pot in pots
        and (one.job.to_spot is None or one.job.to_spot in spots)
        and not one.is_off_by_itself(now)
        and (one.job.pot, one.job.protection) not in without
    ]
    left: dict[str, Pot] = {}
    in_part: list[PartDone] = []
    for pot in garden.pots:
        rest, done, parts = in_parts(pot, [one for one in placed if one.job.pot == pot.id])
        left[pot.id] = _as_left(rest, done, garden, catalogue)
        in_part += parts
    touched = {one.job.pot for one in placed}
    moved = replace(
        garden,
        pots=tuple(left.values()),
        spots=floor_as_left(garden.spots, garden.pots, placed),
        stock=_left_in_the_shed(garden.stock, placed),
    )
    told_of = tuple(_told_of(one, pots[one.job.pot]) for one in placed)
    return Standing(
        garden=moved,
        state=TerraceState(
            tuned=tuned_from(book.tuned(), usual_habits(garden.site)),
            seen=sightings(book),
            pace_of_work=pace_of_work(book),
            covers_in_force={pot.id: pot.covers_on for pot in moved.pots if pot.id in touched},
            watered_at=last_watered(book),
            wetness=last_wetness(book),
            in_part=tuple(in_part),
            dark_days_spent=dark_days_spent(book, in_the_dark(moved, told_of), now),
        ),
        in_force=told_of,
    )


def with_days_before(state: TerraceState, book: Logbook, weather: WeatherSeries, time_zone: str) -> TerraceState:
    """The state with the air of the days before the weather series begins, as far as they are kept without a gap."""
    begins = weather.times[0].astype("datetime64[s]").item().replace(tzinfo=ZoneInfo("UTC"))
    first: date = begins.astimezone(ZoneInfo(time_zone)).date()
    days = days_before(book, first)
    return replace(
        state,
        daily_minimum_c=tuple(minimum for _, minimum, _ in days),
        daily_mean_c=tuple(mean for _, _, mean in days),
    )


def with_told(state: TerraceState, book: Logbook, night: date) -> TerraceState:
    """The state with the jobs that the person has been told for a night, so that they are not changed for pennies."""
    brief = told(book, night)
    if brief is None:
        return state
    return replace(state, told=frozenset(Told(job.pot, job.protection, job.to_spot) for job in brief.jobs))


def _as_left(pot: Pot, done: Sequence[Placed], garden: Garden, catalogue: Catalogue) -> Pot:
    """One pot with its jobs done, in the order in which they were."""
    for one in done:
        used = tuple(use.material for use in one.job.covers if use.material in catalogue.covers)
        match one.job.protection:
            case Protection.FLEECE:
                pot = replace(pot, covers_on=_with(pot.covers_on, used))
            case Protection.DOUBLE_FLEECE:
                pot = replace(pot, covers_on=_with(pot.covers_on, used * 2))
            case Protection.WRAP | Protection.SLEEVE:
                pot = replace(pot, covers_on=_with(pot.covers_on, used * _wrap_layers(used)))
            case Protection.MOVE if one.job.to_spot is not None:
                indoors = garden.spot(one.job.to_spot).room is not None
                covers = _off_the_plant(pot.covers_on, catalogue) if indoors else pot.covers_on
                pot = replace(pot, spot=one.job.to_spot, neighbours=Neighbours.ROW, covers_on=covers)
            case Protection.RAISE:
                pot = replace(pot, feet=True)
            case Protection.GROUP:
                pot = replace(pot, neighbours=Neighbours.GROUP)
            case Protection.MULCH:
                pot = replace(pot, mulch_m=max(pot.mulch_m, MULCH_M))
            case Protection.PLUNGE:
                pot = replace(pot, covers_on=_with(pot.covers_on, (CRATE_OF_BARK,)))
            case Protection.FILL_GAPS:
                pot = replace(pot, neighbours=Neighbours.PACKED)
            case Protection.TIE_CROWN:
                pot = replace(pot, covers_on=_with(pot.covers_on, (TIED_CROWN,)))
            case Protection.UNCOVER:
                pot = replace(pot, covers_on=_off_the_plant(pot.covers_on, catalogue))
            case _:  # laid down, or watered: nothing that is drawn from the pot itself
                pass
    return pot


def _off_the_plant(covers: tuple[str, ...], catalogue: Catalogue) -> tuple[str, ...]:
    return tuple(key for key in covers if catalogue.covers[key].place is not CoverPlace.PLANT)


def _wrap_layers(used: Sequence[str]) -> int:
    return max((WRAP_LAYERS.get(key, 1) for key in used), default=1)


def _with(covers: tuple[str, ...], more: tuple[str, ...]) -> tuple[str, ...]:
    """The covers with those that are not on yet; the file may have been brought up to date meanwhile."""
    return covers + tuple(key for key in more if key not in covers)


def _left_in_the_shed(stock: Stock, placed: Iterable[Placed]) -> Stock:
    """The stock without what is in use: hoods and sheets whole, rolls by what was cut off, mulch by the litre."""
    if not stock.stated:
        return stock
    listed = {(piece.material, piece.piece, *piece_size_m(piece)) for piece in stock.covers}
    taken: dict[PieceKind, float] = {}
    for one in placed:
        for use in one.job.covers:
            kind = use.kind if use.kind in listed else _of_any_size(use.material, use.piece)
            taken[kind] = taken.get(kind, 0.0) + use.count
    return replace(
        stock,
        covers=tuple(rest for piece in stock.covers for rest in _rest_of(piece, taken)),
        crates=max(stock.crates - math.ceil(taken.get(_of_any_size("crate", "crate"), 0.0)), 0),
        pot_feet=max(stock.pot_feet - 3 * math.ceil(taken.get(_of_any_size("pot feet", "set"), 0.0)), 0),
    )


def _of_any_size(material: str, piece: str) -> PieceKind:
    """For a piece whose size is not noted or no longer in the file: a roll that is cut, say."""
    return material, piece, None, None


def _rest_of(piece: CoverPiece, taken: dict[PieceKind, float]) -> Iterable[CoverPiece]:
    """What is left of some pieces; `taken` is lessened by what they gave."""
    if piece.litres is not None:
        key = _of_any_size(piece.material, "litres")
        there = piece.litres * piece.count
        used = min(taken.get(key, 0.0), there)
        taken[key] = taken.get(key, 0.0) - used
        if used:
            return (replace(piece, litres=there - used, count=1),) if used < there else ()
        return (piece,)
    used = 0.0
    own = (piece.material, piece.piece, *piece_size_m(piece))
    for kind in dict.fromkeys((own, _of_any_size(piece.material, piece.piece))):
        gave = min(taken.get(kind, 0.0), piece.count - used)
        taken[kind] = taken.get(kind, 0.0) - gave
        used += gave
    cut = piece.length_m is not None and piece.piece not in COUNTED and piece.piece not in SPREAD
    begun = used % 1.0 if cut else 0.0
    whole = piece.count - math.ceil(used - 1e-9)
    rest = [replace(piece, count=whole)] if whole else []
    if begun > 1e-9 and piece.length_m is not None:
        rest.append(replace(piece, count=1, length_m=piece.length_m * (1.0 - begun)))
    return rest


def _told_of(one: Placed, pot: Pot) -> InForce:
    """What the notices say of it; `spot` is where the pot belongs."""
    return InForce(pot.id, pot.label, pot.spot, one.job.protection, one.since, one.job.undo_after)
