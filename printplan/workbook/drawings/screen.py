"""How does a CIELAB colour look on an sRGB screen?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.spaces import encode, xyz_d50_from_linear, xyz_from_lab
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def screen_rgb(lab: Floats) -> NDArray[np.uint8]:
    """
    Screen colours for patches and solids.

    Parameters
    ----------
    lab : ndarray of float64, shape (..., 3)
        CIELAB under D50; its white becomes the screen's white.

    Returns
    -------
    ndarray of uint8, shape (..., 3)
        sRGB. What the screen cannot show keeps its lightness as far as it goes and
        loses chroma.

    Notes
    -----
    Chroma is drawn back towards the grey of the same lightness until the colour fits,
    so that hue stays: a gamut's outer colours are approximations on any screen.
    """
    colours = np.asarray(lab, np.float64)
    grey = colours * [1.0, 0.0, 0.0]
    grey[..., 0] = np.clip(grey[..., 0], 0.0, 100.0)
    xyz_of_linear = xyz_d50_from_linear(NamedSpace.SRGB)
    to_linear = np.linalg.inv(xyz_of_linear).T.astype(np.float64)
    whole = np.zeros(colours.shape[:-1])
    step = 1.0
    fits = _fits(colours, to_linear)
    whole[fits] = 1.0
    # Halving finds the largest chroma that fits to a thousandth of the way.
    for _ in range(10):
        step /= 2
        tried = np.where(fits, 1.0, whole + step)
        inside = _fits(grey + (colours - grey) * tried[..., None], to_linear)
        whole = np.where(inside, tried, whole)
    shown = grey + (colours - grey) * whole[..., None]
    linear = np.clip(xyz_from_lab(shown) @ to_linear, 0.0, 1.0)
    return np.rint(encode(NamedSpace.SRGB, linear) * 255).astype(np.uint8)


def _fits(lab: Floats, to_linear: Floats) -> NDArray[np.bool_]:
    """Whether colours are within the screen's, give or take an 8-bit step."""
    linear = xyz_from_lab(lab) @ to_linear
    slack = 1e-4
    return np.asarray(((linear >= -slack) & (linear <= 1 + slack)).all(axis=-1))
