"""How does a canvas look on its bar, with its sides?"""

from __future__ import annotations

from math import cos, radians, sin
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from PIL import Image, ImageDraw

from printplan.sizing.boxes import Box
from printplan.units import px_from_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Appearance, Sheet

_ANGLE_DEG = 35.0
_SHORTENED = 0.6
"""How sides run back in the drawing: an oblique projection; our choice."""

_GAP_SHARE = 0.06
_GROUND = (245, 245, 245)
_LINE = (110, 110, 110)


class _View(NamedTuple):
    """Which two sides are seen, and towards which corner they run back."""

    right: int
    down: int


_VIEWS = (_View(1, -1), _View(-1, 1))
"""From the right and above, from the left and below: together all four sides."""


def block_picture(
    sheet: Sheet, longest_px: int, appearance: Appearance
) -> NDArray[np.uint8]:
    """
    The finished block from two corners, so that all sides are seen.

    Parameters
    ----------
    sheet : Sheet
        Of a plan with a wrap.
    longest_px : int
        Longest edge of the file's overview that it is drawn from.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. Fronts are as they face the eye; sides run back in an oblique projection.
        What is turned over at the back is not seen.
    """
    overview = sheet.overview(longest_px)
    look = sheet.proof(overview.pixels, appearance)
    plan, scale = sheet.plan, overview.scale
    front = plan.in_file(plan.front)
    left, top = round(front.left * scale), round(front.top * scale)
    right, bottom = round(front.right * scale), round(front.bottom * scale)
    depth_px = max(round(px_from_mm(plan.spec.wrap.bar_depth_mm, plan.ppi) * scale), 1)
    views = [
        _drawn(look, Box(left, top, right - left, bottom - top), depth_px, view)
        for view in _VIEWS
    ]
    gap = round(_GAP_SHARE * views[0].shape[1])
    between = np.full((views[0].shape[0], gap, 3), _GROUND, np.uint8)
    return np.concatenate([views[0], between, views[1]], axis=1)


def _drawn(
    look: NDArray[np.uint8], front: Box, depth_px: int, view: _View
) -> NDArray[np.uint8]:
    """One view of a block."""
    back_x = _SHORTENED * depth_px * cos(radians(_ANGLE_DEG))
    back_y = _SHORTENED * depth_px * sin(radians(_ANGLE_DEG))
    room_x, room_y = round(back_x) + 2, round(back_y) + 2
    at_x = 1 if view.right > 0 else room_x
    at_y = room_y if view.down < 0 else 1
    size = (front.width + room_x + 1, front.height + room_y + 1)
    ground = Image.new("RGB", size, _GROUND)
    whole = Image.fromarray(look)
    corner_x, corner_y = back_x * view.right, back_y * view.down
    # The side beside the front: a depth of one runs back by (corner_x, corner_y).
    side_left = front.right if view.right > 0 else front.left - depth_px
    beside = whole.crop((side_left, front.top, side_left + depth_px, front.bottom))
    edge_x = at_x + front.width if view.right > 0 else at_x
    _lay(ground, beside, (edge_x, at_y), (corner_x, corner_y), across=True)
    over_top = front.top - depth_px if view.down < 0 else front.bottom
    over = whole.crop((front.left, over_top, front.right, over_top + depth_px))
    edge_y = at_y if view.down < 0 else at_y + front.height
    _lay(ground, over, (at_x, edge_y), (corner_x, corner_y), across=False)
    _outline(ground, (at_x, at_y), front, (corner_x, corner_y), view)
    own = whole.crop((front.left, front.top, front.right, front.bottom))
    ground.paste(own, (at_x, at_y))
    return np.asarray(ground)


def _lay(
    ground: Image.Image,
    side: Image.Image,
    edge: tuple[int, int],
    corner: tuple[float, float],
    *,
    across: bool,
) -> None:
    """Lay a side on the ground, sheared along its fold."""
    corner_x, corner_y = corner
    edge_x, edge_y = edge
    # Where a place of the ground lies on the side: depth first, then along the fold.
    if across:
        depth = side.width / abs(corner_x)
        start = 0.0 if corner_x > 0 else side.width
        shear = corner_y / corner_x
        places = (depth, 0.0, start - depth * edge_x)
        along = (-shear, 1.0, shear * edge_x - edge_y)
        taken = (*places, *along)
    else:
        depth = side.height / abs(corner_y)
        start = 0.0 if corner_y > 0 else side.height
        shear = corner_x / corner_y
        along = (1.0, -shear, shear * edge_y - edge_x)
        places = (0.0, depth, start - depth * edge_y)
        taken = (*along, *places)
    method, filtered = Image.Transform.AFFINE, Image.Resampling.BILINEAR
    laid = side.transform(ground.size, method, taken, filtered)
    full = Image.new("L", side.size, 255)
    mask = full.transform(ground.size, method, taken, Image.Resampling.NEAREST)
    ground.paste(laid, (0, 0), mask)


def _outline(
    ground: Image.Image,
    at: tuple[int, int],
    front: Box,
    corner: tuple[float, float],
    view: _View,
) -> None:
    """Thin lines along the far edges, so that white sides are seen as well."""
    draw = ImageDraw.Draw(ground)
    left, top = at
    right, bottom = left + front.width, top + front.height
    near_x = right if view.right > 0 else left
    near_y = top if view.down < 0 else bottom
    far_x = left if view.right > 0 else right
    far_y = bottom if view.down < 0 else top
    dx, dy = corner
    points = [
        (far_x, near_y),
        (far_x + dx, near_y + dy),
        (near_x + dx, near_y + dy),
        (near_x + dx, far_y + dy),
        (near_x, far_y),
    ]
    draw.line(points, fill=_LINE, width=1)
