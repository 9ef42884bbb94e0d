"""How far do ink and light spread in a paper, by a scan of its slanted edges?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np
import scipy

from printplan.errors import SpecError
from printplan.sharpening.calibration import huber_mean
from printplan.sharpening.response import (
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_mm,
    cycles_per_px,
    spread_mtf,
)
from printplan.sharpening.slanted_edge import (
    FREQUENCY_CYCLES_PX,
    EdgeResponse,
    edge_sfr,
)
from printplan.sharpening.squares import EdgeRegion, cut_edge
from printplan.units import MM_PER_INCH
from printplan.validation import require

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


LARGEST_RISE = 1.1
"""Response of print and paper, at most: ink and light only ever lose contrast, so more
is sharpening by the scanner. The tenth above 1 allows for errors; our choice."""

# Where a response is trusted: what is divided by, and what is divided, stand well
# above their errors. The hundredth stands for errors in the responses that are given.
# Our choice.
_LEAST_REFERENCE, _LEAST_SFR, _NOISES = 0.2, 0.1, 4.0
_REFERENCE_ERROR = 0.01
_FEWEST_FREQUENCIES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownEdge:
    """
    A response that was itself measured on an edge.

    Attributes
    ----------
    ppi : float
        Resolution at which it was measured: the print file's, or the scan's.
    """

    edge: EdgeResponse
    ppi: float

    def __post_init__(self) -> None:
        require("Resolution of the known edge", self.ppi, 1, 100_000, "ppi")


Known = float | SpreadCurve | KnownEdge
"""A response known beforehand: a Gaussian's σ in µm, a curve, or a measured edge."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeSpread:
    """
    Response of print and paper at one edge, and the Gaussian in it.

    Attributes
    ----------
    response : ndarray of float64, shape (frequencies,)
        From frequency 0 to the last that is trusted.
    variance_mm2 : float
        Square of the Gaussian's standard deviation; below 0 where the scan is
        sharper than what it was printed from.
    error_mm2 : float
        Standard error of that.
    """

    response: Floats
    variance_mm2: float
    error_mm2: float


def known_response(cycles_per_mm: Floats, known: Known) -> Floats:
    """
    A response that is known beforehand, at given frequencies.

    Parameters
    ----------
    cycles_per_mm : ndarray of float64
        On paper.

    Returns
    -------
    ndarray of float64
        A measured edge counts as 0 beyond 1 cycle per pixel of its own.
    """
    if not isinstance(known, KnownEdge):
        return spread_mtf(cycles_per_mm, known)
    own = cycles_per_px(cycles_per_mm, known.ppi)
    edge = known.edge
    return np.interp(own, edge.frequency_cycles_px, edge.sfr, right=0.0)


def edge_spread(
    edge: EdgeResponse, reference: Floats, cycles_per_mm: Floats
) -> EdgeSpread:
    """
    Fit a Gaussian to what print and paper took from one edge.

    Parameters
    ----------
    edge : EdgeResponse
        Of the scan.
    reference : ndarray of float64, shape (257,)
        Response of file and scanner together, at the edge's frequencies.
    cycles_per_mm : ndarray of float64, shape (257,)
        Those frequencies on paper.

    Raises
    ------
    SpecError
        If too few frequencies can be trusted, or the scan was sharpened.
    """
    trusted = (
        (reference >= _LEAST_REFERENCE)
        & (edge.sfr >= np.maximum(_LEAST_SFR, _NOISES * edge.sfr_noise))
        & (FREQUENCY_CYCLES_PX <= NYQUIST_CYCLES_PX)
    )
    end = trusted.size if trusted.all() else int(np.argmin(trusted))
    if end <= _FEWEST_FREQUENCIES:
        raise SpecError(
            f"The edge can be trusted up to {cycles_per_mm[max(end - 1, 0)]:.2f} "
            f"cycles/mm only, {end - 1} of its frequencies above 0; "
            f"{_FEWEST_FREQUENCIES} are the least.",
            remedy="Scan at more ppi and with a sharper scanner, and measure longer "
            "edges; check that the file's and the scanner's own responses are right.",
        )
    known, noise = reference[:end], edge.sfr_noise[:end]
    # A modulus never falls below 0, so noise across its direction adds its square.
    scanned = np.sqrt(edge.sfr[:end] ** 2 - noise**2)
    response = scanned / known
    rise = response - 3 * noise / known
    if rise.max() > LARGEST_RISE:
        raise sharpened(float(response[int(np.argmax(rise))]))
    turns = (pi * cycles_per_mm[:end]) ** 2
    error = np.hypot(noise, _REFERENCE_ERROR * known)

    def modelled(variance: float) -> Floats:
        return np.asarray(known * np.exp(-2 * turns * variance))

    def missed(variances: Floats) -> Floats:
        return np.asarray((modelled(float(variances[0])) - scanned) / error)

    # A first guess by the logarithm, at the last frequency.
    guess = -np.log(response[-1]) / (2 * turns[-1])
    # By the frequencies' own scale, for variances in mm² are near a thousandth.
    fit = scipy.optimize.least_squares(
        missed, [guess], x_scale=1 / turns[-1], method="lm"
    )
    variance = float(fit.x[0])
    # Noise is shared by frequencies closer than one over the window's width.
    shared = max(1 / (edge.window_px * FREQUENCY_CYCLES_PX[1]), 1.0)
    misfit = max(float(np.mean(missed(fit.x) ** 2)), 1.0)
    slope = 2 * turns * modelled(variance) / error
    return EdgeSpread(
        response=response,
        variance_mm2=variance,
        error_mm2=float(np.sqrt(shared * misfit / np.sum(slope**2))),
    )


