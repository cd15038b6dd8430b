"""The plan as text: what stands first, what is said of each job, and that it fits and reads."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import plans
import pytest
from plans import at, job, night, plan, pot, tissue

from frostguard.advice.plan import (
    Batch,
    Caution,
    ColdSpell,
    CoverUse,
    LeftOut,
    Loss,
    NoJob,
    PlanNote,
    Protection,
    Stay,
)
from frostguard.garden.model import CoverPiece, Garden, Site, Stock, Surroundings
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report.layout import LINE_WIDTH, shown_width, use_width
from frostguard.report.spots import spot_labels
from frostguard.report.terminal import left_at_risk_items, render_plan

PHYSICS_WORDS = re.compile(
    r"\b(rings?|cores?|members?|margins?|median|percentile|ensemble|convection|radiation|long-?wave|latent|"
    r"enthalpy|flux|coefficient|conductivity|kelvin|p10)\b",
    re.IGNORECASE,
)

EVERY_PLAN = {
    "mild": plans.plan(),
    "frosty": plans.frosty_plan(),
    "spell": plans.spell_plan(),
    "asked after dusk": replace(plans.frosty_plan(), asked_at=at(18), cautions=tuple(Caution)),
    "no pots": plan(pots=(), nights=()),
}


def text(of, units=Units.METRIC, **arguments) -> str:
    """The rendering on one line, so that a sentence is found wherever it was broken."""
    return " ".join(render_plan(of, units, **arguments).split())


def section(of, heading: str) -> str:
    """The block under a heading that begins so."""
    blocks = render_plan(of, Units.METRIC).split("\n\n")
    found = [block for block in blocks if block.startswith(heading)]
    assert len(found) == 1, blocks
    return " ".join(found[0].split())


# The headline


def test_with_nothing_to_do_the_closest_pot_is_named_with_its_limit():
    """The first words say that nothing is to do, and how near which pot comes to what."""
    of = plan(
        pots=(
            pot("box", tissue(coldest_c=-1.0, limit_c=-15.0)),
            pot(
                "fuchsia",
                tissue(tissue=Tissue.BUD, coldest_c=-0.2, limit_c=-2.1, chance=0.03),
                spot="south wall",
            ),
        )
    )

    assert text(of).startswith(
        "Nothing to do tonight. Closest to harm: Fuchsia (south wall). Buds or flowers come down to "
        "about -0.2 °C, their limit is -2.1 °C: about 1 degree to spare."
    )


def test_outer_roots_do_not_take_the_headline_of_a_night():
    """Young roots cross their limit on many nights; the closest pot is told by what one night can cost."""
    of = plan(
        pots=(
            pot("box", tissue(tissue=Tissue.YOUNG_ROOT, coldest_c=-5.0, limit_c=-4.0, chance=0.5)),
            pot("lemon", tissue(coldest_c=1.0)),
        )
    )

    assert "Closest to harm: Lemon (front)." in text(of)


def test_the_headline_counts_jobs_and_minutes_and_the_first_and_last_deadline():
    """How many jobs, how long, and by when, on the first line."""
    assert text(plans.frosty_plan()).startswith(
        "3 jobs tonight, 12 min: start the first by 15:20, the last by 15:50."
    )


def test_one_job_is_told_in_the_singular():
    """One job has one deadline."""
    of = plan(jobs=(job("lemon", Protection.FLEECE),))
    assert text(of).startswith("1 job tonight, 3 min, start by 15:50.")


def test_a_cold_spell_is_named_by_its_day():
    """Preparations are told as what comes before Friday's cold spell, not as tonight's."""
    words = text(plans.spell_plan())
    assert words.startswith("Before Friday's cold spell: 4 jobs, 9 min, start the first by Fri 15:00.")
    assert "Nothing else for tonight." in words


@pytest.mark.parametrize(
    ("spell", "start"),
    [
        (ColdSpell(plans.NIGHT, plans.NIGHT, False, 2), "Before tonight's cold spell: 4 jobs"),
        (
            ColdSpell(plans.NIGHT - timedelta(days=1), plans.NIGHT, True, 2),
            "The cold spell has begun; 4 jobs still help",
        ),
        (
            ColdSpell(plans.NIGHT + timedelta(days=8), plans.NIGHT + timedelta(days=9), False, 2),
            "Before the cold spell of Thu 10 Dec: 4 jobs",
        ),
        (None, "Before the cold spell: 4 jobs"),
    ],
)
def test_a_spell_that_is_here_or_far_off_is_told_as_that(spell, start):
    """A weekday more than six days ahead would be taken for the coming one."""
    assert text(plans.spell_plan(spell=spell)).startswith(start)


def test_asked_after_dusk_it_says_what_still_helps_and_what_waits():
    """In the dark only light work on a lit floor is for now; the rest goes to the next working hours."""
    of = plan(
        asked_at=at(18),
        jobs=(
            job("lemon", Protection.FLEECE, start_by=at(18), cautions=(Caution.DARK_WORK,)),
            job(
                "olive", Protection.MOVE, batch=Batch.TOMORROW, to_spot="cellar", start_by=at(15, 30, days=1)
            ),
        ),
        pots=(pot("lemon"), pot("olive")),
    )

    words = text(of)
    assert words.startswith(
        "1 job tonight, 3 min, now. Too late tonight for 1 job, 3 min: do it in your next working hours, "
        "start by Thu 15:30."
    )
    assert "It is dark: only what is light work, on a dry and lit floor." in words
    assert "Lemon (front): cover with fleece" in section(of, "What still helps tonight")
    assert "Olive (front): carry to the cellar, 3 min, start by Thu 15:30." in section(of, "Too late for tonight")


def test_a_pot_that_nothing_helps_is_not_passed_over_in_silence():
    """ "Nothing to do" must not read as "all is well" when a plant is likely to be lost."""
    of = plan(pots=(pot("banana", tissue(coldest_c=-6.0, chance=0.97)), pot("box")))

    words = text(of)
    assert words.startswith(
        "Banana is likely to be harmed, and no job is planned for it: see below. Roof terrace"
    )
    assert "Banana (front)" in section(of, "Still at risk")
    assert "(almost certain, 97 %)" in section(of, "Still at risk")
    assert "1 other pot needs nothing." in words
    unsure = text(plan(pots=(pot("banana", tissue(chance=0.2)),)))
    assert unsure.startswith("Tonight there is no job that is safe and would help enough. 1 pot stays at risk")


def test_what_there_was_not_enough_for_is_not_said_to_need_nothing():
    """Of two pots without a job one may lose its roots in the spell, as the film went to others."""
    roots = Loss(Tissue.WHOLE_ROOT, 0.9, 30.0)
    missed = LeftOut("fig", "Fig", "front", Batch.BEFORE_SPELL, NoJob.NO_COVERS, roots)
    told = text(plan(pots=(pot("fig", tissue()), pot("ivy", tissue())), left_out=(missed,)))

    assert "Fig (front): the covers there are go round others" in told
    assert "1 other pot needs nothing." in told


def test_outer_roots_that_are_not_worth_the_work_are_counted():
    """A pot that needs nothing is not called safe where its outer roots are not."""
    roots = tissue(tissue=Tissue.YOUNG_ROOT, chance=0.4)
    assert "outer roots" not in text(plan(pots=(pot("box", tissue()),)))
    told = text(plan(pots=(pot("box", tissue(), roots),)))
    assert "needs nothing. It may lose some outer roots and start late in spring; a job would gain little" in told
    several = text(plan(pots=(pot("box", tissue(), roots, count=3),)))
    assert "All 3 pots need nothing. They may lose some outer roots" in several
    one_of_two = text(plan(pots=(pot("box", tissue(), roots), pot("bay", tissue()))))
    assert "All 2 pots need nothing. 1 of them may lose some outer roots" in one_of_two


def test_without_working_hours_left_it_does_not_say_that_all_is_well():
    """No hands before the night is another answer than no need."""
    of = plan(pots=(pot("banana", tissue(chance=0.4)),), notes=("nobody can work before tonight",))

    assert text(of).startswith(
        "Nobody has time before the cold by the hours you work. What you can still carry in "
        "safely, by a dry and lit way, carry in now. 1 pot stays at risk"
    )


@pytest.mark.parametrize(
    ("why", "says"),
    [(NoJob.TOO_HEAVY, "too heavy to be carried in"), (NoJob.TOO_DARK, "it is not for the dark"), (None, "may not be")],
)
def test_what_keeps_a_pot_outdoors_that_its_jobs_hardly_save_is_told(why: NoJob | None, says: str):
    """A hood that hardly helps is told with what would: another pair of hands, or daylight."""
    lost = plans.done(-4.0, 0.9, 30.0)
    of = plan(jobs=(job("lemon", Protection.FLEECE),), pots=(pot("lemon", with_plan=lost, no_job=why),))

    assert says in section(of, "Still at risk")


@pytest.mark.parametrize("why", [NoJob.TOO_HEAVY, NoJob.TOO_DARK])
@pytest.mark.parametrize("has_jobs", [True, False])
def test_no_trolley_is_sought_for_what_hangs_or_is_fixed_to_a_railing(why: NoJob, has_jobs: bool):
    """A basket or box is lifted off by a helper; a trolley is for what stands on a floor."""
    lost = plans.done(-4.0, 0.9, 30.0)
    jobs = (job("basket", Protection.FLEECE),) if has_jobs else ()
    for off_the_floor in (True, False):
        one = pot("basket", tissue(chance=0.9), with_plan=lost, no_job=why, off_the_floor=off_the_floor)

        told = section(plan(jobs=jobs, pots=(one,)), "Still at risk")

        assert ("trolley" in told) is not off_the_floor
        assert "helper" in told


def test_what_costs_the_plant_is_told_before_its_leaves():
    """Where the roots are rather lost than not nobody is told of the leaves, surer though their loss is."""
    leaves, roots = tissue(chance=0.99), tissue(tissue=Tissue.WHOLE_ROOT, chance=0.7)

    told = section(plan(pots=(pot("lemon", leaves, roots),)), "Still at risk")

    assert "The roots may be lost, and the plant with them (about 2 chances in 3, 70 %)" in told
    unlikely = section(plan(pots=(pot("lemon", leaves, replace(roots, chance=0.3)),)), "Still at risk")
    assert "Leaves or shoots may be lost" in unlikely


def test_a_pot_whose_jobs_do_not_suffice_is_told():
    """What is left of the risk with the jobs done is shown from a tenth on."""
    enough, not_enough = plans.done(0.0, 0.02, 0.1), plans.done(0.0, 0.4, 9.0)
    of = plan(
        jobs=(job("lemon", Protection.FLEECE), job("olive", Protection.FLEECE)),
        pots=(
            pot("lemon", tissue(chance=0.9), with_plan=enough),
            pot("olive", tissue(chance=0.9), with_plan=not_enough),
        ),
    )

    left = section(of, "Still at risk")
    assert (
        "Olive (front): even the jobs may not be enough. Leaves or shoots may be lost (about 2 chances in 5, "
        "40 %)."
    ) in left
    assert "Lemon" not in left


def test_a_pot_whose_jobs_are_for_another_part_says_so():
    """A wrap does nothing for leaves: nobody is told that it may not be enough for them."""
    wrapped = pot("olive", tissue(chance=0.4), with_plan=plans.done(0.0, 0.4, 9.0))

    roots = plans.Loss(Tissue.WHOLE_ROOT, 0.3, 9.0)
    left = section(
        plan(jobs=(job("olive", Protection.WRAP, loss_otherwise=roots),), pots=(wrapped,)), "Still at risk"
    )

    assert "what is planned is for another part of it" in left
    assert "even the jobs" not in left


def test_after_a_guess_one_night_is_told_and_not_the_same_worst_seven_times():
    """The worst that is likely at a date is told once; of later nights, that nothing is known."""
    unseen = replace(plan().weather, service="worst-case")
    assert unseen.is_guess

    told = text(plan(weather=unseen, nights=(plans.night(0, -12.0),)))

    assert "Of the nights after it nothing is known either" in told


def test_a_pot_that_no_job_saves_is_named_in_the_headline_and_first_of_what_stays_at_risk():
    """What is nearly lost comes before what only stays uncertain, and of it what no job helps before the rest."""
    of = plan(
        jobs=(job("olive", Protection.FLEECE),),
        pots=(
            pot("olive", tissue(chance=1.0), with_plan=plans.done(-4.0, 0.995, 9.0)),
            pot("lemon", tissue(chance=0.98), no_job=NoJob.NO_ROOM),
            pot("fig", tissue(chance=0.2)),
        ),
    )

    assert (
        "Lemon is likely to be harmed, and no job is planned for it: see below. Olive is likely to be harmed even "
        "with its jobs done: see below. 1 more pot stays at risk."
    ) in text(of)
    left = section(of, "Still at risk")
    assert left.index("Lemon (front)") < left.index("Olive (front)") < left.index("Fig (front)")


def test_the_headline_names_what_is_most_likely_harmed_whether_it_has_a_job_or_not():
    """What has a job and what has none are told apart; what cannot be replaced comes first, then the worst."""
    fates = {"fig": 0.7, "lemon": 0.98, "olive": 0.85, "sage": 0.6, "box": 0.55, "bay": 0.2}
    pots = [pot(name, tissue(chance=0.99), with_plan=plans.done(-4.0, chance, 9.0)) for name, chance in fates.items()]
    pots[3] = replace(pots[3], irreplaceable=True)
    of = plan(jobs=(job("lemon", Protection.FLEECE), job("sage", Protection.FLEECE)), pots=tuple(pots))

    assert (
        "Sage and Lemon are likely to be harmed even with their jobs done: see below. Olive, Fig and Box are "
        "likely to be harmed, and no job is planned for them: see below. 1 more pot stays at risk."
    ) in text(of)


def test_what_the_night_has_harmed_is_told_with_what_to_do_for_it():
    """Asked too late, nobody is told of a rescue; a pot with a job for its roots reads the same of its leaves."""
    gone = replace(pot("geranium", tissue(chance=0.99), no_job=NoJob.HARMED_ALREADY), harmed_already=True)
    rooted = replace(pot("lemon", tissue(chance=0.99), with_plan=plans.done(-4.0, 0.99, 9.0)), harmed_already=True)
    left = section(plan(jobs=(job("lemon", Protection.WRAP),), pots=(gone, rooted)), "Still at risk")

    assert left.count("Geranium and Lemon (front): probably harmed already, before any job could help. Keep cool") == 1


def test_preparations_that_there_was_not_enough_for_are_told_with_what_they_risk():
    """Whose film went to others is not called safe, and reads what may be lost."""
    roots = Loss(Tissue.YOUNG_ROOT, 0.55, 3.0)
    missed = tuple(
        LeftOut(name, name.capitalize(), "front", Batch.BEFORE_SPELL, NoJob.NO_COVERS, roots) for name in ("fig", "box")
    )
    of = plans.spell_plan(left_out=missed)

    assert (
        "Fig (front) and Box (front): the covers there are go round others, which gain more by them. "
        "Outer roots may be lost (an even chance, 55 % each)."
    ) in section(of, "Still at risk")


def test_a_pot_counts_as_at_risk_by_all_its_tissues_together():
    """Six chances in a hundred for leaves and six for buds are a pot at risk, in the list as in the nights."""
    both = (tissue(chance=0.06), tissue(tissue=Tissue.BUD, chance=0.06))
    together = pot("peach", *both, chance_of_damage=0.116)
    of = plan(pots=(replace(together, with_plan=replace(together.with_plan, chance_of_damage=0.116)),))

    assert of.pots[0].at_risk
    assert "1 pot stays at risk" in text(of) and "Peach (front)" in section(of, "Still at risk")


def test_pots_alike_that_stay_at_risk_are_told_in_one_line_with_each_chance():
    """The same advice eight times over is not read; whose chance it is stays clear."""
    chances = {"fig": 0.96, "bay": 0.995, "sage": 0.995, "box": 0.995}
    gone = tuple(pot(name, tissue(chance=chance), no_job=NoJob.NO_TIME) for name, chance in chances.items())

    assert section(plan(pots=gone), "Still at risk").endswith(
        "Bay, Sage, Box and Fig (front): there is no time left; others gain more. Leaves or shoots may be lost "
        "(Fig: almost certain, 96 %; the others: almost certain, over 99 % each)."
    )


def test_outer_roots_that_stay_at_risk_are_told_in_one_line():
    """A slow spring is not told like a loss, nor pot by pot."""
    roots = tissue(tissue=Tissue.YOUNG_ROOT, coldest_c=-6.0, limit_c=-4.0, chance=0.9)
    done = plans.done(0.0, 0.5, 2.0, of=Tissue.YOUNG_ROOT)
    base = plans.spell_plan()
    of = replace(base, pots=tuple(pot(name, roots, with_plan=done) for name in ("rosemary", "sage")))

    assert section(of, "Still at risk").endswith("which means a slow spring: Rosemary and Sage.")
    assert "stay at risk; see below" not in text(of)


# The jobs


def test_a_job_line_says_what_where_verb_minutes_deadline_and_loss():
    """One line holds all that a person needs at the pot."""
    of = plan(
        jobs=(job("lemon", Protection.MOVE, label="Lemon by the door", spot="roof corner", to_spot="cellar"),)
    )

    assert (
        "Lemon by the door (roof corner): carry to the cellar, 3 min, start by 15:50. "
        "Else leaves or shoots are lost (about 2 chances in 3, 66 %)."
    ) in text(of)


def test_every_job_tells_what_is_left_of_the_risk():
    """A gain of a few per cent is told like a great one, so that a person can judge whether to go out."""
    losses = (Loss(Tissue.WHOLE_ROOT, 0.05, 9.0, 0.032), Loss(Tissue.WHOLE_ROOT, 0.9, 9.0, 0.0))
    words = section(
        plan(jobs=tuple(job(str(n), Protection.WRAP, loss_otherwise=loss) for n, loss in enumerate(losses))),
        "Tonight",
    )

    assert "(0: about 1 chance in 20, 5 %; 1: about 9 chances in 10, 90 %). With it 0 4 % and 1 1 %." in words
    alone = section(plan(jobs=(job("a", Protection.WRAP, loss_otherwise=losses[0]),)), "Tonight")
    assert "(about 1 chance in 20, 5 %). With it 4 %." in alone


def test_a_job_says_which_piece_it_takes():
    """Whole hoods are counted; of a sheet or roll it says that only a part goes; the size is that of one piece."""
    covers = {
        "a": CoverUse("fleece 30", "hood", 2, 1.2, 1.8),
        "b": CoverUse("fleece 17", "sheet", 0.4, 2.0, 5.0),
        "c": CoverUse("fleece 17", "sheet", 1.0, 2.0, 1.5),
        "d": CoverUse("bubble film", "roll", 0.2, 1.0, 10.0),
        "e": CoverUse("bark mulch", "litres", 3),
    }
    of = plan(jobs=tuple(job(name, Protection.FLEECE, spot=name, covers=(use,)) for name, use in covers.items()))

    words = section(of, "Tonight")
    for taken in (
        "Take 2 hoods of fleece (1.2 x 1.8 m).",
        "Take part of the sheet of light fleece (2 x 5 m).",
        "Take 1 sheet of light fleece (2 x 1.5 m).",
        "Take a length off the roll of bubble film (1 x 10 m).",
        "Take 3 litres of bark.",
    ):
        assert taken in words
    assert "(4 x 6 ft)" in text(of, Units.IMPERIAL) and "(3.5 x 33 ft)" in text(of, Units.IMPERIAL)


def test_pots_that_take_different_pieces_are_told_apart():
    """Otherwise nobody knows which hood goes over which pot."""
    small, large = (CoverUse("fleece 30", "hood", 1, *size) for size in ((0.8, 1.2), (1.5, 2.0)))
    of = plan(jobs=(job("fig", Protection.FLEECE, covers=(small,)), job("bay", Protection.FLEECE, covers=(large,))))

    assert "Fig (front): cover" in section(of, "Tonight") and "Bay (front): cover" in section(of, "Tonight")


def test_jobs_that_cannot_all_be_done_in_time_say_so():
    """In the first lines and at the job, so that somebody is asked for help before it is too late."""
    late = replace(job("fig", Protection.FLEECE), comes_late=True)
    of = plan(jobs=(job("lemon", Protection.FLEECE), late))

    assert "Not all can be done in time by the hands there are: begin at once" in text(of)
    assert section(of, "Tonight").count("this comes late: a helper could do it at once.") == 1
    assert "in time" not in text(plan(jobs=(job("lemon", Protection.FLEECE),)))


def test_a_long_list_of_pots_at_risk_says_how_many_more_and_where_to_see_them():
    """Eight are read in an evening; the page tells of all."""
    names = "abcdefghijk"
    of = plan(pots=tuple(pot(name, tissue(chance=0.3), spot=name) for name in names))

    assert "And 3 more: 'frostguard report' tells of every pot." in section(of, "Still at risk")
    assert len(left_at_risk_items(of, spot_labels(None), most=None)) >= len(names)


def test_a_plant_that_cannot_be_replaced_says_why_it_goes_first():
    """Otherwise 19 chances in a hundred before 99 would look like a mistake."""
    precious = job("camellia", Protection.FLEECE, irreplaceable=True)
    words = section(plan(jobs=(precious, job("fig", Protection.FLEECE))), "Tonight")

    assert words.count("Not to be replaced, so it goes first.") == 1
    assert words.index("so it goes first") < words.index("Fig")


def test_urgent_jobs_come_first_then_the_plans_order():
    """By deadline, and among equal deadlines the way one walks."""
    of = plan(
        jobs=(
            job("olive", Protection.WRAP, spot="far corner", start_by=at(15, 45)),
            job("fig", Protection.FLEECE, spot="far corner", start_by=at(15, 10)),
            job("lemon", Protection.WRAP, spot="door", start_by=at(15, 45)),
        )
    )

    words = section(of, "Tonight")
    assert words.index("Fig") < words.index("Olive") < words.index("Lemon")


def test_batches_stand_under_their_own_headings_tonight_first():
    """Tonight's jobs, the preparations and tomorrow's are told apart."""
    of = plan(
        jobs=(
            job("sage", Protection.GROUP, batch=Batch.BEFORE_SPELL, start_by=at(12, days=1)),
            job("olive", Protection.MOVE, to_spot="cellar", batch=Batch.TOMORROW, start_by=at(12, days=1)),
            job("lemon", Protection.FLEECE),
        ),
        spell=ColdSpell(plans.NIGHT + timedelta(days=1), plans.NIGHT + timedelta(days=4), False, 1),
    )

    words = render_plan(of, Units.METRIC)
    headings = ("\n\nTonight (", "\n\nBefore the cold spell of Thu 3 Dec, in one go (", "\n\nToo late for tonight")
    positions = [words.index(heading) for heading in headings]
    assert positions == sorted(positions)


def test_equal_jobs_at_one_spot_are_one_line_with_all_their_minutes():
    """Fuchsia and pansies under fleece are one errand with the earliest deadline, and each has its own chance."""
    words = section(plans.frosty_plan(), "Tonight")

    assert (
        "Fuchsia and Pansies x 4 (south wall): cover with fleece down to the pot rim, 6 min in all, "
        "start by 15:45. Take 5 hoods of fleece (1.2 x 1.8 m). Else buds and flowers are lost "
        "(Fuchsia: about 1 chance in 3, 31 %; Pansies x 4: about 2 chances in 5, 42 %)."
    ) in words


def test_jobs_that_differ_in_what_is_lost_or_where_are_not_thrown_together():
    """Grouping must not hide another place, another goal or another loss."""
    base = job("a", Protection.MOVE, to_spot="cellar")
    others = (
        replace(base, label="B", spot="back"),
        replace(base, label="C", to_spot="porch"),
        replace(base, label="D", loss_otherwise=Loss(Tissue.BUD, 0.66, 1.0)),
    )
    lines = section(plan(jobs=(base, *others)), "Tonight")

    assert lines.count("3 min") == 4


def test_grouping_never_lets_a_less_urgent_pot_go_before_a_more_urgent_one():
    """Between two equal jobs of the evening another, more urgent one keeps its place."""
    of = plan(
        jobs=(
            job("lemon", Protection.FLEECE, start_by=at(15, 10)),
            job("olive", Protection.MOVE, to_spot="cellar", start_by=at(15, 20)),
            job("fig", Protection.FLEECE, start_by=at(15, 40)),
        )
    )

    words = section(of, "Tonight")
    assert words.index("Lemon") < words.index("Olive") < words.index("Fig")
    assert "by 15:40" in words


def test_preparations_for_a_spell_are_grouped_by_what_is_done():
    """All that is pushed together, then all that is mulched: one batch, two lines."""
    words = section(plans.spell_plan(), "Before the cold spell")

    assert "Rosemary and Sage (front): push tight together, 6 min in all" in words
    assert "Rosemary and Sage (front): cover the mix with mulch, 3 min in all" in words


def test_a_heavy_pot_tells_its_weight_and_is_not_carried():
    """Above what one may lift alone the verb changes, hands and weight are told, rounded up."""
    words = section(plans.frosty_plan(), "Tonight")

    assert "Lemon (front): slide or wheel to the cellar, 6 min, start by 15:20. Two people: about 38 kg." in words


@pytest.mark.parametrize("protection", Protection)
@pytest.mark.parametrize("tissue_lost", [*Tissue, None])
def test_every_protection_and_loss_has_a_sentence(protection, tissue_lost):
    """No job is without a verb, no loss without words; codes do not show through."""
    of = plan(
        jobs=(
            job(
                "lemon", protection, to_spot="cellar", litres=1.2, loss_otherwise=Loss(tissue_lost, 0.4, 1.0)
            ),
        )
    )

    words = section(of, "Tonight")
    assert (
        "Lemon (front): " in words
        and ", 3 min, start by 15:50." in words
        and "(about 2 chances in 5, 40 %)." in words
    )
    assert "{" not in words and "_" not in words


def test_water_is_told_in_the_units_of_the_reader():
    """Litres to the half, or US gallons to the tenth, for each pot."""
    of = plan(jobs=(job("lemon", Protection.WATER, litres=3.0, count=2),))

    assert "Lemon x 2 (front): water with 1.5 litres each if the mix feels dry" in text(of)
    assert "water with 0.4 gallons (US) each" in text(of, Units.IMPERIAL)


def test_what_is_grouped_in_spring_is_not_told_of_the_winter():
    """Feet and company do no harm at any time of year; a wrap that is to come off is told with its time."""
    grouped = job("sage", Protection.GROUP, stays=Stay.FOR_THE_WINTER)

    assert "What is raised or grouped may stay so." in text(plan(jobs=(grouped,)))
    wrapped = replace(grouped, protection=Protection.WRAP)
    assert "may stay so for the winter." in text(plan(jobs=(grouped, wrapped)))


def test_two_mats_are_mats():
    """What is cut from two mats is told in the plural."""
    of = plan(jobs=(job("a", Protection.WRAP, covers=(CoverUse("jute and straw", "mat", 2, 1.0, 2.0),)),))

    assert "Fetch first 2 mats of jute and straw (1 x 2 m)." in text(of)


def test_pieces_to_fetch_are_added_up_and_never_more_than_lie_in_the_shed():
    """A roll that three pots get a part of is fetched once; mulch goes by the litre."""
    of = plan(
        jobs=(
            *(
                job(name, Protection.WRAP, covers=(CoverUse("bubble film", "roll", 1, 0.5, 5.0),))
                for name in ("a", "b", "c")
            ),
            job("d", Protection.MULCH, covers=(CoverUse("bark mulch", "litres", 6),)),
            job("e", Protection.DOUBLE_FLEECE, covers=(CoverUse("fleece 50", "hood", 2),)),
        )
    )
    site = Site("Roof", 46.05, 14.51, 300.0, "Europe/Ljubljana", 20.0, Surroundings.CITY)
    stock = Stock(
        (
            CoverPiece("bubble film", "roll", 0.5, 5.0, None, 1),
            CoverPiece("bark mulch", "bag", None, None, 40.0, 1),
        ),
        0,
        0,
    )

    words = text(of, garden=Garden("garden.yaml", site, (), (), stock))
    assert "Fetch first 1 roll of bubble film (0.5 x 5 m), 6 litres of bark and 2 hoods of thick fleece." in words


def test_what_is_fetched_for_tonight_and_for_the_spell_is_told_apart():
    """Nobody carries the spell's film out for tonight's fleece."""
    of = plan(
        jobs=(
            job("a", Protection.FLEECE, covers=(CoverUse("fleece", "hood", 1),)),
            job(
                "b",
                Protection.WRAP,
                batch=Batch.BEFORE_SPELL,
                start_by=at(12, days=1),
                covers=(CoverUse("jute", "roll", 1),),
            ),
        )
    )

    assert (
        section(of, "Fetch first")
        == "Fetch first For tonight: 1 hood of fleece. For the cold spell: 1 roll of jute."
    )


def test_a_roll_that_serves_tonight_and_the_spell_is_fetched_once():
    """What is cut for the spell from tonight's roll is no second roll; what the first has not enough for is."""

    def film(name: str, share: float, batch: Batch) -> plans.Job:
        return job(name, Protection.WRAP, batch=batch, covers=(CoverUse("bubble film", "roll", share),))

    tonight = film("a", 0.4, Batch.TONIGHT)
    shared = plan(jobs=(tonight, film("b", 0.3, Batch.BEFORE_SPELL)))
    scarce = plan(jobs=(tonight, film("b", 0.9, Batch.BEFORE_SPELL)))

    assert section(shared, "Fetch first") == (
        "Fetch first For tonight: 1 roll of bubble film. For the cold spell: the same roll of bubble film."
    )
    assert section(scarce, "Fetch first") == (
        "Fetch first For tonight: 1 roll of bubble film. For the cold spell: 1 roll of bubble film."
    )


