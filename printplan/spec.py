"""What was asked, and what the master is: plain frozen values."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import PurePath
from typing import TypeVar

from printplan.errors import SpecError
from printplan.units import LengthUnit, short_words, span_words

FORMERLY = "formerly"
"""Key of a field's metadata: the name it had in files written before. Such files are
read, and written under the name of today."""

UNSAID = "unsaid"
"""Key of a field's metadata: a new file says nothing of it while it has its default."""

SHORTEST_MM = 5.0
"""Shortest picture or sheet edge taken: below this a slip of the unit is likelier."""

LONGEST_MM = 60_000.0
"""Longest edge taken: rolls are sold up to some 30 to 60 m (common practice)."""

LOWEST_PPI, HIGHEST_PPI = 30.0, 2400.0
"""Range of output resolution taken; 200-300 ppi is common practice."""


MOST_BLEED_MM = 50.0
"""Widest bleed taken; 3 to 5 mm is common practice, no source."""

Kind = TypeVar("Kind", bound=StrEnum)


class SizeRule(StrEnum):
    """Which length of the picture on paper is given."""

    WIDTH = "width"
    HEIGHT = "height"
    LONGEST_EDGE = "longest-edge"
    FIT = "fit"
    FILL = "fill"


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


class Orientation(StrEnum):
    """How the sheet stands when the print is looked at."""

    PORTRAIT = "portrait"
    LANDSCAPE = "landscape"
    BY_PICTURE = "by-picture"


class Placement(StrEnum):
    """Where the picture goes on its sheet."""

    CENTRED = "centred"
    OPTICAL_CENTRE = "optical-centre"
    OFFSET = "offset"


class RollWay(StrEnum):
    """How a picture lies on a roll whose length follows from it."""

    LEAST_LENGTH = "least-length"
    WIDTH_ACROSS = "width-across"
    WIDTH_ALONG = "width-along"


class WrapSide(StrEnum):
    """What is printed on one side of a canvas round its bar."""

    MIRRORED = "mirrored"
    STRETCHED = "stretched"
    CONTINUED = "continued"
    COLOUR = "colour"
    EDGE_MEAN = "edge-mean"


class Marks(StrEnum):
    """What shows where to cut, and where a canvas folds."""

    NONE = "none"
    CORNERS = "corners"
    LINE = "line"


class CaptionPart(StrEnum):
    """What a caption tells."""

    TITLE = "title"
    EDITION = "edition"
    PAPER = "paper"
    SIZE = "size"
    DATE = "date"


class Delivery(StrEnum):
    """Whose colour numbers the file holds."""

    PRINTER_COLOUR = "printer-colour"
    WORKING_COLOUR = "working-colour"
    NAMED_SPACE = "named-space"


class NamedSpace(StrEnum):
    """Colour spaces that an outside print service can be asked to take."""

    SRGB = "sRGB"
    OPRGB = "opRGB"
    ROMM_RGB = "ROMM RGB"


class FileFormat(StrEnum):
    """Container and depth of the finished file."""

    TIFF_16 = "tiff-16"
    TIFF_8 = "tiff-8"
    JPEG = "jpeg"
    PDF = "pdf"


class Extent(StrEnum):
    """How much paper the file covers."""

    SHEET = "sheet"
    PICTURE = "picture"


class MatMargins(StrEnum):
    """How the board round a mat's opening is shared out."""

    EQUAL = "equal"
    BOTTOM_WEIGHTED = "bottom-weighted"
    OPTICAL_CENTRE = "optical-centre"


class AlphaRule(StrEnum):
    """What to do with a master that carries transparency."""

    REFUSE = "refuse"
    FLATTEN = "flatten"


_RULER_MM = 100.0
"""Lengths that people take by ruler; finer ones are never told in inches."""


_EDGE_WORDS = {
    "width_mm": "width",
    "height_mm": "height",
    "longest_mm": "longest edge",
}


def _in_range(what: str, value: float, low: float, high: float, unit: str) -> None:
    """Refuse a number outside its range (a NaN is outside every range)."""
    if low <= value <= high:
        return
    told, ends = f"{value:g} {unit}", f"{low:g} to {high:g} {unit}"
    if unit == LengthUnit.MM and high >= _RULER_MM:
        # Nothing here knows the person's unit, so both are told.
        told += f" ({short_words(LengthUnit.INCHES, value)})"
        ends += f" ({span_words(LengthUnit.INCHES, low, high)})"
    raise SpecError(f"{what} is {told}.", remedy=f"Give a value from {ends}.")