def sharpened(response: float) -> SpecError:
    """
    The refusal of a scan that shows more contrast than was printed.

    Parameters
    ----------
    response : float
        Largest response of print and paper found.
    """
    return SpecError(
        f"The scan shows {response:.2f} of the contrast that was printed; paper only "
        f"takes contrast, and {LARGEST_RISE:g} is the limit.",
        remedy="Switch off sharpening in the scanner, and check the resolutions, the "
        "file's own response and that the scan was decoded to linear reflectance.",
    )


LEAST_LOSS = 0.1
"""Contrast that paper must take from the finest pattern used, at least: a hundredth of
response then is 5 % of the spread. Our choice."""

LEAST_SAMPLES_PER_SIGMA = 2.0
"""Scan pixels in one standard deviation where the scanner's response is not known: the
pixel's own aperture, a box, then widens the spread by 1 %."""

LARGEST_UNCERTAINTY = 0.2
"""Standard error over the spread, at most. Our choice."""

_CURVE_POINTS = 24
_USUAL_PPI = (300, 600, 1200, 2400, 4800)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadFit:
    """
    Spread of ink and light in a paper, as a scan shows it.

    Attributes
    ----------
    sigma_um : float
        Standard deviation of the Gaussian that fits best.
    uncertainty_um : float
        Its standard error, from the noise of each edge and the scatter of several.
    curve : SpreadCurve
        Response of print and paper, the median of the edges.
    residual : float
        Root mean square of that response less the Gaussian's.
    n_edges : int
        Edges that were used.
    unfit_reason : str
        Why other edges were left out; empty if none was.
    includes_scanner : bool
        Whether the scanner's own spread is in it, for want of a reference.
    """

    sigma_um: float
    uncertainty_um: float
    curve: SpreadCurve
    residual: float
    n_edges: int
    unfit_reason: str
    includes_scanner: bool = False


