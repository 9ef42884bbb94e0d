"""What do arrays look like: pixels beside each other, and curves?"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.errors import SpecError
from printplan.workbook.drawings.page import Drawing
from printplan.workbook.pictures import Picture, encoded, mounted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray


_PLOT_PX_PER_INCH = 90
"""A figure of 8 inches has room in an output of 1024 pixels' width."""


def pixels_picture(panes: Mapping[str, NDArray[Any]], *, enlarged: int = 1) -> Picture:
    """
    Arrays of sRGB pixels beside each other, as they are.

    Parameters
    ----------
    panes : mapping of str to ndarray, shape (rows, columns) or (rows, columns, 3)
        Caption and pixels of each: uint8, uint16, or float from 0 to 1.
    enlarged : int, optional
        Times: each pixel is shown as a square of so many.

    Raises
    ------
    SpecError
        If there is none, one is no such array, or the enlargement is below 1.

    Examples
    --------
    >>> ramp = np.tile(np.linspace(0, 1, 80), (60, 1))
    >>> pixels_picture({"a ramp": ramp, "turned round": 1 - ramp})
    Pixels: a ramp, turned round.
    """
    if not panes or enlarged < 1:
        raise SpecError(
            f"{len(panes)} arrays are to be shown {enlarged} times enlarged.",
            remedy="Give one or more, by their captions, and an enlargement from 1 on.",
        )
    shown = [(_screen_pixels(it, enlarged), words) for words, it in panes.items()]
    return Picture(encoded(mounted(shown)), f"Pixels: {', '.join(panes)}.")


def plot_picture(description: str) -> Drawing:
    """
    What was plotted with pyplot, with words for those who cannot see it.

    Parameters
    ----------
    description : str
        What the plot shows, with its axes.

    Returns
    -------
    Drawing
        Of the current figure, which is closed.
    """
    from matplotlib import pyplot as plt  # noqa: PLC0415 - 0.4 s

    figure, file = plt.gcf(), BytesIO()
    figure.savefig(file, format="png", dpi=2 * _PLOT_PX_PER_INCH)
    width_css_px = round(float(figure.get_size_inches()[0]) * _PLOT_PX_PER_INCH)
    plt.close(figure)
    return Drawing(file.getvalue(), description, width_css_px)


def _screen_pixels(image: NDArray[Any], enlarged: int) -> NDArray[np.uint8]:
    pixels = np.asarray(image)
    if pixels.dtype.kind not in "uf" or pixels.shape[2:] not in {(), (3,)}:
        raise SpecError(
            f"The picture has the shape {pixels.shape} of {pixels.dtype}.",
            remedy="Give (rows, columns) or (rows, columns, 3) of uint8, uint16, or "
            "float from 0 to 1.",
        )
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[..., np.newaxis], 3, axis=2)
    whole = np.iinfo(pixels.dtype).max if pixels.dtype.kind == "u" else 1
    codes = np.rint(np.clip(pixels / whole, 0, 1) * 255).astype(np.uint8)
    return codes.repeat(enlarged, axis=0).repeat(enlarged, axis=1)
