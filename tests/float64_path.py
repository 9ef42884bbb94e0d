"""
From resampled light to a file's codes in double precision, by the formulas alone.

Written from CIE 015:2018, 8.2 (L* and its inverse), the unsharp mask as README tells
it, and ICC.1:2022, 10.10 (lut16: curves, grid, curves). What is not computed here anew
is told where it is taken from.
"""

import numpy as np
from scipy import ndimage

from printplan.loops import colour as steps
from printplan.sharpening.kernel import blur_of, line_kernel
from printplan.sharpening.lightness import lightness_of_light
from printplan.sharpening.unsharp import (
    SharpeningInput,
    surroundings_px,
    without_ringing,
)

LEAST_LIGHT = (0.5 / 65535) ** 2
LEEWAY_L = 1e-3


def lightness(y):
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, (29 / 3) ** 3 * y)


def luminance(light):
    return np.where(light > 8, ((light + 16) / 116) ** 3, light / (29 / 3) ** 3)


def sharpened(sheet, box):
    """
    Linear light of a box of the picture after the mask, its limit and its floor.

    The resampled light, and the tones that its ringing is held to, are the engine's.
    """
    plan, wish = sheet.plan, sheet.plan.spec.sharpen
    blur = blur_of(wish, plan.radius_px)
    kernel = line_kernel(blur)
    reach = surroundings_px(blur, plan.enlargement)
    wide = box.grown(max(kernel.size // 2, reach), sheet.light.picture)
    inner = np.s_[
        box.top - wide.top : box.bottom - wide.top,
        box.left - wide.left : box.right - wide.left,
    ]
    single = sheet.light.region(wide)
    weights = np.array(sheet._weights)
    y = np.clip(np.tensordot(weights, single.astype(np.float64), 1), LEAST_LIGHT, 1)
    before = lightness(y)
    soft = ndimage.correlate1d(before, kernel, axis=0, mode="nearest")
    soft = ndimage.correlate1d(soft, kernel, axis=1, mode="nearest")
    high = before - soft
    floor_l = wish.grain_floor_l
    high *= np.clip((np.abs(high) - floor_l) / floor_l, 0, 1)
    after = before + wish.gain * high
    start = SharpeningInput(single, lightness_of_light(single, weights))
    near = sheet.light.tones_near(wide, weights)
    around = without_ringing(start, near).astype(np.float64)
    places = np.zeros((2 * reach + 1,) * 2, bool)
    places[::reach, ::reach] = True  # the pixel and eight others
    low = ndimage.minimum_filter(around, footprint=places, mode="nearest")
    high = ndimage.maximum_filter(around, footprint=places, mode="nearest")
    room = (high - low) * wish.halo_limit_share + LEEWAY_L
    after = np.clip(np.clip(after, low - room, high + room), 0, 100)
    factor = luminance(after) / luminance(before)
    added = np.clip(single, 0, 1) + luminance(before) * (factor - 1)
    light = np.where(before < low - room, added, single * factor)
    return np.clip(light, 0, 1)[:, inner[0], inner[1]]


def codes(sheet, light):
    """
    Codes of 16 bits, not rounded, shape (rows, columns, channels).

    Matrices, curves and grids are the engine's own numbers, read another way.
    """
    conversion = sheet._coded.__self__
    numbers = conversion._numbers.astype(np.float64)
    planes = light
    for kind, at, *sizes in conversion._steps.tolist():
        if kind == steps.MATRIX:
            matrix, start = (
                numbers[at : at + 9].reshape(3, 3),
                numbers[at + 9 : at + 12],
            )
            planes = np.tensordot(matrix, planes, 1) + start[:, None, None]
        elif kind == steps.F_OF_LIGHT:
            linear = 841 / 108 * planes + 4 / 29
            planes = np.where(planes > (6 / 29) ** 3, np.cbrt(planes), linear)
        elif kind == steps.CURVES:
            count, entries = sizes[:2]
            own = numbers[at : at + count * entries].reshape(count, entries)
            places = np.linspace(0, 1, entries)
            planes = np.stack(
                [np.interp(it, places, of) for it, of in zip(planes, own, strict=False)]
            )
        else:
            assert kind == steps.TRILINEAR
            planes = _read(numbers[at:], sizes[:3], sizes[3], planes)
    return np.moveaxis(np.clip(planes, 0, 1) * 65535, 0, -1)


def _read(numbers, points, outputs, planes):
    """Between the eight points of a cell, by scipy."""
    lanes = steps.LANES
    groups = -(-outputs // lanes)
    size = groups * int(np.prod(points)) * lanes
    grids = np.moveaxis(numbers[:size].reshape(groups, *points, lanes), -1, 1)
    grids = grids.reshape(groups * lanes, *points)[:outputs]
    places = np.clip(planes, 0, 1) * (np.array(points)[:, None, None] - 1)
    return np.stack(
        [ndimage.map_coordinates(it, places, order=1, mode="nearest") for it in grids]
    )
