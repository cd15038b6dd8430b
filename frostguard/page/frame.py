"""What every page has: its head, the way about, forms with their mark."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import Enum
from typing import Any
from xml.etree.ElementTree import Element

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from frostguard.page.work import Trouble
from frostguard.report.html.markup import Child, node, page_text
from frostguard.report.words import harmless_characters, say


class Part(Enum):
    """The parts of the page, as the way about names them."""

    TONIGHT = "/"
    NIGHTS = "/nights"
    POTS = "/pots"
    READINGS = "/readings"
    BOOK = "/book"
    SETTINGS = "/settings"

    @classmethod
    def of(cls, address: str) -> Part | None:
        """The part that an address belongs to; None for the set-up."""
        if address.startswith("/pot/"):
            return cls.POTS
        return next((one for one in cls if one.value == address), None)


def part_name(part: Part) -> str:
    """In a word."""
    match part:
        case Part.TONIGHT:
            return say("Tonight")
        case Part.NIGHTS:
            return say("Nights")
        case Part.POTS:
            return say("Pots")
        case Part.READINGS:
            return say("Readings")
        case Part.BOOK:
            return say("Logbook")
        case Part.SETTINGS:
            return say("Settings")


def answer(
    title: str,
    body: Iterable[Child],
    part: Part | None,
    *,
    status: int = 200,
    renew_s: int | None = None,
) -> Response:
    """A whole page; `renew_s` lets the browser ask again after so many seconds."""
    way = node(
        "nav",
        *(
            node("a", part_name(one), href=one.value, aria_current="page" if one is part else None)
            for one in Part
        ),
        aria_label=say("Parts of this page"),
    )
    root = node(
        "html",
        node(
            "head",
            node("meta", charset="utf-8"),
            node("meta", name="viewport", content="width=device-width, initial-scale=1"),
            node("meta", name="color-scheme", content="light dark"),
            None if renew_s is None else node("meta", http_equiv="refresh", content=str(renew_s)),
            node("title", title),
            node("link", rel="icon", href="data:,"),
            node("link", rel="stylesheet", href="/style.css"),
            node("script", src="/ticks.js", defer="defer"),
        ),
        node(
            "body",
            way if part is not None else None,
            node("main", node("h1", title), _kept(), *body),
        ),
        lang="en",
    )
    return HTMLResponse(page_text(root), status_code=status)


def _kept() -> Element:
    """Where the page's own script tells of ticks that wait for a connection; it takes its words from here."""
    return node(
        "p",
        class_="kept",
        role="status",
        hidden="hidden",
        data_waiting=say("No connection. Kept on this device, and sent as soon as there is one: {count}.",
                         count="{count}"),
        data_refused=say("Ticks that could not be taken: {count}. Look below how these jobs stand, and tick again.",
                         count="{count}"),
    )  # fmt: skip


def under_way(told: str) -> Element:
    """A word and a moving bar while something is being worked out."""
    return node("div", node("p", told), node("progress", aria_label=say("Being worked out")), class_="way",
                role="status")  # fmt: skip


def form(request: Request, action: str, *children: Child, class_: str | None = None) -> Element:
    """A form that carries the session's mark."""
    return node("form", hidden("mark", request.state.mark), *children, method="post", action=action, class_=class_)


def hidden(name: str, value: str) -> Element:
    """A field that nobody sees."""
    return node("input", type="hidden", name=name, value=value)


def button(label: str, name: str | None = None, value: str | None = None, *, class_: str | None = None) -> Element:
    """Something to press."""
    return node("button", label, type="submit", name=name, value=value, class_=class_)


def field(
    name: str, label: str, value: str = "", *, hint: str = "", kind: str = "text", choices: str | None = None,
    must: bool = False,
) -> Element:
    """A line to write in; `kind` decimal brings up digits on a telephone, `choices` is the id of a list."""
    return node(
        "label",
        node("span", label),
        node("small", hint) if hint else None,
        node(
            "input",
            type="text",
            name=name,
            value=value,
            inputmode="decimal" if kind == "decimal" else None,
            list=choices,
            autocomplete="off",
            maxlength="200",
            required="required" if must else None,
        ),
    )


def choice(name: str, label: str, options: Sequence[tuple[str, str]], chosen: str, *, hint: str = "") -> Element:
    """One of some words; each with what is written into the file, and what is shown."""
    if chosen not in [value for value, _ in options]:
        options = [(chosen, chosen or say("choose")), *options]
    return node(
        "label",
        node("span", label),
        node("small", hint) if hint else None,
        node(
            "select",
            *(
                node("option", shown, value=value, selected="selected" if value == chosen else None)
                for value, shown in options
            ),
            name=name,
        ),
    )


def lines_field(name: str, label: str, value: str, *, hint: str = "") -> Element:
    """Several lines to write in."""
    area = node("textarea", name=name, rows="3", maxlength="2000", autocomplete="off")
    area.text = "\n".join(harmless_characters(line) for line in value.split("\n"))
    return node("label", node("span", label), node("small", hint) if hint else None, area)


def tick_box(name: str, value: str, label: str, *, ticked: bool = False) -> Element:
    """Something to be ticked."""
    box = node("input", type="checkbox", name=name, value=value, checked="checked" if ticked else None)
    return node("label", box, node("span", label), class_="box")


def faults_told(sentences: Sequence[str]) -> Element | None:
    """What cannot stand, above the form that it is about."""
    if not sentences:
        return None
    lines = [node("li", sentence) for sentence in sentences]
    return node("div", node("h2", say("This cannot stand yet")), node("ul", *lines), class_="trouble", role="alert")


def trouble_told(trouble: Trouble | None) -> Element | None:
    """What went wrong, and what to do."""
    if trouble is None:
        return None
    lines = [node("p", line) for line in (*trouble.message.splitlines(), trouble.next_step)]
    return node("div", *lines, class_="trouble", role="alert")


def sent(request: Request) -> dict[str, str]:
    """The fields of the form that was sent, without blanks at their ends; the last of each name."""
    return {name: " ".join(value.split()) for name, value in fields(request)}


def fields(request: Request) -> list[tuple[str, str]]:
    """The fields of the form that was sent, as they came."""
    found: list[tuple[str, str]] = request.scope["state"]["fields"]
    return found


def table(heads: Sequence[str], rows: Iterable[Sequence[Child]], **attributes: Any) -> Element:
    """A table, the first cell of each row naming it."""
    return node(
        "table",
        node("thead", node("tr", *(node("th", head, scope="col") for head in heads))),
        node(
            "tbody",
            *(
                node("tr", node("th", row[0], scope="row"), *(node("td", cell) for cell in row[1:]))
                for row in rows
            ),
        ),
        **attributes,
    )


def without_blanks(values: Mapping[str, str]) -> dict[str, str]:
    """The fields in which something was written."""
    return {name: value for name, value in values.items() if value}