def test_undoing_is_told_by_hour_and_a_moved_pot_goes_back_where_it_stood():
    """In the order of time; water and what may stay are not undone."""
    of = replace(plans.frosty_plan(), jobs=(*plans.frosty_plan().jobs, job("sage", Protection.MULCH)))

    undo = section(of, "Undo")
    assert undo == (
        "Undo From Thu 09:00, with the air above 2 °C: fleece off Fuchsia and Pansies x 4. From Thu 09:30: Lemon back "
        "to the front."
    )


def test_one_layer_of_fleece_or_two_come_off_alike():
    """Whoever takes fleece off in the morning does it in one go."""
    of = plans.frosty_plan()
    doubled = tuple(
        replace(one, protection=Protection.DOUBLE_FLEECE) if one.label == "Fuchsia" else one for one in of.jobs
    )
    assert "fleece off Fuchsia and Pansies x 4" in section(replace(of, jobs=doubled), "Undo")


def test_what_is_not_undone_within_the_nights_shown_is_told():
    """Silence about a fleece that must stay on would read as leave to forget it."""
    of = plan(
        jobs=(
            job("lemon", Protection.MOVE, to_spot="cellar", stays=Stay.UNTIL_SPRING),
            job("fig", Protection.FLEECE, stays=Stay.NOT_IN_SIGHT),
            job("olive", Protection.WRAP, stays=Stay.FOR_THE_WINTER),
        )
    )

    assert section(of, "Undo") == (
        "Undo Not within these nights: fleece off Fig. Staying in until spring: Lemon. What is wrapped, "
        "mulched, raised or grouped may stay so for the winter."
    )


