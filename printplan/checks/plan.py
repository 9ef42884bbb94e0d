"""What do the numbers of a plan tell?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.delivery import delivery_findings
from printplan.checks.finding import by_severity
from printplan.checks.master import master_findings
from printplan.checks.paper import pairing_findings, paper_findings
from printplan.checks.placement import mount_findings, placement_findings
from printplan.checks.size import size_findings

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
    return by_severity(
        [
            *master_findings(plan.facts, decided),
            *pairing_findings(plan, papers),
            *paper_findings(plan),
            *size_findings(plan),
            *placement_findings(plan),
            *mount_findings(plan),
            *delivery_findings(plan),
        ]
    )
