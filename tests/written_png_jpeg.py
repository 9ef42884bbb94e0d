"""Which PNG and JPEG files do Pillow, imagecodecs, pypng and simplejpeg write?"""

from __future__ import annotations

import io

from itertools import cycle, product

import imagecodecs
import numpy as np
import simplejpeg

from written_cases import (
    PROFILES,
    Written,
    by_pillow,
    by_vips,
    exif_with,
    picture,
)
from written_tiff import PILLOW_MODES, named, pillow_image

try:
    import png
except ImportError:  # told by the test that asks for it
    png = None

# Pillow --------------------------------------------------------------------------


def _pillow(file_format, image, pixels, name, flag=1, icc=b"", **settings):
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


def of_pillow():
    """PNG and JPEG files of Pillow."""
    flags = cycle(range(1, 9))
    for mode, level, optimised in product(
        ["L", "RGB", "LA", "RGBA", "I;16"], [0, 1, 6, 9], [False, True]
    ):
        kind, samples = PILLOW_MODES[mode]
        pixels = picture(kind, samples)
        flag = next(flags)
        yield Written(
            **_pillow(
                "PNG",
                pillow_image(mode, pixels),
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
        pixels = picture("uint8", PILLOW_MODES[mode][1], smooth=True)
        flag = next(flags)
        yield Written(
            **_pillow(
                "JPEG",
                pillow_image(mode, pixels),
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
            **_pillow(
                "JPEG",
                pillow_image("RGB", pixels),
                pixels,
                "RGB",
                flag,
                quality=quality,
                progressive=progressive,
                keep_rgb=True,  # components are red, green, blue: no YCbCr
            ),
            reader=by_vips,
        )
    yield from _pillow_refused()


def _pillow_refused():
    rgb = pillow_image("RGB", picture("uint8", 3))
    nothing = np.zeros((29, 37, 3), np.uint8)
    for mode, refusal in [("1", "few bits"), ("P", "palette")]:
        for level in (0, 9):
            yield Written(
                **_pillow(
                    "PNG", rgb.convert(mode), nothing, mode, compress_level=level
                ),
                refusal=refusal,
            )
    for progressive, quality in product([False, True], [75, 95]):
        yield Written(
            **_pillow(
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
            **_pillow(file_format, rgb, nothing, "untagged"), refusal="no profile"
        )


# imagecodecs, pypng, simplejpeg --------------------------------------------------


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
            refusal="JPEG depth",
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
            refusal="few bits",
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
