"""
What must come of a picture file that a library of others wrote?

The expectations are written down beside the way each file is made: either the picture
that the library was given, or a refusal of one kind. They are never taken from a run.
"""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import imagecodecs
import numpy as np
from outside_tools import library
from PIL import Image, ImageOps

from printplan.errors import MasterError, ProfileError
from printplan.pixels.master import open_master
from printplan.sizing.boxes import Box
from printplan.spec import AlphaRule

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

ORIENTATION = 274
"""TIFF 6.0, and Exif 3.0 after it."""

ROWS, COLUMNS = 29, 37
"""No multiples of a tile, a strip or a JPEG block."""

# A power of exactly 2 is exact in every ICC curve type: light is the square of the
# stored share.
PROFILES = {
    1: imagecodecs.cms_profile("gray", gamma=2.0),
    3: imagecodecs.cms_profile(
        "rgb",
        whitepoint=(0.3457, 0.3585, 1.0),
        primaries=(0.64, 0.33, 1.0, 0.30, 0.60, 1.0, 0.15, 0.06, 1.0),
        gamma=2.0,
    ),
}

ATOL = 2.4e-7
"""Square, quotient and table are float32: four roundings of at most 2**-24."""

JPEG_CODES = 2
"""Two decoders may differ by 1 in each of three components (ISO/IEC 10918-2 lets an
inverse transform be 1 off); weighted sums of them, 1.4 at most for red from Cr (ITU-T
T.871), by 2 in RGB."""

JPEG_MEAN_CODES = 8
"""Mean difference of a decoded smooth picture to the one that was given: our choice.
Turned, with channels exchanged or as a negative, it would be over 30."""

REFUSALS = {
    "1 bit": ("1 bit per pixel", "Export it again"),
    "depth": (r"stores \d+ bits per channel", "8 or 16 bits"),
    "fewer than 8 bits": (r"stores [124]-bit numbers", "Export it again"),
    "palette": ("a palette", "Export it again"),
    "CMYK": ("ink values", "Export it again"),
    "CMYK JPEG": ("CMYK colours", "export that as RGB"),
    "CIELAB": ("CIELAB", "Export it again"),
    "YCbCr": ("YCbCr values that are not packed as JPEG", "Export it again"),
    "other colours": ("colours of kind", "Export it again"),
    "packing": ("packed by a method", "uncompressed, or with deflate or LZW"),
    "planar JPEG": ("each colour by itself", "uncompressed, or with deflate or LZW"),
    "extra channel": ("does not call the other", "Delete the extra channels"),
    "transparency where 0 is white": ("where 0 is white", "Export it again"),
    "lossless JPEG": ("of the lossless or hierarchical kind", "again as TIFF"),
    "12-bit JPEG": ("12 bits per channel; 8 are read", "again as TIFF"),
    "transparency": ("carries transparency", "Flatten it"),
    "no profile": ("profile", "If you know its space"),
}
"""Problem and remedy that a refusal of each kind must say."""


@dataclass(frozen=True, kw_only=True)
class Written:
    """
    A file that a library writes, and the picture that it was given.

    Attributes
    ----------
    write : callable
        Takes the path.
    pixels : ndarray, shape (rows, columns, samples)
        As stored, alpha last.
    flag : int
        Orientation, as TIFF 6.0 has it.
    alpha : str
        ``straight`` or ``premultiplied``, as `pixels` are; empty if there is none.
    refusal : str
        Of `REFUSALS`; empty if the picture must come.
    reader : callable or None
        Decodes a JPEG, for comparison: another library than the writer.
    tolerance : float
        In linear light.
    """

    name: str
    file_format: str
    write: Callable[[Path], object]
    pixels: np.ndarray
    flag: int = 1
    alpha: str = ""
    white_is_zero: bool = False
    has_profile: bool = False
    refusal: str = ""
    reader: Callable[[Path], np.ndarray] | None = None
    tolerance: float = ATOL


def named(*parts):
    """One line of what a file is; settings come as pairs."""
    return " ".join(
        f"{part[0]}={part[1]}" if isinstance(part, tuple) else str(part)
        for part in parts
        if part not in (None, "", b"", False)
    )


@cache
def picture(dtype, samples, *, smooth=False):
    """
    Noise, even parts and both ends of the scale; or a smooth one without symmetry.

    The last of 2 or 4 samples is meant as alpha.
    """
    rows, columns = np.indices((ROWS, COLUMNS))
    x, y = columns / (COLUMNS - 1), rows / (ROWS - 1)
    planes = [0.1 + 0.8 * x * x, 0.1 + 0.7 * y, 0.9 - 0.8 * x * y, (x + y) / 2]
    values = np.stack([planes[i] for i in range(samples)], axis=-1)
    if samples == 2:
        values[..., 1] = planes[3]
    if not smooth:
        noise = np.random.default_rng(samples).random(values.shape)
        values[:, :20] = noise[:, :20]
        values[5:9, 3:30] = 0.25
        values[0, :6] = np.linspace(0, 1, 6)[:, None]
    pixels = stored(values, dtype)
    pixels.setflags(write=False)
    return pixels


def stored(values, dtype):
    """Shares as numbers of a type."""
    dtype = np.dtype(dtype)
    if dtype.kind == "f":
        return values.astype(dtype)
    return np.rint(values * np.iinfo(dtype).max).astype(dtype)


def premultiplied(pixels):
    """Colours multiplied by alpha and rounded (TIFF 6.0, section 18)."""
    values = share(pixels)
    values[..., :-1] *= values[..., -1:]
    return stored(values, pixels.dtype)


