"""The commands about messages: what would be said now, and whether every channel works."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from frostguard import places
from frostguard.cli import exits, options
from frostguard.cli.files import query_of
from frostguard.cli.output import print_err, print_out
from frostguard.cli.trouble import errors_told
from frostguard.report.words import harmless, say

if TYPE_CHECKING:
    from frostguard.nightly import Query
    from frostguard.notify.delivery import Delivery
    from frostguard.notify.moment import Moment
    from frostguard.notify.notice import Notice

notices_app = typer.Typer(
    help=say("Look at the messages, and try the ways they go."), no_args_is_help=True, rich_markup_mode=None
)


@notices_app.command(
    help=say(
        "Send a marked test through every channel of your settings. Leaves with 1 if one of them did not take it."
    )
)
def test(settings: options.Settings = None) -> None:
    with errors_told(as_json=False):
        from frostguard.garden.reader import load_settings
        from frostguard.garden.settings import Settings
        from frostguard.notify.channels import open_channels
        from frostguard.notify.delivery import send, trial_notice

        named = places.settings_file() if settings is None else settings
        wishes = Settings() if named is None else load_settings(named)
        now = datetime.now(UTC)
        notice = trial_notice(now, now.astimezone().date())
        failed = False
        for channel in open_channels(wishes, write=print_out):
            delivery = send(channel, notice)
            failed = failed or not delivery.delivered
            _tell(delivery)
    if failed:
        raise typer.Exit(exits.COULD_NOT_TELL)
    print_out(say("Taken is not arrived: look whether the test is there."))


def _tell(delivery: Delivery) -> None:
    if delivery.failure is None:
        print_out(say("{channel}: taken.", channel=delivery.channel))
        return
    print_err(harmless(delivery.failure.message))
    print_err(harmless(delivery.failure.next_step))


Afresh = Annotated[bool, typer.Option("--afresh", help=say("As if nothing had been said or signed off before."))]


@notices_app.command(
    help=say(
        "Show the evening's message as it would be sent now, by what was said before; with a weather file as if "
        "nothing had been said."
    )
)
def show(
    garden: options.Garden = None,
    settings: options.Settings = None,
    weather: options.Weather = None,
    at: options.At = None,
    days: options.Days = None,
    afresh: Afresh = False,
    as_json: options.AsJson = False,
) -> None:
    with errors_told(as_json=as_json):
        from frostguard.notify.owed import owed

        query = query_of(garden, settings, weather, at, days)
        moment = _moment(query, afresh=afresh)
        notice = owed(moment)
        if as_json:
            import json

            shown: dict[str, Any] | None = None if notice is None else notice.to_dict()
            print_out(json.dumps(shown, indent=2))
        elif notice is not None:
            print_out(_shown(notice))
        elif moment.said:
            print_out(say("There is nothing to say that was not said before; --afresh shows it all again."))
        else:
            print_out(say("There is nothing to say."))


def _moment(query: Query, *, afresh: bool) -> Moment:
    """What is known now, or at the time asked about; of a weather file, and where wanted, without a past."""
    from frostguard.logbook.book import in_memory, open_logbook
    from frostguard.logbook.terrace import is_of
    from frostguard.nightly import answer_by
    from frostguard.notify.days import days_of_weather
    from frostguard.notify.moment import Look, Moment, Unseen
    from frostguard.watch.memory import with_memory

    live = query.weather is None and not afresh
    with open_logbook(places.logbook_file()) if live else in_memory() as book:
        answer = answer_by(book, query, now=datetime.now(UTC))
        plan, unseen = answer.plan, answer.unseen
        moment = Moment(
            now=plan.asked_at,
            look=Look.EVENING,
            garden=answer.garden,
            settings=answer.settings,
            plan=plan if unseen is None else Unseen(unseen.message, unseen.next_step, guess=plan),
            days=days_of_weather(answer.weather, answer.garden.site.time_zone),
        )
        return with_memory(moment, book, moment.night, answer.in_force) if is_of(book, answer.garden) else moment


def _shown(notice: Notice) -> str:
    """The message in its forms, and how it would go out."""
    ways = [
        say("It rings: somebody has to act.")
        if notice.interrupts
        else say("It does not ring: nobody has to act at once.")
    ]
    if notice.not_before is not None:
        ways.append(say("It waits for the end of the quiet hours."))
    ways += [say("With it goes {file}.", file=attachment.name) for attachment in notice.attachments]
    return "\n\n".join([notice.text, say("As a short message: {text}", text=notice.short), " ".join(ways)])
