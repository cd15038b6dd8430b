"""Plans made by hand for the tests of the report and the commands: an invented roof terrace."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from frostguard.advice.explanation import (
    CurveRow,
    Explanation,
    HeatBill,
    Reckoned,
    Sensitivity,
    SkyReckoned,
    WaterReckoned,
    WindReckoned,
)
from frostguard.advice.plan import (
    AdvicePlan,
    Batch,
    Caution,
    Coldest,
    ColdSpell,
    CoverUse,
    Job,
    Loss,
    NightOutlook,
    PotOutlook,
    PotWithPlan,
    Protection,
    TissueOutlook,
    WeatherCredit,
)
from frostguard.hardiness.model import Mark, Tissue

ZONE = ZoneInfo("Europe/Ljubljana")
NIGHT = date(2026, 12, 2)  # a Wednesday
ASKED = datetime(2026, 12, 2, 14, 30, tzinfo=ZONE)


def at(hour: int, minute: int = 0, *, days: int = 0) -> datetime:
    """A time on the site's clock, so many days after the evening of the plan."""
    return datetime(2026, 12, 2, hour, minute, tzinfo=ZONE) + timedelta(days=days)


def tissue(**changes: Any) -> TissueOutlook:
    """Leaves with five degrees to spare, unless changed."""
    usual = TissueOutlook(
        tissue=Tissue.LEAF,
        planting="lemon",
        limit_c=-3.0,
        coldest_c=2.0,
        coldest_c_p10=0.5,
        chance=0.001,
        mark=Mark.MEASURED,
        source="A. Author, On Lemons, 1990, table 2",
        stage="hardened",
    )
    return replace(usual, **changes)


def pot(name: str, *tissues: TissueOutlook, **changes: Any) -> PotOutlook:
    """A pot called after its id, without a job."""
    shown = tissues or (tissue(),)
    chance = max((one.chance for one in shown if one.tissue is not Tissue.YOUNG_ROOT), default=0.0)
    usual = PotOutlook(
        id=name,
        label=name.capitalize(),
        plant=name,
        spot="front",
        count=1,
        coldest=Coldest(1.0, 0.0, 2.0, 1.0, 3.0, 2.0, 2.0, 0.5),
        frozen_fraction=0.0,
        hours_ring_below_0=0.0,
        tissues=shown,
        chance_of_damage=chance,
        expected_loss_eur=0.0,
        water_fraction=0.4,
        with_plan=PotWithPlan(1.0, 2.0, shown, chance, changes.get("expected_loss_eur", 0.0)),
    )
    return replace(usual, **changes)


def done(coldest_leaf_c: float, chance: float, loss_eur: float, of: Tissue = Tissue.LEAF) -> PotWithPlan:
    """A pot with its jobs done, by the tissue that they are for."""
    harmed = tissue(tissue=of, coldest_c=coldest_leaf_c, chance=chance)
    return PotWithPlan(0.0, coldest_leaf_c, (harmed,), 0.0 if of is Tissue.YOUNG_ROOT else chance, loss_eur)


def job(name: str, protection: Protection, **changes: Any) -> Job:
    """A job at the pot of that id, for tonight, to be begun by 15:50."""
    usual = Job(
        pot=name,
        label=name.capitalize(),
        spot="front",
        protection=protection,
        batch=Batch.TONIGHT,
        to_spot=None,
        start_by=at(15, 50),
        minutes=3.0,
        people=1,
        weight_kg=None,
        covers=(),
        litres=None,
        loss_otherwise=Loss(Tissue.LEAF, 0.66, 20.0),
        cautions=(),
        undo_after=None,
    )
    return replace(usual, **changes)


def night(days: int, coldest_air_c: float, **changes: Any) -> NightOutlook:
    """A calm night, so many days after that of the plan, without pots at risk."""
    usual = NightOutlook(NIGHT + timedelta(days=days), coldest_air_c, coldest_air_c - 2.0, False, 0, 0, True)
    return replace(usual, **changes)


def plan(**changes: Any) -> AdvicePlan:
    """A mild evening with one pot and nothing to do."""
    usual = AdvicePlan(
        site="Roof terrace, Ljubljana",
        time_zone="Europe/Ljubljana",
        asked_at=ASKED,
        night=NIGHT,
        sunset=at(16, 17),
        weather=WeatherCredit(
            service="open-meteo",
            model="best_match",
            issued=None,
            fetched=at(14, 10),
            age_h=0.3,
            credit="Weather data by Open-Meteo.com, CC BY 4.0",
            members=11,
            from_store=False,
        ),
        jobs=(),
        pots=(pot("lemon"),),
        nights=(night(0, 3.4), night(1, 1.2)),
        spell=None,
        cautions=(),
        notes=(),
        garden_assumed=(),
    )
    return replace(usual, **changes)


