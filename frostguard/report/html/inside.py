"""Of each pot at risk: the cut through its root ball at its coldest hour beside its hours, and both in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from xml.etree.ElementTree import Element

from frostguard.advice.middle_course import ALIKE_K
from frostguard.advice.pictures import PotPicture
from frostguard.advice.plan import PotOutlook, PotWithPlan
from frostguard.garden.model import Pot
from frostguard.garden.settings import Units
from frostguard.hardiness.model import Tissue
from frostguard.report import measures
from frostguard.report.html.curves import curves_picture
from frostguard.report.html.cut import cut_picture
from frostguard.report.html.markup import node
from frostguard.report.jobs import pot_name
from frostguard.report.other_units import in_units
from frostguard.report.words import say, say_count


def how_to_read(pictures: Sequence[PotPicture], units: Units) -> Element:
    """What the strokes of the pictures stand for, once for all pots."""
    beside_k = max((picture.beside_k for picture in pictures), default=0.0)
    return node(
        "ul",
        node("li", say("Cut: the root ball at the hour at which its outer roots are coldest, left as it is. Thin lines "
                       "join places of one temperature, the heavy line is the frost line, darker is colder. To the "
                       "left the side that is barest to wind and sky, to the right the mean of all sides.")),
        node("li", say("Dotted, near the wall: inside it the ball, outside it the outermost {width}, where most young "
                       "roots sit. Dash and dot: the temperature that these roots stand.",
                       width=in_units(say("1 cm"), units))),
        node("li", say("Curves: a single line is the pot left as it is, a double line the pot with its jobs done, from "
                       "the hour at which they are. Dotted is the air, dashed the core. The pale band holds eight of "
                       "ten likely courses; dash and dot is what the plant stands.")),
        node("li", say("Of all likely courses of the weather the middle one is drawn, for leaves and air by leaves, "
                       "for roots and cut by the outer roots: half of them come out colder tonight. So a line falls "
                       "as low tonight as the words tell; these leave out the hour at which a double line begins.")),
        node("li", say("The number of courses is even, so none is quite the middle: a line may lie up to {less} beside "
                       "what the words tell.", less=measures.difference_at_most(beside_k, units)))
        if beside_k > ALIKE_K else None,
        class_="how",
    )  # fmt: skip


def pot_section(picture: PotPicture, pot: Pot, outlook: PotOutlook, units: Units, *, sparse: bool) -> Element:
    """The pictures of one pot with their captions; `sparse` on a page with many pots."""
    young = [one.limit_c for one in picture.limits if one.tissue is Tissue.YOUNG_ROOT]
    name = pot_name(outlook.label, outlook.count)
    cut_told, curves_told = _cut_told(picture, units), _curves_told(picture, outlook, units)
    return node(
        "section",
        node("h3", name),
        node(
            "figure",
            cut_picture(
                picture.cut,
                pot,
                max(young, default=None),
                units,
                say("Cut through the root ball of {pot}", pot=name),
                sparse=sparse,
            ),
            node("figcaption", cut_told),
        ),
        node(
            "figure",
            curves_picture(picture, units, say("Temperatures of {pot} hour by hour", pot=name), sparse=sparse),
            node("figcaption", curves_told),
        ),
        class_="pot",
        id=pot_anchor(picture.row),
    )


def pot_anchor(row: int) -> str:
    """Where on the page a pot's pictures are, by its place in the garden file: ids there may be any text."""
    return f"pot-{row}"


def _cut_told(picture: PotPicture, units: Units) -> str:
    cut = picture.cut
    told = say(
        "{time}: outer roots at {ring} on the barest side, the core at {core}.",
        time=_at(cut.time),
        ring=measures.coldest(cut.ring_c, units),
        core=measures.coldest(float(cut.mean_c[cut.mean_c.shape[0] // 2, 0]), units),
    )
    if cut.corner_k > 0.0:
        told += " " + say(
            "In the corners of the pot, which the cut does not show, they are at {corner}.",
            corner=measures.coldest(cut.ring_c - cut.corner_k, units),
        )
    if cut.exposed_c.min() >= 0.0:
        told += " " + say("No frost in it.")
    elif cut.exposed_c.max() < 0.0 and cut.mean_c.max() < 0.0:
        told += " " + say("All of it is below freezing.")
    return told


def _curves_told(picture: PotPicture, outlook: PotOutlook, units: Units) -> str:
    """The coldest values and the chance, left as it is and with the jobs."""
    coldest = outlook.coldest
    told = say(
        "Tonight left as it is: leaves down to {leaf}, outer roots to {ring}; one time in ten {leaf_low} and "
        "{ring_low} or colder. Harm: {chance}.",
        leaf=measures.coldest(coldest.leaf_c, units),
        ring=measures.coldest(coldest.ring_c, units),
        leaf_low=measures.coldest(coldest.leaf_c_p10, units),
        ring_low=measures.coldest(coldest.ring_c_p10, units),
        chance=measures.chance(outlook.chance_of_damage),
    )
    if picture.with_jobs is None:
        return told
    if picture.after_tonight or not picture.with_jobs.ring_c.size:
        return " ".join((told, say("Its jobs are for the nights after tonight.")))
    some = ""
    if picture.done_for < outlook.count:
        some = say_count(
            "The double lines are the one that gets a job; the others stay as they are.",
            "The double lines are one of the {count} that get a job; the others stay as they are.",
            picture.done_for,
        )
    more = say("Its jobs for the cold spell are not counted in here.") if picture.more_jobs else ""
    return " ".join(sentence for sentence in (told, some, _done_told(picture.served, units), more) if sentence)


def _done_told(served: PotWithPlan | None, units: Units) -> str:
    if served is None:
        return ""
    return say(
        "With the jobs, the hours before them counted in: leaves {leaf}, outer roots {ring}. Harm: {chance}.",
        leaf=measures.coldest(served.coldest_leaf_c, units),
        ring=measures.coldest(served.coldest_ring_c, units),
        chance=measures.chance(served.chance_of_damage),
    )


def _at(moment: datetime) -> str:
    return f"{measures.day_and_date(moment.date())} {moment:%H:%M}"
