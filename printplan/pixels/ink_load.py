"""How much of each ink does a print ask for, by its own device values?"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Final

import numpy as np

from printplan.errors import RecordError
from printplan.spec import Delivery
from printplan.units import mm_from_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet

LONGEST_PX: Final = 1000
"""Longest edge of the overview that is summed. Our choice: means of an overview are
those of the file within `TOLERANCE`, which a test holds."""

TOLERANCE: Final = 0.01
"""Greatest difference of a channel's mean coverage from that of the finished file."""

_FULL: Final = 65535.0
_MOST_M2: Final = 1e4


@dataclass(frozen=True, slots=True, kw_only=True)
class InkLoad:
    """
    Ink that a print asks for: printed area times mean coverage, by channels.

    Attributes
    ----------
    driver : str
        What the printer's driver takes: ``CMYK``, ``RGB`` or ``GRAY``.
    cyan_m2, magenta_m2, yellow_m2, black_m2 : float
        Square metres of solid colour. Of RGB they are complements, the grey in common
        taken out as black; see `ink_load`.
    printed_m2 : float
        Area of the picture, with the sides of a canvas.
    """

    driver: str
    cyan_m2: float
    magenta_m2: float
    yellow_m2: float
    black_m2: float
    printed_m2: float

    def __post_init__(self) -> None:
        for area_m2 in (*self.solid_m2, self.printed_m2):
            if not isfinite(area_m2) or not 0 <= area_m2 <= _MOST_M2:
                raise RecordError(
                    f"The ink load names an area of {area_m2:g} m².",
                    remedy=f"Give 0 to {_MOST_M2:g} m², or leave the ink load out.",
                )
        if self.printed_m2 == 0:
            raise RecordError(
                "The ink load is of a print without an area.",
                remedy="Leave the ink load out.",
            )

    @property
    def solid_m2(self) -> tuple[float, ...]:
        """Square metres of solid cyan, magenta, yellow and black."""
        return (self.cyan_m2, self.magenta_m2, self.yellow_m2, self.black_m2)


def ink_load(sheet: Sheet) -> InkLoad | None:
    """
    What one print of a sheet asks for, from an overview through its own stages.

    Parameters
    ----------
    sheet : Sheet
        Its overview is not sharpened, which moves the mean coverage of no channel by
        more than `TOLERANCE`.

    Returns
    -------
    InkLoad or None
        None for a file that an outside service prints: its inks are not known here.

    Notes
    -----
    CMYK values are shares of ink, and are summed as they are. How a driver separates
    RGB into the printer's own inks is its maker's secret. In its place stands the
    plain conversion that PDF defines [1]_: cyan is 1 − red and so on, and the grey
    that the three have in common is taken out and counted as black, all of it
    (undercolour removal and black generation of 100 %). It is no separation of any
    printer: its four numbers only say how much darkness of which colour is printed on
    how much paper, and what that costs in ink is learnt from measured prints.

    References
    ----------
    .. [1] ISO 32000-1:2008, 10.3.4, Conversion from DeviceRGB to DeviceCMYK (its
       number from memory).
    """
    plan = sheet.plan
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return None
    values = sheet.printer_values(sheet.overview(LONGEST_PX).pixels)
    width, height = (mm_from_px(edge, plan.ppi) for edge in sheet.size_px)
    covered = mean_coverage(values, sheet.output.space) * (width * height / 1e6)
    cyan, magenta, yellow, black = (float(f"{it:.6g}") for it in covered)
    return InkLoad(
        driver=sheet.output.space,
        cyan_m2=cyan,
        magenta_m2=magenta,
        yellow_m2=yellow,
        black_m2=black,
        printed_m2=float(f"{plan.printed_m2:.6g}"),
    )


def mean_coverage(device: NDArray[np.uint16], space: str) -> NDArray[np.float64]:
    """
    Mean coverage of cyan, magenta, yellow and black.

    Parameters
    ----------
    device : ndarray of uint16, shape (rows, columns, channels)
        Values of the printer's profile.
    space : {"CMYK", "RGB", "GRAY"}

    Returns
    -------
    ndarray of float64, shape (4,)
        0 to 1; see `ink_load`.

    Examples
    --------
    A pixel of pure red asks for magenta and yellow, one of middle grey for black:

    >>> import numpy as np
    >>> pixels = np.array([[[65535, 0, 0], [32768, 32768, 32768]]], np.uint16)
    >>> [round(float(it), 2) for it in mean_coverage(pixels, "RGB")]
    [0.0, 0.5, 0.5, 0.25]
    """
    ink = device.reshape(-1, device.shape[-1]).astype(np.float64) / _FULL
    if space == "CMYK":
        means: NDArray[np.float64] = ink.mean(axis=0)
        return means
    ink = 1.0 - ink
    black = ink.min(axis=1)
    colours = np.zeros(3) if space == "GRAY" else (ink - black[:, None]).mean(axis=0)
    return np.append(colours, black.mean())
