"""What should be known before ink is spent? Findings, never exceptions."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.spec import (
    BlackPointCompensation,
    Delivery,
    FileFormat,
    Intent,
    Orientation,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan

LOW_PPI = 200.0
"""Common practice, no source: 200-300 picture pixels per inch at the final size."""


class Level(StrEnum):
    """How much a finding weighs."""

    NOTE = "note"
    WARN = "warn"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """
    One thing to know about a print that can be made.

    Attributes
    ----------
    level : Level
    about : str
        What it concerns, in a word or two that do not change.
    problem : str
        The measured number and its limit.
    remedy : str
        A setting and a value that works.
    """

    level: Level
    about: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.level}: {self.problem} {self.remedy}"


def check_plan(plan: PrintPlan) -> list[Finding]:
    """
    What the numbers of a plan tell, without touching a pixel.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    list of Finding
        Gravest first; empty if there is nothing to say.
    """
    found = [
        *_about_master(plan),
        *_about_paper(plan),
        *_about_size(plan),
        *_about_colour(plan),
    ]
    order = [Level.STOP, Level.WARN, Level.NOTE]
    return sorted(found, key=lambda finding: order.index(finding.level))


def check_pixels(sheet: Sheet) -> list[Finding]:
    """
    What the files behind a sheet tell.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    list of Finding
    """
    found = []
    recorded = sheet.plan.setup.profile_sha256
    if recorded and recorded != sheet.output.sha256:
        found.append(
            Finding(
                level=Level.STOP,
                about="profile changed",
                problem=f"The profile of {sheet.plan.paper.name} is not the one in "
                f"the paper book: its hash begins {sheet.output.sha256[:8]}, not "
                f"{recorded[:8]}.",
                remedy="Put the old profile back, or record the new one's hash.",
            )
        )
    carried = sheet.master.source_profile
    if carried.device_class == "prtr":
        found.append(
            Finding(
                level=Level.STOP,
                about="converted twice",
                problem=f"The master carries an output profile ({carried.name}): it "
                "is already in a printer's colour.",
                remedy="Print from the master in its working space.",
            )
        )
    return found


def _about_master(plan: PrintPlan) -> Iterator[Finding]:
    facts = plan.facts
    if facts.profile_is_assumed:
        yield Finding(
            level=Level.WARN,
            about="profile assumed",
            problem=f"The master carries no profile; it is read as "
            f"{facts.profile_name}, as you said.",
            remedy="Look at its colours before printing, or export it with its "
            "profile.",
        )
    if facts.alpha_was_flattened:
        yield Finding(
            level=Level.NOTE,
            about="transparency",
            problem="The master was transparent in places; it lies on paper white.",
            remedy="Flatten it yourself if another ground was meant.",
        )
    if facts.page_count > 1:
        yield Finding(
            level=Level.NOTE,
            about="pages",
            problem=f"The master holds {facts.page_count} pages; the first is used.",
            remedy="Export the wanted page alone if it is another.",
        )
    if facts.clipped_share > 0:
        yield Finding(
            level=Level.WARN,
            about="clipped values",
            problem=f"{facts.clipped_share:.2%} of the master's numbers lie outside "
            "0 to 1 and were clipped.",
            remedy="Bring them into range in the master if their detail matters.",
        )


def _about_paper(plan: PrintPlan) -> Iterator[Finding]:
    feed, paper, layout = plan.feed, plan.paper, plan.layout
    if feed.name not in plan.setup.feeds:
        yield Finding(
            level=Level.STOP,
            about="feed path",
            problem=f"{paper.name} does not go through the {feed.name} of "
            f"{plan.printer.name}.",
            remedy=f"Choose one of: {', '.join(plan.setup.feeds)}.",
        )
    if not feed.thinnest_um <= paper.thickness_um <= feed.thickest_um:
        yield Finding(
            level=Level.STOP,
            about="paper thickness",
            problem=f"{paper.name} is {paper.thickness_um:g} µm thick; the {feed.name} "
            f"takes {feed.thinnest_um:g} to {feed.thickest_um:g} µm.",
            remedy="Choose another feed path or another paper.",
        )
    turned = layout.orientation is Orientation.LANDSCAPE
    across, along = layout.width_mm, layout.height_mm
    if turned:
        across, along = along, across
    for what, length, low, high in (
        ("wide", across, feed.narrowest_mm, feed.widest_mm),
        ("long", along, feed.shortest_mm, feed.longest_mm),
    ):
        if not low <= length <= high:
            yield Finding(
                level=Level.STOP,
                about="sheet in feed path",
                problem=f"The sheet is {length:.1f} mm {what}; the {feed.name} takes "
                f"{low:g} to {high:g} mm.",
                remedy="Choose another sheet or another feed path.",
            )
    if plan.setup.black_ink not in plan.printer.black_inks:
        yield Finding(
            level=Level.STOP,
            about="black ink",
            problem=f"{paper.name} wants {plan.setup.black_ink}; {plan.printer.name} "
            f"has {', '.join(plan.printer.black_inks)}.",
            remedy="Correct the black ink in the paper book.",
        )


def _about_size(plan: PrintPlan) -> Iterator[Finding]:
    ppi = plan.ppi
    if plan.effective_ppi < LOW_PPI:
        widest_mm = plan.picture_size.width_mm * plan.effective_ppi / LOW_PPI
        yield Finding(
            level=Level.WARN,
            about="enlargement",
            problem=f"The master gives {plan.effective_ppi:.1f} of its own pixels per "
            f"inch at this size; {LOW_PPI:.0f} to 300 are usual.",
            remedy=f"Print at most {int(widest_mm)} mm wide, or judge a trial from the "
            "viewing distance.",
        )
    if ppi not in plan.printer.input_ppi:
        offered = ", ".join(f"{value:g}" for value in plan.printer.input_ppi)
        yield Finding(
            level=Level.NOTE,
            about="printer resolution",
            problem=f"The file has {ppi:g} ppi; {plan.printer.name} resamples what is "
            f"not {offered} ppi.",
            remedy="Choose one of these, so that no pixel is made twice.",
        )


def _about_colour(plan: PrintPlan) -> Iterator[Finding]:
    colour, delivery = plan.spec.colour, plan.delivery
    if colour.intent is Intent.ICC_ABSOLUTE:
        yield Finding(
            level=Level.WARN,
            about="absolute intent",
            problem="ICC-absolute prints the master's white as a tint on this paper.",
            remedy='Use "media-relative" or "perceptual" for a photograph.',
        )
    if colour.intent is Intent.SATURATION:
        yield Finding(
            level=Level.WARN,
            about="saturation intent",
            problem="The saturation intent keeps colours strong, not true.",
            remedy='Use "media-relative" or "perceptual" for a photograph.',
        )
    if (
        colour.intent is Intent.MEDIA_RELATIVE
        and colour.black_point_compensation is BlackPointCompensation.OFF
    ):
        yield Finding(
            level=Level.NOTE,
            about="compensation off",
            problem="Without black point compensation all tones below the paper's "
            "black become one.",
            remedy="Switch it on unless the deepest tones are to be cut.",
        )
    eight_bits = delivery.file_format in {FileFormat.TIFF_8, FileFormat.JPEG}
    if eight_bits and delivery.colour is not Delivery.NAMED_SPACE:
        yield Finding(
            level=Level.NOTE,
            about="8 bits",
            problem="The file holds 8 bits per channel; slow gradients rely on its "
            "dither.",
            remedy='Use "tiff-16" where the next program takes it.',
        )
    depth = 8 if eight_bits else 16
    if (
        delivery.colour is Delivery.PRINTER_COLOUR
        and depth not in plan.printer.bit_depths
    ):
        yield Finding(
            level=Level.WARN,
            about="bit depth",
            problem=f"The file holds {depth} bits; {plan.printer.name} takes "
            f"{', '.join(str(bits) for bits in plan.printer.bit_depths)}.",
            remedy="Choose the file format of that depth.",
        )
