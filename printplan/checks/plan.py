"""What do the numbers of a plan tell?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.delivery import about_colour
from printplan.checks.finding import gravest_first
from printplan.checks.master import about_master
from printplan.checks.paper import about_pair, about_paper
from printplan.checks.placement import about_mount, about_place
from printplan.checks.size import about_size

if TYPE_CHECKING:
    from collections.abc import Iterable

    from printplan.checks.finding import Decided, Finding
    from printplan.media import Paper
    from printplan.plan import PrintPlan


def check_plan(
    plan: PrintPlan,
    *,
    decided: Decided | None = None,
    papers: Iterable[Paper] = (),
) -> list[Finding]:
    """
    What the numbers of a plan tell, without touching a pixel.

    Parameters
    ----------
    decided : Decided, optional
        What the master was when the print was decided, to tell a change.
    papers : iterable of Paper, optional
        All papers of the book, to find a profile that serves two of them.

    Returns
    -------
    list of Finding
        Gravest first; empty if there is nothing to say.
    """
    return gravest_first(
        [
            *about_master(plan.facts, decided),
            *about_pair(plan, papers),
            *about_paper(plan),
            *about_size(plan),
            *about_place(plan),
            *about_mount(plan),
            *about_colour(plan),
        ]
    )
