"""Does a file keep to what its print service asks, and what is lost on the way?"""

from __future__ import annotations

from functools import partial
from math import floor
from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Source, note, stop, warn
from printplan.colour.losses import FAR_OUT, gamut_distance, summarize_distance
from printplan.spec import Delivery, FileFormat
from printplan.units import length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.media import Service
    from printplan.pixels.consequences import Consequences
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan

_BYTES = {FileFormat.TIFF_16: 6, FileFormat.TIFF_8: 3}
"""Of a pixel of RGB in a file that is not compressed."""

_OTHER_BYTES = 100_000
"""Room for tags, strip tables and a named space's profile. Our choice."""

_CUT_SHARE = 0.03
"""Share of the picture, cut by the space alone, from which it is told: our choice."""

_STEP_PPI = 0.1

_HAIR_MM = 0.13
"""Half of a hundredth of an inch, to which lengths are told, and no bleed is cut."""


def service_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What a service's limits tell of the file's numbers."""
    service = plan.printer.service
    if service is not None:
        yield from _about_pixels(plan, service)
        yield from _about_quality(plan, service)
        yield from _about_proof(plan, service)
        words = partial(length_words, plan.spec.lengths_in)
        lacks = plan.delivery.bleed_mm < service.bleed_mm - _HAIR_MM
        if lacks and plan.spec.sheet.border_mm == 0:
            yield warn(
                topic="bleed asked for",
                problem=f"The file has a bleed of {words(plan.delivery.bleed_mm)}; "
                f"{service.name} asks for {words(service.bleed_mm)}.",
                remedy=f"Choose a bleed of {words(service.bleed_mm)}.",
                source=Source.BOOK,
            )
    yield from _about_bleed(plan)


def _about_pixels(plan: PrintPlan, service: Service) -> Iterator[Finding]:
    """Pixels and bytes that are known before the file is made."""
    width_px, height_px = plan.file_box.width, plan.file_box.height
    pixels, longest = width_px * height_px, max(width_px, height_px)
    problems = []
    scale = 1.0
    if service.most_pixels is not None and pixels > service.most_pixels:
        problems.append(f"at most {service.most_pixels / 1e6:g} million px")
        scale = min(scale, (service.most_pixels / pixels) ** 0.5)
    if service.longest_px is not None and longest > service.longest_px:
        problems.append(f"at most {service.longest_px} px along an edge")
        scale = min(scale, service.longest_px / longest)
    each = _BYTES.get(plan.delivery.file_format)
    if service.most_bytes is not None and each is not None:
        room = max(service.most_bytes - _OTHER_BYTES, 1)
        if pixels * each > room:
            problems.append(f"at most {service.most_mb:g} MB a file")
            scale = min(scale, (room / (pixels * each)) ** 0.5)
    if not problems:
        return
    # Edges are rounded anew at another resolution, each by less than a pixel.
    fitting = plan.ppi * (scale - 1 / min(width_px, height_px))
    told_ppi = floor(fitting / _STEP_PPI) * _STEP_PPI
    may_be_jpeg = each is not None and FileFormat.JPEG in service.file_formats
    size = f", {pixels * each / 1e6:.1f} MB" if each else ""
    yield stop(
        topic="service's limits",
        problem=f"The file would be {width_px} × {height_px} px"
        f" ({pixels / 1e6:.1f} million{size}); {service.name} takes "
        f"{' and '.join(problems)}.",
        remedy=f"Choose {told_ppi:.1f} ppi or less, or a smaller print"
        + (", or the format JPEG." if may_be_jpeg else "."),
        source=Source.BOOK,
    )


def _about_quality(plan: PrintPlan, service: Service) -> Iterator[Finding]:
    quality, least = plan.delivery.jpeg_quality, service.jpeg_quality
    if quality is not None and least is not None and quality < least:
        yield warn(
            topic="JPEG quality",
            problem=f"The JPEG quality is {quality}; {service.name} asks for {least} "
            "or more.",
            remedy=f"Choose the JPEG quality {least}.",
            source=Source.BOOK,
        )


def _about_proof(plan: PrintPlan, service: Service) -> Iterator[Finding]:
    ordered = service.paper(plan.paper.name)
    if ordered is not None and not ordered.proof_profile:
        yield note(
            topic="proof of the space",
            problem=f"{service.name} gives no profile of {ordered.name}: the proof "
            f"shows what {plan.delivery.named_space} holds, not what the paper does.",
            remedy="Ask for the profile and name it in the paper book, or order a "
            "small print first.",
            source=Source.BOOK,
        )


def _about_bleed(plan: PrintPlan) -> Iterator[Finding]:
    bleed_mm = plan.delivery.bleed_mm
    if bleed_mm == 0:
        return
    unit, size = plan.spec.lengths_in, plan.picture_size
    width_mm, height_mm = plan.trimmed_mm
    crop, facts = size.crop, plan.facts
    shown = (width_mm / size.width_mm) * (height_mm / size.height_mm)
    kept = crop.width_px * crop.height_px / (facts.width_px * facts.height_px)
    yield note(
        topic="bleed",
        problem=f"The file goes {short_words(unit, bleed_mm)} beyond the print of "
        f"{length_words(unit, width_mm, height_mm)} on each side. Trimmed to it, "
        f"{1 - shown * kept:.1%} of the photograph is not seen, {1 - shown:.1%} by "
        "the bleed.",
        remedy="See in the preview that nothing that matters lies at the edges.",
        source=Source.PLAN,
    )


def space_findings(sheet: Sheet, found: Consequences) -> Iterator[Finding]:
    """
    What the space of the file cuts off before the service's paper gets it.

    Parameters
    ----------
    found : Consequences
        Of the same sheet.
    """
    if sheet.plan.delivery.colour is not Delivery.NAMED_SPACE:
        return
    cut = summarize_distance(gamut_distance(found.lab, sheet.profile)).share_far_out
    if cut <= _CUT_SHARE:
        return
    others = [
        it
        for it in getattr(sheet.plan.printer.service, "named_spaces", ())
        if it != sheet.plan.delivery.named_space
    ]
    remedy = "Bring the strongest colours in while you look at the proof."
    if others:
        remedy = f"Try the space {others[0]}, which is taken too. {remedy}"
    yield warn(
        topic="cut to the space",
        problem=f"{cut:.0%} of the picture lies more than {FAR_OUT:g} dE00 outside "
        f"{sheet.plan.delivery.named_space}, the space of the file, and is cut before "
        f"{sheet.plan.paper.name} gets it; told from {_CUT_SHARE:.0%} on.",
        remedy=remedy,
        source=Source.OUR_CHOICE,
    )
