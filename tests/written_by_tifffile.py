"""Which files do tifffile, and libtiff by its own program tiffcp, write?"""

from __future__ import annotations

import subprocess
from itertools import count, cycle, product

import numpy as np
import tifffile
from written_cases import (
    ORIENTATION,
    PROFILES,
    Written,
    by_pillow,
    named,
    picture,
    premultiplied,
)

_KINDS = ["uint8", "uint16", "float16", "float32"]
_PHOTOMETRIC = {1: "minisblack", 2: "minisblack", 3: "rgb", 4: "rgb"}

# tifffile -------------------------------------------------------------------------

_PACKINGS = [
    *product([None, "packbits"], [False]),
    *product(["deflate", "lzw", "zstd", "lzma"], [False, True]),
]
_PARTS = {
    "strips": {"rowsperstrip": 7},
    "one strip": {"rowsperstrip": 29},
    "tiles": {"tile": (16, 32)},
}


def _tifffile(pixels, name, flag=1, icc=b"", **settings):
    """Write by tifffile; planes are parted when asked."""
    samples = pixels.shape[2]
    as_given = pixels[..., 0] if samples == 1 else pixels
    if settings.get("planarconfig") == "separate":
        as_given = np.ascontiguousarray(pixels.transpose(2, 0, 1))
    settings = {"photometric": _PHOTOMETRIC.get(samples), "metadata": None} | settings
    settings["extratags"] = [
        *settings.get("extratags", ()),
        (ORIENTATION, 3, 1, flag, True),
    ]

    def write(path):
        tifffile.imwrite(path, as_given, iccprofile=icc or None, **settings)

    return {
        "name": name,
        "file_format": "TIFF",
        "write": write,
        "pixels": pixels,
        "flag": flag,
        "has_profile": bool(icc),
    }


def of_tifffile():
    """Files of tifffile."""
    yield from _tifffile_layouts()
    yield from _tifffile_alpha()
    yield from _tifffile_jpeg()
    yield from _tifffile_refused()


