"""Whose picture is it, and does the file tell where it was taken?"""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree as ET

from PIL import Image

# Exif 3.0 (CIPA DC-008), tables of tag numbers; 315 and 33432 are TIFF 6.0 too.
ORIENTATION, ARTIST, COPYRIGHT = 274, 315, 33432
EXIF_IFD, GPS_IFD, COLOUR_SPACE = 34665, 34853, 40961
_GPS_LATITUDE = 2

# ISO 16684-1 (XMP), clauses 8 and 9; the exif namespace is ISO 16684-2's.
_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
_DC = "{http://purl.org/dc/elements/1.1/}"
_EXIF = "{http://ns.adobe.com/exif/1.0/}"


@dataclass(frozen=True, slots=True)
class Provenance:
    """
    What a file says of its maker and place.

    Attributes
    ----------
    creator, copyright_notice : str
        Empty if none.
    has_location : bool
    """

    creator: str = ""
    copyright_notice: str = ""
    has_location: bool = False

    def completed_by(self, other: Provenance) -> Provenance:
        """
        The same, with what it lacks taken from others.

        Parameters
        ----------
        other : Provenance

        Returns
        -------
        Provenance
        """
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

    Returns
    -------
    str
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


def parse_exif(data: bytes) -> Image.Exif:
    """
    The tags of an Exif block; none if it is empty or damaged.

    A damaged block is not a reason to refuse the picture.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    Image.Exif
    """
    exif = Image.Exif()
    try:
        exif.load(data)
        _ = dict(exif), exif.get_ifd(EXIF_IFD), exif.get_ifd(GPS_IFD)
    except (SyntaxError, ValueError, TypeError, KeyError, OSError, OverflowError):
        return Image.Exif()
    return exif


def provenance_from_exif(exif: Image.Exif) -> Provenance:
    """
    Provenance in Exif tags.

    Parameters
    ----------
    exif : Image.Exif

    Returns
    -------
    Provenance
    """
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
        Empty for a packet that is damaged, or that declares entities: XMP has none,
        and they can be made to fill memory.
    """
    packet = packet.strip(b"\0 \r\n\t")
    if not packet or b"<!DOCTYPE" in packet or b"\0" in packet:
        return Provenance()
    try:
        root = ET.fromstring(packet)  # noqa: S314 - packets with entities end above
    except ET.ParseError:
        return Provenance()
    names = {element.tag for element in root.iter()}
    names.update(name for element in root.iter() for name in element.attrib)
    return Provenance(
        _items(root, "creator"),
        _items(root, "rights"),
        f"{_EXIF}GPSLatitude" in names,
    )


def _items(root: ET.Element, field: str) -> str:
    """Join the list items of a Dublin Core field."""
    path = f".//{_DC}{field}//{_RDF}li"
    texts = [(item.text or "").strip() for item in root.iterfind(path)]
    return "; ".join(dict.fromkeys(text for text in texts if text))