def frosty_plan() -> AdvicePlan:
    """A clear cold night: three jobs, and one pot that nothing helps."""
    lost = tissue(coldest_c=-4.3, chance=0.66)
    return plan(
        jobs=(
            job(
                "lemon",
                Protection.MOVE,
                to_spot="cellar",
                start_by=at(15, 20),
                minutes=6.0,
                people=2,
                weight_kg=37.4,
                cautions=(Caution.HEAVY, Caution.TWO_PEOPLE, Caution.DOOR, Caution.ESCAPE_ROUTE),
                undo_after=at(9, 30, days=1),
            ),
            job(
                "fuchsia",
                Protection.FLEECE,
                spot="south wall",
                start_by=at(15, 45),
                minutes=2.0,
                covers=(CoverUse("fleece 30", "hood", 1, 1.2, 1.8),),
                cautions=(Caution.NO_FLAMES,),
                loss_otherwise=Loss(Tissue.BUD, 0.31, 4.0),
                undo_after=at(9, 0, days=1),
            ),
            job(
                "pansies",
                Protection.FLEECE,
                spot="south wall",
                start_by=at(15, 50),
                minutes=4.0,
                count=4,
                covers=(CoverUse("fleece 30", "hood", 4, 1.2, 1.8),),
                cautions=(Caution.NO_FLAMES,),
                loss_otherwise=Loss(Tissue.BUD, 0.42, 4.0),
                undo_after=at(9, 0, days=1),
            ),
        ),
        pots=(
            pot("lemon", lost, expected_loss_eur=40.0, with_plan=done(5.0, 0.0, 0.0)),
            pot(
                "fuchsia",
                replace(lost, chance=0.31),
                spot="south wall",
                with_plan=done(-1.0, 0.02, 0.1),
            ),
            pot(
                "pansies",
                replace(lost, chance=0.42),
                spot="south wall",
                count=4,
                with_plan=done(-1.0, 0.03, 0.1),
            ),
            pot("banana", replace(lost, chance=0.97), count=1),
            pot("box", count=7),
        ),
        nights=(
            night(0, -3.2, pots_at_risk=7, young_roots_at_risk=2),
            night(1, -6.7, pots_at_risk=9, young_roots_at_risk=12, windy=True),
            night(2, 0.4),
            night(3, -1.0, complete=False),
        ),
    )


def spell_plan(**changes: Any) -> AdvicePlan:
    """Nothing for tonight; preparations for a cold spell that begins on Friday."""
    shared: dict[str, Any] = {
        "batch": Batch.BEFORE_SPELL,
        "loss_otherwise": Loss(Tissue.YOUNG_ROOT, 0.55, 3.0),
    }
    usual = plan(
        jobs=(
            job(
                "rosemary",
                Protection.GROUP,
                start_by=at(15, 0, days=2),
                cautions=(Caution.FLOOR_LOAD,),
                **shared,
            ),
            job(
                "rosemary",
                Protection.MULCH,
                start_by=at(15, 5, days=2),
                minutes=1.5,
                covers=(CoverUse("bark mulch", "litres", 3),),
                **shared,
            ),
            job(
                "sage", Protection.GROUP, start_by=at(15, 5, days=2), cautions=(Caution.FLOOR_LOAD,), **shared
            ),
            job(
                "sage",
                Protection.MULCH,
                start_by=at(15, 10, days=2),
                minutes=1.5,
                covers=(CoverUse("bark mulch", "litres", 2),),
                **shared,
            ),
        ),
        pots=(pot("rosemary"), pot("sage"), pot("box", count=5)),
        nights=(night(0, 1.0), night(1, -1.0), night(2, -7.3, young_roots_at_risk=2, windy=True)),
        spell=ColdSpell(NIGHT + timedelta(days=2), NIGHT + timedelta(days=6), False, 2),
    )
    return replace(usual, **changes)


def explanation(**changes: Any) -> Explanation:
    """Two moments of a lemon's night, and all the rest."""
    usual = Explanation(
        pot="lemon",
        label="Lemon",
        rows=(
            CurveRow(at(21), -1.25, 1.5, -0.4, 0.2, 0.1, 1.9, 3.0, 0.0, -3.1),
            CurveRow(at(0, days=1), -2.0, 1.2, -1.4, -0.6, -0.2, 0.9, 2.5, 0.12, -4.3),
        ),
        heat=HeatBill(-210.4, -80.2, -30.0, -150.0, -200.6, 80.0, -20.0),
        surface_second_pass_k=0.12,
        sensitivities=(
            Sensitivity("wall foam", 0.8),
            Sensitivity("wind half", 0.33),
            Sensitivity("kettle", -0.2),
        ),
        reckoned=Reckoned(
            water=WaterReckoned(0.27, 12.0, 4.4, 0.31, 0.31, 0.26, covers_wet=False),
            wind=WindReckoned(40.2, 45.1, 22.0, 14.0, 9.0),
            wall_m2_k_w=0.013,
            wraps_m2_k_w=0.0,
            top_m2_k_w=0.0,
            base_m2_k_w=0.05,
            sky=SkyReckoned(231.0, False, 208.0, 247.0, 0.45, 0.3),
            snow_on_top_m=0.0,
            snow_beside_m=0.0,
            corner_k=0.0,
            bulbs_at_m=(),
            thaws_behind=0,
            dew_warms_k=0.0,
        ),
        limits=(tissue(coldest_c=-4.34, limit_c=-3.05),),
        assumed=("wall_thickness:12", "moon phase"),
    )
    return replace(usual, **changes)
