"""What does the scan of a trial sheet say of its paper?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import Setting, SpecError
from printplan.pixels.trials.scan_file import Scan, read_scan
from printplan.sharpening.calibration import with_error
from printplan.sharpening.paper_spread import SpreadFit, measure_spread
from printplan.sharpening.squares import ExpectedSquares, Side, find_edges
from printplan.units import mm_from_px, px_from_mm

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from printplan.pixels.trials.targets import DrawnSquares
    from printplan.sharpening.paper_spread import Known
    from printplan.sharpening.squares import EdgeRegion


LARGEST_SIZE_ERROR = 0.04
"""Share by which the squares' side may differ from what was drawn: regions are whole
pixels, and paper swells by a hundredth. Our choice."""

LARGEST_TONE_ERROR = 0.05
"""Largest distance of a scanned tone from a straight line over the drawn ones, as a
share of their range, that passes without a word: printers drift by a few hundredths. A
gamma-encoded scan taken for linear is off by more (tested). Our choice."""


BESIDE_MM = 7.0
"""From a square's edge to the end of its ground, and the gap to the next one."""

_LEAST_PAPER_SHARE = 0.05
"""Least share of bare paper there: gaps of 2 mm about grounds of 18 mm are a fifth, and
words beside them take some thousandths. Our choice."""

_CLEAR_SHARE = 0.02
"""Of the range of tones: what is lighter or darker by more is none of theirs. Our
choice."""


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
    _require_positive(scan, regions)
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


def _require_positive(scan: Scan, regions: Sequence[EdgeRegion]) -> None:
    """
    Refuse a scan whose light and dark are exchanged.

    The squares are the same either way, half of them light on dark. Beside the grounds
    they stand on lies bare paper, lighter than any of their tones, and some words.
    """
    beside_px = px_from_mm(BESIDE_MM, scan.ppi)
    boxes = np.array(
        [(it.left, it.top, it.left + it.width, it.top + it.height) for it in regions]
    )
    left, top = np.maximum(boxes.min(axis=0)[:2] - beside_px, 0).astype(int)
    right, bottom = (boxes.max(axis=0)[2:] + beside_px).astype(int)
    shown = scan.shown[top:bottom, left:right]
    dark, light = min(it.dark for it in regions), max(it.light for it in regions)
    clear = _CLEAR_SHARE * (light - dark)
    darker = float(np.mean(shown < dark - clear))
    lighter = float(np.mean(shown > light + clear))
    if darker > max(lighter, _LEAST_PAPER_SHARE):
        raise SpecError(
            f"In the scan {scan.path} the paper is darker than what is printed on it: "
            "it is a negative.",
            remedy="Scan the sheet again as a positive, as paper on glass.",
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
