"""One thing to tell: several may go into one notice."""

from __future__ import annotations

from dataclasses import dataclass

from frostguard.advice.plan import Caution, Job
from frostguard.notify.brief import JobBrief
from frostguard.notify.notice import NoticeKind


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with its items, one sentence or more each; nothing is shown without items."""

    heading: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Matter:
    """One thing to tell.

    Parameters
    ----------
    kind : NoticeKind
        What it is about.
    keys : tuple of str
        What is remembered as told; the first is the notice's identity where this matter leads it.
    subject : str
        What fits a subject line.
    lead : str
        What the text begins with.
    brief : str
        What the short form adds to the subject.
    sections : tuple of Section
        The rest.
    jobs : tuple of Job
        Jobs with deadlines, for the calendar.
    called_off : tuple of JobBrief
        Jobs as they were told that are not needed after all, or whose place others take, for the calendar.
    cautions : tuple of Caution
        Warnings beside those of the jobs.
    interrupts : bool
        Whether somebody has to act on it.
    """

    kind: NoticeKind
    keys: tuple[str, ...]
    subject: str
    lead: str
    brief: str = ""
    sections: tuple[Section, ...] = ()
    jobs: tuple[Job, ...] = ()
    called_off: tuple[JobBrief, ...] = ()
    cautions: tuple[Caution, ...] = ()
    interrupts: bool = False