def test_of_several_pots_alike_those_without_a_job_are_told_as_such_with_the_reason():
    """Three of four have a place indoors: the fourth is not told as helped, and what it lacks is named."""
    four = pot("geranium", plans.tissue(tissue=Tissue.LEAF, chance=0.9, coldest_c=-4.0), count=4)
    carried = job("geranium", Protection.MOVE, to_spot="stairs", count=3, alike=4)
    lacking = LeftOut("geranium", "Geranium", "front", Batch.TONIGHT, NoJob.NO_ROOM, Loss(Tissue.LEAF, 0.9, 3.0), 1)
    of = plan(jobs=(carried,), pots=(four,), left_out=(lacking,))

    left = section(of, "Still at risk")
    assert left.startswith("Still at risk Geranium (1 of 4) (front): nothing outdoors helps enough, and no room")
    assert "even the jobs" not in left
    assert "Geranium (1 of 4) is likely to be harmed, and no job is planned for it" in text(of)


def test_nothing_over_a_drop_is_laid_down():
    """A box on a railing is taken down or tied fast, and hung up again afterwards; a tub is laid down and stood up."""
    box = {"cautions": (Caution.OVER_A_DROP,), "undo_after": plans.at(9, days=1)}
    tub = job("tub", Protection.SECURE, undo_after=plans.at(10))
    told = text(plan(jobs=(job("box", Protection.SECURE, **box), tub)))

    assert "Box (front): take down, or tie fast against the gale" in told and "Box back in place" in told
    assert "Tub (front): lay down or tie against the gale" in told and "Tub upright again" in told


