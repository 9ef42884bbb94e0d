"""How large does a picture get on the screen that the page is seen on?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import anywidget
import traitlets

from printplan.units import MM_PER_INCH
from printplan.workbook.loupe.card_match import matched_screens

_CSS_PX_PER_INCH: Final = 96.0
"""CSS Values and Units Level 4, 6.2: 1in is 96px, whatever the screen measures."""


class ScreenWidget(anywidget.AnyWidget):
    """
    Tells the kernel the size and density of the screen; shows nothing.

    Attributes
    ----------
    width_px, height_px : int
        Of the whole screen in its own pixels; 0 until the page was seen.
    ratio : float
        Its own pixels per pixel of CSS.
    """

    _esm = """
export default {
  render({ model }) {
    const tell = () => {
      const ratio = window.devicePixelRatio || 1;
      model.set("ratio", ratio);
      model.set("width_px", Math.round(window.screen.width * ratio));
      model.set("height_px", Math.round(window.screen.height * ratio));
      model.save_changes();
    };
    tell();
    window.addEventListener("resize", tell);
    return () => window.removeEventListener("resize", tell);
  },
};
"""
    width_px = traitlets.Int(0).tag(sync=True)
    height_px = traitlets.Int(0).tag(sync=True)
    ratio = traitlets.Float(1.0).tag(sync=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenScale:
    """
    Pixels of a screen to a millimetre.

    Attributes
    ----------
    px_per_mm : float
        The screen's own pixels.
    ratio : float
        Its own pixels per pixel of CSS.
    is_matched : bool
        Whether it was matched to a card in a loupe; else it is what browsers suppose.
    """

    px_per_mm: float
    ratio: float
    is_matched: bool

    def css_px(self, length_mm: float) -> float:
        """A length in the page's own pixels."""
        return length_mm * self.px_per_mm / self.ratio


def screen_scale(screen: ScreenWidget) -> ScreenScale:
    """
    The scale of the screen that a page is seen on.

    Raises
    ------
    RecordError
        If the file of matched screens cannot be read.
    """
    seen = screen.width_px, screen.height_px
    for known in matched_screens().screens:
        if known.is_of(*seen):
            return ScreenScale(
                px_per_mm=known.device_px_per_mm, ratio=screen.ratio, is_matched=True
            )
    return ScreenScale(
        px_per_mm=_CSS_PX_PER_INCH / MM_PER_INCH * screen.ratio,
        ratio=screen.ratio,
        is_matched=False,
    )
