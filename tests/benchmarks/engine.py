"""
The engine beside a lazy libvips pipeline of the same stages, in the same run.

Makes 16-bit masters of 50 and 100 megapixels, of waves and of a photograph, then,
alternating and each in a fresh process, prints them to 28 and 216 megapixels with
sharpening, conversion and placement through printplan and through libvips, and with
resizing and conversion alone through libvips. Reports medians of wall and CPU seconds
and of peak anonymous memory, and their ratios. printplan reads back and hashes what it
wrote; libvips does not.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/engine.py
    python tests/benchmarks/engine.py --sizes 28 --press FOGRA39L_coated.icc
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
import threading
import time
from functools import partial
from pathlib import Path

import numpy as np
import tifffile

SIZES = {
    "28": ((5773, 8660), (4320, 6480), 300.0),
    "216": ((8165, 12247), (12000, 18000), 720.0),
}
"""Master and print in pixels, and pixels per inch, by megapixels of the print."""

PHOTOGRAPH = Path(__file__).parents[2] / "demo_images" / "stream.jpg"
BORDER_MM = 30.0
"""White round the picture, more than any margin of the printer."""
GAIN, RADIUS_PX = 1.0, 1.5


def make_master(path, size_px, picture):
    from printplan.colour.spaces import named_profile
    from printplan.spec import NamedSpace

    pixels = waves(*size_px) if picture == "waves" else photograph(*size_px)
    tifffile.imwrite(
        path,
        pixels,
        photometric="rgb",
        rowsperstrip=64,
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )


def photograph(width, height):
    """A photograph beside its mirror images, as often as fills the master."""
    from PIL import Image

    with Image.open(PHOTOGRAPH) as image:
        part = np.asarray(image.convert("RGB")).astype(np.uint16) * 257
    tile = np.concatenate([part, part[:, ::-1]], axis=1)
    tile = np.concatenate([tile, tile[::-1]])
    times = (-(-height // tile.shape[0]), -(-width // tile.shape[1]), 1)
    return np.tile(tile, times)[:height, :width]


def waves(width, height):
    rng = np.random.default_rng(7)
    x = np.linspace(0, 12, width, dtype=np.float32)
    y = np.linspace(0, 18, height, dtype=np.float32)[:, None]
    pixels = np.empty((height, width, 3), np.uint16)
    for channel in range(3):
        tones = 0.5 + 0.35 * np.sin(x + channel) * np.cos(y * (1 + channel / 3))
        noise = rng.normal(0, 0.01, (height, width)).astype(np.float32)
        pixels[..., channel] = np.clip(tones + noise, 0, 1) * 65535
    return pixels


def make_paper_profile(path):
    from printplan.demo.inks import INKED_PAPERS
    from printplan.demo.profile_writer import write_profile

    path.write_bytes(write_profile(INKED_PAPERS[0], "Studio 24"))


def run_printplan(master_path, profile_path, out, print_px, ppi, progress=None):
    from printplan import build_sheet, open_master, render, resolve
    from printplan.media import (
        FeedPath,
        Margins,
        Paper,
        PaperOnPrinter,
        Printer,
        Surface,
    )
    from printplan.spec import PrintSpec, SharpenSpec, SheetSpec, SizeRule, SizeSpec

    mm = 25.4 / ppi
    feed = FeedPath(
        name="sheet feeder",
        margins=Margins(leading_mm=4, trailing_mm=14, left_mm=4, right_mm=4),
        shortest_mm=148,
        longest_mm=914,
        narrowest_mm=100,
        widest_mm=1200,
        thinnest_um=80,
        thickest_um=350,
    )
    # Not the demo's: with that come libraries that no print needs.
    printer = Printer(
        name="bench", black_inks=("black",), feeds=(feed,), input_ppi=(ppi,)
    )
    paper = Paper(
        name="bench",
        surface=Surface.SATIN,
        weight_gsm=260,
        thickness_um=250,
        psf_sigma_um=28,
        on_printer=(
            PaperOnPrinter(
                printer=printer.name,
                profile=str(profile_path),
                black_ink=printer.black_inks[0],
                media_type="bench",
                feeds=(feed.name,),
            ),
        ),
    )
    spec = PrintSpec(
        size=SizeSpec(
            rule=SizeRule.FILL,
            width_mm=print_px[0] * mm,
            height_mm=print_px[1] * mm,
            ppi=ppi,
        ),
        sharpen=SharpenSpec(gain=GAIN, radius_mm=RADIUS_PX * mm),
        sheet=SheetSpec(
            media_size="custom",
            width_mm=print_px[0] * mm + 2 * BORDER_MM,
            height_mm=print_px[1] * mm + 2 * BORDER_MM,
            feed=feed.name,
        ),
    )
    with open_master(master_path) as master:
        plan = resolve(master.facts, paper, printer, spec)
        start = time.perf_counter(), time.process_time()
        render(build_sheet(master, plan), out, progress=progress)
    return time.perf_counter() - start[0], time.process_time() - start[1]


def run_libvips(master_path, profile_path, out, print_px, ppi, *, is_whole=True):
    import pyvips

    from printplan.colour.spaces import named_profile
    from printplan.colour.transforms import luminance_weights, tone_curves
    from printplan.spec import NamedSpace

    romm = named_profile(NamedSpace.ROMM_RGB)
    romm_path = Path(out).with_suffix(".romm.icc")
    romm_path.write_bytes(romm.data)
    curves = tone_curves(romm)
    decode = lut_image(pyvips, curves.T, "float")
    encode = lut_image(pyvips, codes_by_root(curves).T, "ushort")
    y = (np.arange(65536) / 65535) ** 2
    lightness = np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, (29 / 3) ** 3 * y)
    to_lightness = lut_image(pyvips, lightness[:, None].astype(np.float32), "float")
    weights = luminance_weights(romm)
    border = round(BORDER_MM / 25.4 * ppi)
    start = time.perf_counter(), time.process_time()
    source = pyvips.Image.tiffload(str(master_path), access="sequential")
    first = source.maplut(decode) if is_whole else source
    sized = first.resize(
        print_px[0] / source.width,
        vscale=print_px[1] / source.height,
        kernel="lanczos3",
    )
    if is_whole:
        sized = sharpened(pyvips, sized, weights, to_lightness).maplut(encode)
    printed = sized.copy(interpretation="rgb16").icc_transform(
        str(profile_path),
        input_profile=str(romm_path),
        intent="relative",
        black_point_compensation=True,
        depth=16,
    )
    white = 0 if printed.bands == 4 else 65535
    placed = printed.embed(
        border,
        border,
        print_px[0] + 2 * border,
        print_px[1] + 2 * border,
        extend="background",
        background=[white] * printed.bands,
    )
    placed.tiffsave(str(out), tile=True)
    return time.perf_counter() - start[0], time.process_time() - start[1]


def sharpened(pyvips, sized, weights, to_lightness):
    """Codes by root of light whose lightness went through an unsharp mask."""
    luminance = sized.recomb(pyvips.Image.new_from_array([list(weights)]))
    root = (luminance**0.5 * 65535).cast("ushort")
    before = root.maplut(to_lightness)
    after = before + (before - before.gaussblur(RADIUS_PX, precision="float")) * GAIN
    cube = (after + 16) * (1 / 116)
    factor = cube * cube * cube / (luminance + 1e-7)
    return ((sized * factor) ** 0.5 * 65535).cast("ushort")


def codes_by_root(curves):
    """16-bit codes of linear light, by 65536 even steps of its root."""
    from printplan.colour.transforms import code_of_light

    light = np.minimum((np.arange(65536) + 0.5) / 65535, 1) ** 2
    codes = [np.rint(code_of_light(curve, light)) for curve in curves]
    return np.stack(codes).astype(np.uint16)


def lut_image(pyvips, table, kind):
    data = np.ascontiguousarray(table)
    image = pyvips.Image.new_from_memory(
        data.tobytes(), 1, data.shape[0], data.shape[1], kind
    )
    return image.rot90().fliphor().copy_memory()


def peak_anonymous(stop, found):
    """Highest RssAnon of this process, read every 5 ms, and without taking its time."""
    status = os.open("/proc/self/status", os.O_RDONLY)
    while not stop.is_set():
        told = os.pread(status, 4096, 0)
        kib = int(told.partition(b"RssAnon:")[2].split(maxsplit=1)[0])
        found[0] = max(found[0], kib / 1024)
        stop.wait(0.005)
    os.close(status)


RUNS = {
    "printplan": run_printplan,
    "libvips": run_libvips,
    "libvips, no stages": partial(run_libvips, is_whole=False),
}


def one(which, folder, size):
    out = folder / "out.tif"
    out.unlink(missing_ok=True)
    if hasattr(os, "sync"):
        os.sync()  # the disk has let go of what was printed before
    stop, found = threading.Event(), [0.0]
    watcher = threading.Thread(target=peak_anonymous, args=(stop, found))
    watcher.start()
    try:
        paths = (folder / "master.tif", folder / "paper.icc", out)
        wall, cpu = RUNS[which](*paths, *SIZES[size][1:])
    finally:
        stop.set()
        watcher.join()
    print(json.dumps({"wall": wall, "cpu": cpu, "mib": found[0]}))


def medians(folder, size, rounds):
    runs = {which: [] for which in RUNS}
    for _ in range(rounds):
        for which, results in runs.items():
            named = ["--one", which, "--folder", str(folder), "--sizes", size]
            done = subprocess.run(
                [sys.executable, __file__, *named],
                check=True,
                capture_output=True,
                text=True,
                env={**os.environ, "VIPS_CONCURRENCY": "2"},
            )
            results.append(json.loads(done.stdout.splitlines()[-1]))
    return {
        which: {
            key: statistics.median(run[key] for run in done)
            for key in ("wall", "cpu", "mib")
        }
        for which, done in runs.items()
    }


def told(values):
    ours = values["printplan"]
    for which, theirs in values.items():
        ratios = "  ".join(f"{ours[key] / theirs[key]:.2f}" for key in ours)
        print(
            f"  {which:20} wall {theirs['wall']:6.2f} s  CPU {theirs['cpu']:6.2f} s  "
            f"peak anonymous {theirs['mib']:4.0f} MiB  printplan's share: {ratios}"
        )


def main():
    import pyvips

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--sizes", nargs="*", default=list(SIZES), choices=SIZES)
    parser.add_argument("--press", type=Path, help="a CMYK profile, tried as well")
    parser.add_argument("--one", choices=RUNS)
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    if asked.one:
        one(asked.one, asked.folder, asked.sizes[0])
        return
    version = ".".join(str(pyvips.version(part)) for part in range(3))
    print(f"libvips {version}; shares are of wall, CPU and memory")
    for size in asked.sizes:
        for picture in ("waves", "photograph"):
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name)
                make_master(folder / "master.tif", SIZES[size][0], picture)
                for profile in ("paper", "press")[: 2 if asked.press else 1]:
                    if profile == "press":
                        shutil.copy(asked.press, folder / "paper.icc")
                    else:
                        make_paper_profile(folder / "paper.icc")
                    print(f"{picture} to {size} megapixels, {profile}")
                    told(medians(folder, size, asked.rounds))


if __name__ == "__main__":
    main()
