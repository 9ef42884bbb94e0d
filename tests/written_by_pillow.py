"""Which files does Pillow write?"""

from __future__ import annotations

from itertools import cycle, product

import numpy as np
from PIL import Image
from written_cases import (
    ORIENTATION,
    PROFILES,
    Written,
    by_vips,
    exif_with,
    named,
    picture,
)


def of_pillow():
    """Files of Pillow."""
    yield from _tiffs()
    yield from _pngs_and_jpegs()


_MODES = {
    "L": ("uint8", 1),
    "RGB": ("uint8", 3),
    "LA": ("uint8", 2),
    "RGBA": ("uint8", 4),
    "I;16": ("uint16", 1),
    "I;16B": (">u2", 1),
    "F": ("float32", 1),
}
_PACKINGS = [
    "raw",
    "tiff_lzw",
    "tiff_deflate",
    "tiff_adobe_deflate",
    "packbits",
    "zstd",
    "lzma",
]


def _image(mode, pixels):
    """An image of Pillow's with given numbers."""
    kind, _ = _MODES[mode]
    data = np.ascontiguousarray(pixels.astype(kind)).tobytes()
    return Image.frombytes(mode, (pixels.shape[1], pixels.shape[0]), data)


def _tiff(image, pixels, name, flag=1, icc=b"", **settings):
    tags = {ORIENTATION: flag} | settings.pop("tags", {})

    def write(path):
        image.save(path, "TIFF", tiffinfo=tags, icc_profile=icc or None, **settings)

    return {
        "name": name,
        "file_format": "TIFF",
        "write": write,
        "pixels": pixels,
        "flag": flag,
        "has_profile": bool(icc),
    }


def _tiffs():
    """TIFF files of Pillow."""
    predictor, rows_per_strip = 317, 278
    flags = cycle(range(1, 9))
    for (mode, (kind, samples)), packing, big, rows, differences in product(
        _MODES.items(),
        _PACKINGS,
        [False, True],
        [None, 5],
        [False, True],
    ):
        takes_differences = packing in ("tiff_lzw", "tiff_adobe_deflate", "zstd")
        if differences and (not takes_differences or mode == "F"):
            continue
        # Its own writer makes one strip. Only that one knows the big-endian mode, and
        # in BigTIFF notes 0 as the place of its pixels.
        if packing == "raw" and rows:
            continue
        if mode == "I;16B" and (packing != "raw" or big):
            continue
        pixels = picture(np.dtype(kind).newbyteorder("="), samples)
        flag = next(flags)
        tags = ({predictor: 2} if differences else {}) | (
            {rows_per_strip: rows} if rows else {}
        )
        name = named(mode, packing, big and "BigTIFF", rows, differences)
        yield Written(
            **_tiff(
                _image(mode, pixels),
                pixels,
                named(name, f"flag {flag}"),
                flag,
                PROFILES[1 if samples < 3 else 3] if rows else b"",
                compression=packing,
                big_tiff=big,
                tags=tags,
            ),
            # It writes ExtraSamples 2, unassociated, for LA and RGBA.
            alpha="straight" if samples in (2, 4) else "",
        )
    for mode, quality, flag in product(["L", "RGB"], [85, 95, 100], range(1, 9)):
        pixels = picture("uint8", _MODES[mode][1], smooth=True)
        yield Written(
            **_tiff(
                _image(mode, pixels),
                pixels,
                named("JPEG", mode, quality, f"flag {flag}"),
                flag,
                compression="jpeg",
                quality=quality,
            ),
            reader=by_vips,
        )
    yield from _tiff_refused()


