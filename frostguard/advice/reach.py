"""What each protection reaches: what is above the mix, bare stems, the roots, or several of them."""

from __future__ import annotations

from frostguard.advice.plan import Protection
from frostguard.hardiness.model import Tissue

ABOVE_THE_MIX = frozenset({Tissue.LEAF, Tissue.BUD, Tissue.HEART, Tissue.STEM, Tissue.CHILL})
ROOTS = frozenset({Tissue.YOUNG_ROOT, Tissue.WHOLE_ROOT})

LEAF_PROTECTIONS = frozenset(
    {Protection.FLEECE, Protection.DOUBLE_FLEECE, Protection.MOVE, Protection.TIE_CROWN}
)

COVERS = frozenset({Protection.FLEECE, Protection.DOUBLE_FLEECE})
"""What is laid over a plant, and comes off by day."""

STEM_PROTECTIONS = frozenset({Protection.SLEEVE})

ROOT_PROTECTIONS = frozenset(Protection) - {
    Protection.FLEECE,
    Protection.DOUBLE_FLEECE,
    Protection.SLEEVE,
    Protection.TIE_CROWN,
    Protection.SHADE,
    Protection.TIE_UP,
    Protection.SECURE,
}


AS_WELL_IN_SUMMER = frozenset({Protection.RAISE, Protection.GROUP})
"""What need not be undone when buds swell."""

PLANT_LOST_WITH = frozenset({Tissue.WHOLE_ROOT, Tissue.HEART})
"""With these the plant is lost; without its leaves, buds or outer roots it may grow again."""


def reached_by(protection: Protection) -> frozenset[Tissue]:
    """The tissues that a protection shields."""
    reached: frozenset[Tissue] = frozenset()
    if protection in LEAF_PROTECTIONS:
        reached |= ABOVE_THE_MIX
    if protection in STEM_PROTECTIONS:
        reached |= {Tissue.STEM}
    if protection in ROOT_PROTECTIONS:
        reached |= ROOTS
    return reached
