"""What do the numbers of a plan, its master and its delivery tell?"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from printplan.checks.edges import edge_findings
from printplan.checks.finding import Finding, Source, by_severity, note, warn
from printplan.checks.mat import mat_findings
from printplan.checks.paper import pairing_findings, paper_findings
from printplan.checks.placement import mount_findings, placement_findings
from printplan.checks.service import service_findings
from printplan.checks.size import size_findings
from printplan.spec import BlackPointCompensation, Delivery, FileFormat, Intent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from printplan.checks.finding import Decided
    from printplan.media import Paper
    from printplan.plan import PrintPlan
    from printplan.spec import MasterFacts


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
            *mat_findings(plan),
            *mount_findings(plan),
            *edge_findings(plan),
            *delivery_findings(plan),
            *service_findings(plan),
        ]
    )


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
        yield warn(
            topic="master changed",
            problem="The master is not the one that was decided on: its hash begins "
            f"{facts.sha256[:_SHOWN_DIGITS]}, not "
            f"{decided.master_sha256[:_SHOWN_DIGITS]}.",
            remedy="Look at the picture again, or put the old master back.",
            source="SHA-256 of the file",
        )
    if facts.profile_is_assumed:
        yield warn(
            topic="profile assumed",
            problem=f"The master carries no profile; it is read as "
            f"{facts.profile_name}, as you said.",
            remedy="Look at its colours before printing, or export it with its "
            "profile.",
            source=Source.MASTER,
        )
    if facts.clipped_share > 0:
        yield warn(
            topic="clipped values",
            problem=f"{facts.clipped_share:.2%} of the master's numbers lie outside "
            "0 to 1 and were clipped.",
            remedy="Bring them into range in the master if their detail matters.",
            source=Source.MASTER,
        )
    yield from _notes(facts)


def _notes(facts: MasterFacts) -> Iterator[Finding]:
    if facts.alpha_was_flattened:
        yield note(
            topic="transparency",
            problem="The master was transparent in places; it lies on paper white.",
            remedy="Flatten it yourself if another ground was meant.",
            source=Source.MASTER,
        )
    if facts.page_count > 1:
        yield note(
            topic="pages",
            problem=f"The master holds {facts.page_count} pages; the first is used.",
            remedy="Export the wanted page alone if it is another.",
            source=Source.MASTER,
        )
    if facts.orientation_flag != 1:
        yield note(
            topic="orientation flag",
            problem="The master says by a flag how it is turned "
            f"({facts.orientation_flag} of 1 to 8); it is printed as the flag says.",
            remedy="See in the preview that its top is up; if not, turn the picture "
            "itself and save it without the flag.",
            source="TIFF 6.0 and Exif, tag Orientation",
        )
    if facts.file_format == "JPEG":
        yield note(
            topic="compressed master",
            problem="The master is a JPEG file: 8 bits per channel, compressed with "
            "loss.",
            remedy="Print from the uncompressed original if there is one; otherwise "
            "look for blocks in smooth tones at the true size.",
            source=Source.OUR_CHOICE,
        )


def delivery_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What intent and delivery tell."""
    yield from _about_intent(plan)
    yield from _about_depth(plan)


_UNSUITED = {
    Intent.ICC_ABSOLUTE: partial(
        warn,
        topic="absolute intent",
        problem="ICC-absolute prints the master's white as a tint on this paper.",
    ),
    Intent.SATURATION: partial(
        warn,
        topic="saturation intent",
        problem="The saturation intent keeps colours strong, not true.",
    ),
}


def _about_intent(plan: PrintPlan) -> Iterator[Finding]:
    colour = plan.spec.colour
    if colour.intent in _UNSUITED:
        yield _UNSUITED[colour.intent](
            remedy="Choose the media-relative or the perceptual intent for a "
            "photograph.",
            source="ICC.1:2022, 6.2, for what it does; for photographs "
            f"{Source.COMMON_PRACTICE}",
        )
    if (
        colour.intent is Intent.MEDIA_RELATIVE
        and colour.black_point_compensation is BlackPointCompensation.OFF
    ):
        yield note(
            topic="compensation off",
            problem="Without black point compensation all tones below the paper's "
            "black become one.",
            remedy="Switch it on unless the deepest tones are to be cut.",
            source="ISO 18619:2015",
        )


def _about_depth(plan: PrintPlan) -> Iterator[Finding]:
    delivery = plan.delivery
    eight_bits = delivery.file_format in {FileFormat.TIFF_8, FileFormat.JPEG}
    if eight_bits and delivery.colour is not Delivery.NAMED_SPACE:
        yield note(
            topic="8 bits",
            problem="The file holds 8 bits per channel; slow gradients rely on its "
            "dither.",
            remedy='Choose the format "TIFF, 16 bits" where the next program takes it.',
            source=Source.OUR_CHOICE,
        )
    depth = 8 if eight_bits else 16
    if (
        delivery.colour is Delivery.PRINTER_COLOUR
        and depth not in plan.printer.bit_depths
    ):
        yield warn(
            topic="bit depth",
            problem=f"The file holds {depth} bits; {plan.printer.name} takes "
            f"{', '.join(str(bits) for bits in plan.printer.bit_depths)}.",
            remedy="Choose the format of that depth.",
            source=Source.BOOK,
        )
