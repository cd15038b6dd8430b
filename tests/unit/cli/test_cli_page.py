"""The command that serves the page: the link, its code, and what is said where it cannot start."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator

import httpx
import pytest
import segno

from frostguard.cli.page import _listening, code_of, own_address
from frostguard.errors import FrostguardError
from tests.e2e.command import DEMO_GARDEN, SAMPLES

LINK = "http://192.0.2.7:8420/enter/0123456789abcdefghijABCDEFGHIJ_-0123456789a"
DARK_ABOVE_AND_BELOW = {"█": (0, 0), "▀": (0, 1), "▄": (1, 0), " ": (1, 1)}
"""On a dark terminal what is drawn is light, and light is no module (ISO/IEC 18004)."""

QUIET = 4
"""Light modules round the code that ISO/IEC 18004 asks for."""


def modules(drawn: str) -> list[list[int]]:
    """The drawn code as rows of dark (1) and light (0) modules."""
    rows = []
    for line in drawn.splitlines():
        above, below = zip(*(DARK_ABOVE_AND_BELOW[character] for character in line), strict=True)
        rows += [list(above), list(below)]
    return rows


def test_the_drawn_code_is_the_links_with_room_round_it():
    """Read back module by module, with four light ones on each side."""
    wanted = [list(row) for row in segno.make(LINK, error="m").matrix]
    rows = modules(code_of(LINK, coloured=False).rstrip("\n"))
    size = len(wanted)
    assert [row[QUIET : QUIET + size] for row in rows[QUIET : QUIET + size]] == wanted
    assert not any(any(row) for row in rows[:QUIET] + rows[QUIET + size : QUIET + size + QUIET])
    assert all(not any(row[:QUIET] + row[QUIET + size :]) for row in rows[: 2 * QUIET + size])


def test_on_a_terminal_the_code_is_light_on_black_whatever_its_colours():
    """Every line says its own colours and takes them back."""
    plain, coloured = (code_of(LINK, coloured=one).splitlines() for one in (False, True))
    assert coloured == [f"\x1b[97;40m{line}\x1b[0m" for line in plain]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def served() -> Iterator:
    """Starts the command in a process of its own; gives what it has said by the time that it serves."""
    running: list[subprocess.Popen[str]] = []

    def start(*more: str) -> str:
        command = [sys.executable, "-m", "frostguard", "page", "--garden", str(DEMO_GARDEN),
                   "--weather", str(SAMPLES / "mild.csv"), *more]  # fmt: skip
        running.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True))
        said = ""
        for line in running[-1].stdout:
            said += line
            if "Ctrl-C" in line:
                break
        return said

    yield start
    for one in running:
        one.send_signal(signal.SIGINT)
        one.wait(timeout=20)
        one.stdout.close()


def test_lan_serves_this_machines_own_address_to_who_has_the_link(served):
    """The link that is told lets in; without it, by another name, or on another run nothing is shown."""
    try:
        address = own_address()
    except FrostguardError:
        pytest.skip("this machine is in no network")
    port = free_port()
    said = served("--lan", "--port", str(port))
    link = re.search(r"http://\S+/enter/\S+", said)[0]
    assert link.startswith(f"http://{address}:{port}/enter/")
    assert len(link.rpartition("/")[2]) >= 43  # 32 bytes
    assert "at home only" in said
    with httpx.Client(trust_env=False) as visitor:
        assert visitor.get(f"http://{address}:{port}/").status_code == 403
        assert visitor.get(f"http://{address}:{port}/", headers={"Host": "example.org"}).status_code == 421
        assert visitor.get(link).status_code == 200
        assert visitor.get(f"http://{address}:{port}/pots").status_code == 200


def test_without_lan_only_this_machine_is_served(served):
    """Nothing listens at the machine's own address."""
    port = free_port()
    assert f"http://127.0.0.1:{port}/ " in served("--port", str(port))
    with httpx.Client(trust_env=False) as visitor:
        assert visitor.get(f"http://127.0.0.1:{port}/pots").status_code == 200
    try:
        address = own_address()
    except FrostguardError:
        return
    with socket.socket() as probe:
        assert probe.connect_ex((address, port)) != 0


def test_a_port_in_use_is_told():
    """One sentence and what to do, no traceback."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = subprocess.run(
            [sys.executable, "-m", "frostguard", "page", "--garden", str(DEMO_GARDEN), "--port", str(port)],
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert f"Port {port} cannot be used" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_link_that_is_told_is_never_refused():
    """The socket takes visitors before the server has started: they wait in its queue."""
    with _listening("127.0.0.1", 0) as listening, socket.create_connection(listening.getsockname(), timeout=5):
        pass