def _tifffile_layouts():
    number = count()
    for kind, (packing, predictor), parts, (samples, planar), order in product(
        _KINDS,
        _PACKINGS,
        _PARTS,
        [(1, "contig"), (3, "contig"), (3, "separate")],
        "<>",
    ):
        at = next(number)
        # Every eighth in turn, shifted so that each layout meets all of them.
        flag, big = (at + at // 8) % 8 + 1, at // 3 % 2 == 1
        icc = PROFILES[samples] if at % 2 else b""
        name = named(kind, samples, packing, predictor and "predictor", parts, planar)
        yield Written(
            **_tifffile(
                picture(kind, samples),
                named(name, order, big and "BigTIFF", f"flag {flag}"),
                flag,
                icc,
                compression=packing,
                predictor=predictor,
                planarconfig=planar if samples > 1 else None,
                byteorder=order,
                bigtiff=big,
                **_PARTS[parts],
            )
        )


def _tifffile_alpha():
    for kind, samples, alpha, planar, packing, order in product(
        _KINDS,
        [2, 4],
        ["straight", "premultiplied"],
        ["contig", "separate"],
        [None, "deflate"],
        "<>",
    ):
        pixels = picture(kind, samples)
        if alpha == "premultiplied":
            pixels = premultiplied(pixels)
        yield Written(
            **_tifffile(
                pixels,
                named(kind, samples, alpha, planar, packing, order),
                compression=packing,
                planarconfig=planar,
                byteorder=order,
                extrasamples=["unassalpha" if alpha == "straight" else "assocalpha"],
            ),
            alpha=alpha,
        )
    for kind, packing, parts, order in product(
        _KINDS, [None, "lzw", "zstd"], _PARTS, "<>"
    ):
        yield Written(
            **_tifffile(
                picture(kind, 1),
                named(kind, "0 is white", packing, parts, order),
                photometric="miniswhite",
                compression=packing,
                byteorder=order,
                **_PARTS[parts],
            ),
            white_is_zero=True,
        )


def _tifffile_jpeg():
    for samples, parts, order, sampling, flag in product(
        [1, 3],
        [{"rowsperstrip": 16}, {"rowsperstrip": 29}, {"tile": (32, 16)}],
        "<>",
        [(1, 1), (2, 1), (2, 2)],
        [1, 6],
    ):
        if samples == 1 and sampling != (1, 1):
            continue
        yield Written(
            **_tifffile(
                picture("uint8", samples, smooth=True),
                named("JPEG", samples, *parts.items(), order, sampling, f"flag {flag}"),
                flag,
                compression="jpeg",
                compressionargs={"level": 95},
                subsampling=sampling if samples == 3 else None,
                byteorder=order,
                **parts,
            ),
            reader=by_pillow,
        )


def _tifffile_refused():
    cases = [
        ("depth", kind, {}) for kind in ("int8", "int16", "uint32", "int32", "float64")
    ]
    cases += [
        ("packing", "uint8", {"compression": packing})
        for packing in ("jpeg2000", "webp", "jpegxl", "lerc")
    ]
    cases += [
        (
            "lossless JPEG",
            kind,
            {"compression": "jpeg", "compressionargs": {"lossless": True}},
        )
        for kind in ("uint8",)
    ]
    cases += [
        ("CIELAB", "uint8", {"photometric": "cielab"}),
        ("CIELAB", "uint8", {"photometric": "icclab"}),
        ("YCbCr", "uint8", {"photometric": "ycbcr"}),
        ("no profile", "uint8", {}),
        ("no profile", "float32", {"compression": "deflate"}),
    ]
    for (refusal, kind, settings), order in product(cases, "<>"):
        yield Written(
            **_tifffile(
                picture("uint8", 3).astype(kind),
                named(kind, *settings.items(), order),
                byteorder=order,
                **settings,
            ),
            refusal=refusal,
        )
    for order, planar in product("<>", ["contig", "separate"]):
        options = {"byteorder": order, "planarconfig": planar}
        for samples, photometric, extra, refusal in [
            (4, "separated", [], "CMYK"),
            (4, "rgb", ["unspecified"], "extra channel"),
            (5, "rgb", ["unassalpha", "unspecified"], "extra channel"),
            (2, "miniswhite", ["unassalpha"], "transparency where 0 is white"),
        ]:
            values = np.zeros((29, 37, samples), np.uint8)
            yield Written(
                **_tifffile(
                    values,
                    named(photometric, *extra, planar, order),
                    photometric=photometric,
                    extrasamples=extra or None,
                    **options,
                ),
                refusal=refusal,
            )
    for order, photometric in product("<>", ["minisblack", "miniswhite"]):
        yield Written(
            **_tifffile(
                picture("uint8", 1) > 99,
                named("1 bit", photometric, order),
                photometric=photometric,
                byteorder=order,
            ),
            refusal="1 bit",
        )
    for order in "<>":
        colours = np.zeros((3, 256), np.uint16)
        yield Written(
            **_tifffile(
                picture("uint8", 1),
                named("palette", order),
                photometric="palette",
                colormap=colours,
                byteorder=order,
            ),
            refusal="palette",
        )


# tiffcp ---------------------------------------------------------------------------

_TIFFCP_PACKINGS = {
    "uint8": ["none", "packbits", "lzw", "lzw:2", "zip", "zip:2", "zstd:2", "lzma:2"],
    "uint16": ["none", "packbits", "lzw", "lzw:2", "zip", "zip:2", "zstd:2", "lzma:2"],
    "float32": ["none", "packbits", "lzw", "zip:3", "zstd:3"],
}
_TIFFCP_PARTS = [("-s", "-r", "7"), ("-s", "-r", "29"), ("-t", "-w", "16", "-l", "16")]


def _tiffcp(pixels, name, arguments, **tags):
    """Write by tiffcp, out of a plain file of tifffile's in the other byte order."""
    plain = _tifffile(pixels, name, **tags)

    def write(path):
        source = path.with_suffix(".source.tif")
        plain["write"](source)
        done = subprocess.run(
            ["tiffcp", *arguments, str(source), str(path)],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr

    return plain | {"write": write}


def of_tiffcp():
    """Files of libtiff by its own program."""
    flags = cycle(range(1, 9))
    for kind, packings in _TIFFCP_PACKINGS.items():
        for packing, parts, (samples, planar), (order, other) in product(
            packings,
            _TIFFCP_PARTS,
            [(1, "contig"), (3, "contig"), (3, "separate")],
            [("-B", "<"), ("-L", ">")],
        ):
            # Its planes of tiles are wrong above 8 bits, and so are the bytes before
            # the floating-point predictor in big-endian files: libtiff 4.7 and tifffile
            # read back other numbers alike.
            torn = kind != "uint8" and planar == "separate" and parts[0] == "-t"
            if torn or (order == "-B" and packing.endswith(":3")):
                continue
            flag = next(flags)
            big = ["-8"] if flag % 3 == 0 else []
            arguments = [*big, order, *parts, "-p", planar, "-c", packing]
            yield Written(
                **_tiffcp(
                    picture(kind, samples),
                    named(kind, samples, *arguments, f"flag {flag}"),
                    arguments,
                    flag=flag,
                    icc=PROFILES[samples] if flag % 2 else b"",
                    byteorder=other,
                    # It parts planes of 8 bits alone.
                    planarconfig=planar if samples > 1 and kind != "uint8" else None,
                )
            )
    yield from _tiffcp_fill_order()
    for samples, parts, quality, order in product(
        [1, 3],
        [("-s", "-r", "16"), ("-t", "-w", "32", "-l", "16")],
        ["jpeg:95", "jpeg:r:95"],
        ["-B", "-L"],
    ):
        arguments = [order, *parts, "-c", quality]
        # Of grey both are the same, but for the name.
        yield Written(
            **_tiffcp(
                picture("uint8", samples, smooth=True),
                named(samples, *arguments),
                arguments,
            ),
            reader=by_pillow,
        )
    for arguments, refusal in [
        (["-c", "webp", "-p", "contig"], "packing"),
        (["-c", "lerc"], "packing"),
        (["-c", "jpeg", "-p", "separate"], "planar JPEG"),
        (
            ["-c", "jpeg:r", "-p", "separate", "-t", "-w", "16", "-l", "16"],
            "planar JPEG",
        ),
    ]:
        yield Written(
            **_tiffcp(picture("uint8", 3), named(*arguments), arguments),
            refusal=refusal,
        )


def _tiffcp_fill_order():
    """TIFF 6.0, FillOrder 2: the lowest bit of each byte comes first."""
    for kind, packing, parts, samples in product(
        ["uint8", "uint16"], ["none", "packbits", "lzw:2", "zip"], _TIFFCP_PARTS, [1, 3]
    ):
        arguments = ["-f", "lsb2msb", *parts, "-c", packing]
        yield Written(
            **_tiffcp(
                picture(kind, samples), named(kind, samples, *arguments), arguments
            )
        )
