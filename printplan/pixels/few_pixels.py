"""What are some of a photograph's numbers, from all over it, without all of them?"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL.JpegImagePlugin import JpegImageFile

from printplan.child_work import in_child
from printplan.pixels.guarded_reading import decoding_budget, described, excess_refused
from printplan.pixels.jpeg_structure import check_jpeg
from printplan.pixels.master_png import png_bands
from printplan.pixels.master_reading import MOST_THREADS, damage_reported, open_file
from printplan.pixels.master_tiff import tiff_bands
from printplan.pixels.plain_pixels import PlainPixels
from printplan.processor_share import threads_at_most

if TYPE_CHECKING:
    from io import BufferedReader
    from pathlib import Path

    from numpy.typing import NDArray

    from printplan.pixels.master_file import Stored


def few_pixels(path: Path, longest_px: int) -> tuple[Stored, NDArray[np.generic]]:
    """
    What a photograph says of itself, and a grid of its stored numbers.

    Parameters
    ----------
    longest_px : int
        About how many of them along its longest edge, never less; all of a picture
        that has fewer.

    Returns
    -------
    tuple of Stored and ndarray, shape (rows, columns, samples)

    Raises
    ------
    MasterError
        If it is missing, damaged, or no finished photograph.
    """
    stamp, stored = described(path)
    budget = decoding_budget(stored, stamp)
    with excess_refused(path):
        return stored, in_child(budget, _few, path, stored, longest_px)


def _few(path: Path, stored: Stored, longest_px: int) -> NDArray[np.generic]:
    with open_file(path) as stream, damage_reported(path):
        if stored.file_format == "JPEG":
            return _of_jpeg(stream, longest_px)
        step = max(1, max(stored.width_px, stored.height_px) // longest_px)
        if stored.in_place is not None:
            return _of_rows(PlainPixels(stream, stored, stored.in_place), stored, step)
        if stored.file_format == "PNG":
            (pixels,) = png_bands(stream, stored)
            return np.ascontiguousarray(pixels[step // 2 :: step, step // 2 :: step])
        return _of_bands(stream, step)


def _of_jpeg(stream: BufferedReader, longest_px: int) -> NDArray[np.generic]:
    data = stream.read()
    check_jpeg(data)
    image = JpegImageFile(BytesIO(data))
    image.draft(None, (longest_px, longest_px))
    pixels = np.asarray(image)
    pixels = pixels.reshape(*pixels.shape[:2], -1)
    step = max(1, max(pixels.shape) // longest_px)
    return np.ascontiguousarray(pixels[step // 2 :: step, step // 2 :: step])


def _of_rows(plain: PlainPixels, stored: Stored, step: int) -> NDArray[np.generic]:
    rows = [
        plain.read(top, top + 1, 0, stored.width_px)[:, :, step // 2 :: step]
        for top in range(step // 2, stored.height_px, step)
    ]
    few = np.concatenate(rows, axis=1).transpose(1, 2, 0)
    return np.ascontiguousarray(few, stored.dtype)


def _of_bands(stream: BufferedReader, step: int) -> NDArray[np.generic]:
    rows, top = [], 0
    with ThreadPoolExecutor(threads_at_most(MOST_THREADS)) as pool:
        for band in tiff_bands(stream, pool):
            first = (step // 2 - top) % step
            rows.append(band[first::step, step // 2 :: step].copy())
            top += len(band)
    return np.concatenate(rows)
