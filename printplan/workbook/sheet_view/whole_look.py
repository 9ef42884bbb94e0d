"""What does the whole photograph look like on this paper, whatever is cut of it?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.pixels.sheet import Appearance, build_sheet
from printplan.plan import resolve
from printplan.spec import (
    Extent,
    MountSpec,
    Orientation,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)
from printplan.units import mm_from_px

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.spec import PrintSpec

LONGEST_PX = 1200
"""Longer edge of the look: two pixels to one of the page on dense screens."""

_PPI = 300.0
_ROOM_MM = 450.0
"""More than two of the widest margins that a feed path can have."""


def whole_sheet(sheet: Sheet, kept: Sheet | None = None) -> Sheet:
    """
    The whole photograph, small, in the colour of a sheet's plan.

    Parameters
    ----------
    sheet : Sheet
    kept : Sheet, optional
        What this function gave before; its pixels are used again if they serve.

    Returns
    -------
    Sheet
        Whose file is the picture alone, not sharpened.
    """
    plan = sheet.plan
    small = resolve(plan.facts, plan.paper, plan.printer, _small(plan.spec))
    return build_sheet(sheet.master, small, reuse=kept)


def whole_look(whole: Sheet) -> NDArray[np.uint8]:
    """
    The whole photograph as it will look on the paper alone.

    Parameters
    ----------
    whole : Sheet
        From `whole_sheet`.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB; an overview.
    """
    return whole.proof(whole.overview(LONGEST_PX).pixels, Appearance.PAPER_ALONE)


def _small(spec: PrintSpec) -> PrintSpec:
    longest_mm = mm_from_px(LONGEST_PX, _PPI)
    edge_mm = longest_mm + _ROOM_MM
    return replace(
        spec,
        size=SizeSpec(rule=SizeRule.LONGEST_EDGE, longest_mm=longest_mm, ppi=_PPI),
        sheet=SheetSpec(
            media_size="custom",
            feed=spec.sheet.feed,
            width_mm=edge_mm,
            height_mm=edge_mm,
            orientation=Orientation.PORTRAIT,
        ),
        sharpen=SharpenSpec(),
        mount=MountSpec(),
        delivery=replace(spec.delivery, extent=Extent.PICTURE),
    )
