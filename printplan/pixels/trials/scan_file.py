"""How is the scan of a print read, and at what resolution was it made?"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import tifffile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.TiffImagePlugin import IFDRational

from printplan.child_work import Budget, in_child
from printplan.colour.transforms import luminance_weights
from printplan.errors import Setting, SpecError
from printplan.pixels.guarded_reading import excess_refused
from printplan.pixels.master import open_master
from printplan.pixels.master_file import BAND_PIXELS
from printplan.pixels.master_reading import damage_reported, open_file
from printplan.sharpening.lightness import luminance
from printplan.sizing.boxes import Box
from printplan.units import MM_PER_INCH

if TYPE_CHECKING:
    from io import BufferedReader

    from numpy.typing import NDArray


MOST_SCAN_PIXELS = 200_000_000
"""Largest scan taken, for it is held whole: an A4 sheet at 1200 ppi has 140 million
pixels. Our choice."""

SCAN_PPI_RANGE = (100.0, 20_000.0)
"""Resolutions that a scan of print can have; 72 and 96 ppi are what programs write when
they know nothing. Our choice."""

# TIFF 6.0, ResolutionUnit: 2 is the inch, 3 the centimetre, 1 no unit at all.
_INCHES_PER_UNIT = {2: 1.0, 3: MM_PER_INCH / 10}
_PARTS_OF_RATIO = 2

_SAYING = Budget(cpu_s=4, wall_s=60, memory_bytes=400_000_000)
"""What it may cost to find that in a file. Our choice, as for masters."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """
    A scan in linear light.

    Attributes
    ----------
    linear : ndarray of float32, shape (rows, columns)
        Luminance, 0 to 1, in proportion to the reflectance of the paper.
    profile_name : str
        That it was decoded with.
    """

    path: Path
    linear: NDArray[np.float32]
    ppi: float
    profile_name: str

    @property
    def shown(self) -> NDArray[np.float32]:
        """The scan in steps more even to the eye, by its square root, for searching."""
        return np.sqrt(self.linear)


def read_scan(
    path: str | Path, *, scan_ppi: float | None = None, assume_profile: str = ""
) -> Scan:
    """
    Read a scan of a print.

    Parameters
    ----------
    path : str or Path
        A TIFF, PNG or JPEG file, grey or RGB; it is never written.
    scan_ppi : float, optional
        In place of what the file says, or where it says nothing.
    assume_profile : str, optional
        For a file without a profile: a `NamedSpace` value such as ``sRGB``, if the
        scanner was set to it, or the path of the scanner's profile.

    Raises
    ------
    MasterError
        If the file is missing, damaged, or no picture of these kinds.
    ProfileError
        If it carries no usable profile and none is named, or one is named beside it.
    SpecError
        If its resolution is not known or cannot be meant, or it is too large.

    Notes
    -----
    It is decoded as a master is: by the tone curves or tables of its profile. The
    light is relative to the profile's white; a scale of its own does no harm to
    edges, a tone curve that is wrong does.
    """
    path = Path(path)
    with open_master(path, assume_profile=assume_profile) as picture:
        width, height = picture.facts.width_px, picture.facts.height_px
        if width * height > MOST_SCAN_PIXELS:
            raise SpecError(
                f"The scan {path} has {width} × {height} px; "
                f"{MOST_SCAN_PIXELS / 1e6:.0f} million are the most that are read.",
                remedy="Scan the slanted squares alone: 60 × 40 mm of the sheet.",
            )
        if scan_ppi is None:
            scan_ppi = _tagged_ppi(path, picture.facts.file_format)
        _require_sane(path, scan_ppi)
        weights = luminance_weights(picture.profile)
        linear = np.empty((height, width), np.float32)
        step = max(BAND_PIXELS // width, 1)
        for top in range(0, height, step):
            rows = min(step, height - top)
            part = picture.linear(Box(0, top, width, rows))
            linear[top : top + rows] = luminance(part, weights)
        return Scan(
            path=path,
            linear=linear,
            ppi=scan_ppi,
            profile_name=picture.facts.profile_name,
        )


def _require_sane(path: Path, scan_ppi: float) -> None:
    low, high = SCAN_PPI_RANGE
    if not low <= scan_ppi <= high:
        raise SpecError(
            f"The scan {path} has {scan_ppi:g} ppi; {low:g} to {high:g} are taken.",
            remedy="Give the resolution that the scanner was set to, such as 1200.",
            setting=Setting.SCAN_PPI,
        )


def _tagged_ppi(path: Path, file_format: str) -> float:
    """What the file says of its resolution; it must say the same both ways."""
    with excess_refused(path):
        across, down = in_child(_SAYING, _said_ppi, path, file_format)
    if across <= 0 or down <= 0:
        raise SpecError(
            f"The scan {path} does not say at what resolution it was made.",
            remedy="Give the resolution that the scanner was set to, such as 1200.",
            setting=Setting.SCAN_PPI,
        )
    if abs(across - down) > 0.001 * across:
        raise SpecError(
            f"The scan {path} has {across:g} ppi across and {down:g} down.",
            remedy="Scan it again with the same resolution both ways.",
        )
    return across


def _said_ppi(path: Path, file_format: str) -> tuple[float, float]:
    """Pixels per inch across and down as the file says them, 0 where it does not."""
    with open_file(path) as stream, damage_reported(path):
        if file_format == "TIFF":
            return _tiff_ppi(stream)
        # The class itself, since Image.open warns of any picture above 89 megapixels.
        kind = PngImageFile if file_format == "PNG" else JpegImageFile
        with kind(stream) as image:
            across, down = image.info.get("dpi") or (0, 0)
        return _number(across), _number(down)


def _tiff_ppi(stream: BufferedReader) -> tuple[float, float]:
    with tifffile.TiffFile(stream) as tiff:
        tags = tiff.pages.first.tags
        unit = tags.valueof("ResolutionUnit", 2)
        both = [tags.valueof(name) for name in ("XResolution", "YResolution")]
    per_unit = _INCHES_PER_UNIT.get(unit, 0.0) if isinstance(unit, int) else 0.0
    across, down = (per_unit * _ratio(it) for it in both)
    return across, down


def _ratio(value: object) -> float:
    """A rational number of TIFF 6.0; 0 if it is none."""
    if not isinstance(value, tuple) or len(value) != _PARTS_OF_RATIO:
        return 0.0
    over, under = map(_number, value)
    return over / under if under > 0 else 0.0


def _number(value: object) -> float:
    known = isinstance(value, int | float | np.number | IFDRational)
    number = float(value) if known else 0.0  # type: ignore[arg-type]
    return number if isfinite(number) else 0.0
