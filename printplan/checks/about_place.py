"""Does the file come out on the paper where and as large as it was planned?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.about_mount import THINNEST_BORDER_MM
from printplan.checks.finding import BOOK, OUR_CHOICE, PLAN, Finding, Level
from printplan.spec import Delivery, Extent, Orientation, Placement
from printplan.units import at_most_words, length_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan

SQUARE_WITHIN = 1.1
"""Longer edge over the shorter up to which a picture lies neither way: our choice."""

_TOUCH_MM = 1e-6


def about_place(plan: PrintPlan) -> Iterator[Finding]:
    """
    What place, extent and orientation tell.

    Parameters
    ----------
    plan : PrintPlan

    Yields
    ------
    Finding
    """
    layout, sheet, unit = plan.layout, plan.spec.sheet, plan.spec.lengths_in
    width, height = plan.picture_size.width_mm, plan.picture_size.height_mm
    lies = Orientation.LANDSCAPE if width > height else Orientation.PORTRAIT
    if max(width, height) > SQUARE_WITHIN * min(width, height) and (
        lies is not layout.orientation
    ):
        yield Finding(
            level=Level.NOTE,
            about="orientation",
            problem=f"The picture is {length_words(unit, width, height)}, and its "
            "sheet lies the other way, "
            f"{length_words(unit, layout.width_mm, layout.height_mm)}.",
            remedy='Set orientation to "by-picture" unless the white is meant.',
            source=OUR_CHOICE,
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
        yield Finding(
            level=Level.WARN,
            about="driver scaling",
            problem=f"The file's white border reaches {length_words(unit, reaches_mm)} "
            f"into the margins of the {plan.feed.name}; a print dialogue would shrink "
            "it to fit.",
            remedy=f'Choose {less}, or the extent "sheet".',
            source=BOOK,
        )
    if sheet.placement is not Placement.CENTRED:
        yield Finding(
            level=Level.WARN,
            about="place lost",
            problem="The file holds the picture alone, so its place on the sheet "
            f"({sheet.placement}) is not in it.",
            remedy='Choose the extent "sheet", or set the place by hand in the print '
            f"dialogue: {length_words(unit, layout.bordered.left_mm)} from the left, "
            f"{length_words(unit, layout.bordered.top_mm)} from the top.",
            source=PLAN,
        )
