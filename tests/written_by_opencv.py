"""Which files does OpenCV write?"""

from __future__ import annotations

from itertools import cycle, product

import numpy as np
from outside_tools import library
from written_cases import Written, by_pillow, exif_with, named, picture

cv2 = library("cv2")


def _opencv(file_format, pixels, flag=1, **settings):
    """Channels go in as blue, green, red."""
    order = {1: [0], 3: [2, 1, 0], 4: [2, 1, 0, 3]}[pixels.shape[2]]

    def write(path):
        options = [
            number
            for key, value in settings.items()
            for number in (getattr(cv2, f"IMWRITE_{key}"), value)
        ]
        given = np.ascontiguousarray(pixels[..., order])
        suffix = {"TIFF": ".tif", "PNG": ".png", "JPEG": ".jpg"}[file_format]
        if flag == 1:
            done, data = cv2.imencode(suffix, given, options)
        else:
            exif = np.frombuffer(exif_with(flag), np.uint8)
            done, data = cv2.imencodeWithMetadata(
                suffix, given, [cv2.IMAGE_METADATA_EXIF], [exif], options
            )
        assert done
        path.write_bytes(data)

    return {
        "name": named(
            file_format,
            pixels.dtype,
            pixels.shape[2],
            *settings.items(),
            f"flag {flag}",
        ),
        "file_format": file_format,
        "write": write,
        "pixels": pixels,
        "flag": flag,
    }


def of_opencv():
    """Files of OpenCV."""
    packings = {  # TIFF 6.0 and libtiff's numbers
        1: [1],
        5: [1, 2],
        8: [1, 2],
        32946: [1, 2],
        32773: [1],
    }
    for kind, samples, packing, rows in product(
        ["uint8", "uint16", "float32"], [1, 3], packings, [7, 29]
    ):
        for predictor in packings[packing]:
            if kind == "float32" and predictor == 2:
                predictor = 3  # noqa: PLW2901 - the one for these
            yield Written(
                **_opencv(
                    "TIFF",
                    picture(kind, samples),
                    TIFF_COMPRESSION=packing,
                    TIFF_PREDICTOR=predictor,
                    TIFF_ROWSPERSTRIP=rows,
                )
            )
    yield from _opencv_refused()
    strategies = range(5)  # zlib's: default, filtered, Huffman, runs, fixed
    flags = cycle(range(1, 9))
    for kind, samples, level, strategy in product(
        ["uint8", "uint16"], [1, 3, 4], [0, 3, 9], strategies
    ):
        yield Written(
            **_opencv(
                "PNG",
                picture(kind, samples),
                next(flags),
                PNG_COMPRESSION=level,
                PNG_STRATEGY=strategy,
            ),
            alpha="straight" if samples == 4 else "",
        )
    for samples, quality, progressive, sampling, restart in product(
        [1, 3],
        [85, 95],
        [0, 1],
        [0x111111, 0x211111, 0x121111, 0x221111, 0x411111],
        [0, 3],
    ):
        if samples == 1 and sampling != 0x111111:
            continue
        yield Written(
            **_opencv(
                "JPEG",
                picture("uint8", samples, smooth=True),
                next(flags),
                JPEG_QUALITY=quality,
                JPEG_PROGRESSIVE=progressive,
                JPEG_SAMPLING_FACTOR=sampling,
                JPEG_RST_INTERVAL=restart,
                JPEG_OPTIMIZE=progressive,
            ),
            reader=by_pillow,
        )


def _opencv_refused():
    for kind, samples, packing in product(
        ["int8", "int16", "int32", "float64"], [1, 3], [1, 5, 8]
    ):
        yield Written(
            **_opencv(
                "TIFF", picture("uint8", samples).astype(kind), TIFF_COMPRESSION=packing
            ),
            refusal="depth",
        )
    for kind, packing in product(["uint8", "uint16", "float32"], [1, 5, 8]):
        # It writes four samples and says nothing of the fourth.
        yield Written(
            **_opencv("TIFF", picture(kind, 4), TIFF_COMPRESSION=packing),
            refusal="extra channel",
        )
    sgilog = 34676
    yield Written(
        **_opencv("TIFF", picture("float32", 3), TIFF_COMPRESSION=sgilog),
        refusal="other colours",
    )
    yield Written(
        **_opencv("PNG", picture("uint8", 1), PNG_BILEVEL=1),
        refusal="fewer than 8 bits",
    )
