"""The commands of frostguard.

What is heavy (numpy, pandas, httpx and all that imports them) is imported inside the commands, so that
help and faulty calls answer at once.
"""

from __future__ import annotations

from datetime import UTC, datetime

import typer

from frostguard.cli import exits, options, weather
from frostguard.cli.files import query_of
from frostguard.cli.garden import garden_app
from frostguard.cli.jobs import jobs_app, loss
from frostguard.cli.logbook import logbook_app
from frostguard.cli.nightly import nightly_app
from frostguard.cli.notices import notices_app
from frostguard.cli.output import print_err, print_out
from frostguard.cli.page import page
from frostguard.cli.plants import plants_app
from frostguard.cli.readings import readings_app
from frostguard.cli.report import report
from frostguard.cli.trouble import errors_told, tell
from frostguard.cli.tune import tune_app
from frostguard.cli.waiting import ToldWhileWaiting
from frostguard.cli.what_if import what_if
from frostguard.report.words import say

app = typer.Typer(
    help=say("Frost advice for plants in pots: weather and garden file in, the evening's jobs out."),
    no_args_is_help=True,
    add_completion=False,
    # Plain help and plain tracebacks: the decorated kind loads a rendering library at every start.
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.add_typer(garden_app, name="garden")
app.add_typer(weather.app, name="weather")
app.add_typer(plants_app, name="plants")
app.add_typer(notices_app, name="notices")
app.add_typer(nightly_app, name="nightly")
app.add_typer(jobs_app, name="jobs")
app.add_typer(logbook_app, name="logbook")
app.add_typer(readings_app, name="readings")
app.add_typer(tune_app, name="tune")
app.command(
    "loss",
    help=say("Note a plant that died or was hurt, or came through; its limits learn from it. --take-back undoes it."),
)(loss)
app.command(
    "what-if",
    help=say("Try a change on one pot, protected, elsewhere or in another pot, beside how it stands. Changes nothing."),
)(what_if)
app.command(
    help=say(
        "Tonight as a page with pictures, which prints as a job sheet for each spot. Leaves as tonight does."
    )
)(report)


app.command("page", help=say("Serve a page for browser and telephone on this machine, until it is stopped."))(page)


@app.callback()
def _every_command(version: options.Version = False) -> None:
    """What stands before a command's name; `--version` has left already."""


@app.command(
    help=say(
        "What to do tonight. Leaves with 0 if there is nothing to do, 3 if there is something, 1 if it "
        "could not tell, 2 if it was called wrongly."
    )
)
def tonight(
    garden: options.Garden = None,
    settings: options.Settings = None,
    weather: options.Weather = None,
    at: options.At = None,
    days: options.Days = None,
    as_json: options.AsJson = False,
    explain: options.Explain = None,
    chart: options.Chart = False,
    units: options.UnitsOption = None,
) -> None:
    if chart and as_json:
        raise typer.BadParameter(say("--chart goes with words, not with --json."))
    with errors_told(as_json=as_json):
        from frostguard.nightly import answer_tonight

        query = query_of(garden, settings, weather, at, days, explain=explain)
        with ToldWhileWaiting() as asking:
            answer = answer_tonight(query, now=datetime.now(UTC), asking=asking)
        if as_json:
            from frostguard.report.json_text import render_json

            text = render_json(answer.plan, answer.explanation, answer.unseen)
        else:
            from frostguard.report.terminal import render_answer

            chosen = answer.settings.units if units is None else units
            text = render_answer(answer.plan, answer.explanation, answer.garden, chosen)
            if chart:
                from frostguard.advice.pictures import pictures_of
                from frostguard.report.chart import pots_to_chart, render_charts

                pots = pots_to_chart(answer.plan) if answer.explanation is None else [answer.explanation.pot]
                text += "\n\n" + render_charts(pictures_of(answer.reckoning, pots=pots), answer.plan, chosen)
        if answer.trouble is not None:
            tell(answer.trouble)
        print_out(text)
        if answer.unseen is not None:
            tell(answer.unseen)
            raise typer.Exit(exits.COULD_NOT_TELL)
    raise typer.Exit(exits.SOMETHING_TO_DO if answer.plan.asks_something else exits.NOTHING_TO_DO)


@app.command(
    "warm-up",
    help=say("Compile the fast engine once (some 10 to 20 seconds), so that no question has to wait for it."),
)
def warm_up() -> None:
    from frostguard.cli.trouble import errors_told
    from frostguard.physics.root_ball import warm_up as compile_now

    with errors_told(as_json=False):
        ready = compile_now()
    if ready:
        print_out(say("The fast engine is ready; every later question uses it."))
        raise typer.Exit(exits.NOTHING_TO_DO)
    print_err(
        say("The fast engine is not installed; answers are the same without it, only slower.")
        + "\n"
        + say("Install the extra called fast: pip install '.[fast]' in the folder of frostguard, then ask again.")
    )
    raise typer.Exit(exits.COULD_NOT_TELL)
