"""What does the scan of a trial sheet say of its paper?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import tifffile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile

from printplan.colour.transforms import luminance_weights
from printplan.errors import Setting, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.master_file import BAND_PIXELS
from printplan.sharpening.calibration import with_error
from printplan.sharpening.lightness import luminance
from printplan.sharpening.paper_spread import SpreadFit, measure_spread
from printplan.sharpening.squares import ExpectedSquares, Side, find_edges
from printplan.sizing.layout import Box
from printplan.units import MM_PER_INCH, mm_from_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.pixels.trials.targets import DrawnSquares
    from printplan.sharpening.paper_spread import Known
    from printplan.sharpening.squares import EdgeRegion


MOST_SCAN_PIXELS = 200_000_000
"""Largest scan taken, for it is held whole: an A4 sheet at 1200 ppi has 140 million
pixels. Our choice."""

SCAN_PPI_RANGE = (100.0, 20_000.0)
"""Resolutions that a scan of print can have; 72 and 96 ppi are what programs write when
they know nothing. Our choice."""

# TIFF 6.0, ResolutionUnit: 2 is the inch, 3 the centimetre, 1 no unit at all.
_INCHES_PER_UNIT = {2: 1.0, 3: MM_PER_INCH / 10}


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
    across, down = (
        _tiff_ppi(path) if file_format == "TIFF" else _info_ppi(path, file_format)
    )
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


def _tiff_ppi(path: Path) -> tuple[float, float]:
    with tifffile.TiffFile(path) as tiff:
        tags = tiff.pages.first.tags
        per_unit = _INCHES_PER_UNIT.get(int(tags.valueof("ResolutionUnit", 2)), 0.0)
        both = [tags.valueof(name, (0, 1)) for name in ("XResolution", "YResolution")]
    across, down = (per_unit * over / under if under else 0.0 for over, under in both)
    return across, down


def _info_ppi(path: Path, file_format: str) -> tuple[float, float]:
    """Pixels per inch as the imaging library found them, 0 if it found none."""
    # The class itself, since Image.open warns of any picture above 89 megapixels.
    kind = PngImageFile if file_format == "PNG" else JpegImageFile
    with kind(path) as image:
        across, down = image.info.get("dpi") or (0, 0)
    return float(across), float(down)


LARGEST_SIZE_ERROR = 0.04
"""Share by which the squares' side may differ from what was drawn: regions are whole
pixels, and paper swells by a hundredth. Our choice."""

LARGEST_TONE_ERROR = 0.05
"""Largest distance of a scanned tone from a straight line over the drawn ones, as a
share of their range, that passes without a word: printers drift by a few hundredths. A
gamma-encoded scan taken for linear is off by more (tested). Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanReading:
    """
    What a scan says of a paper's spread, and how far that can be believed.

    Attributes
    ----------
    includes_scanner : bool
        Whether the scanner's own spread is in it, for want of a reference.
    tone_error_share : float or None
        Largest distance of a tone from a straight line over the drawn tones, as a
        share of their range; None if those are not known.
    words : str
        What was found and what is to be minded, in a few sentences.
    """

    fit: SpreadFit
    scan_ppi: float
    includes_scanner: bool
    tone_error_share: float | None
    words: str


def spread_from_scan(
    path: str | Path,
    squares: DrawnSquares,
    *,
    scan_ppi: float | None = None,
    scanner_sfr: Known | Sequence[Known] | None = None,
    assume_profile: str = "",
) -> ScanReading:
    """
    Measure a paper's spread on the scan of a trial sheet printed on it.

    Parameters
    ----------
    path : str or Path
        Of the scan: the whole sheet, or the part with all slanted squares.
    squares : DrawnSquares
        Of that trial sheet: ``trial.key.squares``.
    scan_ppi, assume_profile
        As `read_scan` takes them.
    scanner_sfr : float, SpreadCurve or KnownEdge, or one for each edge, optional
        What the scanner makes of a sharp edge, such as a blade's laid on white paper.

    Raises
    ------
    PrintPlanError
        If the scan cannot be read, does not show the squares, shows them in another
        size, or cannot tell the spread.
    """
    scan = read_scan(path, scan_ppi=scan_ppi, assume_profile=assume_profile)
    return spread_in_scan(scan, squares, scanner_sfr=scanner_sfr)


