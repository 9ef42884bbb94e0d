"""What does a finished file hold, whatever its format?"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Protocol, Self

import numpy as np
from blake3 import blake3

from printplan.errors import RenderError
from printplan.spec import FileFormat

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile
    from printplan.spec import DeliverySpec, MasterFacts

    Check = Callable[[Path], None]
    """Reads a finished file by its format; raises RenderError if it holds anything
    else than was to be written, or what its reader raises of it."""

MAKER = "printplan"
"""Named in each file. Without its version, which the record keeps: the same pixels
then give the same file on a later version too."""

QUALITY = 95
"""JPEG quality where the plan names none, on libjpeg's scale to 100; above it files
grow faster than they improve (Pillow's documentation). Our choice."""

_BITS = {FileFormat.TIFF_16: 16, FileFormat.TIFF_8: 8, FileFormat.JPEG: 8}

# What XML 1.0 leaves out of its characters (production 2), and line ends and tabs.
_NOT_ON_ONE_LINE = re.compile("[\x00-\x1f\x7f\ud800-\udfff\ufffe\uffff]+")


class Progress(Protocol):
    """
    Told how far the file is; it may stop the render by raising.

    Whatever it raises reaches the caller of `render` unchanged, and neither a file
    nor a part of one is left.
    """

    def __call__(self, done_rows: int, all_rows: int) -> None:
        """
        Take note.

        Parameters
        ----------
        done_rows, all_rows : int
            Rows of pixels written, and rows in the file.
        """


class PagePlan(Protocol):
    """What is decided of a page, as far as its file asks."""

    @property
    def ppi(self) -> float:
        """Picture pixels per inch of paper."""

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the paper that the file covers."""

    @property
    def delivery(self) -> DeliverySpec:
        """The finished file asked for."""

    @property
    def most_file_bytes(self) -> int | None:
        """Longest file that is taken; None without a limit."""


class Credited(Protocol):
    """A master, or what stands for several."""

    @property
    def facts(self) -> MasterFacts:
        """Maker, notice and path."""


class Page(Protocol):
    """
    Anything that can be rendered: a sheet with its picture, or a trial sheet.

    Attributes
    ----------
    profile : Profile
        What the file's numbers mean.
    size_px : tuple of int
        Width and height of the file.
    """

    profile: Profile
    size_px: tuple[int, int]

    @property
    def master(self) -> Credited:
        """Whose credits the file carries, and which it must not replace."""

    @property
    def plan(self) -> PagePlan:
        """What is decided of it."""

    @property
    def channels(self) -> int:
        """Channels of the file."""

    @property
    def dtype(self) -> np.dtype[np.uint8] | np.dtype[np.uint16]:
        """Number type of the file."""

    def bands(self) -> Iterator[tuple[int, NDArray[np.uint8] | NDArray[np.uint16]]]:
        """
        The whole file from top to bottom, in full-width bands.

        Yields
        ------
        tuple of int and ndarray
            First row, and shape (rows, width, channels) of the file's number type.
        """


@dataclass(frozen=True, slots=True, kw_only=True)
class FileForm:
    """
    All of a finished file but its pixels.

    Attributes
    ----------
    bits : int
        8 or 16 per channel.
    ppi : Fraction
        Picture pixels per inch; both numbers fit the 32 bits of a TIFF rational.
    page_mm : tuple of float
        Width and height of the paper that the file covers.
    profile : Profile
        Tagged to the pixels.
    creator, copyright_notice : str
        One line each; empty if none.
    jpeg_quality : int
        Of a JPEG, 1 to 100 on libjpeg's scale.
    most_bytes : int or None
        Longest file that is taken; None without a limit.
    """

    file_format: FileFormat
    width_px: int
    height_px: int
    channels: int
    bits: int
    ppi: Fraction
    page_mm: tuple[float, float]
    profile: Profile
    creator: str
    copyright_notice: str
    jpeg_quality: int = QUALITY
    most_bytes: int | None = None

    @property
    def row_bytes(self) -> int:
        """Bytes of one row of pixels."""
        return self.width_px * self.channels * self.bits // 8

    @property
    def all_bytes(self) -> int:
        """Bytes of all pixels, not compressed."""
        return self.height_px * self.row_bytes


def file_form(sheet: Page) -> FileForm:
    """
    Take from a sheet what its file is to hold.

    Where the master was taken stays behind; its maker and notice are carried over.

    Raises
    ------
    RenderError
        If depth, channels, profile and format do not belong together.
    """
    file_format = sheet.plan.delivery.file_format
    bits = sheet.dtype.itemsize * 8
    if bits != _BITS.get(file_format, bits):
        raise RenderError(
            f"The sheet has {bits} bits per channel; a {file_format} file holds "
            f"{_BITS[file_format]}.",
            remedy=f'Choose the format "TIFF, {bits} bits".',
        )
    if sheet.channels != sheet.profile.channels:
        raise RenderError(
            f"The sheet has {sheet.channels} channels; its profile "
            f"{sheet.profile.name!r} describes {sheet.profile.channels}.",
            remedy="Build the sheet again with the profile of its own colour space.",
        )
    width_px, height_px = sheet.size_px
    return FileForm(
        file_format=file_format,
        width_px=width_px,
        height_px=height_px,
        channels=sheet.channels,
        bits=bits,
        # At 2400 ppi a millionth leaves 2.4e9 over 1e6: two 32-bit numbers.
        ppi=Fraction(sheet.plan.ppi).limit_denominator(1_000_000),
        page_mm=sheet.plan.page_mm,
        profile=sheet.profile,
        creator=_on_one_line(sheet.master.facts.creator),
        copyright_notice=_on_one_line(sheet.master.facts.copyright_notice),
        jpeg_quality=sheet.plan.delivery.jpeg_quality or QUALITY,
        most_bytes=sheet.plan.most_file_bytes,
    )


def _on_one_line(text: str) -> str:
    return _NOT_ON_ONE_LINE.sub(" ", text).strip()


class PixelRows:
    """
    The bands of a sheet on their way into a file: checked, hashed and counted.

    Parameters
    ----------
    form : FileForm
        Of the same sheet.
    with_sha256 : bool, optional
        Hash them by SHA-256 too.

    Notes
    -----
    A context manager, so that a sheet which computes ahead stops when the file
    fails.
    """

    def __init__(
        self,
        sheet: Page,
        form: FileForm,
        progress: Progress | None,
        *,
        with_sha256: bool = False,
    ) -> None:
        self._bands = iter(sheet.bands())
        self._form = form
        self._progress = progress
        self._blake3 = blake3()
        self._sha256 = hashlib.sha256() if with_sha256 else None
        self._done_rows = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        close = getattr(self._bands, "close", None)
        if close is not None:
            close()

    @property
    def blake3(self) -> str:
        """Hash of the pixel bytes so far: row by row, low byte first."""
        return self._blake3.hexdigest()

    @property
    def sha256(self) -> str:
        """The same by SHA-256; empty where it was not asked for."""
        return "" if self._sha256 is None else self._sha256.hexdigest()

    def __iter__(self) -> Iterator[NDArray[np.uint8] | NDArray[np.uint16]]:
        """
        Go through the rows once, from the top.

        Yields
        ------
        ndarray of uint8 or uint16, shape (rows, width, channels)
            Contiguous, low byte first.

        Raises
        ------
        RenderError
            If the bands do not cover the file once, in order.
        """
        form = self._form
        self._report()
        for top, band in self._bands:
            left_rows = form.height_px - self._done_rows
            if (
                top != self._done_rows
                or not 1 <= band.shape[0] <= left_rows
                or band.shape[1:] != (form.width_px, form.channels)
                or band.dtype != np.dtype(f"u{form.bits // 8}")
            ):
                raise RenderError(
                    f"The sheet gave {band.dtype} rows {band.shape} at row {top}; row "
                    f"{self._done_rows} of a file of {form.height_px} × "
                    f"{form.width_px} px was due.",
                    remedy="Build the sheet again from its plan.",
                )
            rows = np.ascontiguousarray(band, np.dtype(f"<u{form.bits // 8}"))
            flat = rows.data.cast("B")
            self._blake3.update(flat)
            if self._sha256 is not None:
                self._sha256.update(flat)
            yield rows
            self._done_rows += len(rows)
            self._report()
        if self._done_rows != form.height_px:
            raise RenderError(
                f"The sheet ended after {self._done_rows} of {form.height_px} rows.",
                remedy="Build the sheet again from its plan.",
            )

    def _report(self) -> None:
        if self._progress is not None:
            self._progress(self._done_rows, self._form.height_px)


def credit_xmp(form: FileForm) -> bytes:
    """
    Maker and notice as a metadata packet, the one place that takes any script.

    Returns
    -------
    bytes
        Empty if neither is known.

    References
    ----------
    .. [1] ISO 16684-1:2019, XMP data model: 7 (serialization), 8.3 (Dublin Core).
    """
    from xml.sax.saxutils import escape  # noqa: PLC0415 - loads what opens addresses

    creator, notice = escape(form.creator), escape(form.copyright_notice)
    fields = ""
    if creator:
        fields += (
            f"<dc:creator><rdf:Seq><rdf:li>{creator}</rdf:li></rdf:Seq></dc:creator>"
        )
    if notice:
        fields += (
            '<dc:rights><rdf:Alt><rdf:li xml:lang="x-default">'
            f"{notice}</rdf:li></rdf:Alt></dc:rights>"
        )
    if not fields:
        return b""
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">'
        f'{fields}</rdf:Description></rdf:RDF><?xpacket end="r"?>'
    ).encode()


def require_same(what: str, found: object, written: object) -> None:
    """
    Refuse a file that does not read back as it was written.

    Parameters
    ----------
    what : str
        Named in the error.
    found, written : object
        Compared as they are.

    Raises
    ------
    RenderError
        If they differ.
    """
    if found != written:
        raise RenderError(
            f"The file does not read back as written: {what} is "
            f"{_short(found)}, and {_short(written)} was written.",
            remedy="Render it again; if that fails too, write to another disk.",
        )


def _short(value: object) -> str:
    """A value in an error: bytes by their number and hash."""
    if isinstance(value, bytes):
        return f"{len(value)} bytes ({hashlib.sha256(value).hexdigest()[:12]})"
    return str(value)
