"""What are the pixels of a file that holds them plainly?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.memory import empty
from printplan.pixels.stored_rows import read_rows

if TYPE_CHECKING:
    from io import BufferedReader

    from numpy.typing import NDArray

    from printplan.pixels.master_file import InPlace, Stored


class PlainPixels:
    """
    Pixels that are read where they lie.

    Parameters
    ----------
    stream : BufferedReader
        Read by position; whoever opened it closes it.
    """

    def __init__(self, stream: BufferedReader, stored: Stored, place: InPlace) -> None:
        self._stream = stream
        self._place = place
        self._samples = stored.samples
        self._rows, self._columns = stored.height_px, stored.width_px
        self._dtype = stored.dtype.newbyteorder(place.byte_order)

    def read(self, top: int, bottom: int, left: int, right: int) -> NDArray[np.generic]:
        """
        Numbers of a part of the picture.

        Returns
        -------
        ndarray, shape (channels, rows, columns)
            Newly made, in the file's own byte order.

        Raises
        ------
        ShortFileError
            If the file ends before them.
        OSError
        """
        rows, columns = bottom - top, right - left
        if self._place.is_planar:
            found = empty((self._samples, rows, columns), self._dtype)
            plane_bytes = self._rows * self._columns * self._dtype.itemsize
            for channel in range(self._samples):
                start = channel * plane_bytes
                self._read(found[channel], start, top, left, samples=1)
            return found
        pixels = empty((rows, columns * self._samples), self._dtype)
        self._read(pixels, 0, top, left, samples=self._samples)
        return pixels.reshape(rows, columns, self._samples).transpose(2, 0, 1)

    def _read(
        self,
        into: NDArray[np.generic],
        start: int,
        top: int,
        left: int,
        *,
        samples: int,
    ) -> None:
        pixel_bytes = samples * self._dtype.itemsize
        read_rows(
            self._stream,
            into.view(np.uint8),
            start=self._place.offset + start,
            row_bytes=self._columns * pixel_bytes,
            top=top,
            left=left * pixel_bytes,
        )
