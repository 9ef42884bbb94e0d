"""Which files do imagecodecs, pypng and simplejpeg write?"""

from __future__ import annotations

import io
from itertools import product

import imagecodecs
import numpy as np
import simplejpeg
from outside_tools import library
from written_cases import Written, by_pillow, named, picture

png = library("png")


def _encoded(file_format, pixels, name, encode, **settings):
    """Write what a function makes of the pixels."""

    def write(path):
        squeezed = pixels[..., 0] if pixels.shape[2] == 1 else pixels
        path.write_bytes(encode(np.ascontiguousarray(squeezed), **settings))

    return {
        "name": named(
            file_format, name, pixels.dtype, pixels.shape[2], *settings.items()
        ),
        "file_format": file_format,
        "write": write,
        "pixels": pixels,
    }


def of_imagecodecs():
    """Files of imagecodecs, by libpng, libspng and libjpeg-turbo."""
    for kind, samples, level, strategy, chosen in product(
        ["uint8", "uint16"],
        [1, 2, 3, 4],
        [0, 6],
        [0, 2, 3],  # zlib's: default, Huffman, runs
        [8, 16, 64, 128],  # libpng's bits of none, sub, mean, Paeth
    ):
        yield Written(
            **_encoded(
                "PNG",
                picture(kind, samples),
                "libpng",
                imagecodecs.png_encode,
                level=level,
                strategy=strategy,
                filter=chosen,
            ),
            alpha="straight" if samples in (2, 4) else "",
        )
    for kind, samples, level in product(
        ["uint8", "uint16"], [1, 2, 3, 4], [0, 1, 6, 9]
    ):
        yield Written(
            **_encoded(
                "PNG",
                picture(kind, samples),
                "libspng",
                imagecodecs.spng_encode,
                level=level,
            ),
            alpha="straight" if samples in (2, 4) else "",
        )
    for samples, quality, sampling, optimised in product(
        [1, 3], [80, 95], ["444", "422", "420", "411", "440"], [False, True]
    ):
        if samples == 1 and sampling != "444":
            continue
        settings = {"subsampling": sampling} if samples == 3 else {}
        yield Written(
            **_encoded(
                "JPEG",
                picture("uint8", samples, smooth=True),
                "libjpeg-turbo",
                imagecodecs.jpeg8_encode,
                level=quality,
                optimize=optimised,
                **settings,
            ),
            reader=by_pillow,
        )
    yield from _imagecodecs_refused()


def _imagecodecs_refused():
    for samples, predictor in product([1, 3], [1, 4, 7]):
        yield Written(
            **_encoded(
                "JPEG",
                picture("uint8", samples),
                "lossless",
                imagecodecs.jpeg8_encode,
                lossless=True,
                predictor=predictor,
            ),
            refusal="lossless JPEG",
        )
    yield Written(
        **_encoded("JPEG", picture("uint8", 1), "lossless", imagecodecs.ljpeg_encode),
        refusal="lossless JPEG",
    )
    for samples in (1, 3):
        yield Written(
            **_encoded(
                "JPEG",
                picture("uint16", samples) // 16,
                "12 bits",
                imagecodecs.jpeg8_encode,
                bitspersample=12,
            ),
            refusal="12-bit JPEG",
        )
        yield Written(
            **_encoded(
                "PNG", picture("uint8", samples), "untagged", imagecodecs.png_encode
            ),
            refusal="no profile",
        )


def _by_pypng(pixels, **settings):
    rows = pixels.reshape(pixels.shape[0], -1)
    samples = 1 if pixels.ndim == 2 else pixels.shape[2]
    settings = {
        "greyscale": samples < 3,
        "alpha": samples in (2, 4),
        "bitdepth": pixels.dtype.itemsize * 8,
    } | settings
    if settings.get("palette"):
        settings = {key: settings[key] for key in settings if key != "greyscale"}
    writer = png.Writer(pixels.shape[1], pixels.shape[0], **settings)
    with io.BytesIO() as stream:
        writer.write(stream, rows.tolist())
        return stream.getvalue()


def of_pypng():
    """Files of pypng, which is Python alone."""
    for kind, samples, interlace, level, chunk_limit in product(
        ["uint8", "uint16"], [1, 2, 3, 4], [False, True], [0, 6, 9], [500, 2**20]
    ):
        yield Written(
            **_encoded(
                "PNG",
                picture(kind, samples),
                "",
                _by_pypng,
                interlace=interlace,
                compression=level,
                chunk_limit=chunk_limit,
            ),
            alpha="straight" if samples in (2, 4) else "",
        )
    for bits, interlace in product([1, 2, 4], [False, True]):
        yield Written(
            **_encoded(
                "PNG",
                picture("uint8", 1) % 2**bits,
                "",
                _by_pypng,
                bitdepth=bits,
                interlace=interlace,
            ),
            refusal="fewer than 8 bits",
        )
        colours = [(i, 90, 255 - i) for i in range(2**bits)]
        yield Written(
            **_encoded(
                "PNG",
                picture("uint8", 1) % 2**bits,
                "",
                _by_pypng,
                bitdepth=bits,
                interlace=interlace,
                palette=colours,
            ),
            refusal="palette",
        )
    yield from _pypng_keys()


def _pypng_keys():
    """One colour is named transparent (ISO/IEC 15948, chunk tRNS)."""
    for kind, samples, interlace in product(["uint8", "uint16"], [1, 3], [False, True]):
        pixels = picture(kind, samples)
        key = pixels[6, 5]
        solid = np.any(pixels != key, axis=2, keepdims=True)
        full = np.iinfo(kind).max
        alpha = (solid * full).astype(kind)
        written = _encoded(
            "PNG",
            pixels,
            "key",
            _by_pypng,
            interlace=interlace,
            transparent=tuple(map(int, key)) if samples == 3 else int(key[0]),
        )
        yield Written(
            **written | {"pixels": np.concatenate([pixels, alpha], axis=2)},
            alpha="straight",
        )


def of_simplejpeg():
    """Files of simplejpeg."""
    for space, quality, sampling, fast in product(
        ["GRAY", "RGB"],
        [70, 90, 100],
        ["444", "422", "420", "440", "411", "Gray"],
        [False, True],
    ):
        if (space == "GRAY") != (sampling == "Gray"):
            continue
        yield Written(
            **_encoded_by_simplejpeg(
                picture("uint8", 1 if space == "GRAY" else 3, smooth=True),
                quality=quality,
                colorspace=space,
                colorsubsampling=sampling,
                fastdct=fast,
            ),
            reader=by_pillow,
        )
    for quality, sampling in product([70, 100], ["444", "420"]):
        yield Written(
            **_encoded_by_simplejpeg(
                picture("uint8", 4),
                quality=quality,
                colorspace="CMYK",
                colorsubsampling=sampling,
            ),
            refusal="CMYK JPEG",
        )


def _encoded_by_simplejpeg(pixels, **settings):
    def encode(given, **wishes):
        # It wants grey with its axis.
        return simplejpeg.encode_jpeg(given.reshape(pixels.shape), **wishes)

    return _encoded("JPEG", pixels, "", encode, **settings)