def spread_in_scan(
    scan: Scan,
    squares: DrawnSquares,
    *,
    scanner_sfr: Known | Sequence[Known] | None = None,
) -> ScanReading:
    """
    Measure a paper's spread on a scan that was read.

    Raises
    ------
    SpecError
        As `spread_from_scan` says.
    """
    regions = find_edges(
        scan.shown,
        expected=ExpectedSquares(count=squares.count, tilt_deg=squares.tilt_deg),
    )
    _require_size(scan, squares, regions)
    fit = measure_spread(
        scan.linear,
        regions,
        scan_ppi=scan.ppi,
        file_sfr=squares.file_sfr,
        scanner_sfr=scanner_sfr,
    )
    tone_error = _tone_error(squares, regions)
    return ScanReading(
        fit=fit,
        scan_ppi=scan.ppi,
        includes_scanner=fit.includes_scanner,
        tone_error_share=tone_error,
        words=_words(scan, fit, tone_error),
    )


def _require_size(
    scan: Scan, squares: DrawnSquares, regions: Sequence[EdgeRegion]
) -> None:
    """Refuse a scan whose resolution is not what it says."""
    sides = []
    for one, other in ((Side.LEFT, Side.RIGHT), (Side.TOP, Side.BOTTOM)):
        first = [_middle(region) for region in regions if region.side is one]
        second = [_middle(region) for region in regions if region.side is other]
        sides += [abs(b - a) for a, b in zip(first, second, strict=True)]
    side_mm = mm_from_px(float(np.median(sides)), scan.ppi)
    if abs(side_mm / squares.side_mm - 1) > LARGEST_SIZE_ERROR:
        right = round(scan.ppi * side_mm / squares.side_mm, -2)
        raise SpecError(
            f"At {scan.ppi:g} ppi the squares of the scan have sides of {side_mm:.2f} "
            f"mm; they were drawn with {squares.side_mm:g} mm.",
            remedy=f"Give the scan's true resolution, about {right:.0f} ppi; or print "
            "the trial again without scaling.",
            setting=Setting.SCAN_PPI,
        )


def _middle(region: EdgeRegion) -> complex:
    return complex(
        region.left + (region.width - 1) / 2, region.top + (region.height - 1) / 2
    )


def _tone_error(squares: DrawnSquares, regions: Sequence[EdgeRegion]) -> float | None:
    """How far the scanned tones are from a straight line over the drawn ones."""
    if not squares.tones:
        return None
    # Edges of one square share their tones, and so do the two squares of a pair. The
    # search had the root of the light.
    levels = np.array([[region.dark, region.light] for region in regions]) ** 2
    found = np.sort(levels.ravel()).reshape(len(squares.tones), -1)
    scanned = np.median(found, axis=1)
    drawn = np.array(squares.tones)
    line = np.polynomial.Polynomial.fit(drawn, scanned, 1)
    return float(np.abs(scanned - line(drawn)).max() / np.ptp(line(drawn)))


def _words(scan: Scan, fit: SpreadFit, tone_error: float | None) -> str:
    found = f"Spread {with_error(fit.sigma_um, fit.uncertainty_um)} µm"
    words = [f"{found}, from {fit.n_edges} edges at {scan.ppi:g} ppi."]
    if fit.includes_scanner:
        words.append(
            "The scanner's own spread is in it, as no reference was given: the "
            "paper's is smaller. Kept with the paper, it only bounds the estimate."
        )
    if tone_error is not None and tone_error > LARGEST_TONE_ERROR:
        words.append(
            f"The scanned tones are off those drawn by {tone_error:.0%} of their "
            f"range, decoded with {scan.profile_name}: check the scanner's profile, "
            "and that it did not change contrast by itself."
        )
    if fit.unfit_reason:
        words.append(fit.unfit_reason)
    return " ".join(words)