def test_what_is_done_by_daylight_for_a_later_night_stands_under_its_own_heading():
    """Its night is told, and that tonight asks nothing; the note of days without hands names their last night."""
    ahead = job("olive", Protection.MOVE, batch=Batch.AHEAD, to_spot="shed", for_night=date(2027, 1, 17))
    of = plan(jobs=(ahead,), notes=(f"{PlanNote.NOBODY_UNTIL.value}:2027-01-19",))

    told = text(of)
    assert "By daylight today, as there is none to work by before a later night: 1 job, 3 min, start by 15:50." in told
    assert "Nothing else for tonight." in told
    assert "By daylight today, for the night of Sun 17 Jan (3 min)" in told
    assert "nobody comes after today till the night of Tue 19 Jan is over" in told


def test_a_room_that_gets_too_cold_later_is_told_with_its_pots_and_the_evening():
    """Whoever has carried pots in believes them safe: the evening by which they must go on stands with the undoing."""
    too_cold = {"to_spot": "shed", "stays": Stay.UNTIL_SPRING, "too_cold_there_from": date(2027, 1, 17)}
    of = plan(jobs=(job("lemon", Protection.MOVE, **too_cold), job("fig", Protection.MOVE, **too_cold)))

    assert section(of, "Undo") == (
        "Undo Warm enough in the shed only for the nights before Sun 17 Jan: Lemon and Fig. By that evening find a "
        "warmer place."
    )


