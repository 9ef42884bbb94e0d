"""How large is what is printed for a canvas that goes round its bar?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.errors import FitError, SpecError
from printplan.sizing.boxes import Sides
from printplan.sizing.print_size import Crop, PictureSize, picture_size
from printplan.spec import SHORTEST_MM, SizeRule, WrapSpec

if TYPE_CHECKING:
    from printplan.spec import SizeSpec


def all_sides(wrap: WrapSpec) -> Sides:
    """What is printed round the front."""
    side_mm = wrap.side_mm if wrap.is_wrapped else 0.0
    return Sides(side_mm, side_mm, side_mm, side_mm)


def continued_sides(wrap: WrapSpec) -> Sides:
    """What is printed round the front with more of the master."""
    return Sides(
        *(
            wrap.side_mm if wrap.is_continued(side) else 0.0
            for side in ("left", "top", "right", "bottom")
        )
    )


def front_size(
    width_px: int, height_px: int, spec: SizeSpec, wrap: WrapSpec
) -> tuple[PictureSize, Crop]:
    """
    Size of the front on the wall, and the part of the master that is printed for it.

    Parameters
    ----------
    width_px, height_px : int
        Master, as it is looked at.
    spec : SizeSpec
        Of the front.

    Returns
    -------
    tuple of PictureSize and Crop
        The front with its own crop, and the crop of front and continued sides.

    Raises
    ------
    SpecError
        If the master has no pixels.
    FitError
        If continued sides leave no front.

    Examples
    --------
    >>> from printplan.spec import SizeSpec
    >>> wrap = WrapSpec(bar_depth_mm=40, left="continued", right="continued")
    >>> spec = SizeSpec(rule="fill", width_mm=400, height_mm=300, ppi=300)
    >>> front, crop = front_size(4800, 3000, spec, wrap)
    >>> front.width_mm, front.crop.left_px, crop
    (400.0, 400.0, Crop(left_px=0.0, top_px=0.0, width_px=4800.0, height_px=3000.0))
    """
    more = continued_sides(wrap)
    if more == Sides():
        size = picture_size(width_px, height_px, spec)
        return size, size.crop
    if spec.rule is SizeRule.LONGEST_EDGE:
        whole = _by_longest(width_px, height_px, spec, more)
    else:
        whole = picture_size(width_px, height_px, _grown(spec, more))
    width_mm = whole.width_mm - sum(more.across_mm)
    height_mm = whole.height_mm - sum(more.down_mm)
    if min(width_mm, height_mm) < SHORTEST_MM:
        raise FitError(
            f"Sides of {wrap.side_mm:g} mm that continue the picture leave a front of "
            f"{max(width_mm, 0):.1f} × {max(height_mm, 0):.1f} mm.",
            remedy="Choose a larger size, a thinner bar, or mirrored sides.",
        )
    crop = whole.crop
    across, down = crop.width_px / whole.width_mm, crop.height_px / whole.height_mm
    inner = Crop(
        crop.left_px + more.left_mm * across,
        crop.top_px + more.top_mm * down,
        width_mm * across,
        height_mm * down,
    )
    return PictureSize(width_mm, height_mm, inner), crop


def _grown(spec: SizeSpec, more: Sides) -> SizeSpec:
    """A size of the front as one of front and continued sides."""
    grown = {
        "width_mm": sum(more.across_mm),
        "height_mm": sum(more.down_mm),
    }
    lengths = {
        name: length_mm + more_mm
        for name, more_mm in grown.items()
        if (length_mm := getattr(spec, name)) is not None
    }
    return replace(spec, **lengths)


def _by_longest(
    width_px: int, height_px: int, spec: SizeSpec, more: Sides
) -> PictureSize:
    """The smaller of the sizes whose front has that width, or that height."""
    longest_mm = spec.longest_mm or 0.0
    bare = replace(spec, rule=SizeRule.WIDTH, longest_mm=None, width_mm=longest_mm)
    sizes = [
        replace(bare, width_mm=longest_mm + sum(more.across_mm)),
        replace(
            bare,
            rule=SizeRule.HEIGHT,
            width_mm=None,
            height_mm=longest_mm + sum(more.down_mm),
        ),
    ]
    wholes = [picture_size(width_px, height_px, it) for it in sizes]
    return min(wholes, key=lambda it: it.width_mm)


def shrinkage_percent(printed_mm: float, hanging_mm: float) -> float:
    """
    How much a canvas shrinks, from a length that was printed and measured again.

    Parameters
    ----------
    printed_mm : float
        Between two marks as printed, above 0.
    hanging_mm : float
        Between them when it is coated, dry and stretched.

    Returns
    -------
    float
        Per cent of the printed length; below 0 if it got longer.

    Raises
    ------
    SpecError
        If a length is not above 0.

    Examples
    --------
    >>> shrinkage_percent(500, 495)
    1.0
    """
    if not (printed_mm > 0 and hanging_mm > 0):
        raise SpecError(
            f"The lengths are {printed_mm:g} and {hanging_mm:g} mm.",
            remedy="Give both above 0, measured between the same two marks.",
        )
    return 100 * (printed_mm - hanging_mm) / printed_mm


def printed_length(length_mm: float, shrinks_percent: float) -> float:
    """
    What is to be printed so that a length remains when the canvas has shrunk.

    Parameters
    ----------
    length_mm : float
        As it is to hang.
    shrinks_percent : float
        Of the printed length, below 100; see `shrinkage_percent`.

    Examples
    --------
    >>> printed_length(495, shrinks_percent=1)
    500.0
    """
    return length_mm / (1 - shrinks_percent / 100)