def share(pixels):
    """Stored numbers on a scale of 0 to 1."""
    if pixels.dtype.kind == "f":
        return pixels.astype(np.float64)
    return pixels / np.iinfo(pixels.dtype).max


def turned(pixels, flag):
    """As looked at: TIFF 6.0, Orientation, where row and column 0 of the file lie."""
    return {
        1: lambda it: it,  # top, left
        2: lambda it: it[:, ::-1],  # top, right
        3: lambda it: it[::-1, ::-1],  # bottom, right
        4: lambda it: it[::-1],  # bottom, left
        5: lambda it: it.swapaxes(0, 1),  # left, top
        6: lambda it: np.rot90(it, -1),  # right, top
        7: lambda it: it[::-1, ::-1].swapaxes(0, 1),  # right, bottom
        8: np.rot90,  # left, bottom
    }[flag](pixels)


def exif_with(flag):
    """An Exif block that says how the picture is turned."""
    exif = Image.Exif()
    exif[ORIENTATION] = flag
    return exif.tobytes()


def by_pillow(path):
    """Pixels as looked at."""
    with Image.open(path) as image:
        return with_channels(np.asarray(ImageOps.exif_transpose(image)))


def by_vips(path):
    """The same, by another library and another build of the decoder."""
    # Out of memory, because it keeps what it read under a file's name.
    image = library("pyvips").Image.new_from_buffer(path.read_bytes(), "")
    return with_channels(image.autorot().numpy())


def with_channels(pixels):
    """Grey gets its axis."""
    return pixels if pixels.ndim == 3 else pixels[..., None]


def light_of(pixels, case):
    """
    Linear light by closed forms, under a profile that squares.

    Straight alpha on white: ``c² a + 1 - a``, as light adds; premultiplied colours are
    parted from alpha first.
    """
    values = share(pixels)
    if case.white_is_zero:
        values = 1 - values
    if not case.alpha:
        return values**2
    colours, alpha = values[..., :-1], values[..., -1:]
    if case.alpha == "premultiplied":
        colours = np.minimum(colours / np.where(alpha > 0, alpha, 1), 1)
    return colours**2 * alpha + 1 - alpha


def complaint(case, folder):
    """
    Write the file and read it as a master.

    Returns
    -------
    str
        What is wrong with what came; empty if nothing is.
    """
    path = folder / f"written.{case.file_format.lower()}"
    path.unlink(missing_ok=True)
    try:
        case.write(path)
    except Exception as error:  # noqa: BLE001 - each library has its own
        return f"not written: {error}"
    # Empty for each: one that fills is searched for room at every file.
    cache = folder / "cache"
    shutil.rmtree(cache, ignore_errors=True)
    wishes = {"cache_folder": cache}
    if not case.has_profile and case.refusal != "no profile":
        grey = case.pixels.shape[2] < 3
        wishes["assume_profile"] = str(folder / ("grey.icc" if grey else "rgb.icc"))
    first = case.refusal or ("transparency" if case.alpha else "")
    if first and (wrong := _refusal_complaint(path, wishes, first)):
        return wrong
    if case.refusal:
        return ""
    if case.alpha:
        wishes["alpha"] = AlphaRule.FLATTEN
    try:
        with open_master(path, **wishes) as master:
            return _picture_complaint(case, master, path)
    except (MasterError, ProfileError) as error:
        return f"refused: {error}"


def _refusal_complaint(path, wishes, refusal):
    if refusal not in ("transparency", "no profile"):
        wishes = wishes | {"alpha": AlphaRule.FLATTEN}
    problem, remedy = REFUSALS[refusal]
    try:
        open_master(path, **wishes).close()
    except (MasterError, ProfileError) as error:
        fits = re.search(problem, error.problem) and remedy in error.remedy
        return "" if fits else f"not refused for {refusal}: {error}"
    return f"not refused for {refusal}"


def _picture_complaint(case, master, path):
    facts = master.facts
    box = Box(0, 0, facts.width_px, facts.height_px)
    given = turned(case.pixels, case.flag)
    said = {
        "file_format": case.file_format,
        "height_px": given.shape[0],
        "width_px": given.shape[1],
        "channels": given.shape[2] - bool(case.alpha),
        "bits": given.dtype.itemsize * 8,
        "is_float": given.dtype.kind == "f",
        "orientation_flag": case.flag,
        "profile_is_assumed": not case.has_profile,
        "alpha_was_flattened": bool(case.alpha),
        "clipped_share": 0,
    }
    for name, value in said.items():
        if getattr(facts, name) != value:
            return f"{name} is {getattr(facts, name)}, not {value}"
    codes = master.codes(box)
    if case.reader is not None:
        return _jpeg_complaint(codes.transpose(1, 2, 0), given, case.reader(path))
    if codes is not None and not np.array_equal(codes.transpose(1, 2, 0), given):
        return "other numbers than were written"
    if (codes is None) != (bool(case.alpha) or given.dtype.kind == "f"):
        return "numbers as stored and linear light are exchanged"
    light = master.linear(box).transpose(1, 2, 0)
    off = np.abs(light - light_of(given, case)).max()
    return f"light is {off:.2g} off" if not off <= case.tolerance else ""


def _jpeg_complaint(codes, given, others):
    codes, others = codes.astype(int), others.astype(int)
    if codes.shape != others.shape:
        return f"another reader finds {others.shape}, not {codes.shape}"
    off = np.abs(codes - others).max()
    if off > JPEG_CODES:
        return f"{off} codes from what another reader decodes"
    mean = np.abs(codes - given.astype(int)).mean()
    return f"{mean:.1f} codes from the picture" if mean > JPEG_MEAN_CODES else ""