def test_a_cover_that_may_come_off_while_nobody_is_there_is_told_with_when_somebody_is():
    """Nobody home by day: a cool day under fleece does no harm, before a warm one somebody else is asked (common
    practice, no source)."""

    def undo(*, warm: bool) -> str:
        there = {"undo_after": plans.at(9, days=1), "there_again": plans.at(18, 30, days=1), "warm_till_then": warm}
        return section(plan(jobs=(job("fig", Protection.FLEECE, **there),)), "Undo")

    assert undo(warm=False).endswith(
        "By your hours you are there from Thu 18:30: till then the fleece may stay on Fig, as no day before it is warm."
    )
    assert undo(warm=True).endswith(
        "By your hours you are there only from Thu 18:30, and before that it gets warmer than 10 °C: have "
        "somebody take the fleece off Fig, or at least open it."
    )


def test_what_stays_on_by_day_or_for_the_season_is_told_with_its_reason():
    """A cover left on wants air at midday; what is protected for the season has an end."""
    of = plan(
        jobs=(
            job("fig", Protection.FLEECE, undo_after=plans.at(9, days=3), left_on_by_day=True),
            job("olive", Protection.WRAP, stays=Stay.FOR_THE_SEASON, season_ends=date(2027, 4, 3)),
        )
    )

    undo = section(of, "Undo")
    assert "On by day as well, as the day is too cold to uncover: Fig." in undo
    assert "Protected for the season, as most nights ahead call for it." in undo
    assert "When buds swell, in a usual year about Sat 3 Apr: wrap off Olive." in undo


