"""Which kinds of file can be chosen, and how do their names end?"""

from __future__ import annotations

from printplan.spec import Delivery, Extent, FileFormat

DELIVERIES = [
    ("printer colour, converted", Delivery.PRINTER_COLOUR),
    ("working colour, not converted", Delivery.WORKING_COLOUR),
    ("a named space", Delivery.NAMED_SPACE),
]
FORMATS = [
    ("TIFF, 16 bits", FileFormat.TIFF_16),
    ("TIFF, 8 bits", FileFormat.TIFF_8),
    ("PDF page, exact size", FileFormat.PDF),
    ("JPEG", FileFormat.JPEG),
]
ENDINGS = {
    FileFormat.TIFF_16: ".tif",
    FileFormat.TIFF_8: ".tif",
    FileFormat.PDF: ".pdf",
    FileFormat.JPEG: ".jpg",
}
EXTENTS = [
    ("the whole sheet", Extent.SHEET),
    ("the picture and its border", Extent.PICTURE),
]
