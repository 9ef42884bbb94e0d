"""How large may a print be, for the pixels that it has and who looks from where?"""

from __future__ import annotations

from math import hypot, inf

from printplan.errors import SpecError
from printplan.sizing.print_size import acuity_ppi
from printplan.units import MM_PER_INCH


def largest_length_mm(
    pixels: float,
    distance_mm: float,
    *,
    own_share: float = 1.0,
    least_ppi: float = 0.0,
    angle_arcmin: float = 1.0,
) -> float:
    """
    Longest edge at which no pixel is larger than the eye resolves at a distance.

    Parameters
    ----------
    pixels : float
        Of the master along that edge, above 0.
    distance_mm : float
        Eye to paper, above 0.
    own_share : float, optional
        Share of them that holds detail, above 0 to 1; see `true_resolution`.
    least_ppi : float, optional
        Pixels per inch below which a print is not good for those who step up,
        whatever the distance; 0 for none.
    angle_arcmin : float, optional
        Visual angle of one pixel, above 0; see `acuity_ppi`.

    Returns
    -------
    float
        Millimetres.

    Raises
    ------
    SpecError
        If a number leaves its range.

    Notes
    -----
    ``pixels · own_share · pitch``, where the pitch of a pixel on paper is the longest
    that is still good: ``distance · tan(angle)``, 1 arcminute at acuity 1.0 [1]_, or
    ``25.4 mm / least_ppi`` if that is shorter.

    References
    ----------
    .. [1] ISO 8596:2017, Visual acuity testing - Standard and clinical optotypes.

    Examples
    --------
    >>> round(largest_length_mm(6000, distance_mm=300), 1)
    523.6
    >>> round(largest_length_mm(6000, distance_mm=3000, least_ppi=100))
    1524
    """
    _require(pixels, own_share, least_ppi)
    needed_ppi = max(acuity_ppi(distance_mm, angle_arcmin), least_ppi)
    return pixels * own_share * MM_PER_INCH / needed_ppi


def largest_at_diagonal_mm(  # noqa: PLR0913 - a picture, a viewer and their limits
    width_px: float,
    height_px: float,
    *,
    nearest_mm: float = 250.0,
    own_share: float = 1.0,
    least_ppi: float = 0.0,
    angle_arcmin: float = 1.0,
) -> float:
    """
    Longest edge of a print that is looked at from as far as its diagonal is long.

    Parameters
    ----------
    width_px, height_px : float
        Of the master, above 0.
    nearest_mm : float, optional
        Distance that smaller prints are held at, above 0.
    own_share, least_ppi, angle_arcmin : float, optional
        As for `largest_length_mm`.

    Returns
    -------
    float
        Millimetres; infinite where the pixels are enough at every size.

    Raises
    ------
    SpecError
        If a number leaves its range.

    Notes
    -----
    With the distance ``d`` equal to the diagonal, ``diagonal / diagonal_px ≤ d ·
    tan(angle)`` has the length on both sides: it says ``diagonal_px · tan(angle) ≥ 1``,
    3438 pixels of its own along the diagonal at 1 arcminute, and nothing of the size.
    A master that has them is good at any size that keeps `least_ppi`; one that has
    not is good only as far as the print is held at `nearest_mm`, whose diagonal is
    then shorter than that.

    Examples
    --------
    >>> largest_at_diagonal_mm(6000, 4000)
    inf
    >>> round(largest_at_diagonal_mm(6000, 4000, least_ppi=100))
    1524
    >>> round(largest_at_diagonal_mm(1500, 1000), 1)
    109.1
    """
    _require(min(width_px, height_px), own_share, least_ppi)
    longest_px = max(width_px, height_px)
    pitch_mm = MM_PER_INCH / acuity_ppi(nearest_mm, angle_arcmin)
    diagonal_px = hypot(width_px, height_px) * own_share
    by_eye_mm = inf
    if diagonal_px * pitch_mm < nearest_mm:  # the tangent, at any distance
        by_eye_mm = longest_px * own_share * pitch_mm
    if least_ppi == 0:
        return by_eye_mm
    return min(by_eye_mm, longest_px * own_share * MM_PER_INCH / least_ppi)


def _require(pixels: float, own_share: float, least_ppi: float) -> None:
    if not (0 < pixels < inf and 0 < own_share <= 1 and 0 <= least_ppi < inf):
        raise SpecError(
            f"There are {pixels:g} pixels, of which a share of {own_share:g} is own, "
            f"and {least_ppi:g} ppi at least.",
            remedy="Give pixels above 0, a share above 0 to 1, and 0 ppi or more.",
        )
