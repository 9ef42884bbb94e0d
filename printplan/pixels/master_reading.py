"""What does a master file say of itself, whatever its format?"""

from __future__ import annotations

import struct
import zlib
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from typing import TYPE_CHECKING

import tifffile

from printplan.errors import MasterError
from printplan.foreign_file import open_foreign
from printplan.pixels.master_file import BAND_PIXELS, Stored, refuse
from printplan.pixels.master_jpeg import JPEG_SIGNATURE, describe_jpeg, jpeg_bands
from printplan.pixels.master_png import PNG_SIGNATURE, describe_png, png_bands
from printplan.pixels.master_tiff import SIGNATURES as TIFF_SIGNATURES
from printplan.pixels.master_tiff import describe_tiff, tiff_bands
from printplan.pixels.working_pixels import Working, working_pixels
from printplan.processor_share import threads_at_most

if TYPE_CHECKING:
    from collections.abc import Iterator
    from io import BufferedReader
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile


MOST_THREADS = 4
"""Threads that decode, convert and reduce; the libraries let them run side by side."""

_DAMAGED = (
    ArithmeticError,
    AttributeError,
    EOFError,
    LookupError,
    MemoryError,
    OSError,
    RuntimeError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
    tifffile.TiffFileError,
    zlib.error,
)
"""What the format libraries were seen to raise on damaged bytes."""


def open_file(path: Path) -> BufferedReader:
    """
    Open a master for reading only.

    Raises
    ------
    MasterError
        If it is missing, empty, no regular file, or may not be read.
    """
    return open_foreign(path, raises=MasterError)


@contextmanager
def damage_reported(path: Path) -> Iterator[None]:
    """
    Say in words what a format library stumbles over.

    Raises
    ------
    MasterError
    """
    try:
        yield
    except _DAMAGED as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise MasterError(
                f"{path} cannot be read ({error.strerror}).",
                remedy="Check the disk or the connection, then open it again.",
            ) from error
        raise MasterError(
            f"{path} is cut short or damaged ({error}).",
            remedy="Copy or download the file again, or export it again.",
        ) from error


def describe(stream: BufferedReader, path: Path) -> Stored:
    """
    What a master says of itself.

    Parameters
    ----------
    path : Path
        For errors.

    Raises
    ------
    MasterError
        If it is no picture, or one that cannot be a master.
    """
    with damage_reported(path):
        stream.seek(0)
        start = stream.read(8)
        if start.startswith(TIFF_SIGNATURES):
            return describe_tiff(stream)
        if start.startswith(PNG_SIGNATURE):
            return describe_png(stream)
        if start.startswith(JPEG_SIGNATURE):
            return describe_jpeg(stream)
    return refuse(
        f"{path} is not a TIFF, PNG or JPEG file.",
        remedy="Export the picture as TIFF with 16 bits and its profile embedded.",
    )


def decoded_pixels(  # noqa: PLR0913, PLR0917 - a file, what it is, and where to
    stream: BufferedReader,
    path: Path,
    stored: Stored,
    profile: Profile,
    kind: Working,
    room: NDArray[np.generic] | None = None,
) -> Iterator[tuple[NDArray[np.generic], int]]:
    """
    Working pixels of the whole file from top to bottom, computed as they are taken.

    Parameters
    ----------
    path : Path
        For errors.
    room : ndarray, shape (rows, columns, channels), optional
        C-contiguous, for all working pixels. What stays as it is decoded is put
        there.

    Yields
    ------
    tuple of ndarray and int
        Some rows of pixels, (rows, columns, channels); how many stored numbers were
        clipped.

    Raises
    ------
    MasterError
        If the pixels do not decode.
    """
    threads = threads_at_most(MOST_THREADS)
    with ThreadPoolExecutor(threads) as pool:
        waiting: list[Future[tuple[NDArray[np.generic], int]]] = []
        as_stored = room if kind is Working.CODES else None
        for band in _slices(stream, path, stored, pool, as_stored):
            waiting.append(pool.submit(working_pixels, band, stored, profile, kind))
            if len(waiting) > threads:
                yield waiting.pop(0).result()
        for future in waiting:
            yield future.result()


def _slices(
    stream: BufferedReader,
    path: Path,
    stored: Stored,
    pool: Executor,
    room: NDArray[np.generic] | None,
) -> Iterator[NDArray[np.generic]]:
    """Yield decoded rows in slices that are cheap to convert, whatever they came in."""
    rows = max(1, BAND_PIXELS // stored.width_px)
    bands = _decoded(stream, stored, pool, room)
    while True:
        with damage_reported(path):
            band = next(bands, None)
        if band is None:
            return
        for top in range(0, band.shape[0], rows):
            yield band[top : top + rows]


def _decoded(
    stream: BufferedReader,
    stored: Stored,
    pool: Executor,
    room: NDArray[np.generic] | None,
) -> Iterator[NDArray[np.generic]]:
    if stored.file_format == "TIFF":
        return tiff_bands(stream, pool, room)
    if stored.file_format == "PNG":
        return png_bands(stream, stored, room)
    return jpeg_bands(stream, stored, pool, room)
