"""How services are asked: how patiently, under which name; and what a person can do where they do not answer."""

from __future__ import annotations

from dataclasses import dataclass

BY_HAND = (
    "By hand tonight: look up tonight's lowest temperature elsewhere; if it is below 2 °C, carry tender pots indoors "
    "and put fleece over the rest, in daylight where there still is some. Then try again, or give a weather file."
)


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait and how often to ask [s].

    Estimates for a person who waits at a terminal, within the 90 s after which another source is the
    better idea. Waits grow because an overloaded service recovers only if callers stay away.
    """

    connect_s: float = 8.0
    read_s: float = 25.0
    total_s: float = 80.0
    waits_s: tuple[float, ...] = (2.0, 10.0)  # before the second and third try
    wait_without_way_s: float = 0.5  # before the only other try where the name or the network is gone
    wait_when_refused_s: float = 15.0  # 429 without a Retry-After
    largest_answer_bytes: int = 8_000_000  # 39 days of 51 members and all columns are under 6 MB
    redirects: int = 3


def user_agent(contact: str | None) -> str:
    """Who is calling: program, version, and the person's contact where the settings have one."""
    from importlib import metadata  # late: a weather file needs no caller

    try:
        version = metadata.version("frostguard")
    except metadata.PackageNotFoundError:
        version = "unknown"
    printable = "".join(c for c in contact or "" if c.isascii() and c.isprintable() and c not in "()")
    return f"frostguard/{version} ({printable.strip()})" if printable.strip() else f"frostguard/{version}"
