"""The colours of pages and pictures, light and dark, as data: tests compute contrast and colour blindness from them.

No meaning hangs on a colour alone: lines differ by their stroke, states by a sign and a word, temperatures in a cut
by numbered lines. Temperatures go from sand (warm, light) to ink blue (cold, dark), so that lightness alone tells
them on a grey printer.
"""

from __future__ import annotations

LIGHT = {
    "paper": "#fbfaf6",
    "card": "#ffffff",
    "ink": "#1d262c",
    "soft": "#55606a",
    "rule": "#d9d5ca",
    "night": "#e6e8ef",
    "air": "#5f6670",
    "leaf": "#2f7d32",
    "ring": "#9a3412",
    "core": "#6b3fa0",
    "frost": "#14568f",
    "limit": "#7d0a2b",
    "band": "#cfd6de",
}

DARK = {
    "paper": "#14191c",
    "card": "#1c2226",
    "ink": "#ece8df",
    "soft": "#aab4bb",
    "rule": "#3a4349",
    "night": "#232b33",
    "air": "#d5dbe0",
    "leaf": "#8fd08a",
    "ring": "#ffab7a",
    "core": "#cfb3ff",
    "frost": "#8cc4f4",
    "limit": "#ff8ea6",
    "band": "#38424b",
}

LINES = ("air", "leaf", "ring", "core")
"""Curves of a pot."""

CUT_INK = "#141b20"
CUT_HALO = "#ffffff"
CUT_LIMIT = "#7a0d2a"
"""Lines and figures on a cut, and what they stand out from; a cut looks the same by day and by night."""

WARM = ("#fdf6e3", "#f6e9c9", "#efdcb0", "#e7cf99", "#dfc284")
"""Above freezing, step by step from the frost line up; the last one serves all that is warmer."""

COLD = ("#d3e5f1", "#b3d0e6", "#92b9d9", "#729fc9", "#5586b6", "#3d6c9f", "#2a5387", "#1b3c6b")
"""Below freezing, step by step from the frost line down; the last one serves all that is colder."""


def step_colour(steps_from_frost: int) -> str:
    """The colour of the step that begins so many steps above (0, 1, ...) or below (-1, -2, ...) the frost line."""
    if steps_from_frost >= 0:
        return WARM[min(steps_from_frost, len(WARM) - 1)]
    return COLD[min(-steps_from_frost - 1, len(COLD) - 1)]


def variables(colours: dict[str, str]) -> str:
    """The colours as custom properties of a style sheet."""
    return "".join(f"--{name}:{colour};" for name, colour in colours.items())
