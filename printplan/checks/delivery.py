"""Do intent and file suit a photograph and this printer?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import (
    BOOK,
    COMMON_PRACTICE,
    OUR_CHOICE,
    Finding,
    Level,
)
from printplan.spec import BlackPointCompensation, Delivery, FileFormat, Intent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan


def delivery_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What intent and delivery tell."""
    yield from _about_intent(plan)
    yield from _about_depth(plan)


def _about_intent(plan: PrintPlan) -> Iterator[Finding]:
    colour = plan.spec.colour
    if colour.intent is Intent.ICC_ABSOLUTE:
        yield Finding(
            level=Level.WARN,
            topic="absolute intent",
            problem="ICC-absolute prints the master's white as a tint on this paper.",
            remedy='Use "media-relative" or "perceptual" for a photograph.',
            source="ICC.1:2022, 6.2, for what it does; for photographs "
            f"{COMMON_PRACTICE}",
        )
    if colour.intent is Intent.SATURATION:
        yield Finding(
            level=Level.WARN,
            topic="saturation intent",
            problem="The saturation intent keeps colours strong, not true.",
            remedy='Use "media-relative" or "perceptual" for a photograph.',
            source="ICC.1:2022, 6.2, for what it does; for photographs "
            f"{COMMON_PRACTICE}",
        )
    if (
        colour.intent is Intent.MEDIA_RELATIVE
        and colour.black_point_compensation is BlackPointCompensation.OFF
    ):
        yield Finding(
            level=Level.NOTE,
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
        yield Finding(
            level=Level.NOTE,
            topic="8 bits",
            problem="The file holds 8 bits per channel; slow gradients rely on its "
            "dither.",
            remedy='Use "tiff-16" where the next program takes it.',
            source=OUR_CHOICE,
        )
    depth = 8 if eight_bits else 16
    if (
        delivery.colour is Delivery.PRINTER_COLOUR
        and depth not in plan.printer.bit_depths
    ):
        yield Finding(
            level=Level.WARN,
            topic="bit depth",
            problem=f"The file holds {depth} bits; {plan.printer.name} takes "
            f"{', '.join(str(bits) for bits in plan.printer.bit_depths)}.",
            remedy="Choose the file format of that depth.",
            source=BOOK,
        )
