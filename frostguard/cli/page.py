"""The command that serves the local page."""

from __future__ import annotations

import secrets
import socket
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from frostguard import places
from frostguard.cli import options
from frostguard.cli.output import print_out
from frostguard.cli.trouble import errors_told
from frostguard.errors import FrostguardError
from frostguard.report.words import say

USUAL_PORT = 8420

Port = Annotated[int, typer.Option("--port", metavar="N", min=1, max=65535, help=say("The port to listen at."))]
Lan = Annotated[
    bool,
    typer.Option("--lan", help=say("Let devices of your own network in that open the link shown here.")),
]


def page(
    garden: options.Garden = None,
    settings: options.Settings = None,
    weather: options.Weather = None,
    port: Port = USUAL_PORT,
    lan: Lan = False,
) -> None:
    """Serve the page until it is stopped; the help text is said where the command is added."""
    with errors_told(as_json=False), tempfile.TemporaryDirectory(prefix="frostguard-") as trial:
        try:
            from frostguard.page.guard import Keys
            from frostguard.page.line import server_for
            from frostguard.page.planner import Planner
            from frostguard.page.server import build_app
            from frostguard.page.site import Site
            from frostguard.page.work import Task
        except ModuleNotFoundError as exc:
            raise FrostguardError(
                say("The page needs the package {name}, which is not installed.", name=exc.name or "starlette"),
                next_step=say("Install the extra called page: pip install '.[page]' in the folder of frostguard."),
            ) from None
        # a question about a weather file stands on files alone: what is said of its jobs is gone afterwards
        book = places.logbook_file() if weather is None else Path(trial) / "logbook.sqlite3"
        task = Task(
            garden=(places.garden_file() if garden is None else garden).absolute(),
            settings=_absolute(places.settings_file() if settings is None else settings),
            weather=_absolute(weather),
            logbook=book,
        )
        address = own_address() if lan else "127.0.0.1"
        token = secrets.token_urlsafe(32) if lan else None
        hosts = {f"{host}:{port}" for host in ("127.0.0.1", "localhost", "[::1]", address)}
        hosts |= {host.removesuffix(":80") for host in hosts if port == 80}
        new_settings = (places.config_folder() / "settings.yaml").absolute()
        site = Site(Planner(task), now=lambda: datetime.now(UTC), write=print_out, new_settings=new_settings)
        app = build_app(site, Keys(frozenset(hosts), token))
        listening = _listening("0.0.0.0" if lan else "127.0.0.1", port)
        _tell(f"http://{address}:{port}/" + ("" if token is None else f"enter/{token}"), lan=lan)
        server_for(app).run(sockets=[listening])


def _absolute(path: Path | None) -> Path | None:
    return None if path is None else path.absolute()


def _listening(host: str, port: int) -> socket.socket:
    """The socket to listen at, taken before anything is said, so that a port in use is told as such."""
    # the protocol is named, since only then the event loop has small answers leave at once, 40 ms earlier
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen()  # who follows the link at once waits for the server instead of being refused
    except OSError as exc:
        listening.close()
        raise FrostguardError(
            say("Port {port} cannot be used: {reason}.", port=port, reason=exc.strerror or str(exc)),
            next_step=say("Name another one with --port; perhaps the page runs already."),
        ) from exc
    return listening


def own_address() -> str:
    """This machine's address in its network; nothing is sent for that."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737): only the route is looked up
        except OSError:
            raise FrostguardError(
                say("This machine is in no network that others could reach it by."),
                next_step=say("Connect it, or leave out --lan to use the page on this machine."),
            ) from None
        return str(probe.getsockname()[0])


def _tell(link: str, *, lan: bool) -> None:
    if lan:
        print_out(code_of(link, coloured=sys.stdout is not None and sys.stdout.isatty()))
        print_out(say("Whoever has this link gets in; it is good until the page is stopped. Your network can read "
                      "along, so use it at home only."))
    print_out(say("The page is at {link} (stop it with Ctrl-C).", link=link))


def code_of(link: str, *, coloured: bool) -> str:
    """The link as a code to photograph.

    `coloured` has the terminal draw it light on black whatever its own colours are, since many telephones cannot read
    a code whose dark and light are changed round.
    """
    import io

    import segno

    drawn = io.StringIO()
    segno.make(link, error="m").terminal(out=drawn, compact=True)
    lines = drawn.getvalue().splitlines()
    return "\n".join(f"\x1b[97;40m{line}\x1b[0m" if coloured else line for line in lines) + "\n"
