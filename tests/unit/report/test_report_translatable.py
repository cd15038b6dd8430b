"""Every word that a person sees can be translated."""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator
from dataclasses import replace

import plans
import pytest
from plans import at

from frostguard.advice.plan import Caution, Protection
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import words
from frostguard.report.explain import render_explanation
from frostguard.report.terminal import render_plan

FROM_DATA = set(
    re.findall(
        r"\w+",
        "Lemon lemon Fuchsia Pansies Banana Rosemary Sage front south wall cellar Roof terrace Ljubljana "
        "Open Meteo best match Weather data by com CC BY hardened A Author On Lemons table kettle moon phase "
        "C F BTU kJ mph m s x",
    )
)
"""Words that come from the plan, file or source, and signs of units."""


class _Blank(gettext.NullTranslations):
    """A language in which every letter is a dot; placeholders stay."""

    def gettext(self, message: str) -> str:
        return re.sub(r"(\{\w+\})|[A-Za-z]", lambda found: found.group(1) or ".", message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        return self.gettext(message)


@pytest.fixture
def _blank_language() -> Iterator[None]:
    token = words._catalogue.set(_Blank())
    yield
    words._catalogue.reset(token)


def every_rendering() -> Iterator[str]:
    """Plans with every protection, loss, caution and state, and an explanation."""
    base = plans.frosty_plan()
    job = base.jobs[0]
    yield render_plan(plans.plan(), Units.METRIC)
    yield render_plan(plans.spell_plan(), Units.IMPERIAL)
    yield render_plan(replace(base, asked_at=at(18), cautions=tuple(Caution)), Units.METRIC)
    yield render_plan(
        replace(base, weather=replace(base.weather, issued=at(7), age_h=30.0, from_store=True)), Units.METRIC
    )
    for protection in Protection:
        yield render_plan(
            replace(base, jobs=(replace(job, protection=protection, litres=2.0),)), Units.METRIC
        )
    for tissue in Tissue:
        pot = plans.pot("lemon", plans.tissue(tissue=tissue, chance=0.05))
        yield render_plan(plans.plan(pots=(pot,)), Units.METRIC)
    yield render_explanation(base, plans.explanation(), Units.METRIC)


@pytest.mark.usefixtures("_blank_language")
def test_no_word_bypasses_the_catalogue():
    """In a language of dots nothing of the English is left but what the data itself says."""
    for shown in every_rendering():
        left = set(re.findall(r"[A-Za-z]+", shown)) - FROM_DATA
        assert not left, shown
