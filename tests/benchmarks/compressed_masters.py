"""
The first picture of a compressed master beside the bare decoding of its file.

Makes masters of 50 megapixels of a photograph: 16 bits in TIFF packed by deflate, LZW
and zstd, 8 bits in TIFF packed by JPEG, and a JPEG. Each is decoded by the format's
own library into memory, and opened and reduced to an overview of 1200 pixels by
printplan with an empty cache, in turn, each in a process that has opened one small
master before, as soon as the disk is idle. Then opened once more, now with its copy in
the cache.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/compressed_masters.py
"""

# ruff: noqa: PLC0415 - each process loads only what it runs
import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from engine import SIZES, photograph

PACKED = {
    "deflate": {"compression": "zlib", "predictor": True},
    "LZW": {"compression": "lzw", "predictor": True},
    "zstd": {"compression": "zstd", "predictor": True},
    "JPEG in TIFF": {"compression": "jpeg", "compressionargs": {"level": 95}},
    "JPEG": None,
}
OVERVIEW_PX = 1200
SMALL = Path(__file__).parents[2] / "demo_images" / "red-bowl.jpg"


def make_master(path, packed):
    import numpy as np
    import tifffile

    from printplan.colour.spaces import named_profile
    from printplan.spec import NamedSpace

    profile = named_profile(NamedSpace.SRGB).data
    pixels = photograph(*SIZES["28"][0])
    if packed is None or packed["compression"] == "jpeg":
        pixels = (pixels >> np.uint16(8)).astype(np.uint8)
    if packed is None:
        from PIL import Image

        Image.fromarray(pixels).save(path, "JPEG", quality=95, icc_profile=profile)
        return
    tifffile.imwrite(
        path,
        pixels,
        photometric="rgb",
        rowsperstrip=64,
        iccprofile=profile,
        metadata=None,
        **packed,
    )


def bare(path):
    if path.suffix == ".tif":
        import tifffile

        start = time.perf_counter()
        tifffile.imread(path, maxworkers=2)
    else:
        import simplejpeg

        start = time.perf_counter()
        simplejpeg.decode_jpeg(path.read_bytes())
    return time.perf_counter() - start


def first_picture(path):
    from printplan import open_master
    from printplan.pixels.resampled_light import ResampledLight
    from printplan.sizing.print_size import Crop

    with open_master(
        SMALL, assume_profile="sRGB"
    ) as master:  # as in a workbook that is in use
        master.reduced(2)
    start = time.perf_counter()
    with open_master(path) as master:
        width, height = master.facts.width_px, master.facts.height_px
        light = ResampledLight(master, Crop(0, 0, width, height), (width, height))
        scale = OVERVIEW_PX / max(width, height)
        light.reduced((round(width * scale), round(height * scale)))
    return time.perf_counter() - start


def measured(which, path, cache):
    if hasattr(os, "sync"):
        os.sync()  # the disk has let go of what was written before
    done = subprocess.run(
        [sys.executable, __file__, "--one", which, "--file", str(path)],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, "PRINTPLAN_CACHE": str(cache)},
    )
    return json.loads(done.stdout.splitlines()[-1])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--one", choices=("bare", "first"))
    parser.add_argument("--file", type=Path)
    asked = parser.parse_args()
    if asked.one:
        from printplan.loops.machine_code import compile_loops

        compile_loops()
        print(json.dumps((bare if asked.one == "bare" else first_picture)(asked.file)))
        return
    for name, packed in PACKED.items():
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            path = folder / ("master.tif" if packed else "master.jpg")
            make_master(path, packed)
            runs = {"bare": [], "first": [], "again": []}
            for _ in range(asked.rounds):
                cache = folder / "cache"
                runs["bare"].append(measured("bare", path, cache))
                runs["first"].append(measured("first", path, cache))
                runs["again"].append(measured("first", path, cache))
                shutil.rmtree(cache)
            alone, first, again = (statistics.median(it) for it in runs.values())
            print(
                f"{name:14} bare decoding {alone:5.2f} s  first picture {first:5.2f} s "
                f"({first / alone:.2f} times)  again {again:5.2f} s"
            )


if __name__ == "__main__":
    main()
