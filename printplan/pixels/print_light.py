"""What light comes back from a part of the print, and how does paper spread it?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from printplan.colour.proof_light import device_to_light
from printplan.pixels.sheet import APPEARANCE_INTENT
from printplan.sharpness.response import cycles_per_mm, spread_mtf
from printplan.size.layout import Box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Appearance, Sheet
    from printplan.sharpness.response import SpreadCurve

    Light = NDArray[np.float32]

_WORKERS = 2


def print_light(
    sheet: Sheet, box: Box, appearance: Appearance, margin_px: int = 0
) -> Light:
    """
    Light of a box of the file, before it spreads.

    Parameters
    ----------
    sheet : Sheet
    box : Box
        In file pixels, inside the file.
    appearance : Appearance
    margin_px : int, optional
        Neighbours wanted on each side; beyond the file its outermost pixels repeat.

    Returns
    -------
    ndarray of float32, shape (3, box.height + 2 margin, box.width + 2 margin)
        Linear red, green and blue of sRGB, from the file's exact values.

    Raises
    ------
    SpecError
        If the box is empty or leaves the file.
    """
    whole = Box(0, 0, *sheet.size_px)
    grown = box.grown(margin_px, whole) if whole.common(box) == box else box
    to_light = device_to_light(sheet.output, APPEARANCE_INTENT[appearance])
    light = to_light.from_device(sheet.printer_values(sheet.window(grown)))
    missing = (
        (margin_px - (box.top - grown.top), margin_px - (grown.bottom - box.bottom)),
        (margin_px - (box.left - grown.left), margin_px - (grown.right - box.right)),
    )
    if not np.any(missing):
        return light
    return np.pad(light, ((0, 0), *missing), mode="edge")


def spread_on_paper(light: Light, spread: float | SpreadCurve, ppi: float) -> Light:
    """
    Let light spread in the paper.

    Parameters
    ----------
    light : ndarray of float32, shape (..., rows, columns)
        Linear light of print pixels.
    spread : float or SpreadCurve
        Of printer and paper: standard deviation in µm, or a measured response, alike
        in all directions.
    ppi : float
        Print pixels per inch.

    Returns
    -------
    ndarray of float32, the same shape

    Notes
    -----
    Each pattern that pixels hold is multiplied by `spread_mtf`, by way of its Fourier
    transform. The array repeats beyond its edges: give it a margin and cut that off.
    """
    rows, columns = light.shape[-2:]
    down, across = (fft.next_fast_len(length, real=True) for length in (rows, columns))
    padded = np.pad(
        light,
        [(0, 0)] * (light.ndim - 2) + [(0, down - rows), (0, across - columns)],
        mode="edge",
    )
    waves = np.hypot(fft.fftfreq(down)[:, None], fft.rfftfreq(across)[None])
    response = spread_mtf(cycles_per_mm(waves, ppi), spread).astype(np.float32)
    spectrum = fft.rfft2(padded, workers=_WORKERS)
    spectrum *= response
    done = fft.irfft2(spectrum, s=(down, across), workers=_WORKERS)
    return np.ascontiguousarray(done[..., :rows, :columns], np.float32)
