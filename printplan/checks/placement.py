"""Does the print suit its border and stretcher, and come out where planned?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Source, note, stop, warn
from printplan.sizing.layout import fold_edges
from printplan.spec import Delivery, Extent, Orientation, Placement
from printplan.units import at_least_words, at_most_words, length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan


SQUARE_WITHIN = 1.1
"""Longer edge over the shorter up to which a picture lies neither way: our choice."""

_TOUCH_MM = 1e-6


def placement_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What place, extent and orientation tell."""
    layout, sheet, unit = plan.layout, plan.spec.sheet, plan.spec.lengths_in
    width, height = plan.picture_size.width_mm, plan.picture_size.height_mm
    lies = Orientation.LANDSCAPE if width > height else Orientation.PORTRAIT
    if max(width, height) > SQUARE_WITHIN * min(width, height) and (
        lies is not layout.orientation
    ):
        yield note(
            topic="orientation",
            problem=f"The picture is {length_words(unit, width, height)}, and its "
            "sheet lies the other way, "
            f"{length_words(unit, layout.width_mm, layout.height_mm)}.",
            remedy='Choose the orientation "by the picture" unless the white is meant.',
            source=Source.OUR_CHOICE,
        )
    if (
        plan.delivery.extent is Extent.SHEET
        or plan.delivery.colour is Delivery.NAMED_SPACE
    ):
        return
    bordered, printable = layout.bordered, layout.printable
    reaches_mm = max(
        printable.left_mm - bordered.left_mm,
        printable.top_mm - bordered.top_mm,
        bordered.right_mm - printable.right_mm,
        bordered.bottom_mm - printable.bottom_mm,
    )
    if reaches_mm > _TOUCH_MM:
        border_mm = max(sheet.border_mm - reaches_mm, 0.0)
        less = (
            f"a border of {at_most_words(unit, border_mm)} or less"
            if border_mm > THINNEST_BORDER_MM
            else "no border"
        )
        yield warn(
            topic="driver scaling",
            problem=f"The file's white border reaches {length_words(unit, reaches_mm)} "
            f"into the margins of the {plan.feed.name}; a print dialogue would shrink "
            "it to fit.",
            remedy=f"Choose {less}, or let the file cover the whole sheet.",
            source=Source.BOOK,
        )
    if sheet.placement is not Placement.CENTRED:
        yield warn(
            topic="place lost",
            problem="The file holds the picture alone, so its place on the sheet "
            f"({sheet.placement}) is not in it.",
            remedy="Let the file cover the whole sheet, or set the place by hand in "
            "the print dialogue: "
            f"{length_words(unit, layout.bordered.left_mm)} from the left, "
            f"{length_words(unit, layout.bordered.top_mm)} from the top.",
            source=Source.PLAN,
        )


THINNEST_BORDER_MM = 3.0
"""Border that can still be cut evenly: a cut wanders by about 1 mm, which shows in a
thinner one. Our choice."""

_HAIR_MM = 1e-6

FOLD_MM = 5.0
"""Picture wanted past the back edge of a stretcher bar, so that no white shows there.
Common practice, no source."""


def mount_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What border and stretcher tell."""
    yield from _about_wrap(plan)
    yield from _about_border(plan)


def _about_border(plan: PrintPlan) -> Iterator[Finding]:
    border_mm, unit = plan.spec.sheet.border_mm, plan.spec.lengths_in
    if not 0 < border_mm < THINNEST_BORDER_MM:
        return
    sheet, picture = plan.layout.sheet, plan.layout.picture
    room_mm = min(
        picture.left_mm,
        picture.top_mm,
        sheet.right_mm - picture.right_mm,
        sheet.bottom_mm - picture.bottom_mm,
    )
    least = at_least_words(unit, THINNEST_BORDER_MM)
    wider = f"{least} or more, or none" if room_mm > THINNEST_BORDER_MM else "none"
    yield warn(
        topic="thin border",
        problem=f"The border is {short_words(unit, border_mm)}; below "
        f"{short_words(unit, THINNEST_BORDER_MM)} an uneven cut shows.",
        remedy=f"Choose {wider}. Cut along a steel rule with a guard, the hand behind "
        "the blade, and follow the cutter's own instructions.",
        source=Source.OUR_CHOICE,
    )


def _about_wrap(plan: PrintPlan) -> Iterator[Finding]:
    mount, picture, unit = plan.spec.mount, plan.layout.picture, plan.spec.lengths_in
    depth_mm, wrap_mm = mount.stretcher_depth_mm, mount.wrap_mm
    shorter_mm = min(plan.picture_size.width_mm, plan.picture_size.height_mm)
    if wrap_mm > 0 and fold_edges(picture, mount) is None:
        size = plan.picture_size
        yield stop(
            topic="wrap",
            problem=f"A wrap of {short_words(unit, wrap_mm)} on all sides leaves no "
            f"front of a picture of "
            f"{length_words(unit, size.width_mm, size.height_mm)}.",
            remedy="Choose a smaller wrap or a larger picture.",
            source=Source.PLAN,
        )
    elif depth_mm > 0 and wrap_mm < depth_mm + FOLD_MM - _HAIR_MM:
        needed_mm = depth_mm + FOLD_MM
        # What is told is rounded up, by less than a millimetre.
        leaves_front = 2 * (needed_mm + 1.0) < shorter_mm
        yield warn(
            topic="wrap",
            problem=f"The picture wraps {short_words(unit, wrap_mm)} round a bar "
            f"{short_words(unit, depth_mm)} deep; {short_words(unit, needed_mm)} cover "
            "it with its fold.",
            remedy=f"Choose a wrap of {at_least_words(unit, needed_mm)} or more, or a "
            "thinner bar."
            if leaves_front
            else "Choose a thinner bar or a larger picture: so deep a wrap would leave "
            "no front of this one.",
            source=Source.COMMON_PRACTICE,
        )
