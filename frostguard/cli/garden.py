"""The commands about the garden file: begin it, add to it, check it, and its shape for editors."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from frostguard import places
from frostguard.cli import options
from frostguard.cli.files import existing_garden
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told
from frostguard.report.words import say, say_count

if TYPE_CHECKING:
    from frostguard.garden.settings import Units
    from frostguard.garden.writing import GardenText
    from frostguard.garden.yaml_edit import Entry

garden_app = typer.Typer(help=say("Look after the garden file."), no_args_is_help=True, rich_markup_mode=None)

Table = Annotated[
    Path,
    typer.Argument(
        metavar="FILE",
        readable=False,
        help=say("A table (CSV, UTF-8): its first line names keys of a pot such as plant,material,volume_l,spot."),
    ),
]


@garden_app.command(
    help=say("Read the garden file: every fault with its line, or what was assumed for each pot.")
)
def check(garden: options.Garden = None) -> None:
    with errors_told(as_json=False):
        from frostguard.garden.reader import load_garden
        from frostguard.report.assumptions import render_garden_check

        print_out(render_garden_check(load_garden(existing_garden(garden))))


@garden_app.command(help=say("Begin a garden file by answering questions: the place, its spots, the first pots."))
def new(garden: options.Garden = None, units: options.UnitsOption = None) -> None:
    with errors_told(as_json=False):
        from frostguard.cli.asking import ask_pots, ask_site, ask_spots
        from frostguard.errors import FrostguardError
        from frostguard.garden import writing

        path = places.garden_file() if garden is None else garden
        if path.exists():
            raise FrostguardError(
                say("{file} is there already.", file=str(path)),
                next_step=say("Add pots with 'frostguard garden add', or name another file with --garden."),
            )
        units = units or _usual_units()
        site = ask_site(units)
        spots = ask_spots(units)
        pots = ask_pots(spots, units)
        written = writing.write(path, writing.new_garden(site, spots, pots), version=writing.NOTHING)
        print_out(
            say_count("1 pot written to {file}.", "{count} pots written to {file}.", len(written.pots), file=str(path))
        )
        print_out(say("Now ask 'frostguard tonight'."))


@garden_app.command(help=say("Add one pot by answering four questions, or with the options, without a question."))
def add(
    garden: options.Garden = None,
    plant: Annotated[str | None, typer.Option("--plant", metavar="NAME", help=say("The plant."))] = None,
    material: Annotated[str | None, typer.Option("--material", metavar="WORD", help=say("The pot's wall."))] = None,
    volume: Annotated[str | None, typer.Option("--volume", metavar="LITRES", help=say("The pot's litres."))] = None,
    spot: Annotated[str | None, typer.Option("--spot", metavar="NAME", help=say("Where it stands."))] = None,
    units: options.UnitsOption = None,
) -> None:
    given = {"plant": plant, "material": material, "volume_l": volume, "spot": spot}
    said = {key: word for key, word in given.items() if word is not None}
    if said and len(said) < len(given):
        raise typer.BadParameter(say("Give all four of --plant, --material, --volume and --spot, or none of them."))
    with errors_told(as_json=False):
        from frostguard.cli.asking import ask_pot
        from frostguard.garden import writing

        before = writing.read(existing_garden(garden))
        pot: Entry = said or ask_pot(_spots(before), units or _usual_units())
        text, line = writing.with_pots(before, [pot])
        after = writing.write(before.path, text, version=before.version)
        print_out(
            say("{pot} is written to {file}, line {line}.", pot=after.pots[-1].label, file=str(before.path), line=line)
        )


@garden_app.command("import", help=say("Add a pot for each row of a table; with any fault nothing is written."))
def import_table(table: Table, garden: options.Garden = None) -> None:
    with errors_told(as_json=False):
        from frostguard.garden import writing
        from frostguard.garden.table_file import with_table

        before = writing.read(existing_garden(garden))
        text, _, pots = with_table(before, table)
        writing.write(before.path, text, version=before.version)
        print_out(say_count("1 pot added to {file}.", "{count} pots added to {file}.", pots, file=str(before.path)))


@garden_app.command(help=say("Print the garden file's shape as a JSON Schema, for editors that help while typing."))
def schema() -> None:
    with errors_told(as_json=False):
        import json

        from frostguard.garden.schema import garden_schema

        print_out(json.dumps(garden_schema(), indent=2))


def _usual_units() -> Units:
    """Those of the settings in the usual place; metric where there are none."""
    from frostguard.garden.reader import load_settings
    from frostguard.garden.settings import Units

    file = places.settings_file()
    return Units.METRIC if file is None else load_settings(file).units


def _spots(before: GardenText) -> list[Entry]:
    """The spots of a garden file as they stand in it."""
    from frostguard.garden.yaml_edit import written

    return [written(before.text, "spots", row) for row in range(len(before.garden.spots))]
