"""Is this the profile of this paper, printer, ink and media type?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from printplan.checks.finding import BOOK, Finding, Level
from printplan.spec import Delivery

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from printplan.media import Paper, PaperOnPrinter
    from printplan.plan import PrintPlan


def about_pair(plan: PrintPlan, papers: Iterable[Paper]) -> Iterator[Finding]:
    """
    What the paper's settings on its printer tell.

    Parameters
    ----------
    plan : PrintPlan
    papers : iterable of Paper
        All papers of the book; empty if not known.

    Yields
    ------
    Finding
    """
    setup, paper = plan.setup, plan.paper
    if not Path(setup.profile).is_file():
        yield Finding(
            level=Level.STOP,
            about="profile missing",
            problem=f"The profile of {paper.name} is not there: {setup.profile}.",
            remedy="Put it back, or name the right file in the paper book.",
            source=BOOK,
        )
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return  # the profile serves the soft proof alone, and no ink of ours is used
    for other, pair in _others(plan, papers):
        yield Finding(
            level=Level.WARN,
            about="profile shared",
            problem=f"The profile of {paper.name} on {setup.printer} is also that of "
            f"{other} on {pair.printer} ({pair.black_ink}, "
            f"{pair.media_type or 'no media type'}).",
            remedy="Find out which of the two it was made for, and name the other's "
            "own profile in the paper book.",
            source=ONE_PAIR,
        )
    if setup.black_ink not in plan.printer.black_inks:
        yield Finding(
            level=Level.STOP,
            about="black ink",
            problem=f"{paper.name} wants {setup.black_ink}; {plan.printer.name} "
            f"has {', '.join(plan.printer.black_inks)}.",
            remedy="Correct the black ink in the paper book.",
            source=BOOK,
        )
    if not setup.media_type:
        yield Finding(
            level=Level.NOTE,
            about="media type",
            problem=f"The paper book does not say what the driver of "
            f"{plan.printer.name} calls {paper.name}.",
            remedy="Look up the media type that its profile was made with, and write "
            "it into media_type.",
            source=BOOK,
        )
    if not setup.profile_sha256:
        yield Finding(
            level=Level.NOTE,
            about="profile not kept",
            problem=f"The paper book holds no hash of the profile of {paper.name}; a "
            "changed file would go unseen.",
            remedy="Write the file's SHA-256 into profile_sha256.",
            source=BOOK,
        )


ONE_PAIR = "common practice, no source: a profile is made for one paper on one printer"


def _others(
    plan: PrintPlan, papers: Iterable[Paper]
) -> Iterator[tuple[str, PaperOnPrinter]]:
    """Other pairs with the same profile, by its hash or its file."""
    own = plan.setup
    known = {it.name: it for it in (*papers, plan.paper)}
    for paper in known.values():
        for pair in paper.on_printer:
            if (paper.name, pair.printer) == (plan.paper.name, own.printer):
                continue
            hashes = (pair.profile_sha256, own.profile_sha256)
            if pair.profile == own.profile or (
                hashes[0] == hashes[1] and hashes[0] != ""
            ):
                yield paper.name, pair
