"""What is on a trial sheet, and on the scan of one?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from printplan.pixels.sheet import Appearance
from printplan.workbook.panels.mounting import Picture, encoded, mounted

if TYPE_CHECKING:
    from printplan.pixels.trials.page import TrialSheet
    from printplan.pixels.trials.scan import Scan

_TRIAL_PX = 2400
_TALLEST_CSS_PX, _WIDEST_CSS_PX = 900, 1000
_SCAN_PX = 760


def trial_picture(
    trial: TrialSheet, *, appearance: Appearance = Appearance.PAPER_ALONE
) -> Picture:
    """
    A trial sheet as it will look printed.

    Parameters
    ----------
    trial : TrialSheet
    appearance : Appearance, optional

    Returns
    -------
    Picture
        An overview: to see what is where, never to judge sharpness.
    """
    width_mm, height_mm = trial.plan.page_mm
    caption = f"overview   ·   {width_mm:.0f} × {height_mm:.0f} mm, {_what(trial)}"
    pixels = mounted([(trial.overview(_TRIAL_PX, appearance), caption)])
    rows, columns = pixels.shape[:2]
    width = min(columns / 2, _WIDEST_CSS_PX, _TALLEST_CSS_PX * columns / rows)
    return Picture(encoded(pixels), f"The trial sheet: {caption}.", round(width))


def _what(trial: TrialSheet) -> str:
    names = [patch.name for patch in trial.key.patches]
    if len(names) > 1:
        return f"{len(names)} patches, {names[0]} to {names[-1]}"
    return f"1 patch, {names[0]}" if names else "targets"


def scan_picture(scan: Scan) -> Picture:
    """
    A scan, as it was read.

    Parameters
    ----------
    scan : Scan

    Returns
    -------
    Picture
        An overview in grey, in steps that are more even to the eye.
    """
    codes = np.rint(np.clip(scan.shown, 0, 1) * 255).astype(np.uint8)
    image = Image.fromarray(codes)
    image.thumbnail((_SCAN_PX, _SCAN_PX))
    grey = np.repeat(np.asarray(image)[..., None], 3, axis=2)
    rows, columns = codes.shape
    size = f"{columns} × {rows} px at {scan.ppi:g} ppi"
    caption = f"overview   ·   {scan.path.name}, {size}"
    pixels = mounted([(grey, caption)])
    return Picture(encoded(pixels), f"The scan: {caption}.", pixels.shape[1])
