"""Which pixels of master, proof and print does the page show?"""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from printplan.colour.conversion import linear_to_device
from printplan.colour.spaces import named_profile
from printplan.pixels.as_seen import as_seen
from printplan.pixels.sharpening import paper_white_cd_m2
from printplan.pixels.sheet import Appearance, varied
from printplan.sharpening.as_seen import EyeFilter
from printplan.sharpening.calibration import spread_on
from printplan.sizing.boxes import Box
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Intent,
    NamedSpace,
    SharpenSpec,
)
from printplan.units import px_from_mm
from printplan.workbook.pictures import SURROUND, TEXT, mounted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan

    Bytes = NDArray[np.uint8]


MASTER_PX = 900
"""Longest edge of a master on the page."""

PROOF_PX = 640
"""Longer edge of the picture and its white in a proof."""

NARROW_PX = 900
"""Width on the page below which two pictures stand one below the other: side by side,
each would be smaller than the overview that was computed of it. Our choice."""

_LARGEST_OVERVIEW_PX = 2400
"""Longest overview of a sheet that a small picture's proof is cut from."""

_SCREEN_COLOUR = ColourSpec(
    intent=Intent.MEDIA_RELATIVE, black_point_compensation=BlackPointCompensation.OFF
)
_WHITE_SHARE = 0.04
"""Paper left round the picture in a proof, as a share of the picture's longer edge:
enough to see the paper's white. Our choice."""


def master_overview(master: Master, longest_px: int) -> NDArray[np.uint8]:
    """
    The whole master, reduced.

    Parameters
    ----------
    longest_px : int
        The longer edge is at most that.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. What the screen's space cannot hold is cut.
    """
    longest = max(master.facts.width_px, master.facts.height_px)
    pipeline = linear_to_device(
        master.profile,
        named_profile(NamedSpace.SRGB),
        intent=_SCREEN_COLOUR.intent,
        black_point_compensation=_SCREEN_COLOUR.black_point_compensation,
    )
    linear = master.reduced(ceil(longest / longest_px))
    return in_8_bits(pipeline.from_linear(linear))


def master_and_proof(
    master: NDArray[np.uint8],
    proof: NDArray[np.uint8],
    plan: PrintPlan,
    shown_px: int | None = None,
) -> NDArray[np.uint8]:
    """
    Master and soft proof on one ground.

    Parameters
    ----------
    master, proof : ndarray of uint8, shape (rows, columns, 3)
        From `master_preview` and `print_preview`.
    shown_px : int, optional
        Width on the page; below `NARROW_PX` they stand one below the other.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
    """
    return mounted(
        [
            (master, "overview   ·   master"),
            (proof, f"overview   ·   soft proof on {plan.paper.name}"),
        ],
        shown_px=shown_px,
        is_column=shown_px is not None and shown_px < NARROW_PX,
    )


def unsharpened(sheet: Sheet) -> Sheet:
    """The same print without sharpening, whatever sharpening it was planned with."""
    spec = sheet.plan.spec
    none = SharpenSpec(distance_mm=spec.sharpen.distance_mm)
    return varied(sheet, replace(spec, sharpen=none))


def in_screen_colour(sheet: Sheet) -> Sheet:
    """
    The same sheet as if it were made for the screen, not sharpened.

    Returns
    -------
    Sheet
        In sRGB.
    """
    spec = unsharpened(sheet).plan.spec
    delivery = DeliverySpec(
        colour=Delivery.NAMED_SPACE,
        named_space=NamedSpace.SRGB,
        extent=spec.delivery.extent,
    )
    return varied(sheet, replace(spec, colour=_SCREEN_COLOUR, delivery=delivery))


def window_box(
    plan: PrintPlan, size_px: tuple[int, int], across_share: float, down_share: float
) -> Box:
    """
    A window into the picture.

    Parameters
    ----------
    size_px : tuple of int
        Width and height wanted; a smaller picture gives a smaller window.
    across_share, down_share : float
        0 is the left or upper end of the picture, 1 the right or lower.

    Returns
    -------
    Box
        In file pixels.
    """
    picture = plan.picture_in_file
    width = min(size_px[0], picture.width)
    height = min(size_px[1], picture.height)
    return Box(
        picture.left + round((picture.width - width) * across_share),
        picture.top + round((picture.height - height) * down_share),
        width,
        height,
    )


