"""What is the printed picture made of, as far as sharpening cares?"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, isqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.transforms import colorants_xyz
from printplan.errors import SpecError
from printplan.pixels.texture import lightness_of
from printplan.sharpness.content import (
    SHARPENED_OVERSHOOT,
    ContentFacts,
    measure_content,
)
from printplan.sharpness.picture_edges import picture_edges
from printplan.sharpness.picture_noise import BLOCK_PX, picture_noise
from printplan.sharpness.resampling import softness_before_resampling
from printplan.size.layout import Box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.size.sizing import Crop

    Lightness = NDArray[np.float32]
    ContentKey = tuple[str, str, Crop, tuple[int, int]]

WHOLE_PIXELS = 8_000_000
"""Print pixels up to which the whole picture is measured, which takes two seconds. Our
choice: A4 at 300 ppi between margins of 10 mm has 7."""

WINDOW_PX = 45 * BLOCK_PX
"""Edge of the windows that stand for a larger picture: our choice."""

MOST_WINDOWS = 9
"""Windows at most, which take two seconds too: our choice."""

FEWEST_EDGES = 100
"""Places on edges below which windows say nothing of the picture's edges: a few glints
and leaves caught by chance do not stand for the rest. Our choice."""

_BAND_PX = 256
# Noise and edges are measured in whole windows, the kind of picture in their middles.
_MIDDLE_PX = 22 * BLOCK_PX
# In print pixels, or master pixels where those are coarser: so wide that no edge that
# `picture_edges` looks for has its even tones on both sides of a joint, 40 apart.
_JOINT_PX = 48


def content_key(plan: PrintPlan) -> ContentKey:
    """
    What the content of a print depends on.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    tuple
        Plans with the same one print the same pixels before sharpening.
    """
    facts = plan.facts
    size_px = (plan.picture.width, plan.picture.height)
    return facts.sha256, facts.profile_sha256, plan.picture_size.crop, size_px


def picture_content(sheet: Sheet) -> ContentFacts:
    """
    Measure the picture's edges, noise and texture at print size.

    Parameters
    ----------
    sheet : Sheet
        Its pixels are measured before it is lightened for its room and sharpened.

    Returns
    -------
    ContentFacts
        It holds as long as `content_key` stays the same.

    Raises
    ------
    SpecError
        If the picture is smaller than 128 print pixels one way, or clipped all over.

    Notes
    -----
    A picture of up to `WHOLE_PIXELS` is measured whole. Of a larger one, windows of
    `WINDOW_PX` are, three rows of three, or what a long shape takes, each in the
    middle of its even share of the picture: always the same ones.

    The windows are measured together: the flattest squares and the sharpest edges of
    all of them decide, but with fewer than `FEWEST_EDGES` places on edges nothing is
    said of these. Their kind, smooth or textured, is the mean of their middles.
    """
    plan = sheet.plan
    picture = sheet.tiles.picture
    if picture.width * picture.height <= WHOLE_PIXELS:
        lightness = _lightness(sheet, picture)
        return measure_content(lightness, enlargement=plan.enlargement)
    windows = sample_windows(picture)
    pictures = [[_lightness(sheet, window) for window in row] for row in windows]
    seen = sum(picture.size for row in pictures for picture in row)
    whole = plan.picture.width * plan.picture.height
    return _of_windows(pictures, plan.enlargement, seen / whole)


def sample_windows(picture: Box) -> tuple[tuple[Box, ...], ...]:
    """
    The windows that stand for a picture.

    Parameters
    ----------
    picture : Box
        In print pixels, left and top 0.

    Returns
    -------
    tuple of tuple of Box
        Rows of windows, alike in size and evenly apart.
    """
    width, height = min(WINDOW_PX, picture.width), min(WINDOW_PX, picture.height)
    fit_across, fit_down = picture.width // width, picture.height // height
    short = min(fit_across, fit_down, isqrt(MOST_WINDOWS))
    long = min(max(fit_across, fit_down), MOST_WINDOWS // short)
    across, down = (long, short) if fit_across >= fit_down else (short, long)
    lefts = [_start(picture.width, across, column, width) for column in range(across)]
    tops = [_start(picture.height, down, row, height) for row in range(down)]
    return tuple(tuple(Box(left, top, width, height) for left in lefts) for top in tops)


def _start(length: int, count: int, index: int, edge: int) -> int:
    """Where a window begins that lies in the middle of its share of a length."""
    return round((index + 0.5) * length / count - edge / 2)


def _lightness(sheet: Sheet, box: Box) -> Lightness:
    """L* of a box of the picture before sharpening, band by band."""
    to_xyz = colorants_xyz(sheet.master.profile)
    lightness = np.empty((box.height, box.width), np.float32)
    for top in range(0, box.height, _BAND_PX):
        rows = min(_BAND_PX, box.height - top)
        linear = sheet.tiles.region(Box(box.left, box.top + top, box.width, rows))
        np.clip(linear, 0.0, 1.0, out=linear)
        lightness[top : top + rows] = lightness_of(linear, to_xyz)
    return lightness


def _of_windows(
    windows: list[list[Lightness]], enlargement: float, seen_share: float
) -> ContentFacts:
    """What rows of windows say of the picture that they stand for."""
    laid = _laid_side_by_side(windows, enlargement)
    noise_l, noise_by_tone = picture_noise(laid, enlargement)
    if noise_l is None:
        raise _clipped()
    smooth_share, texture_share = _shares(windows, enlargement)
    edges = picture_edges(laid, noise_l=noise_l, enlargement=enlargement)
    if edges.count < FEWEST_EDGES:
        edges = replace(edges, softness_px=None, overshoot_share=None)
    softness_px, overshoot = edges.softness_px, edges.overshoot_share
    count = sum(len(row) for row in windows)
    return ContentFacts(
        master_softness_px=None
        if softness_px is None
        else softness_before_resampling(softness_px, enlargement),
        edge_softness_px=softness_px,
        edge_count=edges.count,
        overshoot_share=overshoot,
        already_sharpened=overshoot is not None and overshoot > SHARPENED_OVERSHOOT,
        noise_l=noise_l,
        noise_by_tone=noise_by_tone,
        smooth_share=smooth_share,
        texture_share=texture_share,
        words=f"{smooth_share:.0%} smooth, {texture_share:.0%} fine texture, measured "
        f"in {count} windows, {seen_share:.0%} of the picture.",
    )


def _laid_side_by_side(windows: list[list[Lightness]], enlargement: float) -> Lightness:
    """
    One picture of all windows, with joints of strong grain between them.

    No profile runs evenly from one tone to another across such a joint, and none of
    its squares is flat: nothing measured there counts.
    """
    height, width = windows[0][0].shape
    joint = ceil(_JOINT_PX * max(enlargement, 1.0))
    rows = len(windows) * (height + joint) - joint
    columns = len(windows[0]) * (width + joint) - joint
    # Always the same grain, so that a picture is always judged alike.
    grain = np.random.default_rng(0).integers(0, 2, (rows, columns), np.uint8)
    laid = grain.astype(np.float32) * np.float32(100)
    for row, pictures in enumerate(windows):
        top = row * (height + joint)
        for column, picture in enumerate(pictures):
            left = column * (width + joint)
            laid[top : top + height, left : left + width] = picture
    return laid


def _shares(windows: list[list[Lightness]], enlargement: float) -> tuple[float, float]:
    """Smooth and textured shares of the area: the mean of the windows' middles."""
    shares = []
    for picture in (it for row in windows for it in row):
        top, left = (max((edge - _MIDDLE_PX) // 2, 0) for edge in picture.shape)
        middle = picture[top : top + _MIDDLE_PX, left : left + _MIDDLE_PX]
        try:
            facts = measure_content(middle, enlargement=enlargement)
        except SpecError:
            # Clipped all over: says nothing of the picture's kind.
            continue
        shares.append((facts.smooth_share, facts.texture_share))
    if not shares:
        raise _clipped()
    smooth_share, texture_share = np.mean(shares, axis=0)
    return float(smooth_share), float(texture_share)


def _clipped() -> SpecError:
    return SpecError(
        "Nearly all of the picture is clipped to black or white.",
        remedy="Set gain and radius by hand, or take a master with tones between "
        "L* 2 and 98.",
    )
