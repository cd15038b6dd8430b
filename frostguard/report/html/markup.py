"""Elements of a page, HTML and SVG alike: what the standard library's tree writes, every text escaped by it.

A text put in here may come from a file that somebody else wrote. The tree's writer escapes it; characters that no
page may hold, and marks that turn the reading direction, are made harmless first.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from frostguard.report.words import harmless_characters

Child = Element | str | None

EMPTY_IN_PICTURES = ("path", "use", "rect")
"""Elements of SVG that HTML lets close themselves; a fiftieth of the page."""

DECIMALS = 1
"""Of coordinates: a tenth of a unit is a hundredth of a kelvin in most pictures, and less than a dot of a screen."""


def node(tag: str, *children: Child, **attributes: str | float | None) -> Element:
    """An element with its children in order; a None among them, or as an attribute, is left out.

    Parameters
    ----------
    tag : str
        As it stands in the page.
    *children : Element, str or None
        Elements and texts.
    **attributes : str, float or None
        A trailing underline is dropped (`class_`), others become hyphens (`aria_label`); numbers are rounded as
        coordinates are.
    """
    element = Element(tag)
    for name, value in attributes.items():
        if value is not None:
            written = value if isinstance(value, str) else number(value)
            element.set(name.rstrip("_").replace("_", "-"), harmless_characters(written))
    last: Element | None = None
    for child in children:
        if isinstance(child, str):
            text = harmless_characters(child)
            if last is None:
                element.text = (element.text or "") + text
            else:
                last.tail = (last.tail or "") + text
        elif child is not None:
            element.append(child)
            last = child
    return element


def number(value: float) -> str:
    """A coordinate as short as it can be written."""
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text.replace("0.", ".", 1) if text.lstrip("-").startswith("0.") else text


def list_of(items: Iterable[str], **attributes: str | float | None) -> Element | None:
    """An unnumbered list; None without items."""
    lines = [node("li", item) for item in items]
    return node("ul", *lines, **attributes) if lines else None


def page_text(root: Element) -> str:
    """The whole page."""
    written = ElementTree.tostring(root, encoding="unicode", method="html")
    for tag in EMPTY_IN_PICTURES:  # a ">" in a text is escaped, so this meets tags only
        written = written.replace(f"></{tag}>", "/>")
    return f"<!doctype html>\n{written}\n"