def test_a_shed_that_was_assumed_is_told_with_what_to_fetch():
    """Whoever has no hoods must read so where the hoods are asked for, and once."""
    note = PlanNote.STOCK_ASSUMED.value
    covered = job("a", Protection.FLEECE, covers=(CoverUse("fleece 30", "hood", 1),))

    assert "does not say what covers you have" in section(plan(jobs=(covered,), notes=(note,)), "Fetch first")
    assert text(plan(jobs=(covered,), notes=(note,))).count("does not say what covers") == 1
    assert "does not say what covers you have" in section(plan(notes=(note,)), "Notes")


def test_the_pots_that_need_nothing_are_counted_with_those_alike():
    """Seven pots of box are seven; pots with jobs and pots at risk are not among them."""
    assert "The other 7 pots need nothing." in text(plans.frosty_plan())
    assert "All 3 pots need nothing." in text(plan(pots=(pot("lemon"), pot("box", count=2))))


def test_what_doing_nothing_costs_is_one_number():
    """Expected loss without and with the jobs, rounded up."""
    assert "expect to lose about 40 euro worth of plants; with these jobs about 1." in text(
        plans.frosty_plan()
    )
    assert "euro" not in text(plans.plan())
    of = plans.frosty_plan()
    later = replace(of.jobs[0], for_night=of.night + timedelta(days=2))
    assert "Tonight alone, with nothing done" in text(replace(of, jobs=(later, *of.jobs[1:])))