def fit_spread(
    scan: EdgeResponse | Sequence[EdgeResponse],
    *,
    scan_ppi: float,
    file_sfr: Known | Sequence[Known],
    scanner_sfr: Known | Sequence[Known] | None = None,
) -> SpreadFit:
    """
    Fit the spread of a paper to edges measured in a scan of its print.

    Parameters
    ----------
    scan : EdgeResponse or sequence of EdgeResponse
        Edges of the scan, in linear reflectance.
    scan_ppi : float
        The scan's resolution, above 0.
    file_sfr : float, SpreadCurve or KnownEdge, or a sequence of them
        What the edges already are in the file, one for all or one for each.
    scanner_sfr : the same, optional
        What the scanner makes of a sharp edge. Without it, the spread found is that
        of paper and scanner together.

    Raises
    ------
    SpecError
        If the scan cannot show the spread: too noisy, too coarse, sharpened by the
        scanner, or sharper than what it was printed from.

    Notes
    -----
    Responses of steps that follow each other multiply, so the print's is the scan's
    over the file's and the scanner's. The Gaussian ``exp(-2 π² σ² f²)`` is fitted to
    it by least squares, weighted by the noise, from frequency 0 up to where scan or
    references are no longer trusted, 0.5 cycles per scan pixel at most. Several edges
    are fitted one by one, and Huber's estimate taken, so that a scratch does no harm.

    All that the references leave out belongs to the spread: ink and paper, and the
    printer's dots unless the file's reference holds them. That of a trial sheet holds
    the square of the printed pixel, so that the spread found is the same at any ppi.
    It is one number for a light side and a dark side; where ink spreads more in
    shadows, edges at several tones will scatter, and the uncertainty says so.

    Examples
    --------
    >>> from scipy.special import erf
    >>> down, across = np.mgrid[:100, :80]
    >>> distance = (across - 40) * np.cos(0.1) + (down - 50) * np.sin(0.1)
    >>> edge = edge_sfr(0.25 + 0.15 * erf(distance / 1.5 / np.sqrt(2)))
    >>> round(fit_spread(edge, scan_ppi=1270, file_sfr=18, scanner_sfr=0).sigma_um)
    24
    """
    edges = [scan] if isinstance(scan, EdgeResponse) else list(scan)
    files = _each("file_sfr", file_sfr, len(edges))
    scanners = _each("scanner_sfr", scanner_sfr, len(edges))
    return _fit(
        list(zip(edges, files, scanners, strict=True)),
        scan_ppi,
        [],
        knows_scanner=scanner_sfr is not None,
    )


def measure_spread(
    linear: NDArray[np.floating],
    regions: Sequence[EdgeRegion],
    *,
    scan_ppi: float,
    file_sfr: Known | Sequence[Known],
    scanner_sfr: Known | Sequence[Known] | None = None,
) -> SpreadFit:
    """
    Measure the edges found in a scan, and fit the paper's spread to them.

    Parameters
    ----------
    linear : ndarray of float, shape (rows, columns)
        The whole scan in linear reflectance.
    regions : sequence of EdgeRegion
        From `find_edges`.
    scan_ppi, file_sfr, scanner_sfr
        As `fit_spread` takes them; sequences run along the regions.

    Returns
    -------
    SpreadFit
        From those edges that can be measured; it says why others were left out.

    Raises
    ------
    SpecError
        If no edge can be measured, or as `fit_spread` raises it.
    """
    files = _each("file_sfr", file_sfr, len(regions))
    scanners = _each("scanner_sfr", scanner_sfr, len(regions))
    measured = []
    refused = []
    for region, file, scanner in zip(regions, files, scanners, strict=True):
        try:
            edge = edge_sfr(cut_edge(linear, region))
        except SpecError as error:
            refused.append(error)
        else:
            measured.append((edge, file, scanner))
    return _fit(measured, scan_ppi, refused, knows_scanner=scanner_sfr is not None)


def _each(name: str, known: Known | Sequence[Known] | None, count: int) -> list[Known]:
    """One known response for every edge; of an unknown scanner, that of no loss."""
    if known is None:
        return [0.0] * count
    if isinstance(known, float | int | SpreadCurve | KnownEdge):
        return [known] * count
    if len(known) != count:
        raise SpecError(
            f"{name} has {len(known)} responses for {count} edges.",
            remedy="Give one for all edges, or one for each in the same order.",
        )
    return list(known)


