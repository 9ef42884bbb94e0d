"""How large does the picture get, and which part of the master is printed?"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, radians, tan

from printplan.errors import SpecError
from printplan.spec import SizeRule, SizeSpec
from printplan.units import MM_PER_INCH, mm_from_px, px_from_mm, whole_px


@dataclass(frozen=True, slots=True)
class Crop:
    """
    The part of the master that is printed.

    Attributes
    ----------
    left_px, top_px, width_px, height_px : float
        In master pixels; edges may fall inside a pixel.
    """

    left_px: float
    top_px: float
    width_px: float
    height_px: float


@dataclass(frozen=True, slots=True)
class PictureSize:
    """
    The picture on paper.

    Attributes
    ----------
    width_mm, height_mm : float
        Without border.
    """

    width_mm: float
    height_mm: float
    crop: Crop

    @property
    def effective_ppi(self) -> float:
        """Master pixels per inch of paper, before any resampling."""
        return effective_ppi(self.crop.width_px, self.width_mm)


def picture_size(width_px: int, height_px: int, spec: SizeSpec) -> PictureSize:
    """
    Size of the picture on paper and the crop that fills it.

    Parameters
    ----------
    width_px, height_px : int
        Master, as it is looked at.

    Raises
    ------
    SpecError
        If the master has no pixels.

    Examples
    --------
    >>> spec = SizeSpec(rule=SizeRule.WIDTH, width_mm=300, ppi=300)
    >>> picture_size(6000, 4000, spec).height_mm
    200.0
    """
    if width_px < 1 or height_px < 1:
        raise SpecError(
            f"The master is {width_px} × {height_px} px.",
            remedy="Choose a master with pixels in it.",
        )
    if spec.rule is SizeRule.FILL:
        return _filled(width_px, height_px, spec)
    mm_per_px = _mm_per_px(width_px, height_px, spec)
    whole = Crop(0.0, 0.0, float(width_px), float(height_px))
    return PictureSize(width_px * mm_per_px, height_px * mm_per_px, whole)


def _mm_per_px(width_px: int, height_px: int, spec: SizeSpec) -> float:
    """Scale of a size that keeps the picture's shape."""
    lengths = (
        (spec.width_mm, width_px),
        (spec.height_mm, height_px),
        (spec.longest_mm, max(width_px, height_px)),
    )
    return min(
        length_mm / length_px
        for length_mm, length_px in lengths
        if length_mm is not None
    )


def _filled(width_px: int, height_px: int, spec: SizeSpec) -> PictureSize:
    """Cover the area, cutting the longer way round the chosen centre."""
    area_width_mm, area_height_mm = spec.width_mm or 0.0, spec.height_mm or 0.0
    mm_per_px = max(area_width_mm / width_px, area_height_mm / height_px)
    crop_width = min(area_width_mm / mm_per_px, float(width_px))
    crop_height = min(area_height_mm / mm_per_px, float(height_px))
    crop = Crop(
        _centred(spec.crop_centre_x_share, crop_width, width_px),
        _centred(spec.crop_centre_y_share, crop_height, height_px),
        crop_width,
        crop_height,
    )
    return PictureSize(area_width_mm, area_height_mm, crop)


def _centred(share: float, length: float, whole: int) -> float:
    """Start of a stretch as near to its wished centre as the picture allows."""
    return min(max(share * whole - length / 2, 0.0), whole - length)


def print_size_mm(width_px: int, height_px: int, ppi: float) -> tuple[float, float]:
    """
    Size on paper of so many pixels.

    Parameters
    ----------
    width_px, height_px : int
        1 or more.
    ppi : float
        Pixels per inch of paper, above 0.

    Returns
    -------
    tuple of float
        Width and height in millimetres.

    Raises
    ------
    SpecError
        If a number is not above 0.

    Notes
    -----
    ``pixels / ppi · 25.4 mm``; the inch is 25.4 mm by definition (1959).

    Examples
    --------
    >>> print_size_mm(6000, 4000, ppi=300)
    (508.0, 338.6666666666667)
    """
    _require_above_zero(width_px, height_px, ppi)
    return mm_from_px(width_px, ppi), mm_from_px(height_px, ppi)


def print_size_px(width_mm: float, height_mm: float, ppi: float) -> tuple[int, int]:
    """
    Whole pixels of a print.

    Parameters
    ----------
    width_mm, height_mm : float
        Size on paper, above 0.
    ppi : float
        Pixels per inch of paper, above 0.

    Returns
    -------
    tuple of int
        Width and height.

    Raises
    ------
    SpecError
        If a number is not above 0.

    Examples
    --------
    >>> print_size_px(300, 200, ppi=300)
    (3543, 2362)
    """
    _require_above_zero(width_mm, height_mm, ppi)
    return whole_px(px_from_mm(width_mm, ppi)), whole_px(px_from_mm(height_mm, ppi))


def effective_ppi(pixels: float, length_mm: float) -> float:
    """
    Pixels per inch of paper that a picture has of its own.

    Parameters
    ----------
    pixels : float
        Of the master along an edge, above 0; times `true_resolution`, those that hold
        detail.
    length_mm : float
        That edge on paper, above 0.

    Raises
    ------
    SpecError
        If a number is not above 0.

    Examples
    --------
    >>> effective_ppi(6000, length_mm=508)
    300.0
    """
    _require_above_zero(pixels, length_mm)
    return pixels * MM_PER_INCH / length_mm


def _require_above_zero(*numbers: float) -> None:
    if not all(inf > number > 0 for number in numbers):
        raise SpecError(
            f"The numbers are {', '.join(f'{number:g}' for number in numbers)}.",
            remedy="Give finite numbers above 0.",
        )


def acuity_ppi(distance_mm: float, angle_arcmin: float = 1.0) -> float:
    """
    Resolution at which one pixel subtends a given angle at the eye.

    Parameters
    ----------
    distance_mm : float
        Eye to paper, above 0.
    angle_arcmin : float, optional
        Visual angle of one pixel, above 0.

    Returns
    -------
    float
        Pixels per inch.

    Raises
    ------
    SpecError
        If either argument is 0 or less.

    Notes
    -----
    One arcminute is the gap read at acuity 1.0 [1]_: a model of the viewer, not
    a limit of the paper. Sharp eyes and fine line work want more.

    References
    ----------
    .. [1] ISO 8596:2017, Visual acuity testing - Standard and clinical optotypes.

    Examples
    --------
    >>> round(acuity_ppi(distance_mm=300))
    291
    """
    if not distance_mm > 0 or not angle_arcmin > 0:
        raise SpecError(
            f"Distance is {distance_mm:g} mm and angle {angle_arcmin:g} arcmin.",
            remedy="Give both above 0; a hand-held print is near 300 mm.",
        )
    return MM_PER_INCH / (distance_mm * tan(radians(angle_arcmin / 60)))
