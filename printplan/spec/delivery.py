"""Which file is asked for?"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from printplan.errors import SpecError
from printplan.spec.ranges import MOST_BLEED_MM, UNSAID, in_range, take_words


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
        take_words(
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
        in_range("Dither seed", self.dither_seed, 0, 2**32 - 1, "(whole number)")
        in_range("Copies", self.copies, 1, 9999, "(whole number)")
        self._require_file()

    def _require_file(self) -> None:
        """Refuse what contradicts itself about the file's pixels and length."""
        if self.jpeg_quality is not None:
            in_range("JPEG quality", self.jpeg_quality, 1, 100, "(whole number)")
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
                in_range("Edge of the file", edge, 1, 500_000, "px")
        if exact[0] is not None and self.extent is Extent.SHEET:
            raise SpecError(
                f"A file of {exact[0]} × {exact[1]} px is asked for, and it covers the "
                "whole sheet.",
                remedy='Choose "the picture and its border": pixels are asked of it '
                "alone.",
            )
        in_range("Bleed", self.bleed_mm, 0, MOST_BLEED_MM, "mm")
        if self.bleed_mm > 0 and self.extent is Extent.SHEET:
            raise SpecError(
                f"A bleed of {self.bleed_mm:g} mm is given, and the file covers the "
                "whole sheet.",
                remedy='Choose "the picture and its border", or a bleed of 0.',
            )