# The nights, cautions, notes, weather


def test_the_coming_nights_show_cold_rounded_down_and_what_is_at_risk():
    """Date, coldest air, its low end, pots at risk, wind; a night with gaps is not called safe."""
    lines = render_plan(plans.frosty_plan(), Units.METRIC).splitlines()
    rows = [" ".join(line.split()) for line in lines if re.match(r"  \w{3} \d+ Dec +-?\d", line)]

    assert rows == [
        "Wed 2 Dec -3.2 [ -5.2] #### 7 pots at risk, outer roots of 2",
        "Thu 3 Dec -6.7 [ -8.7] ####### 9 pots at risk, outer roots of 12, windy",
        "Fri 4 Dec 0.4 [ -1.6] no pot at risk",
        "Sat 5 Dec -1.0 [ -3.0] # forecast has gaps this night",
    ]


def test_a_night_that_is_not_known_is_no_mild_night():
    """Where the forecast has no temperature a question mark stands, and no promise."""
    of = plan(nights=(night(0, float("nan"), complete=False),))
    assert "Wed 2 Dec ? [ ?] forecast has gaps this night" in text(of)


def test_a_spell_without_worthwhile_jobs_is_still_told():
    """The week view carries what is no job: roots at risk in a spell."""
    of = plan(spell=ColdSpell(plans.NIGHT + timedelta(days=3), plans.NIGHT + timedelta(days=5), False, 4))
    assert "Cold spell from Sat 5 Dec to Mon 7 Dec: outer roots of 4 pots at risk." in text(of)


@pytest.mark.parametrize("caution", Caution)
def test_every_caution_is_said_once_and_shortly(caution):
    """One short text each, however many jobs carry it, and none of them vouches for safety."""
    jobs = tuple(job(name, Protection.FLEECE, cautions=(caution,)) for name in ("a", "b"))
    of = plan(jobs=jobs, cautions=(caution,))

    block = section(of, "Take care")
    assert 20 < len(block) < 290
    assert block == section(plan(jobs=jobs[:1]), "Take care")
    assert not re.search(r"\b(is|are) safe\b|\bbears \d|\bcertified\b", block)


def test_loads_are_left_to_those_who_answer_for_them():
    """What a floor bears is for the manager, an engineer and local rules."""
    words = text(plans.spell_plan())
    assert "building manager or an engineer" in words and "Local rules come first" in words


