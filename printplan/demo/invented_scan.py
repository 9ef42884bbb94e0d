"""What would a scan of this trial sheet look like, if paper and scanner were so?"""

from __future__ import annotations

import os
from dataclasses import dataclass
from math import ceil, cos, radians, sin, sqrt
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import tifffile
from scipy import ndimage

from printplan.colour.spaces import encode, named_profile, xyz_from_lab
from printplan.colour.transforms import device_to_lab
from printplan.errors import RecordError, SpecError
from printplan.free_name import free_path, give_free_name
from printplan.record.atomic_write import part_beside
from printplan.record.scanner_response import write_response
from printplan.sharpening.response import SpreadCurve, box_mtf, gaussian_mtf
from printplan.spec import Delivery, Intent, NamedSpace
from printplan.units import MM_PER_INCH, mm_from_px, px_from_mm, whole_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.trials.page import TrialSheet

    Light = NDArray[np.float32]
    Floats = NDArray[np.float64]

_TAKEN = "Choose another name for the scan."

LEAST_SCAN_PPI = 1200
"""The scanner is set to this, or to the next whole multiple of the print's pixels."""

OPTICS_UM = 12.0
"""Standard deviation of the invented scanner's own blur."""

SPREAD_RANGE_UM = (20.0, 200.0)
"""Below it, the invented scanner would see little but itself."""

WORDS = "Invented: computed from the trial sheet's own file. Nothing was scanned."

_TURN_DEG = 1.0
_NOISE = 0.003
_SEED = 7
_ROUND_MM = 3.0
_FINE_PER_SCANNED = 2
_CURVE_POINTS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedScan:
    """
    A computed picture that takes the place of a scan.

    Attributes
    ----------
    path : Path
        An 8-bit TIFF in sRGB, as scanners write it. It says that it is invented.
    response_path : Path
        The scanner's response as a file, for `read_response`.
    scanner_sfr : SpreadCurve
        What this scanner makes of a perfectly sharp edge. For a real one, it is
        measured on the edge of a blade.
    """

    path: Path
    response_path: Path
    scan_ppi: float
    scanner_sfr: SpreadCurve


def make_invented_scan(
    trial: TrialSheet, path: str | Path, *, psf_sigma_um: float
) -> InventedScan:
    """
    Print the slanted squares of a trial sheet in mind, and scan them.

    Parameters
    ----------
    trial : TrialSheet
        With targets, in printer colour.
    path : str or Path
        Of a new TIFF file.
    psf_sigma_um : float
        Standard deviation of the spread of ink and light that this paper is to have,
        20 to 200 µm.

    Returns
    -------
    InventedScan
        The same for the same trial and spread.

    Raises
    ------
    SpecError
        If the sheet has no squares or is not in printer colour, or the spread is
        outside its range.
    RecordError
        If there is such a file already, or it cannot be written.

    Notes
    -----
    The file's own pixels become light by the paper's profile and are laid down as
    squares. Their light spreads as a Gaussian, is seen by optics with a Gaussian of
    their own, slightly askew, through square sensor pixels, and gets some noise. So
    the way back, `spread_from_scan`, can be shown and tried without a printer; it
    says nothing of any real paper.
    """
    low, high = SPREAD_RANGE_UM
    if not low <= psf_sigma_um <= high:
        raise SpecError(
            f"The invented paper spreads light by {psf_sigma_um:g} µm.",
            remedy=f"Give {low:g} to {high:g} µm; photo papers are near 30 to 60.",
        )
    path = Path(path)
    _require_room(path)
    ppi = trial.plan.ppi
    scanned = ceil(LEAST_SCAN_PPI / ppi)
    scan_ppi = ppi * scanned
    light = _seen(_printed(trial), ppi, scanned, psf_sigma_um)
    scanner_sfr = _scanner_sfr(scan_ppi)
    _write(path, light, scan_ppi)
    response_path = free_path(path.with_name(f"{path.stem}-scanner.csv"))
    write_response(scanner_sfr, response_path)
    return InventedScan(
        path=path,
        response_path=response_path,
        scan_ppi=scan_ppi,
        scanner_sfr=scanner_sfr,
    )


