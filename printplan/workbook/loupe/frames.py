"""Which pixels does a view of the loupe get, and where do they lie on its canvas?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, floor, isfinite
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.sizing.boxes import Box
from printplan.units import whole_px

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LARGEST_VIEW_PX = 8192
"""Longest edge of a view: beyond any screen. Our choice."""

LARGEST_REPEAT = 16
"""Screen pixels along a print pixel at most. Our choice."""

_SAME_PX = 1e-6
"""Places that differ by less are the same: far below a pixel, far above rounding."""


class Zoom(StrEnum):
    """How print pixels become pixels of the screen."""

    PRINT_PIXELS = "print-pixels"
    """Each becomes a square of whole screen pixels: exact."""

    OVERVIEW = "overview"
    """Reduced and not sharpened: for colour and place."""

    TRUE_SIZE = "true-size"
    """As large as on paper, averaged in linear light for the screen's density."""


class Layer(StrEnum):
    """What is painted over the picture."""

    NONE = "none"
    REACH = "reach"
    """Distance from what the paper can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameWish:
    """
    What one view wants to see.

    Attributes
    ----------
    centre_px : tuple of float
        Across and down, in file pixels: the middle of the view.
    scale : float
        Screen pixels along a file pixel: whole for print pixels, below 1 for an
        overview.
    width_px, height_px : int
        The view in device pixels of the screen.
    sides : tuple of str
        Names of one or two sides.
    layer : Layer, optional
        Over the last side.
    divider_share : float or None, optional
        Where the divider stands, from 0 at the left edge of the view to 1: of exact
        print pixels, each side is cut as far as it is seen. None cuts both whole.
    """

    centre_px: tuple[float, float]
    zoom: Zoom
    scale: float
    width_px: int
    height_px: int
    sides: tuple[str, ...]
    layer: Layer = Layer.NONE
    divider_share: float | None = None

    def __post_init__(self) -> None:
        if not all(isfinite(number) for number in (*self.centre_px, self.scale)):
            raise SpecError(
                f"The view is centred on {self.centre_px} at a scale of {self.scale}.",
                remedy="Give finite numbers, for example a scale of 1.",
            )
        if not (
            1 <= self.width_px <= LARGEST_VIEW_PX
            and 1 <= self.height_px <= LARGEST_VIEW_PX
        ):
            raise SpecError(
                f"The view has {self.width_px} × {self.height_px} device pixels; from "
                f"1 to {LARGEST_VIEW_PX} along each edge can be shown.",
                remedy="Make the browser's window smaller.",
            )
        if len(self.sides) not in {1, 2}:
            raise SpecError(
                f"The view has {len(self.sides)} sides.",
                remedy="Ask for one side, or two with the divider between them.",
            )
        self._require_scale()

    def _require_scale(self) -> None:
        if self.zoom is Zoom.PRINT_PIXELS and not (
            self.scale == int(self.scale) and 1 <= self.scale <= LARGEST_REPEAT
        ):
            raise SpecError(
                f"Print pixels were asked for at a scale of {self.scale:g}; only whole "
                f"scales from 1 to {LARGEST_REPEAT} show them as they are.",
                remedy="Use 1, 2 or 4; below 1 ask for an overview.",
            )
        if self.zoom is Zoom.OVERVIEW and not 0 < self.scale < 1:
            raise SpecError(
                f"An overview was asked for at a scale of {self.scale:g}.",
                remedy="Use a scale between 0 and 1, or ask for print pixels.",
            )
        if self.scale <= 0:
            raise SpecError(
                f"The scale is {self.scale:g}.",
                remedy="Use a scale above 0, for example 1.",
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """
    Pixels of one side.

    Attributes
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    repeat : int
        Device pixels along each of them.
    from_px : int, optional
        Columns of the frame that lie before them, in print pixels.
    """

    pixels: NDArray[np.uint8]
    repeat: int
    from_px: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """
    The part of the file that a view shows, and where.

    Attributes
    ----------
    box : Box
        In file pixels, or in those of the overview.
    left, top : int
        Where its corner lies in the view, device pixels; below 0 if the corner is
        cut off.
    """

    box: Box
    left: int
    top: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """
    The answer to a `FrameWish`.

    Attributes
    ----------
    cuts : tuple of Cut
        One for each side.
    left, top : int
        Where their corner lies in the view, device pixels.
    words : str
        What kind of picture it is: exact, overview or true size.
    layer_words : str
        What the painted layer adds up to; empty without one.
    """

    cuts: tuple[Cut, ...]
    left: int
    top: int
    words: str
    layer_words: str = ""


def place_print_pixels(size_px: tuple[int, int], wish: FrameWish) -> Placement:
    """
    Whole print pixels that a view touches.

    Parameters
    ----------
    size_px : tuple of int
        Width and height of the file.

    Returns
    -------
    Placement
        Each print pixel covers whole device pixels.

    Examples
    --------
    >>> wish = FrameWish(centre_px=(50.5, 10.0), zoom=Zoom.PRINT_PIXELS, scale=2,
    ...                  width_px=9, height_px=8, sides=("after",))
    >>> place_print_pixels((100, 100), wish)
    Placement(box=Box(left=48, top=8, width=5, height=4), left=0, top=0)
    """
    repeat = int(wish.scale)
    (x, y), shown = _shown((size_px[0] * repeat, size_px[1] * repeat), wish)
    left, top = shown.left // repeat, shown.top // repeat
    right, bottom = -(-shown.right // repeat), -(-shown.bottom // repeat)
    box = Box(left, top, right - left, bottom - top)
    return Placement(box=box, left=left * repeat - x, top=top * repeat - y)


def seen_part(place: Placement, repeat: int, wish: FrameWish, number: int) -> Box:
    """
    The columns of a frame that are seen of one of two sides.

    Parameters
    ----------
    repeat : int
        Device pixels along a print pixel.
    number : int
        0 for the side on the left of the divider, 1 for that on its right.

    Returns
    -------
    Box
        In file pixels; at least one column, and all of them without a divider.
    """
    box = place.box
    if wish.divider_share is None or len(wish.sides) == 1:
        return box
    divider_px = wish.divider_share * wish.width_px - place.left
    if number == 0:
        columns = min(max(ceil(divider_px / repeat) + 1, 1), box.width)
        return Box(box.left, box.top, columns, box.height)
    before = min(max(floor(divider_px / repeat) - 1, 0), box.width - 1)
    return Box(box.left + before, box.top, box.width - before, box.height)


def place_overview(size_px: tuple[int, int], wish: FrameWish) -> Placement:
    """
    Pixels of an overview that a view shows.

    Parameters
    ----------
    size_px : tuple of int
        Width and height of the overview.

    Returns
    -------
    Placement
        Its box is in pixels of the overview.
    """
    (x, y), shown = _shown(size_px, wish)
    return Placement(box=shown, left=shown.left - x, top=shown.top - y)


def place_true_size(size_px: tuple[int, int], wish: FrameWish) -> Placement:
    """
    Whole print pixels that a view of any scale touches.

    Parameters
    ----------
    size_px : tuple of int
        Width and height of the file.

    Returns
    -------
    Placement
        The box, drawn as `shown_px` says, is centred where it belongs to within half
        a device pixel.
    """
    scaled = (ceil(size_px[0] * wish.scale), ceil(size_px[1] * wish.scale))
    (x, y), shown = _shown(scaled, wish)
    whole = Box(0, 0, *size_px)
    left, top = floor(shown.left / wish.scale), floor(shown.top / wish.scale)
    touched = Box(
        left,
        top,
        ceil(shown.right / wish.scale) - left,
        ceil(shown.bottom / wish.scale) - top,
    )
    box = touched.common(whole) or whole
    width, height = shown_px(box, wish.scale)
    return Placement(
        box=box,
        left=whole_px((box.left + box.width / 2) * wish.scale - width / 2) - x,
        top=whole_px((box.top + box.height / 2) * wish.scale - height / 2) - y,
    )


def shown_px(box: Box, scale: float) -> tuple[int, int]:
    """
    Device pixels that a box covers.

    Parameters
    ----------
    scale : float
        Device pixels along a pixel of the box.

    Returns
    -------
    tuple of int
        Width and height.
    """
    return whole_px(box.width * scale), whole_px(box.height * scale)


def _shown(scaled_px: tuple[int, int], wish: FrameWish) -> tuple[tuple[int, int], Box]:
    """The view's corner on the scaled file, and the part of that which it shows."""
    x = floor(wish.centre_px[0] * wish.scale - wish.width_px / 2 + _SAME_PX)
    y = floor(wish.centre_px[1] * wish.scale - wish.height_px / 2 + _SAME_PX)
    view = Box(x, y, wish.width_px, wish.height_px)
    shown = view.common(Box(0, 0, *scaled_px))
    if shown is None:
        raise SpecError(
            f"The view is centred on {wish.centre_px[0]:.0f}, {wish.centre_px[1]:.0f}, "
            "outside the file.",
            remedy="Press Home to come back to the middle of the picture.",
        )
    return (x, y), shown