def locator(
    thumbnail: NDArray[np.uint8], plan: PrintPlan, box: Box
) -> NDArray[np.uint8]:
    """
    Where a window lies in the master.

    Parameters
    ----------
    thumbnail : ndarray of uint8, shape (rows, columns, 3)
        From `master_overview`.
    box : Box
        From `window_box`.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        The thumbnail with the window framed, on the ground of all pictures.
    """
    rows, columns = thumbnail.shape[:2]
    picture, crop = plan.picture_in_file, plan.crop
    across = crop.width_px / picture.width * columns / plan.facts.width_px
    down = crop.height_px / picture.height * rows / plan.facts.height_px
    left = crop.left_px * columns / plan.facts.width_px
    top = crop.top_px * rows / plan.facts.height_px
    frame = (
        left + (box.left - picture.left) * across,
        top + (box.top - picture.top) * down,
        left + (box.right - picture.left) * across - 1,
        top + (box.bottom - picture.top) * down - 1,
    )
    image = Image.fromarray(thumbnail)
    draw = ImageDraw.Draw(image)
    draw.rectangle(frame, outline=SURROUND, width=4)
    draw.rectangle(frame, outline=TEXT, width=2)
    return mounted([(np.asarray(image), "overview")])


def window_preview(sheet: Sheet, box: Box) -> NDArray[np.uint8]:
    """
    Print pixels as they will look on the paper alone.

    Parameters
    ----------
    box : Box
        In file pixels.

    Returns
    -------
    ndarray of uint8, shape (box.height, box.width, 3)
        sRGB.
    """
    return sheet.proof_window(box, Appearance.PAPER_ALONE)


def seen_preview(sheet: Sheet, box: Box, distance_mm: float) -> NDArray[np.uint8]:
    """
    Print pixels through the paper's spread and an eye at a distance.

    Parameters
    ----------
    box : Box
        In file pixels.
    distance_mm : float
        Eye to paper.

    Returns
    -------
    ndarray of uint8, shape (box.height, box.width, 3)
        sRGB. A pixel for each print pixel, as in `window_preview`.
    """
    plan = sheet.plan
    return as_seen(
        sheet,
        box,
        spread=spread_on(plan.paper, plan.setup).spread,
        distance_mm=distance_mm,
        screen_px_per_mm=px_from_mm(1.0, plan.ppi),
        eye=EyeFilter.AT_DISTANCE,
        white_cd_m2=paper_white_cd_m2(plan),
    ).pixels


def master_preview(on_screen: Sheet) -> NDArray[np.uint8]:
    """
    The master's part that is printed, with a little white round it.

    Parameters
    ----------
    on_screen : Sheet
        From `in_screen_colour`.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. What the screen's space cannot hold is cut.
    """
    return in_8_bits(_overview(on_screen))


def print_preview(sheet: Sheet, appearance: Appearance) -> NDArray[np.uint8]:
    """
    The print as it will look, with a little of its paper.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    """
    return sheet.proof(_overview(sheet), appearance)


def _overview(sheet: Sheet) -> NDArray[np.uint16]:
    """Picture and a little paper at reduced size, in the file's values."""
    picture = sheet.plan.picture_in_file
    white = round(max(picture.width, picture.height) * _WHITE_SHARE)
    shown = picture.grown(white, Box(0, 0, *sheet.size_px))
    longest_px = PROOF_PX * max(sheet.size_px) / max(shown.width, shown.height)
    overview = sheet.overview(min(round(longest_px), _LARGEST_OVERVIEW_PX))
    top, left = round(shown.top * overview.scale), round(shown.left * overview.scale)
    bottom = max(round(shown.bottom * overview.scale), top + 1)
    right = max(round(shown.right * overview.scale), left + 1)
    return overview.pixels[top:bottom, left:right]


def in_8_bits(codes: NDArray[np.uint8] | NDArray[np.uint16]) -> NDArray[np.uint8]:
    """Screen values as a browser takes them, rounded to the nearest."""
    if codes.dtype == np.uint8:
        return codes.astype(np.uint8, copy=False)
    return ((codes.astype(np.uint32) + 128) // 257).astype(np.uint8)
