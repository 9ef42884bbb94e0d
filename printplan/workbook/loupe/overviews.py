"""How does the whole file look at reduced size, and which colours are out of gamut?"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from printplan.colour.losses import (
    OUT_OF_GAMUT,
    gamut_distance,
    gamut_distance_table,
    summarize_distance,
)
from printplan.colour.spaces import decode, encode, lab_from_xyz
from printplan.colour.transforms import colorants_xyz
from printplan.spec import NamedSpace
from printplan.workbook.drawings.paint import FULL_REACH_DELTA_E, paint_reach
from printplan.workbook.previews import in_8_bits, unsharpened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.sizing.boxes import Box
    from printplan.workbook.loupe.sides import Side

    Bytes = NDArray[np.uint8]
    Floats = NDArray[np.float32]


_OVERVIEWS_KEPT = 6


class OverviewStore:
    """
    Overviews in screen colour that outlive a change of sharpening.

    Notes
    -----
    An overview is never sharpened, so those of plans that differ in sharpening alone
    are the same.
    """

    def __init__(self) -> None:
        self._kept: deque[tuple[Side, PrintPlan, int, Bytes]] = deque(
            maxlen=_OVERVIEWS_KEPT
        )

    def shown(self, sheet: Sheet, side: Side, longest_px: int) -> Bytes:
        """
        The whole file, reduced, as a side shows it.

        Parameters
        ----------
        sheet : Sheet
            The side's own.

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            sRGB; not to be changed.

        Raises
        ------
        PrintPlanError
            As for `Sheet.overview`.
        """
        plan = unsharpened(sheet).plan
        for kept, old_plan, old_px, pixels in list(self._kept):
            same_look = kept.appearance == side.appearance
            if same_look and old_px == longest_px and old_plan == plan:
                return pixels
        codes = sheet.overview(longest_px).pixels
        made = (
            in_8_bits(codes)
            if side.appearance is None
            else sheet.proof(codes, side.appearance)
        )
        self._kept.append((side, plan, longest_px, made))
        return made


def averaged(pixels: Bytes, size_px: tuple[int, int]) -> Bytes:
    """
    Means of light over the squares of the screen's pixels.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    size_px : tuple of int
        Width and height wanted.

    Returns
    -------
    ndarray of uint8, shape (height, width, 3)
        sRGB.
    """
    light = decode(NamedSpace.SRGB, pixels / 255.0)
    planes = [
        mean_of(np.ascontiguousarray(light[..., channel], np.float32), size_px)
        for channel in range(light.shape[-1])
    ]
    means = np.clip(np.stack(planes, axis=-1), 0.0, 1.0).astype(np.float64)
    return np.rint(encode(NamedSpace.SRGB, means) * 255).astype(np.uint8)


def mean_of(plane: Floats, size_px: tuple[int, int]) -> Floats:
    """
    Means of a quantity over the squares of the screen's pixels.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)
    size_px : tuple of int
        Width and height wanted; where it is finer, values repeat.

    Returns
    -------
    ndarray of float32, shape (height, width)
    """
    image = Image.fromarray(plane)
    return np.asarray(image.resize(size_px, Image.Resampling.BOX), np.float32)


_SAMPLED_PX = 3000
"""Pixels of a view whose distances are computed exactly, for the words: enough for a
share to within 2 of 100. Our choice."""

_LEGEND_STEPS, _LEGEND_TONE = 33, 128


def reach_in(sheet: Sheet, box: Box) -> tuple[Floats | None, Floats]:
    """
    Distances of print pixels.

    Parameters
    ----------
    box : Box
        In file pixels.

    Returns
    -------
    linear : ndarray of float32, shape (channels, rows, columns), or None
        The picture's part of the box in linear light; None on bare paper.
    distance : ndarray of float32, shape (box.height, box.width)
        dE00, 0 on bare paper.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    distance = np.zeros((box.height, box.width), np.float32)
    picture = sheet.plan.picture_in_file
    part = picture.common(box)
    if part is None:
        return None, distance
    linear = sheet.light.region(part.moved(-picture.left, -picture.top))
    np.clip(linear, 0.0, 1.0, out=linear)
    table = gamut_distance_table(sheet.master.profile, sheet.delivered)
    target = part.moved(-box.left, -box.top)
    distance[target.top : target.bottom, target.left : target.right] = (
        table.from_linear(linear)[..., 0]
    )
    return linear, distance


def reach_words(sheet: Sheet, linear: Floats | None) -> str:
    """
    What the distances of a view add up to.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns), or None
        The picture's part of the view; None on bare paper.

    Returns
    -------
    str
        Of evenly spread pixels whose distances are computed exactly; the painted ones
        are read from a table.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    if linear is None:
        return "Bare paper: nothing here is out of reach."
    flat = linear.reshape(len(linear), -1)
    sample = flat[:, :: -(-flat.shape[1] // _SAMPLED_PX)].T.astype(np.float64)
    lab = lab_from_xyz(sample @ colorants_xyz(sheet.master.profile).T)
    summary = summarize_distance(gamut_distance(lab, sheet.delivered))
    return (
        f"In this view {summary.share_out:.0%} lies more than {OUT_OF_GAMUT:g} dE00 "
        f"from what {sheet.delivered_name} can hold; 95 of 100 pixels keep within "
        f"{summary.p95_delta_e:.1f}."
    )


def reach_legend() -> list[str]:
    """
    Paint of even steps of distance, for a scale beside the picture.

    Returns
    -------
    list of str
        CSS colours over a middle grey, from 0 to `FULL_REACH_DELTA_E`.
    """
    tone = np.full((1, _LEGEND_STEPS, 3), _LEGEND_TONE, np.uint8)
    steps = np.linspace(0.0, FULL_REACH_DELTA_E, _LEGEND_STEPS)[None]
    return [f"rgb({r}, {g}, {b})" for r, g, b in paint_reach(tone, steps)[0].tolist()]