def _tiff_refused():
    rgb = _image("RGB", picture("uint8", 3))
    cases = {
        "1": "1 bit",
        "P": "palette",
        "CMYK": "CMYK",
        "YCbCr": "YCbCr",
        "LAB": "CIELAB",
        "I": "depth",
        "RGBX": "extra channel",
    }
    for (mode, refusal), packing in product(
        cases.items(), ["raw", "tiff_lzw", "tiff_adobe_deflate", "packbits"]
    ):
        image = (
            Image.new("LAB", rgb.size)
            if mode == "LAB"
            else rgb.convert("L").convert("I")
            if mode == "I"
            else rgb.convert(mode)
        )
        if mode == "YCbCr" and packing != "raw":
            continue  # libtiff packs these as JPEG alone without being told more
        yield Written(
            **_tiff(
                image,
                np.zeros((29, 37, 3), np.uint8),
                named(mode, packing),
                compression=packing,
            ),
            refusal=refusal,
        )
    for packing in ("group3", "group4", "tiff_ccitt"):
        yield Written(
            **_tiff(
                rgb.convert("1"),
                np.zeros((29, 37, 1), np.uint8),
                named("1", packing),
                compression=packing,
            ),
            refusal="1 bit",
        )


def _png_jpeg(file_format, image, pixels, name, flag=1, icc=b"", **settings):
    def write(path):
        image.save(
            path,
            file_format,
            exif=exif_with(flag),
            icc_profile=icc or None,
            **settings,
        )

    return {
        "name": named(
            file_format, name, *settings.items(), f"flag {flag}", icc and "profile"
        ),
        "file_format": file_format,
        "write": write,
        "pixels": pixels,
        "flag": flag,
        "has_profile": bool(icc),
    }


def _pngs_and_jpegs():
    """PNG and JPEG files of Pillow."""
    flags = cycle(range(1, 9))
    for mode, level, optimised in product(
        ["L", "RGB", "LA", "RGBA", "I;16"], [0, 1, 6, 9], [False, True]
    ):
        kind, samples = _MODES[mode]
        pixels = picture(kind, samples)
        flag = next(flags)
        yield Written(
            **_png_jpeg(
                "PNG",
                _image(mode, pixels),
                pixels,
                mode,
                flag,
                PROFILES[1 if samples < 3 else 3] if optimised else b"",
                compress_level=level,
                optimize=optimised,
            ),
            alpha="straight" if samples in (2, 4) else "",
        )
    for mode, quality, sampling, progressive, restart in product(
        ["L", "RGB"], [75, 90, 100], [0, 1, 2], [False, True], [0, 2]
    ):
        if mode == "L" and sampling:
            continue
        pixels = picture("uint8", _MODES[mode][1], smooth=True)
        flag = next(flags)
        yield Written(
            **_png_jpeg(
                "JPEG",
                _image(mode, pixels),
                pixels,
                mode,
                flag,
                PROFILES[pixels.shape[2]] if restart else b"",
                quality=quality,
                subsampling=sampling,
                progressive=progressive,
                optimize=progressive,
                restart_marker_blocks=restart,
            ),
            reader=by_vips,
        )
    for quality, progressive, flag in product([90, 100], [False, True], range(1, 9)):
        pixels = picture("uint8", 3, smooth=True)
        yield Written(
            **_png_jpeg(
                "JPEG",
                _image("RGB", pixels),
                pixels,
                "RGB",
                flag,
                quality=quality,
                progressive=progressive,
                keep_rgb=True,  # components are red, green, blue: no YCbCr
            ),
            reader=by_vips,
        )
    yield from _png_jpeg_refused()


def _png_jpeg_refused():
    rgb = _image("RGB", picture("uint8", 3))
    nothing = np.zeros((29, 37, 3), np.uint8)
    for mode, refusal in [("1", "fewer than 8 bits"), ("P", "palette")]:
        for level in (0, 9):
            yield Written(
                **_png_jpeg(
                    "PNG", rgb.convert(mode), nothing, mode, compress_level=level
                ),
                refusal=refusal,
            )
    for progressive, quality in product([False, True], [75, 95]):
        yield Written(
            **_png_jpeg(
                "JPEG",
                rgb.convert("CMYK"),
                nothing,
                "CMYK",
                progressive=progressive,
                quality=quality,
            ),
            refusal="CMYK JPEG",
        )
    for file_format in ("PNG", "JPEG"):
        yield Written(
            **_png_jpeg(file_format, rgb, nothing, "untagged"), refusal="no profile"
        )