def test_cautions_of_other_jobs_are_left_out():
    """A mild evening carries no warnings."""
    assert "Take care" not in text(plans.plan())


def test_notes_are_sentences_and_an_unknown_one_is_shown():
    """Codes become sentences; one that no sentence is known for is not swallowed."""
    notes = section(plan(notes=("wind_speed_10m_m_s missing", "hours-missing:3", "brand_new_code")), "Notes")

    assert "The forecast does not tell the wind" in notes
    assert "The forecast lacks 3 hours." in notes
    assert "Also noted: brand new code." in notes


def test_weather_tells_service_time_age_and_credit():
    """Who says so, from when, how old, and the line that its terms ask for."""
    words = text(plans.plan())
    assert "Weather: Open-Meteo, model best_match. Fetched 14:10. It is less than an hour old." in words
    assert words.endswith("Weather data by Open-Meteo.com, CC BY 4.0")


def test_old_weather_is_warned_of():
    """A forecast of yesterday is not told like one of today."""
    weather = replace(plans.plan().weather, issued=at(7, days=-2), age_h=55.5, from_store=True)
    words = text(plan(weather=weather, notes=("stored-answer-old:56",)))

    assert "Careful: the forecast is more than a day old. Roof terrace" in words
    assert words.count("could be fetched") == 1
    assert "Issued Mon 30 Nov 07:00." in words
    assert "It is 56 hours old: treat tender plants as if the night were colder." in words
    assert "No new forecast could be fetched: this is the last one kept." in words


# All of it


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("name", EVERY_PLAN)
def test_every_line_fits_and_no_physics_is_spoken(name, units):
    """Eighty columns, no word that a gardener does not use, no control character."""
    shown = render_plan(EVERY_PLAN[name], units)

    assert max(shown_width(line) for line in shown.split("\n")) <= LINE_WIDTH
    assert not PHYSICS_WORDS.search(shown)
    assert all(character == "\n" or ord(character) >= 32 for character in shown)
    assert shown.isascii() or set(filter(lambda c: not c.isascii(), shown)) <= {"°"}


@pytest.mark.parametrize(("columns", "longest"), [(20, 40), (40, 40), (57, 57), (80, 80), (300, 80)])
def test_a_narrow_terminal_gets_narrow_lines(columns, longest):
    """Lines fit from forty columns up; below it words would fall apart, above eighty they are hard to read."""
    use_width(columns)
    try:
        shown = render_plan(plans.frosty_plan(), Units.METRIC)
    finally:
        use_width(LINE_WIDTH)

    widths = [shown_width(line) for line in shown.split("\n")]
    assert longest - 12 < max(widths) <= longest


@pytest.mark.parametrize("label", ["Lemon " * 40, "L" * 300, "柠檬树" * 60, "\x1b[2J\n\r\t\u202e" * 30 + "x"])
def test_long_and_hostile_names_neither_break_lines_nor_layout(label):
    """Whatever a pot, spot or site is called, lines fit and nothing acts on the terminal."""
    of = plans.frosty_plan()
    of = replace(
        of,
        site=label,
        jobs=tuple(replace(one, label=label, spot=label, to_spot=one.to_spot and label) for one in of.jobs),
        pots=tuple(replace(one, label=label, spot=label) for one in of.pots),
        weather=replace(of.weather, service=label, model=label, credit=label),
        notes=(label,),
    )

    shown = render_plan(of, Units.METRIC)
    assert max(shown_width(line) for line in shown.split("\n")) <= LINE_WIDTH
    assert "\x1b" not in shown and "\r" not in shown and "\u202e" not in shown


def test_imperial_readers_get_fahrenheit_and_pounds_only():
    """No metric unit is left in an imperial rendering."""
    shown = text(replace(plans.frosty_plan(), cautions=tuple(Caution)), Units.IMPERIAL)

    assert "°F" in shown and "83 lb" in shown
    assert not re.search(r"°C|\bkg\b|\blitres?\b|\bcm\b|\bm/s\b", shown)


def test_a_spot_is_called_by_its_label_where_something_stands_and_by_its_name_where_it_goes():
    """A label may be a phrase such as "in the wash room", which nothing can be carried to."""
    site = Site("Roof", 46.05, 14.51, 300.0, "Europe/Ljubljana", 20.0, Surroundings.CITY)
    spots = (_spot("front", "at the front edge"), _spot("wash_room", "in the wash room"))
    of = plan(jobs=(job("lemon", Protection.MOVE, to_spot="wash_room", undo_after=at(9, days=1)),))

    words = text(of, garden=Garden("garden.yaml", site, spots, (), Stock((), 0, 0)))
    assert "Lemon (at the front edge): carry to the wash room" in words
    assert "From Thu 09:00: Lemon back to the front." in words


def _spot(name, label):
    from frostguard.garden.model import Beneath, Spot

    return Spot(name, label, 1.0, 1.0, Beneath.DECKING, False, None, None, None, False)


def test_every_cover_of_the_catalogue_has_a_name_for_the_person():
    """No catalogue key such as "fleece 17" is shown in the list of what to fetch."""
    from frostguard.garden.catalogue import load_catalogue

    for key in load_catalogue().covers:
        words = section(
            plan(jobs=(job("a", Protection.WRAP, covers=(CoverUse(key, "roll", 1),)),)), "Fetch first"
        )
        assert words.startswith("Fetch first 1 roll of ") and not re.search(r"\d\d", words)


def test_a_forecast_newer_than_the_time_asked_about_is_told_as_that():
    """Asked about a time gone by, the answer does not call a forecast fresh that nobody could have had."""
    told = text(replace(plans.plan(), weather=replace(plans.plan().weather, issued=at(18), age_h=0.0)))

    assert "after the time asked about" in told and "less than an hour old" not in told
