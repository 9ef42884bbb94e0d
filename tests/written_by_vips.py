"""Which files does libvips write?"""

from __future__ import annotations

from itertools import cycle, product

import numpy as np
from outside_tools import library
from written_cases import PROFILES, Written, by_pillow, named, picture

pyvips = library("pyvips")

_SPACES = {
    ("uint8", False): "b-w",
    ("uint8", True): "srgb",
    ("uint16", False): "grey16",
    ("uint16", True): "rgb16",
    ("float32", False): "b-w",
    ("float32", True): "srgb",
}


def _vips_image(pixels, flag=1, icc=b"", space=None):
    image = pyvips.Image.new_from_array(pixels)
    space = space or _SPACES.get((pixels.dtype.name, pixels.shape[2] > 2), "multiband")
    image = image.copy(interpretation=space)
    image.set_type(pyvips.GValue.gint_type, "orientation", flag)
    if icc:
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", icc)
    return image


def _vips(file_format, pixels, flag=1, icc=b"", space=None, **settings):

    def write(path):
        image = _vips_image(pixels, flag, icc, space)
        save = {"TIFF": "tiffsave", "PNG": "pngsave", "JPEG": "jpegsave"}[file_format]
        getattr(image, save)(str(path), **settings)

    return {
        "name": named(
            file_format,
            pixels.dtype,
            pixels.shape[2],
            space,
            *settings.items(),
            f"flag {flag}",
            icc and "profile",
        ),
        "file_format": file_format,
        "write": write,
        "pixels": pixels,
        "flag": flag,
        "has_profile": bool(icc),
    }


def of_vips():
    """Files of libvips."""
    yield from _vips_tiff()
    yield from _vips_tiff_refused()
    yield from _vips_png()
    yield from _vips_jpeg()


def _vips_tiff():
    packings = [
        *product(["none", "packbits"], ["none"]),
        *product(["deflate", "lzw"], ["none", "horizontal"]),
    ]
    flags = cycle(range(1, 9))
    for kind, samples, (packing, predictor), parts, big in product(
        ["uint8", "uint16", "float32"],
        [1, 3],
        packings,
        [{}, {"tile": True, "tile_width": 16, "tile_height": 32}],
        [False, True],
    ):
        if kind == "float32" and predictor == "horizontal":
            predictor = "float"  # noqa: PLW2901 - the one for these
        flag = next(flags)
        yield Written(
            **_vips(
                "TIFF",
                picture(kind, samples),
                flag,
                PROFILES[samples] if flag % 2 else b"",
                compression=packing,
                predictor=predictor,
                bigtiff=big,
                **parts,
            )
        )
    for kind, samples, packing, tiled in product(
        ["uint8", "uint16", "float32"],
        [2, 4],
        ["none", "deflate", "lzw"],
        [False, True],
    ):
        yield Written(
            **_vips("TIFF", picture(kind, samples), compression=packing, tile=tiled),
            alpha="straight",
        )
    for kind, packing, tiled in product(
        ["uint8", "uint16"], ["none", "deflate", "lzw"], [False, True]
    ):
        pixels = picture(kind, 4)
        yield Written(
            **_vips("TIFF", pixels, compression=packing, tile=tiled, premultiply=True),
            alpha="straight",
            # libvips multiplies, to whole numbers again: (c' - c) a is below one code,
            # and so c'² a - c² a below two of them.
            tolerance=2.01 / np.iinfo(kind).max,
        )
    for samples, pyramid, flag in product([1, 3], ["largest", "subifd"], range(1, 9)):
        # Smaller versions follow, as further pages or below the first.
        yield Written(
            **_vips(
                "TIFF",
                picture("uint8", samples),
                flag,
                pyramid=True,
                tile=True,
                tile_width=16,
                tile_height=16,
                subifd=pyramid == "subifd",
                compression="deflate",
            )
        )
    for samples, quality, tiled, flag in product(
        [1, 3], [85, 95], [False, True], [1, 3, 6]
    ):
        # Below 90 libvips packs YCbCr, above it RGB.
        yield Written(
            **_vips(
                "TIFF",
                picture("uint8", samples, smooth=True),
                flag,
                compression="jpeg",
                Q=quality,
                tile=tiled,
                tile_width=16,
                tile_height=16,
            ),
            reader=by_pillow,
        )


def _vips_tiff_refused():
    for kind, samples in product(
        ["int8", "int16", "uint32", "int32", "float64"], [1, 3]
    ):
        pixels = picture("uint8", samples).astype(kind)
        space = "srgb" if samples == 3 else "b-w"
        for packing in ("none", "deflate"):
            yield Written(
                **_vips("TIFF", pixels, space=space, compression=packing),
                refusal="depth",
            )
    for packing, tiled in product(["none", "lzw"], [False, True]):
        yield Written(
            **_vips(
                "TIFF",
                picture("uint8", 4),
                space="cmyk",
                compression=packing,
                tile=tiled,
            ),
            refusal="CMYK",
        )
        yield Written(
            **_vips(
                "TIFF",
                picture("float32", 3),
                space="lab",
                compression=packing,
                tile=tiled,
            ),
            refusal="CIELAB",
        )
    for lossless, tiled in product([False, True], [False, True]):
        yield Written(
            **_vips(
                "TIFF",
                picture("uint8", 3),
                compression="webp",
                tile=tiled,
                lossless=lossless,
                tile_width=16,
                tile_height=16,
            ),
            refusal="packing",
        )
    for bits, white in product([1, 2, 4], [False, True]):
        yield Written(
            **_vips("TIFF", picture("uint8", 1), bitdepth=bits, miniswhite=white),
            refusal="1 bit" if bits == 1 else "depth",
        )


def _vips_png():
    for kind, samples, interlace, level, chosen in product(
        ["uint8", "uint16"],
        [1, 2, 3, 4],
        [False, True],
        [0, 1, 9],
        [8, 64, 248],  # libpng's bits of none, mean, all
    ):
        yield Written(
            **_vips(
                "PNG",
                picture(kind, samples),
                1,
                PROFILES[1 if samples < 3 else 3] if level == 9 else b"",
                interlace=interlace,
                compression=level,
                filter=chosen,
            ),
            alpha="straight" if samples in (2, 4) else "",
        )
    for bits in (1, 2, 4):
        yield Written(
            **_vips("PNG", picture("uint8", 1), bitdepth=bits),
            refusal="fewer than 8 bits",
        )
    for bits in (1, 2, 4, 8):
        yield Written(
            **_vips("PNG", picture("uint8", 3), palette=True, bitdepth=bits),
            refusal="palette",
        )


def _vips_jpeg():
    flags = cycle(range(1, 9))
    for samples, quality, coding, sampling, restart in product(
        [1, 3],
        [80, 95],
        [
            {},
            {"optimize_coding": True},
            {"interlace": True},
            {"interlace": True, "trellis_quant": True, "optimize_scans": True},
        ],
        ["on", "off"],
        [0, 2],
    ):
        flag = next(flags)
        yield Written(
            **_vips(
                "JPEG",
                picture("uint8", samples, smooth=True),
                flag,
                PROFILES[samples] if flag % 2 else b"",
                Q=quality,
                subsample_mode=sampling,
                restart_interval=restart,
                **coding,
            ),
            reader=by_pillow,
        )
    for interlace in (False, True):
        yield Written(
            **_vips("JPEG", picture("uint8", 4), space="cmyk", interlace=interlace),
            refusal="CMYK JPEG",
        )
