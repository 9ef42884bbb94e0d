"""What does a master file say of itself, whatever its format?"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, NoReturn

from printplan.errors import MasterError
from printplan.pixels.master_provenance import Provenance

if TYPE_CHECKING:
    import numpy as np

MOST_PIXELS = 2_000_000_000
"""Largest picture taken from a TIFF. Chosen: twice the largest print planned for; a
larger number in a header is likelier damage than a photograph."""

MOST_PIXELS_AT_ONCE = 500_000_000
"""The same for PNG and JPEG, which are decoded whole: 3 GB of 16-bit RGB."""

BAND_PIXELS = 1_000_000
"""Pixels decoded or converted at a time. Chosen: a few MB for each worker."""

EXPORT_AGAIN = (
    "Export it again as RGB or grey with 8 or 16 bits per channel and its profile "
    "embedded."
)


class Transparency(StrEnum):
    """How the colours of a file relate to its alpha channel."""

    NONE = "none"
    STRAIGHT = "straight"
    PREMULTIPLIED = "premultiplied"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """
    What a master file says, before anything is decided about it.

    Attributes
    ----------
    file_format : str
        ``TIFF``, ``PNG`` or ``JPEG``.
    width_px, height_px : int
        As stored, before the orientation flag.
    channels : int
        Colour channels: 1 or 3.
    dtype : dtype
        Type of a decoded number, in this machine's byte order.
    transparency : Transparency
        Whether an alpha channel follows the colour channels.
    white_is_zero : bool
        Whether 0 is white (TIFF PhotometricInterpretation 0).
    orientation_flag : int
        1 to 8.
    profile_data : bytes
        The embedded profile; empty if none.
    says_srgb : bool
        Whether the file names sRGB without carrying its profile.
    page_count : int
    provenance : Provenance
    """

    file_format: str
    width_px: int
    height_px: int
    channels: int
    dtype: np.dtype[np.generic]
    transparency: Transparency = Transparency.NONE
    white_is_zero: bool = False
    orientation_flag: int = 1
    profile_data: bytes = b""
    says_srgb: bool = False
    page_count: int = 1
    provenance: Provenance = field(default_factory=Provenance)

    @property
    def samples(self) -> int:
        """Stored numbers of one pixel, alpha included."""
        return self.channels + (self.transparency is not Transparency.NONE)


def refuse(problem: str, remedy: str = EXPORT_AGAIN) -> NoReturn:
    """
    Say why a file cannot be a master.

    Parameters
    ----------
    problem : str
    remedy : str, optional

    Raises
    ------
    MasterError
        Always.
    """
    raise MasterError(problem, remedy=remedy)


def check_area(width_px: int, height_px: int, most_pixels: int) -> None:
    """
    Refuse a picture without pixels, or with more than can be a photograph.

    Parameters
    ----------
    width_px, height_px : int
    most_pixels : int

    Raises
    ------
    MasterError
    """
    if width_px < 1 or height_px < 1:
        refuse(f"The file declares {width_px} × {height_px} pixels; it holds none.")
    if width_px * height_px > most_pixels:
        refuse(
            f"The file declares {width_px} × {height_px} pixels, "
            f"{width_px * height_px / 1e6:.0f} million; the limit for this format is "
            f"{most_pixels / 1e6:.0f} million.",
            remedy="The header may be damaged: export it again. For a picture this "
            "large use an uncompressed TIFF of at most "
            f"{MOST_PIXELS / 1e6:.0f} million pixels.",
        )


def orientation_or_none(value: object) -> int:
    """
    An orientation flag, or 1 where the file holds none that the standard knows.

    Parameters
    ----------
    value : object
        Content of the Orientation tag (TIFF 6.0, tag 274), whatever it is.

    Returns
    -------
    int
        1 to 8.
    """
    return value if isinstance(value, int) and 1 <= value <= 8 else 1
