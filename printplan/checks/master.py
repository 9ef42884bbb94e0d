"""Is the master what it should be?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import MASTER, OUR_CHOICE, Finding, Level

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.checks.finding import Decided
    from printplan.spec import MasterFacts

_SHOWN_DIGITS = 8


def master_findings(facts: MasterFacts, decided: Decided | None) -> Iterator[Finding]:
    """
    What the facts of a master tell.

    Parameters
    ----------
    decided : Decided or None
        What it was when the print was decided.
    """
    if decided is not None and facts.sha256 != decided.master_sha256:
        yield Finding(
            level=Level.WARN,
            topic="master changed",
            problem="The master is not the one that was decided on: its hash begins "
            f"{facts.sha256[:_SHOWN_DIGITS]}, not "
            f"{decided.master_sha256[:_SHOWN_DIGITS]}.",
            remedy="Look at the picture again, or put the old master back.",
            source="SHA-256 of the file",
        )
    if facts.profile_is_assumed:
        yield Finding(
            level=Level.WARN,
            topic="profile assumed",
            problem=f"The master carries no profile; it is read as "
            f"{facts.profile_name}, as you said.",
            remedy="Look at its colours before printing, or export it with its "
            "profile.",
            source=MASTER,
        )
    if facts.clipped_share > 0:
        yield Finding(
            level=Level.WARN,
            topic="clipped values",
            problem=f"{facts.clipped_share:.2%} of the master's numbers lie outside "
            "0 to 1 and were clipped.",
            remedy="Bring them into range in the master if their detail matters.",
            source=MASTER,
        )
    yield from _notes(facts)


def _notes(facts: MasterFacts) -> Iterator[Finding]:
    if facts.alpha_was_flattened:
        yield Finding(
            level=Level.NOTE,
            topic="transparency",
            problem="The master was transparent in places; it lies on paper white.",
            remedy="Flatten it yourself if another ground was meant.",
            source=MASTER,
        )
    if facts.page_count > 1:
        yield Finding(
            level=Level.NOTE,
            topic="pages",
            problem=f"The master holds {facts.page_count} pages; the first is used.",
            remedy="Export the wanted page alone if it is another.",
            source=MASTER,
        )
    if facts.orientation_flag != 1:
        yield Finding(
            level=Level.NOTE,
            topic="orientation flag",
            problem="The master says by a flag how it is turned "
            f"({facts.orientation_flag} of 1 to 8); it is printed as the flag says.",
            remedy="See in the preview that its top is up; if not, turn the picture "
            "itself and save it without the flag.",
            source="TIFF 6.0 and Exif, tag Orientation",
        )
    if facts.file_format == "JPEG":
        yield Finding(
            level=Level.NOTE,
            topic="compressed master",
            problem="The master is a JPEG file: 8 bits per channel, compressed with "
            "loss.",
            remedy="Print from the uncompressed original if there is one; otherwise "
            "look for blocks in smooth tones at the true size.",
            source=OUR_CHOICE,
        )
