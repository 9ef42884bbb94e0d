"""What does a master's file say: format, profile, maker, place?"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NoReturn
from xml.etree import ElementTree as ET

from PIL import Image

from printplan.colour.profile_gate import require_source_profile
from printplan.colour.profiles import open_profile, profile_from_bytes
from printplan.colour.spaces import grey_profile, named_profile
from printplan.errors import MasterError, ProfileError, Setting
from printplan.foreign_file import faults_named
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    import numpy as np

    from printplan.colour.profiles import Profile


MOST_PIXELS = 2_000_000_000
"""Largest picture taken from a TIFF. Chosen: twice the largest print planned for; a
larger number in a header is likelier damage than a photograph."""

MOST_PIXELS_AT_ONCE = 500_000_000
"""The same for PNG and JPEG, which are decoded whole: 3 GB of 16-bit RGB."""

BAND_PIXELS = 1_000_000
"""Pixels decoded or converted at a time. Chosen: a few MB for each worker."""

EXPORT_AGAIN = (
    "Export it again as RGB or grey with 8 or 16 bits per channel and its profile "
    "embedded."
)


_GPS_LATITUDE = 2

# ISO 16684-1 (XMP), clauses 8 and 9; the exif namespace is ISO 16684-2's.
_DUBLIN_CORE = "{http://purl.org/dc/elements/1.1/}"
_ITEM = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}li"
_CREATOR, _RIGHTS = f"{_DUBLIN_CORE}creator", f"{_DUBLIN_CORE}rights"
_LATITUDE = "{http://ns.adobe.com/exif/1.0/}GPSLatitude"

# Our choice: packets with a long history of edits reach a few MB, and nest to 12.
_MOST_XMP_BYTES, _DEEPEST_XMP, _LONGEST_ITEM = 16_000_000, 64, 10_000


@dataclass(frozen=True, slots=True)
class Provenance:
    """
    What a file says of its maker and place.

    Attributes
    ----------
    creator, copyright_notice : str
        Empty if none.
    """

    creator: str = ""
    copyright_notice: str = ""
    has_location: bool = False

    def completed_by(self, other: Provenance) -> Provenance:
        """The same, with what it lacks taken from others."""
        return Provenance(
            self.creator or other.creator,
            self.copyright_notice or other.copyright_notice,
            self.has_location or other.has_location,
        )


def clean_text(value: object) -> str:
    """
    One line of text from a metadata field.

    Exif lets a copyright field hold two notices parted by a zero byte, and writers
    put UTF-8 where the standard has ASCII.

    Parameters
    ----------
    value : object
        Bytes, or text that a reader decoded as Latin-1; anything else gives "".
    """
    if isinstance(value, str):
        try:
            value = value.encode("latin-1")
        except UnicodeEncodeError:
            return _one_line(str(value))
    if not isinstance(value, bytes):
        return ""
    try:
        return _one_line(value.decode("utf-8"))
    except UnicodeDecodeError:
        return _one_line(value.decode("latin-1"))


def _one_line(text: str) -> str:
    return "; ".join(part.strip() for part in text.split("\0") if part.strip())


_DAMAGED_EXIF = (
    ArithmeticError,
    AttributeError,
    LookupError,
    OSError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
)
"""What Pillow was seen to raise on damaged blocks."""


def parse_exif(data: bytes) -> Image.Exif:
    """
    The tags of an Exif block; none if it is empty or damaged.

    A damaged block is not a reason to refuse the picture.
    """
    exif = Image.Exif()
    try:
        exif.load(data)
        _ = dict(exif), exif.get_ifd(EXIF_IFD), exif.get_ifd(GPS_IFD)
    except _DAMAGED_EXIF:
        return Image.Exif()
    return exif


def provenance_from_exif(exif: Image.Exif) -> Provenance:
    """Provenance in Exif tags."""
    return Provenance(
        clean_text(exif.get(ARTIST)),
        clean_text(exif.get(COPYRIGHT)),
        _GPS_LATITUDE in exif.get_ifd(GPS_IFD),
    )


def provenance_from_xmp(packet: bytes) -> Provenance:
    """
    Provenance in an XMP packet.

    Parameters
    ----------
    packet : bytes
        UTF-8, as the standard asks of TIFF, PNG and JPEG files.

    Returns
    -------
    Provenance
        Empty for a packet that is damaged, nested deeper or longer than any that
        describes a photograph, or that declares entities: XMP has none, and they can
        be made to fill memory.
    """
    packet = packet.strip(b"\0 \r\n\t")
    is_ours = 0 < len(packet) <= _MOST_XMP_BYTES
    if not is_ours or b"<!DOCTYPE" in packet or b"\0" in packet:
        return Provenance()
    found = _XmpReader()
    parser = ET.XMLParser(target=found)  # noqa: S314 - packets with entities end above
    try:
        parser.feed(packet)
        parser.close()
    except ET.ParseError:
        return Provenance()
    return Provenance(
        "; ".join(found.items[_CREATOR]),
        "; ".join(found.items[_RIGHTS]),
        found.has_location,
    )


class _XmpReader:
    """Takes what it looks for as it comes, and keeps no tree."""

    def __init__(self) -> None:
        self.items: dict[str, dict[str, None]] = {_CREATOR: {}, _RIGHTS: {}}
        self.has_location = False
        self._open: list[str] = []
        self._text: list[str] | None = None

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self._open.append(tag)
        if len(self._open) > _DEEPEST_XMP:
            raise ET.ParseError("nested too deeply")
        self.has_location |= tag == _LATITUDE or _LATITUDE in attributes
        if tag == _ITEM:
            self._text = []

    def data(self, text: str) -> None:
        if self._text is not None and sum(map(len, self._text)) < _LONGEST_ITEM:
            self._text.append(text[:_LONGEST_ITEM])

    def end(self, tag: str) -> None:
        self._open.pop()
        if tag != _ITEM:
            return
        text, self._text = "".join(self._text or ()).strip(), None
        for field_name, items in self.items.items():
            if text and field_name in self._open:
                items[text] = None


class Transparency(StrEnum):
    """How the colours of a file relate to its alpha channel."""

    NONE = "none"
    STRAIGHT = "straight"
    PREMULTIPLIED = "premultiplied"


@dataclass(frozen=True, slots=True, kw_only=True)
class InPlace:
    """
    Where the pixels of a file lie plainly, one row after the other.

    Attributes
    ----------
    offset : int
        First byte of the first row.
    byte_order : str
        ``<`` or ``>``.
    is_planar : bool
        Whether each channel lies by itself, and not each pixel.
    """

    offset: int
    byte_order: Literal["<", ">"]
    is_planar: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """
    What a master file says, before anything is decided about it.

    Attributes
    ----------
    file_format : str
        ``TIFF``, ``PNG`` or ``JPEG``.
    width_px, height_px : int
        As stored, before the orientation flag.
    channels : int
        Colour channels: 1 or 3.
    dtype : dtype
        Type of a decoded number, in this machine's byte order.
    transparency : Transparency
        Whether an alpha channel follows the colour channels.
    white_is_zero : bool
        Whether 0 is white (TIFF PhotometricInterpretation 0).
    orientation_flag : int
        1 to 8.
    profile_data : bytes
        The embedded profile; empty if none.
    says_srgb : bool
        Whether the file names sRGB without carrying its profile.
    in_place : InPlace or None
        None if the pixels are packed, in tiles, or out of order.
    """

    file_format: str
    width_px: int
    height_px: int
    channels: int
    dtype: np.dtype[np.generic]
    transparency: Transparency = Transparency.NONE
    white_is_zero: bool = False
    orientation_flag: int = 1
    profile_data: bytes = b""
    says_srgb: bool = False
    page_count: int = 1
    in_place: InPlace | None = None
    provenance: Provenance = field(default_factory=Provenance)

    @property
    def samples(self) -> int:
        """Stored numbers of one pixel, alpha included."""
        return self.channels + (self.transparency is not Transparency.NONE)


def refuse(
    problem: str, remedy: str = EXPORT_AGAIN, setting: Setting | None = None
) -> NoReturn:
    """
    Say why a file cannot be a master.

    Raises
    ------
    MasterError
        Always.
    """
    raise MasterError(problem, remedy=remedy, setting=setting)


def check_area(width_px: int, height_px: int, most_pixels: int) -> None:
    """
    Refuse a picture without pixels, or with more than can be a photograph.

    Raises
    ------
    MasterError
    """
    if width_px < 1 or height_px < 1:
        refuse(f"The file declares {width_px} × {height_px} pixels; it holds none.")
    if width_px * height_px > most_pixels:
        refuse(
            f"The file declares {width_px} × {height_px} pixels, "
            f"{width_px * height_px / 1e6:.0f} million; the limit for this format is "
            f"{most_pixels / 1e6:.0f} million.",
            remedy="The header may be damaged: export it again. For a picture this "
            "large use an uncompressed TIFF of at most "
            f"{MOST_PIXELS / 1e6:.0f} million pixels.",
        )


def orientation_or_none(value: object) -> int:
    """
    An orientation flag, or 1 where the file holds none that the standard knows.

    Parameters
    ----------
    value : object
        Content of the Orientation tag (TIFF 6.0, tag 274), whatever it is.

    Returns
    -------
    int
        1 to 8.
    """
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


# Exif 3.0 (CIPA DC-008), tables of tag numbers; 315 and 33432 are TIFF 6.0 too.
ORIENTATION, ARTIST, COPYRIGHT = 274, 315, 33432
EXIF_IFD, GPS_IFD, COLOUR_SPACE = 34665, 34853, 40961
_SOURCE_CLASSES = {"mntr", "scnr", "spac", "prtr"}
"""ICC.1:2022, 7.2.5: classes that say what device values look like."""

_CHANNELS = {"GRAY": 1, "RGB": 3}
_SPACES = ", ".join(NamedSpace)


def own_profile(path: Path, stored: Stored, assume_profile: str) -> Profile:
    """
    The embedded profile, or the one named if there is none: never a guess.

    Parameters
    ----------
    path : Path
        For errors.
    assume_profile : str
        A `NamedSpace` value, the path of a profile, or empty. A grey file is read
        with the tone curve of the space.

    Raises
    ------
    ProfileError
        If there is none, or two, or it cannot say what the file's colours are.
    """
    if stored.profile_data:
        if assume_profile:
            raise ProfileError(
                f"{path} carries its own profile, and {assume_profile!r} is named "
                "for it.",
                remedy="Assume none; the embedded profile is used. If it is the wrong "
                "one, export the master again with the right one.",
                setting=Setting.ASSUME_PROFILE,
            )
        profile = profile_from_bytes(stored.profile_data, where=str(path))
    elif assume_profile:
        profile = _named(assume_profile, stored.channels)
    else:
        hint = (
            "It says that it is sRGB: if so, let that be assumed. "
            if stored.says_srgb
            else f"If you know its space ({_SPACES}, or that of a profile's file), "
            "let it be assumed. "
        )
        if stored.channels == 1:
            hint += "For this grey file its tone curve is used. "
        raise ProfileError(
            f"{path} carries no colour profile.",
            remedy=f"{hint}Better, export it again with its profile embedded.",
            setting=Setting.ASSUME_PROFILE,
        )
    if profile.device_class not in _SOURCE_CLASSES:
        raise ProfileError(
            f"The profile {profile.name!r} of {path} is of class "
            f"{profile.device_class!r}; it does not say what colours are.",
            remedy="Export the master again with the profile of its working space.",
        )
    if _CHANNELS.get(profile.space) != stored.channels:
        what = "grey" if stored.channels == 1 else "RGB"
        raise ProfileError(
            f"{path} is {what}, and its profile {profile.name!r} is for "
            f"{profile.space}.",
            remedy=f"Let one of {_SPACES} be assumed, or the file of a profile for "
            f"{what}."
            if assume_profile
            else f"Export the master again with a profile for {what}, or convert "
            "it to the space of that profile first.",
            setting=Setting.ASSUME_PROFILE if assume_profile else None,
        )
    return require_source_profile(profile)


def _named(assume_profile: str, channels: int) -> Profile:
    if assume_profile in set(NamedSpace):
        space = NamedSpace(assume_profile)
        return grey_profile(space) if channels == 1 else named_profile(space)
    with faults_named(assume_profile, raises=ProfileError, what="The profile"):
        is_there = Path(assume_profile).is_file()
    if not is_there:
        raise ProfileError(
            f"The profile to be assumed is {assume_profile!r}, and there is no such "
            "file.",
            remedy=f"Let one of {_SPACES} be assumed, or a profile's file.",
            setting=Setting.ASSUME_PROFILE,
        )
    return open_profile(assume_profile)