def _require_room(path: Path) -> None:
    """Refuse before seconds of work what would be refused after them."""
    if os.path.lexists(path):
        raise RecordError(f"{path} exists already.", remedy=_TAKEN)
    if not path.parent.is_dir():
        raise RecordError(
            f"There is no folder {path.parent}.",
            remedy="Choose a folder that is there and that you may write to.",
        )


def _printed(trial: TrialSheet) -> Light:
    """Luminance of the squares and a little round them, as the profile prints it."""
    if trial.key.squares is None:
        raise SpecError(
            "This trial sheet has no slanted squares.",
            remedy="Let its targets be drawn.",
        )
    if trial.plan.delivery.colour is not Delivery.PRINTER_COLOUR:
        raise SpecError(
            f"This trial sheet is in {trial.plan.delivery.colour}; how it will print "
            "is decided elsewhere.",
            remedy="Deliver it in printer colour.",
        )
    layout = trial.plan.layout
    margin_px = whole_px(px_from_mm(_ROUND_MM, trial.plan.ppi))
    part = layout.blocks[0].grown(margin_px, layout.file_box)
    window = trial.window(part)
    lab = device_to_lab(window, trial.profile, intent=Intent.ICC_ABSOLUTE)
    return xyz_from_lab(lab)[..., 1].astype(np.float32)


def _seen(light: Light, ppi: float, scanned: int, psf_sigma_um: float) -> Floats:
    """The print through paper and scanner, in linear light."""
    fine_per_px = scanned * _FINE_PER_SCANNED
    um_per_fine = 1000 * mm_from_px(1 / fine_per_px, ppi)
    # Points stand for the squares of both apertures, which leaves out a twelfth of a
    # fine pixel's square in each; the spline that is read between them adds a third.
    variance = (psf_sigma_um**2 + OPTICS_UM**2) / um_per_fine**2 + 2 / 12 - 1 / 3
    fine = light
    for axis in (0, 1):  # one after the other: the first then has few columns
        fine = np.repeat(fine, fine_per_px, axis=axis)
        fine = ndimage.gaussian_filter1d(fine, sqrt(variance), axis, mode="nearest")
        fine = ndimage.uniform_filter1d(fine, _FINE_PER_SCANNED, axis, mode="nearest")
    across, along = cos(radians(_TURN_DEG)), sin(radians(_TURN_DEG))
    matrix = _FINE_PER_SCANNED * np.array([[across, -along], [along, across]])
    shape = tuple(int(length / _FINE_PER_SCANNED * 1.05) for length in fine.shape)
    middle = (np.array(fine.shape) - 1) / 2
    start = middle - matrix @ ((np.array(shape) - 1) / 2)
    seen = ndimage.affine_transform(
        fine, matrix, start, shape, order=3, mode="nearest", prefilter=False
    )
    grain = np.random.default_rng(_SEED).normal(0, _NOISE, shape)
    return np.asarray(np.clip(seen + grain, 0, 1), np.float64)


def _write(path: Path, light: Floats, scan_ppi: float) -> None:
    codes = np.rint(encode(NamedSpace.SRGB, light) * 255).astype(np.uint8)
    with part_beside(path, if_exists=_TAKEN) as part:
        tifffile.imwrite(
            part,
            np.repeat(codes[..., None], 3, axis=2),
            photometric="rgb",
            compression="zlib",
            predictor=True,
            iccprofile=named_profile(NamedSpace.SRGB).data,
            resolution=(scan_ppi, scan_ppi),
            resolutionunit="inch",
            software="printplan demo",
            description=WORDS,
            metadata=None,
        )
        give_free_name(part, path)


def _scanner_sfr(scan_ppi: float) -> SpreadCurve:
    """Optics and a square sensor pixel, by formula."""
    frequency = np.linspace(0, 0.95 * scan_ppi / MM_PER_INCH, _CURVE_POINTS)[1:]
    response = gaussian_mtf(frequency, OPTICS_UM / 1000) * box_mtf(
        frequency, mm_from_px(1.0, scan_ppi)
    )
    return SpreadCurve(
        cycles_per_mm=tuple(frequency.tolist()), values=tuple(response.tolist())
    )
