"""Does the file come out on the paper where and as large as it was planned?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import BOOK, OUR_CHOICE, PLAN, Finding, Level
from printplan.spec import Extent, Orientation, Placement

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
    layout, sheet = plan.layout, plan.spec.sheet
    width, height = plan.picture_size.width_mm, plan.picture_size.height_mm
    lies = Orientation.LANDSCAPE if width > height else Orientation.PORTRAIT
    if max(width, height) > SQUARE_WITHIN * min(width, height) and (
        lies is not layout.orientation
    ):
        yield Finding(
            level=Level.NOTE,
            about="orientation",
            problem=f"The picture is {width:.1f} × {height:.1f} mm, and its sheet lies "
            f"the other way, {layout.width_mm:.1f} × {layout.height_mm:.1f} mm.",
            remedy='Set orientation to "by-picture" unless the white is meant.',
            source=OUR_CHOICE,
        )
    if plan.delivery.extent is Extent.SHEET:
        return
    bordered, printable = layout.bordered, layout.printable
    reaches_mm = max(
        printable.left_mm - bordered.left_mm,
        printable.top_mm - bordered.top_mm,
        bordered.right_mm - printable.right_mm,
        bordered.bottom_mm - printable.bottom_mm,
    )
    if reaches_mm > _TOUCH_MM:
        yield Finding(
            level=Level.WARN,
            about="driver scaling",
            problem=f"The file's white border reaches {reaches_mm:.1f} mm into the "
            f"margins of the {plan.feed.name}; a print dialogue would shrink it to "
            "fit.",
            remedy=f"Choose a border of {max(sheet.border_mm - reaches_mm, 0):.1f} mm "
            'or less, or the extent "sheet".',
            source=BOOK,
        )
    if sheet.placement is not Placement.CENTRED:
        yield Finding(
            level=Level.WARN,
            about="place lost",
            problem="The file holds the picture alone, so its place on the sheet "
            f"({sheet.placement}) is not in it.",
            remedy='Choose the extent "sheet", or set the place by hand in the print '
            f"dialogue: {layout.bordered.left_mm:.1f} mm from the left, "
            f"{layout.bordered.top_mm:.1f} mm from the top.",
            source=PLAN,
        )