def member(kind: type[Kind], value: Kind | str, what: str) -> Kind:
    """
    A word as the member of its kind.

    Parameters
    ----------
    value : StrEnum or str
        Such as ``"perceptual"``.
    what : str
        What it chooses, for the error.

    Raises
    ------
    SpecError
        If the kind has no such member; the remedy names those that it has.

    Examples
    --------
    >>> member(Intent, "perceptual", "Intent") is Intent.PERCEPTUAL
    True
    """
    try:
        return kind(value)
    except ValueError:
        offered = ", ".join(f'"{it}"' for it in kind)
        raise SpecError(
            f"{what} is {value!r}.", remedy=f"Choose one of: {offered}."
        ) from None


def _take_words(spec: object, **kinds: type[StrEnum]) -> None:
    """Make members of the words that a spec was given, before it judges them."""
    for name, kind in kinds.items():
        value = getattr(spec, name)
        if value is not None:
            what = name.replace("_", " ").capitalize()
            object.__setattr__(spec, name, member(kind, value, what))


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
        _take_words(self, rule=SizeRule)
        needed = _LENGTHS_OF_RULE[self.rule]
        for name in ("width_mm", "height_mm", "longest_mm"):
            value, what = getattr(self, name), _EDGE_WORDS[name]
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
                _in_range(f"Picture {what}", value, SHORTEST_MM, LONGEST_MM, "mm")
        _in_range("Resolution", self.ppi, LOWEST_PPI, HIGHEST_PPI, "ppi")
        _in_range("Crop centre x", self.crop_centre_x_share, 0, 1, "of the width")
        _in_range("Crop centre y", self.crop_centre_y_share, 0, 1, "of the height")


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
        _in_range("Sharpening gain", self.gain, 0, 10, "(no unit)")
        _in_range("Sharpening radius", self.radius_mm, 0.01, 5, "mm")
        _in_range("Grain floor", self.grain_floor_l, 0, 10, "L*")
        if self.halo_limit_share is not None:
            _in_range("Halo limit", self.halo_limit_share, 0, 2, "of the edge")
        if self.restore is not None:
            _in_range("Restore", self.restore, 0, 1.5, "of the loss")
        if self.distance_mm is not None:
            _in_range("Viewing distance", self.distance_mm, 50, 50_000, "mm")
        if self.print_halo_limit_share is not None:
            _in_range(
                "Halo limit in the print",
                self.print_halo_limit_share,
                0.005,
                1,
                "of the edge",
            )


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
        _take_words(
            self, intent=Intent, black_point_compensation=BlackPointCompensation
        )
        _in_range("Lightening", self.lighten_l, -15, 15, "L* at L* 50")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSpec:
    """
    The sheet, and the picture's place on it.

    Attributes
    ----------
    media_size : str
        ``A4``, ``13x19 in`` and the like, or ``custom``; a roll by its width,
        ``24 in roll``, whose length then follows from what is printed.
    feed : str
        Feed path of the printer by name.
    width_mm, height_mm : float or None
        A custom sheet's edges. A length of roll is as wide as its roll and as high
        as it is long; cut sheets are turned, see `sheet_in_feed_mm`.
    orientation : Orientation
        `BY_PICTURE` turns the sheet as the picture lies.
    offset_right_mm, offset_down_mm : float
        With `OFFSET`, how far the picture's centre is from the sheet's centre.
    border_mm : float
        White paper kept round the picture on all four sides.
    roll_way : RollWay
        How the picture lies on such a roll: the way that takes less of it, or its
        width across or along the roll.
    deckle_mm : float
        Clearance kept from the sheet's edges, where a deckled edge is uneven.
    bleed_mm : float
        How far a borderless file reaches beyond each edge of the sheet, 0 for a print
        with margins. What lies there is lost.
    """

    media_size: str
    feed: str
    width_mm: float | None = None
    height_mm: float | None = None
    orientation: Orientation = Orientation.BY_PICTURE
    placement: Placement = Placement.CENTRED
    offset_right_mm: float = 0.0
    offset_down_mm: float = 0.0
    border_mm: float = 0.0
    roll_way: RollWay = field(default=RollWay.LEAST_LENGTH, metadata={UNSAID: True})
    deckle_mm: float = field(default=0.0, metadata={UNSAID: True})
    bleed_mm: float = field(default=0.0, metadata={UNSAID: True})

    def __post_init__(self) -> None:
        _take_words(
            self, orientation=Orientation, placement=Placement, roll_way=RollWay
        )
        custom = self.media_size == "custom"
        for name in ("width_mm", "height_mm"):
            value, what = getattr(self, name), _EDGE_WORDS[name]
            if custom and value is None:
                raise SpecError(
                    f"A custom sheet needs a {what}.",
                    remedy="Give its width and height, or name a sheet's size.",
                )
            if not custom and value is not None:
                raise SpecError(
                    f"The sheet {self.media_size!r} has its own size; "
                    f"a {what} of {value:g} mm is given.",
                    remedy=f"Remove the {what}, or call the sheet's size custom.",
                )
            if value is not None:
                _in_range(f"Sheet {what}", value, SHORTEST_MM, LONGEST_MM, "mm")
        offset = (self.offset_right_mm, self.offset_down_mm)
        if self.placement is not Placement.OFFSET and offset != (0.0, 0.0):
            raise SpecError(
                f"The placement is {self.placement}, and an offset of "
                f"{offset[0]:g} right, {offset[1]:g} down mm is given.",
                remedy='Choose the placement "offset", or set both offsets to 0.',
            )
        for name, value in zip(("right", "down"), offset, strict=True):
            _in_range(f"Offset {name}", value, -LONGEST_MM, LONGEST_MM, "mm")
        _in_range("White border", self.border_mm, 0, 1000, "mm")
        _in_range("Clearance of a deckled edge", self.deckle_mm, 0, 100, "mm")
        _in_range("Bleed", self.bleed_mm, 0, 20, "mm")
        if self.bleed_mm > 0 and (self.border_mm > 0 or self.deckle_mm > 0):
            raise SpecError(
                f"A bleed of {self.bleed_mm:g} mm prints beyond the sheet's edges, and "
                "white is kept along them.",
                remedy="Choose a bleed, or a border and a clearance.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliverySpec:
    """
    The finished file.

    Attributes
    ----------
    colour : Delivery
        Printer colour is converted to the paper's profile. Working colour is sized
        and sharpened but not converted, for a print dialogue that converts. A named
        space is for an outside print service.
    named_space : NamedSpace or None
        Which space, with `NAMED_SPACE` only.
    extent : Extent
        The whole sheet, or the picture with its white border alone.
    dither_seed : int
        Seed of the noise that hides 8-bit steps; the same seed gives the same file.
    copies : int
        Prints to be made of the file, 1 to 9999. It changes no pixel.
    jpeg_quality : int or None
        Of a JPEG, 1 to 100 on libjpeg's scale; None for this program's own.
    exact_width_px, exact_height_px : int or None
        Pixels that the file has to have; a plan that gives others is refused. None
        where size and resolution decide.
    bleed_mm : float
        Picture beyond the print's size on each side, which is trimmed off.
    """

    colour: Delivery = Delivery.PRINTER_COLOUR
    named_space: NamedSpace | None = None
    file_format: FileFormat = FileFormat.TIFF_16
    extent: Extent = Extent.SHEET
    dither_seed: int = 0
    copies: int = 1
    jpeg_quality: int | None = field(default=None, metadata={UNSAID: True})
    exact_width_px: int | None = field(default=None, metadata={UNSAID: True})
    exact_height_px: int | None = field(default=None, metadata={UNSAID: True})
    bleed_mm: float = field(default=0.0, metadata={UNSAID: True})

    def __post_init__(self) -> None:
        _take_words(
            self,
            colour=Delivery,
            named_space=NamedSpace,
            file_format=FileFormat,
            extent=Extent,
        )
        named = self.colour is Delivery.NAMED_SPACE
        if named and self.named_space is None:
            raise SpecError(
                "The delivery is a named space, and none is named.",
                remedy="Choose the space, for example sRGB.",
            )
        if not named and self.named_space is not None:
            raise SpecError(
                f"The delivery is {self.colour}, and the space {self.named_space} is "
                "named.",
                remedy='Name no space, or choose the colour "a named space".',
            )
        if self.file_format is FileFormat.JPEG and not named:
            raise SpecError(
                f"A JPEG file cannot hold {self.colour} without loss.",
                remedy='Choose the format "TIFF, 16 bits" or "TIFF, 8 bits"; JPEG is '
                "for a named space.",
            )
        _in_range("Dither seed", self.dither_seed, 0, 2**32 - 1, "(whole number)")
        _in_range("Copies", self.copies, 1, 9999, "(whole number)")
        self._require_file()

    def _require_file(self) -> None:
        """Refuse what contradicts itself about the file's pixels and length."""
        if self.jpeg_quality is not None:
            _in_range("JPEG quality", self.jpeg_quality, 1, 100, "(whole number)")
            if self.file_format is not FileFormat.JPEG:
                raise SpecError(
                    f"A JPEG quality of {self.jpeg_quality} is given; the file is "
                    f"{self.file_format}.",
                    remedy='Leave the quality out, or choose the format "JPEG".',
                )
        exact = (self.exact_width_px, self.exact_height_px)
        if (exact[0] is None) != (exact[1] is None):
            raise SpecError(
                "One edge of the file is given in pixels, and the other is not.",
                remedy="Give its width and its height in pixels, or neither.",
            )
        for edge in exact:
            if edge is not None:
                _in_range("Edge of the file", edge, 1, 500_000, "px")
        if exact[0] is not None and self.extent is Extent.SHEET:
            raise SpecError(
                f"A file of {exact[0]} × {exact[1]} px is asked for, and it covers the "
                "whole sheet.",
                remedy='Choose "the picture and its border": pixels are asked of it '
                "alone.",
            )
        _in_range("Bleed", self.bleed_mm, 0, MOST_BLEED_MM, "mm")
        if self.bleed_mm > 0 and self.extent is Extent.SHEET:
            raise SpecError(
                f"A bleed of {self.bleed_mm:g} mm is given, and the file covers the "
                "whole sheet.",
                remedy='Choose "the picture and its border", or a bleed of 0.',
            )


NARROWEST_BOARD_MM = 10.0
"""Narrowest strip of mat board that is planned: a guide has to lie on it, and it has to
stay flat. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MountSpec:
    """
    What the print is mounted in; it is checked and drawn, and changes no pixel.

    Attributes
    ----------
    mat_opening_width_mm, mat_opening_height_mm : float or None
        Opening of a mat as the picture stands, centred on the picture; None without a
        mat, or where the opening follows from the picture.
    wrap_mm : float
        Part of the picture along each edge that goes round a stretcher bar; 0 without
        one.
    stretcher_depth_mm : float
        Depth of the bar that the wrap goes round; 0 without one.
    mat_overlap_mm : float or None
        The opening follows from the picture, and covers so much of each edge.
    reveal_mm, reveal_below_mm : float or None
        The opening follows from the picture, and shows so much white round it, and so
        much below it; below as on the other sides if not given.
    mat_outer_width_mm, mat_outer_height_mm : float or None
        The mat itself. Without them it is as large as the frame's glass, or follows
        from its margin.
    mat_margin_mm : float or None
        Board to the left, to the right and above the opening.
    mat_margins : MatMargins
        How the board above and below the opening is shared out.
    mat_foot_mm : float
        With `BOTTOM_WEIGHTED`, by how much the foot is wider than the top.
    frame_width_mm, frame_height_mm : float or None
        Glass of the frame as it hangs: the size that frames are sold by.
    frame_rebate_mm : float
        By how much the frame lies over the glass on each side; 6 mm are common
        practice, no source.
    """

    mat_opening_width_mm: float | None = None
    mat_opening_height_mm: float | None = None
    wrap_mm: float = 0.0
    stretcher_depth_mm: float = 0.0
    mat_overlap_mm: float | None = field(default=None, metadata={UNSAID: True})
    reveal_mm: float | None = field(default=None, metadata={UNSAID: True})
    reveal_below_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_outer_width_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_outer_height_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_margin_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_margins: MatMargins = field(default=MatMargins.EQUAL, metadata={UNSAID: True})
    mat_foot_mm: float = field(default=0.0, metadata={UNSAID: True})
    frame_width_mm: float | None = field(default=None, metadata={UNSAID: True})
    frame_height_mm: float | None = field(default=None, metadata={UNSAID: True})
    frame_rebate_mm: float = field(default=6.0, metadata={UNSAID: True})

    @property
    def has_mat(self) -> bool:
        """Whether it says how a mat is opened."""
        asked = (self.mat_opening_width_mm, self.mat_overlap_mm, self.reveal_mm)
        return any(it is not None for it in asked)

    def __post_init__(self) -> None:
        _take_words(self, mat_margins=MatMargins)
        for what, kind in (
            ("mat opening", "mat_opening"),
            ("mat", "mat_outer"),
            ("frame", "frame"),
        ):
            edges = (
                getattr(self, f"{kind}_width_mm"),
                getattr(self, f"{kind}_height_mm"),
            )
            if (edges[0] is None) != (edges[1] is None):
                raise SpecError(
                    f"One edge of the {what} is given, and the other is not.",
                    remedy=f"Give the {what.split()[-1]}'s width and its height, or "
                    "neither.",
                )
            for edge in edges:
                if edge is not None:
                    told = what[0].upper() + what[1:]
                    _in_range(told, edge, SHORTEST_MM, LONGEST_MM, "mm")
        _in_range("Wrap", self.wrap_mm, 0, 500, "mm")
        _in_range("Stretcher depth", self.stretcher_depth_mm, 0, 500, "mm")
        for what, value, low, high in (
            ("Overlap of the mat", self.mat_overlap_mm, 0, 500),
            ("White in the mat's opening", self.reveal_mm, 0, 1000),
            ("White below the picture", self.reveal_below_mm, 0, 1000),
            ("Margin of the mat", self.mat_margin_mm, NARROWEST_BOARD_MM, 2000),
            ("Wider foot of the mat", self.mat_foot_mm, 0, 500),
            ("Rebate of the frame", self.frame_rebate_mm, 0, 500),
        ):
            if value is not None:
                _in_range(what, value, low, high, "mm")
        self._require_one_mat()

    def _require_one_mat(self) -> None:
        """Refuse wishes for a mat that contradict each other, or lack one."""
        ways = (self.mat_opening_width_mm, self.mat_overlap_mm, self.reveal_mm)
        given = [it for it in ways if it is not None]
        if given[1:]:
            raise SpecError(
                "The mat's opening is given in more than one way.",
                remedy="Keep one: its size, its overlap, or the white that it shows.",
            )
        if self.mat_outer_width_mm is not None and self.mat_margin_mm is not None:
            raise SpecError(
                "The mat's own size and its margin are both given.",
                remedy="Keep one of the two; the other follows.",
            )
        if self.reveal_below_mm is not None and self.reveal_mm is None:
            raise SpecError(
                "White below the picture is asked for, and none round it.",
                remedy="Give the white round the picture as well; 0 is allowed.",
            )
        if self.mat_foot_mm > 0 and self.mat_margins is not MatMargins.BOTTOM_WEIGHTED:
            raise SpecError(
                f"A wider foot is asked for, and the mat's margins are "
                f"{self.mat_margins}.",
                remedy='Choose the margins "wider at the foot", or a foot of 0.',
            )
        sizes = (self.mat_outer_width_mm, self.mat_margin_mm, self.frame_width_mm)
        if not given and any(it is not None for it in sizes):
            raise SpecError(
                "A mat or a frame is given, and no opening of the mat.",
                remedy="Give the opening's size, its overlap (3 mm are usual), or the "
                "white that it shows.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrapSpec:
    """
    A canvas that is printed to go round a bar.

    The size asked is that of the front; the sides are added to it.

    Attributes
    ----------
    bar_depth_mm : float
        Depth of the bar, which the visible side covers; 0 without a wrap.
    turn_over_mm : float
        Printed further, to be fixed at the back.
    left, top, right, bottom : WrapSide
        What each side shows: the front mirrored at the fold, its edge mirrored and
        stretched, the master continued, one colour, or the mean of the front's edge.
    colour : str
        Of `COLOUR`: sRGB (IEC 61966-2-1) as ``#rrggbb``.
    edge_mm : float
        How much of the front's edge is stretched, or gives the mean.
    shrinks_across_percent, shrinks_along_percent : float
        How much shorter the canvas is when stretched and dry than as printed, across
        and along the feed; below 0 if it gets longer. What is printed is longer by as
        much, so that the front has the size asked when it hangs.
    """

    bar_depth_mm: float = 0.0
    turn_over_mm: float = 0.0
    left: WrapSide = WrapSide.MIRRORED
    top: WrapSide = WrapSide.MIRRORED
    right: WrapSide = WrapSide.MIRRORED
    bottom: WrapSide = WrapSide.MIRRORED
    colour: str = "#ffffff"
    edge_mm: float = 10.0
    shrinks_across_percent: float = 0.0
    shrinks_along_percent: float = 0.0

    def __post_init__(self) -> None:
        sides = dict.fromkeys(("left", "top", "right", "bottom"), WrapSide)
        _take_words(self, **sides)
        _in_range("Bar depth", self.bar_depth_mm, 0, 500, "mm")
        _in_range("Turn-over", self.turn_over_mm, 0, 500, "mm")
        _in_range("Edge of the front", self.edge_mm, 0.5, 500, "mm")
        for way in ("across", "along"):
            share = getattr(self, f"shrinks_{way}_percent")
            _in_range(f"Shrinking {way} the feed", share, -5, 5, "%")
        if _COLOUR.fullmatch(self.colour) is None:
            raise SpecError(
                f"The colour of a side is {self.colour!r}.",
                remedy="Give red, green and blue of sRGB in two hexadecimal digits "
                'each, such as "#f4efe6".',
            )
        if self.turn_over_mm > 0 and not self.is_wrapped:
            raise SpecError(
                f"The turn-over is {self.turn_over_mm:g} mm, and there is no bar.",
                remedy="Give the bar's depth, or set the turn-over to 0.",
            )

    @property
    def is_wrapped(self) -> bool:
        """Whether there is a bar to go round."""
        return self.bar_depth_mm > 0

    @property
    def side_mm(self) -> float:
        """Printed round each edge of the front: bar and turn-over."""
        return self.bar_depth_mm + self.turn_over_mm

    def is_continued(self, side: str) -> bool:
        """Whether a side, by its name, shows more of the master."""
        return self.is_wrapped and getattr(self, side) is WrapSide.CONTINUED


_COLOUR = re.compile("#[0-9a-fA-F]{6}")


@dataclass(frozen=True, slots=True, kw_only=True)
class WhiteSpec:
    """
    What is printed on the white outside the picture.

    Attributes
    ----------
    key_line_mm : float
        Thickness of a line round the picture; 0 for none.
    key_line_gap_mm : float
        White between picture and line.
    key_line_l : float
        Its lightness on the master's scale, 0 to 100 L*.
    marks : Marks
        Marks at the corners to cut by, or a line to cut along, outside picture and
        border; either with marks where a canvas folds.
    caption : tuple of CaptionPart
        What a line below the picture tells, in this order; empty for no caption.
    caption_title, caption_edition, caption_date : str
        What those parts say.
    caption_mm : float
        Height of the caption's capitals.
    caption_gap_mm : float
        White above the caption: below the picture, or below the cut if there are
        marks.
    """

    key_line_mm: float = 0.0
    key_line_gap_mm: float = 2.0
    key_line_l: float = 0.0
    marks: Marks = Marks.NONE
    caption: tuple[CaptionPart, ...] = ()
    caption_title: str = ""
    caption_edition: str = ""
    caption_date: str = ""
    caption_mm: float = 3.0
    caption_gap_mm: float = 5.0

    def __post_init__(self) -> None:
        _take_words(self, marks=Marks)
        parts = tuple(member(CaptionPart, it, "Caption") for it in self.caption)
        object.__setattr__(self, "caption", parts)
        _in_range("Key line", self.key_line_mm, 0, 20, "mm")
        _in_range("White inside the key line", self.key_line_gap_mm, 0, 200, "mm")
        _in_range("Lightness of the key line", self.key_line_l, 0, 100, "L*")
        _in_range("Height of the caption's letters", self.caption_mm, 1, 50, "mm")
        _in_range("White above the caption", self.caption_gap_mm, 0.5, 500, "mm")
        for part in self.caption:
            text = getattr(self, f"caption_{part}", None)
            if text is not None and not text.strip():
                raise SpecError(
                    f"The caption is to tell the {part}, and none is given.",
                    remedy=f"Write the {part}, or leave it out of the caption.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSpec:
    """
    The light that the print and the display are looked at in.

    Attributes
    ----------
    illuminance_lx : float or None
        Light on the print where it will hang; None if not known.
    display_cd_m2 : float or None
        Luminance of the display's white, as measured; None if not known.
    """

    illuminance_lx: float | None = None
    display_cd_m2: float | None = None

    def __post_init__(self) -> None:
        if self.illuminance_lx is not None:
            _in_range("Light on the print", self.illuminance_lx, 1, 20_000, "lx")
        if self.display_cd_m2 is not None:
            _in_range("Display white", self.display_cd_m2, 10, 5_000, "cd/m²")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintSpec:
    """
    All that the photographer asked of one print.

    Attributes
    ----------
    lengths_in : LengthUnit
        Unit that the lengths were asked in, and are answered in. It changes no pixel.
    setup : str
        Which of the paper's setups on this printer; empty for the first in use.
    """

    size: SizeSpec
    sheet: SheetSpec
    sharpen: SharpenSpec = field(default_factory=SharpenSpec)
    colour: ColourSpec = field(default_factory=ColourSpec)
    mount: MountSpec = field(default_factory=MountSpec)
    wrap: WrapSpec = field(default_factory=WrapSpec, metadata={UNSAID: True})
    white: WhiteSpec = field(default_factory=WhiteSpec, metadata={UNSAID: True})
    room: RoomSpec = field(default_factory=RoomSpec)
    delivery: DeliverySpec = field(default_factory=DeliverySpec)
    lengths_in: LengthUnit = LengthUnit.MM
    setup: str = field(default="", metadata={UNSAID: True})

    def __post_init__(self) -> None:
        if self.wrap.is_wrapped and self.mount.wrap_mm > 0:
            raise SpecError(
                f"The picture's own edges go {self.mount.wrap_mm:g} mm round a bar, "
                f"and sides are added for a bar {self.wrap.bar_depth_mm:g} mm deep.",
                remedy="Choose one of the two: sides within the picture, or added.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterSpec:
    """
    Which master, and what the photographer allows about it.

    Attributes
    ----------
    file : str
        Path of the master.
    assume_profile : str
        A named space, or the path of a profile, for a master that carries none;
        empty refuses such a master.
    alpha : AlphaRule
        Whether transparency may be flattened on white.
    """

    file: str
    assume_profile: str = ""
    alpha: AlphaRule = AlphaRule.REFUSE


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterFacts:
    """
    What the master is.

    Attributes
    ----------
    path : str
        Where it was read.
    sha256 : str
        Hash of the whole file, hexadecimal.
    file_format : str
        ``TIFF``, ``PNG`` or ``JPEG``.
    width_px, height_px : int
        As the picture is looked at, after the orientation flag.
    channels : int
        1 for grey, 3 for RGB.
    bits : int
        8, 16 or 32 per channel as stored.
    is_float : bool
        Whether the stored numbers are floating point.
    orientation_flag : int
        TIFF/EXIF Orientation found, 1 to 8; 1 if none.
    profile_name : str
        Description of the profile that the pixels are read with.
    profile_is_assumed : bool
        The file carried no profile and the user named one.
    profile_is_table : bool
        The profile holds tables, so the pixels were converted once to linear
        ROMM RGB.
    clipped_share : float
        Share of stored float values outside 0 to 1, which were clipped.
    page_count : int
        Pages in the file; the first is used.
    creator, copyright_notice : str
        Carried over to the finished file; empty if none.
    has_location : bool
        Whether the file says where it was taken; never carried over.
    """

    path: str
    sha256: str
    file_format: str
    width_px: int
    height_px: int
    channels: int
    bits: int
    is_float: bool
    orientation_flag: int
    profile_name: str
    profile_sha256: str
    profile_is_assumed: bool
    profile_is_table: bool
    alpha_was_flattened: bool
    clipped_share: float
    page_count: int
    creator: str
    copyright_notice: str
    has_location: bool
