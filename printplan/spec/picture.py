"""How large, how sharp and in which colours is the picture asked for?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import PurePath

from printplan.errors import SpecError
from printplan.spec.ranges import (
    EDGE_WORDS,
    HIGHEST_PPI,
    LONGEST_MM,
    LOWEST_PPI,
    SHORTEST_MM,
    in_range,
    take_words,
)


class SizeRule(StrEnum):
    """Which length of the picture on paper is given."""

    WIDTH = "width"
    HEIGHT = "height"
    LONGEST_EDGE = "longest-edge"
    FIT = "fit"
    FILL = "fill"


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeSpec:
    """
    The print size asked for.

    Attributes
    ----------
    rule : SizeRule
        `WIDTH`, `HEIGHT` and `LONGEST_EDGE` give one length and keep the picture's
        shape. `FIT` keeps its shape inside ``width_mm`` × ``height_mm``; `FILL`
        covers that area and cuts what is left over.
    width_mm, height_mm, longest_mm : float or None
        The lengths that the rule needs, and no others. Picture area on paper,
        without border.
    ppi : float
        Picture pixels per inch sent to the printer.
    crop_centre_x_share, crop_centre_y_share : float
        With `FILL`, the point of the picture to keep central, as shares of its
        width and height from the left and the top.
    """

    rule: SizeRule
    ppi: float
    width_mm: float | None = None
    height_mm: float | None = None
    longest_mm: float | None = None
    crop_centre_x_share: float = 0.5
    crop_centre_y_share: float = 0.5

    def __post_init__(self) -> None:
        take_words(self, rule=SizeRule)
        needed = _LENGTHS_OF_RULE[self.rule]
        for name in ("width_mm", "height_mm", "longest_mm"):
            value, what = getattr(self, name), EDGE_WORDS[name]
            if value is None and name in needed:
                raise SpecError(
                    f"A size by {self.rule} needs a {what}.",
                    remedy=f"Add the {what}, or choose another size rule.",
                )
            if value is not None and name not in needed:
                raise SpecError(
                    f"A size by {self.rule} does not use a {what} ({value:g} mm).",
                    remedy=f"Remove the {what}, or choose the size rule that uses it.",
                )
            if value is not None:
                in_range(f"Picture {what}", value, SHORTEST_MM, LONGEST_MM, "mm")
        in_range("Resolution", self.ppi, LOWEST_PPI, HIGHEST_PPI, "ppi")
        in_range("Crop centre x", self.crop_centre_x_share, 0, 1, "of the width")
        in_range("Crop centre y", self.crop_centre_y_share, 0, 1, "of the height")


_LENGTHS_OF_RULE = {
    SizeRule.WIDTH: {"width_mm"},
    SizeRule.HEIGHT: {"height_mm"},
    SizeRule.LONGEST_EDGE: {"longest_mm"},
    SizeRule.FIT: {"width_mm", "height_mm"},
    SizeRule.FILL: {"width_mm", "height_mm"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpenSpec:
    """
    Unsharp masking of lightness at print size.

    Attributes
    ----------
    gain : float
        Share of the lightness high-pass that is added back, 0 to 10; 0 leaves the
        picture as it was resampled.
    radius_mm : float
        Standard deviation of the Gaussian on paper, 0.01 to 5 mm; not used with a
        kernel.
    halo_limit_share : float or None
        Greatest overshoot at an edge in the file, as a share of the edge, 0 to 2;
        None sets no limit.
    grain_floor_l : float
        Lightness step up to which nothing is sharpened, 0 to 10 L*.
    restore : float or None
        Share of the loss on paper and at a distance that gain and radius were chosen
        to put back, 0 to 1.5; None if they were set by hand. Kept for the record.
    distance_mm : float or None
        Viewing distance that they were chosen for. Kept for the record.
    print_halo_limit_share : float or None
        Greatest overshoot in the print that they were chosen under, as a share of the
        edge, 0.005 to 1. Kept for the record.
    kernel : str
        Path of a CSV file with a kernel that blurs in place of the Gaussian; empty for
        the Gaussian. See `printplan.sharpening.kernel.read_kernel`.
    """

    gain: float = 0.0
    radius_mm: float = 0.127
    halo_limit_share: float | None = None
    grain_floor_l: float = 0.0
    restore: float | None = None
    distance_mm: float | None = None
    print_halo_limit_share: float | None = None
    kernel: str = ""

    @property
    def blur_words(self) -> str:
        """What blurs: the Gaussian's radius, or the file of a kernel."""
        if self.kernel:
            return f"kernel {PurePath(self.kernel).name}"
        return f"radius {self.radius_mm:.3f} mm"

    def __post_init__(self) -> None:
        in_range("Sharpening gain", self.gain, 0, 10, "(no unit)")
        in_range("Sharpening radius", self.radius_mm, 0.01, 5, "mm")
        in_range("Grain floor", self.grain_floor_l, 0, 10, "L*")
        if self.halo_limit_share is not None:
            in_range("Halo limit", self.halo_limit_share, 0, 2, "of the edge")
        if self.restore is not None:
            in_range("Restore", self.restore, 0, 1.5, "of the loss")
        if self.distance_mm is not None:
            in_range("Viewing distance", self.distance_mm, 50, 50_000, "mm")
        if self.print_halo_limit_share is not None:
            in_range(
                "Halo limit in the print",
                self.print_halo_limit_share,
                0.005,
                1,
                "of the edge",
            )


class Intent(StrEnum):
    """Rendering intents of ICC.1:2022, clause 6.2."""

    PERCEPTUAL = "perceptual"
    MEDIA_RELATIVE = "media-relative"
    SATURATION = "saturation"
    ICC_ABSOLUTE = "icc-absolute"


class BlackPointCompensation(StrEnum):
    """Whether the source black is mapped to the paper's black (ISO 18619)."""

    ON = "on"
    OFF = "off"


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourSpec:
    """
    How the master's colours become the paper's.

    Attributes
    ----------
    intent : Intent
        Rendering intent from the master to the printer.
    lighten_l : float
        Rise of the middle tones for the room that the print will hang in: L* at
        L* 50, -15 to 15. Black and white stay; 0 leaves the master's tone alone.
    """

    intent: Intent = Intent.MEDIA_RELATIVE
    black_point_compensation: BlackPointCompensation = BlackPointCompensation.ON
    lighten_l: float = 0.0

    def __post_init__(self) -> None:
        take_words(self, intent=Intent, black_point_compensation=BlackPointCompensation)
        in_range("Lightening", self.lighten_l, -15, 15, "L* at L* 50")
