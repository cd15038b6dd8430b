"""Colours can be read by everybody: contrast by WCAG, and distances as the colour-blind see them."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from frostguard.report.html.colours import (
    COLD,
    CUT_HALO,
    CUT_INK,
    CUT_LIMIT,
    DARK,
    LIGHT,
    LINES,
    WARM,
    step_colour,
)

# Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE
# Transactions on Visualization and Computer Graphics 15(6), 2009, table of matrices for severity 1.0, on linear RGB.
SIGHT = {
    "all cones": np.eye(3),
    "no long-wave cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no middle-wave cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no short-wave cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}

THEMES = {"light": LIGHT, "dark": DARK}

AA_TEXT, AA_GRAPHICS = 4.5, 3.0
"""Contrast that WCAG 2.2 asks for on level AA: success criteria 1.4.3 (text) and 1.4.11 (graphics)."""

TOLD_APART = 10.0
"""CIE 1976 difference at which lines side by side are told apart with ease; about four just noticeable ones of 2.3
(Mahy et al. 1994). Strokes differ as well, so this is not the only way."""


def linear(colour: str) -> np.ndarray:
    """Linear RGB of a colour (IEC 61966-2-1)."""
    coded = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def luminance(rgb: np.ndarray) -> float:
    """Relative luminance as WCAG defines it."""
    return float(rgb @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(linear(one)), luminance(linear(other))), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* of linear RGB under D65."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    scaled = to_xyz @ np.clip(rgb, 0.0, 1.0) / [0.9505, 1.0, 1.089]
    root = np.where(scaled > (6 / 29) ** 3, np.cbrt(scaled), scaled / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def seen(colour: str, sight: str) -> np.ndarray:
    return lab(SIGHT[sight] @ linear(colour))


def test_contrast_and_colour_space_are_those_of_their_definitions():
    """Black on white has 21 to 1 (WCAG); white is L* 100 and mid grey #777777 is L* 50 (from memory, to a half)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert lab(linear("#ffffff")) == pytest.approx([100.0, 0.0, 0.0], abs=0.05)
    assert lab(linear("#777777"))[0] == pytest.approx(50.0, abs=0.5)


def test_the_matrices_leave_grey_grey():
    """Each row adds up to one, as a colour-blind person sees white as white."""
    for matrix in SIGHT.values():
        assert matrix.sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=2e-6)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("text", ["ink", "soft", "frost", "limit", *LINES])
@pytest.mark.parametrize("ground", ["paper", "card"])
def test_texts_have_the_contrast_of_aa(theme, text, ground):
    """Every colour that words are written in stands out from page and card."""
    colours = THEMES[theme]

    assert contrast(colours[text], colours[ground]) >= AA_TEXT


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("stroke", [*LINES, "frost", "limit", "ink"])
@pytest.mark.parametrize("ground", ["card", "band", "night"])
def test_strokes_have_the_contrast_of_aa_on_whatever_lies_under_them(theme, stroke, ground):
    """Lines stand out from cards, from the pale band and from the columns of the night."""
    colours = THEMES[theme]

    assert contrast(colours[stroke], colours[ground]) >= AA_GRAPHICS


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("theme", THEMES)
def test_curves_are_told_apart_by_the_colour_blind(theme, sight):
    """Each pair of curves that share a panel, and each with the limit, differs clearly in every kind of sight."""
    colours = THEMES[theme]
    for panel in (("air", "leaf", "limit"), ("ring", "core")):
        for one, other in combinations(panel, 2):
            apart = np.linalg.norm(seen(colours[one], sight) - seen(colours[other], sight))
            assert apart >= TOLD_APART, (one, other, apart)


@pytest.mark.parametrize("sight", SIGHT)
def test_colder_is_darker_in_every_kind_of_sight_and_in_grey(sight):
    """From the warmest to the coldest step lightness falls without exception, so grey print tells it too."""
    scale = [*reversed(WARM), *COLD]
    # the steps above freezing are a hint only: from the frost line on each step is clearly darker
    lightness = [seen(colour, sight)[0] for colour in COLD]

    assert len(set(scale)) == len(scale)
    assert all(before - after >= 4.0 for before, after in pairwise(lightness))


@pytest.mark.parametrize("sight", SIGHT)
def test_the_step_over_the_frost_line_is_clear(sight):
    """The first steps above and below freezing differ, beside the heavy line between them."""
    assert np.linalg.norm(seen(WARM[0], sight) - seen(COLD[0], sight)) >= 8.0


def test_figures_and_the_limit_on_a_cut_stand_out_from_their_halo_and_their_ground():
    """Figures have a white halo; heavy lines stand out from every step they may lie on but the very coldest."""
    assert contrast(CUT_INK, CUT_HALO) >= AA_TEXT
    for colour in (*WARM, *COLD[:5]):
        assert contrast(CUT_INK, colour) >= AA_GRAPHICS
    for colour in (*WARM, *COLD[:3]):
        assert contrast(CUT_LIMIT, colour) >= AA_GRAPHICS


def test_steps_beyond_the_scale_take_its_ends():
    """However cold or warm, there is a colour."""
    assert step_colour(99) == WARM[-1]
    assert step_colour(0) == WARM[0]
    assert step_colour(-1) == COLD[0]
    assert step_colour(-99) == COLD[-1]