def _fit(
    edges: list[tuple[EdgeResponse, Known, Known]],
    scan_ppi: float,
    refused: list[SpecError],
    *,
    knows_scanner: bool,
) -> SpreadFit:
    """Fit every edge, then what they agree on, and say which were left out."""
    if not 0 < scan_ppi < float("inf"):
        raise SpecError(
            f"The scan has {scan_ppi:g} ppi.",
            remedy="Give the resolution it was scanned at, such as 1200.",
        )
    frequency = cycles_per_mm(FREQUENCY_CYCLES_PX, scan_ppi)
    fits: list[EdgeSpread] = []
    unfit = list(refused)
    for edge, file, scanner in edges:
        reference = known_response(frequency, file) * known_response(frequency, scanner)
        try:
            fits.append(edge_spread(edge, reference, frequency))
        except SpecError as error:
            unfit.append(error)
    if not fits:
        raise _none_fits(unfit)
    response = _middle([fit.response for fit in fits])
    if response.max() > LARGEST_RISE:
        raise sharpened(float(response.max()))
    whole = huber_mean(
        np.array([fit.variance_mm2 for fit in fits]),
        np.array([fit.error_mm2 for fit in fits]),
    )
    end = response.size
    sigma_mm = sqrt(max(whole.value, 0.0))
    _refuse_coarse(
        sigma_mm, float(frequency[end - 1]), scan_ppi, knows_scanner=knows_scanner
    )
    # The standard error of a root, by its derivative.
    error_mm = whole.error / (2 * sigma_mm)
    if error_mm > LARGEST_UNCERTAINTY * sigma_mm:
        raise SpecError(
            f"The scan is too noisy: the spread is {1000 * sigma_mm:.0f} µm with a "
            f"standard error of {1000 * error_mm:.0f} µm; {LARGEST_UNCERTAINTY:.0%} "
            "is the limit.",
            remedy="Measure more or longer edges, or average several scans.",
        )
    off = response - spread_mtf(frequency[:end], 1000 * sigma_mm)
    return SpreadFit(
        sigma_um=1000 * sigma_mm,
        uncertainty_um=1000 * error_mm,
        curve=_thinned(frequency[:end], response),
        residual=float(np.sqrt(np.mean(off**2))),
        n_edges=len(fits),
        unfit_reason=f"{len(unfit)} of {len(fits) + len(unfit)} edges left out. "
        f"{unfit[0].problem}"
        if unfit
        else "",
        includes_scanner=not knows_scanner,
    )


def _none_fits(unfit: list[SpecError]) -> SpecError:
    """The refusal of a scan without an edge of use."""
    if not unfit:
        return SpecError(
            "There is no edge to fit a spread to.",
            remedy="Find the slanted squares of the scan first.",
        )
    error = SpecError(
        f"None of {len(unfit)} edges can be used. {unfit[0].problem}",
        remedy=unfit[0].remedy,
    )
    error.__cause__ = unfit[0]
    return error


def _middle(responses: list[Floats]) -> Floats:
    """Median of responses, as far as half of them reach."""
    end = int(np.median([response.size for response in responses]))
    table = np.full((len(responses), end), np.nan)
    for row, response in zip(table, responses, strict=True):
        row[: response.size] = response[:end]
    return np.asarray(np.nanmedian(table, axis=0))


def _refuse_coarse(
    sigma_mm: float,
    highest_cycles_mm: float,
    scan_ppi: float,
    *,
    knows_scanner: bool,
) -> None:
    """Refuse a spread that is too small for the scan to show."""
    loss = 1 - float(spread_mtf(highest_cycles_mm, 1000 * sigma_mm))
    if loss < LEAST_LOSS:
        raise SpecError(
            f"At {highest_cycles_mm:.1f} cycles/mm, the finest pattern this scan at "
            f"{scan_ppi:g} ppi shows, printing took {max(loss, 0):.0%} of the "
            f"contrast; {LEAST_LOSS:.0%} is the least that tells a spread.",
            remedy=f"Scan at {_usual_ppi(2 * scan_ppi)} ppi with a scanner that "
            "resolves it, from a file with sharp edges.",
        )
    samples = sigma_mm * scan_ppi / MM_PER_INCH
    if not knows_scanner and samples < LEAST_SAMPLES_PER_SIGMA:
        needed = LEAST_SAMPLES_PER_SIGMA * MM_PER_INCH / sigma_mm
        raise SpecError(
            f"A spread of {1000 * sigma_mm:.0f} µm has {samples:.1f} pixels of this "
            f"scan at {scan_ppi:g} ppi, and the scanner's own response is not known; "
            f"{LEAST_SAMPLES_PER_SIGMA:g} pixels are the least.",
            remedy=f"Scan at {_usual_ppi(needed)} ppi, or give the scanner's own "
            "response, measured on a sharp edge such as a blade's.",
        )


def _usual_ppi(least: float) -> int:
    """The next of the resolutions that scanners are set to."""
    return next((ppi for ppi in _USUAL_PPI if ppi >= least), ceil(least))


def _thinned(frequency: Floats, response: Floats) -> SpreadCurve:
    """Few points of a curve, from above frequency 0 to its end."""
    places = np.linspace(0, frequency[-1], min(_CURVE_POINTS, frequency.size - 1) + 1)
    values = np.interp(places[1:], frequency, response)
    return SpreadCurve(
        cycles_per_mm=tuple(places[1:].tolist()), values=tuple(values.tolist())
    )
