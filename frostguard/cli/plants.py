"""The commands of the plant table: show one plant or rating, search by name, list by group."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from frostguard import places
from frostguard.cli import options
from frostguard.cli.files import wished_units
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told
from frostguard.errors import FrostguardError
from frostguard.report.words import all_of, say

if TYPE_CHECKING:
    from frostguard.hardiness.own import Sighting
    from frostguard.hardiness.rating import Band
    from frostguard.hardiness.taxon import Taxon

plants_app = typer.Typer(
    help=say("Look up what plants in pots stand, and who says so."),
    no_args_is_help=True,
    rich_markup_mode=None,
)

_Name = Annotated[
    list[str], typer.Argument(metavar="NAME", help=say("A plant's name, or a rating such as H4 or 7b."))
]
_Text = Annotated[
    list[str], typer.Argument(metavar="TEXT", help=say("A name or part of one, English, French or botanical."))
]
_Group = Annotated[
    str | None, typer.Option("--group", metavar="GROUP", help=say("Only this group, such as citrus or bulbs."))
]


@plants_app.command(
    help=say("One plant: its names, what each part of it stands and who says so, light, dangers.")
)
def show(name: _Name, as_json: options.AsJson = False, units: options.UnitsOption = None) -> None:
    with errors_told(as_json=as_json):
        from frostguard.report import plants, plants_json

        taxon, band = _plant_or_rating(" ".join(name))
        if as_json:
            text = (
                plants_json.render_plant_json(taxon)
                if band is None
                else plants_json.render_rating_json(band, taxon)
            )
        elif band is None:
            text = plants.render_plant(taxon, wished_units(units), _seen(taxon))
        else:
            text = plants.render_rating(band, taxon, wished_units(units))
        print_out(text)


@plants_app.command(help=say("Find a plant whose name you half remember."))
def search(text: _Text, as_json: options.AsJson = False) -> None:
    with errors_told(as_json=as_json):
        from frostguard.hardiness.limits import load_limits

        wanted = " ".join(text)
        found = load_limits().search(wanted)
        if not found:
            raise FrostguardError(
                say('No name in the plant table looks like "{text}".', text=wanted),
                next_step=say("See all plants with: frostguard plants list"),
            )
        from frostguard.report import plants, plants_json

        print_out(plants_json.render_plants_json(found) if as_json else plants.render_found(wanted, found))


@plants_app.command(name="list", help=say("All plants by group, with the limits of their roots and leaves."))
def list_plants(
    group: _Group = None, as_json: options.AsJson = False, units: options.UnitsOption = None
) -> None:
    with errors_told(as_json=as_json):
        from frostguard.hardiness.limits import load_limits
        from frostguard.report import plants, plants_json

        taxa = load_limits().taxa if group is None else _of_group(group)
        print_out(plants_json.render_plants_json(taxa) if as_json else plants.render_list(taxa, wished_units(units)))


def _seen(taxon: Taxon) -> tuple[Sighting, ...]:
    """What the logbook, where there is one, has seen of a plant."""
    from frostguard.logbook.book import existing_logbook
    from frostguard.logbook.losses import sightings

    book = existing_logbook(places.logbook_file())
    if book is None:
        return ()
    with book:
        return tuple(one for one in sightings(book) if one.plant == taxon.key)


def _plant_or_rating(name: str) -> tuple[Taxon, Band | None]:
    """The plant of that name; for a rating its band and what a plant of that rating is taken to be."""
    from frostguard.hardiness.limits import UnknownPlant, plant_or_rating
    from frostguard.hardiness.rating import UnknownRating

    try:
        return plant_or_rating(name)
    except UnknownRating as error:
        raise FrostguardError(
            say('"{rating}" is neither a USDA zone nor a UK hardiness rating.', rating=name),
            next_step=say('Give a USDA zone from "1a" to "13b" or a UK rating from "H1a" to "H7".'),
        ) from error
    except UnknownPlant as error:
        raise FrostguardError(
            say('No plant called "{name}" is in the table.', name=name)
            if not error.nearest
            else say(
                'No plant called "{name}" is in the table; near names: {nearest}.',
                name=name,
                nearest=", ".join(error.nearest),
            ),
            next_step=say("Look for a part of the name with: frostguard plants search TEXT"),
        ) from error


def _of_group(wanted: str) -> tuple[Taxon, ...]:
    """The plants of a group, named by its code or as the list heads it."""
    from frostguard.hardiness.limits import load_limits, normalised
    from frostguard.report.plant_words import group_name

    limits = load_limits()
    codes = list(dict.fromkeys(taxon.group for taxon in limits))
    for code in codes:
        if normalised(wanted) in (normalised(code), normalised(group_name(code))):
            return tuple(taxon for taxon in limits if taxon.group == code)
    raise FrostguardError(
        say('No group of plants is called "{group}".', group=wanted),
        next_step=say("The groups: {groups}.", groups=all_of(codes)),
    )
