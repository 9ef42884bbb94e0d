"""
The engine beside a lazy libvips pipeline of the same stages, in the same run.

Makes a 50 megapixel 16-bit master, then, alternating and each in a fresh process,
prints it to 4320 × 6480 pixels with sharpening, conversion and placement through
printplan and through libvips. Reports medians of CPU seconds and of peak anonymous
memory, and their ratios.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/engine.py
"""

# ruff: noqa: PLC0415 - each process loads only what it runs
import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import tifffile

MASTER_PX = (5773, 8660)
PRINT_PX = (4320, 6480)
PPI = 300.0
MM = 25.4 / PPI
GAIN, RADIUS_PX = 1.0, 1.5


def make_master(path):
    from printplan.colour.spaces import named_profile
    from printplan.spec import NamedSpace

    width, height = MASTER_PX
    rng = np.random.default_rng(7)
    x = np.linspace(0, 12, width, dtype=np.float32)
    y = np.linspace(0, 18, height, dtype=np.float32)[:, None]
    pixels = np.empty((height, width, 3), np.uint16)
    for channel in range(3):
        waves = 0.5 + 0.35 * np.sin(x + channel) * np.cos(y * (1 + channel / 3))
        noise = rng.normal(0, 0.01, (height, width)).astype(np.float32)
        pixels[..., channel] = np.clip(waves + noise, 0, 1) * 65535
    tifffile.imwrite(
        path,
        pixels,
        photometric="rgb",
        rowsperstrip=64,
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )


def make_paper_profile(path):
    from printplan.demo.inks import INKED_PAPERS
    from printplan.demo.profile_writer import write_profile

    path.write_bytes(write_profile(INKED_PAPERS[0], "Studio 24"))


def run_printplan(master_path, profile_path, out):
    from printplan import build_sheet, open_master, render, resolve
    from printplan.demo.scenario import studio_printer
    from printplan.media import Paper, PaperOnPrinter, Surface
    from printplan.spec import PrintSpec, SharpenSpec, SheetSpec, SizeRule, SizeSpec

    printer = studio_printer()
    feed = printer.feeds[0].name
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
                feeds=(feed,),
            ),
        ),
    )
    spec = PrintSpec(
        size=SizeSpec(
            rule=SizeRule.FILL,
            width_mm=PRINT_PX[0] * MM,
            height_mm=PRINT_PX[1] * MM,
            ppi=PPI,
        ),
        sharpen=SharpenSpec(gain=GAIN, radius_mm=RADIUS_PX * MM),
        sheet=SheetSpec(
            media_size="custom",
            width_mm=PRINT_PX[0] * MM + 60,
            height_mm=PRINT_PX[1] * MM + 60,
            feed=feed,
        ),
    )
    with open_master(master_path) as master:
        plan = resolve(master.facts, paper, printer, spec)
        start = time.perf_counter(), time.process_time()
        render(build_sheet(master, plan), out)
    return time.perf_counter() - start[0], time.process_time() - start[1]


def run_libvips(master_path, profile_path, out):
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
    border = round(30 / MM)
    start = time.perf_counter(), time.process_time()
    source = pyvips.Image.tiffload(str(master_path), access="sequential")
    linear = source.maplut(decode)
    sized = linear.resize(
        PRINT_PX[0] / source.width,
        vscale=PRINT_PX[1] / source.height,
        kernel="lanczos3",
    )
    luminance = sized.recomb(pyvips.Image.new_from_array([list(weights)]))
    root = (luminance**0.5 * 65535).cast("ushort")
    before = root.maplut(to_lightness)
    after = before + (before - before.gaussblur(RADIUS_PX, precision="float")) * GAIN
    cube = (after + 16) * (1 / 116)
    factor = cube * cube * cube / (luminance + 1e-7)
    sharp = sized * factor
    codes = (sharp**0.5 * 65535).cast("ushort").maplut(encode)
    printed = codes.copy(interpretation="rgb16").icc_transform(
        str(profile_path),
        input_profile=str(romm_path),
        intent="relative",
        black_point_compensation=True,
        depth=16,
    )
    placed = printed.embed(
        border,
        border,
        PRINT_PX[0] + 2 * border,
        PRINT_PX[1] + 2 * border,
        extend="background",
        background=[65535] * 3,
    )
    placed.tiffsave(str(out), tile=True)
    return time.perf_counter() - start[0], time.process_time() - start[1]


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
    """Highest RssAnon of this process, read every 5 ms."""
    while not stop.is_set():
        for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
            if line.startswith("RssAnon"):
                found[0] = max(found[0], int(line.split()[1]) / 1024)
        stop.wait(0.005)


def one(which, folder):
    run = {"printplan": run_printplan, "libvips": run_libvips}[which]
    out = folder / f"{which}.tif"
    out.unlink(missing_ok=True)
    stop, found = threading.Event(), [0.0]
    watcher = threading.Thread(target=peak_anonymous, args=(stop, found))
    watcher.start()
    try:
        wall, cpu = run(folder / "master.tif", folder / "paper.icc", out)
    finally:
        stop.set()
        watcher.join()
    print(json.dumps({"wall": wall, "cpu": cpu, "mib": found[0]}))


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--one", choices=["printplan", "libvips"])
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    if asked.one:
        one(asked.one, asked.folder)
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_master(folder / "master.tif")
        make_paper_profile(folder / "paper.icc")
        runs = {"printplan": [], "libvips": []}
        for _ in range(asked.rounds):
            for which, results in runs.items():
                done = subprocess.run(
                    [sys.executable, __file__, "--one", which, "--folder", name],
                    check=True,
                    capture_output=True,
                    text=True,
                    env={**os.environ, "VIPS_CONCURRENCY": "2"},
                )
                results.append(json.loads(done.stdout.splitlines()[-1]))
    medians = {
        which: {
            key: statistics.median(run[key] for run in done)
            for key in ("wall", "cpu", "mib")
        }
        for which, done in runs.items()
    }
    for which, values in medians.items():
        print(
            f"{which:10} wall {values['wall']:.2f} s  CPU {values['cpu']:.2f} s  "
            f"peak anonymous {values['mib']:.0f} MiB"
        )
    ours, theirs = medians["printplan"], medians["libvips"]
    print(
        f"ratio      wall {ours['wall'] / theirs['wall']:.2f}    "
        f"CPU {ours['cpu'] / theirs['cpu']:.2f}    "
        f"memory {ours['mib'] / theirs['mib']:.2f}"
    )


if __name__ == "__main__":
    main()
